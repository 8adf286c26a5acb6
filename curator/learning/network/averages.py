"""Running averages of a net's weights, which is what a training run saves."""

from __future__ import annotations

from pathlib import Path

import torch
from torch import Tensor, nn

State = dict[str, Tensor]


def copied(net: nn.Module) -> State:
    """The weights as they are now, on their own."""
    return {name: value.detach().clone() for name, value in net.state_dict().items()}


@torch.no_grad()
def follow(average: State, net: nn.Module, step: int, most: float = 0.998) -> None:
    """One step on: of the average `most` is kept, and less at the beginning; what counts things is taken as it is."""
    keep, state = min(most, (step + 1) / (step + 10)), net.state_dict()
    moving = [name for name, value in state.items() if value.is_floating_point()]
    torch._foreach_lerp_([average[name] for name in moving], [state[name] for name in moving], 1 - keep)
    for name in state.keys() - set(moving):
        average[name].copy_(state[name])


def save(average: State, path: Path) -> None:
    """Write them in 16 bits, whole or not at all."""
    half = {k: (v.half() if v.is_floating_point() and v.ndim > 1 else v).cpu() for k, v in average.items()}
    part = path.with_suffix(".part")
    torch.save(half, part)
    part.replace(path)


def load(path: Path) -> State:
    """Weights as `save` writes them, in 32 bits again."""
    return {k: v.float() if v.is_floating_point() else v for k, v in torch.load(path, map_location="cpu").items()}

"""Weights to go on from, out of the ONNX file that the tool ships:
`python -m curator.learning.network.recover curator/models/finder.onnx -o finder.pt`.

An export folds each norm into the convolution before it. Here the norm comes back with the means and deviations that
the net has on photos, so that it answers as before and can be trained in either mode.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import torch
from torch import Tensor, nn

from curator.errors import CuratorError
from curator.learning.network import teacher
from curator.learning.network.checker import Checker
from curator.learning.network.checker import folded as folded_checker
from curator.learning.network.net import DEVIATION, Finder, Pairs, folded, plain, slope
from curator.learning.photos import real
from curator.seeing.net.checker import LONGER


def stored(path: Path, names: frozenset[str]) -> tuple[dict[str, Tensor], list[tuple[Tensor, Tensor]]]:
    """The weights of the file that have their `names`, and weight and bias of each convolution whose name the export
    lost, in order.
    """
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    every = {_name(one.name): torch.from_numpy(numpy_helper.to_array(one).copy()).float() for one in graph.initializer}
    for node in graph.node:
        if node.op_type == "DequantizeLinear" and _name(node.input[0]) in every:  # a layer in bytes
            small, step = (every[_name(one)] for one in node.input)  # each channel by its step
            every[_name(node.output[0])] = small * step.reshape(-1, *[1] * (small.dim() - 1))
    nameless = [
        (every[_name(node.input[1])], every[_name(node.input[2])])
        for node in graph.node
        if node.op_type == "Conv" and _name(node.input[1]) not in names
    ]
    return {name: value for name, value in every.items() if name in names}, nameless


def _name(stored_as: str) -> str:
    """As the net has it: an export may wrap the net, and keep weights in 16 bits."""
    return stored_as.removeprefix("net.").removesuffix("_16")


def recovered(path: Path) -> Finder:
    """The finder of an ONNX file; CuratorError where the file is of another build. What the file lacks is new."""
    net = Finder()
    named, nameless = stored(path, frozenset(net.state_dict()))
    for both, bias in nameless[:1]:  # one convolution of picture and tap (`export.stem`)
        named["tap_stem.weight"], nameless[0] = both[:, -1:], (both[:, :-1] * DEVIATION, bias)
    _fill(net, folded(net), named, nameless)
    return net.eval()


def recovered_checker(path: Path, side: int = LONGER) -> Checker:
    """The checker of an ONNX file, for pictures of `side` pixels; CuratorError where the file is of another build."""
    net = Checker(side)
    _fill(net, folded_checker(net), *stored(path, frozenset(net.state_dict())))
    return net.eval()


def _fill(net: nn.Module, pairs: Pairs, named: dict[str, Tensor], nameless: list[tuple[Tensor, Tensor]]) -> None:
    if [tuple(w.shape) for w, _ in nameless] != [tuple(conv.weight.shape) for conv, _ in pairs]:
        raise CuratorError("Reading weights back.", "The file is of another net.", "Take the file of this build.")
    net.load_state_dict(named, strict=False)
    with torch.no_grad():
        for (weight, bias), (conv, norm) in zip(nameless, pairs, strict=True):
            conv.weight.copy_(weight)
            plain(norm)
            norm.bias.copy_(bias)


@torch.no_grad()
def settle(norms: list[nn.BatchNorm2d], answer: Callable[[], object]) -> None:
    """Give every norm the means and deviations of what it is given while the net answers; the answers stay what they
    were.
    """
    found: dict[nn.Module, tuple[Tensor, Tensor]] = {}

    def measured(norm: nn.Module, given: tuple[Tensor, ...]) -> None:
        found[norm] = (given[0].mean((0, 2, 3)), given[0].var((0, 2, 3)))

    hooks = [norm.register_forward_pre_hook(measured) for norm in norms]
    answer()
    for hook in hooks:
        hook.remove()
    for norm in norms:
        mean, spread = found[norm]
        steep = slope(norm)
        norm.bias += steep * (mean - norm.running_mean)  # type: ignore[operator]
        norm.weight.copy_(steep * torch.sqrt(spread + norm.eps))
        norm.running_mean.copy_(mean)  # type: ignore[union-attr]
        norm.running_var.copy_(spread)  # type: ignore[union-attr]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("model", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path("finder.pt"))
    options.add_argument(
        "--photos", type=Path, default=Path(".learn/real"), help="packed photos to settle the norms on"
    )
    options.add_argument("--teacher", type=Path, help="write the net as a teacher of other builds, too")
    chosen = options.parse_args()
    net = recovered(chosen.model)
    if chosen.teacher:
        teacher.written(net, chosen.teacher)
    every = list(real.scenes(chosen.photos))
    some = [torch.from_numpy(scene.image) for scene, _ in every[:: max(1, len(every) // 40)]]
    images = torch.stack(some).permute(0, 3, 1, 2).float()
    settle([norm for _, norm in folded(net)], lambda: net(images, torch.zeros_like(images[:, :1])))
    torch.save(net.state_dict(), chosen.output)


if __name__ == "__main__":
    main()

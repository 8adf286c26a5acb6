"""Weights to go on from, out of the ONNX file that the tool ships:
`python -m curator.learning.network.recover curator/models/finder.onnx -o finder.pt`.

An export folds each norm into the convolution before it. Here the norm comes back with the means and deviations that
the net has on photos, so that it answers as before and can be trained in either mode.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch
from torch import Tensor, nn

from curator.errors import CuratorError
from curator.learning.network.net import Finder, folded
from curator.learning.photos import real


def stored(path: Path) -> tuple[dict[str, Tensor], list[tuple[Tensor, Tensor]]]:
    """The named weights of the file, and weight and bias of each convolution whose name the export lost, in order."""
    import onnx
    from onnx import numpy_helper

    graph = onnx.load(str(path)).graph
    every = {
        one.name.removeprefix("net."): torch.from_numpy(numpy_helper.to_array(one).copy()) for one in graph.initializer
    }
    nameless = [
        (every[node.input[1]], every[node.input[2]])
        for node in graph.node
        if node.op_type == "Conv" and node.input[1].removeprefix("net.") not in _names()
    ]
    return {name: value for name, value in every.items() if name in _names()}, nameless


def _names() -> frozenset[str]:
    return frozenset(Finder().state_dict())


def recovered(path: Path) -> Finder:
    """The net of an ONNX file; CuratorError where the file is of another build. What the file lacks stays as made."""
    net = Finder()
    named, nameless = stored(path)
    pairs = folded(net)
    if [tuple(w.shape) for w, _ in nameless] != [tuple(conv.weight.shape) for conv, _ in pairs]:
        raise CuratorError("Reading weights back.", "The file is of another net.", "Take the file of this build.")
    net.load_state_dict(named, strict=False)
    with torch.no_grad():
        for (weight, bias), (conv, norm) in zip(nameless, pairs, strict=True):
            conv.weight.copy_(weight)
            norm.running_mean.zero_()  # type: ignore[union-attr]
            norm.running_var.fill_(1.0)  # type: ignore[union-attr]
            norm.weight.fill_((1.0 + norm.eps) ** 0.5)
            norm.bias.copy_(bias)
    return net.eval()


@torch.no_grad()
def settle(net: Finder, images: Tensor) -> None:
    """Give every norm the means and deviations of these images (B, 3, S, S); the answers stay what they were."""
    norms = [norm for _, norm in folded(net)]
    found: dict[nn.Module, tuple[Tensor, Tensor]] = {}

    def measured(norm: nn.Module, given: tuple[Tensor, ...]) -> None:
        found[norm] = (given[0].mean((0, 2, 3)), given[0].var((0, 2, 3)))

    hooks = [norm.register_forward_pre_hook(measured) for norm in norms]
    net(images, torch.zeros_like(images[:, :1]))
    for hook in hooks:
        hook.remove()
    for norm in norms:
        mean, spread = found[norm]
        slope = norm.weight / torch.sqrt(norm.running_var + norm.eps)  # type: ignore[operator]
        norm.bias += slope * (mean - norm.running_mean)  # type: ignore[operator]
        norm.weight.copy_(slope * torch.sqrt(spread + norm.eps))
        norm.running_mean.copy_(mean)  # type: ignore[union-attr]
        norm.running_var.copy_(spread)  # type: ignore[union-attr]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("model", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path("finder.pt"))
    options.add_argument(
        "--photos", type=Path, default=Path(".learn/real"), help="packed photos to settle the norms on"
    )
    chosen = options.parse_args()
    net = recovered(chosen.model)
    every = list(real.scenes(chosen.photos))
    images = [torch.from_numpy(scene.image) for scene, _ in every[:: max(1, len(every) // 40)]]
    settle(net, torch.stack(images).permute(0, 3, 1, 2).float())
    torch.save(net.state_dict(), chosen.output)


if __name__ == "__main__":
    main()

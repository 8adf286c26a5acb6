"""Write trained weights as an ONNX file in 32 bits: `python -m curator.learning.network.export FINDER.pt... -o FOLDER`.

Several files of one path (a run and the one that went on from it) give their mean. Beside the ONNX file goes its
SHA-256. What ships is made of it by `steady` and `rounded`, with a `probe`.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

from curator.learning.network import averages
from curator.learning.network.net import DEVIATION, Finder, fold, folded, slope
from curator.learning.sums import write_sum

NAME = "finder.onnx"


def load(weights: list[Path]) -> Finder:
    """The net with the mean of these weights, norms folded in, ready to answer."""
    stored = [_folded(path) for path in weights]
    mean = {
        name: torch.stack([one[name] for one in stored]).mean(0) if value.is_floating_point() else value
        for name, value in stored[-1].items()
    }
    net = Finder()
    net.load_state_dict(mean)
    return net.eval()


def _folded(path: Path) -> dict[str, Tensor]:
    """The weights of one file, each norm in the convolution before it."""
    net = Finder()
    net.load_state_dict(averages.load(path))
    fold(folded(net))
    return net.state_dict()


class Shipped(nn.Module):
    """The net as its file has it. It is given one tensor (`net.planes`), so one convolution does what two and a sum do
    in training: a sixteenth of the file's time. Outlines' channels are after the dense ones: who reads the first need
    not know of the others.
    """

    def __init__(self, net: Finder) -> None:
        super().__init__()
        self.net, self.stem = net, stem(net)

    def forward(self, given: Tensor) -> tuple[Tensor, Tensor]:
        dense, whole, outline = self.net.answer(self.net.trunk.after(F.relu6(self.stem(given))), given[:, 3:])
        return torch.cat([dense, outline], 1), whole


@torch.no_grad()
def stem(net: Finder) -> nn.Conv2d:
    """The first convolution of picture and tap together, the picture's norm and scale folded in."""
    own, norm = net.trunk._conv_stem, net.trunk._bn0
    steep = slope(norm)
    both = nn.Conv2d(own.in_channels + 1, own.out_channels, 3, 2, 1)
    picture = own.weight * steep[:, None, None, None] / DEVIATION
    both.weight.copy_(torch.cat([picture, net.tap_stem.weight], 1))
    both.bias.copy_(norm.bias - steep * norm.running_mean)  # type: ignore[union-attr, operator]
    return both


def write(net: Finder, path: Path) -> str:
    """Export for any input size that is a multiple of 32, and its SHA-256 beside, which it returns."""
    free = {2: "height", 3: "width"}
    torch.onnx.export(
        Shipped(net).eval(),
        (torch.zeros(1, 4, 384, 384),),
        str(path),
        dynamo=False,
        opset_version=17,
        input_names=["given"],
        output_names=["dense", "whole"],
        dynamic_axes={"given": free, "dense": free},
    )
    return write_sum(path)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("weights", type=Path, nargs="+")
    options.add_argument("-o", "--output", type=Path, default=Path("curator/models"))
    chosen = options.parse_args()
    net = load(chosen.weights)
    chosen.output.mkdir(parents=True, exist_ok=True)
    digest = write(net, chosen.output / NAME)
    print(digest, f"{(chosen.output / NAME).stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()

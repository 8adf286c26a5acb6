"""A small net as an ONNX file, for tests of layers in bytes; needs torch."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import torch
from torch import nn

from curator.learning.network.rounded import Given


class Small(nn.Module):
    """Four convolutions; behind two of them values are bent, at nought and six or at nought alone."""

    def __init__(self) -> None:
        super().__init__()
        self.stem, self.first = nn.Conv2d(3, 8, 3, 1, 1), nn.Conv2d(8, 8, 3, 1, 1)
        self.second, self.last = nn.Conv2d(8, 8, 1), nn.Conv2d(8, 2, 1)

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        y = torch.clamp(self.first(torch.relu(self.stem(x))), 0, 6)
        return self.last(y + self.second(y))


def exported(net: nn.Module, path: Path) -> Path:
    """The file of a net that is given `x` (1, 3, 8, 8)."""
    shown = (torch.randn(1, 3, 8, 8),)
    torch.onnx.export(net.eval(), shown, str(path), dynamo=False, opset_version=17, input_names=["x"])
    return path


def shown(count: int, seed: int = 5) -> list[Given]:
    """What such a net may be shown."""
    chance = np.random.default_rng(seed)
    return [{"x": chance.normal(size=(1, 3, 8, 8)).astype(np.float32)} for _ in range(count)]

"""The net that is shown a photo with one set of things marked, and says whether these are all and only the things.

The finder looks for things; this one looks at an answer. It knows what no sum of measurements tells: that the fifth
place looks like the four others and is none, that a sixth was left out, that these are the wheels of what is meant.
"""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

from curator.learning.network.batches import splat
from curator.learning.network.net import DEVIATION, MEAN, Trunk

SIDE = 320  # pixels of its square input
ANSWERS = ("right", "recall", "precision")  # logits: all and only these; share of the things marked; share of the marks
WIDE = 40 + 112 + 320  # channels of the trunk at strides 8, 16 and 32
DEEP = 192
DOTS, EMPTY = 100.0, 0.05  # scales of two numbers that the head is given


class Checker(nn.Module):
    """image (B or 1, 3, S, S) RGB 0..255 and marks (B, 2, S / 2, S / 2) 0..1 -> (B, 3) logits, ANSWERS."""

    def __init__(self, drop: float = 0.3) -> None:
        super().__init__()
        self.trunk, self.stem = Trunk(), nn.Conv2d(2, 32, 3, 1, 1, bias=False)
        nn.init.zeros_(self.stem.weight)
        self.more = nn.Sequential(
            nn.Conv2d(320 + 2, DEEP, 3, 1, 1, bias=False), nn.BatchNorm2d(DEEP), nn.ReLU(inplace=True)
        )
        given = WIDE * 3 + 320 + DEEP * 2 + 3
        self.head = nn.Sequential(
            nn.Dropout(drop), nn.Linear(given, 256), nn.ReLU(inplace=True), nn.Dropout(drop), nn.Linear(256, 3)
        )

    def forward(self, image: Tensor, marks: Tensor) -> Tensor:
        _, f8, f16, f32 = self.trunk((image - MEAN) / DEVIATION, self.stem(marks))
        pooled = [part for f, k in ((f8, 4), (f16, 8), (f32, 16)) for part in _under(f, F.avg_pool2d(marks[:, :1], k))]
        deep = self.more(torch.cat([f32, F.avg_pool2d(marks, 16) * 4], 1))
        area, dots = marks[:, :1].mean((2, 3)), marks[:, 1:].mean((2, 3)) * DOTS
        said = [f32.amax((2, 3)), deep.mean((2, 3)), deep.amax((2, 3)), area, dots, torch.log(dots + EMPTY)]
        answer: Tensor = self.head(torch.cat([*pooled, *said], 1))
        return answer


def _under(features: Tensor, mask: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """The mean and the spread of the features under the marks, and their mean everywhere."""
    weight = mask.sum((2, 3)) + 1e-3
    inside = (features * mask).sum((2, 3)) / weight
    spread = (features * features * mask).sum((2, 3)) / weight - inside * inside
    return inside, torch.sqrt(spread.clamp(min=0) + 1e-4), features.mean((2, 3))


def marked(things: Tensor, count: Tensor, side: int) -> Tensor:
    """The marks (B, 2, side, side) of sets (B, N, 4) row, column, height, width in pixels of an input twice as large:
    a soft blot as large as each thing, and a dot in its middle. Only the first `count` (B,) of each set are marked.
    """
    used = (torch.arange(things.shape[1], device=things.device)[None] < count[:, None]).float()
    at, extent = (things[..., :2] - 0.5) / 2, things[..., 2:] / 2
    blots = splat(at, (extent * 0.35).clamp(min=1.0), used, side)
    return torch.stack([blots, splat(at, torch.full_like(at, 1.2), used, side)], 1)

"""The net that is shown a photo with one set of things marked, and says whether these are all and only the things.

The finder looks for things; this one looks at an answer. It knows what no sum of measurements tells: that the fifth
place looks like the four others and is none, that a sixth was left out, that these are the wheels of what is meant.
"""

from __future__ import annotations

import math
from typing import Any

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

from curator.learning.network.batches import colour, splat
from curator.learning.network.net import DEVIATION, MEAN, Pairs, Trunk, folded_trunk

SIDE = 320  # pixels of its square input
ANSWERS = ("right", "recall", "precision")  # logits: all and only these; share of the things marked; share of the marks
WIDE = 40 + 112 + 320  # channels of the trunk at strides 8, 16 and 32
DEEP = 192
DOTS, EMPTY = 100.0, 0.05  # scales of two numbers that the head is given


class Checker(nn.Module):
    """image (B or 1, 3, S, S) RGB 0..255 and marks (B, 2, S / 2, S / 2) 0..1 -> (B, 3) logits, ANSWERS; S is `side`."""

    def __init__(self, side: int = SIDE, drop: float = 0.3) -> None:
        super().__init__()
        self.trunk, self.stem = Trunk(), nn.Conv2d(2, 32, 3, 1, 1, bias=False)
        self.dots = DOTS * (side / SIDE) ** 2  # a dot is as large in cells at any side, and more of a smaller map
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
        area, dots = marks[:, :1].mean((2, 3)), marks[:, 1:].mean((2, 3)) * self.dots
        said = [f32.amax((2, 3)), deep.mean((2, 3)), deep.amax((2, 3)), area, dots, torch.log(dots + EMPTY)]
        answer: Tensor = self.head(torch.cat([*pooled, *said], 1))
        return answer


def folded(net: Checker) -> Pairs:
    """Each convolution that a norm follows at once, in the order in which they run: an export makes one of the two."""
    return [*folded_trunk(net.trunk), (net.more[0], net.more[1])]


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


def viewed(image: Tensor, things: Tensor) -> tuple[Tensor, Tensor]:
    """Pictures (b, S, S, 3) and their sets (b, sets, N, 4), each picture's through one random view: a little nearer or
    farther, turned, mirrored, in other colours; what a finder measures of a place and a size is made as uncertain as it
    is.
    """
    b, dev, kept = len(image), image.device, image.shape[1]
    linear, shift = _view(b, dev)
    grid = (torch.arange(SIDE, device=dev) + 0.5) / SIDE * 2 - 1
    rows, cols = torch.meshgrid(grid, grid, indexing="ij")
    at = torch.stack([rows, cols], -1)[None] - shift[:, None, None]
    source = torch.einsum("bij,bhwj->bhwi", torch.linalg.inv(linear), at)
    fill = torch.empty(b, 3, 1, 1, device=dev).uniform_(60, 200)
    fill = torch.where(torch.rand(b, 1, 1, 1, device=dev) < 0.5, torch.full_like(fill, 127.0), fill)
    moved = F.grid_sample(image.permute(0, 3, 1, 2).float() - fill, source.flip(-1), align_corners=False) + fill
    place = torch.einsum("bij,bknj->bkni", linear, things[..., :2] / kept * 2 - 1) + shift[:, None, None]
    extent = torch.einsum("bij,bknj->bkni", linear.abs(), things[..., 2:]) * (SIDE / kept)
    each = torch.exp(torch.empty_like(extent[..., :1]).normal_(0, 0.08))
    whole = torch.exp(torch.empty(b, extent.shape[1], 1, 1, device=dev).normal_(0, 0.15))
    place = (place + 1) / 2 * SIDE + torch.randn_like(place) * 0.05 * extent
    return colour(moved), torch.cat([place, extent * each * whole], -1)


def _view(b: int, dev: Any) -> tuple[Tensor, Tensor]:
    """Linear maps (b, 2, 2) from a picture to its view, rows first, and shifts (b, 2), both in halves of the side."""
    zoom = torch.exp(torch.empty(b, device=dev).uniform_(math.log(0.78), math.log(1.06)))
    angle = torch.empty(b, device=dev).normal_(0, 0.08) * (torch.rand(b, device=dev) < 0.6)
    quarter = (torch.rand(b, device=dev) < 0.2).float() * torch.randint(0, 4, (b,), device=dev)
    mirror = torch.where(torch.rand(b, device=dev) < 0.5, -1.0, 1.0)
    stretch = torch.exp(torch.empty(b, device=dev).uniform_(-0.12, 0.12))
    c, s = torch.cos(angle + quarter * math.pi / 2), torch.sin(angle + quarter * math.pi / 2)
    linear = torch.stack([torch.stack([c, -s * mirror * stretch], 1), torch.stack([s, c * mirror * stretch], 1)], 1)
    return linear * zoom[:, None, None], torch.empty(b, 2, device=dev).uniform_(-0.08, 0.08)

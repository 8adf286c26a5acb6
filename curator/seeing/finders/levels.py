"""Whole sets from single thresholds: the components of one mask that belong together, and how many masks say the same.

A number that stays the same while the threshold moves, and in several channels, is the best witness there is without
a trained net (not a finder).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from curator.seeing.finders.regions import Layer

MOST = 40  # components in one set


@dataclass(slots=True, eq=False)
class Vote:
    """One set of components, in the layer that shows it, and how many layers of how many channels agree with it."""

    layer: Layer
    members: NDArray[np.int_]  # into the layer's components
    centres: NDArray[np.float64]  # (n, 2) col, row
    width: float  # usual size, pixels
    even: float  # how alike the areas are, 0 to 1
    lasted: int = 1
    channels: int = 1


def vote(layers: tuple[list[Layer], ...], shape: tuple[int, ...]) -> list[Vote]:
    """Sets that at least two thresholds agree on, most agreed first."""
    found: list[Vote] = []
    for channel in layers:
        own: list[Vote] = []
        for layer in channel:
            for fresh in _sets(layer, shape):
                old = next((v for v in own if _same(v, fresh)), None)
                if old is None:
                    own.append(fresh)
                else:
                    old.lasted += 1
                    if fresh.even > old.even:
                        old.layer, old.members, old.centres, old.width, old.even = (
                            fresh.layer, fresh.members, fresh.centres, fresh.width, fresh.even,
                        )  # fmt: skip
        for candidate in own:
            old = next((v for v in found if _same(v, candidate)), None)
            if old is None:
                found.append(candidate)
            else:
                old.lasted += candidate.lasted
                old.channels += 1
    return sorted((v for v in found if v.lasted >= 2), key=lambda v: -v.lasted * (0.3 + v.even))


def _same(a: Vote, b: Vote) -> bool:
    if len(a.centres) != len(b.centres):
        return False
    apart = np.hypot(*(a.centres[:, None] - b.centres[None]).transpose(2, 0, 1))
    return bool((apart.min(axis=1) < 0.35 * min(a.width, b.width)).mean() > 0.9)


def _sets(layer: Layer, shape: tuple[int, ...]) -> list[Vote]:
    """Components of one layer parted by size at its widest steps: the large ones, and those between two steps."""
    index = layer.index
    stats = layer.stats[index]
    left, top, width, height, area = (stats[:, k].astype(float) for k in range(5))
    along = width * ((top <= 1) | (top + height >= shape[0] - 1)) + height * ((left <= 1) | (left + width >= shape[1] - 1))
    good = (along < 0.3 * (width + height)) & (area > 0.3 * width * height) | (along == 0) & (area > 0.12 * width * height)
    index, area = index[good], np.sqrt(area[good])
    order = np.argsort(-area, kind="stable")[: MOST + 8]
    index, area = index[order], area[order]
    if len(index) < 2:
        return []
    steps = np.append(area[1:] / area[:-1], 0.3)
    cuts = [int(i) + 1 for i in np.argsort(steps, kind="stable")[:4] if steps[i] < 0.8]
    spans = {(0, cut) for cut in cuts} | {(a, b) for a in cuts for b in cuts if a <= 3 and b - a >= 2}
    return [_one(layer, index[a:b], area[a:b]) for a, b in sorted(spans) if 2 <= b - a <= MOST]


def _one(layer: Layer, members: NDArray[np.int_], side: NDArray[np.float64]) -> Vote:
    even = float(np.exp(-2.0 * side.std() / side.mean()))
    return Vote(layer, members, layer.centres[members], float(np.median(side)), even)

"""Whole sets from single thresholds: the components of one mask that belong together, and how many masks say the same.

A number that stays the same while the threshold moves, and in several channels, is the best witness there is without
a trained net (not a finder).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import accumulate, pairwise
from operator import mul

import numpy as np
from numpy.typing import NDArray

from curator.seeing.primitives.layers import Layer

MOST = 40  # components in one set
Indices = NDArray[np.intp]
Values = NDArray[np.float64]


@dataclass(slots=True, eq=False)
class Vote:
    """One set of components, in the layer that shows it, and how many layers of how many channels agree with it."""

    layer: Layer
    members: NDArray[np.intp]  # into the layer's components
    centres: NDArray[np.float64]  # (n, 2) col, row
    middle: tuple[float, float]  # mean of the centres
    width: float  # usual size, pixels
    even: float  # how alike the areas are, 0 to 1
    lasted: int = 1
    channels: int = 1


def vote(layers: tuple[list[Layer], ...], shape: tuple[int, ...]) -> list[Vote]:
    """Sets that at least two thresholds agree on, most agreed first."""
    found: dict[int, list[Vote]] = {}  # by number of things
    for channel in _whole(layers, shape):
        own: dict[int, list[Vote]] = {}
        for layer, index, sides in channel:
            for fresh in _sets(layer, index[: MOST + 8], sides[: MOST + 8].tolist()):
                old = _twin(own, fresh)
                if old is None:
                    own.setdefault(len(fresh.centres), []).append(fresh)
                    continue
                fresh.lasted, old.lasted = old.lasted + 1, old.lasted + 1
                if fresh.even > old.even:
                    same_number = own[len(fresh.centres)]
                    same_number[same_number.index(old)] = fresh
        for candidate in (v for votes in own.values() for v in votes):
            old = _twin(found, candidate)
            if old is None:
                found.setdefault(len(candidate.centres), []).append(candidate)
            else:
                old.lasted += candidate.lasted
                old.channels += 1
    every = [v for votes in found.values() for v in votes if v.lasted >= 2]
    return sorted(every, key=lambda v: -v.lasted * (0.3 + v.even))


def _twin(votes: dict[int, list[Vote]], fresh: Vote) -> Vote | None:
    """The vote for the same things, if there is one."""
    across, down = fresh.middle
    for old in votes.get(len(fresh.centres), ()):
        reach = 0.35 * min(old.width, fresh.width)
        if abs(old.middle[0] - across) > reach or abs(old.middle[1] - down) > reach:
            continue
        apart = ((old.centres[:, None] - fresh.centres[None]) ** 2).sum(axis=2).min(axis=1)
        if np.count_nonzero(apart < reach * reach) > 0.9 * len(apart):
            return old
    return None


def _whole(channels: tuple[list[Layer], ...], shape: tuple[int, ...]) -> Iterator[list[tuple[Layer, Indices, Values]]]:
    """By channel, of each layer the components that the picture's edge hardly cuts and that fill their boxes, the
    largest first, and their sides.
    """
    every = [layer for channel in channels for layer in channel]
    if not every:
        return
    counts = np.array([len(layer) for layer in every], np.intp)
    left, top, width, height, area = np.concatenate([layer.stats for layer in every]).T.astype(float)
    along = width * ((top <= 1) | (top + height >= shape[0] - 1)) + height * (
        (left <= 1) | (left + width >= shape[1] - 1)
    )
    good = (along < 0.3 * (width + height)) & (area > 0.3 * width * height) | (along == 0) & (
        area > 0.12 * width * height
    )
    index, side, of = np.flatnonzero(good), np.sqrt(area[good]), np.repeat(np.arange(len(every)), counts)[good]
    order = np.lexsort((-side, of))
    index, side = index[order] - (np.cumsum(counts) - counts)[of], side[order]
    ends = np.cumsum(np.bincount(of, minlength=len(every)))[:-1]
    each = zip(every, np.split(index, ends), np.split(side, ends), strict=True)
    for channel in channels:
        yield [next(each) for _ in channel]


def _sets(layer: Layer, index: Indices, sides: list[float]) -> list[Vote]:
    """Components of one layer, the largest first, parted by size at its widest steps: the large ones, and those between
    two steps.
    """
    if len(index) < 2:
        return []
    steps = [*(small / large for large, small in pairwise(sides)), 0.3]
    cuts = [i + 1 for i in sorted(range(len(steps)), key=steps.__getitem__)[:4] if steps[i] < 0.8]
    spans = {(0, cut) for cut in cuts} | {(a, b) for a in cuts for b in cuts if a <= 3 and b - a >= 2}
    centres = layer.centres[index]
    across, down = ([0.0, *accumulate(way)] for way in centres.T.tolist())
    found = []
    for a, b in sorted(spans):
        if 2 <= b - a <= MOST:
            middle = ((across[b] - across[a]) / (b - a), (down[b] - down[a]) / (b - a))
            own = sides[a:b]
            found.append(Vote(layer, index[a:b], centres[a:b], middle, own[len(own) // 2], _even(own)))
    return found


def _even(sides: list[float]) -> float:
    mean = sum(sides) / len(sides)
    spread = max(0.0, sum(map(mul, sides, sides)) / len(sides) - mean * mean) ** 0.5
    return math.exp(-2.0 * spread / mean)

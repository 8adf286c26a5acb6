"""What else the net sees beside a set: the clearest thing it leaves out; shared by the finders (not a finder).

Two apples in front of a third, eight tiles of nine: such sets are clear in themselves, and only what they leave out
tells that they are not all. Learned from photos whose source the net had not seen (`learning/calibrate.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing import network, sets
from curator.seeing.network import Peaks, Sight

LEVELS = ("main", "whole", "part")
LEAST = 0.08  # of the heat: fainter peaks are not looked at
MOST = 80
SIZED = (0.55, 1.8)  # of the set's usual size: what has that size could be one more of them
ANY = 0.35  # what is smaller is a detail
Values = NDArray[np.float64]


class Others(NamedTuple):
    """The peaks of one level at all sizes of the picture, and at which size each was seen."""

    peaks: Peaks
    size_of: NDArray[np.intp]


def others(sights: list[Sight]) -> dict[str, Others]:
    """The peaks of every level."""
    return {level: Others(*network.together([network.peaks(s, level, least=LEAST, most=MOST) for s in sights])) for level in LEVELS}


def clues(things: ThingSet, sights: list[Sight], every: dict[str, Others]) -> dict[str, float]:
    """The clearest peak the set leaves out, 0 to 1: of any size, of its own size, and of its size and looks; the most, median and least over the sizes of the picture.

    Of the main map (`seen_besides_`) for COUNT and FACT, of the other two levels (`besides_`) for FACT alone.
    """
    found: dict[str, float] = {}
    middles = np.array([network.embedding(s, things.centers).mean(0) for s in sights])
    middles /= np.maximum(1e-6, np.linalg.norm(middles, axis=1, keepdims=True))
    for level, seen in every.items():
        prefix = "seen_besides" if level == "main" else f"besides_{level}"
        for name, values in _clearest(things, seen, middles):
            found |= {f"{prefix}_{name}_most": float(values.max()), f"{prefix}_{name}_mid": float(np.median(values)), f"{prefix}_{name}_least": float(values.min())}
    return found


def _clearest(things: ThingSet, seen: Others, middles: Values) -> Iterator[tuple[str, Values]]:
    """By measure, the largest value at each size of the picture."""
    peaks, free = seen.peaks, _left_out(things, seen.peaks)
    boxes = np.array([t.box for t in things.things], dtype=np.float64)
    usual = float(np.median(np.sqrt((boxes[:, 2:] - boxes[:, :2]).prod(1))))
    size = np.sqrt(peaks.extents.prod(1)) / max(1.0, usual)
    alike = (peaks.embed * middles[seen.size_of]).sum(1).clip(0, 1)
    sized = free & (size > SIZED[0]) & (size < SIZED[1])
    for name, value in (("any", free & (size > ANY)), ("sized", sized), ("like", alike * sized)):
        yield name, np.array([(peaks.scores * value)[seen.size_of == k].max(initial=0.0) for k in range(len(middles))])


def _left_out(things: ThingSet, peaks: Peaks) -> NDArray[np.bool_]:
    """Which peaks are on none of the things, in none of their boxes, and hold none of them."""
    holds = np.all(np.abs(peaks.centers[:, None] - things.centers[None]) <= 0.5 * peaks.extents[:, None], axis=2)
    return np.asarray(~(sets.on(peaks.centers, things) | sets.inside(peaks.centers, things) | holds).any(1), np.bool_)

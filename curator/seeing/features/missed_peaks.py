"""What else the net sees beside a set: the clearest thing it leaves out; shared by the finders (not a finder).

Two apples in front of a third, eight tiles of nine: such sets are clear in themselves, and only what they leave out
tells that they are not all. Learned from photos whose source the net had not seen (`learning/calibrate.py`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from curator.clues import LeftOut, Spread
from curator.records import ThingSet
from curator.seeing.features.side_by_side import Side, Values
from curator.seeing.net import runtime
from curator.seeing.net.runtime import Peaks, Sight

LEVELS = ("main", "whole", "part")
SIZED = (0.55, 1.8)  # of the set's usual size: what has that size could be one more of them
ANY = 0.35  # what is smaller is a detail


class Others(NamedTuple):
    """The peaks of every level at all sizes of the picture, level by level and in each size by size, their mean sides
    in pixels, and how many each level has at each size.
    """

    peaks: Peaks
    sides: Values
    counts: NDArray[np.intp]  # (levels, sizes)


def others(sights: Sequence[Sight]) -> Others:
    """The peaks of every level."""
    found = [runtime.peaks(s, level, least=runtime.LEAST) for level in LEVELS for s in sights]
    peaks, _ = runtime.together(found)
    counts = np.array([len(p) for p in found]).reshape(len(LEVELS), len(sights))
    return Others(peaks, np.sqrt(peaks.extents.prod(1)), counts)


def within_half(places: Values, side: Side) -> NDArray[np.bool_]:
    """(places, n): which places (row, col) lie within half a width of which things' centres."""
    return np.asarray(cdist(places, side.centers) <= 0.5 * side.widths, np.bool_)


def clues_of(
    sets: Sequence[ThingSet], side: Side, middles: Values, every: Others, on: NDArray[np.bool_]
) -> list[dict[str, LeftOut]]:
    """The clearest peak of every level that each set leaves out.

    `middles` (sizes, sets, 16) are the means of the embeddings of its things; `on` is `within_half` of the peaks.
    """
    middles = middles / np.maximum(1e-6, np.linalg.norm(middles, axis=2, keepdims=True))
    usual = [max(1.0, float(median(math.sqrt(t.box.height * t.box.width) for t in s.things))) for s in sets]
    largest = _clearest(side, np.array(usual), every, middles, on)
    ordered = np.sort(largest, axis=2)  # over the sizes
    n = ordered.shape[2]
    middle = (ordered[:, :, (n - 1) // 2] + ordered[:, :, n // 2]) / 2
    spread = np.stack([ordered[:, :, -1], middle, ordered[:, :, 0]], axis=2).transpose(3, 1, 0, 2).tolist()
    return [
        {level: LeftOut(*(Spread(*v) for v in values)) for level, values in zip(LEVELS, one, strict=True)}
        for one in spread
    ]


def _clearest(side: Side, usual: Values, every: Others, middles: Values, on: NDArray[np.bool_]) -> Values:
    """(measures, levels, sizes of the picture, sets): the largest value of each there; `usual` is the mean side of each
    set's things, in pixels.
    """
    peaks, size = every.peaks, every.sides[:, None] / usual
    free = peaks.scores[:, None] * ~side.any(on | side.inside(peaks.centers) | _holds(peaks, side))
    sized = free * ((size > SIZED[0]) & (size < SIZED[1]))
    ends = np.cumsum(every.counts)
    each = zip(every.counts.ravel().tolist(), ends.tolist(), strict=True)
    spans = [slice(end - count, end) for count, end in each]
    largest = np.zeros((3, len(spans), len(usual)))
    for k, span in enumerate(spans):
        if span.stop > span.start:
            alike = (peaks.embed[span] @ middles[k % len(middles)].T).clip(0, 1)
            values = (free[span] * (size[span] > ANY), sized[span], alike * sized[span])
            largest[:, k] = [v.max(axis=0) for v in values]
    return largest.reshape(3, len(LEVELS), len(middles), len(usual))


def _holds(peaks: Peaks, side: Side) -> NDArray[np.bool_]:
    """(peaks, n): which peaks, as large as the net takes them to be, hold which things' centres."""
    half = 0.5 * peaks.extents
    row, col = (np.abs(peaks.centers[:, k, None] - side.centers[:, k]) for k in (0, 1))
    return np.asarray((row <= half[:, :1]) & (col <= half[:, 1:]), np.bool_)

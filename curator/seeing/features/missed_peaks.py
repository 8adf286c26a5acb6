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

from curator.clues import LeftOut, Spread
from curator.records import ThingSet
from curator.seeing import set_matching
from curator.seeing.net import runtime
from curator.seeing.net.runtime import Peaks, Sight

LEVELS = ("main", "whole", "part")
LEAST = 0.08  # of the heat: fainter peaks are not looked at
MOST = 80
SIZED = (0.55, 1.8)  # of the set's usual size: what has that size could be one more of them
ANY = 0.35  # what is smaller is a detail
Values = NDArray[np.float64]


class Others(NamedTuple):
    """The peaks of one level at all sizes of the picture, at which size each was seen, and their mean sides in
    pixels.
    """

    peaks: Peaks
    size_of: NDArray[np.intp]
    sides: Values


def others(sights: Sequence[Sight]) -> dict[str, Others]:
    """The peaks of every level."""
    found = {}
    for level in LEVELS:
        peaks, size_of = runtime.together([runtime.peaks(s, level, least=LEAST, most=MOST) for s in sights])
        found[level] = Others(peaks, size_of, np.sqrt(peaks.extents.prod(1)))
    return found


def clues(things: ThingSet, embeds: list[Values], every: dict[str, Others]) -> dict[str, LeftOut]:
    """The clearest peak of every level that the set leaves out.

    `embeds` are the embeddings (things, 16) of the set's things at every size.
    """
    found: dict[str, LeftOut] = {}
    middles = np.array([embed.mean(0) for embed in embeds])
    middles /= np.maximum(1e-6, np.linalg.norm(middles, axis=1, keepdims=True))
    usual = max(1.0, float(median(math.sqrt(t.box.height * t.box.width) for t in things.things)))
    for level, seen in every.items():
        values = _clearest(things, usual, seen, middles).tolist()
        found[level] = LeftOut(*(Spread(max(v), float(median(v)), min(v)) for v in values))
    return found


def _clearest(things: ThingSet, usual: float, seen: Others, middles: Values) -> Values:
    """(measures, sizes of the picture): the largest value of each there; `usual` is the mean side of the set's things,
    in pixels.
    """
    peaks, size = seen.peaks, seen.sides / usual
    free = peaks.scores * _left_out(things, peaks)
    sized = free * ((size > SIZED[0]) & (size < SIZED[1]))
    alike = (peaks.embed * middles[seen.size_of]).sum(1).clip(0, 1)
    values = np.stack([free * (size > ANY), sized, alike * sized])
    return np.stack([values[:, seen.size_of == k].max(axis=1, initial=0.0) for k in range(len(middles))], axis=1)


def _left_out(things: ThingSet, peaks: Peaks) -> NDArray[np.bool_]:
    """Which peaks are on none of the things, in none of their boxes, and hold none of them."""
    holds = np.all(np.abs(peaks.centers[:, None] - things.centers[None]) <= 0.5 * peaks.extents[:, None], axis=2)
    return np.asarray(
        ~(set_matching.on(peaks.centers, things) | set_matching.inside(peaks.centers, things) | holds).any(1), np.bool_
    )

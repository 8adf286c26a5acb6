"""What else the net sees beside a set: the clearest thing it leaves out; shared by the finders (not a finder).

Two apples in front of a third, eight tiles of nine: such sets are clear in themselves, and only what they leave out
tells that they are not all. Learned from photos whose source the net had not seen (`learning/calibrate.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from curator.records import ThingSet
from curator.seeing import network
from curator.seeing.network import Peaks, Sight

LEVELS = ("main", "whole", "part")
LEAST = 0.08  # of the heat: fainter peaks are not looked at
MOST = 80
SIZED = (0.55, 1.8)  # of the set's usual size: what has that size could be one more of them
ANY = 0.35  # what is smaller is a detail
Values = NDArray[np.float64]


class Others(NamedTuple):
    """Every peak of one level at every size of the picture, in one array, and where each size begins."""

    peaks: list[Peaks]
    centers: Values
    extents: Values
    size_of: NDArray[np.intp]


def others(sights: list[Sight]) -> dict[str, Others]:
    """The peaks of every level."""
    found = {}
    for level in LEVELS:
        peaks = [network.peaks(s, level, least=LEAST, most=MOST) for s in sights]
        size_of = np.repeat(np.arange(len(peaks)), [len(p) for p in peaks])
        found[level] = Others(peaks, np.concatenate([p.centers for p in peaks]), np.concatenate([p.extents for p in peaks]), size_of)
    return found


def clues(things: ThingSet, sights: list[Sight], every: dict[str, Others]) -> dict[str, float]:
    """The clearest peak the set leaves out, 0 to 1: of any size, of its own size, and of its size and looks; the most, median and least over the sizes of the picture.

    Of the main map (`seen_besides_`) for COUNT and FACT, of the other two levels (`besides_`) for FACT alone.
    """
    found: dict[str, float] = {}
    middles = [network.embedding(s, things.centers).mean(0) for s in sights]
    middles = [m / max(1e-6, float(np.linalg.norm(m))) for m in middles]
    for level, seen in every.items():
        prefix = "seen_besides" if level == "main" else f"besides_{level}"
        for name, values in _clearest(things, seen, middles):
            found |= {f"{prefix}_{name}_most": float(values.max()), f"{prefix}_{name}_mid": float(np.median(values)), f"{prefix}_{name}_least": float(values.min())}
    return found


def _clearest(things: ThingSet, seen: Others, middles: list[Values]) -> Iterator[tuple[str, Values]]:
    """By measure, the largest value at each size of the picture."""
    free = _left_out(things, seen)
    boxes = np.array([t.box for t in things.things], dtype=np.float64)
    usual = float(np.median(np.sqrt((boxes[:, 2:] - boxes[:, :2]).prod(1))))
    size = np.sqrt(seen.extents.prod(1)) / max(1.0, usual)
    scores = np.concatenate([p.scores for p in seen.peaks])
    alike = np.concatenate([p.embed @ m for p, m in zip(seen.peaks, middles, strict=True)]).clip(0, 1)
    sized = free & (size > SIZED[0]) & (size < SIZED[1])
    for name, value in (("any", scores * (free & (size > ANY))), ("sized", scores * sized), ("like", scores * alike * sized)):
        yield name, np.array([value[seen.size_of == k].max(initial=0.0) for k in range(len(seen.peaks))])


def _left_out(things: ThingSet, seen: Others) -> NDArray[np.bool_]:
    """Which peaks are on none of the things, in none of their boxes, and hold none of them."""
    boxes = np.array([t.box for t in things.things], dtype=np.float64)
    on = (cdist(seen.centers, things.centers) <= 0.5 * things.widths[None]).any(1)
    at = seen.centers[:, None]
    inside = np.all((at >= boxes[None, :, :2]) & (at <= boxes[None, :, 2:]), axis=2).any(1)
    holds = np.all(np.abs(at - things.centers[None]) <= 0.5 * seen.extents[:, None], axis=2).any(1)
    return np.asarray(~on & ~inside & ~holds, np.bool_)

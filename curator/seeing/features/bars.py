"""Whether a bar, a fold or a spine can be seen where two halves meet: the cut that a child sees."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from curator.records import Halves, ThingSet
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.halves import CHANCE

SHADE = 10.0  # of lightness (0 to 255): a bar is lighter or darker than both its sides by as much
ALONG = 0.8  # of the line's length on which it is so: no row of marks, no shadow's end
MIDDLE, BESIDE = 0.15, (0.2, 0.4)  # of the room between the halves: where the bar may lie, and its sides
SAMPLES = 64  # along the line, and half as many across
TURNS = np.radians((0, -4, 4, -8, 8))  # of the line: one that is nearly level is drawn so, its bar is not
ROW = 0.3  # of the room between the halves: points no farther apart lie in one row
FEWEST = 6  # things: of fewer any line between them is short, and is soon on some stroke


def on_a_bar(picture: Picture, things: ThingSet, split: Halves) -> bool:
    """Whether a straight stroke runs between the halves, nearly as the dividing line does and as long as the things
    reach along it.
    """
    members = [*split.one, *split.other]
    own = things.centers[members]
    size = float(np.median(things.widths[members]))
    if len(own) < FEWEST:
        return False
    start, end = split.line
    known = float(np.arctan2(end[0] - start[0], end[1] - start[1]))
    middle = (own[: len(split.one)].mean(axis=0) + own[len(split.one) :].mean(axis=0)) / 2
    return any(_stroke(picture.grey, own, size, middle, known + turn) for turn in TURNS)


def _stroke(
    grey: NDArray[np.uint8], own: NDArray[np.float64], size: float, middle: NDArray[np.float64], angle: float
) -> bool:
    """Whether a stroke at that angle runs between the first half of the points (row, col) and the second, on what
    lies between things of that size. None may run so between the rows within a half: gaps that are all alike tell
    nothing.
    """
    along = np.array([np.sin(angle), np.cos(angle)])
    across = np.array([along[1], -along[0]])
    away, reach = (own - middle) @ across, (own - middle) @ along
    one, other = away[: len(own) // 2], away[len(own) // 2 :]
    if one.mean() > other.mean():
        one, other = other, one
    low, high = float(one.max()), float(other.min())
    if low >= high:
        return False
    step = ROW * (high - low)
    before, after = one[one < low - step].max(initial=-np.inf), other[other > high + step].min(initial=np.inf)
    gaps = [(low, high), (float(before), low), (high, float(after))]
    ends = (float(reach.min()), float(reach.max()))
    free = [(low + size / 2, high - size / 2) for low, high in gaps if np.isfinite((low, high)).all()]
    seen = [low < high and _runs(grey, (middle, along, across), ends, (low, high)) for low, high in free]
    return seen[0] and not any(seen[1:])


def _runs(
    grey: NDArray[np.uint8],
    frame: tuple[NDArray[np.float64], ...],
    ends: tuple[float, float],
    gap: tuple[float, float],
) -> bool:
    """Whether a stroke runs in a gap: frame is a point and the directions along and across, all row, col."""
    import cv2

    middle, along, across = frame
    at, off = np.linspace(*ends, SAMPLES), np.linspace(-0.5, 0.5, SAMPLES // 2 + 1)
    base = middle + sum(gap) / 2 * across
    places = (base + at[None, :, None] * along + (off * (gap[1] - gap[0]))[:, None, None] * across).astype(np.float32)
    seen = cv2.remap(grey, places[..., 1], places[..., 0], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = seen.astype(np.float32)
    beside = (np.abs(off) >= BESIDE[0]) & (np.abs(off) <= BESIDE[1])
    left, right = (np.median(seen[beside & side], axis=0) for side in (off < 0, off > 0))
    lighter, darker = np.maximum(left, right) + SHADE, np.minimum(left, right) - SHADE
    return any(max((row > lighter).mean(), (row < darker).mean()) >= ALONG for row in seen[np.abs(off) <= MIDDLE])


def barred_first(picture: Picture, things: ThingSet, fitted: tuple[Halves, ...]) -> tuple[Halves, ...]:
    """The fits in order, but first one whose line lies on a bar, if it is no worse than any straight cut that serves;
    dots of a 4-4 domino lie in two rows of four both ways, and its bar alone says which is meant.
    """
    if len(fitted) < 2 or on_a_bar(picture, things, fitted[0]):
        return fitted
    for n, one in enumerate(fitted[1:], 1):
        serves = one.chance <= max(CHANCE, fitted[0].chance) and one.kind != "turn"
        if serves and set(one.one) not in (set(fitted[0].one), set(fitted[0].other)) and on_a_bar(picture, things, one):
            return (one, *fitted[:n], *fitted[n + 1 :])
    return fitted

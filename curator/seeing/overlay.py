"""A reading drawn over its photo: halves told apart by shape and colour, never by colour alone."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Reading

Pixels = NDArray[np.uint8]
BLUE, ORANGE, WHITE, BLACK = (0, 84, 166), (230, 120, 0), (255, 255, 255), (0, 0, 0)


def _dot(picture: Pixels, center: tuple[int, int], side: int, size: int) -> None:
    """A blue disc, an orange square, or a hollow ring; light and dark rims hold on any photo."""
    x, y = center
    if side == 1:
        cv2.circle(picture, (x, y), size + 3, BLACK, -1, cv2.LINE_AA)
        cv2.circle(picture, (x, y), size + 2, WHITE, -1, cv2.LINE_AA)
        cv2.circle(picture, (x, y), size, BLUE, -1, cv2.LINE_AA)
    elif side == 2:
        for grow, colour in ((3, BLACK), (2, WHITE), (0, ORANGE)):
            cv2.rectangle(picture, (x - size - grow, y - size - grow), (x + size + grow, y + size + grow), colour, -1)
    else:
        cv2.circle(picture, (x, y), size + 2, BLACK, 4, cv2.LINE_AA)
        cv2.circle(picture, (x, y), size + 2, WHITE, 2, cv2.LINE_AA)


def _line(picture: Pixels, ends: NDArray[np.float64], wide: int) -> None:
    """A dashed light line, so many pixels wide, on a dark one."""
    (r0, c0), (r1, c1) = ends
    cv2.line(picture, (round(c0), round(r0)), (round(c1), round(r1)), BLACK, wide + 2, cv2.LINE_AA)
    length = float(np.hypot(r1 - r0, c1 - c0))
    for start in np.arange(0, length, 6 * wide):
        a, b = start / max(length, 1), min(1.0, (start + 10 * wide / 3) / max(length, 1))
        p, q = ends[0] + (ends[1] - ends[0]) * a, ends[0] + (ends[1] - ends[0]) * b
        cv2.line(picture, (round(p[1]), round(p[0])), (round(q[1]), round(q[0])), WHITE, wide, cv2.LINE_AA)


def dotted(pixels: Pixels, reading: Reading, *, fine: bool = False) -> Pixels:
    """The photo with a reading's dots and its dividing line, finer ones for a small picture; a new array."""
    picture = pixels.copy()
    width = float(np.median(reading.things.widths)) if len(reading.things) else 20.0
    size = int(np.clip(width * 0.16, *((3, 6) if fine else (4, 14))))
    if reading.halves is not None:
        _line(picture, reading.halves.line, 2 if fine else 3)
    for thing, side in [
        *zip(reading.things.things, reading.sides, strict=True),
        *((t, 0) for t in reading.things.aside),
    ]:
        _dot(picture, (round(thing.center[1]), round(thing.center[0])), side, size)
    return picture


def draw(pixels: Pixels, reading: Reading) -> Pixels:
    """The photo with its dots and dividing line, and the fact with its grade in a band below; a new array."""
    picture = dotted(pixels, reading)
    words = f"{reading.fact}  {reading.grade}" if reading.fact else f"no double  ({reading.total or 0} counted)"
    band = np.full((34, picture.shape[1], 3), 255, np.uint8)
    cv2.putText(band, words, (8, 24), cv2.FONT_HERSHEY_SIMPLEX, 0.7, BLACK, 2, cv2.LINE_AA)
    return np.vstack([picture, band])

"""Rings: one round each half where it crosses no other thing, else one round each thing. Blue solid, orange dashed.

Each line lies light between dark, and its own colour in the light, so that it holds on any photo and in black and white.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from curator.classroom.covers import SURE
from curator.classroom.extents import boxes, disc, reaches
from curator.records import Prompt

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
BLUE, ORANGE, GREY = (0, 90, 181), (200, 98, 0), (90, 90, 90)  # each at least 3:1 against LIGHT: a test measures it
LIGHT, DARK = (255, 255, 255), (20, 20, 20)
COLORS = {1: BLUE, 2: ORANGE, 0: GREY}
MARGINS = (0.5, 0.3, 0.15)  # of a thing's reach: how far a ring keeps from its half, the widest that fits


def stroke(width: int) -> int:
    """Pixels of a ring's colour in a picture of that width; with its light and dark edges it is five times that."""
    return max(2, round(width / 384))


def ring(photo: Pixels, prompt: Prompt) -> Pixels:
    """The picture with its halves ringed; things on side 0 of a picture that is no double get a grey ring each."""
    out = photo.copy()
    size = (photo.shape[0], photo.shape[1])
    every = reaches(prompt, size)
    sides = np.array([d.side for d in prompt.dots], dtype=int)
    for lines, side in _lines(every, sides, size, stroke(size[1])):
        _draw(out, lines, side)
    if prompt.fact is None:
        for lines, side in _one_each(every, sides, (0,)):
            _draw(out, lines, side)
    return out


def _lines(every: Floats, sides: NDArray[np.int_], size: tuple[int, int], width: int) -> list[tuple[list[Floats], int]]:
    for margin in MARGINS:
        hulls = {side: _hull(every[sides == side], margin, width, size) for side in (1, 2) if (sides == side).any()}
        if _clear(hulls, every, sides, size, width):
            return [(_contours(hull), side) for side, hull in hulls.items()]
    return _one_each(every, sides, (1, 2))


def _hull(things: Floats, margin: float, width: int, size: tuple[int, int]) -> Pixels:
    """The rounded hull of the things, its edge where the middle of the ring runs, on a canvas with a border of its own."""
    import cv2

    held = boxes(things, SURE, size).astype(np.uint8)
    far = max(3 * width, int(margin * np.median(things[:, 2:].max(axis=1))))
    found: Pixels = np.zeros(size, np.uint8)
    cv2.fillConvexPoly(found, cv2.convexHull(cv2.findNonZero(held)), (1,))
    grown = cv2.distanceTransform(1 - found, cv2.DIST_L2, 3) <= far
    edge = 3 * width  # a ring is never lost past the picture's edge
    grown[:edge], grown[-edge:], grown[:, :edge], grown[:, -edge:] = False, False, False, False
    return np.asarray(grown, dtype=np.uint8)


def _clear(hulls: dict[int, Pixels], every: Floats, sides: NDArray[np.int_], size: tuple[int, int], width: int) -> bool:
    """No ring holds or touches a thing that is not its own, nor the other ring."""
    import cv2

    wide = {side: cv2.dilate(hull, disc(3 * width)).astype(bool) for side, hull in hulls.items()}
    for side, hull in wide.items():
        if (hull & boxes(every[sides != side], 1.0, size)).any():
            return False
    return not (1 in wide and 2 in wide and (wide[1] & wide[2]).any())


def _contours(hull: Pixels) -> list[Floats]:
    import cv2

    found, _ = cv2.findContours(hull, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return [line.reshape(-1, 2).astype(np.float64) for line in found]


def _one_each(every: Floats, sides: NDArray[np.int_], wanted: Iterable[int]) -> list[tuple[list[Floats], int]]:
    """An ellipse round each thing, drawn in towards it where a neighbour is near."""
    turn = np.linspace(0, 2 * np.pi, 181)[:-1]
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return [
        ([every[i, :2] + 1.22 * every[i, 2:] * circle for i in np.flatnonzero(sides == side)], side) for side in wanted
    ]


def _draw(out: Pixels, lines: Iterable[Floats], side: int) -> None:
    import cv2

    width = stroke(out.shape[1])
    for line in lines:
        pieces = _dashes(line, 16 * width) if side == 2 else [np.vstack([line, line[:1]])]
        for color, thick in ((DARK, 5 * width), (LIGHT, 3 * width), (COLORS[side], width)):
            for piece in pieces:
                cv2.polylines(out, [np.round(piece * 8).astype(np.int32)], False, color, thick, cv2.LINE_AA, 3)


def _dashes(line: Floats, length: int) -> list[Floats]:
    """The closed line in dashes of about that length, with gaps of half of it."""
    closed = np.vstack([line, line[:1]])
    gone = np.concatenate([[0.0], np.linalg.norm(np.diff(closed, axis=0), axis=1).cumsum()])
    count = max(4, round(gone[-1] / (1.6 * length)))
    starts = np.linspace(0, gone[-1], count, endpoint=False)
    steps = np.linspace(0, 0.58 * gone[-1] / count, 14)
    return [np.stack([np.interp(s + steps, gone, closed[:, k]) for k in (0, 1)], axis=1) for s in starts]

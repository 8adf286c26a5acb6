"""Rings: one smooth ring about each half where a line parts them, else one about each thing. Blue solid, orange dashed.

Each line lies light between dark, and its own colour in the light, so that it holds on any photo and in black and
white.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from curator.classroom.marking import shapes
from curator.classroom.marking.card_colors import DARK, LIGHT
from curator.classroom.marking.covers import stroke
from curator.classroom.marking.extents import Floats, Mask, Pixels, around
from curator.classroom.marking.outlines import Labels
from curator.records import Prompt

BLUE, ORANGE, GREY = (0, 90, 181), (200, 98, 0), (90, 90, 90)  # each at least 3:1 against LIGHT: a test measures it
COLORS = {1: BLUE, 2: ORANGE, 0: GREY}
OWN, EDGE = 3, 1  # strokes: how wide a line's own colour is, and its light and its dark edge on either side
LEAST = 1.5  # pixels of an edge: with less it blends into what lies beside it
ROOM = 0.22  # of a thing: how far a ring keeps from its half where nothing is in the way
SHIFT = 4  # bits of a pixel's parts: places are drawn as exactly as that
PARTS = 2**SHIFT
DASH, GAP = 22, 15  # strokes: each dash has round ends of its own


def widths(one: float, own: float = OWN) -> tuple[int, int, int]:
    """Whole pixels of a line's dark, light and own layer, the widest first; none so thin that its colour is lost."""
    edge, middle = max(LEAST, EDGE * one), max(2, round(own * one))
    return round(middle + 4 * edge), round(middle + 2 * edge), middle


def ring(photo: Pixels, prompt: Prompt, own: Labels) -> Pixels:
    """The picture with its halves ringed; what is left over in a picture that is no double gets a grey ring each."""
    out = photo.copy()
    size = (photo.shape[0], photo.shape[1])
    for line, side in _lines(prompt, own, size):
        _draw(out, line, side)
    return out


def _lines(prompt: Prompt, own: Labels, size: tuple[int, int]) -> list[tuple[Floats, int]]:
    """Closed lines in pixels of the picture, each with its side."""
    small = shapes.working(size)
    scale = size[1] / small[1]
    one = stroke(size)
    half = (widths(one)[0] + one) / 2 / scale  # of a whole line's width, at the working size
    first = [i for i, d in enumerate(prompt.dots) if d.side == 1]
    whole = prompt.fact is not None or all(d.side for d in prompt.dots)
    cut = shapes.straight(shapes.parted(own, prompt, first, small)) if first and whole else None
    found: list[tuple[Floats, int]] = []
    for side in (1, 2):
        members = [i for i, d in enumerate(prompt.dots) if d.side == side]
        for group in [members] if cut is not None else [[i] for i in members]:
            groups = shapes.parted(own, prompt, group, small)
            found += [(line, side) for line in _around(groups, half, together=cut is not None)]
    if prompt.fact is None:
        for i in (i for i, d in enumerate(prompt.dots) if not d.side):
            found += [(line, 0) for line in _around(shapes.parted(own, prompt, [i], small), half, together=False)]
    return [(line * scale, side) for line, side in found]


def _around(groups: shapes.Parted, half: float, *, together: bool) -> list[Floats]:
    """The middle of the line about a group, at the working size."""
    size = (groups.inside.shape[0], groups.inside.shape[1])
    part = around(groups.inside, 5)
    alone = together or bool((shapes.distance(groups.outside[part])[groups.inside[part]] > 3).all())
    sure = groups.own.any() and not alone  # what a thing shares with its neighbours is not ringed with it
    held = groups.own if sure else groups.inside
    shape = shapes.hull(held, max(ROOM * groups.thing, 2 * half) if together else 1.2 * half)
    cut = shapes.straight(groups) if together else None
    if cut is not None:
        shape &= ~shapes.beyond(cut, size, half)
    edge = int(np.ceil(half)) + 1  # a ring is never lost past the picture's edge
    shape[:edge], shape[-edge:], shape[:, :edge], shape[:, -edge:] = False, False, False, False
    return _contour(shapes.smooth(shape, 0.1 * groups.thing))


def _contour(shape: Mask) -> list[Floats]:
    """The longest outline as (n, 2) x, y, its steps smoothed away; none of an empty shape."""
    import cv2

    found, _ = cv2.findContours(shape.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not found:
        return []
    line = max(found, key=len).reshape(-1, 2).astype(np.float64)
    reach = min(6, len(line) // 4)
    weight = np.hanning(2 * reach + 3)[1:-1]
    around = np.vstack([line[len(line) - reach :], line, line[:reach]])
    smoothed = [np.convolve(around[:, k], weight / weight.sum(), "valid") for k in (0, 1)]
    return [np.stack(smoothed, axis=1) + 0.5]


def _draw(out: Pixels, line: Floats, side: int) -> None:
    import cv2

    one = stroke((out.shape[0], out.shape[1]))
    wides, closed = widths(one), side != 2
    pieces = [_cornered(piece, closed) for piece in ([line] if closed else _dashes(line, wides[0] / 7))]
    for color, wide in zip((DARK, LIGHT, COLORS[side]), wides, strict=True):
        for piece in pieces:
            cv2.polylines(out, [np.round(piece * PARTS).astype(np.int32)], closed, color, wide, cv2.LINE_AA, SHIFT)


def _cornered(line: Floats, closed: bool) -> Floats:
    """The line with as few corners as leave it where it is: OpenCV draws a stroke with two round ends between each
    two, one over the other.
    """
    import cv2

    return np.asarray(cv2.approxPolyDP(line.astype(np.float32), 1 / PARTS, closed), dtype=np.float64).reshape(-1, 2)


def _dashes(line: Floats, one: float) -> Iterable[Floats]:
    """The closed line in even dashes; shorter ones where it is short."""
    closed = np.vstack([line, line[:1]])
    gone = np.concatenate([[0.0], np.linalg.norm(np.diff(closed, axis=0), axis=1).cumsum()])
    count = max(5, round(gone[-1] / ((DASH + GAP) * one)))
    steps = np.linspace(0, DASH / (DASH + GAP) * gone[-1] / count, 24)
    starts = np.linspace(0, gone[-1], count, endpoint=False)
    return [np.stack([np.interp(s + steps, gone, closed[:, k]) for k in (0, 1)], axis=1) for s in starts]

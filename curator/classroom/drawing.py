"""What is drawn on a prompt's photo for a class: rings, covers, and the fact's ten frame.

Blue and orange, solid and dashed, each line light between dark edges so that it holds on any photo. A cover is opaque
and reaches past each covered thing; an uncovered thing is never touched.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.records import Dot, Fact, Prompt

Pixels = NDArray[np.uint8]
BLUE, ORANGE, GREY = (0, 90, 181), (230, 126, 0), (90, 90, 90)
COVER, EDGE, LIGHT, DARK = (74, 82, 96), (24, 28, 34), (255, 255, 255), (20, 20, 20)
REACH = 1.4  # a cover reaches this far past the box that was found, for a box is often a little small
COLORS = {1: BLUE, 2: ORANGE, 0: GREY}


def plain(photo: Pixels, prompt: Prompt) -> Pixels:
    """The photo as it is."""
    return photo.copy()


def rings(photo: Pixels, prompt: Prompt) -> Pixels:
    """A ring round each thing: blue and solid for one half, orange and dashed for the other."""
    out = photo.copy()
    radii = _radii(prompt, photo.shape[:2])
    for dot, radius in zip(prompt.dots, radii, strict=True):
        if dot.side or prompt.fact is None:
            _ring(out, _at(dot, photo.shape[:2]), round(radius * 1.25), dot.side)
    return out


def cover(photo: Pixels, prompt: Prompt, side: int = 1) -> Pixels:
    """One half under a cover."""
    return _covered(photo, prompt, [i for i, d in enumerate(prompt.dots) if d.side == side])


def cover_some(photo: Pixels, prompt: Prompt, k: int) -> Pixels:
    """k things under a cover, neighbours of each other."""
    counted = [i for i, d in enumerate(prompt.dots) if d.side]
    first = min(counted, key=lambda i: (prompt.dots[i].x, prompt.dots[i].y))
    near = sorted(counted, key=lambda i: (abs(prompt.dots[i].x - prompt.dots[first].x), prompt.dots[i].y))
    return _covered(photo, prompt, near[:k])


def _at(dot: Dot, size: Any) -> tuple[int, int]:
    return round(dot.x * size[1]), round(dot.y * size[0])


def _radii(prompt: Prompt, size: Any) -> list[float]:
    """Half the size of each thing in pixels, and never past the middle between it and its neighbour."""
    centers = np.array([(d.x * size[1], d.y * size[0]) for d in prompt.dots], dtype=float).reshape(-1, 2)
    apart = np.linalg.norm(centers[:, None] - centers[None], axis=2) + np.diag(np.full(len(centers), np.inf))
    room = apart.min(axis=1) / 2 if len(centers) > 1 else np.full(len(centers), 0.1 * size[1])
    own = np.array([max(d.w * size[1], d.h * size[0]) / 2 for d in prompt.dots])
    wanted = np.where(own > 0, own, 0.8 * room)
    return [float(r) for r in np.maximum(np.minimum(wanted, np.maximum(room, 0.6 * wanted)), 4)]


def _ring(out: Pixels, center: tuple[int, int], radius: int, side: int) -> None:
    import cv2

    width = max(3, round(out.shape[1] / 320))
    spans = [(0, 360)] if side != 2 else [(a, a + 26) for a in range(0, 360, 40)]
    for color, thick in ((DARK, 3 * width), (LIGHT, 2 * width), (COLORS[side], width)):
        for start, end in spans:
            cv2.ellipse(out, center, (radius, radius), 0, start, end, color, thick, cv2.LINE_AA)


def _covered(photo: Pixels, prompt: Prompt, members: list[int]) -> Pixels:
    """An opaque sheet over these things, its gaps closed so that no bump can be counted; the others left free."""
    import cv2

    size = photo.shape[:2]
    radii = _radii(prompt, size)
    sheet: Pixels = np.zeros(size, np.uint8)
    for i in members:
        _lay(sheet, prompt.dots[i], size, radii[i], REACH)
    hull = _hull(sheet)
    free = [_at(dot, size) for i, dot in enumerate(prompt.dots) if i not in members]
    if any(hull[min(y, size[0] - 1), min(x, size[1] - 1)] for x, y in free):
        sheet = _closed(sheet, _reach([_at(prompt.dots[i], size) for i in members]))
    else:
        sheet = hull
    for i, dot in enumerate(prompt.dots):
        if i not in members:
            _lay(sheet, dot, size, radii[i], 1.06, 0)
    for i in members:
        _lay(sheet, prompt.dots[i], size, radii[i], 1.0)
    sheet = cv2.morphologyEx(sheet, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)))
    return _painted(photo, sheet)


def _hull(sheet: Pixels) -> Pixels:
    """The tightest sheet without a dent."""
    import cv2

    points = cv2.findNonZero(sheet)
    out: Pixels = np.zeros_like(sheet)
    if points is not None:
        cv2.fillConvexPoly(out, cv2.convexHull(points), (255,))
    return out


def _reach(centers: list[tuple[int, int]]) -> float:
    """The longest way from a thing to its nearest neighbour, in pixels."""
    points = np.array(centers, dtype=float).reshape(-1, 2)
    if len(points) < 2:
        return 0.0
    apart = np.linalg.norm(points[:, None] - points[None], axis=2) + np.diag(np.full(len(points), np.inf))
    return float(apart.min(axis=1).max())


def _closed(sheet: Pixels, reach: float) -> Pixels:
    """The sheet with every gap narrower than reach filled; worked out at a quarter of the size."""
    import cv2

    height, width = sheet.shape
    small = cv2.resize(sheet, (width // 4, height // 4), interpolation=cv2.INTER_NEAREST)
    pad = int(reach / 4) + 2
    small = cv2.copyMakeBorder(small, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=(0,))
    kernel = np.ones((2 * (pad // 2) + 1, 2 * (pad // 2) + 1), np.uint8)
    small = cv2.morphologyEx(small, cv2.MORPH_CLOSE, kernel)[pad:-pad, pad:-pad]
    large = cv2.resize(small, (width, height), interpolation=cv2.INTER_NEAREST)
    closed: NDArray[np.uint8] = np.maximum(large, sheet).astype(np.uint8)
    return closed


def _lay(sheet: Pixels, dot: Dot, size: Any, radius: float, grown: float, value: int = 255) -> None:
    """The thing's box, or a disc where its size is not known."""
    import cv2

    x, y = _at(dot, size)
    if dot.w and dot.h:
        half_w, half_h = grown * dot.w * size[1] / 2 + 1, grown * dot.h * size[0] / 2 + 1
        cv2.rectangle(sheet, (round(x - half_w), round(y - half_h)), (round(x + half_w), round(y + half_h)), value, -1)
    else:
        cv2.circle(sheet, (x, y), round(grown * radius), value, -1)


def _painted(photo: Pixels, sheet: Pixels) -> Pixels:
    import cv2

    out = photo.copy()
    out[sheet > 0] = COVER
    width = max(2, round(photo.shape[1] / 480))
    inner = cv2.erode(sheet, np.ones((2 * width + 1, 2 * width + 1), np.uint8))
    out[(sheet > 0) & (inner == 0)] = EDGE
    return out


# ---- the ten frame


def frame(fact: Fact, longer: int = 1920) -> tuple[Pixels, Prompt]:
    """Counters on ten frames, and where each lies: a picture to ring and cover like a photo.

    Up to 5 + 5 on one frame, n over n; above, a frame for each half side by side; past 10 a second one under each.
    """
    blocks = _blocks(fact.half)
    cell = longer // (8 if fact.half <= 5 else 13)
    rows = 2 if fact.half <= 10 else 4.5
    height = round((rows + 2) * cell)
    canvas: Pixels = np.full((height, longer, 3), 250, np.uint8)
    left = (longer - (5 if fact.half <= 5 else 11) * cell) // 2
    dots: list[Dot] = []
    for across, down, sides in blocks:
        corner = (left + round(across * cell), cell + round(down * cell))
        dots += _ten_frame(canvas, corner, cell, sides)
    dots.sort(key=lambda d: d.side)
    return canvas, Prompt("ten-frame", "", fact, "slide", "ten-frame.png", tuple(dots))


def _blocks(half: int) -> list[tuple[float, float, list[int]]]:
    """Each frame's place in cells and the side of the counter in each of its ten cells (0 empty)."""
    if half <= 5:
        return [(0, 0, ([1] * half + [0] * (5 - half)) + ([2] * half + [0] * (5 - half)))]
    found: list[tuple[float, float, list[int]]] = []
    for side, across in ((1, 0), (2, 6)):
        for down, count in ((0, min(half, 10)), (2.5, half - 10)):
            if count > 0:
                found.append((across, down, [side] * count + [0] * (10 - count)))
    return found


def _ten_frame(canvas: Pixels, corner: tuple[int, int], cell: int, sides: list[int]) -> list[Dot]:
    import cv2

    height, width = canvas.shape[:2]
    size, dots = round(0.68 * cell), []
    for n, side in enumerate(sides):
        x, y = corner[0] + n % 5 * cell, corner[1] + n // 5 * cell
        cv2.rectangle(canvas, (x, y), (x + cell, y + cell), DARK, max(3, cell // 30))
        if side:
            cv2.circle(canvas, (x + cell // 2, y + cell // 2), size // 2, (178, 44, 52), -1, cv2.LINE_AA)
            at = ((x + cell / 2) / width, (y + cell / 2) / height)
            dots.append(Dot(*at, side, size / width, size / height))
    return dots

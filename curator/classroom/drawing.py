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
    """An opaque sheet over these things: each and the way to its nearest covered neighbour, the others left free."""
    import cv2

    size = photo.shape[:2]
    radii = _radii(prompt, size)
    sheet: Pixels = np.zeros(size, np.uint8)
    for i in members:
        _lay(sheet, prompt.dots[i], size, radii[i], 1.12)
        others = [j for j in members if j != i]
        for j in sorted(others, key=lambda j: _apart(prompt.dots[i], prompt.dots[j], size))[:2]:
            cv2.line(
                sheet, _at(prompt.dots[i], size), _at(prompt.dots[j], size), 255, round(1.6 * min(radii[i], radii[j]))
            )
    for i, dot in enumerate(prompt.dots):
        if i not in members:
            _lay(sheet, dot, size, radii[i], 1.0, 0)
    for i in members:
        _lay(sheet, prompt.dots[i], size, radii[i], 1.0)
    return _painted(photo, sheet)


def _apart(a: Dot, b: Dot, size: Any) -> float:
    return float(np.hypot((a.x - b.x) * size[1], (a.y - b.y) * size[0]))


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
    """Counters on ten frames, n over n, and where each counter lies: a picture to ring and cover like a photo."""
    import cv2

    wide = 5 if fact.half <= 5 else fact.half if fact.half <= 10 else 12
    cell = longer // (wide + 2)
    height = 4 * cell + cell // 2
    canvas: Pixels = np.full((height, longer, 3), 250, np.uint8)
    dots = []
    for row in (0, 1):
        top = cell * (1 + row) + row * (cell // 2)
        for col in range(wide):
            left = (longer - wide * cell) // 2 + col * cell
            cv2.rectangle(canvas, (left, top), (left + cell, top + cell), DARK, max(3, cell // 30))
            if col < fact.half:
                cv2.circle(
                    canvas, (left + cell // 2, top + cell // 2), round(0.36 * cell), (196, 60, 60), -1, cv2.LINE_AA
                )
                dots.append(
                    Dot(
                        (left + cell / 2) / longer,
                        (top + cell / 2) / height,
                        row + 1,
                        0.72 * cell / longer,
                        0.72 * cell / height,
                    )
                )
        for col in range(5, wide, 5):
            x = (longer - wide * cell) // 2 + col * cell
            cv2.line(canvas, (x, top), (x, top + cell), DARK, max(8, cell // 10))
    return canvas, Prompt("ten-frame", "", fact, "slide", "ten-frame.png", tuple(dots))

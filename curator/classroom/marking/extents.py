"""Where a prompt's things lie in its picture: how far each reaches, and the part of the picture that counts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from curator.records import Area, Dot, Prompt

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Pixels = NDArray[np.uint8]
ALONE = 0.1  # of the picture's shorter side: how far a single thing of unknown size is taken to reach
WIDEST, TALLEST = 3 / 2, 3 / 4  # width over height of a crop: words still fit beside it on a wide screen
WORTH = 0.85  # a crop that keeps more of the picture than this is not worth cutting
ROOM = 1.2  # of half a thing: what is left about the outermost ones
CLEAR = 0.02  # least way from a thing to a crop's edge: the margin that a clean picture wants


def reaches(prompt: Prompt, size: tuple[int, int]) -> Floats:
    """(n, 4) center x, center y, half width, half height in pixels of a picture of that height and width.

    A thing whose size is not known reaches half way to its nearest neighbour.
    """
    height, width = size
    centers = np.array([(d.x * width, d.y * height) for d in prompt.dots], dtype=np.float64).reshape(-1, 2)
    own = np.array([(d.w * width / 2, d.h * height / 2) for d in prompt.dots], dtype=np.float64).reshape(-1, 2)
    room = np.full(len(centers), ALONE * min(size))
    if len(centers) > 1:
        room = apart(centers).min(axis=1) / 2
    known: NDArray[np.bool_] = np.asarray((own > 0).all(axis=1), dtype=np.bool_)
    return np.hstack([centers, np.maximum(np.where(known[:, None], own, room[:, None]), 2.0)])


def apart(centers: Floats) -> Floats:
    """(n, n) distances, infinite on the diagonal."""
    between: Floats = np.linalg.norm(centers[:, None] - centers[None], axis=2)
    found: Floats = between + np.diag(np.full(len(centers), np.inf))
    return found


def disc(radius: int) -> Pixels:
    """A round kernel of that radius in pixels."""
    import cv2

    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1)), dtype=np.uint8)


def points(mask: Mask) -> Floats:
    """(n, 2) x, y of a mask's pixels, row by row."""
    import cv2

    found = cv2.findNonZero(np.ascontiguousarray(mask).view(np.uint8))
    return np.zeros((0, 2)) if found is None else np.asarray(found.reshape(-1, 2), dtype=np.float64)


def around(mask: Mask, room: float) -> tuple[slice, slice]:
    """The rows and columns of a mask's pixels, and so many more pixels on each side as far as the mask goes."""
    import cv2

    more, (rows, columns) = int(np.ceil(room)), mask.shape
    left, top, wide, high = cv2.boundingRect(np.ascontiguousarray(mask).view(np.uint8))
    return (
        slice(max(0, top - more), min(rows, top + high + more)),
        slice(max(0, left - more), min(columns, left + wide + more)),
    )


def boxes(things: Floats, grown: float, size: tuple[int, int]) -> Mask:
    """(H, W) the boxes of the things, each grown by that factor."""
    out = np.zeros(size, np.bool_)
    for x, y, w, h in things:
        top, bottom = max(0, int(y - grown * h) - 1), int(np.ceil(y + grown * h)) + 1
        left, right = max(0, int(x - grown * w) - 1), int(np.ceil(x + grown * w)) + 1
        out[top:bottom, left:right] = True
    return out


def ellipses(things: Floats, grown: float, size: tuple[int, int]) -> Mask:
    """(H, W) the ellipses in the boxes of the things, each grown by that factor."""
    import cv2

    out: Pixels = np.zeros(size, np.uint8)
    for x, y, w, h in things:
        axes = (max(1, round(grown * w)), max(1, round(grown * h)))
        cv2.ellipse(out, (round(x), round(y)), axes, 0, 0, 360, (1,), -1)
    return out.astype(bool)


def crop(prompt: Prompt, size: tuple[int, int], own: NDArray[np.uint8] | None = None) -> Area:
    """The part of the picture that counts: every thing, whole, with room about it; all of it where little would go.

    Never more than the part that a teacher had looked at: what she left outside looks like the things, and is not asked
    about. size: height, width of the picture; own: an array of that size, 0 where there is no thing; without it the
    boxes tell.
    """
    if not prompt.dots:
        return Area(0.0, 0.0, 1.0, 1.0)
    found = _about(prompt, size, own)
    if prompt.area is None:
        return found
    asked = _with_dots(prompt.area, prompt)
    return Area(
        max(found.left, asked.left),
        max(found.top, asked.top),
        min(found.right, asked.right),
        min(found.bottom, asked.bottom),
    )


def _with_dots(area: Area, prompt: Prompt) -> Area:
    """That part of the picture, grown to hold every dot with its box: one may have been put down outside it."""
    dots = prompt.dots
    return Area(
        max(0.0, min(area.left, *(d.x - d.w / 2 for d in dots))),
        max(0.0, min(area.top, *(d.y - d.h / 2 for d in dots))),
        min(1.0, max(area.right, *(d.x + d.w / 2 for d in dots))),
        min(1.0, max(area.bottom, *(d.y + d.h / 2 for d in dots))),
    )


def _about(prompt: Prompt, size: tuple[int, int], own: NDArray[np.uint8] | None) -> Area:
    """The things with room about them; all of the picture where little would go."""
    height, width = size
    x, y, w, h = reaches(prompt, size).T
    rows, columns = np.nonzero(own) if own is not None else (np.zeros(0, int), np.zeros(0, int))
    left, top = min((x - w).min(), columns.min(initial=width)), min((y - h).min(), rows.min(initial=height))
    right, bottom = max((x + w).max(), columns.max(initial=0) + 1), max((y + h).max(), rows.max(initial=0) + 1)
    margin = max(ROOM * float(np.median(np.maximum(w, h))), 1.5 * CLEAR * max(right - left, bottom - top))
    left, right = _within(left - margin, right + margin, width)
    top, bottom = _within(top - margin, bottom + margin, height)
    left, right = _at_least(left, right, TALLEST * (bottom - top), width)
    top, bottom = _at_least(top, bottom, (right - left) / WIDEST, height)
    if (right - left) * (bottom - top) > WORTH * width * height:
        return Area(0.0, 0.0, 1.0, 1.0)
    return Area(left / width, top / height, right / width, bottom / height)


def _within(low: float, high: float, most: float) -> tuple[float, float]:
    return float(max(low, 0.0)), float(min(high, most))


def _at_least(low: float, high: float, length: float, most: float) -> tuple[float, float]:
    """Grown about its middle to that length, as far as the picture goes."""
    more = max(0.0, min(length, most) - (high - low))
    low = min(max(0.0, low - more / 2), most - (high - low) - more)
    return low, low + max(high - low, min(length, most))


def moved(prompt: Prompt, area: Area) -> Prompt:
    """The prompt with its dots and line in fractions of that part of its picture, which is all there is of it then."""
    wide, tall = area.right - area.left, area.bottom - area.top

    def at(x: float, y: float) -> tuple[float, float]:
        return min(1.0, max(0.0, (x - area.left) / wide)), min(1.0, max(0.0, (y - area.top) / tall))

    dots = tuple(Dot(*at(d.x, d.y), d.side, d.w / wide, d.h / tall) for d in prompt.dots)
    line = (at(*prompt.line[0]), at(*prompt.line[1])) if prompt.line else None
    return replace(prompt, dots=dots, line=line, area=None)

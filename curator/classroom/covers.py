"""Covers: nothing of a covered thing shows, nothing of an uncovered one is hidden, and no bump of a cover can be counted.

A cover is one sheet over its things where that hides no other; else a sheet cut free about the others. Where the boxes of
a covered and an uncovered thing run into each other, ellipses in those boxes are taken for them; where even those do, the
sheet is cut midway between the two, and `Sheet.cut` says so.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.classroom.extents import apart, boxes, disc, reaches
from curator.records import Prompt

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
GROWN = 1.35  # a sheet reaches this far past the box that was found, for a box is often a little small
SURE = 1.06  # of a box: what must be hidden, or must not
PAPER, STRIPE = (74, 82, 96), (88, 97, 112)  # the sheet and its calm stripes
LIGHT, DARK = (255, 255, 255), (20, 20, 20)


class Sheet(NamedTuple):
    """Where a cover lies, and whether it had to be cut between two things that run into each other."""

    mask: Mask  # (H, W)
    cut: bool


def sheet(prompt: Prompt, members: Collection[int], size: tuple[int, int]) -> Sheet:
    """The cover over these dots, in a picture of that height and width."""
    every = reaches(prompt, size)
    inside = np.array([i in set(members) for i in range(len(every))], dtype=bool)
    if not inside.any():
        return Sheet(np.zeros(size, np.bool_), False)
    must, keep, cut = _shares(every, inside, size)
    wide = _wide(every[inside], keep, size)
    return Sheet(_without_crumbs((wide & ~keep) | must, must), cut)


def _shares(every: Floats, inside: Mask, size: tuple[int, int]) -> tuple[Mask, Mask, bool]:
    """What must be hidden and what must not; never the same pixel."""
    must, keep = boxes(every[inside], SURE, size), boxes(every[~inside], SURE, size)
    disputed = must & keep
    if not disputed.any():
        return must, keep, False
    own, other = boxes(every[inside], 1.0, size), boxes(every[~inside], 1.0, size)
    covered, free = _ellipses(every[inside], size), _ellipses(every[~inside], size)
    nearer = _nearness(every[inside], size) <= _nearness(every[~inside], size)
    by_shape = np.where(covered & free, nearer, covered | (~free & nearer))
    goes = np.where(own == other, by_shape, own)
    return must & (~disputed | goes), keep & (~disputed | ~goes), bool((covered & free).any())


def _wide(covered: Floats, keep: Mask, size: tuple[int, int]) -> Mask:
    """A rounded hull about the things where it is free of the others; else the things joined to their neighbours."""
    import cv2

    grown = boxes(covered, GROWN, size).astype(np.uint8)
    round_by = max(3, int(0.25 * np.median(covered[:, 2:])))
    points = cv2.findNonZero(grown)
    hull: Pixels = np.zeros(size, np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(points), (1,))
    found = cv2.dilate(hull, disc(round_by))
    if not (found.astype(bool) & keep).any():
        return np.asarray(found, dtype=np.bool_)
    if not (hull.astype(bool) & keep).any():
        return hull.astype(bool)
    reach = float(apart(covered[:, :2]).min(axis=1).max()) if len(covered) > 1 else 0.0
    return _closed(grown, reach)


def _closed(mask: Pixels, reach: float) -> Mask:
    """Every gap narrower than reach filled; worked out at a quarter of the size."""
    import cv2

    height, width = mask.shape
    pad = int(reach / 4) + 2
    small = cv2.resize(mask, (max(1, width // 4), max(1, height // 4)), interpolation=cv2.INTER_NEAREST)
    small = cv2.copyMakeBorder(small, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=(0,))
    small = cv2.morphologyEx(small, cv2.MORPH_CLOSE, disc(pad // 2 + 1))[pad:-pad, pad:-pad]
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_NEAREST) | mask, dtype=np.bool_)


def _without_crumbs(mask: Mask, must: Mask) -> Mask:
    """Thin slivers between cut edges taken off, what must be hidden kept."""
    import cv2

    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc(max(2, min(mask.shape) // 150)))
    count, parts = cv2.connectedComponents(opened | must.astype(np.uint8))
    holds = np.zeros(count, np.bool_)
    holds[np.unique(parts[must])] = True
    holds[0] = False
    return holds[parts]


def _ellipses(things: Floats, size: tuple[int, int]) -> Mask:
    import cv2

    out: Pixels = np.zeros(size, np.uint8)
    for x, y, w, h in things:
        axes = (round(w), round(h))
        cv2.ellipse(out, (round(x), round(y)), axes, 0, 0, 360, (1,), -1)
    return out.astype(bool)


def _nearness(things: Floats, size: tuple[int, int]) -> NDArray[np.float32]:
    """(H, W) distance to the nearest of the things, in its own half widths and half heights."""
    rows = np.arange(size[0], dtype=np.float32)[:, None]
    columns = np.arange(size[1], dtype=np.float32)[None]
    best = np.full(size, np.inf, np.float32)
    for x, y, w, h in things.astype(np.float32):
        np.minimum(best, ((columns - x) / w) ** 2 + ((rows - y) / h) ** 2, out=best)
    return best


def lay(photo: Pixels, mask: Mask) -> Pixels:
    """The picture with an opaque striped sheet there, edged light inside and dark outside, all within the mask."""
    import cv2

    out = photo.copy()
    height, width = mask.shape
    step = max(6, width // 60)
    slant = (np.arange(height, dtype=np.int32)[:, None] + np.arange(width, dtype=np.int32)[None]) // step % 2
    paper = np.array((PAPER, STRIPE), np.uint8)[slant]
    out[mask] = paper[mask]
    line = max(2, round(width / 640))
    deep = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=(0,))
    inward = cv2.distanceTransform(deep, cv2.DIST_L2, 3)[1:-1, 1:-1]
    out[mask & (inward <= 2 * line)] = LIGHT
    out[mask & (inward <= line)] = DARK
    return out


def some(prompt: Prompt, k: int, size: tuple[int, int]) -> list[int]:
    """k neighbouring things, chosen so that a sheet over them keeps farthest from the others."""
    counted = [i for i, d in enumerate(prompt.dots) if d.side]
    if not 0 < k < len(counted):
        raise ValueError(f"k: expected 1 to {len(counted) - 1}, got {k}")
    at = reaches(prompt, size)[counted]
    best, most = list(range(k)), -np.inf
    for turn in np.radians(np.arange(0, 360, 30)):
        along = at[:, :2] @ np.array([np.cos(turn), np.sin(turn)]) + 1e-4 * at[:, :2] @ np.array([-np.sin(turn), np.cos(turn)])
        order = np.argsort(along, kind="stable")
        gap = along[order[k]] - along[order[k - 1]]
        if gap > most * 1.2 + 1e-9 or most == -np.inf:
            best, most = [counted[i] for i in order[:k]], float(gap)
    return sorted(best)

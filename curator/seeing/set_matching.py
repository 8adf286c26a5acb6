"""Small helpers on sets of things: move, scale and compare them."""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import Area, Box, Thing, ThingSet


def area_box(size: tuple[int, int], area: Area | None) -> Box:
    """The area in pixels, at least 8 by 8, inside the photo; the whole photo for None."""
    height, width = size
    if area is None:
        return Box(0, 0, height, width)
    top, left = min(int(area.top * height), height - 8), min(int(area.left * width), width - 8)
    bottom, right = max(top + 8, round(area.bottom * height)), max(left + 8, round(area.right * width))
    return Box(max(0, top), max(0, left), min(height, bottom), min(width, right))


def _moved(thing: Thing, scale: tuple[float, float], offset: tuple[int, int], size: tuple[int, int]) -> Thing:
    top = min(size[0] - 1, max(0, round(thing.box.top * scale[0]) + offset[0]))
    left = min(size[1] - 1, max(0, round(thing.box.left * scale[1]) + offset[1]))
    bottom = min(size[0], max(top + 1, round(thing.box.bottom * scale[0]) + offset[0]))
    right = min(size[1], max(left + 1, round(thing.box.right * scale[1]) + offset[1]))
    center = (thing.center[0] * scale[0] + offset[0], thing.center[1] * scale[1] + offset[1])
    return Thing(Box(top, left, bottom, right), center, thing.likeness)


def moved(things: ThingSet, scale: tuple[float, float], offset: tuple[int, int], size: tuple[int, int]) -> ThingSet:
    """The same set in a photo of another size: pixels times scale (rows, columns) plus offset (row, col)."""
    axis = things.axis
    if axis is not None:
        axis = axis * np.array(scale) + np.array(offset, dtype=np.float64)
    return dataclasses.replace(
        things,
        things=tuple(_moved(t, scale, offset, size) for t in things.things),
        aside=tuple(_moved(t, scale, offset, size) for t in things.aside),
        axis=axis,
        size=size,
    )


def partners(a: ThingSet, b: ThingSet, *, reach: float = 0.5) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Things of `a` and of `b` matched one to one within `reach` widths (of the narrower): two arrays of indices."""
    if not len(a) or not len(b):
        return np.empty(0, np.intp), np.empty(0, np.intp)
    apart, near = _near(a, b, reach)
    mine, theirs = linear_sum_assignment(apart)
    matched = near[mine, theirs]
    return mine[matched], theirs[matched]


def _near(a: ThingSet, b: ThingSet, reach: float) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """(things of a, things of b): how far apart they are, and which lie within `reach` widths (of the narrower)."""
    apart = cdist(a.centers, b.centers)
    return apart, apart <= reach * np.minimum(a.widths[:, None], b.widths)


def inside(places: NDArray[np.float64], things: ThingSet, *, slack: float = 0.0) -> NDArray[np.bool_]:
    """(n, things): which places (row, col) lie in which things' boxes, widened by `slack` widths on every side."""
    (top, left, bottom, right), room = things.boxes.T, slack * things.widths
    row, col = places[:, :1], places[:, 1:]
    held: NDArray[np.bool_] = (row >= top - room) & (row < bottom + room) & (col >= left - room) & (col < right + room)
    return held


def holding(wholes: ThingSet, parts: ThingSet) -> tuple[float, int]:
    """Share of the parts that lie in the box of some whole, and how many of the wholes have two or more of them."""
    held = inside(parts.centers, wholes)
    return float(held.any(1).mean()), int((held.sum(0) >= 2).sum())


def on(places: NDArray[np.float64], things: ThingSet) -> NDArray[np.bool_]:
    """(n, things): which places (n, 2; row, col) lie within half a width of which things' centres."""
    return np.asarray(cdist(places, things.centers) <= 0.5 * things.widths[None], np.bool_)


def mostly_same(a: ThingSet, b: ThingSet, share: float, *, reach: float = 0.5) -> bool:
    """Whether more than this share of the things of the larger set are the same: matched one to one within `reach`
    widths. Nothing is matched where numbers alone rule it out, or too few things have any of the others so near.
    """
    larger = max(len(a), len(b))
    if min(len(a), len(b)) <= share * larger:
        return False
    apart, near = _near(a, b, reach)
    if min(np.count_nonzero(near.any(axis=1)), np.count_nonzero(near.any(axis=0))) / larger <= share:
        return False
    return bool(np.count_nonzero(near[linear_sum_assignment(apart)]) / larger > share)


def same_set(a: ThingSet, b: ThingSet, *, share: float = 0.99) -> bool:
    """Whether two sets are equally large and more than this share of their things are the same."""
    return len(a) == len(b) and mostly_same(a, b, share)


def touching(things: ThingSet, margin: int = 2) -> NDArray[np.bool_]:
    """(things, 4): whose boxes touch the photo's top, left, bottom and right edge."""
    boxes = things.boxes
    return np.column_stack([boxes[:, :2] <= margin, boxes[:, 2:] >= np.array(things.size) - margin])


def cut_by_edge(things: ThingSet, margin: int = 2) -> int:
    """How many things touch the photo's edge."""
    return int(touching(things, margin).any(1).sum())

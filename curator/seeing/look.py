"""The line itself: a photo in, its readings out."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.records import Area, Box, Dot, Look, Photo, Reading, Thing, ThingSet
from curator.seeing import outlined_lines, photo, set_matching, tapped
from curator.seeing.finders import find_all
from curator.seeing.further_looks import further
from curator.seeing.judging import readings as judge
from curator.seeing.judging.features import measured
from curator.seeing.judging.taught import Example, Taught, example
from curator.seeing.net.runtime import MODEL
from curator.seeing.view import View, view_of

WORKING = 512  # longer side, in pixels, of what the finders see


def look(path: Path, area: Area | None = None, taught: Taught = ()) -> Look:
    """Read one photo and say what it shows; PhotoError where the file cannot be read. `taught` are examples of the same
    things that a teacher kept (`example_of`)."""
    return look_at(photo.load(path), area, taught=taught)


def framed(seen: Photo, area: Area | None) -> tuple[NDArray[np.uint8], Box]:
    """What the finders see: the area's pixels, longer side at most WORKING; and where they lie in the photo."""
    import cv2

    box = set_matching.area_box(seen.size, area)
    inside = _inside(seen, box)
    shrink = min(1.0, WORKING / max(inside.shape[:2]))
    if shrink == 1:
        return np.ascontiguousarray(inside), box
    size = (max(8, round(inside.shape[1] * shrink)), max(8, round(inside.shape[0] * shrink)))
    return cv2.resize(inside, size, interpolation=cv2.INTER_AREA), box


def viewed(seen: Photo, area: Area | None, model: Path = MODEL) -> tuple[View, Box]:
    """The area as the finders see it, looked at by the net `model`; and where it lies in the photo."""
    working, box = framed(seen, area)
    return view_of(working, model), box


def _inside(seen: Photo, box: Box) -> NDArray[np.uint8]:
    """The pixels of the box; of a small part of a large photo those of the file itself, as many as the finders can
    use.
    """
    grown = min(WORKING / max(box.height, box.width), 1 / seen.scale)
    pixels = photo.finer(seen, grown) if grown > 1 else seen.pixels
    high, wide = (
        now / before for now, before in zip(pixels.shape[:2], seen.size, strict=True)
    )  # of a strip they differ by its rounding
    top, bottom, left, right = (
        round(box.top * high),
        round(box.bottom * high),
        round(box.left * wide),
        round(box.right * wide),
    )
    return pixels[top:bottom, left:right]


def look_at(seen: Photo, area: Area | None = None, model: Path = MODEL, taught: Taught = ()) -> Look:
    """All readings of a photo, best first, as the net `model` helps to see it; with `area` only of what lies inside."""
    start = time.perf_counter()
    view, box = viewed(seen, area, model)
    readings = judge.readings(view.pixels, find_all(view), taught, partial(further, view))
    readings = outlined_lines.redrawn(readings, view.sights)
    scale = (box.height / view.size[0], box.width / view.size[1])
    placed = tuple(judge.placed(r, scale, (box.top, box.left), seen.size) for r in readings)
    return Look(seen, placed, area, round((time.perf_counter() - start) * 1000))


def example_of(seen: Photo, kept: Sequence[Dot], area: Area | None = None) -> Example | None:
    """What a photo and the things that a teacher keeps of it teach; None where no candidate set holds just these."""
    view, box = viewed(seen, area)
    scale = (view.size[0] / box.height, view.size[1] / box.width)
    hers = by_hand(seen, [(dot.x, dot.y) for dot in kept])
    sized = [
        dataclasses.replace(thing, box=_around(thing.center, max(3, round(side / 2)), seen.size)) if side else thing
        for thing, side in zip(hers.things, (_side(dot, seen.size) for dot in kept), strict=True)
    ]
    away = (-round(box.top * scale[0]), -round(box.left * scale[1]))
    things = set_matching.moved(dataclasses.replace(hers, things=tuple(sized)), scale, away, view.size)
    return example(measured(find_all(view)), things)


def _side(dot: Dot, size: tuple[int, int]) -> float:
    """Mean of a kept thing's height and width in pixels; 0 where unknown."""
    return (dot.h * size[0] + dot.w * size[1]) / 2


def look_again(
    seen: Photo,
    dots: Sequence[tuple[float, float]],
    *,
    line: tuple[tuple[float, float], tuple[float, float]] | None = None,
    view: View | None = None,
) -> tuple[Reading, ...]:
    """Readings of a teacher's own dots, best first; dots and line in fractions (x, y). The count is the teacher's.

    With the `view` of the whole photo (`viewed`) her things have the boxes of their outlines, and a line that she did
    not draw lies between these.
    """
    things, size, sights = by_hand(seen, dots), seen.size, view.sights if view else ()
    if view and sights and len(things):
        shrink = (view.size[0] / size[0], view.size[1] / size[1])
        things = tapped.sized(set_matching.moved(things, shrink, (0, 0), view.size), sights)
    height, width = things.size
    ends = None if line is None else np.array([(y * height, x * width) for x, y in line], dtype=np.float64)
    readings = judge.by_hand(seen.pixels, things, ends)
    if line is None:
        readings = outlined_lines.redrawn(readings, sights)
    if things.size == size:
        return readings
    scale = (size[0] / height, size[1] / width)
    return tuple(judge.placed(reading, scale, (0, 0), size) for reading in readings)


def by_hand(seen: Photo, dots: Sequence[tuple[float, float]]) -> ThingSet:
    """A teacher's dots as a set of things, each as wide as half the usual step between them."""
    from curator.seeing.cuts import spacing

    height, width = seen.size
    centers = [(min(max(y, 0.0), 1.0) * height, min(max(x, 0.0), 1.0) * width) for x, y in dots]
    reach = max(3, round(0.3 * min(spacing(np.array(centers).reshape(-1, 2)), 0.5 * min(height, width))))
    things = tuple(Thing(_around(c, reach, seen.size), c) for c in centers)
    return ThingSet(things, seen.size, "person", support=1.0)


def _around(center: tuple[float, float], reach: int, size: tuple[int, int]) -> Box:
    top, left = max(0, int(center[0]) - reach), max(0, int(center[1]) - reach)
    top, left = min(top, size[0] - 2), min(left, size[1] - 2)
    return Box(
        top,
        left,
        min(size[0], max(top + 2, int(center[0]) + reach)),
        min(size[1], max(left + 2, int(center[1]) + reach)),
    )


def as_json(seen: Look) -> dict[str, Any]:
    """What one photo says, as the JSON contract has it (DEVELOPERS.md)."""
    from curator.seeing.answer_json import look_as_json

    return look_as_json(seen)

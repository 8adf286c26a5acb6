"""The dividing line where the net sees the things' outlines: in the widest straight gap between them.

Halves are fitted to places and boxes, and a box says little of a shoe that leans. Of each thing the outline is asked at
two sizes of the picture; a line that clears them stays as it is, another gives way to the straightest that serves
(`cuts.straightest`), and where none does, that is said.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import Halves, Reading, Thing, ThingSet
from curator.seeing import cuts
from curator.seeing.judging.reasons import about_the_line
from curator.seeing.net import outlines
from curator.seeing.net.runtime import Sight

Array = NDArray[np.float64]
Rims = list[
    list[Array]
]  # of each thing, in each look, the corners (n, 2) of the tightest shape without a dent about it

MOST = 3  # readings: those that are shown first
CLEAR = 1.5  # half widths of a box across the line: a line that keeps so far from all things is not looked into
NEAR = 2.5  # likewise: of a thing that is farther away its box tells enough
LARGE = 0.2  # of the longer side: things as large as that are seen best in the smaller pictures
AGREE = 0.25  # of a thing: with two looks farther apart about how far it reaches, its box tells
LIKE = 1.7  # times as large, or as small, as its box: an outline is that of something else, its part or what it lies in
CROSSED = 0.04  # of a thing, across the line: no deeper does a line run in it that clears it
BETTER = 0.05  # of a thing: a line that runs less deep by no more is no reason to draw another
THROUGH = 0.2  # of a thing: a line that runs deeper is seen to run through it
ROUND = np.stack([np.sin(np.radians(np.arange(0, 360, 15))), np.cos(np.radians(np.arange(0, 360, 15)))], axis=1)


class Reach(NamedTuple):
    """How far each thing of the two halves reaches along some directions, in pixels, (n, m) each."""

    low: tuple[Array, Array]
    high: tuple[Array, Array]
    seen: tuple[NDArray[np.bool_], NDArray[np.bool_]]  # (n,) whether by its outline


def redrawn(readings: tuple[Reading, ...], sights: Sequence[Sight]) -> tuple[Reading, ...]:
    """The readings, in the picture's pixels, the lines of the first ones laid between outlines; all else is as it was,
    but what is said of the line.
    """
    if not sights or not outlines.available(sights[-1]):
        return readings
    return tuple(_redrawn(r, r.halves, sights) if r.halves and n < MOST else r for n, r in enumerate(readings))


def _redrawn(reading: Reading, split: Halves, sights: Sequence[Sight]) -> Reading:
    line, depth = between(reading.things, split, sights)
    said = reading.reasons if depth is None else about_the_line(reading.reasons, through=depth > THROUGH)
    return dataclasses.replace(reading, halves=dataclasses.replace(split, line=line), reasons=said)


def between(things: ThingSet, split: Halves, sights: Sequence[Sight]) -> tuple[Array, float | None]:
    """The line to draw, two ends (2, 2), and how deep it runs in the outline that is worst off, of what that measures
    across the line; 0 or less where it clears all, None where no outline near it is known.
    """
    groups = (list(split.one), list(split.other))
    p, q = (things.centers[own] for own in groups)
    normals, rows = cuts.ways(p, q, split.line, cuts.spacing(things.centers))
    step = q.mean(axis=0) - p.mean(axis=0)
    normals = np.where((normals @ step < 0)[:, None], -normals, normals)
    known, size = len(cuts.NORMALS), median(things.widths.tolist())
    away = _away(things, split, normals[known])
    if min(away[i] for own in groups for i in own) >= CLEAR:
        return split.line, None
    rims = rims_of(things, _looks(sights, size / max(things.size)), away <= NEAR)
    reach = _reach(rims, groups, normals)
    now = _deepest(reach, known, float(split.line[0] @ normals[known]))
    room, at = _room(p, q, reach, normals)
    chosen = cuts.straightest(normals, room, rows=rows, few=len(p) < 3, size=size)
    if now is None or now <= CROSSED or chosen is None:
        return split.line, now
    then = _deepest(reach, chosen, float(at[chosen]))
    if then is None or now - then <= BETTER:
        return split.line, now
    return _drawn(rims, normals[chosen], float(at[chosen]), things.size), then


def _looks(sights: Sequence[Sight], wide: float) -> Sequence[Sight]:
    """The two sizes of the picture at which things of that width, of the longer side, are seen best."""
    return sights[:2] if wide >= LARGE else sights[-2:]


def _away(things: ThingSet, split: Halves, normal: Array) -> Array:
    """(n,) how far the line lies from each thing's middle, in half widths of its box."""
    half = np.sqrt(((things.boxes[:, 2:] - things.boxes[:, :2]) ** 2) @ normal**2) / 2
    return np.asarray(np.abs((things.centers - split.line[0]) @ normal) / half)


def rims_of(things: ThingSet, looks: Sequence[Sight], asked: NDArray[np.bool_] | None = None) -> Rims:
    """Each thing as each look sees it; where looks do not agree, or with its box, and where it is not `asked`, the
    ellipse in its box.
    """
    chosen = np.flatnonzero(asked) if asked is not None else np.arange(len(things))
    seen = [outlines.hulls(look, things.centers[chosen]) for look in looks]
    rims = [[thing.center + _half(thing) * ROUND] for thing in things.things]
    for i, *one in zip(chosen.tolist(), *seen, strict=True):
        if _agreed(one, things.things[i]):
            rims[i] = one
    return rims


def _half(thing: Thing) -> Array:
    """Half height and half width of its box."""
    return np.array([thing.box.height, thing.box.width]) / 2


def _agreed(one: list[Array], thing: Thing) -> bool:
    """Whether the looks agree about a thing, and about as large as its box."""
    if not all(len(rim) for rim in one):
        return False
    far = np.array([(rim @ ROUND.T).max(axis=0) for rim in one])
    wide = far[:, : len(ROUND) // 2] + far[:, len(ROUND) // 2 :]
    large = np.sqrt(np.prod([np.ptp(rim, axis=0) for rim in one], axis=1).mean() / np.prod(2 * _half(thing)))
    return bool(np.median(np.ptp(far, axis=0)) <= AGREE * wide.mean() and 1 / LIKE <= large <= LIKE)


def _reach(rims: Rims, groups: tuple[list[int], list[int]], normals: Array) -> Reach:
    ways = normals.T
    along = [[rim @ ways for rim in rims[i]] for own in groups for i in own]
    low = np.array([np.mean([rim.min(axis=0) for rim in one], axis=0) for one in along])
    high = np.array([np.mean([rim.max(axis=0) for rim in one], axis=0) for one in along])
    n, seen = len(groups[0]), np.array([len(rims[i]) > 1 for own in groups for i in own])
    return Reach((low[:n], low[n:]), (high[:n], high[n:]), (seen[:n], seen[n:]))


def _room(p: Array, q: Array, reach: Reach, normals: Array) -> tuple[Array, Array]:
    """Room between the outlines along each normal, less than 0 where they overlap, minus infinity where the middles of
    things do; and where its middle lies along that normal.
    """
    near, far = reach.high[0].max(axis=0), reach.low[1].min(axis=0)
    first, last = (p @ normals.T).max(axis=0), (q @ normals.T).min(axis=0)
    middle = np.minimum(np.maximum((near + far) / 2, first), last)
    return np.where(last > first, far - near, -np.inf), middle


def _deepest(reach: Reach, way: int, at: float) -> float | None:
    """How deep the line at that place along a normal runs in the outline that is worst off, of its width across it."""
    into = (reach.high[0][:, way] - at, at - reach.low[1][:, way])
    deep = [
        own[seen] / np.maximum(high[seen, way] - low[seen, way], 1e-6)
        for own, low, high, seen in zip(into, *reach, strict=True)
    ]
    return max((float(share.max()) for share in deep if len(share)), default=None)


def _drawn(rims: Rims, normal: Array, at: float, size: tuple[int, int]) -> Array:
    """The line as long as the things reach along it, and no longer than the picture."""
    along = np.array([-normal[1], normal[0]])
    reach = np.concatenate([rim @ along for one in rims for rim in one])
    ends = at * normal + np.array([[reach.min()], [reach.max()]]) * along
    start, way, low, high = ends[0], ends[1] - ends[0], 0.0, 1.0
    for axis in (0, 1):
        if abs(way[axis]) > 1e-9:
            edges = sorted((-start[axis] / way[axis], (size[axis] - start[axis]) / way[axis]))
            low, high = max(low, edges[0]), min(high, edges[1])
    return np.stack([start + low * way, start + high * way]) if low < high else ends

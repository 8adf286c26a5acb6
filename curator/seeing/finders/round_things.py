"""Circles of one size as candidate sets: large ones for `blobs`, small ones for `marks`."""

from __future__ import annotations

import dataclasses
from statistics import median

import numpy as np

from curator.clues import Clues
from curator.records import Box, Thing, ThingSet
from curator.seeing.primitives import circles, lattice
from curator.seeing.view import View

SMALL = 0.085  # of the longer side: round things less wide are marks


def circle_sets(view: View, found_by: str, *, large: bool) -> list[ThingSet]:
    """Circles of one size as sets, large ones or small ones; and with what a second look finds in a grid's gaps."""
    back, size = view.back, view.size
    cut = SMALL * max(view.small.shape)
    fitting = [c for c in view.circles if (2 * median(c.radii.tolist()) >= cut) == large][:4]
    found = []
    for c in fitting:
        grid = lattice.fit(c.centers)
        plain = circles_as_set(c, back, size, found_by)
        found.append(plain)
        again = None if grid is None else second_look(c, grid)
        if again is not None:
            more = circles_as_set(again, back, size, found_by, second=True)
            found.append(dataclasses.replace(more, support=0.9 * plain.support))
    return found


def second_look(c: circles.Circles, grid: lattice.Lattice) -> circles.Circles | None:
    """The circles with the weaker ones that lie where the grid has a gap; None unless every gap has one."""
    if not 1 <= len(grid.gaps) <= max(1, len(c.radii) // 3) or not grid.good.all() or not len(c.weak):
        return None
    apart = np.hypot(*(grid.gaps[:, None] - c.weak[None, :, :2]).transpose(2, 0, 1))
    near = apart.argmin(axis=1)
    if apart.min(axis=1).max() > 0.3 * grid.step or len(set(near.tolist())) < len(near):
        return None
    added = c.weak[near]
    return dataclasses.replace(
        c,
        centers=np.vstack([c.centers, added[:, :2]]),
        radii=np.append(c.radii, added[:, 2]),
        strength=np.append(c.strength, added[:, 3]),
    )


def circles_as_set(
    c: circles.Circles, back: float, size: tuple[int, int], found_by: str, *, second: bool = False
) -> ThingSet:
    """Circles as a set of things: their discs, cut by the picture's edge."""
    even = float(np.exp(-1.5 * c.radii.std() / c.radii.mean()))
    things = tuple(
        disc(r * back, k * back, radius * back, size, even) for (r, k), radius in zip(c.centers, c.radii, strict=True)
    )
    support = float(np.clip(circles.belief(c), 0, 0.95))
    return ThingSet(things, size, found_by, even, support=support, clues=Clues(second=second))


def disc(row: float, col: float, radius: float, size: tuple[int, int], alike: float) -> Thing:
    """A round thing in its box."""
    top, left = min(size[0] - 2, max(0, int(row - radius))), min(size[1] - 2, max(0, int(col - radius)))
    bottom, right = (
        min(size[0], max(top + 2, int(row + radius) + 1)),
        min(size[1], max(left + 2, int(col + radius) + 1)),
    )
    return Thing(Box(top, left, bottom, right), (float(row), float(col)), alike)

"""A simulated person who sets an answer right: one touch after the other, as on the page."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import ThingSet
from curator.seeing.corrections.ranking import thing_at
from curator.seeing.halves import spacing

Places = NDArray[np.float64]
Lines = Sequence[Places]  # the middle line (k, 2) of each where things are long: a dot anywhere along is on it


def reach_of(truth: Places, size: tuple[int, int]) -> float:
    """How far from a true place (row, col) a dot may lie and still be on it: half the usual spacing; pixels."""
    return 0.5 * min(spacing(truth), 0.3 * max(size))


def fitted(found: ThingSet, truth: Places, reach: float, lines: Lines = ()) -> tuple[list[int], list[int]]:
    """True places that no dot is on, and dots that are on none."""
    if not len(found):
        return list(range(len(truth))), []
    apart = np.array([_along(line, found.centers) for line in lines]) if lines else cdist(truth, found.centers)
    a, b = linear_sum_assignment(apart)
    good = apart[a, b] <= reach
    return sorted(set(range(len(truth))) - set(a[good])), sorted(set(range(len(found))) - set(b[good]))


def _along(line: Places, places: Places) -> Places:
    """(n,) how far each place lies from a line through its turns."""
    steps = []
    for start, end in pairwise(line):
        way = end - start
        share = np.clip((places - start) @ way / max(1e-9, float(way @ way)), 0, 1)
        steps.append(np.hypot(*(start + share[:, None] * way - places).T))
    return np.asarray(np.min(steps, axis=0), np.float64)


def errors(found: ThingSet, truth: Places, reach: float, lines: Lines = ()) -> int:
    """How many touches would set the dots right, one by one: a wrong dot may be dragged to where one is missing."""
    return max(len(part) for part in fitted(found, truth, reach, lines))


def touched(
    found: ThingSet, truth: Places, reach: float, lines: Lines = ()
) -> tuple[ThingSet, Places | None, Places | None] | None:
    """One touch: the dots after it, the place (row, col) where one is now, the place where one was; None where all is
    right.

    A missing thing gets a new dot, or a wrong one that lies nearer than the next thing is dragged there; where none
    is missing a wrong one is taken off.
    """
    missing, wrong = fitted(found, truth, reach, lines)
    if not missing and not wrong:
        return None
    place = truth[missing[0]] if missing else None
    gone = None if missing else wrong[0]
    if place is not None and wrong:
        away = np.hypot(*(found.centers[wrong] - place).T)
        gone = wrong[int(away.argmin())] if away.min() <= spacing(truth) else None
    kept = [t for i, t in enumerate(found.things) if i != gone]
    added = (
        [] if place is None else [thing_at(place, float(np.median(found.widths)) if len(found) else 20.0, found.size)]
    )
    return dataclasses.replace(found, things=(*kept, *added)), place, None if gone is None else found.centers[gone]

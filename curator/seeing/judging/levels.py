"""Wholes and their parts among one photo's candidate sets: shoes and their openings, dice and their pips."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

import numpy as np
from scipy.spatial.distance import cdist

from curator.records import ThingSet

FEWEST, MOST = 2, 6  # wholes: more are seldom large enough to show parts
REACH = 0.8  # of the step between wholes: a part lies at most as far from its whole
FAR = REACH + 1e-6  # beyond that, however it is rounded
ASIDE = 0.3  # of that step: the middle of a whole's parts lies at most as far from its centre


class Nest(NamedTuple):
    """The best supported set of the other level: wholes that hold these things, or parts that lie in them."""

    support: float = 0.0  # of that set, 0 where there is none
    even: float = 0.0  # 1: as many parts in every whole
    per: float = 0.0  # parts a whole
    ratio: float = 0.0  # a part's side over a whole's
    heat: float = 0.0  # heat under that set, in the map of what is meant
    alike: float = 0.0  # how likely two of that set's things are of one kind


class Nests(NamedTuple):
    """Of one candidate set: what holds its things, and what lies in them."""

    within: Nest = Nest()
    holds: Nest = Nest()


def of(every: Sequence[ThingSet]) -> list[Nests]:
    """The other levels of every candidate set of a photo."""
    within, holds = [Nest()] * len(every), [Nest()] * len(every)
    for i in sorted(range(len(every)), key=lambda i: every[i].support):
        if FEWEST <= len(every[i]) <= MOST:
            for j, parts in enumerate(every):
                even = parted(every[i], parts)
                if even is not None:
                    ratio = median(parts.widths.tolist()) / median(every[i].widths.tolist())
                    per = len(parts) / len(every[i])
                    within[j] = _nest(every[i], even, per, ratio)  # the better supported come later
                    if parts.support > holds[i].support:
                        holds[i] = _nest(parts, even, per, ratio)
    return [Nests(*pair) for pair in zip(within, holds, strict=True)]


def parted(wholes: ThingSet, parts: ThingSet) -> bool | None:
    """Whether as many parts belong to every whole; None where they are no parts of these.

    Boxes of wholes are rough, so places alone tell: two parts or more lie about the centre of each whole, nearer to it
    than most of the way to the next whole, and their middle is its centre, about.
    """
    n = len(wholes)
    if len(parts) < 2 * n:
        return None
    step = float(wholes.steps.min())
    if min(math.dist(parts.things[0].center, t.center) for t in wholes.things) > FAR * step:
        return None  # most sets lie elsewhere: their first thing tells
    apart = cdist(parts.centers, wholes.centers)
    own = apart.argmin(1)
    counts = np.bincount(own, minlength=n)
    if counts.min() < 2 or apart.min(1).max() > REACH * step:
        return None
    middles = np.array([parts.centers[own == k].mean(0) for k in range(n)])
    if np.linalg.norm(middles - wholes.centers, axis=1).max() > ASIDE * step:
        return None
    return bool(np.ptp(counts) == 0)


def _nest(other: ThingSet, even: bool, per: float, ratio: float) -> Nest:
    seen = other.clues.seen
    heat, alike = (0.0, 1.0) if seen is None else (seen.heat.main, seen.kinds.between)
    return Nest(other.support, float(even), per, ratio, heat, alike)

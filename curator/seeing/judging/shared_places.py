"""Places that the candidate sets of one photo share: what the other sets have of each thing of a set, and beside it.

One finder leaves out what another sees, and counts twice what another sees once: a place that many well supported sets
have is a thing, one that no other has is hardly one.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from curator.records import ThingSet

Values = NDArray[np.float64]

NEAR = 0.4  # of the smaller one's side: two things no farther apart are one place,
AS_LARGE = 0.6  # where their sides differ by less (of the logarithm)
APART = 0.6  # of the set's usual side: what is nearer to a thing of the set is no place beside it


class Places(NamedTuple):
    """What the other sets of a photo have of one set's things and beside them, each a share of the others' support."""

    had: float = 0.0  # the mean over its things
    had_least: float = 0.0  # the thing that the others have least
    beside: float = 0.0  # the place of its size that they have most and it has not
    beside_all: float = 0.0  # the sum over such places, as many as it has things, a thing


def of(every: Sequence[ThingSet]) -> list[Places]:
    """What the other sets of a photo have of every candidate set; no set is empty."""
    if not every:
        return []
    centers, counts = np.concatenate([s.centers for s in every]), [len(s) for s in every]
    boxes = np.concatenate([s.boxes for s in every])
    sides = np.sqrt((boxes[:, 2:] - boxes[:, :2]).prod(1).astype(np.float64))
    place, first = _places(centers, sides)
    held = np.zeros((len(every), len(first)), bool)
    held[np.repeat(np.arange(len(every)), counts), place] = True
    support = np.array([s.support for s in every])
    together, at, size = support @ held, centers[first], sides[first]
    return [
        _one(s, held[i], (together - support[i] * held[i]) / max(1e-6, support.sum() - support[i]), at, size)
        for i, s in enumerate(every)
    ]


def _places(centers: Values, sides: Values) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Which place each of n things is, and a thing of each place; the place with the most things about it first."""
    near = cdist(centers, centers) < NEAR * np.minimum(sides[:, None], sides[None])
    near &= np.abs(np.log(sides[:, None] / sides[None])) < AS_LARGE
    place, first = np.full(len(centers), -1), list[int]()
    for i in np.argsort(-near.sum(1), kind="stable").tolist():
        if place[i] < 0:
            place[near[i] & (place < 0)] = len(first)
            first.append(i)
    return place, np.array(first)


def _one(things: ThingSet, own: NDArray[np.bool_], share: Values, at: Values, size: Values) -> Places:
    usual = median(size[own].tolist())
    others = ~own & (np.abs(np.log(size / usual)) < AS_LARGE)
    if others.any():
        others[others] = cdist(at[others], things.centers).min(1) > APART * usual
    beside = np.sort(share[others])[::-1][: len(things)]
    most, total = float(beside.max(initial=0.0)), float(beside.sum()) / len(things)
    return Places(float(share[own].mean()), float(share[own].min()), most, total)

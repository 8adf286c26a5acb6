"""Places where the net sees a thing at any size of the picture, one place a thing; shared by the finders (not a
finder).

Near things are clear in a small picture and far ones in a large one, so that no single size may show them all.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.seeing.net import runtime
from curator.seeing.net.runtime import Peaks, Sight

NEAR = 0.4  # of the smaller one's size: two peaks no further apart are one thing
AS_LARGE = 0.7  # logarithm of the ratio of two peaks' sizes, for one thing
Values = NDArray[np.float64]


class Joined(NamedTuple):
    """Things seen at any size, by how clear they are at all sizes together, the clearest first."""

    peaks: Peaks  # each as it is where it is clearest; scores are the mean over the sizes
    heat: Values  # (n, sizes) how clear each is at every size, 0 where it is not seen
    wide: Values  # (n,) square root of the area


def joined(sights: Sequence[Sight]) -> Joined:
    """The peaks of the main map at all sizes, those of one thing as one."""
    every, size_of = runtime.together([runtime.peaks(s, "main", least=runtime.FAINT) for s in sights])
    wide = np.sqrt(every.extents.prod(1))
    groups = _grouped(every, wide)
    heat = np.array(
        [[every.scores[own][size_of[own] == k].max(initial=0.0) for k in range(len(sights))] for own in groups]
    ).reshape(-1, len(sights))
    order = np.argsort(-heat.mean(1), kind="stable")
    clearest = np.array([own[0] for own in groups], dtype=np.intp)[order]
    return Joined(dataclasses.replace(every.taken(clearest), scores=heat.mean(1)[order]), heat[order], wide[clearest])


def _grouped(every: Peaks, wide: Values) -> list[NDArray[np.intp]]:
    """Indices of the peaks of each thing, the clearest peak first."""
    apart = np.linalg.norm(every.centers[:, None] - every.centers[None], axis=2)
    one = (apart < NEAR * np.minimum(wide[:, None], wide[None])) & (
        np.abs(np.log(wide[:, None] / wide[None])) < AS_LARGE
    )
    free, groups = np.ones(len(every), bool), []
    for i in np.argsort(-every.scores, kind="stable"):
        if free[i]:
            own = np.nonzero(one[i] & free)[0]
            groups.append(own[np.argsort(-every.scores[own], kind="stable")])
            free[own] = False
    return groups

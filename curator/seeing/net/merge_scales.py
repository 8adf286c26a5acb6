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

from curator.seeing.net import one_thing, runtime
from curator.seeing.net.runtime import Peaks, Sight

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
    odds = np.zeros((len(every),) * 2)
    for k, sight in enumerate(sights):
        odds[size_of == k] = runtime.odds_inside(sight, every.centers)[size_of == k]
    groups = one_thing.groups(odds, every.scores)
    heat = np.array(
        [[every.scores[own][size_of[own] == k].max(initial=0.0) for k in range(len(sights))] for own in groups]
    ).reshape(-1, len(sights))
    order = np.argsort(-heat.mean(1), kind="stable")
    clearest = np.array([own[0] for own in groups], dtype=np.intp)[order]
    return Joined(dataclasses.replace(every.taken(clearest), scores=heat.mean(1)[order]), heat[order], wide[clearest])

"""Sets that have all things of another and a few more."""

from __future__ import annotations

import numpy as np

from curator.records import ThingSet
from curator.seeing import set_matching
from curator.seeing.judging.features import Measured
from curator.seeing.judging.models import Belief

MORE = 2  # things that a larger set may have more
HARDLY = 0.01  # of the belief in a set: larger ones that are believed less are not looked at


def more_at_edge(i: int, every: list[Measured], believed: list[Belief]) -> float:
    """What is believed of the likeliest set that has all things of set i and one or two more, all of which the photo's
    edge cuts, of the belief in set i; 0 where there is none, or HARDLY any belief in it.
    """
    own = every[i].things
    share = {
        j: believed[j].own / max(1e-9, believed[i].own)
        for j, one in enumerate(every)
        if 0 < len(one.things) - len(own) <= MORE
    }
    worth = sorted((j for j in share if share[j] >= HARDLY), key=lambda j: -share[j])
    return next((share[j] for j in worth if _all_cut(every[j].things, own)), 0.0)


def _all_cut(larger: ThingSet, own: ThingSet) -> bool:
    """Whether the larger set has all things of the other, and the edge cuts what else it has."""
    shared, mine = set_matching.partners(larger, own)
    if len(mine) < len(own):
        return False
    more = np.setdiff1d(np.arange(len(larger)), shared)
    return bool(set_matching.touching(larger)[more].any(1).all())

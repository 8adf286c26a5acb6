"""One photo's candidate sets, each with its halves and with what the judge's models weigh of it."""

from __future__ import annotations

from typing import NamedTuple

from curator.records import LARGEST_HALF, Halves, ThingSet
from curator.seeing import halves, set_matching
from curator.seeing.judging import feature_table, levels, shared_places
from curator.seeing.judging.feature_table import set_features
from curator.seeing.judging.models import Features

MOST_THINGS = 64


class Measured(NamedTuple):
    """One candidate set with its halves, best first, and what COUNT weighs."""

    things: ThingSet
    fitted: tuple[Halves, ...]
    features: Features


def halved(one: Measured) -> bool:
    """Whether the set lies in two halves of a fact that is taught."""
    return bool(one.fitted) and len(one.things) <= 2 * LARGEST_HALF


def weighed(every: list[Measured]) -> tuple[list[Features], list[int]]:
    """What COUNT weighs of each set, and its number."""
    return [one.features for one in every], [len(one.things) for one in every]


def measured(candidates: list[ThingSet]) -> list[Measured]:
    """The distinct sets among one photo's candidates that could be counted, each measured."""
    return with_halves(without_halves(candidates))


def without_halves(candidates: list[ThingSet]) -> list[Measured]:
    """The same sets before halves are fitted, which takes as long as all else: what is weighed of halves is 0."""
    every = distinct([s for s in candidates if 1 <= len(s) <= MOST_THINGS])
    return [
        Measured(t, (), set_features(t, every, nests, places))
        for t, nests, places in zip(every, levels.of(every), shared_places.of(every), strict=True)
    ]


def with_halves(every: list[Measured]) -> list[Measured]:
    """The sets with their halves."""
    splits = halves.fit_every([one.things for one in every], most=3)
    return [
        Measured(t, fitted, feature_table.with_halves(base, t, fitted[0] if fitted else None))
        for (t, _, base), fitted in zip(every, splits, strict=True)
    ]


def distinct(candidates: list[ThingSet]) -> list[ThingSet]:
    """One of each: of sets of one finder that hold the same things the best supported stays."""
    kept: list[ThingSet] = []
    for things in sorted(candidates, key=lambda s: -s.support):
        if not any(k.found_by == things.found_by and set_matching.same_set(k, things) for k in kept):
            kept.append(things)
    return kept

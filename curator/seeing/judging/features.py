"""One photo's candidate sets, each with its halves and with what the judge's models weigh of it."""

from __future__ import annotations

from typing import NamedTuple

from curator.records import LARGEST_HALF, Halves, ThingSet
from curator.seeing import halves, set_matching
from curator.seeing.judging import levels, shared_places
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
    every = distinct([s for s in candidates if 1 <= len(s) <= MOST_THINGS])
    splits = halves.fit_every(every, most=3)
    return [
        Measured(t, fitted, set_features(t, every, fitted[0] if fitted else None, nests, places))
        for t, fitted, nests, places in zip(every, splits, levels.of(every), shared_places.of(every), strict=True)
    ]


def distinct(candidates: list[ThingSet]) -> list[ThingSet]:
    """One of each: of sets of one finder that hold the same things the best supported stays."""
    kept: list[ThingSet] = []
    for things in sorted(candidates, key=lambda s: -s.support):
        if not any(k.found_by == things.found_by and set_matching.same_set(k, things) for k in kept):
            kept.append(things)
    return kept

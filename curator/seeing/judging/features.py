"""What the judge's models weigh: named measurements of a set, and of a reading with two halves."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import LARGEST_HALF, Halves, ThingSet
from curator.seeing import halves, set_matching
from curator.seeing.features import pixel_evidence
from curator.seeing.judging.models import Belief, Features

Pixels = NDArray[np.uint8]

MOST_THINGS = 64
PARTS = 0.5  # support of what was found in each thing: with more it may be what is meant, as the pips of two dice
MOST_WITH_PARTS = 6  # more things than that are seldom large enough to show theirs


def set_features(things: ThingSet, every: list[ThingSet], split: Halves | None) -> Features:
    """Named measurements of a set, about 0 to 1 each: what COUNT weighs."""
    n = len(things)
    others = [s for s in every if s is not things and s.found_by != things.found_by]
    witness = any(set_matching.mostly_same(things, s, 0.85) for s in others)
    rival = max((s.support for s in every if len(s) != n), default=0.0)
    boxes = np.array([t.box for t in things.things], dtype=np.float64)
    area = things.size[0] * things.size[1]
    covered = float(((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])).sum()) / area
    sizes = np.sqrt((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1]))
    reach = (boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)) / np.array(things.size)
    return {
        "support": things.support,
        "alike": things.alike,
        "witness": float(witness),
        "agree": float(any(len(s) == n for s in others)),
        "lead": things.support - rival,
        "covered": min(1.0, covered),
        "reach": float(reach.max()),
        "even_size": float(np.exp(-2 * sizes.std() / sizes.mean())),
        "many": math.log(max(1, n)) / math.log(24),
        "lots": float(n > 24),
        "two": float(n == 2),
        "one": float(n == 1),
        "odd": float(n % 2),
        "edge": set_matching.cut_by_edge(things) / n,
        "pairs": 0.0 if split is None else 1 - split.chance,
        "loose": 0.0 if split is None else min(1.0, split.gap),
        "row": float(halves.plain_row(things.centers)),
        "stable": things.clues.get("stable", 0.0),
        "touching": things.clues.get("touching", 0.0),
        "size": math.log(max(1.0, float(np.median(sizes)) / (0.02 * max(things.size)))) / 3,
        "votes": things.clues.get("votes", 0.0),
        "parts": parts_found(things, every) if 2 <= n <= MOST_WITH_PARTS else 0.0,
        **{f"by_{name}": float(things.found_by == name) for name in ("blobs", "cells", "marks", "limbs", "learned")},
        **{key: value for key, value in things.clues.items() if key.startswith(("net_", "seen_"))},
    }


def parts_found(things: ThingSet, every: list[ThingSet]) -> float:
    """Support of the best set that lies in these things, several in each: pips on two dice. 0 where none has much."""
    return max((s.support for s in every if s.support > PARTS / 2 and parts_of(things, s)), default=0.0)


def parts_of(wholes: ThingSet, parts: ThingSet) -> bool:
    n = len(wholes)
    return len(parts) >= 2 * n and set_matching.holding(wholes, parts) == (1.0, n)


class Measured(NamedTuple):
    """One candidate set with its halves, best first, and what COUNT weighs."""

    things: ThingSet
    fitted: tuple[Halves, ...]
    features: Features


def halved(one: Measured) -> bool:
    """Whether the set lies in two halves of a fact that is taught."""
    return bool(one.fitted) and len(one.things) <= 2 * LARGEST_HALF


def measured(candidates: list[ThingSet]) -> list[Measured]:
    """The distinct sets among one photo's candidates that could be counted, each measured."""
    every = distinct([s for s in candidates if 1 <= len(s) <= MOST_THINGS])
    splits = [halves.fit(things, most=3) for things in every]
    return [
        Measured(t, fitted, set_features(t, every, fitted[0] if fitted else None))
        for t, fitted in zip(every, splits, strict=True)
    ]


def looks(pixels: Pixels, things: ThingSet) -> Features:
    """What pixels and places say of a set whatever its halves: what FACT weighs of it beside `set_features`."""
    cut_next, whole_next = pixel_evidence.goes_on(pixels, things)
    return {
        "kin": things.clues.get("kin", 1.0),
        "oddest": min(1.0, pixel_evidence.oddest(pixels, things) / 4),
        "cut": pixel_evidence.cut_off(things),
        "beyond": cut_next,
        "next": whole_next,
        "gap": float(pixel_evidence.one_gap(things)),
        "second": things.clues.get("second", 0.0),
    }


def fact_features(
    base: Features, looks: Features, belief: Belief, split: Halves, pixels: Pixels, things: ThingSet
) -> Features:
    """Named measurements of a reading with two halves: what FACT weighs; `base` and `looks` are those of its set."""
    return {
        **looks,
        "belief": belief.own,
        "number": belief.number,
        "ahead": belief.ahead,
        "witness": base["witness"],
        "agree": base["agree"],
        "lead": base["lead"],
        "edge": base["edge"],
        "alike": base["alike"],
        "clears": pixel_evidence.line_clears(things, split),
        "loose": min(1.0, split.gap),
        "row": base["row"],
        "chance": -math.log10(max(split.chance, 1e-6)) / 6,
        "weak": float(split.chance > 0.3),
        "two": base["two"],
        "parts": base["parts"],
        "many": base["many"],
        "partners": pixel_evidence.partners_alike(pixels, things, split),
        "mirror": pixel_evidence.mirror_on_pixels(pixels, split, things),
        "apart": min(1.0, split.apart / 3),
        "size": base["size"],
        **{f"kind_{kind}": float(split.kind == kind) for kind in ("flip", "slide", "turn", "split")},
        **{key: value for key, value in base.items() if key.startswith(("net_", "seen_"))},
        **{key: value for key, value in things.clues.items() if key.startswith("besides_")},
    }


def distinct(candidates: list[ThingSet]) -> list[ThingSet]:
    """One of each: of sets of one finder that hold the same things the best supported stays."""
    kept: list[ThingSet] = []
    for things in sorted(candidates, key=lambda s: -s.support):
        if not any(k.found_by == things.found_by and set_matching.same_set(k, things) for k in kept):
            kept.append(things)
    return kept

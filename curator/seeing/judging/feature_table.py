"""The judge's features, one row each: name, group, what it means, the value itself, and its range.

`OF_A_SET` is measured of every candidate set and weighed by COUNT. `OF_LOOKS` (what the pixels say of a set) and
`OF_HALVES` (of a set with two halves) are weighed by FACT: what COUNT has weighed comes to it as a belief, and weighed
twice it made fewer answers sure. But the groups of TWICE, which tell of what is left out and of hands, are weighed by
both. A group is the source of its values; the ablation in `.docs/experiments.md` leaves out one group at a time.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from curator.records import Halves, ThingSet
from curator.seeing.features import pixel_evidence
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.judging import feature_values as values
from curator.seeing.judging.feature_values import Candidate, Pictured, Shown
from curator.seeing.judging.levels import Nest, Nests
from curator.seeing.judging.models import Features
from curator.seeing.judging.shared_places import Places

NONE, ALONE = Nests(), Places()


class Feature(NamedTuple):
    """One measurement that the models weigh."""

    name: str
    group: str
    means: str
    of: Callable[[Any], float]
    span: tuple[float, float] = (0, 1)


def set_features(things: ThingSet, every: Sequence[ThingSet], nests: Nests = NONE, places: Places = ALONE) -> Features:
    """What COUNT weighs of one of `every` set of a photo, as long as no halves of it are known."""
    one = Candidate.of(things, every, None, nests, places)
    return {row.name: row.of(one) for row in OF_A_SET}


def with_halves(base: Features, things: ThingSet, split: Halves | None) -> Features:
    """The `set_features` of a set once its best halves are known."""
    one = Candidate.of(things, (), split, NONE, ALONE)
    return base | {row.name: row.of(one) for row in OF_A_SET if row.group == "halves"}


def looks(picture: Picture, things: ThingSet) -> Features:
    """What pixels and places say of a set whatever its halves."""
    one = Pictured(picture, things, pixel_evidence.goes_on(picture, things))
    return {row.name: row.of(one) for row in OF_LOOKS}


def fact_features(base: Features, seen: Features, shown: Shown) -> Features:
    """What FACT and the reasons go by; `base` is what COUNT weighs of its set, `seen` its `looks`."""
    return {**base, **seen, **{row.name: row.of(shown) for row in OF_HALVES}}


def _left_out(level: str, prefix: str) -> list[Feature]:
    """Nine rows: the clearest thing that one map of the net shows beside the set."""
    kinds = {"any": "of any size", "sized": "of the set's own size", "like": "of its size and looks"}
    spreads = {"most": "the most", "mid": "the median", "least": "the least"}

    def row(kind: str, spread: str) -> Feature:
        means = f"heat of the clearest peak left out {kinds[kind]}, {spreads[spread]} over the sizes of the picture"
        of = lambda c: float(getattr(getattr(getattr(c.seen, level), kind), spread))  # noqa: E731
        return Feature(f"{prefix}_{kind}_{spread}", f"left out, {level} map", means, of)

    return [row(kind, spread) for kind in kinds for spread in spreads]


def _nest(name: str) -> list[Feature]:
    """Six rows: the best supported set of the other level, and what tells fragments from parts that people count."""
    what = {"within": "wholes that hold these", "holds": "parts that lie in these"}[name]
    each: dict[str, tuple[str, Callable[[Nest], float]]] = {
        "": ("support", lambda n: n.support),
        "_even": ("support where there are as many in each", lambda n: n.support * n.even),
        "_few": ("support where there are two or three in each", lambda n: n.support * (n.per < 3)),
        "_large": ("support times a part's side over a whole's", lambda n: n.support * n.ratio),
        "_heat": ("heat under them, what is meant", lambda n: n.heat),
        "_unlike": ("support times how unlike they are", lambda n: n.support * (1 - n.alike)),
    }

    def row(end: str, means: str, of: Callable[[Nest], float]) -> Feature:
        return Feature(f"{name}{end}", "level", f"{what}: {means}", lambda c: of(getattr(c.nests, name)))

    return [row(end, *one) for end, one in each.items()]


def _found_by(name: str) -> Feature:
    return Feature(f"by_{name}", "finder", f"found by {name}", lambda c: float(c.things.found_by == name))


def _kind(name: str) -> Feature:
    return Feature(f"kind_{name}", "halves", f"the halves are a {name}", lambda s: float(s.split.kind == name))


TWICE = frozenset(("places", "number", "kinds", "hands", "left out, main map"))
OF_A_SET: tuple[Feature, ...] = (
    Feature("support", "finder", "the finder's own belief", lambda c: c.things.support),
    Feature("alike", "finder", "how alike it takes the things to be", lambda c: c.things.alike),
    Feature("stable", "finder", "how long they keep their shape", lambda c: c.things.clues.stable or 0.0),
    Feature("votes", "finder", "limbs: share of the openings", lambda c: c.things.clues.votes or 0.0),
    *(_found_by(name) for name in ("blobs", "cells", "marks", "limbs", "learned", "hands")),
    Feature("witness", "other sets", "another finder has mostly the same things", values.witness),
    Feature("agree", "other sets", "another finder has as many", values.agree),
    Feature("lead", "other sets", "support over the best of other numbers", values.lead, span=(-1, 1)),
    Feature("seen_ways", "other sets", "finders that give it, of three", lambda c: c.seen.ways),
    Feature("parts", "level", "support of what lies in each of two to six things", values.parts),
    Feature("parts_many", "level", "the same, four or more in each", values.parts_many),
    *_nest("within"),
    *_nest("holds"),
    Feature("covered", "places", "share of the photo that is in their boxes", values.covered),
    Feature("reach", "places", "what they span of the photo", values.reach),
    Feature("even_size", "places", "1 where all are equally large", values.even),
    Feature("edge", "places", "share that touches the photo's edge", values.edge),
    Feature("row", "places", "one even row without a middle", values.row),
    Feature("size", "places", "usual side, 0 for a fiftieth of the photo, logarithmic", values.size, span=(0, 1.4)),
    Feature(
        "step_wide", "steps", "from thing to nearest thing, in widths, logarithmic", values.step_wide, span=(0, 1.5)
    ),
    Feature("step_least", "steps", "the shortest of these steps over the usual one", values.step_least),
    Feature("step_most", "steps", "the usual one over the longest", values.step_most),
    Feature("step_even", "steps", "1 where all are equally long", values.step_even),
    Feature("step_even_many", "steps", "the same, the more the more things", values.step_even_many, span=(0, 1.4)),
    Feature(
        "had", "shared places", "share of the other sets, by support, that have the usual thing", lambda c: c.places.had
    ),
    Feature("had_least", "shared places", "that have the thing they have least", lambda c: c.places.had_least),
    Feature(
        "had_beside", "shared places", "that have one place of its size which it has not", lambda c: c.places.beside
    ),
    Feature("had_beside_all", "shared places", "the sum over such places, a thing", lambda c: c.places.beside_all),
    Feature("kin", "kinds", "how alike the net takes them to be", lambda c: c.seen.kin, span=(-1, 1)),
    Feature("kind_least", "kinds", "how likely the odd one out is like the rest", lambda c: c.seen.kinds.least),
    Feature("kind_between", "kinds", "how likely its two groups are alike", lambda c: c.seen.kinds.between),
    Feature("kinds_apart", "kinds", "by how much likelier each group is", lambda c: c.seen.kinds.apart),
    Feature("many", "number", "1 for 24, logarithmic", lambda c: math.log(c.n) / math.log(24), span=(0, 1.4)),
    Feature("lots", "number", "more than 24", lambda c: float(c.n > 24)),
    Feature("two", "number", "two things", lambda c: float(c.n == 2)),
    Feature("one", "number", "one thing", lambda c: float(c.n == 1)),
    Feature("odd", "number", "an odd number", lambda c: float(c.n % 2)),
    Feature("pairs", "halves", "1 where the best halves are no chance", values.pairs),
    Feature("shown", "halves", "how seldom more than four things that lie about have such ones", values.shown),
    Feature("loose", "halves", "misfit of their partners, in widths", values.loose),
    Feature("net_score", "net's set", "mean heat of its peaks", lambda c: c.net.score),
    Feature("net_least", "net's set", "heat of the faintest", lambda c: c.net.least),
    Feature("net_clear", "net's set", "step down to the next peak", lambda c: c.net.clear),
    Feature("net_count", "net's set", "belief in that number, one size", lambda c: c.net.count),
    Feature("net_scale", "net's set", "belief in things of that size, one size", lambda c: c.net.scale),
    Feature("net_main", "net's set", "from the map of what is meant", lambda c: c.net.main),
    Feature("net_whole", "net's set", "from the map of wholes", lambda c: c.net.whole),
    Feature("net_part", "net's set", "from the map of parts", lambda c: c.net.part),
    Feature("net_large", "net's set", "seen at the largest size", lambda c: c.net.large),
    Feature("net_small", "net's set", "seen at the smallest size", lambda c: c.net.small),
    Feature("net_sizes", "net's set", "share of the other sizes that give it", lambda c: c.net.sizes),
    Feature("net_all", "net's set", "all sizes give it", lambda c: c.net.all),
    Feature("net_levels", "net's set", "several maps give it", lambda c: c.net.levels),
    Feature("net_joined", "net's set", "no single size shows all", lambda c: c.net.joined),
    Feature("seen_number", "net's number", "belief in the number", lambda c: c.seen.number),
    Feature("seen_number_log", "net's number", "its logarithm", values.number_log, span=(0, 1.1)),
    Feature("seen_left_out", "net's number", "heat left out, least of the sizes", lambda c: c.seen.left_out),
    Feature("seen_left_out_mid", "net's number", "heat left out, median", lambda c: c.seen.left_out_mid),
    Feature("seen_same", "net's number", "sizes with as many peaks", lambda c: c.seen.same),
    Feature("seen_near", "net's number", "sizes with as many, give or take one", lambda c: c.seen.near),
    Feature("seen_scale", "net's number", "belief in things of that size", lambda c: c.seen.scale),
    Feature("seen_main", "heat", "under the usual thing, what is meant", lambda c: c.seen.heat.main),
    Feature("seen_main_mid", "heat", "under the median thing", lambda c: c.seen.heat.main_mid),
    Feature("seen_whole", "heat", "under the usual thing, wholes", lambda c: c.seen.heat.whole),
    Feature("seen_whole_mid", "heat", "under the median thing", lambda c: c.seen.heat.whole_mid),
    Feature("seen_part", "heat", "under the usual thing, parts", lambda c: c.seen.heat.part),
    Feature("seen_part_mid", "heat", "under the median thing", lambda c: c.seen.heat.part_mid),
    Feature("seen_least", "heat", "under the faintest", lambda c: c.seen.heat.least),
    Feature("seen_faintest", "heat", "the faintest over the usual", lambda c: c.seen.heat.faintest),
    Feature("seen_below", "heat", "the faintest, six deviations", lambda c: c.seen.heat.below, span=(-1, 1)),
    Feature("seen_tips", "limbs", "share with a limb's end on them", lambda c: c.seen.tips.on),
    Feature("seen_tips_same", "limbs", "sizes with as many ends", lambda c: c.seen.tips.same),
    Feature("seen_tips_off", "limbs", "by how much the ends differ", lambda c: c.seen.tips.off),
    Feature("seen_outline", "limbs", "the silhouette has as many", lambda c: c.seen.tips.outline),
    Feature("seen_bodies", "limbs", "of two bodies", lambda c: c.seen.tips.bodies),
    Feature("hand_raised", "hands", "all raised fingers", lambda c: c.hand.raised),
    Feature("hand_clear", "hands", "all raised fingers, by how clear each is", lambda c: c.hand.raised * c.hand.clear),
    Feature("hand_large", "hands", "all raised fingers, by the hand's size", lambda c: c.hand.raised * c.hand.large),
    Feature("hand_thumbless", "hands", "without the thumbs", lambda c: c.hand.thumbless),
    Feature("hand_whole", "hands", "the hands themselves", lambda c: c.hand.whole),
    Feature("hand_number", "hands", "any set of as many as raised fingers, by how clear", values.held_up),
    *_left_out("main", "seen_besides"),
)
OF_LOOKS: tuple[Feature, ...] = (
    Feature("oddest", "kinds", "colour of the oddest, 0.25 as the next", values.oddest),
    Feature("cut", "missing", "share that the photo's edge cuts", lambda p: pixel_evidence.cut_off(p.things)),
    Feature("beyond", "missing", "looks of one more at a row's end, cut by the edge", lambda p: p.goes_on[0]),
    Feature("next", "missing", "looks of one more at a row's end, inside", lambda p: p.goes_on[1]),
    Feature("gap", "missing", "one place of the pattern is empty", lambda p: float(pixel_evidence.one_gap(p.things))),
    *_left_out("whole", "besides_whole"),
    *_left_out("part", "besides_part"),
)
OF_HALVES: tuple[Feature, ...] = (
    Feature("belief", "belief", "that it is the set meant", lambda s: s.belief.own),
    Feature("number", "belief", "in its number", lambda s: s.belief.number),
    Feature("ahead", "belief", "lead over the next number", lambda s: s.belief.ahead, span=(-1, 1)),
    Feature("alone", "belief", "in its number by the first look alone", lambda s: s.belief.alone),
    Feature("checked", "belief", "the checker says it is right", lambda s: s.belief.by_eye, span=(-1.3, 1.3)),
    Feature(
        "clears",
        "halves",
        "how far the line keeps from things",
        lambda s: pixel_evidence.line_clears(s.things, s.split),
    ),
    Feature("loose", "halves", "misfit of the partners, in widths", lambda s: min(1.0, s.split.gap)),
    Feature("chance", "halves", "1 where they are no chance, logarithmic", values.chance),
    Feature("weak", "halves", "chance above 0.3", lambda s: float(s.split.chance > 0.3)),
    Feature("apart", "halves", "gap between the groups over those within, of 3", lambda s: min(1.0, s.split.apart / 3)),
    Feature("partners", "halves", "how alike partners look", values.partners),
    Feature("mirror", "halves", "how well the whole mirrors", values.mirror),
    *(_kind(name) for name in ("flip", "slide", "turn", "split")),
)

OF_A_FACT = (*(row for row in OF_A_SET if row.group in TWICE), *OF_LOOKS, *OF_HALVES)  # what FACT weighs

"""(Things, halves) pairs -> readings with a confidence; the one place that weighs.

Two small models: which of the sets holds all and only the things a person counts (COUNT, a conditional logit over the sets
of one photo), and does a reading show the fact a person would name (FACT, logistic). Their weights were fitted by `curator/learning/calibrate.py`.
"""

from __future__ import annotations

import dataclasses
import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import LARGEST_HALF, Fact, Grade, Halves, Reading, Reason, ThingSet
from curator.seeing import evidence, halves, sets
from curator.seeing.weights import COUNT, FACT, FACT_SURE, FACT_SURE_TWO, OFFER

MOST_READINGS = 8
HARDLY = 0.01  # a count less likely than that is not worth a teacher's look, unless little else was found
DOUBLES_NEXT = 2  # other doubles offered right after the likeliest reading
MOST_THINGS = 64
FAINT = 0.5  # three of the six deviations that `seen_below` spans: the usual limit of an outlier
ON_TIPS = 0.6  # share of the things with a limb's tip on them from which they are taken for limbs
FEWEST_LIMBS = 6
ODD = 0.35  # a quarter of `evidence.oddest`: one thing 1.4 times as far from the usual colour as any other; such answers are wrong three times as often as right
GOES_ON = 0.27  # of the looks of a row's last thing: with more, what is left of its next place at the edge is taken for one more
AGAIN = 0.5  # the same of a next place that lies in the photo: right counts of labelled photos have .29 at most, four of those that lack some have .76 to 1
UNLIKE = 0.2  # product of embeddings to which training pushes two kinds apart: any two things make 1+1, only their looks say that they belong together
RELATED = 0.62  # a correlation of a quarter (0.5 is none): halves with less are not alike
BY_CHANCE = 0.003  # as many fits as good are expected among random dots: at most one of a hundred random sets has one (`tests/test_halves.py`)
LIKELY, LIKELY_TWO = 0.45, 0.6  # a number less likely than that caps the grade; two things are soon found in any photo (nine in ten right ones have .79)
PARTS = 0.5  # support of what was found in each thing: with more it may be what is meant, as the pips of two dice
MOST_WITH_PARTS = 6  # more things than that are seldom large enough to show theirs
UNSEEN = 0.1  # heat of the trained net: things with less at every level are hardly there
THROUGH = 0.5  # half widths: a line nearer than this to a thing's centre runs through it
Features = dict[str, float]
Pixels = NDArray[np.uint8]


def set_features(things: ThingSet, every: list[ThingSet], split: Halves | None) -> Features:
    """Named measurements of a set, about 0 to 1 each: what COUNT weighs."""
    n = len(things)
    others = [s for s in every if s is not things and s.found_by != things.found_by]
    witness = any(sets.mostly_same(things, s, 0.85) for s in others)
    rival = max((s.support for s in every if len(s) != n), default=0.0)
    boxes = np.array([t.box for t in things.things], dtype=np.float64)
    area = things.size[0] * things.size[1]
    covered = float(((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])).sum()) / area
    sizes = np.sqrt((boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1]))
    reach = (boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)) / np.array(things.size)
    return {
        "support": things.support, "alike": things.alike, "witness": float(witness), "agree": float(any(len(s) == n for s in others)),
        "lead": things.support - rival, "covered": min(1.0, covered), "reach": float(reach.max()), "even_size": float(np.exp(-2 * sizes.std() / sizes.mean())),
        "many": math.log(max(1, n)) / math.log(24), "lots": float(n > 24), "two": float(n == 2), "one": float(n == 1), "odd": float(n % 2),
        "edge": sets.cut_by_edge(things) / n, "pairs": 0.0 if split is None else 1 - split.chance, "loose": 0.0 if split is None else min(1.0, split.gap),
        "row": float(halves.plain_row(things.centers)), "stable": things.clues.get("stable", 0.0), "touching": things.clues.get("touching", 0.0),
        "size": math.log(max(1.0, float(np.median(sizes)) / (0.02 * max(things.size)))) / 3, "votes": things.clues.get("votes", 0.0),
        "parts": _parts_found(things, every) if 2 <= n <= MOST_WITH_PARTS else 0.0,
        **{f"by_{name}": float(things.found_by == name) for name in ("blobs", "cells", "marks", "limbs", "learned")},
        **{key: value for key, value in things.clues.items() if key.startswith(("net_", "seen_"))},
    }  # fmt: skip


def _parts_found(things: ThingSet, every: list[ThingSet]) -> float:
    """Support of the best set that lies in these things, several in each: pips on two dice. 0 where none has much."""
    return max((s.support for s in every if s.support > PARTS / 2 and _parts_of(things, s)), default=0.0)


def _parts_of(wholes: ThingSet, parts: ThingSet) -> bool:
    n = len(wholes)
    return len(parts) >= 2 * n and sets.holding(wholes, parts) == (1.0, n)


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
    return [Measured(t, fitted, set_features(t, every, fitted[0] if fitted else None)) for t, fitted in zip(every, splits, strict=True)]


@dataclasses.dataclass(frozen=True, slots=True)
class Belief:
    """How far one set is believed among the sets of its photo; they share one whole."""

    own: float  # that it is the set meant
    number: float  # that its number is: all sets of that number together
    ahead: float  # `number`, less that of the likeliest other number
    rival: int = 0  # that other number; 0 where there is none


def beliefs(measured: list[Features], numbers: list[int], count: Features = COUNT) -> list[Belief]:
    """One photo's sets weighed against each other (a conditional logit), from their features and how many each holds."""
    if not measured:
        return []
    score = np.array([weighted(f, count) for f in measured])
    own = np.exp(score - score.max())
    own /= own.sum()
    together = {n: float(own[np.array(numbers) == n].sum()) for n in set(numbers)}
    rival = {n: max((m for m in together if m != n), key=together.__getitem__, default=0) for n in together}
    return [Belief(float(o), together[n], together[n] - together.get(rival[n], 0.0), rival[n]) for o, n in zip(own, numbers, strict=True)]


def looks(pixels: Pixels, things: ThingSet) -> Features:
    """What pixels and places say of a set whatever its halves: what FACT weighs of it beside `set_features`."""
    cut_next, whole_next = evidence.goes_on(pixels, things)
    return {
        "kin": things.clues.get("kin", 1.0), "oddest": min(1.0, evidence.oddest(pixels, things) / 4), "cut": evidence.cut_off(things),
        "beyond": cut_next, "next": whole_next, "gap": float(evidence.one_gap(things)), "second": things.clues.get("second", 0.0),
    }  # fmt: skip


def fact_features(base: Features, looks: Features, belief: Belief, split: Halves, pixels: Pixels, things: ThingSet) -> Features:
    """Named measurements of a reading with two halves: what FACT weighs; `base` and `looks` are those of its set."""
    return {
        **looks,
        "belief": belief.own, "number": belief.number, "ahead": belief.ahead,
        "witness": base["witness"], "agree": base["agree"], "lead": base["lead"], "edge": base["edge"], "alike": base["alike"],
        "clears": evidence.line_clears(things, split), "loose": min(1.0, split.gap), "row": base["row"],
        "chance": -math.log10(max(split.chance, 1e-6)) / 6, "weak": float(split.chance > 0.3),
        "two": base["two"], "parts": base["parts"], "many": base["many"], "partners": evidence.partners_alike(pixels, things, split),
        "mirror": evidence.mirror_on_pixels(pixels, split, things), "apart": min(1.0, split.apart / 3), "size": base["size"],
        **{f"kind_{kind}": float(split.kind == kind) for kind in ("flip", "slide", "turn", "split")},
        **{key: value for key, value in base.items() if key.startswith(("net_", "seen_"))},
        **{key: value for key, value in things.clues.items() if key.startswith("besides_")},
    }  # fmt: skip


def weighted(features: Features, weights: Features) -> float:
    """The weighted sum; a feature without a weight counts nothing."""
    return sum(weights.get(name, 0.0) * value for name, value in features.items())


def weigh(features: Features, weights: Features) -> float:
    """Logistic of the weighted sum and the bias."""
    total = weights["bias"] + weighted(features, weights)
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))


def readings(pixels: Pixels, candidates: list[ThingSet]) -> tuple[Reading, ...]:
    """All readings of the candidate sets, best first, at least one."""
    every = measured(candidates)
    believed = beliefs([m.features for m in every], [len(m.things) for m in every])
    order = ranked(every, believed)
    likeliest = max(order, key=lambda i: believed[i].own, default=0)
    found: list[Reading] = []
    for rank, i in enumerate(_listed(order, every)):
        (things, fitted, features), belief = every[i], believed[i]
        things = _with_aside(things, every)
        if halved(every[i]):
            seen = looks(pixels, things)
            found += [_double(pixels, things, split, features, seen, belief) for split in fitted[: 2 if rank == 0 else 1]]
            if rank == 0 and i != likeliest:
                found = [_asked(reading, len(every[likeliest].things)) for reading in found]
        else:
            found.append(_no_double(things, belief.number, pixels))
    if not found:
        return (_nothing(pixels),)
    return _ordered(found)


def _asked(parts: Reading, wholes: int) -> Reading:
    """The reading of the parts of so many likelier things: never tagged without asking."""
    reason = Reason("wholes", 0.7, f"These are parts of {wholes} things, which may be what is meant.")
    others = tuple(r for r in parts.reasons if r.name != "lead")
    return dataclasses.replace(parts, grade="check" if parts.grade == "sure" else parts.grade, reasons=(reason, *others))


def _with_aside(things: ThingSet, every: list[Measured]) -> ThingSet:
    """The set with what another finder of the same things leaves out on purpose: feelers beside legs, that the net alone does not tell."""
    if things.aside:
        return things
    aside = next((m.things.aside for m in every if m.things.aside and sets.same_set(m.things, things, share=0.8)), ())
    free = tuple(t for t in aside if not sets.on(np.array([t.center]), things).any())  # what is counted here is not left out
    return dataclasses.replace(things, aside=free) if free else things


def ranked(every: list[Measured], believed: list[Belief]) -> list[int]:
    """The sets, the most believed first; but if its things have parts that can be counted, and those lie in two halves, they come before it.

    Who shows two dice means their pips.
    """
    order = sorted(range(len(every)), key=lambda i: -believed[i].own)
    if not order or every[order[0]].features["parts"] <= PARTS:
        return order
    wholes = every[order[0]].things
    parts = [i for i in order if halved(every[i]) and every[i].things.support > PARTS and _parts_of(wholes, every[i].things)]
    first = max(parts, key=lambda i: every[i].things.support, default=order[0])
    return [first, *(i for i in order if i != first)]


def _listed(order: list[int], every: list[Measured]) -> list[int]:
    """Of the sets in order of belief those to be read: the first, the likeliest of the next other counts in two halves, the rest as believed.

    Of sets that hold the same things, however they were found, the likeliest is read.
    """
    seen = {len(every[i].things) for i in order[:1]}
    doubles: list[int] = []
    for i in order[1:]:
        n = len(every[i].things)
        if n not in seen and halved(every[i]) and len(doubles) < DOUBLES_NEXT:
            seen.add(n)
            doubles.append(i)
    listed: list[int] = []
    for i in [*order[:1], *doubles, *(i for i in order[1:] if i not in doubles)]:
        if len(listed) < MOST_READINGS and not any(sets.same_set(every[i].things, every[j].things) for j in listed):
            listed.append(i)
    return listed


def _ordered(found: list[Reading]) -> tuple[Reading, ...]:
    """As judged, but after the first come the likeliest other doubles, since a double is what is looked for, and last what repeats a count;
    after the third, no count without a double that is hardly likely."""
    first, rest = found[0], found[1:]
    seen = {len(first.things)}
    ahead: list[Reading] = []
    behind: list[Reading] = []
    for reading in rest:
        (behind if len(reading.things) in seen else ahead).append(reading)
        seen.add(len(reading.things))
    doubles = [reading for reading in ahead if reading.fact][:DOUBLES_NEXT]
    ahead = [reading for reading in ahead if reading not in doubles]
    listed = [first, *doubles, *ahead, *behind][:MOST_READINGS]
    shown = 1 + DOUBLES_NEXT
    return (*listed[:shown], *(r for r in listed[shown:] if r.fact or r.confidence >= HARDLY))


def distinct(candidates: list[ThingSet]) -> list[ThingSet]:
    """One of each: of sets of one finder that hold the same things the best supported stays."""
    kept: list[ThingSet] = []
    for things in sorted(candidates, key=lambda s: -s.support):
        if not any(k.found_by == things.found_by and sets.same_set(k, things) for k in kept):
            kept.append(things)
    return kept


def _nothing(pixels: Pixels) -> Reading:
    empty = ThingSet((), (pixels.shape[0], pixels.shape[1]), "none", support=0.0)
    return Reading(empty, None, None, "no", 0.0, (Reason("nothing", 1.0, "Nothing in this photo was seen to repeat."),))


def _no_double(things: ThingSet, belief: float, pixels: Pixels | None = None) -> Reading:
    """A count without a double, and why; of an odd number seen in `pixels` also where one more may be."""
    n = len(things)
    counted = _counted(n, belief)
    if n == 1:
        note = "One thing was found; a double needs two groups."
    elif n > 2 * LARGEST_HALF:
        note = f"About {n} things were found, more than the facts up to 12+12 cover."
    elif n % 2:
        note = f"{counted}: {n // 2} and {n // 2}, and one left over{_one_more(things, pixels)}."
    else:
        note = f"{counted}, but they do not lie in two equal halves."
    return Reading(things, None, None, "no", belief, (Reason("uneven", 1.0, note),))


def _one_more(things: ThingSet, pixels: Pixels | None) -> str:
    if evidence.one_gap(things):
        return "; one place in their pattern is empty, look whether one is missing there"
    if pixels is not None and evidence.goes_on(pixels, things)[1] > AGAIN:
        return "; a row seems to go on, look whether one more stands at its end"
    return ""


def _counted(n: int, belief: float) -> str:
    return f"{n} things were counted" if belief >= LIKELY else f"These may be {n} things"


def _double(pixels: Pixels, things: ThingSet, split: Halves, base: Features, seen: Features, belief: Belief) -> Reading:
    features = fact_features(base, seen, belief, split, pixels, things)
    confidence = weigh(features, FACT)
    reasons = reasons_against(features, belief, split, len(things))
    grade: Grade = "sure" if confidence >= surely(len(things)) and not capped(reasons) else "check"
    if grade == "sure":  # then the count is believed: a doubt about it that caps nothing would only puzzle
        reasons = tuple(r for r in reasons if r.name != "count")
    if confidence < OFFER:
        note = f"{_counted(len(things), belief.number)}, but hardly in two equal halves."
        return Reading(things, None, None, "no", belief.number, (Reason("uneven", 1.0, note), *reasons))
    return Reading(things, split, Fact(len(things) // 2), grade, confidence, reasons)


def surely(n: int) -> float:
    """The confidence from which a double of n things is tagged without asking: two things are soon found, so they have a threshold of their own."""
    return FACT_SURE_TWO if n == 2 else FACT_SURE


def capped(reasons: tuple[Reason, ...]) -> bool:
    """Whether some reason forbids tagging without asking, however high the confidence."""
    return any(r.cost >= 0.5 for r in reasons)


def _limbs_doubted(f: Features, split: Halves, n: int) -> bool:
    """Things with limb tips on them count as limbs: two ways of looking have to agree on them, each at its best.

    Either the tips and the silhouette agree, and pair over one body's axis or belong to two bodies with as many each, or another
    finder has the same things and the net their number at two of its three sizes (leaves on a twig, say). Fewer than six (raised
    fingers) mirror too easily; an insect has 3+3, a spider 4+4, a crab and two hands 5+5 (common practice).
    """
    if f.get("seen_tips", 0.0) <= ON_TIPS:
        return False
    counted_twice = f["seen_tips_same"] >= 0.5 and f["seen_outline"] > 0
    paired = split.kind == "flip" or f.get("seen_bodies", 0.0) > 0
    seen_twice = f["witness"] > 0 and f["seen_same"] > 0.6
    return n < FEWEST_LIMBS or not ((counted_twice and paired) or seen_twice)


def _differ(f: Features, split: Halves) -> bool:
    """Whether neither the looks (thing by thing, or as a mirror picture) nor places beyond chance show two halves."""
    return max(f["partners"], f["mirror"]) < RELATED and split.chance > BY_CHANCE


def _unseen(f: Features) -> bool:
    """Whether the trained net sees nothing under the things at any level."""
    return max(f.get(name, 1.0) for name in ("seen_main", "seen_whole", "seen_part")) < UNSEEN


def reasons_against(f: Features, belief: Belief, split: Halves, n: int) -> tuple[Reason, ...]:
    """What speaks against the reading, in a teacher's words, the gravest first."""
    half = n // 2
    found = [
        Reason("count", 0.5 * (1 - belief.number) / (1 - (LIKELY_TWO if n == 2 else LIKELY)), "The count may be off: things may be missing or counted twice."),
        Reason("lead", 0.6 if belief.ahead < 0.05 else 0.0, f"Counting {belief.rival} is nearly as likely, or likelier."),
        Reason("alone", 0.0 if f["witness"] or f["agree"] else 0.5, "Only one way of looking found these things; count them once more."),
        Reason("row", 0.7 if f["row"] else 0.0, "The things stand in one even row; nothing shows where the middle is."),
        Reason("faint", 0.6 if f.get("seen_below", 0.0) > FAINT else 0.0, "One of the counted things is much less clear than the others; it may be something else."),
        Reason("odd", 0.6 if f["oddest"] > ODD else 0.0, "One of the counted things looks unlike all the others; it may be something else."),
        Reason("through", 0.6 if f["clears"] < THROUGH else 0.0, "The dividing line would run through a thing."),
        Reason("limbs", 0.6 if _limbs_doubted(f, split, n) else 0.0, "These look like limbs; they are easily miscounted, or do not pair up across one body."),
        Reason("edge", 0.6 if f["cut"] > 0.01 else 0.0, "Something is cut off by the edge of the photo."),
        Reason("beyond", 0.6 if f["beyond"] > GOES_ON else 0.0, "A row seems to go on at the edge of the photo; one more may be cut off there."),
        Reason("next", 0.6 if f["next"] > AGAIN else 0.0, "A row seems to go on: what lies at its next place looks like one more."),
        Reason("gap", 0.6 if f["gap"] else 0.0, "One place in the pattern is empty; one thing may be missing there."),
        Reason("second", 0.6 if f["second"] else 0.0, "Some of these things were only seen when empty places in the pattern were looked at again; check them."),
        Reason("untrained", 0.8 if "seen_main" not in f else 0.0, "The file of the trained finder is missing, so this count was not checked; install curator again."),
        Reason("unseen", 0.6 if _unseen(f) else 0.0, "Nothing clear was seen in the places that were counted; look whether something is there."),
        Reason("sizes", 0.6 if f.get("net_joined", 0.0) else 0.0, "No single look at the photo shows all of these things together; check the count."),
        Reason("unlike", 0.5 if f["alike"] < 0.3 or (n == 2 and f["kin"] < UNLIKE) else 0.0, "The things do not look much alike."),
        Reason("differ", 0.6 if n > 2 and _differ(f, split) else 0.0, "The two halves do not look alike; only the places match."),
        Reason("parts", 0.7 if f["parts"] > PARTS else 0.0, "These things have parts that can be counted; they may be what is meant."),
        Reason("loose", 0.5 if split.kind != "split" and split.gap > 0.35 else 0.0, f"The two groups of {half} do not match well."),
        Reason("chance", 0.4 if f["weak"] and n > 2 else 0.0, "So few things would often look like two halves by chance."),
        Reason("few", 0.2 if n == 2 else 0.0, "Any two things make 1+1; check that they are the ones you mean."),
    ]
    return tuple(sorted((r for r in found if r.cost >= 0.15), key=lambda r: -r.cost))


def by_hand(pixels: Pixels, things: ThingSet, line: NDArray[np.float64] | None) -> tuple[Reading, ...]:
    """Readings of a teacher's own dots: the count is the teacher's word, only the halves are judged."""
    n = len(things)
    if n == 0:
        return (_nothing(pixels),)
    fitted = halves.fit(things, most=3)
    if line is not None:
        own = halves.along_line(things, line)
        if own is None:
            note = "The line does not leave the same number on both sides."
            return (Reading(things, None, None, "no", 1.0, (Reason("line", 1.0, note),)),)
        fitted = (own, *(h for h in fitted if set(h.one) != set(own.one)))
    if not fitted or n > 2 * LARGEST_HALF:
        return (_no_double(things, 1.0),)
    return tuple(Reading(things, h, Fact(n // 2), "sure", 1.0, ()) for h in fitted)


def placed(reading: Reading, scale: tuple[float, float], offset: tuple[int, int], size: tuple[int, int]) -> Reading:
    """The same reading in the pixels of the whole photo."""
    split = reading.halves
    if split is not None:
        line = split.line * np.array(scale) + np.array(offset, dtype=np.float64)
        split = dataclasses.replace(split, line=line)
    return dataclasses.replace(reading, things=sets.moved(reading.things, scale, offset, size), halves=split)

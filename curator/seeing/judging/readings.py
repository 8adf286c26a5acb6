"""(Things, halves) pairs -> readings with a confidence, best first."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterable
from functools import partial

import numpy as np
from numpy.typing import NDArray

from curator.records import LARGEST_HALF, Fact, Grade, Halves, Reading, Reason, ThingSet
from curator.seeing import halves, set_matching
from curator.seeing.features import bars, pixel_evidence
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.judging import ahead, levels, pooled
from curator.seeing.judging.feature_table import fact_features
from curator.seeing.judging.feature_values import PARTS, PARTS_EACH, Shown, parts_of
from curator.seeing.judging.features import Measured, halved, measured, weighed, with_halves, without_halves
from curator.seeing.judging.larger_sets import more_at_edge
from curator.seeing.judging.models import FACT, OFFER, Belief, Features, empty, nothing, shared, surely, weigh
from curator.seeing.judging.reasons import AGAIN, LIKELY, Beside, Doubted, capped, reasons_against
from curator.seeing.judging.taught import AHEAD, Taught, leans

Pixels = NDArray[np.uint8]

MOST_READINGS = 12
HARDLY = 0.02  # a set believed less is not worth a teacher's look, unless little else was found
OPEN = 0.3  # of the belief in the parts: with as much in their wholes the level is open, and asked
RATHER = 0.5  # so it is where a double of the wholes is rather what a person would name than not
DOUBLES_NEXT = 2  # other doubles offered right after the likeliest reading


def readings(
    pixels: Pixels,
    candidates: list[ThingSet],
    taught: Taught = (),
    further: Callable[[], Iterable[list[ThingSet]]] = list,
) -> tuple[Reading, ...]:
    """All readings of the candidate sets, best first, at least one. Where `taught`, examples of these things, bring
    another set to the front, it is told, and nothing is tagged without asking.

    `further` gives the candidate sets of further looks at the same photo, asked for where its number is in doubt.
    """
    picture = Picture(pixels)
    begun = ahead.begun(picture)
    bare = without_halves(candidates)
    ahead.likelier(begun, bare)
    every = with_halves(bare)
    ask = partial(ahead.checked, begun, every)
    believed = pooled.believed(weighed(every), lambda: (weighed(measured(sets)) for sets in further()), ask)
    order, instead = ranked(every, believed), 0
    if taught:
        order, believed, instead = leaned(every, believed, order, taught)
    order = listed(order, every, believed)
    found: list[Reading] = []
    named: dict[int, float] = {}  # how likely the double of a set is what a person would name
    for rank, i in enumerate(order):
        (things, fitted, features), belief = every[i], believed[i]
        things = with_aside(things, every)
        if halved(every[i]):
            shows = ahead.seen(begun, every[i].things)
            fitted = bars.barred_first(picture, things, fitted) if rank == 0 else fitted
            splits = fitted[: 2 if rank == 0 else 1]
            others = beside(i, every, believed)
            found += [_double(picture, things, split, features, shows, belief, others) for split in splits]
            named[i] = found[-len(splits)].confidence if found[-len(splits)].fact else 0.0
        else:
            found.append(no_double(things, belief.number, picture))
    if not found:
        return (_nothing(pixels),)
    wholes = open_wholes(order[0], every, believed, named) if order[0] in named else 0
    if wholes:
        found = [asked(r, wholes) if len(r.things) == len(every[order[0]].things) else r for r in found]
    if instead:
        found = [asked_by_hers(reading, instead if reading is found[0] else 0) for reading in found]
    if empty(believed):
        return (_nothing(pixels, nothing(believed)), *ordered(found)[: MOST_READINGS - 1])
    return ordered(found)


def leaned(
    every: list[Measured], believed: list[Belief], order: list[int], taught: Taught
) -> tuple[list[int], list[Belief], int]:
    """The order and the beliefs as the examples have them, and how many things would be counted without them; all as
    it was, and 0, where no other set comes clearly first or nothing is there.
    """
    if not order or empty(believed):
        return order, believed, 0
    score = np.log(np.array([b.own for b in believed]).clip(1e-30))
    score[order[0]] = score.max()  # parts are ranked before wholes that are believed more
    score += leans(every, taught, order[0])
    now = np.argsort(-score, kind="stable").tolist()
    if score[now[0]] < score[order[0]] + AHEAD or now[0] == order[0]:
        return order, believed, 0
    own, none = np.exp(score), nothing(believed)
    return now, shared(own / (own.sum() + none), [len(m.things) for m in every]), len(every[order[0]].things)


def asked_by_hers(reading: Reading, instead: int) -> Reading:
    """A reading that what she kept has brought forward or put back: never tagged without asking. `instead`: how many
    things would be counted without that; told where it is not 0.
    """
    grade: Grade = "check" if reading.grade == "sure" else reading.grade
    note = f"This goes by the pictures of these things that you kept; without them {instead} would be counted."
    told = (Reason("taught", True, note),) if instead else ()
    reasons = (*told, *reading.reasons) if reading.fact else (*reading.reasons, *told)
    return dataclasses.replace(reading, grade=grade, reasons=reasons)


def with_aside(things: ThingSet, every: list[Measured]) -> ThingSet:
    """The set with what another finder of the same things leaves out on purpose: feelers beside legs, that the net
    alone does not tell.
    """
    if things.aside:
        return things
    aside = next(
        (m.things.aside for m in every if m.things.aside and set_matching.same_set(m.things, things, share=0.8)), ()
    )
    free = tuple(
        t for t in aside if not set_matching.on(np.array([t.center]), things).any()
    )  # what is counted here is not left out
    return dataclasses.replace(things, aside=free) if free else things


def ranked(every: list[Measured], believed: list[Belief]) -> list[int]:
    """The sets, the likeliest one of the likeliest number first, then the likeliest of each other number, then the
    rest; but if the first one's things have four or more parts each, and those lie in two halves, these come before it:
    who shows two dice means their pips.
    """
    rest = sorted(range(len(believed)), key=lambda i: -believed[i].own)
    best: dict[int, int] = {}
    for i in rest:
        best.setdefault(len(every[i].things), i)
    firsts = sorted(best.values(), key=lambda i: -believed[i].number)
    order = [*firsts, *(i for i in rest if best[len(every[i].things)] != i)]
    if not order or every[order[0]].features["parts"] <= PARTS:
        return order
    wholes = every[order[0]].things
    parts = [
        i
        for i in order
        if halved(every[i])
        and every[i].things.support > PARTS
        and len(every[i].things) >= PARTS_EACH * len(wholes)
        and parts_of(wholes, every[i].things)
    ]
    first = max(parts, key=lambda i: every[i].things.support, default=order[0])
    return [first, *(i for i in order if i != first)]


def open_wholes(i: int, every: list[Measured], believed: list[Belief], named: dict[int, float]) -> int:
    """How many things hold those of set i as parts, several in each, and may as well be meant; 0 where none do.

    They are believed nearly as much, or their double is likely what a person would name (`named`, by set): who shows
    two dice may mean the dice, and only she can say.
    """
    parts = every[i].things
    likely = [
        j
        for j in _counts(every)
        if (believed[j].own >= OPEN * believed[i].own or named.get(j, 0.0) >= RATHER)
        and levels.parted(every[j].things, parts) is not None
    ]
    return len(every[max(likely, key=lambda j: believed[j].own)].things) if likely else 0


def beside(i: int, every: list[Measured], believed: list[Belief]) -> Beside:
    """What is believed of other sets that speak against set i."""
    return Beside(other_level(i, every, believed), more_at_edge(i, every, believed))


def other_level(i: int, every: list[Measured], believed: list[Belief]) -> float:
    """What is believed of the wholes of set i, or of the parts of its things, of the belief in set i: all sets of the
    likeliest number together; 0 where there are none.
    """
    measures, own = every[i].features, every[i].things
    wholes = (
        [j for j in _counts(every) if levels.parted(every[j].things, own) is not None] if measures["within"] else []
    )
    whole = measures["holds"] and levels.FEWEST <= len(own) <= levels.MOST
    parts = [j for j in range(len(every)) if levels.parted(own, every[j].things) is not None] if whole else []
    together = dict.fromkeys((len(every[j].things) for j in (*wholes, *parts)), 0.0)
    for j in (*wholes, *parts):
        together[len(every[j].things)] += believed[j].own
    return max(together.values(), default=0.0) / max(1e-9, believed[i].own)


def _counts(every: list[Measured]) -> list[int]:
    """The sets that are few enough to be wholes."""
    return [j for j, one in enumerate(every) if levels.FEWEST <= len(one.things) <= levels.MOST]


def asked(parts: Reading, wholes: int) -> Reading:
    """The reading of the parts of so many likelier things: never tagged without asking."""
    reason = Reason("wholes", True, f"These are parts of {wholes} things, which may be what is meant.")
    others = tuple(r for r in parts.reasons if r.name not in ("lead", "wholes"))
    grade: Grade = "check" if parts.grade == "sure" else parts.grade
    return dataclasses.replace(parts, grade=grade, reasons=(reason, *others))


def listed(order: list[int], every: list[Measured], believed: list[Belief]) -> list[int]:
    """Of the sets in order of belief those to be read: the first, the likeliest of the next other counts in two
    halves, the next counts where these are few; then every set that is not hardly believed, the most believed first.

    Of sets that hold the same things, however they were found, the likeliest is read.
    """
    seen = {len(every[i].things) for i in order[:1]}
    doubles: list[int] = []
    for i in order[1:]:
        n = len(every[i].things)
        if n not in seen and halved(every[i]) and len(doubles) < DOUBLES_NEXT:
            seen.add(n)
            doubles.append(i)
    ahead = _apart([*order[:1], *doubles, *order[1:]], every, 1 + DOUBLES_NEXT)
    rest = sorted((i for i in order if believed[i].own >= HARDLY), key=lambda i: -believed[i].own)
    return _apart([*ahead, *rest], every, MOST_READINGS)


def _apart(order: list[int], every: list[Measured], most: int) -> list[int]:
    """The first of the sets that hold other things than those before them, at most so many."""
    kept: list[int] = []
    for i in order:
        if len(kept) < most and not any(set_matching.same_set(every[i].things, every[j].things) for j in kept):
            kept.append(i)
    return kept


def ordered(found: list[Reading]) -> tuple[Reading, ...]:
    """As judged, but after the first come the likeliest other doubles, since a double is what is looked for, then
    other counts where these are few; and last other halves of the first one's things."""
    first, rest = found[0], [r for r in found[1:] if r.things is not found[0].things]
    counts = {len(first.things)}
    ahead: list[Reading] = []
    for reading in rest:
        if len(reading.things) not in counts:
            counts.add(len(reading.things))
            ahead.append(reading)
    doubles = [reading for reading in ahead if reading.fact][:DOUBLES_NEXT]
    shown = [first, *doubles, *(r for r in ahead if r not in doubles)][: 1 + DOUBLES_NEXT]
    behind = [r for r in found[1:] if r.things is first.things]
    return tuple([*shown, *(r for r in rest if r not in shown), *behind][:MOST_READINGS])


def _nothing(pixels: Pixels, belief: float = 0.0) -> Reading:
    empty = ThingSet((), (pixels.shape[0], pixels.shape[1]), "none", support=0.0)
    reason = Reason("nothing", True, "Nothing repeats here, as far as was seen.")
    return Reading(empty, None, None, "no", belief, (reason,))


def no_double(things: ThingSet, belief: float, picture: Picture | None = None) -> Reading:
    """A count without a double, and why; of an odd number seen in `picture` also where one more may be."""
    n = len(things)
    counted = _counted(n, belief)
    if n == 1:
        note = "One thing was found; a double needs two groups."
    elif n > 2 * LARGEST_HALF:
        note = f"About {n} things were found, more than the facts up to 12+12 cover."
    elif n % 2:
        note = f"{counted}: {n // 2} and {n // 2}, and one left over{_one_more(things, picture)}."
    else:
        note = f"{counted}, but they do not lie in two equal halves."
    return Reading(_bare(things), None, None, "no", belief, (Reason("uneven", True, note),))


def _bare(things: ThingSet) -> ThingSet:
    """The set as it is counted where no double is named: nothing is left out of a count on purpose."""
    return dataclasses.replace(things, aside=()) if things.aside else things


def _one_more(things: ThingSet, picture: Picture | None) -> str:
    if pixel_evidence.one_gap(things):
        return "; one place in their pattern is empty, look whether one is missing there"
    if picture is not None and pixel_evidence.goes_on_inside(picture, things, AGAIN):
        return "; a row seems to go on, look whether one more stands at its end"
    return ""


def _counted(n: int, belief: float) -> str:
    return f"{n} things were counted" if belief >= LIKELY else f"These may be {n} things"


def _double(
    picture: Picture,
    things: ThingSet,
    split: Halves,
    base: Features,
    seen: Features,
    belief: Belief,
    others: Beside,
) -> Reading:
    features = fact_features(base, seen, Shown(picture, things, split, belief))
    confidence = weigh(features, FACT)
    reasons = reasons_against(Doubted(features, belief, split, len(things), things.clues.seen is not None, others))
    grade: Grade = "sure" if confidence >= surely(len(things)) and not capped(reasons) else "check"
    if grade == "sure":  # then the count is believed: a doubt about it that caps nothing would only puzzle
        reasons = tuple(r for r in reasons if r.name != "count")
    if confidence < OFFER:
        note = f"{_counted(len(things), belief.number)}, but hardly in two equal halves."
        return Reading(_bare(things), None, None, "no", belief.number, (Reason("uneven", True, note), *reasons))
    return Reading(things, split, Fact(len(things) // 2), grade, confidence, reasons)


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
            return (Reading(things, None, None, "no", 1.0, (Reason("line", True, note),)),)
        fitted = (own, *(h for h in fitted if set(h.one) != set(own.one)))
    if not fitted or n > 2 * LARGEST_HALF:
        return (no_double(things, 1.0),)
    return tuple(Reading(things, h, Fact(n // 2), "sure", 1.0, ()) for h in fitted)


def placed(reading: Reading, scale: tuple[float, float], offset: tuple[int, int], size: tuple[int, int]) -> Reading:
    """The same reading in the pixels of the whole photo."""
    split = reading.halves
    if split is not None:
        line = split.line * np.array(scale) + np.array(offset, dtype=np.float64)
        split = dataclasses.replace(split, line=line)
    return dataclasses.replace(reading, things=set_matching.moved(reading.things, scale, offset, size), halves=split)

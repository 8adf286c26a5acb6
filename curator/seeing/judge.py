"""(Things, halves) pairs -> readings with a confidence; the one place that weighs."""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray

from curator.records import LARGEST_HALF, Fact, Grade, Halves, Reading, Reason, ThingSet
from curator.seeing import evidence, halves, sets

MOST_READINGS = 8
SURE = 0.97
OFFER = 0.05


def readings(pixels: NDArray[np.uint8], candidates: list[ThingSet]) -> tuple[Reading, ...]:
    """All readings of the candidate sets, best first, at least one."""
    found: list[Reading] = []
    for things in candidates:
        if len(things):
            found += [_reading(pixels, things, h) for h in (halves.fit(things, most=2) or (None,))]
    found.sort(key=lambda r: -r.things.support)
    if not found:
        nothing = ThingSet((), (pixels.shape[0], pixels.shape[1]), "none", support=0.0)
        reason = Reason("nothing", 1.0, "Nothing in this photo was seen to repeat.")
        return (Reading(nothing, None, None, "no", 0.0, (reason,)),)
    return tuple(found[:MOST_READINGS])


def _reading(pixels: NDArray[np.uint8], things: ThingSet, split: Halves | None) -> Reading:
    if split is None or len(things) > 2 * LARGEST_HALF:
        note = f"{len(things)} things were counted; they make no two equal halves."
        return Reading(things, None, None, "no", things.support, (Reason("uneven", 1.0, note),))
    alike = evidence.partners_alike(pixels, things, split)
    confidence = things.support * (1 - split.chance) * alike
    return Reading(things, split, Fact(len(things) // 2), "check", confidence, ())


def by_hand(pixels: NDArray[np.uint8], things: ThingSet, line: NDArray[np.float64] | None) -> tuple[Reading, ...]:
    """Readings of a teacher's own dots: the count is certain, only the halves are judged."""
    fitted = halves.fit(things, most=3)
    if line is not None:
        own = halves.along_line(things, line)
        if own is None:
            note = "The line does not leave the same number on both sides."
            return (Reading(things, None, None, "no", 1.0, (Reason("uneven", 1.0, note),)),)
        fitted = (own, *(h for h in fitted if set(h.one) != set(own.one)))
    if not fitted or len(things) > 2 * LARGEST_HALF:
        note = f"{len(things)} things make no two equal halves that this tool knows."
        return (Reading(things, None, None, "no", 1.0, (Reason("uneven", 1.0, note),)),)
    grade: Grade = "sure"
    return tuple(Reading(things, h, Fact(len(things) // 2), grade, 1.0, ()) for h in fitted)


def placed(reading: Reading, scale: tuple[float, float], offset: tuple[int, int], size: tuple[int, int]) -> Reading:
    """The same reading in the pixels of the whole photo."""
    split = reading.halves
    if split is not None:
        line = split.line * np.array(scale) + np.array(offset, dtype=np.float64)
        split = dataclasses.replace(split, line=line)
    return dataclasses.replace(reading, things=sets.moved(reading.things, scale, offset, size), halves=split)

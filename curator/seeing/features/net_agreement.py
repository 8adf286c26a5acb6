"""What the trained net says about any finder's set: shared by the finders (not a finder).

Each set gets `Seen`: heat under its dots at every level, peaks it leaves out, how likely the net takes its number and
its size to be. Each is the mean or the best over the sizes the net looked at.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.clues import Clues, Seen, Tips
from curator.records import ThingSet
from curator.seeing import set_matching
from curator.seeing.features import heat_under, missed_peaks, one_kind
from curator.seeing.features.missed_peaks import LEVELS
from curator.seeing.features.side_by_side import Side, Values, side_by_side
from curator.seeing.net import runtime
from curator.seeing.net.runtime import Peaks, Sight
from curator.seeing.primitives.colour_sums import Looks
from curator.seeing.view import View

MOST_MIXED = 4  # sets that are taken apart by kind
LESS = 0.9  # of the support of the set they are parted from
TIP_CUTS = (0.2, 0.3)  # a peak of the tip map counts as a limb's end above these


class Heard(NamedTuple):
    """What the net says of one picture, whatever the set."""

    sights: Sequence[Sight]
    every: list[Peaks]  # of the main map, at each size
    maps: list[runtime.Maps]  # of LEVELS, (levels, h, w) at each size
    tips: list[Peaks]
    limbs: NDArray[np.int_]  # `_tip_counts`
    beside: missed_peaks.Others
    looks: Looks


def heard(view: View) -> Heard:
    """What `attested` and `parted` ask of a picture that the net looked at."""
    sights = view.sights
    tips = [runtime.peaks(s, "tip", least=TIP_CUTS[0]) for s in sights]
    return Heard(
        sights,
        [runtime.peaks(s, "main", least=runtime.FAINT) for s in sights],
        [np.stack([s.map(name) for name in LEVELS]) for s in sights],
        tips,
        _tip_counts(tips),
        missed_peaks.others(sights),
        view.looks,
    )


def attested(
    view: View, found: list[ThingSet], *, among: list[ThingSet] | None = None, said: Heard | None = None
) -> list[ThingSet]:
    """The same sets with what the net, and the other sets of `among` (or of these), say about them; unchanged where
    the trained file is missing. `said` is `heard` of the view, where it is known.
    """
    if not view.sights or not found:
        return found
    said = said or heard(view)
    others, side = found if among is None else [*found, *among], side_by_side(found)
    embeds = [runtime.embedding(sight, side.centers) for sight in said.sights]
    on = missed_peaks.within_half(said.beside.peaks.centers, side)
    beside = missed_peaks.clues_of(found, side, np.array([side.mean(e) for e in embeds]), said.beside, on)
    numbers, ways = _numbers(found, side, said), _ways(found, others)
    kinds, kin = one_kind.of_sets(side, embeds, said.looks), _kins(side, embeds)
    heat = heat_under.of_sets(side, said.sights, said.maps)
    attested = []
    for k, s in enumerate(found):
        seen = dataclasses.replace(
            numbers[k],
            kin=kin[k],
            ways=ways[k],
            heat=heat[k],
            tips=_tips(s, said.tips, said.limbs, others),
            main=beside[k]["main"],
            whole=beside[k]["whole"],
            part=beside[k]["part"],
            kinds=kinds[k][0],
        )
        attested.append(dataclasses.replace(s, clues=dataclasses.replace(s.clues, seen=seen)))
    return attested


def parted(view: View, found: list[ThingSet], said: Heard | None = None) -> list[ThingSet]:
    """Each kind by itself, of the best supported sets of `found` (attested) that hold two kinds: sets of their own."""
    mixed = [s for s in found if s.clues.seen is not None and s.clues.seen.kinds.apart > one_kind.APART and len(s) > 2]
    mixed = sorted(mixed, key=lambda s: -s.support)[:MOST_MIXED]
    if not mixed:
        return []
    said, more, side = said or heard(view), list[ThingSet](), side_by_side(mixed)
    embeds = [runtime.embedding(sight, side.centers) for sight in said.sights]
    for s, (_, small) in zip(mixed, one_kind.of_sets(side, embeds, said.looks), strict=True):
        for side_of in (True, False):
            own = tuple(t for t, mine in zip(s.things, small.tolist(), strict=True) if mine is side_of)
            one = ThingSet(own, s.size, "kinds", s.alike, support=LESS * s.support, clues=Clues(stable=s.clues.stable))
            if len(own) > 1 and not any(set_matching.same_set(one, k, share=0.8) for k in [*found, *more]):
                more.append(one)
    return attested(view, more, among=found, said=said)


def _tip_counts(tips: list[Peaks]) -> NDArray[np.int_]:
    """How many limb tips the net sees, at every size and cut."""
    return np.array([int((peaks.scores >= cut).sum()) for peaks in tips for cut in TIP_CUTS])


def _tips(things: ThingSet, tips: list[Peaks], counts: NDArray[np.int_], others: list[ThingSet]) -> Tips:
    """Whether limb tips, by the net at every size and cut, and the silhouette's limbs are as many as the things, and
    whether they are those of two bodies with as many each.
    """
    n = len(things)
    usual = float(median(counts.tolist()))
    if usual < 2:
        return Tips()
    silhouettes = [s for s in others if s.found_by == "limbs" and len(s) == n]
    return Tips(
        on=max(float(set_matching.inside(peaks.centers, things, slack=0.15).any(0).mean()) for peaks in tips),
        same=float((counts == n).mean()),
        off=min(1.0, abs(usual - n) / n),
        outline=float(bool(silhouettes)),
        bodies=float(any(s.clues.two_bodies and set_matching.same_set(s, things, share=0.8) for s in silhouettes)),
    )


def _numbers(found: list[ThingSet], side: Side, said: Heard) -> list[Seen]:
    """How far the net's own numbers and sizes are those of each set, and what it sees beside it."""
    sights = said.sights
    boxes = side.boxes
    longer = side.mean(np.maximum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])).tolist()
    seen = [int((peaks.scores >= runtime.CUT).sum()) for peaks in said.every]
    left_out = np.sort([_left_out(peaks, side) for peaks in said.every], axis=0).T.tolist()
    numbers = []
    for s, long, out in zip(found, longer, left_out, strict=True):
        n = len(s)
        off = [abs(number - n) for number in seen]
        numbers.append(
            Seen(
                number=sum(float(sight.count[min(n, 25)]) for sight in sights) / len(sights),
                left_out=min(1.0, out[0] / n),
                left_out_mid=min(1.0, out[len(out) // 2] / n),
                same=sum(gap == 0 for gap in off) / len(off),
                near=sum(gap <= 1 for gap in off) / len(off),
                scale=max(sight.belief_in_size(long) for sight in sights),
            )
        )
    return numbers


def _kins(side: Side, embeds: Sequence[Values]) -> list[float]:
    """How alike the net takes the things of each set to be, of their embeddings (n, 16) at every size: mean product of
    each one's with the mean direction; for two things their product; the median over the sizes.
    """
    pair = side.counts == 2
    kins = []
    for embed in embeds:
        square = (side.mean(embed) ** 2).sum(1)
        alike = square / np.maximum(1e-6, np.sqrt(square))
        first = side.starts[pair]
        alike[pair] = (embed[first] * embed[first + 1]).sum(1)
        kins.append(alike)
    return [median(own) for own in np.stack(kins, axis=1).tolist()]


def _left_out(peaks: Peaks, side: Side) -> Values:
    """(sets,) summed scores of the peaks that lie on none of the set's things."""
    if not len(peaks):
        return np.zeros(len(side.counts))
    return np.asarray(peaks.scores @ ~side.any(missed_peaks.within_half(peaks.centers, side)), np.float64)


def _ways(found: list[ThingSet], others: list[ThingSet]) -> list[float]:
    """How many finders gave nearly each set, of three; the sets themselves are among the others."""
    ways = []
    for things in found:
        same = {things.found_by}
        for s in others:
            if s.found_by not in same and set_matching.same_set(s, things, share=0.8):
                same.add(s.found_by)
        ways.append(min(1.0, len(same) / 3))
    return ways

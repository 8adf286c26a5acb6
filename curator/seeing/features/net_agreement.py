"""What the trained net says about any finder's set: shared by the finders (not a finder).

Each set gets `Seen`: heat under its dots at every level, peaks it leaves out, how likely the net takes its number and
its size to be. Each is the mean or the best over the sizes the net looked at.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from statistics import median

import numpy as np
from numpy.typing import NDArray

from curator.clues import Clues, Heat, Seen, Tips
from curator.records import ThingSet
from curator.seeing import set_matching
from curator.seeing.features import missed_peaks, one_kind
from curator.seeing.features.missed_peaks import LEVELS, Values
from curator.seeing.net import runtime
from curator.seeing.net.runtime import Peaks, Sight
from curator.seeing.view import View

HARDLY = 0.05  # heat: where the usual thing has less the net says nothing about the least clear one
MOST_MIXED = 4  # sets that are taken apart by kind
LESS = 0.9  # of the support of the set they are parted from
TIP_CUTS = (0.2, 0.3)  # a peak of the tip map counts as a limb's end above these


def attested(view: View, found: list[ThingSet], *, among: list[ThingSet] | None = None) -> list[ThingSet]:
    """The same sets with what the net, and the other sets of `among` (or of these), say about them; unchanged where
    the trained file is missing.
    """
    sights = view.sights
    if not sights or not found:
        return found
    every = [runtime.peaks(s, "main", least=runtime.FAINT) for s in sights]
    maps = [np.stack([s.map(name) for name in LEVELS]) for s in sights]
    tips = [runtime.peaks(s, "tip", least=TIP_CUTS[0]) for s in sights]
    limbs, beside = _tip_counts(tips), missed_peaks.others(sights)
    others, looks = found if among is None else [*found, *among], one_kind.looks_of(view.pixels)

    def said(s: ThingSet, embeds: list[Values]) -> Seen:
        beside_it = missed_peaks.clues(s, embeds, beside)
        return dataclasses.replace(
            _numbers(s, sights, every),
            kin=float(median(_kin(embed) for embed in embeds)),
            ways=_ways(s, others),
            heat=_heat(s, sights, maps),
            tips=_tips(s, tips, limbs, others),
            main=beside_it["main"],
            whole=beside_it["whole"],
            part=beside_it["part"],
            kinds=one_kind.of_set(s, embeds, looks)[0],
        )

    return [
        dataclasses.replace(s, clues=dataclasses.replace(s.clues, seen=said(s, embeds)))
        for s, embeds in zip(found, _embeds(found, sights), strict=True)
    ]


def parted(view: View, found: list[ThingSet]) -> list[ThingSet]:
    """Each kind by itself, of the best supported sets of `found` (attested) that hold two kinds: sets of their own."""
    mixed = [s for s in found if s.clues.seen is not None and s.clues.seen.kinds.apart > one_kind.APART and len(s) > 2]
    mixed = sorted(mixed, key=lambda s: -s.support)[:MOST_MIXED]
    if not mixed:
        return []
    looks, more = one_kind.looks_of(view.pixels), list[ThingSet]()
    for s, embeds in zip(mixed, _embeds(mixed, view.sights), strict=True):
        small = one_kind.of_set(s, embeds, looks)[1].tolist()
        for side in (True, False):
            own = tuple(t for t, mine in zip(s.things, small, strict=True) if mine is side)
            one = ThingSet(own, s.size, "kinds", s.alike, support=LESS * s.support, clues=Clues(stable=s.clues.stable))
            if len(own) > 1 and not any(set_matching.same_set(one, k, share=0.8) for k in [*found, *more]):
                more.append(one)
    return attested(view, more, among=found)


def _embeds(found: list[ThingSet], sights: Sequence[Sight]) -> list[list[Values]]:
    """For each set the embeddings (things, 16) of its things at every size."""
    places, ends = np.concatenate([s.centers for s in found]), np.cumsum([len(s) for s in found])[:-1]
    by_size = [np.split(runtime.embedding(sight, places), ends) for sight in sights]
    return [list(one) for one in zip(*by_size, strict=True)]


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


def _numbers(things: ThingSet, sights: Sequence[Sight], every: list[Peaks]) -> Seen:
    """How far the net's own numbers and sizes are those of the set, and what it sees beside it."""
    n = len(things)
    longer = sum(max(t.box.height, t.box.width) for t in things.things) / n
    left_out = sorted(_left_out(things, peaks) for peaks in every)
    off = np.array([abs(int((peaks.scores >= runtime.CUT).sum()) - n) for peaks in every])
    return Seen(
        number=sum(float(s.count[min(n, 25)]) for s in sights) / len(sights),
        left_out=min(1.0, left_out[0] / n),
        left_out_mid=min(1.0, left_out[len(left_out) // 2] / n),
        same=float((off == 0).mean()),
        near=float((off <= 1).mean()),
        scale=max(s.belief_in_size(longer) for s in sights),
    )


def _heat(things: ThingSet, sights: Sequence[Sight], maps: list[runtime.Maps]) -> Heat:
    """What the net sees under the things."""
    under = np.array(
        [_heat_under(things, heat, s.shrink) for heat, s in zip(maps, sights, strict=True)]
    )  # sizes, things, levels
    usual, middle = under.mean(1).max(0), _middles(under).max(0)
    best = under.max(axis=2)
    least, below = float(under[:, :, 0].min(1).max()), min(1.0, _below(best) / 6)
    (main, whole, part), (main_mid, whole_mid, part_mid) = usual.tolist(), middle.tolist()
    return Heat(main, main_mid, whole, whole_mid, part, part_mid, least, _faintest(best), below)


def _middles(values: Values) -> Values:
    """The medians along the second axis, as numpy's `median` gives them, in a tenth of its time for a few values."""
    ordered, n = np.sort(values, axis=1), values.shape[1]
    middles: Values = (ordered[:, (n - 1) // 2] + ordered[:, n // 2]) / 2
    return middles


def _kin(embed: Values) -> float:
    """How alike the net takes the things to be, of their embeddings (things, 16): mean product of each one's with the
    mean direction; for two things their product.
    """
    if len(embed) == 2:
        return float(embed[0] @ embed[1])
    middle = embed.mean(0)
    return float((embed @ middle).mean() / max(1e-6, float(np.linalg.norm(middle))))


def _faintest(heat: NDArray[np.float64]) -> float:
    """Heat (sizes, things), of the level that sees each thing best, under the least clear thing over that under the
    usual one, 0 to 1.
    """
    usual = float(_middles(heat).max())
    return min(1.0, float(heat.min(axis=1).max()) / usual) if usual > HARDLY else 1.0


def _below(heat: NDArray[np.float64]) -> float:
    """How many standard deviations (robust, of the logarithm) the least clear thing lies below the usual one; `heat`
    as in `_faintest`.

    Many small things are clear to very different degrees, so that one of two dozen has a third of the usual heat and is
    nothing else. Where they are equally clear a deviation is a third of the way to half the heat.
    """
    clearest = heat[int(np.argmax(_middles(heat)))]
    logs = np.log(np.maximum(clearest, 1e-3))
    deviation = max(math.log(2) / 3, 1.4826 * float(median(np.abs(logs - median(logs.tolist())).tolist())))
    return -math.log(max(1e-3, _faintest(heat))) / deviation


def _left_out(things: ThingSet, peaks: Peaks) -> float:
    """Summed scores of the peaks that lie on none of the things."""
    if not len(peaks):
        return 0.0
    return float(peaks.scores[~set_matching.on(peaks.centers, things).any(1)].sum())


def _heat_under(things: ThingSet, heat: runtime.Maps, shrink: float) -> Values:
    """The largest heat (things, levels) within a quarter width of each thing's centre, in maps (levels, h, w)."""
    scale = shrink / runtime.STRIDE
    values = np.zeros((len(things), len(heat)))
    for k, ((row, col), width) in enumerate(zip(things.centers.tolist(), things.widths.tolist(), strict=True)):
        reach = max(1.0, 0.25 * width * scale)
        top, left = max(0, int(row * scale - reach)), max(0, int(col * scale - reach))
        near = heat[:, top : int(row * scale + reach) + 1, left : int(col * scale + reach) + 1]
        if near.size:
            values[k] = near.reshape(len(heat), -1).max(axis=1)
    return values


def _ways(things: ThingSet, found: list[ThingSet]) -> float:
    """How many finders gave nearly this set, of three."""
    same = {s.found_by for s in found if set_matching.same_set(s, things, share=0.8)}
    return min(1.0, len(same) / 3)

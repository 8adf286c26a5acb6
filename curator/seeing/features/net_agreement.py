"""What the trained net says about any finder's set: shared by the finders (not a finder).

Each set gets clues that begin with `seen_`: heat under its dots at every level, peaks it leaves out, how likely the net
takes its number and its size to be. Each is the mean or the best over the sizes the net looked at.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from statistics import median

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing import set_matching
from curator.seeing.features import missed_peaks
from curator.seeing.features.missed_peaks import LEVELS, Values
from curator.seeing.net import runtime
from curator.seeing.net.runtime import Peaks, Sight
from curator.seeing.view import View

HARDLY = 0.05  # heat: where the usual thing has less the net says nothing about the least clear one
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
    others = found if among is None else [*found, *among]

    def said(s: ThingSet, embeds: list[Values]) -> dict[str, float]:
        kin = float(median(_kin(embed) for embed in embeds))
        return {
            **_clues(s, sights, every, maps),
            "kin": kin,
            **missed_peaks.clues(s, embeds, beside),
            **_limb_clues(s, tips, limbs, others),
            "seen_ways": _ways(s, others),
        }

    return [
        dataclasses.replace(s, clues={**s.clues, **said(s, embeds)})
        for s, embeds in zip(found, _embeds(found, sights), strict=True)
    ]


def _embeds(found: list[ThingSet], sights: Sequence[Sight]) -> list[list[Values]]:
    """For each set the embeddings (things, 16) of its things at every size."""
    places, ends = np.concatenate([s.centers for s in found]), np.cumsum([len(s) for s in found])[:-1]
    by_size = [np.split(runtime.embedding(sight, places), ends) for sight in sights]
    return [list(one) for one in zip(*by_size, strict=True)]


def _tip_counts(tips: list[Peaks]) -> NDArray[np.int_]:
    """How many limb tips the net sees, at every size and cut."""
    return np.array([int((peaks.scores >= cut).sum()) for peaks in tips for cut in TIP_CUTS])


def _limb_clues(
    things: ThingSet, tips: list[Peaks], counts: NDArray[np.int_], others: list[ThingSet]
) -> dict[str, float]:
    """Whether limb tips, by the net at every size and cut, and the silhouette's limbs are as many as the things, and
    whether they
    are those of two bodies with as many each; all 0 where it sees fewer than two tips.
    """
    n = len(things)
    usual = float(median(counts.tolist()))
    if usual < 2:
        return {"seen_tips": 0.0, "seen_tips_same": 0.0, "seen_tips_off": 0.0, "seen_outline": 0.0, "seen_bodies": 0.0}
    silhouettes = [s for s in others if s.found_by == "limbs" and len(s) == n]
    return {
        "seen_tips": max(float(set_matching.inside(peaks.centers, things, slack=0.15).any(0).mean()) for peaks in tips),
        "seen_tips_same": float((counts == n).mean()),
        "seen_tips_off": min(1.0, abs(usual - n) / n),
        "seen_outline": float(bool(silhouettes)),
        "seen_bodies": float(
            any(s.clues.get("two_bodies", 0.0) > 0 and set_matching.same_set(s, things, share=0.8) for s in silhouettes)
        ),
    }


def _clues(things: ThingSet, sights: Sequence[Sight], every: list[Peaks], maps: list[runtime.Maps]) -> dict[str, float]:
    n = len(things)
    longer = sum(max(t.box.height, t.box.width) for t in things.things) / n
    left_out = sorted(_left_out(things, peaks) for peaks in every)
    off = np.array([abs(int((peaks.scores >= runtime.CUT).sum()) - n) for peaks in every])
    number = sum(float(s.count[min(n, 25)]) for s in sights) / len(sights)
    clues = {
        "seen_number": number,
        "seen_number_log": math.log(number + 1e-3) / 7 + 1,
        "seen_left_out": min(1.0, left_out[0] / n),
        "seen_left_out_mid": min(1.0, left_out[len(left_out) // 2] / n),
        "seen_same": float((off == 0).mean()),
        "seen_near": float((off <= 1).mean()),
        "seen_scale": max(s.belief_in_size(longer) for s in sights),
    }
    under = np.array(
        [_heat_under(things, heat, s.shrink) for heat, s in zip(maps, sights, strict=True)]
    )  # sizes, things, levels
    usual, middle = under.mean(1).max(0), _middles(under).max(0)
    for level, name in enumerate(LEVELS):
        clues |= {f"seen_{name}": float(usual[level]), f"seen_{name}_mid": float(middle[level])}
    best = under.max(axis=2)
    return {
        **clues,
        "seen_least": float(under[:, :, 0].min(1).max()),
        "seen_faintest": _faintest(best),
        "seen_below": min(1.0, _below(best) / 6),
    }


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

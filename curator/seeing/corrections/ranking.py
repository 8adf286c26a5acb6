"""Which set a person means who set some dots right: every candidate set weighed by what was added and taken off.

A conditional logit over the sets of one photo, like the judge's; its weights are data: `models/taps.json`.
"""

from __future__ import annotations

import dataclasses
import json
import math
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.clues import Clues, NetSet
from curator.records import Box, Thing, ThingSet
from curator.seeing import set_matching
from curator.seeing.beside import beside
from curator.seeing.features import net_agreement
from curator.seeing.finders import find_all, learned
from curator.seeing.judging import features, models
from curator.seeing.net import runtime
from curator.seeing.view import View

TAPS: models.Features = json.loads((Path(__file__).parents[2] / "models" / "taps.json").read_text(encoding="utf-8"))[
    "taps"
]
Places = NDArray[np.float64]  # (n, 2) row, col in the picture's pixels
LARGER = 640  # longer side: the net looks once more at this size when it is told, for small things close together
MOST_TAPS = 24
CHOICES = 3  # sets that are offered where a thing is pointed at: as many as are shown at once
NOT_FOUND = NetSet(0.0, 0.0, 0.0, 0.0, 0.0)  # by the net
PEAK = 3  # cells of the net: a peak as near as this to a place is what was pointed at


def likeliest(view: View, yes: Places, shown: Sequence[Places] = ()) -> list[ThingSet]:
    """The likeliest candidate sets with a thing at each place of `yes`, best first: at most CHOICES, each of another
    number, and none that holds just what one of those already `shown` has: who points at a thing wants another.
    """
    no = np.empty((0, 2))
    every, measured = candidates(view, yes, no, None)
    order = sorted(range(len(every)), key=lambda i: -models.weighted(measured[i], TAPS))
    kept: list[ThingSet] = []
    for i in order:
        one = changed(every[i], yes, no)
        if any(len(one) == len(k) for k in kept) or any(_same(one, places) for places in shown):
            continue
        kept.append(one)
        if len(kept) == CHOICES:
            break
    return kept or [changed(ThingSet((), view.size, "person"), yes, no)]


def _same(things: ThingSet, places: Places) -> bool:
    """Whether the places are just those of the things."""
    if len(places) != len(things):
        return False
    on = _on(places, things)
    return bool(on.any(0).all() and on.any(1).all())


def candidates(
    view: View, yes: Places, no: Places, last: ThingSet | None
) -> tuple[list[ThingSet], list[models.Features]]:
    """The candidate sets as found, and what TAPS weighs of each; `last` is the answer that was shown, with the person's
    changes in it or not, and one of the candidates.
    """
    found = find_all(view)
    own = [] if last is None else [dataclasses.replace(changed(last, yes, no), clues=Clues(), found_by="person")]
    own = [one for one in own if len(one)]
    told = _told(view, yes, no, own[0] if own else None) if view.sights else []
    every = features.measured([*found, *net_agreement.attested(view, [*told, *own], among=found)])
    believed = models.beliefs([m.features for m in every], [len(m.things) for m in every])
    measured = [
        _features(m.things, b, yes, no, own[0] if own else None, view.sights)
        for m, b in zip(every, believed, strict=True)
    ]
    return [m.things for m in every], measured


def _told(view: View, yes: Places, no: Places, last: ThingSet | None) -> list[ThingSet]:
    """Sets the net gives when it is told which things are meant: those pointed at (clue `told`), or all that the last
    answer has left (`told_all`).
    """
    kept = np.empty((0, 2)) if last is None else last.centers[:MOST_TAPS]
    asked: list[tuple[Clues, Places, tuple[int, ...]]] = []
    if len(yes):
        asked.append((Clues(told=True), yes, (*runtime.SIZES, LARGER)))
    if len(kept) > len(yes):
        asked.append((Clues(told_all=True), kept, (runtime.SIZES[-1], LARGER)))
    looks = [
        (how, partial(runtime.see, view.pixels, longer, [(float(r), float(c)) for r, c in places], view.model))
        for how, places, sizes in asked
        for longer in sizes
    ]
    found: list[ThingSet] = []
    for (how, _), look in zip(looks, beside([look for _, look in looks]), strict=True):
        sight = look()
        seen = learned.main_sets(sight, view.size, _cuts(sight, yes, no))
        found += [dataclasses.replace(s, clues=dataclasses.replace(how, net=s.clues.net)) for s in seen]
    return learned.agreed([changed(s, yes, np.empty((0, 2))) for s in found])


def _cuts(sight: runtime.Sight, yes: Places, no: Places) -> list[float]:
    """Where the main map may be cut: what is as clear as the faintest thing pointed at counts, what is no clearer
    than one taken off does not.
    """
    heat = sight.map("main")
    cuts = [min(_heat_at(heat, sight, place) for place in yes) - 1e-3] if len(yes) else []
    cuts += [max(_heat_at(heat, sight, place) for place in no) + 1e-3] if len(no) else []
    return [cut for cut in cuts if cut >= runtime.FAINT]


def _heat_at(heat: runtime.Maps, sight: runtime.Sight, place: Places) -> float:
    row, col = (round(float(v) * sight.shrink / runtime.STRIDE) for v in place)
    near = heat[max(0, row - PEAK) : row + PEAK + 1, max(0, col - PEAK) : col + PEAK + 1]
    return float(near.max()) if near.size else 0.0


def _features(
    things: ThingSet,
    belief: models.Belief,
    yes: Places,
    no: Places,
    last: ThingSet | None,
    sights: Sequence[runtime.Sight],
) -> models.Features:
    """Named measurements of one candidate: what the judge believes of it, what it shares with the last answer, and how
    its things look beside those touched.
    """
    touches, person = len(yes) + len(no), float(things.found_by == "person")
    by_taps, by_all = float(things.clues.told), float(things.clues.told_all)
    told, net = max(by_taps, by_all), things.clues.net or NOT_FOUND
    return {
        "believed": math.log(belief.own + 1e-5),
        "number": math.log(belief.number + 1e-5),
        "person": person,
        "person_on": person * math.log(max(1, touches)),
        "told": by_taps,
        "told_all": by_all,
        "told_both": by_taps * by_all,
        "told_on": told * math.log(max(1, touches)),
        "one": float(len(things) == 1),
        "told_clear": told * net.clear,
        "told_score": told * net.score,
        "told_sizes": told * net.sizes,
        "told_least": told * net.least,
        "told_count": told * net.count,
        **_held(things, yes, no),
        **_shared(changed(things, yes, no), last),
        **_likeness(things.centers, yes, no, sights),
    }


def _held(things: ThingSet, yes: Places, no: Places) -> models.Features:
    """How far the set, as it was found, has what was added and lacks what was taken off."""
    on, wrong = claimed(things, yes), int(_on(no, things).any(0).sum())
    away = [math.dist(yes[k], things.centers[i]) / max(1.0, things.widths[i]) for k, i in on.items()]
    wide = [abs(math.log(things.widths[i] / np.median(things.widths))) for i in on.values()]
    return {
        "yes_in": len(on) / len(yes) if len(yes) else 1.0,
        "yes_new": float(len(yes) - 1 in on) if len(yes) else 1.0,
        "no_in": wrong / len(no) if len(no) else 0.0,
        "yes_away": float(np.mean(away)) if away else 0.0,
        "yes_wide": float(np.mean(wide)) if wide else 0.0,
    }


def _shared(things: ThingSet, last: ThingSet | None) -> models.Features:
    """What the set keeps of the last answer and adds to it."""
    if last is None:
        return {}
    same = len(set_matching.partners(things, last, reach=0.6)[0])
    more = math.log((len(things) + 0.5) / (len(last) + 0.5))
    return {
        "kept": same / len(last),
        "fresh": (len(things) - same) / max(1, len(things)),
        "more": more,
        "other_number": abs(more),
    }


def _likeness(centers: Places, yes: Places, no: Places, sights: Sequence[runtime.Sight]) -> models.Features:
    """Mean and least product of the things' embeddings with the most like of those added, and of those taken off; 0
    where there are none.
    """
    found: models.Features = {}
    for name, touched in (("yes", yes), ("no", no)):
        alike = (
            [(runtime.embedding(s, centers) @ runtime.embedding(s, touched).T).max(1) for s in sights]
            if len(touched) and len(centers)
            else []
        )
        usual = np.median(alike, axis=0) if alike else np.zeros(1)
        found |= {f"{name}_like": float(usual.mean()), f"{name}_least": float(usual.min())}
    return found


def _reach(things: ThingSet) -> NDArray[np.float64]:
    """(n,) how wide each thing is, or how far the next one is where that is less: a place far out on a long thing may
    be its neighbour.
    """
    apart = cdist(things.centers, things.centers) + np.diag(np.full(len(things), np.inf))
    return np.asarray(np.minimum(things.widths, apart.min(1)) if len(things) > 1 else things.widths, np.float64)


def claimed(things: ThingSet, yes: Places) -> dict[int, int]:
    """Which thing each place is on (place -> thing), each thing taken once."""
    if not len(yes) or not len(things):
        return {}
    apart = cdist(yes, things.centers)
    places, on = linear_sum_assignment(apart)
    near = apart[places, on] <= 0.6 * _reach(things)[on]
    return dict(zip(places[near].tolist(), on[near].tolist(), strict=True))


def _on(places: Places, things: ThingSet) -> NDArray[np.bool_]:
    """(places, things): which places lie on which things, half a width or half the step to the next one from their
    centre at most.
    """
    if not len(places) or not len(things):
        return np.zeros((len(places), len(things)), bool)
    return np.asarray(cdist(places, things.centers) <= 0.5 * _reach(things)[None], np.bool_)


def still_wrong(last: ThingSet, no: Places) -> Places:
    """The places of `no` that none of the dots as they are now lies on: where one does, a dot was moved or one of two
    was taken off.
    """
    return np.asarray(no[~_on(no, last).any(1)], np.float64)


def changed(things: ThingSet, yes: Places, no: Places) -> ThingSet:
    """The set with a thing at every place of `yes`, the one that it is on moved there, and without those under `no`."""
    gone = set(np.nonzero(_on(no, things).any(axis=0))[0].tolist())
    kept = dataclasses.replace(things, things=tuple(t for i, t in enumerate(things.things) if i not in gone))
    width = float(np.median(things.widths)) if len(things) else 0.12 * max(things.size)
    found, on = list(kept.things), claimed(kept, yes)
    for k, place in enumerate(yes):
        at = thing_at(place, width, things.size)
        if k in on:
            found[on[k]] = dataclasses.replace(found[on[k]], center=at.center)
        else:
            found.append(at)
    return dataclasses.replace(things, things=tuple(found))


def thing_at(place: Places, width: float, size: tuple[int, int]) -> Thing:
    """A square thing of that width, pixels, at a place (row, col), inside a photo of that size."""
    (top, bottom), (left, right) = (
        (max(0, min(int(v - width / 2), most - 2)), v + width / 2) for v, most in zip(place, size, strict=True)
    )
    box = Box(top, left, min(size[0], max(top + 2, round(bottom))), min(size[1], max(left + 2, round(right))))
    return Thing(box, (float(place[0]), float(place[1])))

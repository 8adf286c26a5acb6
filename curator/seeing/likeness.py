"""One tap: what a person points at says which things are meant.

Candidate sets of the whole photo, sets the trained net gives when it is told of the taps, and the last answer with the
person's changes made to it are weighed against each other; only sets that hold every thing pointed at and none that was
taken off may win.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import Area, Box, Look, Photo, Thing, ThingSet
from curator.seeing import judge, network, sets
from curator.seeing.finders import attest, find_all, learned
from curator.seeing.look import by_hand, framed

Pixels = NDArray[np.uint8]
Points = Sequence[tuple[float, float]]
ROUNDED = 0.002  # of the longer side: a dot as near as this to where it was answered is that dot
STAYS = 1.5  # log odds, for each correction after the first, in favour of the last answer changed as told; chosen on rendered photos (DEVELOPERS.md)


def more_like(seen: Photo, at: tuple[float, float], *, area: Area | None = None) -> ThingSet:
    """The thing at one place, x and y in fractions of the photo, and the rest like it; in the photo's pixels."""
    return meant(seen, [at], area=area)


def meant(seen: Photo, yes: Points, no: Points = (), *, before: ThingSet | None = None, area: Area | None = None) -> ThingSet:
    """The things a person means who pointed at `yes` and took off `no` (x, y in fractions); in the photo's pixels.

    `before` is the answer that was corrected, in the photo's pixels. Every place of `yes` is on a thing of the answer,
    none of `no` is.
    """
    pixels, box = framed(seen, area)
    height, width = seen.size
    scale = (pixels.shape[0] / box.height, pixels.shape[1] / box.width)
    back = (1 / scale[0], 1 / scale[1])

    def inside(points: Points) -> NDArray[np.float64]:
        return np.array([((y * height - box.top) * scale[0], (x * width - box.left) * scale[1]) for x, y in points]).reshape(-1, 2)

    last = None if before is None else sets.moved(before, scale, (-round(box.top * scale[0]), -round(box.left * scale[1])), pixels.shape[:2])
    return sets.moved(_best(pixels, inside(yes), inside(no), last), back, (box.top, box.left), seen.size)


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Again:
    """An answer given again from what a person corrected, and how it differs from what was shown."""

    things: ThingSet  # in the photo's pixels
    found: tuple[int, ...]  # things that no shown dot is on (indices into the things)
    gone: tuple[int, ...]  # shown dots that are on none of the things (indices into the dots)


def answer_again(seen: Look, shown: Points, yes: Points, no: Points) -> Again:
    """The things meant where `shown` stood and a person added `yes` and took off `no` (x, y in fractions).

    A place taken off beside one that was added counts as moved, not as wrong.
    """
    last = _as_found(seen, shown)
    height, width = seen.photo.size
    near = 0.5 * float(np.median(last.widths)) if len(last) else 0.0
    wrong = [n for n in no if all(math.hypot((n[0] - y[0]) * width, (n[1] - y[1]) * height) > near for y in yes)]
    things = meant(seen.photo, yes, wrong, before=last, area=seen.area)
    kept, stayed = sets.partners(things, last, reach=0.6)
    return Again(things, _others(len(things), kept), _others(len(last), stayed))


def _others(n: int, known: NDArray[np.intp]) -> tuple[int, ...]:
    return tuple(sorted(set(range(n)) - set(known.tolist())))


def _as_found(seen: Look, shown: Points) -> ThingSet:
    """The dots as things of the photo: as a reading found them, where one did, the others as wide as those."""
    own = by_hand(seen.photo, shown)
    every = [r.things for r in seen.readings if len(r.things)]
    if not len(own) or not every:
        return own
    apart = [cdist(own.centers, one.centers) for one in every]
    there = [a.min(1) <= ROUNDED * max(own.size) for a in apart]
    best = max(range(len(every)), key=lambda i: int(there[i].sum()))
    if not there[best].any():
        return own
    found, nearest, width = every[best], apart[best].argmin(1), float(np.median(every[best].widths))
    things = [found.things[j] if known else thing_at(p, width, own.size) for p, j, known in zip(own.centers, nearest, there[best], strict=True)]
    return dataclasses.replace(found, things=tuple(things))


def _best(pixels: Pixels, yes: NDArray[np.float64], no: NDArray[np.float64], last: ThingSet | None) -> ThingSet:
    found = find_all(pixels)
    told = _tapped(pixels, yes) if len(yes) and network.available() else []
    own = [] if last is None else [dataclasses.replace(changed(last, yes, no), clues={}, found_by="person")]
    own = [one for one in own if len(one)]
    every = judge.measured([*found, *attest.attested(pixels, [*told, *own], among=found)])
    fitting = [holds(m.things, yes, no) for m in every]
    if not any(fitting):
        return changed(last if last is not None else _nearest([m.things for m in every], yes, pixels), yes, no)
    believed = judge.beliefs([m.features for m in every], [len(m.things) for m in every])
    stays = STAYS * (len(yes) + len(no) - 1)
    score = [math.log(b.own + 1e-9) + stays * (m.things.found_by == "person") for b, m in zip(believed, every, strict=True)]
    return changed(every[max((i for i, fits in enumerate(fitting) if fits), key=lambda i: score[i])].things, yes, no)


def _tapped(pixels: Pixels, yes: NDArray[np.float64]) -> list[ThingSet]:
    """Sets the net gives at every size when it is told which things are meant."""
    taps = [(float(r), float(c)) for r, c in yes]
    found = [s for longer in network.SIZES for s in learned.main_sets(network.see(pixels, longer, taps), (pixels.shape[0], pixels.shape[1]))]
    return learned.agreed([changed(s, yes, np.empty((0, 2))) for s in found])


def holds(things: ThingSet, yes: NDArray[np.float64], no: NDArray[np.float64]) -> bool:
    """Whether each place of `yes` is on a thing of its own, and no place of `no` is in the middle of one."""
    if len(_claimed(things, yes)) < len(yes):
        return False
    return not len(no) or not len(_under(things, no, 0.35))


def _reach(things: ThingSet) -> NDArray[np.float64]:
    """(n,) how far from each thing's centre a place is still on it, over its width's share: a width, or the step to the next thing where that is less."""
    apart = cdist(things.centers, things.centers) + np.diag(np.full(len(things), np.inf))
    return np.asarray(np.minimum(things.widths, apart.min(1)) if len(things) > 1 else things.widths, np.float64)


def _claimed(things: ThingSet, yes: NDArray[np.float64]) -> dict[int, int]:
    """Which thing each place is on (place -> thing), each thing taken once."""
    if not len(yes) or not len(things):
        return {}
    apart = cdist(yes, things.centers)
    places, on = linear_sum_assignment(apart)
    near = apart[places, on] <= 0.6 * _reach(things)[on]
    return dict(zip(places[near].tolist(), on[near].tolist(), strict=True))


def _under(things: ThingSet, places: NDArray[np.float64], reach: float) -> set[int]:
    """Which things have one of the places within `reach` widths of their centre."""
    apart = cdist(places, things.centers)
    return {int(i) for i in np.nonzero((apart <= reach * _reach(things)[None]).any(0))[0]}


def changed(things: ThingSet, yes: NDArray[np.float64], no: NDArray[np.float64]) -> ThingSet:
    """The set with a thing at every place of `yes`, the one that it is on moved there, and without those under `no`."""
    gone = _under(things, no, 0.5) if len(no) and len(things) else set()
    kept = dataclasses.replace(things, things=tuple(t for i, t in enumerate(things.things) if i not in gone))
    width = float(np.median(things.widths)) if len(things) else 0.12 * max(things.size)
    found, on = list(kept.things), _claimed(kept, yes)
    for k, place in enumerate(yes):
        at = thing_at(place, width, things.size)
        if k in on:
            found[on[k]] = dataclasses.replace(found[on[k]], center=at.center)
        else:
            found.append(at)
    return dataclasses.replace(things, things=tuple(found))


def thing_at(place: NDArray[np.float64], width: float, size: tuple[int, int]) -> Thing:
    """A square thing of that width, pixels, at a place (row, col), inside a photo of that size."""
    (top, bottom), (left, right) = ((max(0, min(int(v - width / 2), most - 2)), v + width / 2) for v, most in zip(place, size, strict=True))
    box = Box(top, left, min(size[0], max(top + 2, round(bottom))), min(size[1], max(left + 2, round(right))))
    return Thing(box, (float(place[0]), float(place[1])))


def _nearest(every: list[ThingSet], yes: NDArray[np.float64], pixels: Pixels) -> ThingSet:
    """The set that holds most of the places; an empty one where there is none."""
    empty = ThingSet((), (pixels.shape[0], pixels.shape[1]), "person")
    return max(every, key=lambda s: len(_under(s, yes, 0.6)), default=empty) if len(yes) else empty

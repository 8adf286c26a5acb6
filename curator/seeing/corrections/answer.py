"""One tap: what a person points at says which things are meant.

Candidate sets of the whole photo, sets the trained net gives when it is told of the taps, and the last answer with the
person's changes made to it are weighed against each other (`told.py`); whichever wins has a thing at every place
pointed at
and none where one was taken off.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from curator.records import Area, Look, Photo, ThingSet
from curator.seeing import set_matching
from curator.seeing.corrections import ranking
from curator.seeing.look import by_hand, viewed
from curator.seeing.view import View

Points = Sequence[tuple[float, float]]
OTHERS = 3  # sets offered beside the likeliest
ROUNDED = 0.002  # of the longer side: a dot as near as this to where it was answered is that dot


def more_like(seen: Photo, at: tuple[float, float], *, area: Area | None = None, view: View | None = None) -> ThingSet:
    """The thing at one place, x and y in fractions of the photo, and the rest like it; in the photo's pixels."""
    return meant(seen, [at], area=area, view=view)


def meant(
    seen: Photo,
    yes: Points,
    no: Points = (),
    *,
    before: ThingSet | None = None,
    area: Area | None = None,
    view: View | None = None,
) -> ThingSet:
    """The things a person means who pointed at `yes` and took off `no` (x, y in fractions); in the photo's pixels.

    `before` is the answer that was corrected, in the photo's pixels. Every place of `yes` is on a thing of the answer,
    none of `no` is. `view` is what `viewed` made of this photo and area, where the caller has kept it.
    """
    return _ranked(seen, yes, no, before, area, view)[0]


def _ranked(
    seen: Photo, yes: Points, no: Points, before: ThingSet | None, area: Area | None, view: View | None
) -> list[ThingSet]:
    """Distinct sets that a person may mean, the likeliest first, at least one; in the photo's pixels."""
    view, box = (view, set_matching.area_box(seen.size, area)) if view else viewed(seen, area)
    height, width = seen.size
    scale = (view.size[0] / box.height, view.size[1] / box.width)

    def inside(points: Points) -> NDArray[np.float64]:
        return np.array(
            [((y * height - box.top) * scale[0], (x * width - box.left) * scale[1]) for x, y in points]
        ).reshape(-1, 2)

    last = (
        None
        if before is None
        else set_matching.moved(before, scale, (-round(box.top * scale[0]), -round(box.left * scale[1])), view.size)
    )
    found: list[ThingSet] = []
    for things in ranking.weighed(view, inside(yes), inside(no), last):
        if len(found) <= OTHERS and all(set_matching.same_things(things, one) < 0.95 for one in found):
            found.append(things)
    found = found or [ranking.changed(ThingSet((), view.size, "person"), inside(yes), inside(no))]
    return [set_matching.moved(one, (1 / scale[0], 1 / scale[1]), (box.top, box.left), seen.size) for one in found]


@dataclasses.dataclass(frozen=True, slots=True, eq=False)
class Again:
    """An answer given again from what a person corrected, and how it differs from what was shown."""

    things: ThingSet  # in the photo's pixels
    found: tuple[int, ...]  # things that no shown dot is on (indices into the things)
    gone: tuple[int, ...]  # shown dots that are on none of the things (indices into the dots)
    others: tuple[ThingSet, ...]  # next likely, for the person to choose from


def answer_again(seen: Look, shown: Points, yes: Points, no: Points, *, view: View | None = None) -> Again:
    """The things meant where `shown` stood and a person added `yes` and took off `no` (x, y in fractions).

    A place taken off where a shown dot still lies counts as moved, not as wrong.
    """
    last = _as_found(seen, shown)
    size = np.array(seen.photo.size, dtype=np.float64)
    off = ranking.still_wrong(last, np.array(no, dtype=np.float64).reshape(-1, 2)[:, ::-1] * size) / size
    wrong = [(float(x), float(y)) for y, x in off]
    things, *others = _ranked(seen.photo, yes, wrong, last, seen.area, view)
    kept, stayed = set_matching.partners(things, last, reach=0.6)
    return Again(
        things, _rest(len(things), kept), _rest(len(last), stayed), tuple(one for one in others if len(one) > 1)
    )


def _rest(n: int, known: NDArray[np.intp]) -> tuple[int, ...]:
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
    things = [
        found.things[j] if known else ranking.thing_at(p, width, own.size)
        for p, j, known in zip(own.centers, nearest, there[best], strict=True)
    ]
    return dataclasses.replace(found, things=tuple(things))

"""One tap: what a person points at says which things are meant.

Candidate sets of the whole photo and sets that the trained net gives when it is told of the tap are weighed against
each other (`ranking.py`); each has a thing at the place pointed at.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from curator.records import Area, Photo, ThingSet
from curator.seeing import set_matching
from curator.seeing.corrections import ranking
from curator.seeing.look import viewed
from curator.seeing.view import View


def more_like(
    seen: Photo,
    at: tuple[float, float],
    *,
    area: Area | None = None,
    view: View | None = None,
    shown: Sequence[ThingSet] = (),
) -> list[ThingSet]:
    """The thing at one place, x and y in fractions of the photo, and the rest like it, in the photo's pixels: the
    likeliest sets, best first, but those that she has been `shown`.

    `view` is what `viewed` made of this photo and area, where the caller has kept it.
    """
    view, box = (view, set_matching.area_box(seen.size, area)) if view else viewed(seen, area)
    height, width = seen.size
    scale = (view.size[0] / box.height, view.size[1] / box.width)
    corner = np.array((box.top, box.left), dtype=np.float64)
    place = (np.array([(at[1] * height, at[0] * width)]) - corner) * scale
    found = ranking.likeliest(view, place, [(one.centers - corner) * scale for one in shown])
    back = (1 / scale[0], 1 / scale[1])
    return [set_matching.moved(one, back, (box.top, box.left), seen.size) for one in found]

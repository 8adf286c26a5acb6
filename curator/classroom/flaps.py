"""A paper flap that covers some of a picture's things when it is folded over from one of the picture's edges."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

import numpy as np

from curator.classroom.marking.extents import reaches
from curator.records import Prompt

EDGES = ("top", "left", "bottom", "right")
LEAST = 0.5  # of a thing: so much of it may lie past the fold's end, for an outline is only so exact


class Flap(NamedTuple):
    """Folded over from this edge it covers the things that are hidden, and only them."""

    edge: str  # top, left, bottom, right
    depth: float  # of the picture's height, or of its width


def flap(prompt: Prompt, hidden: Collection[int], size: tuple[int, int]) -> Flap | None:
    """The shallowest flap over these dots of a picture of that height and width; None where an edge reaches no such
    cover without hiding others.
    """
    things = reaches(prompt, size) / np.array([size[1], size[0], size[1], size[0]])
    counted = [i for i, dot in enumerate(prompt.dots) if dot.side]
    under = np.array([i in hidden for i in counted])
    x, y, w, h = things[counted].T
    found = []
    for edge, at, reach in (("top", y, h), ("left", x, w), ("bottom", 1 - y, h), ("right", 1 - x, w)):
        far, near = float((at + reach)[under].max()), float((at - reach)[~under].min())
        apart = float(at[~under].min() - at[under].max())
        if apart > 2 * (1 - LEAST) * float(np.median(reach)) and near - far > -LEAST * float(np.median(reach)):
            found.append(Flap(edge, round((far + near) / 2, 4)))
    return min(found, key=lambda f: f.depth) if found else None

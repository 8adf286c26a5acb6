"""Two to four large things of one sort that look unlike, near the frame's edge or cut by it."""

from __future__ import annotations

import numpy as np

from curator.learning.rendered.figures import FIGURES
from curator.learning.rendered.kit import Kit, Shape
from curator.learning.rendered.stage import Stage, space
from curator.learning.rendered.things import THINGS

SORTS = {
    **FIGURES,
    **{
        name: THINGS[name]
        for name in ("vase", "cup", "fruit", "bottle", "candle", "book", "carton", "can", "bowl", "mushroom")
    },
}


LIKE = (
    {"mug", "cup"},
    {"jar", "vase"},
    {"jar", "can"},
    {"vase", "bottle"},
    {"can", "candle"},
    {"cup", "bowl"},
    {"book", "carton"},
)
"""Sorts that a person might count together."""


def _other(kit: Kit, name: str) -> Shape:
    """A thing of a sort that cannot be taken for the named one."""
    return SORTS[str(kit.rng.choice([s for s in SORTS if s != name and {s, name} not in LIKE]))](kit)


def unlike(kit: Kit) -> Stage:
    """Each has its own size, tone and pattern; now and then one thing of another sort stands beside."""
    rng = kit.rng
    stage = Stage(
        "solid unlike",
        fill=(0.9, 1.5),
        look=str(rng.choice(["oblique", "oblique", "front", "top"], p=[0.4, 0.25, 0.27, 0.08])),
        flat=True,
    )
    name = str(rng.choice([*FIGURES, *FIGURES, *SORTS]))
    n, alike = int(rng.choice([2, 2, 2, 3, 3, 4])), rng.random() < 0.2
    first = SORTS[name](kit)
    close, facing, x = float(rng.uniform(0.75, 1.2)), float(rng.uniform(0, 360)), 0.0
    spread = float(rng.choice([10, 30, 180]))
    for k in range(n):
        kit.unit = 1.0 if alike else float(np.exp(rng.normal(0, 0.16)))
        shape = first if k == 0 or alike else SORTS[name](kit)
        half = space(shape) / 2 * close
        x += half if k else 0.0
        y = float(rng.normal(0, 0.28)) * space(first) * 0.6
        stage.put(shape, (x, y, 0.0), turn=facing + float(rng.uniform(-spread, spread)), side=k + 1 if n == 2 else 0)
        x += half
    kit.unit = 1.0
    if rng.random() < 0.2:
        other = _other(kit, name)
        stage.put(
            other,
            (x + space(other) * 0.6, float(rng.normal(0, 0.3)), 0.0),
            turn=float(rng.uniform(0, 360)),
            framed=False,
        )
    stage.main = first.kind
    return stage

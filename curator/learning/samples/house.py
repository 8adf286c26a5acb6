"""Windows and walls: what hangs or stands on z = 0 seen as a wall, down the wall being -y."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from typing import Any

from curator.learning.samples import materials as made_of
from curator.learning.samples.nodes import Colour, Tree
from curator.learning.samples.shapes import block, spread, swept, turned

Spots = list[tuple[float, float]]


def _garden(t: Tree) -> Any:
    """The garden behind a window, out of focus, by height: lawn, hedge, trees, bright sky."""
    place = t.node("TexCoord").outputs["Window"]
    x, y, _ = t.node("SeparateXYZ", Vector=place).outputs
    cloud = t.node("TexNoise", Vector=place, Scale=5.0, Detail=4.0, Roughness=0.6).outputs[0]
    leaf = t.node("TexNoise", Vector=place, Scale=16.0, Detail=3.0, Roughness=0.6).outputs[0]
    line = t.maths("ADD", y, t.maths("MULTIPLY", t.maths("SUBTRACT", cloud, 0.5), 0.42))
    sky = t.mix(t.ramp(cloud, (0.4, 0.0), (0.6, 1.0)), (0.75, 1.0, 1.5), (1.5, 1.5, 1.5))
    trees = t.ramp(leaf, (0.36, (0.02, 0.04, 0.012)), (0.52, (0.1, 0.17, 0.035)), (0.68, (0.3, 0.4, 0.1)))
    lawn = t.ramp(leaf, (0.3, (0.12, 0.22, 0.04)), (0.7, (0.25, 0.38, 0.09)))
    view = t.mix(t.ramp(line, (0.58, 0.0), (0.64, 1.0)), trees, sky)
    view = t.mix(t.ramp(line, (0.33, 1.0), (0.37, 0.0)), view, lawn)
    trunk = t.maths("ABSOLUTE", t.maths("SUBTRACT", t.maths("ADD", x, t.maths("MULTIPLY", leaf, 0.03)), 0.585))
    return t.mix(
        t.maths("MULTIPLY", t.ramp(trunk, (0.012, 0.9), (0.024, 0.0)), t.ramp(y, (0.36, 0.0), (0.4, 1.0))),
        view,
        (0.03, 0.022, 0.015),
    )


def pane(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A pane of old glass in its putty, a unit square less the bars."""
    made = made_of.pane(_garden)
    lean = (chance.gauss(0, 0.008), chance.gauss(0, 0.008), 0)
    spread(lambda u, v: ((u - 0.5) * 0.96, (v - 0.5) * 0.96, 0.0), made, (x, y, 0.0), lean, across=4, along=4)


def _bar(at: tuple[float, float, float], size: tuple[float, float, float], paint: Any) -> None:
    block(paint, at, size, bevel=0.018)
    long = 1 if size[1] > size[0] else 0
    inner = [s * (0.55 if k != long and k < 2 else 1.0) for k, s in enumerate(size)]
    block(paint, (at[0], at[1], at[2] + size[2] / 2), (inner[0], inner[1], 0.05), bevel=0.012)


def window(at: Spots) -> None:
    """A painted window round the places: bars, frame, sill, handle, curtains; where there is a wide gap, a meeting rail."""
    paint = made_of.painted((0.74, 0.72, 0.66), (0.35, 0.25, 0.15), worn=0.2)
    xs, ys = sorted({p[0] for p in at}), sorted({p[1] for p in at})
    left, right, low, top = xs[0] - 0.5, xs[-1] + 0.5, ys[0] - 0.5, ys[-1] + 0.5
    cx, cy, w, h = (left + right) / 2, (low + top) / 2, right - left, top - low
    for a, b in pairwise(xs):
        _bar(((a + b) / 2, cy, 0.03), (0.09, h, 0.09), paint)
    for a, b in pairwise(ys):
        wide = b - a > 1.05
        _bar(
            (cx, (a + b) / 2, 0.06 if wide else 0.031),
            (w, b - a - 0.9 if wide else 0.09, 0.16 if wide else 0.09),
            paint,
        )
    for x in (left - 0.09, right + 0.09):
        block(paint, (x, cy, 0.08), (0.2, h + 0.36, 0.22), bevel=0.025)
        block(paint, (x + (0.2 if x > cx else -0.2), cy, 0.16), (0.26, h + 0.8, 0.3), bevel=0.04)
    for y in (low - 0.09, top + 0.09):
        block(paint, (cx, y, 0.081), (w + 0.36, 0.2, 0.22), bevel=0.025)
    block(paint, (cx, top + 0.3, 0.161), (w + 0.9, 0.28, 0.3), bevel=0.04)
    block(paint, (cx, low - 0.3, 0.42), (w + 1.3, 0.16, 0.95), bevel=0.04)
    brass = made_of.metal((0.62, 0.45, 0.16), 0.25, 0.5)
    if any(b - a > 1.05 for a, b in pairwise(ys)):
        middle = next((a + b) / 2 for a, b in pairwise(ys) if b - a > 1.05)
        turned([(0.0, 0.1), (0.06, 0.09), (0.085, 0.0)], brass, (cx + 0.02, middle, 0.17))
        swept(
            [(cx + 0.02, middle, 0.26), (cx + 0.14, middle + 0.01, 0.27), (cx + 0.27, middle + 0.04, 0.25)],
            [0.03, 0.025, 0.035],
            brass,
        )
    else:
        y = cy - 0.12
        block(brass, (right + 0.085, y, 0.2), (0.1, 0.3, 0.025), bevel=0.02)
        swept(
            [
                (right + 0.085, y, 0.2),
                (right + 0.085, y, 0.3),
                (right + 0.08, y - 0.12, 0.32),
                (right + 0.08, y - 0.36, 0.31),
            ],
            [0.035, 0.03, 0.035, 0.028],
            brass,
        )
    _curtain(left - 0.95, cy - 0.2, h + 1.9)
    _curtain(right + 0.95, cy - 0.2, h + 1.9)
    wall(made_of.plaster((0.5, 0.52, 0.47)), hole=(left - 0.3, right + 0.3, low - 0.3, top + 0.35))


def wall(paint: Any, hole: tuple[float, float, float, float] | None = None) -> None:
    if hole is None:
        block(paint, (0, 0, -0.05), (80, 80, 0.1), bevel=0)
        return
    left, right, low, top = hole
    for at, size in (
        ((left - 20, 0), (40, 80)),
        ((right + 20, 0), (40, 80)),
        (((left + right) / 2, top + 20), (right - left, 40)),
        (((left + right) / 2, low - 20), (right - left, 40)),
    ):
        block(paint, (*at, 0.0), (*size, 0.3), bevel=0)


def _curtain(x: float, y: float, tall: float) -> None:
    stuff = made_of.cloth((0.5, 0.36, 0.2), weave=30)

    def place(u: float, v: float) -> tuple[float, float, float]:
        fold = 0.11 * math.sin(u * 22 + 0.8 * math.sin(3 * v)) + 0.05 * math.sin(u * 47 + 2 * v)
        return ((u - 0.5) * 1.15 * (1 + 0.1 * (1 - v)), (v - 0.5) * tall, 0.62 + fold)

    spread(place, stuff, (x, y, 0), across=90, along=24, thick=0.02)


def rack(at: Spots) -> None:
    """A varnished plank on the wall behind the hooks."""
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    wood = made_of.wood((0.3, 0.155, 0.07), gloss=0.4)
    middle, long = (min(xs) + max(xs)) / 2, max(xs) - min(xs) + 1.15
    block(wood, (middle, sum(ys) / len(ys) + 0.12, 0.03), (long, 0.86, 0.09), bevel=0.03)


def trim(low: float, left: float) -> None:
    """What a cloakroom wall has besides: panelling below, a door frame to the left."""
    paint = made_of.painted((0.3, 0.36, 0.33), (0.4, 0.3, 0.2), worn=0.3)
    block(paint, (0, low, 0.1), (80, 0.16, 0.22), bevel=0.04)
    for k in range(-14, 15):
        block(paint, (k * 0.72, low - 6.1, 0.03), (0.7, 12, 0.08), bevel=0.02)
    frame = made_of.painted((0.7, 0.68, 0.62), worn=0.3)
    block(frame, (left, 0, 0.1), (0.3, 60, 0.2), bevel=0.04)
    block(frame, (left - 0.28, 0, 0.05), (0.26, 60, 0.1), bevel=0.03)


def step(at: Spots) -> None:
    """A stone doorstep under the places, a worn front edge, the door behind."""
    stone = made_of.stone((0.36, 0.34, 0.3))
    block(stone, (0, 1.0, -0.45), (14, 5.4, 0.9), bevel=0.1)
    block(made_of.stone((0.36, 0.34, 0.3), 3.1), (0, 6, -1.0), (80, 60, 0.2), bevel=0)
    block(made_of.wood((0.24, 0.13, 0.06)), (0, 3.2, 0.1), (5.4, 0.6, 0.24), bevel=0.06)
    door = made_of.painted((0.05, 0.16, 0.15), (0.3, 0.2, 0.1), worn=0.35)
    for k in range(-3, 4):
        block(door, (k * 0.72, 3.6, 4.2), (0.7, 0.2, 8), bevel=0.03)
    post = made_of.painted((0.62, 0.6, 0.54), worn=0.4)
    for x in (-2.75, 2.75):
        block(post, (x, 3.5, 4.2), (0.4, 0.5, 8.6), bevel=0.05)
    for x in (-7.0, 7.0):
        block(made_of.stone((0.42, 0.35, 0.27), 0.9), (x, 3.8, 3.5), (8.2, 0.6, 9.0), bevel=0.02)
    mat = made_of.cloth((0.2, 0.13, 0.07), weave=14)
    block(mat, (0, 0.3, 0.035), (4.4, 2.9, 0.09), bevel=0.03)

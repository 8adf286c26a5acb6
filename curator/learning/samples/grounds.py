"""What the things lie on, in or against."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from typing import Any

import numpy as np
from mathutils import Vector, noise

from curator.learning.samples import house
from curator.learning.samples import materials as made_of
from curator.learning.samples.garden import ladybird
from curator.learning.samples.shapes import block, pressed, spread, swept, turned

Spots = list[tuple[float, float]]


def _boards(paint: Any, wide: float, chance: random.Random) -> None:
    """Boards side by side along x, each with its own height, gap and ends."""
    y = -9.0
    while y < 26.0:
        here = wide * chance.uniform(0.94, 1.06)
        lean = (chance.gauss(0, 0.004), 0, chance.gauss(0, 0.0006))
        start = chance.uniform(-9, 9)
        for a, b in ((-34.0, start), (start + 0.025, 34.0)) if chance.random() < 0.4 else ((-34.0, 34.0),):
            block(
                paint,
                ((a + b) / 2, y + here / 2, -0.15 + chance.gauss(0, 0.006)),
                (b - a, here - 0.02, 0.3),
                lean,
                bevel=0.022,
            )
        y += here
    block(made_of.plain((0.02, 0.015, 0.01), 0.9), (0, 6, -0.6), (80, 60, 0.1), bevel=0)


def _rumpled(paint: Any, much: float, fold: float = 0.35, fine: int = 150) -> None:
    """Cloth or earth: a ground with gentle unevenness that is level about the middle."""

    def height(x: float, y: float) -> float:
        far = min(1.0, max(0.0, (math.hypot(x, y * 1.4) - 2.2) / 4.0))
        return much * (0.25 + far) * (noise.noise(Vector((x * fold, y * fold * 1.6, 0.3))) - 0.25) - 0.03

    spread(
        lambda u, v: ((u - 0.5) * 44, v * 34 - 12, height((u - 0.5) * 44, v * 34 - 12)), paint, across=fine, along=fine
    )


def plain(kind: str, chance: random.Random) -> None:
    """A table of boards, cloth, slate or stone flags, bare earth or a wall."""
    if kind == "wood":
        _boards(made_of.wood((0.31, 0.17, 0.075), gloss=0.4), 1.9, chance)
    elif kind == "pale":
        _boards(made_of.wood((0.58, 0.355, 0.195), gloss=0.5), 1.45, chance)
    elif kind == "blue":
        _boards(made_of.painted((0.09, 0.19, 0.28), (0.36, 0.25, 0.14), worn=0.75, rough=0.45), 1.7, chance)
    elif kind == "cloth":
        _rumpled(made_of.cloth((0.58, 0.57, 0.53), (0.2, 0.28, 0.4), weave=22, gap=3.6), 0.5)
    elif kind == "stone":
        block(made_of.stone((0.36, 0.34, 0.3), 3.1), (0, 6, -0.1), (80, 60, 0.2), bevel=0)
    elif kind == "slate":
        block(made_of.slate((0.045, 0.052, 0.058)), (0, 6, -0.1), (80, 60, 0.2), bevel=0)
    elif kind == "moss":
        _rumpled(made_of.earth((0.085, 0.06, 0.035)), 0.35, 0.9, 220)
    elif kind == "paper":
        block(made_of.plain((0.62, 0.59, 0.52), 0.8, bump=0.3), (0, 6, -0.1), (80, 60, 0.2), bevel=0)
    elif kind == "wall":
        house.wall(made_of.plaster((0.6, 0.55, 0.44)))
    elif kind == "leaf":
        _leaf_ground()


def _leaf_ground() -> None:
    """One big leaf, larger than the picture, over dark earth."""
    block(made_of.earth((0.05, 0.035, 0.02)), (0, 6, -3.0), (80, 60, 0.2), bevel=0)

    def place(u: float, v: float) -> tuple[float, float, float]:
        half = 5.6 * math.sin(math.pi * min(1.0, v * 0.94 + 0.03)) ** 0.6
        off = (2 * u - 1) * half
        vein = 0.05 * math.sin(9 * 2 * math.pi * (v - 0.55 * abs(u - 0.5))) * min(1.0, abs(off))
        return (
            off,
            (v - 0.46) * 19,
            -0.02 + 0.02 * abs(off) - 0.012 * off * off + vein - 0.05 * math.exp(-((off / 0.25) ** 2)),
        )

    spread(place, made_of.leafy((0.075, 0.17, 0.03)), (0.3, 0, -0.1), (0, 0, -0.7), across=80, along=180)


def carton(at: Spots) -> None:
    """A moulded egg box: a cup under every place, a peak between every four, a rim all round."""
    xs, ys = sorted({p[0] for p in at}), sorted({p[1] for p in at})
    left, right, low, top = xs[0] - 0.62, xs[-1] + 0.62, ys[0] - 0.62, ys[-1] + 0.62
    inner = [((a + b) / 2, (c + d) / 2) for a, b in pairwise(xs) for c, d in pairwise(ys)]

    def height(x: float, y: float) -> float:
        z = 0.34
        for cx, cy in at:
            away = math.hypot(x - cx, y - cy)
            z = min(z, 0.04 + 0.34 * min(1.0, max(0.0, (away - 0.16) / 0.36)) ** 1.5)
        for px, py in inner:
            away = math.hypot(x - px, y - py)
            z = max(z, 0.62 - max(0.0, away - 0.07) * 1.9)
        edge = min(x - left, right - x, y - low, top - y)
        return z if edge > 0.1 else 0.35 - 0.05 * (edge < 0.04)

    nx, ny = int((right - left) * 26), int((top - low) * 26)
    paper = made_of.pulp((0.36, 0.335, 0.3))
    shake = lambda x, y: 0.012 * noise.noise(Vector((x * 5, y * 5, 0)))  # noqa: E731
    spread(
        lambda u, v: (
            left + u * (right - left),
            low + v * (top - low),
            height(left + u * (right - left), low + v * (top - low)) + shake(u * 9, v * 9),
        ),
        paper,
        across=nx,
        along=ny,
        thick=0.035,
    )
    pressed(
        (right - left + 0.16, top - low + 0.16),
        [(0.0, 0.0), (0.02, 0.3), (0.0, 0.36), (0.06, 0.37), (0.09, 0.33)],
        paper,
        ((left + right) / 2, (low + top) / 2, 0.0),
        corner=0.2,
    )


def tray(at: Spots, paper: bool = True) -> None:
    """A baking tray with a rolled rim, a sheet of baking paper in it."""
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    cx, cy, w, h = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, max(xs) - min(xs) + 1.5, max(ys) - min(ys) + 1.5
    steel = made_of.metal((0.26, 0.25, 0.25), 0.3, 0.75)
    pressed(
        (w, h),
        [(0.0, 0.2), (0.0, 0.235), (0.05, 0.245), (0.08, 0.21), (0.14, 0.04), (0.3, 0.03)],
        steel,
        (cx, cy, 0.0),
        corner=0.28,
    )
    if not paper:
        return
    sheet = made_of.plain((0.6, 0.5, 0.36), 0.6, bump=0.4)

    def place(u: float, v: float) -> tuple[float, float, float]:
        x, y = (u - 0.5) * (w - 0.34), (v - 0.5) * (h - 0.34)
        edge = min(w / 2 - 0.17 - abs(x), h / 2 - 0.17 - abs(y))
        return (
            cx + x,
            cy + y,
            0.045 + 0.09 * math.exp(-edge / 0.07) + 0.016 * noise.noise(Vector((x * 1.7, y * 1.7, 4))),
        )

    spread(place, sheet, across=60, along=60)


def crate(at: Spots) -> None:
    """A shallow wooden box: a slatted floor, four sides, corner posts."""
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    cx, cy, w, h = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, max(xs) - min(xs) + 1.2, max(ys) - min(ys) + 1.2
    deal = made_of.wood((0.5, 0.35, 0.19), gloss=0.65)
    slats = max(3, round(h / 0.55))
    for k in range(slats):
        block(deal, (cx, cy - h / 2 + (k + 0.5) * h / slats, 0.02), (w, h / slats - 0.06, 0.06), bevel=0.012)
    for y in (cy - h / 2, cy + h / 2):
        block(deal, (cx, y, 0.2), (w + 0.1, 0.07, 0.36), bevel=0.014)
    for x in (cx - w / 2, cx + w / 2):
        block(deal, (x, cy, 0.2), (0.07, h - 0.07, 0.36), bevel=0.014)
        for y in (cy - h / 2 + 0.1, cy + h / 2 - 0.1):
            block(deal, (x + (0.09 if x < cx else -0.09), y, 0.2), (0.13, 0.13, 0.44), bevel=0.014)


def two_boards(at: Spots) -> None:
    house.rack(at[:4])
    house.rack(at[4:])
    house.trim(min(p[1] for p in at) - 1.9, min(p[0] for p in at) - 1.6)


def stem(at: Spots) -> None:
    """A stalk between two rows of leaflets, thinner and a little bent towards its tip."""
    ys = [p[1] for p in at]
    low, high = min(ys) - 1.3, max(ys) + 0.15
    line = [(0.025 * math.sin(k * 1.9), low + (high - low) * k / 7, 0.1) for k in range(8)]
    swept(line, np.linspace(0.085, 0.032, 8), made_of.plain((0.2, 0.21, 0.06), 0.55, bump=0.4))
    for x, y in at:
        foot = (0.02 * math.copysign(1, x), y - 0.28, 0.11)
        swept(
            [foot, (x * 0.12, y - 0.24, 0.12), (x * 0.24, y - 0.2, 0.13)],
            [0.026, 0.02, 0.02],
            made_of.plain((0.2, 0.23, 0.06), 0.55, bump=0.4),
            steps=8,
        )


def beetle(at: Spots) -> None:
    ladybird()


def _die(cx: float, cy: float, size: tuple[float, float], paint: Any, bevel: float) -> None:
    made = block(paint, (cx, cy, 0.275), (*size, 0.55), bevel=bevel)
    made.modifiers["edge"].segments = 6


def domino(at: Spots) -> None:
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    bone = made_of.plain((0.7, 0.64, 0.5), 0.3, bump=0.1)
    cx, cy = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    _die(cx, cy, (max(xs) - min(xs) + 0.75, max(ys) - min(ys) + 0.75), bone, 0.08)
    block(made_of.plain((0.05, 0.045, 0.04), 0.8), (cx, cy, 0.55), (0.035, max(ys) - min(ys) + 0.5, 0.008), bevel=0)
    turned(
        [(0.0, 0.0), (0.065, 0.0), (0.06, 0.018), (0.04, 0.03), (0.0, 0.034)],
        made_of.metal((0.6, 0.42, 0.14), 0.25, 0.4),
        (cx, cy, 0.55),
        steps=32,
    )


def dice(at: Spots) -> None:
    """Two dice, each under half of the places."""
    for part in (at[: len(at) // 2], at[len(at) // 2 :]):
        cx, cy = sum(p[0] for p in part) / len(part), sum(p[1] for p in part) / len(part)
        paint = made_of.plain((0.42, 0.025, 0.02), 0.22, bump=0.03, spread=0.05, Coat_Weight=0.3)
        _die(cx, cy, (1.2, 1.2), paint, 0.16)


def two_trays(at: Spots) -> None:
    tray(at[: len(at) // 2])
    tray(at[len(at) // 2 :])


def two_crates(at: Spots) -> None:
    crate(at[: len(at) // 2])
    crate(at[len(at) // 2 :])


UNDER: dict[str, Any] = {
    f.__name__: f for f in (carton, tray, crate, stem, beetle, domino, dice, two_trays, two_crates, two_boards)
}
UNDER["window"], UNDER["step"] = house.window, house.step

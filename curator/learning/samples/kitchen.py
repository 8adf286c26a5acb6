"""Things of a kitchen, each about one unit across, standing on z = 0."""

from __future__ import annotations

import math
import random

import numpy as np

from curator.learning.samples import materials as made_of
from curator.learning.samples.nodes import Colour
from curator.learning.samples.shapes import egg_shaped, spread, swept, turned


def egg(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    line = [
        (0.33 * math.sin(a) * (1 - 0.13 * math.cos(a)), 0.46 - 0.44 * math.cos(a)) for a in np.linspace(0, math.pi, 28)
    ]
    lean = (chance.gauss(0, 0.07), chance.gauss(0, 0.07), chance.uniform(0, 6))
    size = chance.uniform(0.96, 1.04)
    turned(
        [(r * size, z * size) for r, z in line],
        made_of.shell(colour),
        (x, y, 0.03),
        lean,
        finer=0,
        lumps=0.012,
        seed=x * 3 + y,
    )


def orange(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    size = chance.uniform(0.95, 1.05)
    line = []
    for a in np.linspace(0, math.pi, 36):
        dip = 0.04 * math.exp(-((math.pi - a) ** 2) / 0.03)
        line.append((0.4 * size * math.sin(a), size * (0.39 - 0.375 * math.cos(a)) - dip))
    lean = (chance.gauss(0, 0.35), chance.gauss(0, 0.35), chance.uniform(0, 6))
    # turned about its own middle, so that it lies on the ground however it leans
    turned(
        [(r, z - 0.39) for r, z in line],
        made_of.peel(colour),
        (x, y, 0.385),
        lean,
        finer=0,
        lumps=0.025,
        seed=x * 5 + y,
    )
    tip = np.array([math.sin(lean[1]), -math.sin(lean[0]), 1.0]) * 0.335 * size
    star = made_of.plain((0.16, 0.2, 0.05), 0.8, bump=0.4)
    egg_shaped(
        star,
        (
            x + tip[0] * math.cos(lean[2]) - tip[1] * math.sin(lean[2]),
            y + tip[0] * math.sin(lean[2]) + tip[1] * math.cos(lean[2]),
            0.385 + tip[2] * 0.97,
        ),
        (0.05, 0.045, 0.03),
        lumps=0.5,
        lump_size=3,
    )


def bun(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    size = chance.uniform(0.94, 1.05)
    line = [(0.0, 0.0), (0.3, 0.0), (0.4, 0.06), (0.44, 0.17), (0.42, 0.29), (0.33, 0.4), (0.18, 0.465), (0.0, 0.48)]
    curve = [(r * size, z * size * chance.uniform(0.98, 1.02)) for r, z in line]
    turned(
        curve,
        made_of.crust(colour),
        (x, y, 0.05),
        (0, 0, chance.uniform(0, 6)),
        finer=10,
        steps=56,
        lumps=0.055,
        size=2.6,
        seed=x * 7 + y * 3,
    )


def mug(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A mug of cocoa, its handle at `turn`; thick walls, a round lip, a foot."""
    glaze = made_of.glaze(colour)
    wall = [
        (0.0, 0.03),
        (0.25, 0.03),
        (0.27, 0.0),
        (0.315, 0.0),
        (0.345, 0.05),
        (0.37, 0.2),
        (0.375, 0.45),
        (0.37, 0.76),
        (0.375, 0.81),
        (0.355, 0.835),
        (0.33, 0.81),
        (0.325, 0.6),
        (0.325, 0.3),
        (0.0, 0.27),
    ]
    turned(wall, glaze, (x, y, 0), (0, 0, chance.uniform(0, 6)), steps=72, finer=6, lumps=0.006, size=3, seed=x)
    bow = [(0.405, 0, 0.68), (0.48, 0, 0.69), (0.585, 0, 0.6), (0.6, 0, 0.44), (0.53, 0, 0.28), (0.41, 0, 0.2)]
    swept(bow, [0.062, 0.05, 0.046, 0.046, 0.05, 0.065], glaze, (x, y, 0), (0, 0, turn), steps=18)
    cocoa = made_of.plain((0.3, 0.15, 0.075), 0.3, bump=0.02, spread=0.0)
    turned([(0.333, 0.69), (0.333, 0.706), (0.3, 0.7), (0.15, 0.7), (0.0, 0.7)], cocoa, (x, y, 0), finer=0)
    foam = made_of.plain((0.34, 0.19, 0.1), 0.6, bump=0.3, spread=0.0)
    for _ in range(26):
        a, far, r = chance.uniform(0, 6.28), chance.triangular(0.12, 0.318, 0.316), chance.uniform(0.003, 0.011)
        egg_shaped(foam, (x + far * math.cos(a), y + far * math.sin(a), 0.706), (r, r, r * 0.5))


def spoon(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A table spoon lying along y, its bowl towards `turn` + 180 degrees: bowl at -y for turn 0."""
    steel = made_of.metal(colour, 0.16, 0.25)
    ts = [0.0, 0.03, 0.12, 0.22, 0.3, 0.36, 0.42, 0.55, 0.75, 0.9, 0.97, 1.0]
    half = [0.03, 0.11, 0.235, 0.265, 0.2, 0.1, 0.056, 0.048, 0.06, 0.1, 0.085, 0.03]
    lift = [0.12, 0.1, 0.06, 0.06, 0.1, 0.15, 0.18, 0.16, 0.06, -0.03, -0.06, -0.06]

    def place(u: float, v: float) -> tuple[float, float, float]:
        near = (
            np.linspace(v - 0.045, v + 0.045, 7) if 0.05 < v < 0.95 else np.array([v])
        )  # rounds the corners of the tables
        wide, up = np.interp(near, ts, half).mean(), np.interp(near, ts, lift).mean()
        hollow = 0.15 * np.exp(-(((v - 0.19) / 0.13) ** 2))
        off = 2 * u - 1
        return (off * wide, 2.6 * (v - 0.5), up + hollow * (off * off - 1) * 0.95 - 0.02 * (1 - off * off) * (v > 0.4))

    spread(place, steel, (x, y, 0.115), (0, 0, turn), across=17, along=110, thick=0.035, subdivide=1)


BUILDERS = {f.__name__: f for f in (egg, orange, bun, mug, spoon)}

"""What lies about at the edge of a photo: one of each, so that nothing there can be counted."""

from __future__ import annotations

import math
import random

import numpy as np

from curator.learning.samples import materials as made_of
from curator.learning.samples.shapes import block, cut_out, egg_shaped, spread, swept, turned

Place = tuple[float, float]


def towel(at: Place, chance: random.Random) -> None:
    """A tea towel dropped in folds."""
    colour = chance.choice([(0.55, 0.12, 0.09), (0.62, 0.58, 0.5), (0.12, 0.25, 0.22), (0.6, 0.42, 0.12)])
    stuff = made_of.cloth(colour, tuple(0.8 - c * 0.3 for c in colour), weave=24, gap=0.9)
    phase = chance.uniform(0, 6)

    def place(u: float, v: float) -> tuple[float, float, float]:
        x, y = (u - 0.5) * 3.4, (v - 0.5) * 2.8
        ridge = 0.2 * math.sin(2.6 * x + 0.8 * y + phase) * math.exp(-((y / 1.6) ** 2)) + 0.09 * math.sin(
            6 * x - 3 * y + phase * 2
        )
        edge = min(u, 1 - u, v, 1 - v)
        return (
            x - 0.14 * math.sin(2 * y),
            y + 0.12 * math.sin(2.6 * x + phase),
            0.06 + abs(ridge) * min(1.0, 0.25 + edge * 5),
        )

    spread(place, stuff, (*at, 0.0), (0, 0, chance.uniform(0, 6)), across=80, along=70, thick=0.03)


def notebook(at: Place, chance: random.Random) -> None:
    """A closed notebook with a ribbon, a pencil across it."""
    turn = chance.uniform(-0.7, 0.7)
    cover = made_of.painted(
        chance.choice([(0.08, 0.1, 0.14), (0.3, 0.06, 0.05), (0.16, 0.2, 0.12)]), (0.35, 0.3, 0.22), worn=0.5, rough=0.6
    )
    block(made_of.plain((0.7, 0.66, 0.56), 0.9, bump=0.8), (*at, 0.13), (1.86, 2.56, 0.17), turn, bevel=0.01)
    for z in (0.03, 0.23):
        block(cover, (*at, z), (1.98, 2.7, 0.035), turn, bevel=0.015)
    wax = made_of.painted((0.6, 0.4, 0.06), (0.4, 0.28, 0.15), worn=0.3)
    lay = (math.pi / 2, 0, turn + 0.6)
    turned(
        [(0.0, -0.9), (0.055, -0.9), (0.055, 0.75), (0.052, 0.76)], wax, (*at, 0.3), lay, steps=6, finer=0, smooth=False
    )
    turned([(0.052, 0.75), (0.014, 1.0)], made_of.wood((0.6, 0.42, 0.24)), (*at, 0.3), lay, finer=0)
    turned([(0.014, 1.0), (0.003, 1.06), (0.0, 1.06)], made_of.plain((0.03, 0.03, 0.03), 0.4), (*at, 0.3), lay, finer=0)


def cable(at: Place, chance: random.Random) -> None:
    """A loose cable running out of the picture."""
    turn = math.atan2(at[1], at[0])
    line = [(k * 0.7, 0.45 * math.sin(k * 1.1 + chance.uniform(-0.4, 0.4)), 0.06) for k in range(-3, 9)]
    swept(
        line,
        0.055,
        made_of.plain(chance.choice([(0.03, 0.03, 0.03), (0.6, 0.58, 0.54)]), 0.5),
        (*at, 0.0),
        (0, 0, turn + 1.1),
        steps=12,
    )


def plant(at: Place, chance: random.Random) -> None:
    """Leaves of a house plant that reach into the picture."""
    inward = math.atan2(-at[1], -at[0])
    green = made_of.leafy((0.06, 0.15, 0.04))
    for k in range(9):
        turn = inward + chance.gauss(0, 0.85)
        long, wide, lift = chance.uniform(1.2, 2.3), chance.uniform(0.22, 0.4), chance.uniform(0.4, 1.6)

        def place(
            u: float, v: float, long: float = long, wide: float = wide, lift: float = lift
        ) -> tuple[float, float, float]:
            half = wide * math.sin(math.pi * (0.04 + 0.96 * v)) ** 0.7
            off = (2 * u - 1) * half
            return (v * long, off, lift * math.sin(2.2 * v) - 0.35 * v * v + 0.3 * abs(off) + 0.2)

        start = (at[0] * 1.12 + chance.gauss(0, 0.1), at[1] * 1.12 + chance.gauss(0, 0.1))
        spread(place, green, (*start, 0.25 + 0.05 * k), (0, 0, turn), across=9, along=30, thick=0.01)


def plate(at: Place, chance: random.Random) -> None:
    """A plate with a knife on it and a heel of bread crumbs."""
    china = made_of.glaze((0.66, 0.64, 0.58), (0.7, 0.68, 0.62))
    turned(
        [
            (0.0, 0.03),
            (0.75, 0.03),
            (0.85, 0.06),
            (1.3, 0.2),
            (1.36, 0.225),
            (1.34, 0.2),
            (0.9, 0.03),
            (0.8, 0.0),
            (0.0, 0.0),
        ],
        china,
        (*at, 0.0),
        steps=72,
    )
    steel = made_of.metal((0.65, 0.65, 0.66), 0.15, 0.3)
    blade = [(-1.0, -0.07), (0.25, -0.09), (0.25, 0.07), (-0.7, 0.1), (-0.95, 0.05)]
    turn = chance.uniform(0, 6)
    cut_out(blade, 0.025, steel, (*at, 0.23), (0, 0.0, turn), bevel=0.01)
    swept(
        [(0.25, 0, 0.02), (0.7, 0, 0.03), (1.3, 0.02, 0.03)],
        [0.05, 0.075, 0.085],
        made_of.wood((0.16, 0.08, 0.04)),
        (*at, 0.23),
        (0, 0, turn),
        flat=0.6,
    )


def jar(at: Place, chance: random.Random) -> None:
    """A jam jar half full of something dark."""
    turned(
        [
            (0.0, 0.0),
            (0.5, 0.0),
            (0.56, 0.06),
            (0.56, 1.1),
            (0.5, 1.25),
            (0.5, 1.4),
            (0.465, 1.4),
            (0.465, 1.25),
            (0.52, 1.08),
            (0.52, 0.1),
            (0.0, 0.06),
        ],
        made_of.glass((0.92, 0.97, 0.95)),
        (*at, 0.0),
        steps=56,
    )
    turned(
        [(0.0, 0.07), (0.515, 0.1), (0.515, 0.7), (0.0, 0.7)],
        made_of.plain(chance.choice([(0.25, 0.02, 0.03), (0.3, 0.14, 0.02)]), 0.25),
        (*at, 0.0),
        finer=3,
    )


def twine(at: Place, chance: random.Random) -> None:
    """A ball of string, its end run out."""
    string = made_of.cloth((0.45, 0.33, 0.18), weave=90)
    spin = np.random.default_rng(chance.randrange(999))
    line, axis = [], np.array([0.3, 0.2, 1.0])
    point = np.array([0.5, 0.0, 0.0])
    for k in range(420):
        axis = axis + spin.normal(0, 0.16, 3)
        axis /= np.linalg.norm(axis)
        step = np.cross(axis, point)
        point = point + step / (np.linalg.norm(step) + 1e-9) * 0.24
        point *= 0.5 / np.linalg.norm(point)
        line.append(tuple(point * (1 + 0.0002 * k)))
    swept(line, 0.036, string, (*at, 0.55), steps=7, curve=2)
    tail = [(0.4, 0.2, 0.06), (0.9, 0.5, 0.05), (1.1, 0.1, 0.04), (1.7, 0.2, 0.04), (2.1, 0.7, 0.04)]
    swept(tail, 0.036, string, (*at, 0.0), (0, 0, math.atan2(-at[1], -at[0]) + 0.9), steps=7)


def twig(at: Place, chance: random.Random) -> None:
    """A bit of branch with a dead leaf."""
    bark = made_of.wood((0.2, 0.13, 0.08), gloss=0.8, size=2)
    turn = chance.uniform(0, 6)
    swept(
        [(-1.4, 0.1, 0.09), (-0.5, -0.05, 0.11), (0.3, 0.12, 0.1), (1.2, 0.0, 0.12), (1.6, 0.15, 0.1)],
        [0.09, 0.085, 0.07, 0.055, 0.03],
        bark,
        (*at, 0.0),
        (0, 0, turn),
    )
    swept([(0.2, 0.1, 0.1), (0.6, 0.45, 0.12), (0.75, 0.9, 0.1)], [0.05, 0.04, 0.02], bark, (*at, 0.0), (0, 0, turn))
    spread(
        lambda u, v: (
            (2 * u - 1) * 0.34 * math.sin(math.pi * v) ** 0.8,
            v * 1.0,
            0.1 + 0.16 * math.cos(5 * u) * v + 0.12 * v,
        ),
        made_of.leafy((0.22, 0.11, 0.03)),
        (at[0] + 0.3, at[1] + 0.2, 0.02),
        (0, 0, turn + 1),
        across=11,
        along=24,
    )


def pebble(at: Place, chance: random.Random) -> None:
    egg_shaped(
        made_of.stone((0.34, 0.31, 0.27)),
        (*at, 0.24),
        (0.62, 0.45, 0.3),
        (0.1, 0, chance.uniform(0, 6)),
        lumps=0.3,
        lump_size=1.4,
        seed=at[0],
    )


def brush(at: Place, chance: random.Random) -> None:
    """A brush on its side: a painter's, the handle hung with a hole."""
    turn = chance.uniform(0, 6)
    swept(
        [(-1.9, 0, 0.14), (-1.2, 0, 0.16), (-0.4, 0, 0.15), (0.0, 0, 0.15)],
        [0.1, 0.14, 0.1, 0.17],
        made_of.painted((0.5, 0.2, 0.06), (0.5, 0.36, 0.2), worn=0.5),
        (*at, 0.0),
        (0, 0, turn),
        flat=0.7,
    )
    block(
        made_of.metal((0.6, 0.58, 0.52), 0.25, 0.6),
        (at[0] + 0.22 * math.cos(turn), at[1] + 0.22 * math.sin(turn), 0.15),
        (0.44, 0.5, 0.2),
        turn,
        bevel=0.04,
    )
    for _ in range(150):
        off, far = chance.uniform(-0.22, 0.22), chance.uniform(0.75, 0.98)
        z = chance.uniform(0.07, 0.22)
        swept(
            [
                (0.4, off, z),
                (0.7, off * 1.1 + chance.gauss(0, 0.015), z),
                (far, off * 1.25 + chance.gauss(0, 0.03), z - 0.03),
            ],
            0.009,
            made_of.plain((0.06, 0.045, 0.03), 0.7),
            (*at, 0.0),
            (0, 0, turn),
            steps=4,
            curve=2,
        )


def crumbs(at: Place, chance: random.Random) -> None:
    """A scatter of bits of every size, too small to be counted."""
    paint = made_of.plain((0.5, 0.33, 0.15), 0.9, bump=0.6, spread=0.4)
    for _ in range(45):
        r = chance.uniform(0.006, 0.03)
        where = (at[0] + chance.gauss(0, 1.2), at[1] + chance.gauss(0, 0.84), r * 0.5)
        egg_shaped(
            paint,
            where,
            (r, r * chance.uniform(0.5, 1), r * 0.7),
            (0, 0, chance.uniform(0, 6)),
            lumps=0.6,
            seed=where[0],
        )


KITCHEN = (towel, notebook, plate, jar, plant, cable)
WORKSHOP = (notebook, brush, twine, cable, towel, jar)
GARDEN = (twig, pebble, plant, twine)

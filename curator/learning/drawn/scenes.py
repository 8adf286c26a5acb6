"""One training scene from a seed: `make(seed, size)` picks a family and draws it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning.drawn import arrange, boards, bodies, hands, studded
from curator.learning.scene import Scene

Family = Callable[[np.random.Generator, int], Scene]

FAMILIES: dict[str, tuple[Family, float]] = {
    "scattered": (arrange.scattered, 6),
    "two rows": (arrange.two_rows, 5),
    "one row": (arrange.one_row, 3),
    "lattice": (arrange.lattice, 5),
    "ring": (arrange.ring, 2),
    "heap": (arrange.heap, 9),
    "mirrored": (arrange.mirrored, 3),
    "groups": (arrange.groups, 4),
    "two beside": (arrange.beside, 7),
    "pairs": (arrange.pairs, 3),
    "unlike looks": (arrange.unlike, 5),
    "two kinds": (arrange.two_kinds, 4),
    "insect": (bodies.insect, 4),
    "butterfly": (bodies.butterfly, 3),
    "flower": (bodies.flower, 3),
    "hands": (hands.hands, 4),
    "leaflets": (bodies.leaflets, 2),
    "carton": (boards.carton, 5),
    "keys": (boards.keys, 6),
    "facade": (boards.facade, 5),
    "one window": (boards.one_window, 3),
    "shelves": (boards.shelves, 3),
    "pips": (boards.many_dice, 6),
    "fan": (boards.fan, 4),
    "studded": (studded.studded, 6),
    "stool": (studded.stool, 2),
    "nothing": (arrange.nothing, 9),
}
"""Each family and how often it is drawn."""


def make(seed: int, size: int = 384, family: str | None = None) -> Scene:
    """The scene of this seed, `size` pixels a side; always the same one for the same material."""
    rng = np.random.default_rng(seed)
    names = list(FAMILIES)
    weights = np.array([FAMILIES[n][1] for n in names])
    chosen = names[int(rng.choice(len(names), p=weights / weights.sum()))]
    return FAMILIES[family or chosen][0](rng, size)

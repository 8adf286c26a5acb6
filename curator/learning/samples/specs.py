"""What a row says of a sample picture, and how places are laid out, in units of one thing."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

Place = tuple[float, float, float]  # x, y, turn


@dataclass(frozen=True)
class Spec:
    """One picture: what stands where, seen from which height, and what a careful person says of it."""

    name: str
    thing: str
    things: str
    builder: str
    places: tuple[Place, ...]
    half: int | None
    kind: str
    shows: str
    under: str = ""
    ground: str = "wood"
    colours: tuple[tuple[float, float, float], ...] = ((0.8, 0.7, 0.55),)
    slant: float = 12.0  # degrees away from straight above
    roll: float = 2.0
    also: tuple[str, ...] = ()
    difficulty: str = "easy"
    odds: int = 2  # how many unlike things lie about
    cups: tuple[Place, ...] = field(default=())  # places of the carton where some are empty
    lies_about: str = "kitchen"  # from which set: kitchen, workshop, garden
    crumbs: bool = False
    light: str = "room"  # room, sun (into the room), garden (sunny), shade
    fill: float = 0.7  # how much of the picture's width or height the things take up
    lower: float = 0.0  # how far below the middle of the picture they lie
    bias: float = 0.0  # exposure, in stops, besides what the meter says
    upright: bool = False


def grid(
    rows: int, columns: int, dx: float = 1.15, dy: float = 1.15, *, turn: float = 0.0, at: tuple[float, float] = (0, 0)
) -> list[Place]:
    return [
        (at[0] + (c - (columns - 1) / 2) * dx, at[1] + ((rows - 1) / 2 - r) * dy, turn)
        for r in range(rows)
        for c in range(columns)
    ]


def mirrored(half: list[Place]) -> list[Place]:
    return half + [(-x, y, -t) for x, y, t in half]


def leaflets(pairs: int) -> list[Place]:
    return mirrored([(0.5, 0.62 * (k - (pairs - 1) / 2), -1.05) for k in range(pairs)])


def scattered(count: int, seed: int, reach: tuple[float, float], apart: float = 1.05) -> list[Place]:
    chance, found = random.Random(seed), list[Place]()
    while len(found) < count:
        p = (chance.uniform(-reach[0], reach[0]), chance.uniform(-reach[1], reach[1]), chance.uniform(0, 6.28))
        if all(math.dist(p[:2], q[:2]) > apart for q in found):
            found.append(p)
    return found


CREAM, TAN, WHITE, RED = (0.82, 0.7, 0.52), (0.6, 0.36, 0.2), (0.85, 0.84, 0.8), (0.6, 0.08, 0.06)
GREEN, BLUE, YELLOW, CLAY, STEEL = (
    (0.12, 0.35, 0.1),
    (0.1, 0.22, 0.5),
    (0.85, 0.6, 0.08),
    (0.55, 0.24, 0.12),
    (0.7, 0.7, 0.72),
)
FIVE, SIX = (
    [(0.0, 0.0, 0.0), *((x, y, 0.0) for x in (-0.32, 0.32) for y in (-0.32, 0.32))],
    [(x, y, 0.0) for x in (-0.3, 0.3) for y in (-0.34, 0, 0.34)],
)


def shifted(places: list[Place], x: float, y: float = 0.0) -> list[Place]:
    return [(a + x, b + y, t) for a, b, t in places]


def row(
    name: str,
    thing: str,
    things: str,
    builder: str,
    places: list[Place],
    half: int | None,
    kind: str,
    shows: str,
    **more: object,
) -> Spec:
    return Spec(name, thing, things, builder, tuple(places), half, kind, shows, **more)  # type: ignore[arg-type]

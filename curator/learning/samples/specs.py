"""What the sample pictures show: one row a picture. Places in units of one thing; side 1, 2 or 0 (left over)."""

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
    odds: int = 2
    cups: tuple[Place, ...] = field(default=())  # places of the carton where some are empty


def grid(rows: int, columns: int, dx: float = 1.15, dy: float = 1.15, *, turn: float = 0.0, at: tuple[float, float] = (0, 0)) -> list[Place]:
    return [(at[0] + (c - (columns - 1) / 2) * dx, at[1] + ((rows - 1) / 2 - r) * dy, turn) for r in range(rows) for c in range(columns)]


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
GREEN, BLUE, YELLOW, CLAY, STEEL = (0.12, 0.35, 0.1), (0.1, 0.22, 0.5), (0.85, 0.6, 0.08), (0.55, 0.24, 0.12), (0.7, 0.7, 0.72)
FIVE, SIX = [(0.0, 0.0, 0.0), *((x, y, 0.0) for x in (-0.32, 0.32) for y in (-0.32, 0.32))], [(x, y, 0.0) for x in (-0.3, 0.3) for y in (-0.34, 0, 0.34)]


def shifted(places: list[Place], x: float, y: float = 0.0) -> list[Place]:
    return [(a + x, b + y, t) for a, b, t in places]


def _s(name: str, thing: str, things: str, builder: str, places: list[Place], half: int | None, kind: str, shows: str, **more: object) -> Spec:
    return Spec(name, thing, things, builder, tuple(places), half, kind, shows, **more)  # type: ignore[arg-type]


SPECS: tuple[Spec, ...] = (
    _s("porch-boots", "boot", "boots", "boot", [(-0.45, 0, -1), (0.45, 0, 1)], 1, "flip", "One pair of rubber boots on a stone porch", ground="stone", colours=(GREEN,), slant=25, odds=1),
    _s("kitchen-mugs", "mug", "mugs", "mug", [(-0.8, 0, math.pi), (0.8, 0, 0.0)], 1, "flip", "Two mugs of cocoa, handles outward", ground="cloth", colours=(BLUE,), slant=30),
    _s("spoons-head-to-tail", "spoon", "spoons", "spoon", [(-0.45, 0, 0.0), (0.45, 0, math.pi)], 1, "turn", "Two spoons lying head to tail", ground="blue", colours=(STEEL,), odds=1),
    _s("window-four-panes", "pane", "panes", "pane", grid(2, 2, 1.0, 1.0), 2, "slide", "A window with four panes", under="sash", ground="wall", colours=((0.3, 0.5, 0.75),), odds=0, also=("2:1",)),
    _s("four-buns", "bun", "buns", "bun", grid(2, 2), 2, "slide", "Four buns on a baking tray", under="tray", ground="pale", colours=((0.62, 0.34, 0.13),), slant=20, also=("2:1",)),
    _s("spoons-in-fours", "spoon", "spoons", "spoon", [(-1.2, 0, 0.0), (-0.4, 0, math.pi), (0.4, 0, 0.0), (1.2, 0, math.pi)], 2, "turn", "Four spoons, every other one the other way round", ground="slate", colours=(STEEL,), difficulty="medium"),
    _s("bun-tin-six", "bun", "buns", "bun", grid(2, 3), 3, "slide", "Six buns in two rows on a tray", under="tray", ground="cloth", colours=((0.66, 0.4, 0.18),), slant=18),
    _s("beetle-six-spots", "spot", "spots", "spot", mirrored([(0.5, 0.75, 0), (0.72, -0.05, 0), (0.45, -0.8, 0)]), 3, "flip", "A beetle with three spots on each wing case", under="beetle", ground="moss", colours=((0.02, 0.02, 0.02),), slant=5, odds=0, difficulty="medium", also=("6:3", "2:1")),
    _s("domino-threes", "pip", "pips", "pip", shifted([(-0.3, 0.32, 0), (0, 0, 0), (0.3, -0.32, 0)], -0.62) + shifted([(-0.3, 0.32, 0), (0, 0, 0), (0.3, -0.32, 0)], 0.62), 3, "slide", "A domino with three and three", under="domino", ground="pale", colours=((0.02, 0.02, 0.02),), odds=1, also=("2:1",)),
    _s("eggs-eight", "egg", "eggs", "egg", grid(2, 4, 1.05, 1.05), 4, "slide", "A carton with eight eggs in two rows", under="carton", ground="pale", colours=(CREAM, TAN), slant=22),
    _s("leaf-eight", "leaflet", "leaflets", "leaf", leaflets(4), 4, "flip", "A leaf with four leaflets on each side", under="stem", ground="stone", colours=(GREEN,), slant=6, odds=1),
    _s("hooks-four-and-four", "hook", "hooks", "hook", shifted(grid(1, 4, 0.75), -2.3) + shifted(grid(1, 4, 0.75), 2.3), 4, "split", "Two coat racks with four hooks each", under="two_boards", ground="wall", colours=((0.12, 0.1, 0.09),), odds=0, difficulty="medium", also=("2:1",)),
    _s("eggs-ten", "egg", "eggs", "egg", grid(2, 5, 1.05, 1.05), 5, "slide", "A carton with ten eggs in two rows", under="carton", ground="wood", colours=(WHITE,), slant=25),
    _s("dice-fives", "pip", "pips", "pip", shifted(FIVE, -1.2) + shifted(FIVE, 1.2, 0.15), 5, "split", "Two dice, each showing five", under="dice", ground="cloth", colours=(WHITE,), odds=1, also=("2:1",)),
    _s("leaf-ten", "leaflet", "leaflets", "leaf", leaflets(5), 5, "flip", "A leaf with five leaflets on each side", under="stem", ground="wall", colours=((0.2, 0.3, 0.06),), slant=8, odds=1),
    _s("eggs-dozen", "egg", "eggs", "egg", grid(2, 6, 1.05, 1.05), 6, "slide", "A carton with twelve eggs in two rows", under="carton", ground="slate", colours=(TAN,), slant=24),
    _s("dice-sixes", "pip", "pips", "pip", shifted(SIX, -1.1) + shifted(SIX, 1.1), 6, "split", "Two dice, each showing six", under="dice", ground="pale", colours=(WHITE,), odds=1, difficulty="medium", also=("2:1", "6:3")),
    _s("trays-six-and-six", "bun", "buns", "bun", shifted(grid(2, 3), -2.3) + shifted(grid(2, 3), 2.3), 6, "split", "Two trays with six buns each", under="two_trays", ground="wood", colours=((0.62, 0.36, 0.14),), slant=15, odds=0, also=("2:1",)),
    _s("bulbs-fourteen", "bulb", "bulbs", "bulb", grid(2, 7, 1.0, 1.15), 7, "slide", "Fourteen flower bulbs in two rows", ground="moss", colours=((0.5, 0.28, 0.1),), slant=20),
    _s("leaf-fourteen", "leaflet", "leaflets", "leaf", leaflets(7), 7, "flip", "A long leaf with seven leaflets on each side", under="stem", ground="cloth", colours=(GREEN,), slant=6, odds=1, difficulty="medium"),
    _s("crayons-sixteen", "crayon", "crayons", "crayon", grid(2, 8, 0.55, 2.2), 8, "slide", "Sixteen crayons in two rows", ground="wall", colours=(RED,), slant=12, odds=1, difficulty="medium"),
    _s("buttons-sixteen", "button", "buttons", "button", grid(2, 8, 1.0, 1.1, turn=0.3), 8, "slide", "Sixteen buttons in two rows", ground="slate", colours=(YELLOW,), slant=28),
    _s("pots-eighteen", "pot", "pots", "pot", grid(2, 9, 0.98, 1.2), 9, "slide", "Eighteen flower pots in two rows", ground="pale", colours=(CLAY,), slant=26, difficulty="medium"),
    _s("oranges-nine-and-nine", "orange", "oranges", "orange", shifted(grid(3, 3, 0.92, 0.92), -2.3) + shifted(grid(3, 3, 0.92, 0.92), 2.3), 9, "split", "Two trays with nine oranges each", under="two_trays", ground="wall", colours=((0.8, 0.32, 0.03),), odds=0, difficulty="medium", also=("2:1",)),
    _s("pegs-twenty", "peg", "pegs", "peg", grid(2, 10, 0.62, 1.9), 10, "slide", "Twenty clothes pegs in two rows", ground="blue", colours=((0.68, 0.5, 0.28),), slant=10, odds=1, difficulty="medium"),
    _s("tins-ten-and-ten", "tin", "tins", "tin", shifted(grid(2, 5, 0.95, 0.95), 0, 1.75) + shifted(grid(2, 5, 0.95, 0.95), 0, -1.75), 10, "split", "Two boxes of ten paint tins", ground="wood", colours=(BLUE,), slant=8, odds=1, difficulty="medium", also=("20:10",)),
    _s("knobs-twenty-two", "knob", "knobs", "knob", grid(2, 11, 0.8, 1.1), 11, "slide", "Twenty-two drawer knobs sorted in two rows", ground="cloth", colours=((0.6, 0.42, 0.12),), slant=15, odds=1, difficulty="medium"),
    _s("leaf-twenty-two", "leaflet", "leaflets", "leaf", leaflets(11), 11, "flip", "A very long leaf with eleven leaflets on each side", under="stem", ground="pale", colours=((0.1, 0.3, 0.12),), slant=4, odds=0, difficulty="hard"),
    _s("oranges-twenty-four", "orange", "oranges", "orange", grid(2, 12, 0.95, 1.1), 12, "slide", "Twenty-four oranges in two rows", ground="stone", colours=((0.8, 0.35, 0.03),), slant=16, odds=1, difficulty="medium"),
    _s("buns-two-dozen", "bun", "buns", "bun", shifted(grid(3, 4, 0.95, 0.95), -2.7) + shifted(grid(3, 4, 0.95, 0.95), 2.7), 12, "split", "Two trays with a dozen buns each", under="two_trays", ground="cloth", colours=((0.64, 0.38, 0.16),), odds=0, difficulty="medium", also=("2:1",)),
    # no double
    _s("three-pots", "pot", "pots", "pot", [(-1.2, 0, 0), (0, 0.2, 0), (1.2, -0.1, 0)], None, "none", "Three flower pots on a bench", ground="wood", colours=(CLAY,), slant=35),
    _s("five-oranges", "orange", "oranges", "orange", [(1.1 * math.cos(a), 1.1 * math.sin(a), 0) for a in (0.3, 1.56, 2.8, 4.07, 5.3)], None, "none", "Five oranges in a ring", ground="blue", colours=((0.8, 0.33, 0.03),), slant=18),
    _s("seven-buttons", "button", "buttons", "button", scattered(7, 5, (2.4, 1.5)), None, "none", "Seven buttons lying about", ground="cloth", colours=(RED,), slant=10),
    _s("nine-eggs", "egg", "eggs", "egg", grid(3, 3, 1.05, 1.05), None, "none", "Nine eggs, three by three", under="carton", ground="pale", colours=(CREAM,), slant=20),
    _s("one-egg-gone", "egg", "eggs", "egg", grid(2, 6, 1.05, 1.05)[:9] + grid(2, 6, 1.05, 1.05)[10:], None, "none", "A carton for twelve with eleven eggs", under="carton", ground="wood", colours=(TAN,), slant=22, difficulty="hard", also=("12:6",), cups=tuple(grid(2, 6, 1.05, 1.05))),
    _s("thirteen-crayons", "crayon", "crayons", "crayon", grid(1, 13, 0.55), None, "none", "Thirteen crayons in a row", ground="slate", colours=(YELLOW,), odds=1, difficulty="medium"),
    _s("five-and-three", "bun", "buns", "bun", shifted(grid(1, 5), 0, 0.6) + shifted(grid(1, 3), -0.4, -0.6), None, "none", "Five buns behind, three in front", under="tray", ground="cloth", colours=((0.6, 0.34, 0.13),), slant=15, difficulty="medium"),
    _s("four-and-three-hooks", "hook", "hooks", "hook", shifted(grid(1, 4, 0.75), -2.3) + shifted(grid(1, 3, 0.75), 2.3), None, "none", "Coat racks with four hooks and three", under="two_boards", ground="wall", colours=((0.12, 0.1, 0.09),), odds=0, difficulty="medium", also=("2:1",)),
    _s("fifteen-tins", "tin", "tins", "tin", grid(3, 5, 0.98, 0.98), None, "none", "Fifteen paint tins, three by five", ground="stone", colours=(GREEN,), slant=15, odds=1, difficulty="medium"),
    _s("eleven-bulbs", "bulb", "bulbs", "bulb", scattered(11, 8, (2.6, 1.7), 0.85), None, "none", "Eleven flower bulbs tipped out", ground="moss", colours=((0.5, 0.28, 0.1),), slant=15, difficulty="medium"),
    _s("three-mugs", "mug", "mugs", "mug", [(-1.3, 0.2, 2.4), (0, -0.2, 0.5), (1.3, 0.1, 5.6)], None, "none", "Three mugs of cocoa", ground="pale", colours=(RED,), slant=32, odds=1),
    _s("one-vase", "pot", "pots", "pot", [(0, 0, 0)], None, "none", "One clay pot alone", ground="slate", colours=(CLAY,), slant=40, odds=1),
    _s("bare-planks", "", "", "", [], None, "none", "A wooden table with nothing on it", ground="wood", slant=20, odds=0, difficulty="medium"),
    _s("odds-and-ends", "", "", "", [], None, "none", "Four unlike things on a workbench", ground="stone", slant=15, odds=4, difficulty="medium"),
    _s("dice-five-and-four", "pip", "pips", "pip", shifted(FIVE, -1.2) + shifted([p for p in FIVE if p[:2] != (0.0, 0.0)], 1.2), None, "none", "Two dice, five and four", under="dice_uneven", ground="wall", colours=(WHITE,), odds=1, difficulty="hard", also=("2:1",)),
)  # fmt: skip

"""Things of a garden, each about one unit across, standing on z = 0: pots, bulbs, leaves, insects."""

from __future__ import annotations

import math
import random
from typing import Any

import numpy as np

from curator.learning.samples import materials as made_of
from curator.learning.samples.nodes import Colour, Tree
from curator.learning.samples.shapes import egg_shaped, smooth_line, spread, swept, turned

Parts = list[list[Any]]


def pot(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A clay pot filled with crumbly soil."""
    baked = made_of.clay(colour)
    wall = [
        (0.0, 0.0),
        (0.24, 0.0),
        (0.262, 0.02),
        (0.345, 0.44),
        (0.385, 0.445),
        (0.405, 0.6),
        (0.4, 0.635),
        (0.375, 0.645),
        (0.35, 0.63),
        (0.335, 0.5),
        (0.0, 0.45),
    ]
    lean = (chance.gauss(0, 0.012), chance.gauss(0, 0.012), chance.uniform(0, 6))
    turned(wall, baked, (x, y, 0.0), lean, steps=64, lumps=0.008, size=2, seed=x + y)
    soil = made_of.earth((0.055, 0.035, 0.022))
    line = [(r, 0.565 - 0.05 * r) for r in np.linspace(0.35, 0.0, 18)]
    turned(line, soil, (x, y, 0), (0, 0, chance.uniform(0, 6)), steps=48, finer=0, lumps=0.1, size=11, seed=x * 3 + y)
    for _ in range(14):
        a, far, r = chance.uniform(0, 6.28), chance.uniform(0, 0.3), chance.uniform(0.012, 0.035)
        egg_shaped(
            soil, (x + far * math.cos(a), y + far * math.sin(a), 0.56), (r, r * 0.8, r * 0.7), (0, 0, a), lumps=0.5
        )


def bulb(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A flower bulb, its tip up or a little aside, dry roots at its foot."""
    skin = made_of.papery(colour)
    size = chance.uniform(0.93, 1.07)
    line = [
        (0.0, 0.0),
        (0.1, 0.0),
        (0.14, 0.03),
        (0.3, 0.14),
        (0.365, 0.3),
        (0.33, 0.48),
        (0.2, 0.66),
        (0.1, 0.78),
        (0.06, 0.9),
        (0.035, 1.0),
        (0.0, 1.02),
    ]
    lean = (chance.gauss(0.0, 0.22), chance.gauss(0.0, 0.22), chance.uniform(0, 6))
    turned(
        [(r * size, (z - 0.3) * size) for r, z in line],
        skin,
        (x, y, 0.3 * size),
        lean,
        finer=8,
        steps=48,
        lumps=0.1,
        size=2.6,
        seed=x * 3 + y,
    )
    root = made_of.plain((0.45, 0.36, 0.2), 0.9)
    for _ in range(9):
        a = chance.uniform(0, 6.28)
        out = [
            (x + r * math.cos(a + chance.gauss(0, 0.15)), y + r * math.sin(a + chance.gauss(0, 0.15)), z)
            for r, z in ((0.08, 0.05), (0.25, 0.02), (chance.uniform(0.36, 0.46), 0.015))
        ]
        swept(out, [0.012, 0.009, 0.004], root, steps=6)


def leaf(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A leaflet a unit long about (x, y): its foot lies towards the stem at x = 0, its blade folded and curled."""
    size, curl, fold = chance.uniform(0.9, 1.08), chance.uniform(-0.05, 0.16), chance.uniform(0.1, 0.3)
    bend, wave = chance.gauss(0, 0.06), chance.uniform(0, 6)
    turn += chance.gauss(0, 0.07)

    def place(u: float, v: float) -> tuple[float, float, float]:
        half = 0.235 * math.sin(math.pi * v**0.85) ** 0.8 * (1.12 - 0.3 * v) + 0.004
        teeth = 1 + 0.03 * math.sin(v * 90) * (0.1 < v < 0.95)
        off = (2 * u - 1) * half * teeth
        up = fold * abs(off) + curl * math.sin(math.pi * v) - 0.1 * v * v + 0.018 * math.sin(9 * v + wave + 3 * u)
        return (off + bend * math.sin(math.pi * v), (v - 0.5) * size, up)

    spread(
        place,
        made_of.leafy(colour),
        (x, y, 0.12),
        (0, -0.1 * math.copysign(1, x), turn),
        across=15,
        along=60,
        thick=0.006,
        subdivide=1,
    )


# ---- insects: a builder gives back the parts of each thing counted on it


def _leg(points: list[tuple[float, float, float]], thick: float, paint: Any) -> list[Any]:
    """Three segments with knees, thinner outwards, ending in a hooked foot."""
    hip, knee, ankle, toe = (np.array(p) for p in points)
    made = []
    for a, b, r in ((hip, knee, (0.9, 1.15, 0.8)), (knee, ankle, (0.75, 0.6, 0.5))):
        made.append(swept([a, (2 * a + b) / 3, (a + 2 * b) / 3, b], [thick * k for k in r], paint, steps=12))
    made.append(
        swept(
            [ankle, (ankle + toe) / 2 + (0, 0, 0.01), toe], [thick * 0.42, thick * 0.34, thick * 0.2], paint, steps=10
        )
    )
    for t in (0.25, 0.5, 0.75):
        at = ankle * (1 - t) + toe * t
        made.append(egg_shaped(paint, tuple(at), (thick * 0.45,) * 3))
    return made


def _legs(places: list[tuple[list[tuple[float, float, float]], float]], paint: Any, chance: random.Random) -> Parts:
    made = []
    for side in (1, -1):
        for points, thick in places:
            stray = [chance.gauss(0, 0.035) for _ in range(2)]
            moved = [
                (side * px + (stray[0] if k > 1 else 0), py + (stray[1] if k > 1 else 0), pz)
                for k, (px, py, pz) in enumerate(points)
            ]
            made.append(_leg(moved, thick, paint))
    return made


def dome(x: float, y: float) -> float:
    """The height of the ladybird's wing cases."""
    inside = 1 - (x / 1.15) ** 2 - (y / 1.45) ** 2
    return 0.2 + 0.78 * math.sqrt(max(0.0, inside)) - 0.05 * math.exp(-((x / 0.045) ** 2))


def spot(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A dark spot on the wing case, a hair above it, its rim uneven."""
    wave = chance.uniform(0, 6)
    size = chance.uniform(0.19, 0.215)

    def place(u: float, v: float) -> tuple[float, float, float]:
        a, r = 2 * math.pi * u, v * size * (1 + 0.06 * math.sin(3 * 2 * math.pi * u + wave))
        px, py = x + r * math.cos(a), y + r * math.sin(a)
        return (px, py, dome(px, py) + 0.006 - 0.01 * (v > 0.97))

    spread(place, made_of.plain((0.012, 0.01, 0.01), 0.2, bump=0.04, Coat_Weight=0.5), across=33, along=12)


def ladybird() -> None:
    """Wing cases, neck shield, head, feelers and six legs; the spots are put on apart."""
    shell = made_of.plain((0.55, 0.028, 0.012), 0.2, bump=0.05, spread=0.0, Coat_Weight=0.7, Coat_Roughness=0.06)
    dark, pale = made_of.plain((0.012, 0.011, 0.01), 0.3), made_of.plain((0.75, 0.7, 0.58), 0.4)
    rim = [(1.15 * math.cos(a), 1.45 * math.sin(a)) for a in np.linspace(0, 2 * math.pi, 97)]

    def case(side: int) -> Any:
        def place(u: float, v: float) -> tuple[float, float, float]:
            angle = (u - 0.5) * math.pi
            px, py = side * 1.15 * v * math.cos(angle), 1.45 * v * math.sin(angle)
            return (px + side * 0.006, py, dome(px, py) - 0.14 * (v > 0.985))

        return place

    for side in (1, -1):
        spread(case(side), shell, across=50, along=40)
    swept([(rx * 0.98, ry * 0.98, 0.12) for rx, ry in rim[::8]], 0.045, dark)
    egg_shaped(dark, (0, 0, 0.14), (1.02, 1.3, 0.14))
    egg_shaped(dark, (0, 1.38, 0.3), (0.72, 0.36, 0.32), lumps=0.02)
    egg_shaped(dark, (0, 1.68, 0.26), (0.42, 0.28, 0.22))
    for side in (1, -1):
        egg_shaped(pale, (side * 0.55, 1.42, 0.36), (0.13, 0.17, 0.2), (0, side * 0.5, side * 0.5))
        egg_shaped(made_of.plain((0.02, 0.02, 0.02), 0.1), (side * 0.3, 1.76, 0.33), (0.1, 0.09, 0.1))
        swept(
            [(side * 0.2, 1.88, 0.25), (side * 0.33, 2.02, 0.3), (side * 0.46, 2.05, 0.25)],
            [0.025, 0.02, 0.034],
            dark,
            steps=8,
        )
        for hip, knee, foot, toe in (
            ((0.8, 0.9), (1.2, 1.2), (1.42, 1.46), (1.43, 1.6)),
            ((0.95, 0.05), (1.42, 0.1), (1.68, -0.03), (1.8, -0.12)),
            ((0.8, -0.75), (1.22, -1.08), (1.42, -1.4), (1.43, -1.54)),
        ):
            _leg(
                [
                    (side * hip[0], hip[1], 0.2),
                    (side * knee[0], knee[1], 0.3),
                    (side * foot[0], foot[1], 0.05),
                    (side * toe[0], toe[1], 0.04),
                ],
                0.07,
                dark,
            )


def legged_beetle(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> Parts:
    """A slender ground beetle; its six legs are the things counted."""
    shine = _ridged(colour)
    black = made_of.plain((0.014, 0.013, 0.013), 0.26, bump=0.1)
    egg_shaped(shine, (x, y - 0.55, 0.38), (0.56, 1.0, 0.3), lumps=0.01)
    egg_shaped(shine, (x, y + 0.62, 0.38), (0.42, 0.36, 0.25), lumps=0.03)
    egg_shaped(black, (x, y + 1.08, 0.36), (0.26, 0.3, 0.18))
    for side in (1, -1):
        egg_shaped(black, (x + side * 0.22, y + 1.12, 0.42), (0.085, 0.09, 0.085))
        swept(
            [(x + side * 0.07, y + 1.32, 0.34), (x + side * 0.13, y + 1.46, 0.33), (x + side * 0.03, y + 1.55, 0.32)],
            [0.06, 0.045, 0.012],
            black,
            steps=10,
        )
        feeler = [
            (x + side * 0.2, y + 1.26, 0.4),
            (x + side * 0.5, y + 1.5, 0.5),
            (x + side * 0.75, y + 1.62, 0.34),
            (x + side * 0.95, y + 1.92, 0.2),
        ]
        swept(feeler, [0.026, 0.022, 0.018, 0.014], black, steps=8)
    legs = [
        ([(0.3, 0.75, 0.3), (0.86, 1.02, 0.6), (1.22, 1.3, 0.08), (1.3, 1.62, 0.03)], 0.082),
        ([(0.36, 0.12, 0.3), (0.98, 0.2, 0.62), (1.5, 0.06, 0.08), (1.78, -0.16, 0.03)], 0.078),
        ([(0.4, -0.3, 0.3), (0.98, -0.78, 0.62), (1.4, -1.42, 0.08), (1.46, -1.86, 0.03)], 0.086),
    ]
    return _legs([([(px + x, py + y, pz) for px, py, pz in points], thick) for points, thick in legs], black, chance)


def _ridged(colour: Colour) -> Any:
    """Metallic wing cases with long fine grooves."""
    t = Tree("ridged")
    across = t.node("SeparateXYZ", Vector=t.at).outputs[0]
    groove = t.maths("ABSOLUTE", t.maths("SUBTRACT", t.maths("FRACT", t.maths("MULTIPLY", across, 13.0)), 0.5))
    seam = t.ramp(t.maths("ABSOLUTE", across), (0.008, 0.0), (0.022, 1.0))
    cloud = t.noise(3, detail=4)
    body = t.ramp(cloud, (0.3, colour), (0.7, (colour[0] * 1.9 + 0.02, colour[1] * 0.8, colour[2] * 0.6)))
    body = t.mix(seam, (0.006, 0.006, 0.006), body)
    height = t.maths("MULTIPLY", t.ramp(groove, (0.0, 0.0), (0.14, 1.0)), seam)
    return t.done(body, 0.3, bump=t.bump(height, 0.5, 0.03), Metallic=0.75, Coat_Weight=0.4, Coat_Roughness=0.1)


def moth(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> Parts:
    """A moth at rest with spread wings; the four wings are the things counted."""
    fur = made_of.plain(made_of.times(colour, 0.5), 0.95, bump=1.0, Sheen_Weight=0.8)
    egg_shaped(fur, (x, y + 0.25, 0.26), (0.2, 0.32, 0.19), lumps=0.16, lump_size=9)
    egg_shaped(fur, (x, y + 0.6, 0.26), (0.14, 0.13, 0.13), lumps=0.12, lump_size=9)
    for k in range(6):
        egg_shaped(
            fur,
            (x, y - 0.1 - 0.14 * k, 0.23 - 0.012 * k),
            (0.165 - 0.016 * k, 0.12, 0.15 - 0.014 * k),
            lumps=0.1,
            lump_size=9,
        )
    dark = made_of.plain((0.02, 0.015, 0.012), 0.3)
    for side in (1, -1):
        egg_shaped(dark, (x + side * 0.11, y + 0.66, 0.27), (0.055, 0.055, 0.055))
        line = [(x + side * 0.05, y + 0.7, 0.3), (x + side * 0.25, y + 0.98, 0.36), (x + side * 0.52, y + 1.2, 0.3)]
        swept(line, [0.022, 0.03, 0.01], fur, steps=8)
    made = []
    for side in (1, -1):
        for fore in (True, False):
            made.append([_wing(x, y, side, fore, colour, chance)])
    return made


FORE = [
    (0.12, 0.42),
    (0.55, 0.95),
    (1.2, 1.28),
    (1.72, 1.33),
    (1.92, 1.2),
    (1.82, 0.86),
    (1.62, 0.42),
    (1.5, 0.16),
    (1.0, 0.08),
    (0.4, 0.06),
    (0.14, 0.12),
]
HIND = [
    (0.14, 0.1),
    (0.6, 0.02),
    (1.1, -0.02),
    (1.36, -0.16),
    (1.4, -0.45),
    (1.2, -0.85),
    (0.88, -1.1),
    (0.6, -1.05),
    (0.38, -0.75),
    (0.2, -0.35),
    (0.12, -0.05),
]


def _wing(x: float, y: float, side: int, fore: bool, colour: Colour, chance: random.Random) -> Any:
    outline = FORE if fore else HIND
    rim = smooth_line([(a, b, 0.0) for a, b in outline] + [(*outline[0], 0.0)], 6)[:, :2]
    root, reach = np.array(outline[0]), np.linspace(0, 1, len(rim))
    lift, wave = chance.uniform(0.1, 0.16), chance.uniform(0, 6)

    def place(u: float, v: float) -> tuple[float, float, float]:
        edge = np.array([np.interp(u, reach, rim[:, 0]), np.interp(u, reach, rim[:, 1])])
        at = root + (edge - root) * v
        up = (
            0.2
            + lift * at[0]
            - 0.07 * at[0] ** 2
            + 0.012 * math.sin(5 * at[0] + 4 * at[1] + wave)
            + (0.035 if fore else 0.0)
        )
        return (x + side * at[0], y + at[1], up)

    return spread(
        place, _scales(colour if fore else made_of.times(colour, 1.15), fore), across=90, along=26, thick=0.012
    )


def _scales(colour: Colour, fore: bool) -> Any:
    """A wing's dust: bands along the edge, veins from the root, one eye."""
    t = Tree("scales")
    u, v, _ = t.node("SeparateXYZ", Vector=t.uv).outputs
    side = t.node("SeparateXYZ", Vector=t.at).outputs
    mirrored = t.node("CombineXYZ", X=t.maths("ABSOLUTE", side[0]), Y=side[1], Z=0.0).outputs[0]
    dust, cloud = t.noise(48, detail=4, rough=0.8, at=mirrored), t.noise(3.2, detail=5, rough=0.6, at=mirrored)
    ring = t.maths("ADD", v, t.maths("MULTIPLY", t.maths("SUBTRACT", cloud, 0.5), 0.22))
    body = t.ramp(
        ring,
        (0.12, made_of.times(colour, 0.45)),
        (0.36, colour),
        (0.5, made_of.times(colour, 0.35)),
        (0.55, made_of.times(colour, 1.5)),
        (0.72, colour),
        (0.85, made_of.times(colour, 0.5)),
        (0.93, made_of.times(colour, 1.35)),
        (1.0, made_of.times(colour, 0.6)),
    )
    vein = t.ramp(
        t.maths("ABSOLUTE", t.maths("SUBTRACT", t.maths("FRACT", t.maths("MULTIPLY", u, 12.0)), 0.5)),
        (0.02, 0.5),
        (0.07, 0.0),
    )
    body = t.mix(vein, body, made_of.times(colour, 0.3))
    middle = (1.15, 0.78, 0.0) if fore else (0.85, -0.48, 0.0)
    away = t.node("VectorMath", {"operation": "DISTANCE"}, in0=mirrored, in1=middle).outputs[1]
    eye = t.ramp(
        away,
        (0.0, (0.05, 0.04, 0.035)),
        (0.07, (0.04, 0.03, 0.025)),
        (0.08, (0.75, 0.62, 0.4)),
        (0.115, (0.3, 0.12, 0.05)),
        (0.13, made_of.times(colour, 0.6)),
    )
    body = t.mix(t.ramp(away, (0.12, 1.0), (0.14, 0.0)), body, eye)
    body = t.mix(0.6, body, t.ramp(dust, (0.3, 0.5), (0.7, 1.25)), "MULTIPLY")
    return t.done(body, 0.85, bump=t.bump(t.mix(0.5, dust, vein), 0.4, 0.015), Sheen_Weight=0.5)


BUILDERS = {f.__name__: f for f in (pot, bulb, leaf, spot, legged_beetle, moth)}

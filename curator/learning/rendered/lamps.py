"""Lamps: branched ones whose lights count, rows of hanging ones, ones on a table, pairs on a wall."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, lathe, side_of, tone_of, unlike_tone
from curator.learning.rendered.parts import bent, rod
from curator.learning.rendered.stage import Stage
from curator.learning.rendered.workshop import metal

Rng = np.random.Generator


def warm(rng: Rng) -> Tone:
    """The tone of a lit shade or bulb: white to amber."""
    return (1.0, float(rng.uniform(0.82, 0.98)), float(rng.uniform(0.5, 0.92)))


@dataclass(frozen=True)
class Lit:
    """What the lights of one lamp have in common; lengths in units."""

    sort: str  # shade, tulip, globe, candle
    big: float  # half its width
    tone: Tone
    glow: str  # material of what shines
    dark: Tone
    metal: str  # material of sockets and arms
    down: bool  # hangs from its foot


def lit(kit: Kit, big: float, sorts: tuple[str, ...] = ("shade", "tulip", "globe", "candle")) -> Lit:
    rng, sort = kit.rng, str(kit.rng.choice(sorts))
    on = rng.random() < 0.6
    tone = warm(rng) if on or rng.random() < 0.5 else tone_of(rng)
    down = sort in ("shade", "tulip", "globe") and rng.random() < 0.35
    glow = kit.glowing(float(rng.uniform(0.25, 0.7))) if on else kit.calm()
    return Lit(sort, big, tone, glow, metal(rng), kit.plain(), down)


def _turned(outline: list[tuple[float, float]], own: Lit) -> list[tuple[float, float]]:
    """The outline as it is, or hanging upside down (from the bottom up again)."""
    return [(r, -z) for r, z in reversed(outline)] if own.down else outline


def head(kit: Kit, own: Lit, at: Point, part: int) -> list[Geom]:
    """One light that stands on, or hangs from, a point: its socket and what shines."""
    b, up = own.big, -1.0 if own.down else 1.0
    socket = kit.geom("cylinder", (b * 0.28, b * 0.2), (at[0], at[1], at[2] + up * b * 0.2), own.dark, own.metal,
                      part=part, solid=False)  # fmt: skip
    foot = (at[0], at[1], at[2] + up * b * 0.35)
    if own.sort == "globe":
        middle = (foot[0], foot[1], foot[2] + up * b * 0.85)
        return [socket, kit.geom("sphere", (b,), middle, own.tone, own.glow, part=part, solid=False)]
    if own.sort == "candle":
        dish = kit.geom("cylinder", (b * 0.7, b * 0.06), at, own.dark, own.metal, part=part, solid=False)
        wax = kit.geom("cylinder", (b * 0.3, b * 0.9), (at[0], at[1], at[2] + b * 0.95), (0.95, 0.93, 0.86), own.metal,
                       part=part, solid=False)  # fmt: skip
        flame = (at[0], at[1], at[2] + b * 2.2)
        return [dish, wax, kit.geom("ellipsoid", (b * 0.2, b * 0.2, b * 0.45), flame, own.tone, own.glow, part=part,
                                    solid=False)]  # fmt: skip
    outline = [(b * 0.55, 0.0), (b, b * 1.4), (b * 0.96, b * 1.4), (b * 0.5, 0.02 * b)]
    if own.sort == "shade":  # wide below, open at both ends
        outline = [(b, 0.0), (b * 0.55, b * 1.3), (b * 0.5, b * 1.3), (b * 0.95, 0.0), (b, 0.0)]
        if own.down:
            outline = [(r, b * 1.3 - z) for r, z in reversed(outline)]
    elif own.sort == "tulip":
        t = np.linspace(0, 1, 7)
        swell = b * (0.3 + 0.75 * np.sin(np.pi * t * 0.72))
        sides = [(float(r), float(b * 1.7 * z)) for r, z in zip(swell, t, strict=True)]
        outline = [(0.001, 0.0), *sides, *((r * 0.93, z + 0.01 * b) for r, z in reversed(sides))]
    shell = kit.geom("mesh", (), foot, own.tone, own.glow, mesh=lathe(_turned(outline, own), 24), part=part,
                     solid=False)  # fmt: skip
    bulb = (foot[0], foot[1], foot[2] + up * b * 0.6)
    return [socket, shell, kit.geom("sphere", (b * 0.35,), bulb, warm(kit.rng), own.glow, part=part, solid=False)]


def _arm(rng: Rng, turn: float, reach: float, low: float, end: float) -> list[Point]:
    """From the stem (at height 0) down by `low`, out by `reach` and up to `end`."""
    t = np.linspace(0, 1, 7)
    out = reach * (0.1 + 0.9 * t)
    z = -low * np.sin(np.pi * np.minimum(1.0, t * 1.15)) + end * t**2
    return [(float(r * np.cos(turn)), float(r * np.sin(turn)), float(v)) for r, v in zip(out, z, strict=True)]


def chandelier(kit: Kit, arms: int) -> Shape:
    """A stem with arms about it, each with a light; arms and drops are parts of their own kinds."""
    rng, big = kit.rng, float(kit.rng.uniform(0.07, 0.13))
    own = lit(kit, big)
    reach = max(float(rng.uniform(0.4, 0.75)), big * arms / 2.6)
    low, end, base = float(rng.uniform(-0.05, 0.25)), float(rng.uniform(-0.05, 0.2)), 0.55
    thick, start = float(rng.uniform(0.012, 0.026)), float(rng.uniform(0, 6.28))
    long = float(rng.uniform(0.1, 0.45))
    geoms: list[Geom] = []
    parts: list[Part] = []
    for k in range(arms):
        path = [(x, y, z + base) for x, y, z in _arm(rng, start + 2 * np.pi * k / arms, reach, low, end)]
        side = side_of(k, arms)
        geoms += bent(kit, path, thick, own.dark, own.metal, len(parts))
        parts.append(Part("arm", path[3]))
        tip = path[-1]
        geoms += head(kit, own, tip, len(parts))
        up = (-1.0 if own.down else 1.0) * big * (1.2 if own.sort != "candle" else 1.0)
        parts.append(Part("light", (tip[0], tip[1], tip[2] + up), side))
    if rng.random() < 0.4:
        _drops(kit, geoms, parts, [p.at for p in parts if p.kind == "arm"])
    geoms.append(rod(kit, (0, 0, base - 0.2), (0, 0, base + long), thick * 1.2, own.dark, own.metal, -1))
    knots = rng.uniform(0.02, 0.12, 5)
    body = [(0.001, 0.0), *((float(r), 0.08 + 0.1 * k) for k, r in enumerate(knots)), (0.001, 0.6)]
    geoms.append(kit.geom("mesh", (), (0, 0, base - 0.3), own.dark, own.metal, mesh=lathe(body), solid=False))
    return kit.shape("chandelier", geoms, (reach + big, reach + big, base + long), parts)


def _drops(kit: Kit, geoms: list[Geom], parts: list[Part], places: list[Point]) -> None:
    """A glass drop on a thread below each of these places."""
    glass, long, big = kit.glowing(0.2), float(kit.rng.uniform(0.08, 0.2)), float(kit.rng.uniform(0.02, 0.04))
    for x, y, z in places:
        at = (x, y, z - long)
        geoms.append(rod(kit, (x, y, z), at, 0.004, (0.7, 0.7, 0.7), glass, len(parts)))
        geoms.append(kit.geom("ellipsoid", (big, big, big * 1.7), at, (0.85, 0.9, 0.95), glass, part=len(parts),
                              solid=False))  # fmt: skip
        parts.append(Part("drop", at))


def candelabrum(kit: Kit, n: int) -> Shape:
    """A stand with n lights in one plane: on arms to both sides, and one in the middle where n is odd."""
    rng, big = kit.rng, float(kit.rng.uniform(0.07, 0.1))
    own = replace(lit(kit, big, ("candle", "candle", "tulip", "globe")), down=False)
    thick, high = float(rng.uniform(0.016, 0.03)), float(rng.uniform(0.5, 0.9))
    step, level = big * float(rng.uniform(2.3, 3.2)), rng.random() < 0.5
    geoms = [rod(kit, (0, 0, 0.05), (0, 0, high * 0.8), thick * 1.2, own.dark, own.metal, -1)]
    foot = [(0.001, 0.0), (0.22, 0.0), (0.2, 0.04), (0.05, 0.1), (0.03, 0.2), (0.001, 0.2)]
    geoms.append(kit.geom("mesh", (), (0, 0, 0), own.dark, own.metal, mesh=lathe(foot), solid=False))
    parts: list[Part] = []
    for k in range(n):
        x = (k - (n - 1) / 2) * step
        out = abs(x) / max(step, (n - 1) / 2 * step)
        end = (x, 0.0, high * (1.0 if level else 1.15 - 0.3 * out))
        low = high * (0.75 - 0.3 * out)
        path = [(0.0, 0.0, low), *((x * float(np.sin(a)), 0.0, low + (end[2] - low) * (1 - float(np.cos(a))))
                                   for a in np.linspace(0, np.pi / 2, 6))]  # fmt: skip
        geoms += bent(kit, path[1:], thick, own.dark, own.metal, len(parts))
        parts.append(Part("arm", path[3]))
        geoms += head(kit, own, end, len(parts))
        parts.append(Part("light", (end[0], 0.0, end[2] + big), (1 if x < 0 else 2) if n % 2 == 0 else 0))
    return kit.shape("candelabrum", geoms, ((n - 1) / 2 * step + big, 0.22, high * 1.15 + big * 2), parts)


def standing(kit: Kit) -> Stage:
    """A stand with arms whose lights count, or two of them, which count themselves."""
    rng = kit.rng
    n, lights = 1 if rng.random() < 0.8 else 2, int(rng.choice([2, 3, 3, 4, 5, 5, 6, 7]))
    stage = Stage("solid candelabrum", main="light", fill=(0.7, 1.15), flat=True, lift=(-2, 24), sway=22.0)
    first = candelabrum(kit, lights)
    if n == 2:
        stage.main = first.kind
    for k in range(n):
        at = ((k - (n - 1) / 2) * first.reach[0] * 2.6, float(rng.normal(0, 0.1)) * (n > 1), 0.0)
        stage.put(first, at, turn=float(rng.normal(0, 12)), side=k + 1 if n == 2 else 0)
    return stage


def branched(kit: Kit) -> Stage:
    """One chandelier whose lights count, or two or three that count themselves."""
    rng = kit.rng
    n = 1 if rng.random() < 0.85 else int(rng.integers(2, 4))
    arms = int(rng.choice([3, 4, 5, 5, 6, 6, 8, 8, 10]))
    stage = Stage("solid chandelier", fill=(0.75, 1.25), flat=True, lift=(-38, 18), main="light")
    first = chandelier(kit, arms)
    if n > 1:
        stage.main = first.kind
    for k in range(n):
        at = ((k - (n - 1) / 2) * first.reach[0] * 2.5, float(rng.normal(0, 0.2)) * (n > 1), 2.6)
        stage.put(first, at, turn=float(rng.uniform(0, 360)), side=k + 1 if n == 2 else 0)
    _hang(kit, stage, [(x, y, z + first.reach[2]) for x, y, z in (p.at for p in stage.placed)])
    return stage


def _hang(kit: Kit, stage: Stage, places: list[Point]) -> None:
    """Cords from these places up to a ceiling that is out of sight."""
    tone, finish, thick = metal(kit.rng), kit.plain(), float(kit.rng.uniform(0.006, 0.016))
    cords = [rod(kit, (x, y, z), (x, y, z + 4.0), thick, tone, finish, -1) for x, y, z in places]
    shape = kit.shape("cords", cords, (1.0, 1.0, places[0][2] + 4.0))
    shape.aside = True
    stage.put(shape, framed=False)


def pendant(kit: Kit, own: Lit) -> Shape:
    """A lamp that hangs, its cord left out; its lowest point is about z = 0."""
    top = own.big * 2.2
    return kit.shape("lamp", head(kit, replace(own, down=True), (0, 0, top), -1), (own.big, own.big, top))


def pendants(kit: Kit) -> Stage:
    """Hanging lamps in a row over a table or a counter, or at several heights."""
    rng, n = kit.rng, int(kit.rng.choice([2, 2, 3, 3, 4, 5, 6, 7]))
    own = lit(kit, float(rng.uniform(0.13, 0.26)), ("shade", "shade", "tulip", "globe"))
    stage = Stage("solid pendants", main="lamp", fill=(0.75, 1.15), flat=True, lift=(-20, 16), sway=24.0)
    step, high = own.big * float(rng.uniform(2.6, 5.5)), float(rng.uniform(1.2, 1.7))
    uneven, same = float(rng.choice([0, 0, 0.12, 0.3])), rng.random() < 0.8
    first = pendant(kit, own)
    for k in range(n):
        shape = first if same or k == 0 else pendant(kit, lit(kit, own.big, (own.sort,)))
        at = ((k - (n - 1) / 2) * step, 0.0, high + uneven * float(rng.uniform(-1, 1)))
        stage.put(shape, at, side=side_of(k, n), tint=float(rng.uniform(0.9, 1.05)))
    _hang(kit, stage, [(x, y, z + first.reach[2]) for x, y, z in (p.at for p in stage.placed)])
    if rng.random() < 0.7:
        half = (n - 1) / 2 * step + 0.4
        tone, finish = tone_of(rng), kit.finish()
        geoms = [kit.geom("box", (half, 0.4, 0.03), (0, 0, 0.7), tone, finish)]
        for x in (-half * 0.9, half * 0.9):
            geoms.append(kit.geom("box", (0.04, 0.35, 0.34), (x, 0, 0.34), tone, finish))
        table = kit.shape("table", geoms, (half, 0.4, 0.75))
        table.aside = True
        stage.put(table, framed=False)
    return stage


def table_lamp(kit: Kit) -> Shape:
    """A lamp that stands: a foot, a stem, a shade and often a knob, all of one lamp."""
    rng, dark = kit.rng, tone_of(kit.rng)
    own = lit(kit, float(rng.uniform(0.22, 0.36)), ("shade", "shade", "shade", "globe"))
    stem, wide, finish = float(rng.uniform(0.35, 0.7)), float(rng.uniform(0.14, 0.24)), kit.finish()
    if rng.random() < 0.5:  # a round belly
        knots = np.convolve(rng.uniform(0.06, wide, 6), np.ones(2) / 2, "valid").tolist()
        belly = list(zip(knots, np.linspace(0.04, stem, 5).tolist(), strict=True))
        outline = [(0.001, 0.0), (wide, 0.0), *belly, (0.001, stem)]
        geoms = [kit.geom("mesh", (), (0, 0, 0), dark, finish, mesh=lathe(outline), part=0, solid=False)]
    else:
        geoms = [
            kit.geom("cylinder", (wide, 0.03), (0, 0, 0.03), dark, finish, part=0, solid=False),
            rod(kit, (0, 0, 0.05), (0, 0, stem), float(rng.uniform(0.015, 0.035)), dark, finish, 0),
        ]
    parts = [Part("foot", (0, 0, stem * 0.4))]
    geoms += head(kit, replace(own, down=False), (0, 0, stem), 1)
    parts.append(Part("shade", (0, 0, stem + own.big)))
    top = stem + own.big * 2.0
    if rng.random() < 0.5:
        at = (0.0, 0.0, top - own.big * 0.3) if own.sort == "shade" else (0.0, -wide * 0.7, 0.07)
        geoms.append(kit.geom("sphere", (0.035,), at, unlike_tone(rng, dark), own.metal, part=2, solid=False))
        parts.append(Part("knob", at))
    return kit.shape("lamp", geoms, (max(own.big, wide), max(own.big, wide), top), parts)


def table_lamps(kit: Kit) -> Stage:
    """Two to four lamps that stand on a table, alike or unlike; one alone is nothing that repeats."""
    rng, n = kit.rng, int(kit.rng.choice([1, 2, 2, 2, 3, 3, 4]))
    stage = Stage("solid table lamps", main="lamp" if n > 1 else None, fill=(0.65, 1.2), flat=True, lift=(-2, 30))
    first, same = table_lamp(kit), rng.random() < 0.6
    step = first.reach[0] * float(rng.uniform(2.1, 3.4))
    for k in range(n):
        kit.unit = 1.0 if same or k == 0 else float(rng.uniform(0.8, 1.2))
        shape = first if same or k == 0 else table_lamp(kit)
        at = (k * step * 1.15, float(rng.normal(0, 0.15)), 0.0)
        stage.put(shape, at, turn=float(rng.normal(0, 20)), side=k + 1 if n == 2 else 0)
    kit.unit = 1.0
    return stage


def wall_lamp(kit: Kit) -> Shape:
    """A lamp whose plate is on a wall as far behind it as it is deep: a plate, an arm, and a light."""
    rng, big = kit.rng, float(kit.rng.uniform(0.1, 0.17))
    own = lit(kit, big)
    out = float(rng.uniform(1.2, 1.9)) * big
    z = 0.3 + (0.5 if own.down else -0.5) * big
    plate = (big * float(rng.uniform(0.4, 0.8)), big * float(rng.uniform(0.6, 1.4)))
    geoms = [
        kit.geom("box", (plate[0], 0.012, plate[1]), (0, out - 0.012, z), own.dark, own.metal, solid=False),
        *bent(kit, [(0, out - 0.02, z), (0, out * 0.4, z - big * 0.3), (0, 0, z)], 0.016, own.dark, own.metal),
        *head(kit, own, (0, 0, z), -1),
    ]
    return kit.shape("lamp", geoms, (big, out, 0.6))


def wall_lamps(kit: Kit) -> Stage:
    """A pair of lamps on a wall, or two pairs, often about a picture or a mirror."""
    rng, n = kit.rng, int(kit.rng.choice([2, 2, 2, 2, 3, 4]))
    stage = Stage("solid wall lamps", main="lamp", fill=(0.75, 1.2), flat=True, wall=0.0, lift=(-12, 14), sway=16.0)
    first, step = wall_lamp(kit), float(rng.uniform(0.7, 1.5))
    for k in range(n):
        at = ((k - (n - 1) / 2) * step, -0.01 - first.reach[1], 1.3)
        stage.put(first, at, side=side_of(k, n))
    if rng.random() < 0.75 and n % 2 == 0:
        frame, tall = step * float(rng.uniform(0.2, 0.3)), float(rng.uniform(0.25, 0.5))
        tone = tone_of(rng)
        geoms = [
            kit.geom("box", (frame, 0.02, tall), (0, -0.02, tall), tone, kit.finish(), solid=False),
            kit.geom("box", (frame * 0.85, 0.022, tall * 0.88), (0, -0.022, tall), unlike_tone(rng, tone), kit.finish(),
                     solid=False),
        ]  # fmt: skip
        picture = kit.shape("picture", geoms, (frame, 0.04, 2 * tall))
        picture.aside = True
        stage.put(picture, (0, -0.01, 1.6 - tall), framed=False)
    return stage

"""What is worn in pairs: shoes, boots, sandals and slippers with toes, openings and laces of their own, gloves, socks.

However strong its parts are, each counts as one.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from curator.learning.rendered.kit import Geom, Kit, Mesh, Part, Point, Shape, Tone, _quads, lathe, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.soft import Cone, Limb, chain, soft
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator
LONG = np.array([-0.5, -0.49, -0.44, -0.3, -0.1, 0.1, 0.28, 0.4, 0.47, 0.5])  # from the heel to the toe
WIDE = np.array([0.01, 0.06, 0.1, 0.125, 0.118, 0.15, 0.168, 0.15, 0.09, 0.01])
HIGH = np.array([0.16, 0.22, 0.27, 0.29, 0.29, 0.24, 0.17, 0.14, 0.11, 0.07])


def loft(wide: NDArray[np.float64], low: float, high: NDArray[np.float64], lean: float, steps: int = 22) -> Mesh:
    """A closed surface along y over LONG: half widths, the lowest z, the highest z, how far it bends to one side."""
    turn = np.linspace(0, 2 * np.pi, steps, endpoint=False)
    c, s = np.cos(turn), np.sin(turn)
    x = lean * LONG[:, None] ** 2 + wide[:, None] * np.sign(c) * np.abs(c) ** 0.75
    half = (high[:, None] - low) / 2
    z = low + half - half * np.sign(s) * np.abs(s) ** 0.75
    y = np.repeat(LONG[:, None], steps, 1)
    return np.stack([x, y, z], -1).reshape(-1, 3), _quads(len(LONG), steps)


def _band(kit: Kit, y: float, last: tuple[float, float, float], tone: Tone, wide: float = 0.035) -> Geom:
    """A strap over the foot at y; the last is (width, height above the sole, lean) as factors."""
    half = float(np.interp(y, LONG, WIDE)) * last[0] * 1.04
    tall = float(np.interp(y, LONG, HIGH)) * last[1] * 1.06
    return kit.geom("ellipsoid", (half, wide, tall), (last[2] * y * y, y, 0.03), tone, kit.plain(), solid=False)


def _sole(kit: Kit, last: tuple[float, float, float], thick: float, tone: Tone) -> list[Geom]:
    rng = kit.rng
    geoms = [
        kit.geom(
            "mesh", (), (0, 0, 0), tone, kit.plain(), mesh=loft(WIDE * last[0] * 1.07, 0, np.full(10, thick), last[2])
        )
    ]
    if rng.random() < 0.35:  # a line all round
        edge = np.full(10, thick * 0.75)
        ring = loft(WIDE * last[0] * 1.085, thick * 0.45, edge, last[2])
        geoms.append(kit.geom("mesh", (), (0, 0, 0), unlike_tone(rng, tone), kit.plain(), mesh=ring, solid=False))
    return geoms


def _cap(kit: Kit, last: tuple[float, float, float], thick: float, toe: bool, tone: Tone) -> Geom:
    """A cap of another tone over the toe, or round the heel."""
    edge = float(kit.rng.uniform(0.22, 0.36)) * (1 if toe else -1)
    kept = edge < LONG if toe else edge > LONG
    wide = np.where(kept, WIDE * last[0] * 1.02 + 0.004, 0.005)
    high = thick + HIGH * last[1] * np.where(kept, 1.03, 0.3)
    return kit.geom("mesh", (), (0, 0, 0), tone, kit.plain(), mesh=loft(wide, thick * 0.8, high, last[2]), solid=False)


def _opening(kit: Kit, last: tuple[float, float, float], thick: float, rim: Tone, large: bool) -> list[Geom]:
    """Where the foot goes in: the lining, dark or light, and a collar round it."""
    rng = kit.rng
    y, long = (-0.16, 0.27) if large else (-0.27, float(rng.uniform(0.13, 0.19)))
    z = thick + float(np.interp(y, LONG, HIGH)) * last[1]
    half = float(np.interp(y, LONG, WIDE)) * last[0] * 0.8
    lining: Tone = (0.06, 0.06, 0.07) if rng.random() < 0.5 else tone_of(rng)
    slope = (-float(rng.uniform(0, 14)), 0.0, 0.0)
    at = (last[2] * y * y, y, z - 0.01)
    inner = kit.geom("ellipsoid", (half, long, 0.025), (at[0], y, z + 0.012), lining, kit.plain(), angles=slope)
    collar = kit.geom("ellipsoid", (half * 1.14, long * 1.08, 0.032), at, rim, kit.plain(), angles=slope)
    return [collar, inner]


def _laces(kit: Kit, last: tuple[float, float, float], thick: float, tone: Tone) -> list[Geom]:
    rng, made = kit.rng, []
    n, half = int(rng.integers(3, 7)), 0.07 * last[0]
    tongue = unlike_tone(rng, tone)
    for k, y in enumerate(np.linspace(-0.08, 0.22, n)):
        z = thick + float(np.interp(y, LONG, HIGH)) * last[1] + 0.004
        lean = last[2] * y * y
        if k == n // 2 and rng.random() < 0.6:
            made.append(
                kit.geom("ellipsoid", (half * 0.9, 0.17, 0.015), (lean, y, z), tongue, kit.plain(), angles=(-24, 0, 0))
            )
        slip = float(rng.choice([0.0, 0.03]))
        made.append(rod(kit, (lean - half, y - slip, z), (lean + half, y + slip, z), 0.011, tone, kit.plain(), -1))
    return made


def _shaft(kit: Kit, last: tuple[float, float, float], thick: float, tone: Tone, tall: float) -> list[Geom]:
    """The leg of a boot, open above."""
    rng, low = kit.rng, thick + 0.1
    wide = 0.115 * last[0]
    flare = wide * float(rng.uniform(0.95, 1.25))
    top = low + tall
    outline = [(wide, low), (wide * 0.97, low + tall * 0.3), (flare, top), (flare * 0.9, top), (wide * 0.8, low + 0.1)]
    vertices, faces = lathe([*outline, (0.001, low + 0.08)], 24)
    vertices[:, 1] = vertices[:, 1] * 1.3 - 0.3
    lining: Tone = (0.07, 0.06, 0.06) if rng.random() < 0.6 else tone_of(rng)
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, kit.finish(), mesh=(vertices, faces), solid=False)]
    hole = kit.geom("ellipsoid", (flare * 0.88, flare * 1.14, 0.01), (0, -0.3, top - tall * 0.25), lining, kit.plain())
    geoms.append(hole)
    if rng.random() < 0.5:
        rim = lathe([(flare * 1.02, top - 0.06), (flare * 1.06, top), (flare * 0.98, top + 0.01)], 24)
        rim[0][:, 1] = rim[0][:, 1] * 1.3 - 0.3
        geoms.append(kit.geom("mesh", (), (0, 0, 0), unlike_tone(rng, tone), kit.plain(), mesh=rim, solid=False))
    return geoms


def shoe(kit: Kit) -> Shape:
    """A shoe, boot, sandal or slipper with its toe to +y."""
    rng = kit.rng
    tone, finish = tone_of(rng), kit.finish()
    other, sort = unlike_tone(rng, tone), str(rng.choice(["lace", "lace", "boot", "boot", "slip", "sandal", "bar"]))
    last = (float(rng.uniform(0.85, 1.15)), float(rng.uniform(0.75, 1.15)), float(rng.uniform(0.05, 0.32)))
    thick = float(rng.uniform(0.03, 0.11))
    geoms = _sole(kit, last, thick, other if rng.random() < 0.6 else unlike_tone(rng, other))
    top, tall = thick + HIGH * last[1], 0.0
    if sort == "sandal":
        inside = loft(WIDE * last[0] * 0.98, thick * 0.8, np.full(10, thick + 0.012), last[2])
        geoms.append(kit.geom("mesh", (), (0, 0, 0), tone_of(rng), kit.finish(), mesh=inside, solid=False))
        ends = rng.uniform(-0.05, 0.33, int(rng.integers(1, 4)))
        geoms += [_band(kit, float(y), last, tone, float(rng.uniform(0.02, 0.07))) for y in ends]
        if rng.random() < 0.5:
            geoms.append(_band(kit, -0.4, last, tone, 0.03))
    else:
        upper = loft(WIDE * last[0], thick * 0.8, top, last[2])
        geoms.append(kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=upper, solid=False))
        if rng.random() < 0.45:
            geoms.append(_cap(kit, last, thick, True, other if rng.random() < 0.5 else tone_of(rng)))
        if rng.random() < 0.3:
            geoms.append(_cap(kit, last, thick, False, other if rng.random() < 0.5 else tone_of(rng)))
        if sort == "boot":
            tall = float(rng.uniform(0.2, 0.85))
            geoms += _shaft(kit, last, thick, tone if rng.random() < 0.75 else unlike_tone(rng, tone), tall)
        else:
            geoms += _opening(kit, last, thick, tone if rng.random() < 0.5 else other, sort in ("slip", "bar"))
    if sort == "lace" or (sort == "boot" and rng.random() < 0.4):
        geoms += _laces(kit, last, thick, unlike_tone(rng, tone))
    if sort == "bar" or rng.random() < 0.12:
        geoms += [_band(kit, float(y), last, other) for y in rng.uniform(-0.05, 0.2, int(rng.integers(1, 4)))]
    if rng.random() < 0.2:  # a patch or a bow
        z = thick + float(np.interp(0.25, LONG, HIGH)) * last[1]
        big = float(rng.uniform(0.03, 0.07))
        geoms.append(kit.geom("ellipsoid", (big, big, 0.03), (0, 0.22, z), tone_of(rng), kit.plain(), solid=False))
    return kit.shape("shoe", geoms, (0.2 * last[0], 0.5, max(float(top.max()), tall + thick + 0.1)))


def sock(kit: Kit) -> Shape:
    """A sock lying flat, its leg along y and its foot to +x, with bands, toe and heel of other tones now and then."""
    rng, tone = kit.rng, tone_of(kit.rng)
    leg, foot, fat = float(rng.uniform(0.25, 0.6)), float(rng.uniform(0.3, 0.45)), float(rng.uniform(0.09, 0.13))
    heel: Point = (0.0, -leg / 2, 0.03)
    trunk = [*chain([(0, leg / 2, 0.03), heel], [fat, fat]), Cone(heel, (foot, -leg / 2 - 0.1, 0.03), fat, fat * 0.85)]
    finish = kit.finish()
    skins = soft(trunk, [], 0.03)
    for skin in skins.values():
        skin.vertices[:, 2] *= 0.45
    geoms = [kit.geom("mesh", (), (0, 0, 0.02), tone, finish, mesh=skin, solid=False) for skin in skins.values()]
    other = unlike_tone(rng, tone)
    marks = [(0.0, leg / 2 - 0.05), (foot * 0.95, -leg / 2 - 0.1), (-0.02, -leg / 2 - 0.02)]
    for x, y in marks:
        if rng.random() < 0.4:
            size = (fat * 0.98, fat * 0.8, fat * 0.49)
            geoms.append(kit.geom("ellipsoid", size, (x, y, 0.035), other, kit.plain(), solid=False))
    return kit.shape("sock", geoms, (foot + fat, leg / 2 + 0.2, 0.12))


def glove(kit: Kit) -> Shape:
    """A glove or mitten lying flat, fingers to +y; the fingers of a glove are parts."""
    rng, tone = kit.rng, tone_of(kit.rng)
    mitten, wide = rng.random() < 0.35, float(rng.uniform(0.15, 0.2))
    trunk = [Cone((0, -0.35, 0.05), (0, 0.0, 0.05), wide * 0.75, wide), Cone((0, 0, 0.05), (0, 0.12, 0.05), wide, wide)]
    limbs, parts = [], []
    roots = [] if mitten else list(np.linspace(-0.75, 0.75, 4))
    for k, r in enumerate(roots):
        lean, long = r * float(rng.uniform(0.05, 0.3)), (0.28, 0.34, 0.32, 0.24)[k] * float(rng.uniform(0.8, 1.1))
        tip: Point = (r * wide + lean * 0.5, 0.2 + long, 0.05)
        limbs.append(Limb(k, chain([(r * wide, 0.12, 0.05), tip], [0.058, 0.05]), 0.03))
        parts.append(Part("finger", ((r * wide + tip[0]) / 2, 0.2 + long / 2, 0.05), tip=tip))
    if mitten:
        trunk.append(Cone((0, 0.1, 0.05), (0, 0.35, 0.05), wide, wide * 0.75))
    thumb: Point = (wide + 0.16, 0.1 + float(rng.uniform(-0.05, 0.1)), 0.05)
    limbs.append(Limb(len(parts), chain([(wide * 0.6, -0.12, 0.05), thumb], [0.075, 0.055]), 0.05))
    parts.append(Part("finger", (wide + 0.05, 0.0, 0.05), tip=thumb))
    finish = kit.finish()
    geoms = []
    for part, skin in soft(trunk, limbs, 0.026).items():
        skin.vertices[:, 2] = 0.02 + (skin.vertices[:, 2] - 0.02) * 0.6
        geoms.append(kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=skin, part=part, solid=False))
    cuff: Tone = unlike_tone(rng, tone) if rng.random() < 0.5 else tone
    size = (wide * 0.85, float(rng.uniform(0.06, 0.14)), 0.075)
    geoms.append(kit.geom("ellipsoid", size, (0, -0.4, 0.06), cuff, kit.finish(), solid=False))
    return kit.shape("glove", geoms, (wide + 0.2, 0.6, 0.15), parts)


def _again(kit: Kit, make: Callable[[Kit], Shape], seed: int, flip: bool) -> Shape:
    """The same thing of the same seed, mirrored or not."""
    own = Kit(np.random.default_rng(seed))
    own.assets, own.files, own.unit, own.flip = kit.assets, kit.files, kit.unit, flip
    return make(own)


def worn(make: Callable[[Kit], Shape], family: str) -> Callable[[Kit], Stage]:
    """Stages of one to five pairs, alike or each its own; side by side, splayed, apart, or one without its fellow."""

    def stage_of(kit: Kit) -> Stage:
        rng = kit.rng
        n = int(rng.choice([1, 2, 3, 4, 5], p=[0.62, 0.16, 0.1, 0.07, 0.05]))
        look = str(rng.choice(["top", "top", "oblique", "oblique", "front"]))
        stage = Stage(
            family, fill=(0.65, 1.3) if n == 1 else (0.65, 1.1), look=look, sway=25.0, flat=rng.random() < 0.6
        )
        alone = int(rng.integers(n)) if n > 1 and rng.random() < 0.15 else -1
        facing = float(rng.choice([0, 180, 180, 90, rng.uniform(0, 360)]))
        splay, gap = float(rng.normal(0, 9)), float(rng.choice([0.02, 0.1, 0.35]) * rng.uniform(0.7, 1.4))
        c, s = np.cos(np.radians(facing)), np.sin(np.radians(facing))
        columns, x, same = int(rng.integers(1, n + 1)), 0.0, rng.random() < 0.25
        first = int(rng.integers(1 << 30))
        for k in range(n):
            seed = first if same else int(rng.integers(1 << 30))
            both = [_again(kit, make, seed, flip) for flip in (True, False)]
            half = both[0].reach[0]
            x = 0.0 if k % columns == 0 else x + 4 * half + 2 * gap + 0.15
            put = []
            for side, shape in enumerate(both, 1):
                if k == alone and side == 2:
                    continue
                across = x + (2 * side - 3) * (half + gap / 2)
                along = float(rng.normal(0, 0.05)) - 1.25 * (k // columns)
                at = (across * c - along * s, across * s + along * c, 0.0)
                turn = facing + (3 - 2 * side) * splay + float(rng.normal(0, 5))
                put.append(stage.put(shape, at, turn=turn, side=side if n == 1 else 0))
            if len(put) == 2 and n > 1:
                stage.groups.append(("pair", put))
        stage.main = both[0].kind
        return stage

    return stage_of

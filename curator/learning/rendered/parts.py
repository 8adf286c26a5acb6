"""Solids with parts that can be counted: pips, holes, studs, panes, hooks, drawers, wells, legs, wheels."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, lathe, superquadric, tone_of, unlike_tone

PIPS: dict[int, list[tuple[int, int]]] = {
    1: [(0, 0)],
    2: [(-1, -1), (1, 1)],
    3: [(-1, -1), (0, 0), (1, 1)],
    4: [(-1, -1), (-1, 1), (1, -1), (1, 1)],
    5: [(-1, -1), (-1, 1), (1, -1), (1, 1), (0, 0)],
    6: [(-1, -1), (-1, 0), (-1, 1), (1, -1), (1, 0), (1, 1)],
}


def _on_side(face: int, x: float, y: float, reach: float) -> tuple[Point, Point]:
    """Where a spot (x, y) of an upright face lies, and the angles that lay a disc on it; four faces round z."""
    at = ((x, -reach, y), (reach, x, y), (-x, reach, y), (-reach, -x, y))[face]
    return at, ((90, 0, 0), (0, 90, 0), (90, 0, 0), (0, 90, 0))[face]


def die(kit: Kit, face: int, tone: Tone | None = None, ink: Tone | None = None) -> Shape:
    """A rounded cube; the pips of the upper face count, those of the sides are left out."""
    rng = kit.rng
    tone = tone or tone_of(rng)
    ink = ink or unlike_tone(rng, tone, 0.5)
    finish = kit.calm()
    big, gap = rng.uniform(0.07, 0.1), rng.uniform(0.22, 0.27)
    geoms = [kit.geom("mesh", (), (0, 0, 0.5), tone, finish, mesh=superquadric((0.5, 0.5, 0.5), 0.18, 0.18))]
    parts: list[Part] = []

    def pip(at: Point, angles: Point, side: int, aside: bool) -> None:
        geoms.append(kit.geom("cylinder", (big, 0.006), at, ink, finish, angles=angles, part=len(parts), solid=False))
        parts.append(Part("pip", at, side, aside))

    halves = face in (2, 4, 6)
    for x, y in PIPS[face]:
        pip((x * gap, y * gap, 0.5 + 0.5), (0, 0, 0), (1 if x < 0 else 2) if halves else 0, False)
    sides = [f for f in range(1, 7) if f not in (face, 7 - face)]
    rng.shuffle(sides)
    for k, value in enumerate(sides):
        for x, y in PIPS[int(value)]:
            at, angles = _on_side(k, x * gap, 0.5 + y * gap, 0.5)
            pip(at, angles, 0, True)
    return kit.shape("die", geoms, (0.5, 0.5, 1), parts)


def domino(kit: Kit, faces: tuple[int, int], tone: Tone, ink: Tone) -> Shape:
    """Lies flat, long along x; its two faces are the halves."""
    finish = kit.calm()
    geoms = [
        kit.geom("mesh", (), (0, 0, 0.05), tone, finish, mesh=superquadric((0.5, 0.25, 0.05), 0.15, 0.12)),
        kit.geom("box", (0.008, 0.2, 0.003), (0, 0, 0.1), ink, finish, solid=False),
    ]
    parts: list[Part] = []
    for side, face in enumerate(faces, 1):
        for x, y in PIPS.get(face, []):
            at = ((side - 1.5) * 0.5 + 0.14 * y, 0.14 * x, 0.1)
            geoms.append(kit.geom("cylinder", (0.045, 0.004), at, ink, finish, part=len(parts), solid=False))
            parts.append(Part("pip", at, side))
    return kit.shape("domino", geoms, (0.5, 0.25, 0.1), parts)


def button(kit: Kit, holes: int, tone: Tone) -> Shape:
    finish = kit.calm()
    dark: Tone = (0.06, 0.05, 0.05)
    out = [(0.001, 0), (0.46, 0), (0.5, 0.06), (0.48, 0.11), (0.42, 0.11), (0.38, 0.07), (0.001, 0.07)]
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out, 40))]
    parts: list[Part] = []
    reach, big = kit.rng.uniform(0.12, 0.2), kit.rng.uniform(0.045, 0.075)
    for k in range(holes):
        a = 2 * np.pi * (k + 0.5) / holes
        at = (reach * float(np.cos(a)), reach * float(np.sin(a)), 0.071)
        geoms.append(kit.geom("cylinder", (big, 0.004), at, dark, finish, part=k, solid=False))
        parts.append(Part("hole", at, 0 if holes % 2 else 1 if at[0] < -1e-6 or (holes == 2 and k == 0) else 2))
    return kit.shape("button", geoms, (0.5, 0.5, 0.11), parts)


def brick(kit: Kit, long: int, wide: int, tone: Tone) -> Shape:
    """A block with studs in `wide` rows of `long`."""
    finish, step = kit.calm(), 1 / long
    tall = kit.rng.uniform(0.4, 1.2) * step
    y = wide * step / 2
    geoms = [kit.geom("box", (0.5, y, tall / 2), (0, 0, tall / 2), tone, finish)]
    parts: list[Part] = []
    for i in range(long):
        for j in range(wide):
            at = ((i + 0.5) * step - 0.5, (j + 0.5) * step - y, tall + 0.1 * step)
            side = (1 if j < wide / 2 else 2) if wide % 2 == 0 else (1 if i < long / 2 else 2) if long % 2 == 0 else 0
            geoms.append(kit.geom("cylinder", (0.3 * step, 0.1 * step), at, tone, finish, part=len(parts), solid=False))
            parts.append(Part("stud", at, side))
    return kit.shape("brick", geoms, (0.5, y, tall + 0.2 * step), parts)


def lattice(high: int, wide: int) -> list[tuple[float, float, int]]:
    """(row, col, side) of cells in -0.5..0.5; halves are columns where they pair up, else rows."""
    cells = []
    for i in range(high):
        for j in range(wide):
            side = (1 if j < wide / 2 else 2) if wide % 2 == 0 else (1 if i < high / 2 else 2) if high % 2 == 0 else 0
            cells.append(((i + 0.5) / high - 0.5, (j + 0.5) / wide - 0.5, side))
    return cells


def window(kit: Kit, high: int, wide: int, tall: float, frame: Tone, glass: Tone) -> Shape:
    """A window that looks to -y: one unit wide, `tall` high, its panes parts."""
    finish, bar = kit.calm(), kit.rng.uniform(0.02, 0.045)
    geoms = []
    for x, z, a, b in (
        (-0.5, tall / 2, bar, tall / 2),
        (0.5, tall / 2, bar, tall / 2),
        (0, 0, 0.5, bar),
        (0, tall, 0.5, bar),
    ):
        geoms.append(kit.geom("box", (a + 0.01, 0.05, b + 0.01), (x, 0, z), frame, finish))
    for k in range(1, wide):
        geoms.append(kit.geom("box", (bar * 0.6, 0.035, tall / 2), (k / wide - 0.5, 0, tall / 2), frame, finish))
    for k in range(1, high):
        geoms.append(kit.geom("box", (0.5, 0.03, bar * 0.6), (0, 0, k * tall / high), frame, finish))
    if kit.rng.random() < 0.5:
        geoms.append(kit.geom("box", (0.58, 0.09, 0.025), (0, -0.05, -0.03), frame, finish))
    parts: list[Part] = []
    shine = kit.calm()
    for row, col, side in lattice(high, wide):
        at = (col, 0.02, tall * (0.5 - row))
        own = tuple(float(np.clip(c + kit.rng.normal(0, 0.03), 0, 1)) for c in glass)
        geoms.append(
            kit.geom(
                "box", (0.5 / wide - bar * 0.5, 0.008, tall * 0.5 / high - bar * 0.5), at, own, shine, part=len(parts)
            )
        )
        parts.append(Part("pane", at, side))
    return kit.shape("window", geoms, (0.55, 0.08, tall), parts)


def hooks(kit: Kit, n: int, rows: int, missing: int) -> Shape:
    """A board on a wall, facing -y, with rows of hooks."""
    rng = kit.rng
    tone = tone_of(rng)
    metal, finish = unlike_tone(rng, tone), kit.calm()
    tall = max(0.12, 0.25 * rows * rng.uniform(0.6, 1.0))
    geoms = [kit.geom("box", (0.5, 0.02, tall / 2), (0, 0, tall / 2), tone, finish)]
    parts: list[Part] = []
    big = min(0.35 / n, tall / rows * 0.28)
    style = int(rng.integers(0, 2))
    for k, (row, col, side) in enumerate(lattice(rows, n)):
        if k == missing:
            continue
        x, z, own = col * 0.94, tall * (0.5 - row), len(parts)
        made: list[Geom] = []
        if style:
            made.append(
                kit.geom(
                    "cylinder",
                    (big * 0.25, big * 0.7),
                    (x, -0.02 - big * 0.7, z),
                    metal,
                    finish,
                    angles=(90, 0, 0),
                    part=own,
                )
            )
            made.append(kit.geom("sphere", (big * 0.6,), (x, -0.02 - big * 1.4, z), metal, finish, part=own))
        else:
            made.append(kit.geom("capsule", (big * 0.2, big), (x, -0.03, z), metal, finish, part=own))
            made.append(
                kit.geom(
                    "capsule",
                    (big * 0.2, big * 0.5),
                    (x, -0.03 - big * 0.5, z - big),
                    metal,
                    finish,
                    angles=(90, 0, 0),
                    part=own,
                )
            )
            made.append(
                kit.geom("capsule", (big * 0.2, big * 0.35), (x, -0.03 - big, z - big * 0.65), metal, finish, part=own)
            )
        geoms += made
        parts.append(Part("hook", (x, -0.02 - big * 0.5, z - (0 if style else big * 0.4)), 0 if missing >= 0 else side))
    return kit.shape("board", geoms, (0.5, 0.05, tall), parts)


def cabinet(kit: Kit, high: int, wide: int, knobs: int) -> Shape:
    """A chest that looks to -y; drawers, and on each one or two knobs or no knob."""
    rng = kit.rng
    tone, finish = tone_of(rng), kit.calm()
    front = tuple(float(np.clip(c * rng.uniform(0.75, 1.25), 0, 1)) for c in tone)
    metal = unlike_tone(rng, front)
    tall = min(1.6, rng.uniform(0.2, 0.35) * high + 0.1)
    geoms = [kit.geom("box", (0.52, 0.25, tall / 2), (0, 0, tall / 2), tone, finish)]
    parts: list[Part] = []
    w, h = 0.5 / wide * 0.92, tall * 0.5 / high * rng.uniform(0.75, 0.9)
    for row, col, side in lattice(high, wide):
        z, out = tall * (0.5 - row), float(rng.choice([0.0, 0.0, 0.0, 0.06]))
        geoms.append(kit.geom("box", (w, 0.012 + out, h), (col, -0.26, z), front, finish, part=len(parts)))
        parts.append(Part("drawer", (col, -0.27 - out, z), side))
        for k in range(knobs):
            x = col + (k - (knobs - 1) / 2) * w
            at = (x, -0.3 - out, z)
            geoms.append(kit.geom("sphere", (min(0.035, h * 0.35),), at, metal, finish, part=len(parts)))
            parts.append(Part("knob", at, side if knobs == 1 or wide % 2 == 0 else k + 1))
    return kit.shape("cabinet", geoms, (0.53, 0.3, tall), parts)


def tray(kit: Kit, high: int, wide: int, *, round_wells: bool) -> Shape:
    """A board with wells: open cups in a plate (muffin tin, egg tray), or boxes between bars (ice tray)."""
    rng = kit.rng
    tone, finish, step = tone_of(rng), kit.calm(), 1.0
    x, y = wide * step / 2 + 0.1, high * step / 2 + 0.1
    floor = tuple(c * rng.uniform(0.35, 0.75) for c in tone)
    geoms = [kit.geom("box", (x, y, 0.03), (0, 0, 0.03), tone, finish)]
    parts: list[Part] = []
    rim = lathe([(0.4, 0), (0.47, 0.3), (0.43, 0.3), (0.36, 0.03), (0.001, 0.03)])
    for row, col, side in lattice(high, wide):
        at = (col * wide, -row * high, 0.06)
        if round_wells:
            geoms.append(kit.geom("mesh", (), at, tone, finish, mesh=rim, part=len(parts), solid=False))
            geoms.append(
                kit.geom("cylinder", (0.36, 0.005), (at[0], at[1], 0.095), floor, finish, part=len(parts), solid=False)
            )
        else:
            geoms.append(kit.geom("box", (0.44, 0.44, 0.01), at, floor, finish, part=len(parts)))
        parts.append(Part("well", at, side))
    if not round_wells:
        for k in range(wide + 1):
            geoms.append(kit.geom("box", (0.06, y - 0.05, 0.18), (k - wide / 2, 0, 0.18), tone, finish))
        for k in range(high + 1):
            geoms.append(kit.geom("box", (x - 0.05, 0.06, 0.18), (0, k - high / 2, 0.18), tone, finish))
    return kit.shape("tray", geoms, (x, y, 0.36), parts)


def bug(kit: Kit, pairs: int) -> Shape:
    """A body along y (head at +y) with legs in pairs; feelers are left out."""
    rng = kit.rng
    tone = tone_of(rng)
    finish, limb = kit.calm(), tuple(c * rng.uniform(0.2, 1.0) for c in tone)
    wide, tall, up = rng.uniform(0.14, 0.26), rng.uniform(0.1, 0.18), rng.uniform(0.16, 0.26)
    geoms = [
        kit.geom("ellipsoid", (wide, 0.4, tall), (0, -0.05, up), tone, finish),
        kit.geom(
            "sphere", (wide * 0.62,), (0, 0.4, up), unlike_tone(rng, tone) if rng.random() < 0.5 else tone, finish
        ),
    ]
    parts: list[Part] = []
    thick, reach = rng.uniform(0.018, 0.04), rng.uniform(0.3, 0.55)
    for k in range(pairs):
        y = float(np.interp(k, [0, max(1, pairs - 1)], [0.22, -0.28]))
        lean = float(np.interp(k, [0, max(1, pairs - 1)], [0.22, -0.25])) + rng.normal(0, 0.03)
        for side, sign in ((1, -1.0), (2, 1.0)):
            root, knee = (sign * wide * 0.75, y, up), (sign * (wide + reach * 0.45), y + lean * 0.5, up + 0.12)
            foot = (sign * (wide + reach), y + lean, thick)
            for one, two in ((root, knee), (knee, foot)):
                geoms.append(rod(kit, one, two, thick, limb, finish, len(parts)))
            parts.append(Part("leg", knee, side, tip=foot))
    for sign in (-1.0, 1.0) if rng.random() < 0.6 else ():
        one, two = (sign * 0.05, 0.5, up + 0.05), (sign * 0.2, 0.75, up + 0.15)
        geoms.append(rod(kit, one, two, thick * 0.5, limb, finish, len(parts)))
        parts.append(Part("feeler", (sign * 0.12, 0.62, up + 0.1), aside=True, tip=two))
    return kit.shape("bug", geoms, (wide + reach, 0.6, up + tall), parts, axis=((0, 0.55, up), (0, -0.45, up)))


def rod(kit: Kit, one: Point, two: Point, thick: float, tone: Tone, finish: str, part: int) -> Geom:
    """A capsule from one point to another."""
    a, b = np.array(one), np.array(two)
    along = b - a
    length = float(np.linalg.norm(along))
    x, y, z = along / length
    # turns about x, then y (intrinsic): z is carried to (sin b, -sin a cos b, cos a cos b)
    second = float(np.degrees(np.arcsin(np.clip(x, -1, 1))))
    first = float(np.degrees(np.arctan2(-y, z)))
    mid = tuple(float(v) for v in (a + b) / 2)
    return kit.geom(
        "capsule",
        (thick, length / 2),
        (mid[0], mid[1], mid[2]),
        tone,
        finish,
        angles=(first, second, 0),
        part=part,
        solid=False,
    )


def bent(kit: Kit, points: list[Point], thick: float, tone: Tone, finish: str, part: int = -1) -> list[Geom]:
    """A round bar through all these points."""
    return [rod(kit, one, two, thick, tone, finish, part) for one, two in pairwise(points)]


def stool(kit: Kit, legs: int) -> Shape:
    rng = kit.rng
    tone, finish = tone_of(rng), kit.calm()
    seat, tall, out = rng.uniform(0.3, 0.45), rng.uniform(0.5, 0.9), rng.uniform(0.0, 0.15)
    geoms = [kit.geom("cylinder", (seat, 0.04), (0, 0, tall + 0.04), tone, finish)]
    if legs == 4 and rng.random() < 0.5:
        geoms = [kit.geom("box", (seat, seat, 0.04), (0, 0, tall + 0.04), tone, finish)]
    parts: list[Part] = []
    limb = unlike_tone(rng, tone)
    for k in range(legs):
        a = 2 * np.pi * (k + 0.5) / legs
        c, s = float(np.cos(a)), float(np.sin(a))
        top, foot = (c * seat * 0.8, s * seat * 0.8, tall), (c * (seat * 0.8 + out), s * (seat * 0.8 + out), 0.03)
        geoms.append(rod(kit, top, foot, 0.03, limb, finish, k))
        mid = tuple((p + q) / 2 for p, q in zip(top, foot, strict=True))
        parts.append(Part("leg", (mid[0], mid[1], mid[2]), (1 if c < 0 else 2) if legs % 2 == 0 else 0, tip=foot))
    return kit.shape("stool", geoms, (seat + out, seat + out, tall + 0.1), parts)


def cart(kit: Kit) -> Shape:
    """A toy wagon along x with two wheels on each side."""
    rng = kit.rng
    tone, finish = tone_of(rng), kit.calm()
    wheel, big = unlike_tone(rng, tone), rng.uniform(0.1, 0.16)
    geoms = [
        kit.geom("box", (0.5, 0.2, 0.1), (0, 0, big + 0.12), tone, finish),
        kit.geom("box", (0.26, 0.18, 0.1), (rng.uniform(-0.2, 0.2), 0, big + 0.3), unlike_tone(rng, tone), finish),
    ]
    parts: list[Part] = []
    for side, y in ((1, -0.22), (2, 0.22)):
        for x in (-0.3, 0.3):
            at = (x, y, big)
            geoms.append(kit.geom("cylinder", (big, 0.04), at, wheel, finish, angles=(90, 0, 0), part=len(parts)))
            geoms.append(
                kit.geom(
                    "cylinder", (big * 0.4, 0.045), at, (0.8, 0.8, 0.8), finish, angles=(90, 0, 0), part=len(parts)
                )
            )
            parts.append(Part("wheel", at, side))
    return kit.shape("wagon", geoms, (0.5, 0.26, 0.6), parts)

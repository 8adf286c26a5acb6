"""Long thin things side by side: lying with shadows, standing, as slats of a fence, or together in a cup."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning.rendered import walls
from curator.learning.rendered.figures import mug
from curator.learning.rendered.kit import Kit, Shape, lathe, side_of, superquadric, tone_of, unlike_tone
from curator.learning.rendered.stage import Stage
from curator.learning.rendered.things import bottle, candle, pencil, spoon

Rng = np.random.Generator


def pole(kit: Kit) -> Shape:
    """A rod that stands, round or square, some with a knob or bands."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    r = float(rng.uniform(0.015, 0.06))
    sort = "cylinder" if rng.random() < 0.7 else "box"
    geoms = [kit.geom(sort, (r, 0.5) if sort == "cylinder" else (r, r, 0.5), (0, 0, 0.5), tone, finish)]
    for _ in range(int(rng.integers(0, 3))):
        half, z = float(rng.uniform(0.01, 0.1)), float(rng.uniform(0.12, 0.88))
        geoms.append(
            kit.geom("cylinder", (r * 1.45, half), (0, 0, z), unlike_tone(rng, tone), kit.plain(), solid=False)
        )
    if rng.random() < 0.25:
        geoms.append(kit.geom("sphere", (r * 2.2,), (0, 0, 1.0), unlike_tone(rng, tone), kit.plain(), solid=False))
    return kit.shape("pole", geoms, (r * 1.5, r * 1.5, 1.0))


def brush(kit: Kit) -> Shape:
    """A brush that stands on its handle, its hair up."""
    rng, tone = kit.rng, tone_of(kit.rng)
    r, finish = float(rng.uniform(0.02, 0.04)), kit.finish()
    geoms = [
        kit.geom(
            "mesh",
            (),
            (0, 0, 0),
            tone,
            finish,
            mesh=lathe([(0.001, 0), (r * 0.6, 0.02), (r, 0.55), (r * 0.7, 0.68), (0.001, 0.68)], 14),
        ),
        kit.geom("cylinder", (r * 0.95, 0.06), (0, 0, 0.72), (0.78, 0.77, 0.72), kit.plain(), solid=False),
        kit.geom(
            "mesh",
            (),
            (0, 0, 0.78),
            unlike_tone(rng, tone),
            kit.plain(),
            mesh=lathe([(r * 0.9, 0), (r * 1.5, 0.1), (0.001, 0.22)], 14),
            solid=False,
        ),
    ]
    return kit.shape("brush", geoms, (r * 1.5, r * 1.5, 1.0))


def fork(kit: Kit) -> Shape:
    """Lies along y, its prongs to +y."""
    geoms, tone, finish = [], (0.75, 0.75, 0.77), kit.plain()
    wide = float(kit.rng.uniform(0.055, 0.085))
    geoms.append(kit.geom("capsule", (0.022, 0.3), (0, -0.15, 0.03), tone, finish, angles=(90, 0, 0)))
    geoms.append(kit.geom("mesh", (), (0, 0.22, 0.04), tone, finish, mesh=superquadric((wide, 0.08, 0.018), 0.6, 0.5)))
    geoms += [
        kit.geom("capsule", (0.012, 0.1), (wide * x, 0.36, 0.05), tone, finish, angles=(90, 0, 0))
        for x in (-0.8, -0.27, 0.27, 0.8)
    ]
    return kit.shape("fork", geoms, (wide, 0.5, 0.08))


UPRIGHT: dict[str, Callable[[Kit], Shape]] = {"candle": candle, "bottle": bottle, "pole": pole, "brush": brush}
LAID: dict[str, Callable[[Kit], Shape]] = {"pencil": pencil, "spoon": spoon, "fork": fork}


def _alike(kit: Kit, make: Callable[[Kit], Shape]) -> Callable[[], Shape]:
    """The same again, the same outline in other tones, or each its own."""
    chance, first = kit.rng.random(), make(kit)
    return (lambda: first) if chance < 0.5 else lambda: make(kit)


def _ranks(rng: Rng, n: int) -> list[tuple[float, int]]:
    """Places along a line, one apart, and halves: two groups with a gap, or one row."""
    if n % 2 == 0 and rng.random() < 0.4:
        gap = float(rng.uniform(0.8, 2.5))
        return [(k + (gap if k >= n / 2 else 0), 1 if k < n / 2 else 2) for k in range(n)]
    return [(float(k), side_of(k, n)) for k in range(n)]


def side_by_side(kit: Kit) -> Stage:
    """A row of upright or lying thin things."""
    rng = kit.rng
    upright = rng.random() < 0.45
    names = UPRIGHT if upright else {**LAID, **UPRIGHT}
    make = _alike(kit, names[str(rng.choice(list(names)))])
    look = str(rng.choice(["front", "oblique"])) if upright else str(rng.choice(["top", "oblique"]))
    stage = Stage("solid thin", look=look, fill=(0.65, 1.15), flat=rng.random() < 0.7)
    first, n = make(), int(rng.integers(2, 13))
    width, loose = 2 * first.reach[0], float(rng.uniform(0.0, 5.0))
    step = max(width * float(rng.uniform(1.1, 3.2)), 0.09)
    turn = 0.0 if upright else float(rng.choice([0, 90])) + float(rng.normal(0, 10))
    slip = float(rng.choice([0.0, 0.03, 0.12]))
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    for k, (at, side) in enumerate(_ranks(rng, n)):
        shape = make() if k else first
        x, y = at * step, float(rng.normal(0, slip))
        own = turn + float(rng.normal(0, loose))
        if upright:
            stage.put(
                shape, (x, y, 0.0), turn=float(rng.uniform(0, 360)), side=side, tint=float(rng.uniform(0.85, 1.1))
            )
        elif first.kind in LAID:
            stage.put(
                shape,
                (float(c * x - s * y), float(s * x + c * y), 0.0),
                turn=own,
                side=side,
                tint=float(rng.uniform(0.85, 1.1)),
            )
        else:  # what would stand is laid along y
            y -= shape.reach[2] / 2
            stage.put(
                shape, (float(c * x - s * y), float(s * x + c * y), shape.reach[1]), turn=own, tilt=-90.0, side=side
            )
    stage.main = first.kind
    return stage


def fence(kit: Kit) -> Stage:
    """Slats on rails, out of doors; the rails are no slats."""
    rng = kit.rng
    stage = Stage("solid fence", main="slat", flat=True, sky=True, lift=(-4, 22), sway=24.0, fill=(0.75, 1.1))
    n, wide, tall = int(rng.integers(3, 14)), float(rng.uniform(0.06, 0.14)), float(rng.uniform(0.8, 1.4))
    step, tone = wide * 2 * float(rng.uniform(1.25, 2.4)), tone_of(rng) if rng.random() < 0.5 else (0.9, 0.9, 0.87)
    finish = kit.papered(walls.boards(rng)) if rng.random() < 0.4 else kit.finish()
    tip, mixed = int(rng.integers(3)), rng.random() < 0.15
    for k in range(n):
        own = tone_of(rng) if mixed else tone
        z = tall * float(1 + rng.normal(0, 0.015))
        geoms = [kit.geom("box", (wide, 0.02, z / 2), (0, 0, z / 2), own, finish)]
        if tip == 1:
            corners = np.array(
                [
                    (-wide, -0.02, 0),
                    (wide, -0.02, 0),
                    (0, -0.02, wide * 1.3),
                    (-wide, 0.02, 0),
                    (wide, 0.02, 0),
                    (0, 0.02, wide * 1.3),
                ]
            )
            faces = np.array([[0, 1, 2], [4, 3, 5], [0, 2, 5], [0, 5, 3], [1, 4, 5], [1, 5, 2]])
            geoms.append(kit.geom("mesh", (), (0, 0, z), own, finish, mesh=(corners, faces), solid=False))
        elif tip == 2:
            geoms.append(kit.geom("cylinder", (wide, 0.02), (0, 0, z), own, finish, angles=(90, 0, 0), solid=False))
        side = side_of(k, n)
        stage.put(
            kit.shape("slat", geoms, (wide, 0.03, z + wide)),
            (k * step, 0.0, 0.05),
            side=side,
            tint=float(rng.uniform(0.85, 1.1)),
        )
    half = (n - 1) * step / 2
    rails = [kit.geom("box", (half + wide, 0.02, 0.05), (half, 0.045, tall * z), tone, finish) for z in (0.2, 0.75)]
    shape = kit.shape("rails", rails, (half, 0.06, tall))
    shape.aside = True
    stage.put(shape, framed=False)
    return stage


def potted(kit: Kit) -> Stage:
    """Pencils, brushes or sticks that stand in a mug."""
    rng = kit.rng
    kit.unit = float(rng.uniform(0.7, 0.95))
    cup = mug(kit)
    kit.unit = 1.0
    stage = Stage("solid potted", fill=(0.7, 1.1), look=str(rng.choice(["front", "oblique"])), flat=True)
    stage.put(cup, turn=float(rng.uniform(0, 360)))
    make, n = _alike(kit, (brush, pole)[int(rng.integers(2))]), int(rng.integers(2, 9))
    start = float(rng.uniform(0, 6.28))
    for k in range(n):
        a, shape = start + 2 * np.pi * k / n + float(rng.normal(0, 0.2)), make()
        lean, foot = float(rng.uniform(5, 17)), 0.08
        at = (foot * float(np.cos(a)), foot * float(np.sin(a)), 0.12)
        stage.put(shape, at, turn=float(np.degrees(a)) + 90, tilt=lean, tint=float(rng.uniform(0.85, 1.1)))
        stage.main = shape.kind
    return stage

"""Things that hide each other: nested, fanned out, leaning, heaped, or lying in a bowl, a basket or a box."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from curator.learning.rendered.figures import FIGURES
from curator.learning.rendered.kit import Geom, Kit, Shape, lathe, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.stage import Stage, maker, space
from curator.learning.rendered.things import THINGS

Rng = np.random.Generator


def _stave(kit: Kit, turn: float, one: tuple[float, float], two: tuple[float, float], thick: float) -> Geom:
    """An unseen stave of a round vessel, from (radius, height) to (radius, height), for things to lie against."""
    c, s = float(np.cos(turn)), float(np.sin(turn))
    made = rod(
        kit, (one[0] * c, one[0] * s, one[1]), (two[0] * c, two[0] * s, two[1]), thick, (1, 1, 1), kit.plain(), -1
    )
    return replace(made, solid=True, unseen=True)


def dish(kit: Kit, wide: float, tall: float) -> Shape:
    """A bowl that holds things: half as wide at its foot."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    t = np.linspace(0, 1.57, 7)
    out = [(0.001, 0.0), *((float(wide * (0.5 + 0.5 * np.sin(a))), float(tall * (1 - np.cos(a)))) for a in t)]
    back = [(max(0.001, r - 0.06), min(tall, z + 0.05)) for r, z in reversed(out)]
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out + back, 40), solid=False)]
    if rng.random() < 0.3:
        geoms.append(
            kit.geom("cylinder", (wide * 0.55, 0.02), (0, 0, 0.02), unlike_tone(rng, tone), finish, solid=False)
        )
    for k in range(20):
        turn = 2 * np.pi * k / 20
        for (r0, z0), (r1, z1) in ((out[1], out[4]), (out[4], out[-1])):
            geoms.append(_stave(kit, turn, (r0 + 0.1, z0), (r1 + 0.1, z1 + 0.05), 0.13))
    return kit.shape("dish", geoms, (wide, wide, tall))


def crate(kit: Kit, wide: float, deep: float, tall: float) -> Shape:
    """An open box of boards, card or plastic, or with slats."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    slats = rng.random() < 0.45
    geoms = [kit.geom("box", (wide, deep, 0.03), (0, 0, 0.03), tone, finish)]
    for x, y, a, b in ((-wide, 0, 0.04, deep), (wide, 0, 0.04, deep), (0, -deep, wide, 0.04), (0, deep, wide, 0.04)):
        geoms.append(kit.geom("box", (a, b, tall / 2), (x, y, tall / 2), tone, finish, unseen=slats))
        for k in range(3 if slats else 0):
            geoms.append(kit.geom("box", (a, b, tall * 0.12), (x, y, tall * (k + 0.5) / 3), tone, finish, solid=False))
    return kit.shape("crate", geoms, (wide, deep, tall))


def basket(kit: Kit, wide: float, tall: float) -> Shape:
    """A round basket of hoops and staves, some with a handle."""
    rng = kit.rng
    tone = (0.45 + 0.3 * float(rng.random()), 0.35 + 0.15 * float(rng.random()), 0.2)
    finish, low = kit.finish(), wide * 0.8
    geoms = [kit.geom("cylinder", (low, 0.03), (0, 0, 0.03), tone, finish)]
    for k in range(int(tall / 0.09)):
        z = 0.09 * k + 0.05
        r = low + (wide - low) * z / tall + 0.015 * (-1) ** k
        hoop = lathe([(r, z - 0.045), (r + 0.045, z), (r, z + 0.045), (r - 0.045, z), (r, z - 0.045)], 30)
        geoms.append(
            kit.geom(
                "mesh", (), (0, 0, 0), tuple(c * (0.85 + 0.15 * (k % 2)) for c in tone), finish, mesh=hoop, solid=False
            )
        )
    geoms += [_stave(kit, 2 * np.pi * k / 18, (low + 0.1, 0.0), (wide + 0.1, tall), 0.12) for k in range(18)]
    if rng.random() < 0.4:
        bow = [(float(wide * np.cos(a)), 0.0, tall + float(wide * np.sin(a))) for a in np.linspace(0, np.pi, 9)]
        geoms += [rod(kit, bow[k], bow[k + 1], 0.045, tone, finish, -1) for k in range(8)]
    return kit.shape("basket", geoms, (wide, wide, tall))


STANDING = {
    **FIGURES,
    **{name: THINGS[name] for name in ("bottle", "cup", "candle", "vase", "mushroom", "can", "fruit", "egg")},
}
HELD = ("ball", "egg", "fruit", "fruit", "fruit", "muffin", "blob", "can", "mushroom")


def _dropped(
    stage: Stage, rng: Rng, make: Callable[[], Shape], n: int, half: tuple[float, float], floor: float
) -> None:
    """Let n things fall within half width and depth, one above the other."""
    for k in range(n):
        a, r = rng.uniform(0, 6.28), rng.uniform(0, 1) ** 0.5
        where = (float(r * np.cos(a) * half[0]), float(r * np.sin(a) * half[1]), floor + 0.75 * k)
        stage.put(
            make(),
            where,
            turn=float(rng.uniform(0, 360)),
            tilt=float(rng.uniform(-40, 40)),
            free=True,
            tint=float(rng.uniform(0.85, 1.1)),
        )


def held(kit: Kit) -> Stage:
    """Things in a bowl, a basket or a box."""
    rng = kit.rng
    stage = Stage("solid held", fill=(0.7, 1.15), look=str(rng.choice(["top", "oblique", "oblique"])), flat=True)
    make, n = maker(kit, HELD), int(rng.integers(3, 11))
    wide = float(0.5 * np.sqrt(n) * rng.uniform(0.85, 1.25) + 0.3)
    sort = int(rng.integers(3))
    if sort == 0:
        shape = dish(kit, wide * 1.1, float(rng.uniform(0.4, 0.9)))
    elif sort == 1:
        shape = basket(kit, wide, float(rng.uniform(0.35, 0.7)))
    else:
        shape = crate(kit, wide, wide * float(rng.uniform(0.6, 1.0)), float(rng.uniform(0.25, 0.7)))
    stage.put(shape)
    stage.walls = 2.2 * wide
    _dropped(stage, rng, make, n, (shape.reach[0] * 0.3, shape.reach[1] * 0.3), 0.3)
    stage.main = stage.placed[-1].shape.kind
    return stage


def piled(kit: Kit) -> Stage:
    """A heap on the ground in two layers and more, seen from the side."""
    rng = kit.rng
    stage = Stage("solid piled", fill=(0.7, 1.2), look="oblique", flat=True)
    make, n = maker(kit, (*HELD, "carton", "bottle", "shoe", "cup")), int(rng.integers(3, 9))
    stage.walls = float(0.3 * np.sqrt(n) + 0.3)
    _dropped(stage, rng, make, n, (stage.walls * 0.35, stage.walls * 0.35), 0.1)
    stage.main = stage.placed[-1].shape.kind
    return stage


def nested(kit: Kit) -> Stage:
    """Stacks of vessels that stand in each other, upright, upside down or lying."""
    rng = kit.rng
    stage = Stage("solid nested", fill=(0.6, 1.15), look=str(rng.choice(["oblique", "oblique", "front"])), flat=True)
    make = maker(kit, ("cup", "cup", "bowl", "plate"))
    first = make()
    rise = first.reach[2] * float(rng.uniform(0.3, 0.6)) + (0.05 if first.kind in ("plate", "bowl") else 0)
    stacks, n = int(rng.choice([1, 1, 2, 2, 3])), int(rng.integers(2, 6))
    lying = first.kind == "cup" and rng.random() < 0.4
    over = not lying and rng.random() < 0.3
    for stack in range(stacks):
        own = n if rng.random() < 0.7 else max(1, n - 1)
        x, turn = (stack - (stacks - 1) / 2) * space(first) * 1.25, float(rng.uniform(0, 360))
        for k in range(own):
            shape = make() if k or stack else first
            side = stack + 1 if stacks == 2 else 0
            if lying:
                at = (rise * k, 1.2 * stack, shape.reach[1])
                stage.put(shape, at, turn=-90.0, tilt=-90.0, side=side)
            else:
                z = rise * k + (shape.reach[2] if over else 0)
                wobble = rng.normal(0, 0.012, 2)
                stage.put(
                    shape,
                    (x + wobble[0], wobble[1], z),
                    turn=turn + rng.normal(0, 25),
                    tilt=180.0 if over else 0.0,
                    side=side,
                )
    stage.main = first.kind
    return stage


def fanned(kit: Kit) -> Stage:
    """Flat things in a row, each lying partly on the one before."""
    rng = kit.rng
    stage = Stage("solid fanned", fill=(0.6, 1.15), look=str(rng.choice(["top", "oblique", "oblique"])), flat=True)
    make, n = maker(kit, ("plate", "book", "book", "biscuit", "biscuit")), int(rng.integers(2, 10))
    first = make()
    step, tilt = first.reach[1] * 2 * float(rng.uniform(0.42, 0.85)), float(rng.uniform(5, 16))
    rows = 2 if n > 3 and rng.random() < 0.35 else 1
    for row in range(rows):
        for k in range(n // rows):
            shape = make() if k or row else first
            lift = shape.reach[1] * float(np.sin(np.radians(tilt)))
            at = ((row - (rows - 1) / 2) * space(first) * 1.15 + rng.normal(0, 0.03), step * k, lift if k else 0.0)
            stage.put(
                shape,
                at,
                turn=float(rng.normal(0, 7)),
                tilt=-tilt if k else 0.0,
                side=row + 1 if rows == 2 else 0,
                tint=float(rng.uniform(0.85, 1.1)),
            )
    stage.main = first.kind
    return stage


def crowd(kit: Kit) -> Stage:
    """Upright things close together in two or three ranks, those behind partly hidden, seen from the front."""
    rng = kit.rng
    stage = Stage("solid crowd", fill=(0.7, 1.2), look=str(rng.choice(["front", "oblique"])), lift=(6, 34), flat=True)
    sort = str(rng.choice(list(STANDING)))
    first = STANDING[sort](kit)
    alike, step, n = rng.random() < 0.4, space(first) * float(rng.uniform(0.85, 1.2)), int(rng.integers(3, 9))
    ranks = 2 if n < 6 else int(rng.integers(2, 4))
    for k in range(n):
        kit.unit = 1.0 if alike else float(np.exp(rng.normal(0, 0.1)))
        shape = first if alike or k == 0 else STANDING[sort](kit)
        rank, place = k % ranks, k // ranks
        x = (place + 0.5 * (rank % 2) + float(rng.normal(0, 0.1))) * step
        stage.put(
            shape,
            (x, rank * step * float(rng.uniform(0.75, 1.0)), 0.0),
            turn=float(rng.uniform(0, 360)),
            tint=float(rng.uniform(0.85, 1.1)),
        )
    kit.unit = 1.0
    stage.main = first.kind
    return stage


def volume(kit: Kit, tall: float, deep: float) -> Shape:
    """A book that stands: its back looks to -x, thin along y."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    y, z = float(rng.uniform(0.05, 0.14)), tall * float(rng.uniform(0.8, 1.05)) / 2
    geoms = [
        kit.geom("box", (deep, y, z), (0, 0, z), tone, finish),
        kit.geom("box", (deep * 0.98, y * 0.8, z * 1.002), (0.025, 0, z), (0.93, 0.9, 0.82), kit.plain(), solid=False),
    ]
    for _ in range(int(rng.integers(0, 4))):
        at, half = float(rng.uniform(0.3, 1.8)) * z, float(rng.uniform(0.01, 0.12))
        geoms.append(
            kit.geom("box", (0.01, y * 1.01, half), (-deep, 0, at), unlike_tone(rng, tone), kit.plain(), solid=False)
        )
    return kit.shape("volume", geoms, (deep, y, 2 * z))


def leaning(kit: Kit) -> Stage:
    """A row of standing books, some of them leaning on the others."""
    rng = kit.rng
    stage = Stage(
        "solid leaning", main="volume", look="front", fill=(0.6, 1.1), wall=float(rng.uniform(0.5, 2)), flat=True
    )
    n, tall, deep, x = int(rng.integers(2, 13)), float(rng.uniform(0.8, 1.4)), float(rng.uniform(0.3, 0.45)), 0.0
    lean = float(rng.uniform(8, 28))
    start = int(rng.integers(0, n + 3))  # from this one on they lean to the left, against the upright ones
    for k in range(n):
        shape = volume(kit, tall, deep)
        thick, a = shape.reach[1], np.radians(lean if k >= start else 0.0)
        x += thick / float(np.cos(a)) + (shape.reach[2] * float(np.sin(a)) if k == start and k else 0.0)
        stage.put(
            shape,
            (x, float(rng.normal(0, 0.02)), thick * float(np.sin(a))),
            turn=90.0,
            tilt=lean if k >= start else 0.0,
        )
        x += thick / float(np.cos(a)) + 0.005
    return stage

"""Families of whole things laid out: rows, grids, heaps, pairs, groups, towers, shelves; and scenes where nothing
repeats.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning.drawn import places
from curator.learning.rendered import things
from curator.learning.rendered.kit import Kit, tone_of
from curator.learning.rendered.stage import Stage, from_layout, maker, space, turns

Rng = np.random.Generator


def laid(
    family: str, layout: Callable[[Rng], places.Layout], low: float = 1.0, high: float = 1.8
) -> Callable[[Kit], Stage]:
    def family_stage(kit: Kit) -> Stage:
        stage = Stage(family, main="?", fill=(0.5, 1.2))
        apart = float(np.exp(kit.rng.uniform(np.log(low), np.log(high))))
        from_layout(kit, stage, layout(kit.rng), apart, maker(kit))
        return stage

    return family_stage


def row_of(rng: Rng) -> places.Layout:
    n = int(rng.integers(2, 9))
    return places.rows(rng, (n,), sides=False)


def two_rows(rng: Rng) -> places.Layout:
    n = int(rng.integers(2, 8))
    other = n if rng.random() < 0.7 else max(1, n + int(rng.choice([-1, 1])))
    return places.rows(rng, (n, other))


def grid_of(rng: Rng) -> places.Layout:
    high, wide = int(rng.integers(2, 5)), int(rng.integers(2, 6))
    return places.grid(rng, high, wide, missing=int(rng.random() < 0.3))


def heap(kit: Kit) -> Stage:
    """Things that fell and lie where they settled, touching."""
    rng = kit.rng
    stage = Stage(
        "solid heap", main="?", fill=(0.6, 1.2), look=str(rng.choice(["top", "oblique", "oblique"])), flat=True
    )
    make = maker(kit, ("ball", "ball", "egg", "fruit", "fruit", "muffin", "blob", "can", "carton"))
    n = int(rng.integers(3, 15))
    half = 0.62 * np.sqrt(n) * rng.uniform(0.7, 1.3) + 0.2
    stage.walls = float(half)
    for k in range(n):
        shape = make()
        where = (
            rng.uniform(-1, 1) * max(0.05, half - 0.6),
            rng.uniform(-1, 1) * max(0.05, half - 0.6),
            0.1 + 1.1 * k / max(1.0, half),
        )
        stage.put(shape, where, turn=rng.uniform(0, 360), free=True, tint=float(rng.uniform(0.85, 1.1)))
    return stage


def touching(kit: Kit) -> Stage:
    """Upright things close together in a hexagonal or square packing, some ragged."""
    rng = kit.rng
    stage = Stage("solid touching", main="?", fill=(0.6, 1.15), look=str(rng.choice(["top", "oblique"])), flat=True)
    make = maker(kit, ("ball", "fruit", "muffin", "muffin", "cup", "can", "bowl", "mushroom", "egg", "candle"))
    n, first = int(rng.integers(3, 15)), make()
    step = space(first) * rng.uniform(0.97, 1.06)
    hexagonal = rng.random() < 0.6
    spots = []
    for i in range(-3, 4):
        for j in range(-3, 4):
            spots.append(((j + 0.5 * (i % 2) * hexagonal) * step, i * step * (0.87 if hexagonal else 1.0)))
    away = rng.uniform(0, 6.28)
    lean = (0.3 * step * np.cos(away), 0.3 * step * np.sin(away))
    spots.sort(key=lambda p: (p[0] - lean[0]) ** 2 + (p[1] - lean[1]) ** 2 + rng.uniform(0, 0.4))
    turn = turns(rng)
    for k, (x, y) in enumerate(spots[:n]):
        stage.put(make() if k else first, (x, y, 0.0), turn=turn(), tint=float(rng.uniform(0.85, 1.1)))
    return stage


def beside(kit: Kit) -> Stage:
    """Two large things side by side, often cut by the frame."""
    rng = kit.rng
    stage = Stage(
        "solid beside", main="?", fill=(0.75, 1.25), look=str(rng.choice(["top", "oblique", "oblique", "front"]))
    )
    make = maker(kit)
    one, two = make(), make()
    step = space(one) * rng.uniform(1.0, 1.35)
    turn = turns(rng)
    y = rng.normal(0, 0.12) * step
    stage.put(one, (-step / 2, -y, 0.0), turn=turn(), side=1)
    stage.put(two, (step / 2, y, 0.0), turn=turn(), side=2)
    return stage


def pairs(kit: Kit) -> Stage:
    """Pairs of shoes; one may lack its fellow."""
    rng = kit.rng
    n = int(rng.choice([1, 1, 2, 2, 3, 4]))
    stage = Stage("solid pairs", main="shoe", fill=(0.6, 1.15), look=str(rng.choice(["top", "oblique", "oblique"])))
    alone = int(rng.integers(n)) if n > 1 and rng.random() < 0.3 else -1
    columns = 1 if n == 1 else int(rng.integers(1, n + 1))
    straight, wide = rng.uniform(-12, 12), rng.uniform(0.5, 0.65)
    for k in range(n):
        x, y = (k % columns) * wide * 2.3, (k // columns) * 1.25
        seed, tone = int(rng.integers(1, 1 << 30)), tone_of(rng)
        both = []
        for side in (1, 2):
            if k == alone and side == 2:
                continue
            kit.flip = side == 1
            shape = things.shoe(kit, seed, tone)
            kit.flip = False
            where = (x + (side - 1.5) * wide, y + rng.normal(0, 0.04), 0.0)
            both.append(stage.put(shape, where, turn=straight + rng.normal(0, 6), side=side))
        if len(both) == 2 and n > 1:
            stage.groups.append(("pair", both))
    return stage


def groups(kit: Kit) -> Stage:
    """Two groups apart, of the same number or not."""
    rng = kit.rng
    stage = Stage("solid groups", main="?", fill=(0.6, 1.1), look=str(rng.choice(["top", "oblique"])))
    make = maker(kit)
    n = int(rng.integers(1, 7))
    counts = (n, n if rng.random() < 0.72 else max(1, n + int(rng.choice([-1, 1]))))
    step = space(make()) * rng.uniform(1.02, 1.25)
    columns, turn = int(rng.integers(1, 4)), turns(rng)
    columns = min(columns, n)
    gap = columns * step / 2 + step * rng.uniform(0.8, 1.6)
    jitter = rng.choice([0.0, 0.08]) * step
    for side, count in enumerate(counts, 1):
        for k in range(count):
            x = (k % columns - (columns - 1) / 2) * step + (side - 1.5) * 2 * gap + rng.normal(0, 1) * jitter
            y = (k // columns - (max(counts) - 1) // columns / 2) * step
            stage.put(make(), (x, y, 0.0), turn=turn(), side=side, tint=float(rng.uniform(0.88, 1.08)))
    return stage


def towers(kit: Kit) -> Stage:
    """Towers of blocks, books, plates or cans."""
    rng = kit.rng
    stage = Stage("solid towers", main="?", look="front", flat=True)
    make = maker(kit, ("carton", "can", "book", "book", "carton"))
    first = make()
    n = int(rng.integers(1, 4))
    high = int(rng.integers(2, 6))
    for k in range(n):
        own = high if rng.random() < 0.7 else max(1, high + int(rng.choice([-1, 1])))
        z, step = 0.0, space(first) * 1.25
        for level in range(own):
            shape = make() if level or k else first
            wobble = rng.normal(0, 0.03, 2)
            where = (k * step + wobble[0], wobble[1], z)
            stage.put(
                shape, where, turn=rng.normal(0, 5), side=k + 1 if n == 2 else 0, tint=float(rng.uniform(0.55, 1.15))
            )
            z += shape.reach[2]
    return stage


def shelf(kit: Kit) -> Stage:
    """Shelves on a wall with a row of things on each."""
    rng = kit.rng
    stage = Stage("solid shelf", main="?", look="front", fill=(0.7, 1.1), wall=0.6, flat=True)
    make = maker(kit, ("bottle", "cup", "can", "vase", "candle", "ball", "fruit", "carton", "mushroom", "bowl"))
    levels, n = int(rng.choice([1, 2, 2, 3])), int(rng.integers(2, 7))
    first = make()
    step = space(first) * rng.uniform(1.1, 1.6)
    wide, tall = n * step / 2 + 0.2, first.reach[2] * rng.uniform(1.25, 1.7) + 0.1
    tone, finish = tone_of(rng), kit.finish()
    even = rng.random() < 0.7
    for level in range(levels):
        z = level * tall
        board = kit.shape("shelf", [kit.geom("box", (wide, 0.5, 0.04), (0, 0, -0.04), tone, finish)], (wide, 0.5, 0.0))
        board.aside = True
        stage.put(board, (0, 0, z), framed=False)
        count = n if even or level == 0 else max(1, n - int(rng.integers(0, 3)))
        for k in range(count):
            side = level + 1 if levels == 2 else 0
            if levels == 1 and n % 2 == 0:
                side = 1 if k < n / 2 else 2
            x = (k - (count - 1) / 2) * step + rng.normal(0, 0.03)
            stage.put(make(), (x, -0.1, z), turn=rng.uniform(-15, 15), side=side, tint=float(rng.uniform(0.85, 1.1)))
    return stage


def nothing(kit: Kit) -> Stage:
    """One thing, or several that are all unlike."""
    rng = kit.rng
    n = int(rng.choice([0, 1, 1, 2, 3, 4, 5]))
    stage = Stage("solid nothing", fill=(0.3, 1.1), flat=True)
    names = rng.choice(list(things.THINGS), n, replace=False)
    for k, name in enumerate(names):
        a = 6.28 * k / max(1, n)
        r = 0 if n == 1 else rng.uniform(0.6, 0.9) * n / 2.5
        stage.put(things.THINGS[str(name)](kit), (r * np.cos(a), r * np.sin(a), 0.0), turn=rng.uniform(0, 360))
    return stage

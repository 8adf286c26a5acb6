"""A door, gate, roller shutter or niche beside windows: it is none of them; one window and one door are nothing that
repeats.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from curator.learning.rendered import street, walls
from curator.learning.rendered.fronts import Front
from curator.learning.rendered.kit import Kit, Shape, tone_of
from curator.learning.rendered.panes import block, facing, style
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator
Opening = Callable[[Kit, float, float], Shape]  # of a width and a height, its foot at z = 0, looking to -y


def door(kit: Kit, wide: float, tall: float) -> Shape:
    """A house's door, now and then with a light above it or a porch of posts."""
    rng, glass = kit.rng, kit.papered(walls.pane(kit.rng), shine=0.7)
    low = tall * (float(rng.uniform(0.75, 0.88)) if rng.random() < 0.3 else 1.0)
    shape = street.door(kit, wide, low, glass)
    if low < tall:
        shape.geoms.append(facing(kit, glass, -wide / 2, wide / 2, low, tall, 0.08))
        shape.geoms.append(block(kit, tone_of(rng), kit.plain(), (-wide / 2, wide / 2, low, low + 0.06), 0.03, 0.1))
    return shape


def gate(kit: Kit, wide: float, tall: float) -> Shape:
    """Two leaves of boards with a gap between, with braces or iron bands."""
    rng, h, tone = kit.rng, wide / 2, tone_of(kit.rng)
    wood, dark = kit.papered(walls.boards(rng)), tuple(c * 0.55 for c in tone)
    finish = kit.finish()
    geoms = [block(kit, (0.08, 0.07, 0.07), finish, (-h, h, 0, tall), 0.1, 0.14)]
    for left, right in ((-h, -0.015), (0.015, h)):
        geoms.append(block(kit, tone, wood, (left, right, 0.02, tall), 0.05, 0.1))
        for z in (0.2, 0.75):
            geoms.append(block(kit, dark, finish, (left, right, tall * z, tall * z + 0.07), 0.03, 0.06))
    for s in (-1, 1) if rng.random() < 0.6 else ():
        geoms.append(kit.geom("sphere", (0.04,), (s * 0.09, 0.03, tall * 0.48), (0.3, 0.3, 0.32), finish, solid=False))
    return kit.shape("door", geoms, (h, 0.1, tall))


def roller(kit: Kit, wide: float, tall: float) -> Shape:
    """A shutter of slats, let down, its box on top."""
    rng, h, tone, finish = kit.rng, wide / 2, tone_of(kit.rng), kit.finish()
    slats = int(rng.integers(8, 20))
    geoms = [block(kit, tuple(c * 0.6 for c in tone), finish, (-h, h, 0, tall), 0.09, 0.12)]
    for k in range(slats):
        low = tall * k / slats
        geoms.append(block(kit, tone, finish, (-h, h, low + 0.012, low + tall / slats - 0.006), 0.06, 0.1))
    if rng.random() < 0.5:
        geoms.append(block(kit, tone, finish, (-h - 0.05, h + 0.05, tall - 0.02, tall + 0.2), -0.12, 0.05))
    return kit.shape("door", geoms, (h, 0.1, tall))


def niche(kit: Kit, wide: float, tall: float) -> Shape:
    """A passage or an open doorway: dark within, or a wall of another tone, with a step."""
    rng, h = kit.rng, wide / 2
    tone = (0.06, 0.06, 0.07) if rng.random() < 0.5 else tone_of(rng)
    geoms = [block(kit, tone, kit.finish(), (-h, h, 0, tall), 0.22, 0.26)]
    geoms.append(block(kit, (0.55, 0.54, 0.52), kit.finish(), (-h, h, 0, 0.07), -0.1, 0.22))
    return kit.shape("door", geoms, (h, 0.25, tall))


OPENINGS: tuple[Opening, ...] = (door, door, door, gate, roller, niche)


@dataclass(frozen=True)
class Bays:
    """What a front with doors is like, units: which bays of the ground floor are doors, and its windows."""

    doors: tuple[bool, ...]
    floors: int
    step: float
    rise: float
    wide: float
    tall: float
    upper: bool  # a window above each door


def bays(rng: Rng, spread: float) -> Bays:
    """A door with as many windows on its left as on its right, or at an end, or two doors among windows."""
    chance, each = rng.random(), int(rng.choice([1, 1, 2, 2, 2, 3, 4]))
    if chance < 0.6:
        doors = (False,) * each + (True,) + (False,) * each
    elif chance < 0.8:
        n = max(2, each)
        doors = (True,) + (False,) * n if rng.random() < 0.5 else (False,) * n + (True,)
    else:
        doors = (False, *((True,) + (False,) * max(1, each - 1)) * 2)
    floors = int(rng.choice([1, 1, 1, 2, 3])) if len(doors) < 8 else 1
    tall = float(rng.uniform(0.9, 1.6))
    return Bays(
        doors,
        floors,
        spread * float(rng.uniform(1.4, 1.9)),
        tall + float(rng.uniform(0.8, 1.3)),
        float(rng.uniform(0.65, 1.05)),
        tall,
        bool(rng.random() < 0.75),
    )


def _opened(house: Front, make: Opening, x: float, wide: float, tall: float, *, aside: bool) -> None:
    """A door in the front at x, left aside or to be counted."""
    shape = make(house.kit, wide, tall)
    shape.aside = aside
    house.stage.put(shape, (house.x + x, 0.0, 0.0), framed=not aside)
    house.holes.append((x - wide / 2, x + wide / 2, 0.0, tall))


def _walled(kit: Kit, house: Front, half: float, more: float) -> float:
    """Set the wall, of one stuff or with a foot of another, and say where it ends."""
    rng = kit.rng
    top = max(h[3] for h in house.holes) + float(rng.uniform(0.3, 1.0))
    stuff = walls.plaster(rng) if house.own.beams is not None else walls.wall(rng)
    levels = [(top + more, kit.papered(stuff))]
    if rng.random() < 0.3:
        levels.insert(0, (0.3, kit.papered(walls.stone(rng))))
    house.built((-half - more, half + more, 0.0, top + more), levels, float(rng.uniform(1.6, 3.0)))
    return top


def doorway(kit: Kit) -> Stage:
    """A front with one door or two among windows; the windows count."""
    rng = kit.rng
    stage = Stage("solid doorway", main="window", fill=(0.75, 1.15), flat=True, sky=True, lift=(-24, 6), sway=19.0)
    own = style(kit)
    plan = bays(rng, 1.3 if own.shutters else 1.0)
    n, make = len(plan.doors), OPENINGS[int(rng.integers(len(OPENINGS)))]
    house = Front(kit, stage, own, fine=plan.floors * n <= 6)
    wide, like = float(rng.uniform(0.85, 1.25)), rng.random() < 0.2
    sill = float(rng.uniform(0.5, 0.9))
    for floor in range(plan.floors):
        for k, is_door in enumerate(plan.doors):
            x = (k - (n - 1) / 2) * plan.step
            if is_door and floor == 0:  # now and then as wide as a window, and as high
                size = (plan.wide, sill + plan.tall) if like else (wide, sill + plan.tall * float(rng.uniform(0.8, 1)))
                _opened(house, make, x, *size, aside=True)
            elif not is_door or plan.upper:
                house.window(x, sill + floor * plan.rise, plan.wide, plan.tall, floor)
    half, close = n * plan.step / 2 + float(rng.uniform(0.0, 0.6)), rng.random() < 0.4
    top = _walled(kit, house, half, 12.0 if close else 0.0)
    if not close and rng.random() < 0.7:
        stage.put(street.roof(kit, half, top), framed=False)
    house.halves()
    if rng.random() < 0.5:
        street.before(kit, stage, half)
    return stage


def single(kit: Kit) -> Stage:
    """A window beside one door: nothing repeats, but for the panes of a large window; or a window between two doors,
    which count.
    """
    rng = kit.rng
    doors = 2 if rng.random() < 0.3 else 1
    stage = Stage("solid single window", main="door" if doors == 2 else None, fill=(0.7, 1.1), flat=True, sky=True,
                  lift=(-14, 8), sway=19.0)  # fmt: skip
    own, make = style(kit), OPENINGS[int(rng.integers(len(OPENINGS)))]
    own = replace(own, panes=(1, 1)) if rng.random() < 0.6 else own
    house = Front(kit, stage, own, fine=doors == 1)
    step, tall = float(rng.uniform(1.5, 2.2)) * (1.25 if own.shutters else 1.0), float(rng.uniform(1.7, 2.3))
    wide, high, side = float(rng.uniform(0.7, 1.1)), float(rng.uniform(0.8, 1.3)), float(rng.choice([-1, 1]))
    if doors == 2:
        for s in (-1, 1):
            _opened(house, make, s * step, 1.0, tall, aside=False)
            stage.placed[-1].side = 1 if s < 0 else 2
        house.window(0.0, tall - high, wide, high, 0)
    else:
        _opened(house, make, -side * step / 2, float(rng.uniform(0.85, 1.2)), tall, aside=True)
        stage.placed[-1].framed = True
        house.window(side * step / 2, tall - high, wide, high, 0)
    _walled(kit, house, step * 1.5, float(rng.choice([0.0, 12.0])))
    return stage

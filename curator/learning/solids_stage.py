"""Families of staged solids: what stands where, seen from which side, and what a person would count."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from curator.learning import solids_parts as parts
from curator.learning import solids_things as things
from curator.learning.families import places
from curator.learning.solids_kit import Kit, Shape, tone_of, unlike_tone

Rng = np.random.Generator


@dataclass
class Placed:
    """A shape on the stage: where its foot is, its turn about z and its tilt before that (about x), in degrees."""

    shape: Shape
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    turn: float = 0.0
    tilt: float = 0.0
    side: int = 0
    free: bool = False
    framed: bool = True
    parent: int = -1
    tint: float = 1.0


@dataclass
class Stage:
    """A scene before it is seen. `look`: top, oblique, front, or any; `fill`: share of the half frame it spans."""

    family: str
    placed: list[Placed] = field(default_factory=list)
    main: str | None = None
    look: str = "any"
    fill: tuple[float, float] = (0.5, 1.1)
    wall: float | None = None
    groups: list[tuple[str, list[int]]] = field(default_factory=list)
    walls: float = 0.0  # half side of an unseen pen while things settle
    flat: bool = False  # nothing but one kind: no things of other kinds beside

    def put(self, shape: Shape, at: tuple[float, float, float] = (0, 0, 0), **more: Any) -> int:
        self.placed.append(Placed(shape, at, **more))
        return len(self.placed) - 1


LYING = ("bottle", "candle", "can", "mushroom", "vase", "egg")


def _maker(kit: Kit, among: tuple[str, ...] | None = None) -> Callable[[], Shape]:
    """A kind: a function that gives the same shape again, now and then in other colours."""
    name = str(kit.rng.choice(among or tuple(things.THINGS)))
    make = things.THINGS[name]
    same = kit.rng.random() < 0.75
    first = make(kit)
    if same:
        return lambda: first
    state = kit.rng.integers(1 << 30)

    def again() -> Shape:  # the same outline in another colour: the maker's own chances repeat, the tone differs
        own = Kit(np.random.default_rng(int(state)))
        own.assets, own.files, own.unit = kit.assets, kit.files, kit.unit
        made = make(own)
        tone = tone_of(kit.rng)
        dominant = made.geoms[0].tone
        made.geoms = [_toned(g, tone) if g.tone == dominant else g for g in made.geoms]
        return made

    return again


def _toned(geom: Any, tone: Any) -> Any:
    return type(geom)(geom.sort, geom.size, geom.at, geom.angles, tone, geom.finish, geom.mesh, geom.part, geom.solid)


def _space(shape: Shape) -> float:
    return 2 * max(shape.reach[0], shape.reach[1])


def _turns(rng: Rng) -> Callable[[], float]:
    """All alike, nearly alike, or every way."""
    base, spread = rng.uniform(0, 360), float(rng.choice([0, 6, 180]))
    return lambda: base + rng.uniform(-spread, spread)


def _from_layout(kit: Kit, stage: Stage, layout: places.Layout, apart: float, make: Callable[[], Shape]) -> None:
    """Places in the unit square become places on the floor; things next to each other are `apart` widths apart."""
    at = np.array([(row, col) for row, col, _, _ in layout.places])
    gap = 1.0
    if len(at) > 1:
        away = np.linalg.norm(at[:, None] - at[None], axis=-1) + 9 * np.eye(len(at))
        gap = max(1e-3, float(away.min()))
    turn, first = _turns(kit.rng), make()
    lying = first.kind in LYING and kit.rng.random() < 0.45
    step = max(_space(first), first.reach[2] if lying else 0.0) * apart / gap
    for k, (row, col, _, side) in enumerate(layout.places):
        shape = make() if k else first
        angle, x, y, z = turn(), (col - 0.5) * step, (0.5 - row) * step, 0.0
        if lying:
            x += shape.reach[2] / 2 * float(np.sin(np.radians(angle)))
            y -= shape.reach[2] / 2 * float(np.cos(np.radians(angle)))
            z = shape.reach[1]
        tint = float(kit.rng.uniform(0.85, 1.1))
        stage.put(shape, (x, y, z), turn=angle, tilt=-90.0 if lying else 0.0, side=side, tint=tint)


def _laid(family: str, layout: Callable[[Rng], places.Layout], low: float = 1.0, high: float = 1.8) -> Callable[[Kit], Stage]:
    def family_stage(kit: Kit) -> Stage:
        stage = Stage(family, main="?", fill=(0.5, 1.2))
        apart = float(np.exp(kit.rng.uniform(np.log(low), np.log(high))))
        _from_layout(kit, stage, layout(kit.rng), apart, _maker(kit))
        return stage

    return family_stage


def _row(rng: Rng) -> places.Layout:
    n = int(rng.integers(2, 9))
    return places.rows(rng, (n,), sides=False)


def _two_rows(rng: Rng) -> places.Layout:
    n = int(rng.integers(2, 8))
    other = n if rng.random() < 0.7 else max(1, n + int(rng.choice([-1, 1])))
    return places.rows(rng, (n, other))


def _grid(rng: Rng) -> places.Layout:
    high, wide = int(rng.integers(2, 5)), int(rng.integers(2, 6))
    return places.grid(rng, high, wide, missing=int(rng.random() < 0.3))


def heap(kit: Kit) -> Stage:
    """Things that fell and lie where they settled, touching."""
    rng = kit.rng
    stage = Stage("solid heap", main="?", fill=(0.6, 1.2), look=str(rng.choice(["top", "oblique", "oblique"])), flat=True)
    make = _maker(kit, ("ball", "ball", "egg", "fruit", "fruit", "muffin", "blob", "can", "carton"))
    n = int(rng.integers(3, 15))
    half = 0.62 * np.sqrt(n) * rng.uniform(0.7, 1.3) + 0.2
    stage.walls = float(half)
    for k in range(n):
        shape = make()
        where = (rng.uniform(-1, 1) * max(0.05, half - 0.6), rng.uniform(-1, 1) * max(0.05, half - 0.6), 0.1 + 1.1 * k / max(1.0, half))
        stage.put(shape, where, turn=rng.uniform(0, 360), free=True, tint=float(rng.uniform(0.85, 1.1)))
    return stage


def touching(kit: Kit) -> Stage:
    """Upright things close together in a hexagonal or square packing, some ragged."""
    rng = kit.rng
    stage = Stage("solid touching", main="?", fill=(0.6, 1.15), look=str(rng.choice(["top", "oblique"])), flat=True)
    make = _maker(kit, ("ball", "fruit", "muffin", "muffin", "cup", "can", "bowl", "mushroom", "egg", "candle"))
    n, first = int(rng.integers(3, 15)), make()
    step = _space(first) * rng.uniform(0.97, 1.06)
    hexagonal = rng.random() < 0.6
    spots = []
    for i in range(-3, 4):
        for j in range(-3, 4):
            spots.append(((j + 0.5 * (i % 2) * hexagonal) * step, i * step * (0.87 if hexagonal else 1.0)))
    away = rng.uniform(0, 6.28)
    lean = (0.3 * step * np.cos(away), 0.3 * step * np.sin(away))
    spots.sort(key=lambda p: (p[0] - lean[0]) ** 2 + (p[1] - lean[1]) ** 2 + rng.uniform(0, 0.4))
    turn = _turns(rng)
    for k, (x, y) in enumerate(spots[:n]):
        stage.put(make() if k else first, (x, y, 0.0), turn=turn(), tint=float(rng.uniform(0.85, 1.1)))
    return stage


def beside(kit: Kit) -> Stage:
    """Two large things side by side, often cut by the frame."""
    rng = kit.rng
    stage = Stage("solid beside", main="?", fill=(0.75, 1.25), look=str(rng.choice(["top", "oblique", "oblique", "front"])))
    make = _maker(kit)
    one, two = make(), make()
    step = _space(one) * rng.uniform(1.0, 1.35)
    turn = _turns(rng)
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
    make = _maker(kit)
    n = int(rng.integers(1, 7))
    counts = (n, n if rng.random() < 0.72 else max(1, n + int(rng.choice([-1, 1]))))
    step = _space(make()) * rng.uniform(1.02, 1.25)
    columns, turn = int(rng.integers(1, 4)), _turns(rng)
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
    make = _maker(kit, ("carton", "can", "book", "book", "carton"))
    first = make()
    n = int(rng.integers(1, 4))
    high = int(rng.integers(2, 6))
    for k in range(n):
        own = high if rng.random() < 0.7 else max(1, high + int(rng.choice([-1, 1])))
        z, step = 0.0, _space(first) * 1.25
        for level in range(own):
            shape = make() if level or k else first
            wobble = rng.normal(0, 0.03, 2)
            where = (k * step + wobble[0], wobble[1], z)
            stage.put(shape, where, turn=rng.normal(0, 5), side=k + 1 if n == 2 else 0, tint=float(rng.uniform(0.55, 1.15)))
            z += shape.reach[2]
    return stage


def dice(kit: Kit) -> Stage:
    rng = kit.rng
    n = int(rng.choice([1, 2, 2, 2, 3, 4, 5, 6]))
    stage = Stage("solid dice", fill=(0.5, 1.0) if n > 1 else (0.4, 0.8), look=str(rng.choice(["top", "top", "oblique"])))
    tone = (0.93, 0.92, 0.88) if rng.random() < 0.5 else tone_of(rng)
    ink = unlike_tone(rng, tone, 0.55)
    face, apart = int(rng.integers(1, 7)), rng.uniform(1.15, 2.2)
    start = rng.uniform(0, 6.28)
    for k in range(n):
        if n <= 2:
            x, y = (k - 0.5 * (n - 1)) * apart * 1.2, rng.normal(0, 0.15) * (n - 1)
        else:
            a = start + 2 * np.pi * k / n
            x, y = apart * np.cos(a) * n / 4.2, apart * np.sin(a) * n / 4.2
        own = face if rng.random() < 0.5 else int(rng.integers(1, 7))
        side = k + 1 if n == 2 else 0
        stage.put(parts.die(kit, own, tone, ink), (x, y, 0.0), turn=rng.uniform(0, 360), side=side)
    return stage


def dominoes(kit: Kit) -> Stage:
    rng = kit.rng
    n = int(rng.choice([1, 1, 1, 2, 3, 4]))
    stage = Stage("solid dominoes", fill=(0.55, 1.0), look=str(rng.choice(["top", "top", "oblique"])))
    tone = (0.93, 0.9, 0.84) if rng.random() < 0.6 else tone_of(rng)
    ink = unlike_tone(rng, tone, 0.55)
    turn = rng.choice([0, 90]) + rng.normal(0, 8)
    for k in range(n):
        a = int(rng.integers(1, 7))
        b = a if rng.random() < 0.6 else int(rng.integers(0, 7))
        y = (k - (n - 1) / 2) * rng.uniform(0.62, 0.9)
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        shape = parts.domino(kit, (a, b), tone, ink)
        stage.put(shape, (-s * y, c * y, 0.0), turn=float(turn + rng.normal(0, 5)), side=k + 1 if n == 2 else 0)
    return stage


def trays(kit: Kit) -> Stage:
    """A tray with wells, empty, full, or nearly full."""
    rng = kit.rng
    high, wide = int(rng.choice([1, 2, 2, 2, 3])), int(rng.integers(2, 7))
    shape = parts.tray(kit, high, wide, round_wells=bool(rng.random() < 0.65))
    stage = Stage("solid tray", fill=(0.65, 1.15), look=str(rng.choice(["top", "oblique"])), flat=bool(rng.random() < 0.6))
    own = stage.put(shape)
    how = rng.random()
    if how < 0.3:
        stage.main = "well"
        return stage
    kit.unit = 0.8
    make = _maker(kit, ("egg", "egg", "ball", "fruit", "muffin"))
    cells = list(shape.parts)
    gone = set() if how < 0.72 else set(rng.choice(len(cells), min(len(cells) - 1, int(rng.integers(1, 3))), replace=False).tolist())
    for k, cell in enumerate(cells):
        if k not in gone:
            where = (cell.at[0], cell.at[1], 0.1)
            stage.put(make(), where, turn=rng.uniform(0, 360), side=0 if gone else cell.side, parent=own, tint=float(rng.uniform(0.9, 1.06)))
    kit.unit = 1.0
    stage.main = "?" if len(cells) - len(gone) >= 2 else None
    return stage


def shelf(kit: Kit) -> Stage:
    """Shelves on a wall with a row of things on each."""
    rng = kit.rng
    stage = Stage("solid shelf", main="?", look="front", fill=(0.7, 1.1), wall=0.6, flat=True)
    make = _maker(kit, ("bottle", "cup", "can", "vase", "candle", "ball", "fruit", "carton", "mushroom", "bowl"))
    levels, n = int(rng.choice([1, 2, 2, 3])), int(rng.integers(2, 7))
    first = make()
    step = _space(first) * rng.uniform(1.1, 1.6)
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


def windows(kit: Kit) -> Stage:
    rng = kit.rng
    high, wide = [(1, 1), (1, 1), (1, 2), (1, 2), (1, 3), (2, 2), (2, 3), (2, 4), (3, 3), (2, 5), (3, 4)][int(rng.integers(11))]
    panes = [(1, 2), (2, 2), (2, 2), (3, 2), (2, 3), (3, 3), (4, 2), (1, 3)][int(rng.integers(8))]
    if high * wide >= 6 and rng.random() < 0.5:
        panes = (1, 1)
    tall = rng.uniform(0.9, 1.7)
    frame = (0.92, 0.92, 0.9) if rng.random() < 0.5 else tone_of(rng)
    glass = unlike_tone(rng, frame)
    shape = parts.window(kit, *panes, tall, frame, glass)
    stage = Stage("solid windows", look="front", fill=(0.6, 1.15), wall=0.05, flat=True)
    gap, rise = rng.uniform(1.3, 2.0), tall * rng.uniform(1.2, 1.8)
    gone = int(rng.integers(high * wide)) if high * wide > 3 and rng.random() < 0.25 else -1
    for k, (row, col, side) in enumerate(parts.lattice(high, wide)):
        if k != gone:
            where = (col * wide * gap, 0.0, 2.0 - row * high * rise)
            stage.put(shape, where, side=0 if gone >= 0 else side)
    return stage


def wall_hooks(kit: Kit) -> Stage:
    rng = kit.rng
    n, rows = int(rng.integers(2, 9)), int(rng.choice([1, 1, 2]))
    missing = int(rng.integers(n * rows)) if n * rows > 3 and rng.random() < 0.25 else -1
    stage = Stage("solid hooks", main="hook", look="front", fill=(0.7, 1.15), wall=0.03, flat=True)
    stage.put(parts.hooks(kit, n, rows, missing), (0, 0, 1.5))
    return stage


def drawers(kit: Kit) -> Stage:
    rng = kit.rng
    high, wide = int(rng.integers(2, 6)), int(rng.choice([1, 1, 2, 2, 3]))
    stage = Stage("solid drawers", look="front", fill=(0.65, 1.1), wall=0.4, flat=True)
    knobs = int(rng.choice([0, 1, 1, 2, 2]))
    stage.put(parts.cabinet(kit, high, wide, knobs))
    if knobs == 2 and wide % 2:
        stage.main = "knob"
    elif knobs <= 1:
        stage.main = "drawer"
    return stage


def bricks(kit: Kit) -> Stage:
    rng = kit.rng
    n = int(rng.choice([1, 1, 1, 2, 2, 3, 4]))
    long, wide = int(rng.integers(1, 7)), int(rng.choice([1, 2, 2, 2, 3]))
    stage = Stage("solid bricks", fill=(0.55, 1.1), look=str(rng.choice(["top", "oblique", "oblique"])))
    long = max(2, long) if n == 1 else long
    turn = rng.uniform(-30, 30)
    tone = tone_of(rng)
    for k in range(n):
        own = tone if rng.random() < 0.4 else tone_of(rng)
        y = (k - (n - 1) / 2) * (wide / long + 0.25 + 0.3 * rng.random())
        side = k + 1 if n == 2 else 0
        stage.put(parts.brick(kit, long, wide, own), (rng.normal(0, 0.08), y, 0.0), turn=turn + rng.normal(0, 8) * (n > 1), side=side)
    return stage


def buttons(kit: Kit) -> Stage:
    rng = kit.rng
    holes, tone = int(rng.choice([2, 4, 4])), tone_of(rng)
    stage = Stage("solid buttons", fill=(0.5, 1.05), look=str(rng.choice(["top", "top", "oblique"])))
    if rng.random() < 0.3:
        stage.fill = (0.4, 0.85)
        stage.put(parts.button(kit, holes, tone), turn=rng.uniform(0, 90))
        return stage
    mixed = rng.random() < 0.4
    layout = places.scatter(rng, int(rng.integers(2, 12))) if rng.random() < 0.5 else _two_rows(rng)
    fixed = parts.button(kit, holes, tone)
    make = (lambda: parts.button(kit, holes, tone_of(rng))) if mixed else lambda: fixed
    _from_layout(kit, stage, layout, rng.uniform(1.05, 1.7), make)
    stage.main = "button"
    return stage


def bugs(kit: Kit) -> Stage:
    rng = kit.rng
    stage = Stage("solid bug", main="leg", fill=(0.5, 1.0), look=str(rng.choice(["top", "top", "oblique"])), flat=True)
    stage.put(parts.bug(kit, int(rng.choice([2, 3, 3, 4, 4, 5]))), turn=rng.uniform(0, 360))
    return stage


def stools(kit: Kit) -> Stage:
    rng = kit.rng
    if rng.random() < 0.5:
        stage = Stage("solid wagons", look=str(rng.choice(["front", "oblique"])), fill=(0.5, 1.05), main=None)
        shape = parts.cart(kit)
    else:
        stage = Stage("solid stools", look=str(rng.choice(["front", "oblique"])), fill=(0.5, 1.05))
        shape = parts.stool(kit, int(rng.choice([3, 4, 4])))
    n = int(rng.choice([1, 2, 2, 3, 4, 5]))
    for k in range(n):
        x = (k - (n - 1) / 2) * _space(shape) * 1.25
        stage.put(shape, (x, 0.0, 0.0), turn=rng.uniform(-40, 40), side=k + 1 if n == 2 else 0)
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


FAMILIES: dict[str, tuple[Callable[[Kit], Stage], float]] = {
    "scattered": (_laid("solid scattered", lambda rng: places.scatter(rng, int(rng.integers(2, 15)))), 7),
    "two rows": (_laid("solid two rows", _two_rows, 1.02, 1.45), 8),
    "row": (_laid("solid row", _row, 1.02, 1.45), 6),
    "grid": (_laid("solid grid", _grid, 1.02, 1.5), 8),
    "ring": (_laid("solid ring", lambda rng: places.ring(rng, int(rng.integers(3, 11))), 1.05, 1.6), 2),
    "heap": (heap, 14), "touching": (touching, 7), "beside": (beside, 12), "pairs": (pairs, 7), "groups": (groups, 6),
    "towers": (towers, 4), "dice": (dice, 8), "dominoes": (dominoes, 5), "tray": (trays, 9), "shelf": (shelf, 6),
    "windows": (windows, 8), "hooks": (wall_hooks, 5), "drawers": (drawers, 5), "bricks": (bricks, 6),
    "buttons": (buttons, 4), "bug": (bugs, 5), "stools": (stools, 4), "nothing": (nothing, 9),
}  # fmt: skip
"""Each family of stages and how often it is set."""


def clutter(kit: Kit, stage: Stage) -> None:
    """A few things of other kinds, out of the way; sometimes two alike."""
    rng = kit.rng
    if stage.flat or not stage.placed or rng.random() < 0.55:
        return
    used = {p.shape.kind for p in stage.placed}
    free = [n for n in things.THINGS if n not in used and not (n in ("ball", "fruit", "egg") and used & {"ball", "fruit", "egg"})]
    far = max(float(np.hypot(*p.at[:2])) + max(p.shape.reach[:2]) for p in stage.placed)
    names = [str(n) for n in rng.choice(free, int(rng.integers(1, 3)), replace=False)]
    if rng.random() < 0.25:
        names.append(names[0])
    kit.unit = float(np.exp(rng.uniform(np.log(0.5), np.log(1.2)))) * max(0.6, min(1.5, far * 0.5))
    start = rng.uniform(0, 6.28)
    shapes = {name: things.THINGS[name](kit) for name in names}
    for k, name in enumerate(names):
        a = start + 6.28 * (k + rng.uniform(-0.2, 0.2)) / len(names)
        r = far + max(shapes[name].reach[:2]) * rng.uniform(1.05, 1.5)
        stage.put(shapes[name], (r * np.cos(a), r * np.sin(a), 0.0), turn=rng.uniform(0, 360), framed=False)
    kit.unit = 1.0


def choose(rng: Rng) -> str:
    """A family by its weight."""
    weights = np.array([w for _, w in FAMILIES.values()])
    return str(rng.choice(list(FAMILIES), p=weights / weights.sum()))


def make_stage(kit: Kit, family: str) -> Stage:
    """The family's stage with its clutter."""
    stage = FAMILIES[family][0](kit)
    clutter(kit, stage)
    return stage

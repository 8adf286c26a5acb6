"""The stage: what stands where, seen from which side, and what a person would count; and helpers that set it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.learning.drawn import places
from curator.learning.rendered import things
from curator.learning.rendered.kit import Geom, Kit, Shape, Tone, tone_of

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
    lift: tuple[float, float] | None = None  # degrees the camera is above what it looks at, instead of the look's
    sway: float | None = None  # spread in degrees of the camera's turn about z
    table: NDArray[np.float32] | None = None  # the floor's picture instead of any
    sky: bool = False  # out of doors: sky behind

    def put(self, shape: Shape, at: tuple[float, float, float] = (0, 0, 0), **more: Any) -> int:
        self.placed.append(Placed(shape, at, **more))
        return len(self.placed) - 1


LYING = ("bottle", "candle", "can", "mushroom", "vase", "egg")


def maker(kit: Kit, among: tuple[str, ...] | None = None) -> Callable[[], Shape]:
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
        made.geoms = [toned(g, tone) if g.tone == dominant else g for g in made.geoms]
        return made

    return again


def toned(geom: Geom, tone: Tone) -> Geom:
    return replace(geom, tone=tone)


def space(shape: Shape) -> float:
    return 2 * max(shape.reach[0], shape.reach[1])


def turns(rng: Rng) -> Callable[[], float]:
    """All alike, nearly alike, or every way."""
    base, spread = rng.uniform(0, 360), float(rng.choice([0, 6, 180]))
    return lambda: base + rng.uniform(-spread, spread)


def from_layout(kit: Kit, stage: Stage, layout: places.Layout, apart: float, make: Callable[[], Shape]) -> None:
    """Places in the unit square become places on the floor; things next to each other are `apart` widths apart."""
    at = np.array([(row, col) for row, col, _, _ in layout.places])
    gap = 1.0
    if len(at) > 1:
        away = np.linalg.norm(at[:, None] - at[None], axis=-1) + 9 * np.eye(len(at))
        gap = max(1e-3, float(away.min()))
    turn, first = turns(kit.rng), make()
    lying = first.kind in LYING and kit.rng.random() < 0.45
    step = max(space(first), first.reach[2] if lying else 0.0) * apart / gap
    for k, (row, col, _, side) in enumerate(layout.places):
        shape = make() if k else first
        angle, x, y, z = turn(), (col - 0.5) * step, (0.5 - row) * step, 0.0
        if lying:
            x += shape.reach[2] / 2 * float(np.sin(np.radians(angle)))
            y -= shape.reach[2] / 2 * float(np.cos(np.radians(angle)))
            z = shape.reach[1]
        tint = float(kit.rng.uniform(0.85, 1.1))
        stage.put(shape, (x, y, z), turn=angle, tilt=-90.0 if lying else 0.0, side=side, tint=tint)

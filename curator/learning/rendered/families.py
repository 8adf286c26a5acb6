"""Every family of stages, how often it is set, and the clutter beside what is counted."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.errors import CuratorError
from curator.learning.drawn import places
from curator.learning.rendered import (
    bays,
    blooms,
    bunches,
    crawlers,
    creatures,
    doors,
    fitted,
    footwear,
    fronts,
    hands,
    heaps,
    household,
    insects,
    laid,
    lamps,
    parcels,
    seats,
    thin,
    things,
    unlike,
    vehicles,
    wheels,
    workshop,
)
from curator.learning.rendered.kit import Kit
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator

FAMILIES: dict[str, tuple[Callable[[Kit], Stage], float]] = {
    "scattered": (laid.laid("solid scattered", lambda rng: places.scatter(rng, int(rng.integers(2, 15)))), 7),
    "two rows": (laid.laid("solid two rows", laid.two_rows, 1.02, 1.45), 8),
    "row": (laid.laid("solid row", laid.row_of, 1.02, 1.45), 6),
    "grid": (laid.laid("solid grid", laid.grid_of, 1.02, 1.5), 8),
    "ring": (laid.laid("solid ring", lambda rng: places.ring(rng, int(rng.integers(3, 11))), 1.05, 1.6), 2),
    "heap": (laid.heap, 14),
    "touching": (laid.touching, 7),
    "beside": (laid.beside, 12),
    "pairs": (laid.pairs, 7),
    "groups": (laid.groups, 6),
    "towers": (laid.towers, 4),
    "shelf": (laid.shelf, 6),
    "nothing": (laid.nothing, 9),
    "dice": (fitted.dice, 8),
    "dominoes": (fitted.dominoes, 5),
    "tray": (fitted.trays, 9),
    "windows": (fitted.windows, 8),
    "hooks": (fitted.wall_hooks, 5),
    "drawers": (fitted.drawers, 5),
    "bricks": (fitted.bricks, 6),
    "buttons": (fitted.buttons, 4),
    "front": (fronts.front, 22),
    "front close": (fronts.close, 16),
    "room": (fronts.room, 4),
    "hands": (hands.hands, 22),
    "unlike": (unlike.unlike, 24),
    "crawler": (crawlers.crawlers, 16),
    "bloom": (blooms.blooms, 5),
    "thin": (thin.side_by_side, 10),
    "fence": (thin.fence, 5),
    "potted": (thin.potted, 3),
    "pieces": (workshop.pieces, 12),
    "vehicles": (vehicles.vehicles, 6),
    "held": (heaps.held, 12),
    "piled": (heaps.piled, 8),
    "nested": (heaps.nested, 6),
    "fanned": (heaps.fanned, 6),
    "leaning": (heaps.leaning, 5),
    "crowd": (heaps.crowd, 10),
    "bug": (fitted.bugs, 5),
    "stools": (fitted.stools, 4),
    "shoes": (footwear.worn(footwear.shoe, "solid shoes"), 40),
    "gloves": (footwear.worn(footwear.glove, "solid gloves"), 10),
    "socks": (footwear.worn(footwear.sock, "solid socks"), 8),
    "cutlery": (household.cutlery, 12),
    "chairs": (household.chairs, 14),
    "leaves": (household.leaves, 14),
    "gadgets": (household.gadgets, 20),
    "counter": (household.counter, 14),
    "insects": (insects.insects, 16),
    "creature": (creatures.creatures, 24),
    "batteries": (bays.batteries, 8),
    "strip": (bays.strip, 6),
    "cables": (bays.cables, 9),
    "doorway": (doors.doorway, 18),
    "single window": (doors.single, 4),
    "wheels": (wheels.wheeled, 18),
    "bunch": (bunches.bunches, 9),
    "planks": (bunches.planks, 9),
    "chair row": (bunches.chair_rows, 7),
    "candelabrum": (lamps.standing, 5),
    "chandelier": (lamps.branched, 10),
    "pendants": (lamps.pendants, 6),
    "table lamps": (lamps.table_lamps, 5),
    "wall lamps": (lamps.wall_lamps, 4),
    "sofa": (seats.sofas, 10),
    "dining": (seats.dining, 8),
    "parcels": (parcels.parcels, 10),
}
"""Each family of stages and how often it is set."""


def clutter(kit: Kit, stage: Stage) -> None:
    """A few things of other kinds, out of the way; sometimes two alike."""
    rng = kit.rng
    if stage.flat or not stage.placed or rng.random() < 0.55:
        return
    used = {p.shape.kind for p in stage.placed}
    free = [
        n
        for n in things.THINGS
        if n not in used and not (n in ("ball", "fruit", "egg") and used & {"ball", "fruit", "egg"})
    ]
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


def named(joined: str) -> tuple[str, ...]:
    """The families of a list with commas, none of an empty one; CuratorError where a name is no family's."""
    names = tuple(filter(None, joined.split(",")))
    for name in names:
        if name not in FAMILIES:
            raise CuratorError(
                "Choosing kinds of rendered scenes.", f"No kind is called {name}.", f"Take of: {', '.join(FAMILIES)}."
            )
    return names


def choose(rng: Rng, among: tuple[str, ...] = ()) -> str:
    """A family by its weight, of all or of those named."""
    names = list(among or FAMILIES)
    weights = np.array([FAMILIES[name][1] for name in names])
    return str(rng.choice(names, p=weights / weights.sum()))


def make_stage(kit: Kit, family: str) -> Stage:
    """The family's stage with its clutter."""
    stage = FAMILIES[family][0](kit)
    clutter(kit, stage)
    return stage

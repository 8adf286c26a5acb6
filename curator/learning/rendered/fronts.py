"""Fronts of houses: windows of several sizes in rows of differing length; what is no window, what stands before one."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from curator.learning.rendered import street, walls
from curator.learning.rendered.figures import plant
from curator.learning.rendered.kit import Geom, Kit
from curator.learning.rendered.masonry import arch, pierced, timber
from curator.learning.rendered.panes import Hole, Style, block, style, trim, window
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator


@dataclass
class Front:
    """A front under way: its windows (place on the stage, x, floor), its openings, and what belongs to the wall."""

    kit: Kit
    stage: Stage
    own: Style
    x: float = 0.0  # where its middle is
    aside: bool = False
    fine: bool = False  # large enough that panes are parts
    windows: list[tuple[int, float, int]] = field(default_factory=list)
    holes: list[Hole] = field(default_factory=list)
    geoms: list[Geom] = field(default_factory=list)

    def window(self, x: float, z: float, wide: float, tall: float, floor: int, *, awning: bool = False) -> None:
        self._set(x, 0.0, z, wide, tall, floor)
        hole = (x - wide / 2, x + wide / 2, z, z + tall)
        self.holes.append(hole)
        self.geoms += trim(self.kit, self.own, hole, awning)

    def _set(self, x: float, y: float, z: float, wide: float, tall: float, floor: int) -> None:
        shape = window(self.kit, self.own, wide, tall, fine=self.fine)
        shape.aside = self.aside
        self.windows.append((self.stage.put(shape, (self.x + x, y, z), framed=not self.aside), x, floor))

    def dormers(self, n: int, half: float, top: float, finish: str) -> None:
        """Windows in the roof above eaves at z = top, each in its little house."""
        wide, tall = float(self.kit.rng.uniform(0.5, 0.8)), float(self.kit.rng.uniform(0.5, 0.8))
        shape = street.dormer(self.kit, wide, tall, finish)
        for k in range(n):
            x = (k - (n - 1) / 2) * 2 * half / n
            self.stage.put(shape, (self.x + x, 0.0, top + 0.3), framed=False)
            self._set(x, 0.28 - float(self.own.deep), top + 0.35, wide, tall, 99)

    def opening(self, x: float, wide: float, tall: float, *, shop: bool) -> None:
        """A door or a shop window on the ground floor: no window of the front."""
        glass = str(self.kit.rng.choice(self.own.glass))
        shape = street.shop(self.kit, wide, tall, glass) if shop else street.door(self.kit, wide, tall, glass)
        self.stage.put(shape, (self.x + x, 0.0, 0.0), framed=False)
        self.holes.append((x - wide / 2, x + wide / 2, 0.0, tall))

    def halves(self) -> None:
        """Left and right where nothing lies in the middle and both sides are alike, else the upper and the lower of
        two equal rows.
        """
        left, right = (sorted((f, round(abs(x), 2)) for _, x, f in self.windows if s * x > 0.01) for s in (-1, 1))
        floors = {f for _, _, f in self.windows}
        if left == right and 2 * len(left) == len(self.windows):
            for i, x, _ in self.windows:
                self.stage.placed[i].side = 1 if x < 0 else 2
        elif len(floors) == 2:  # where the rows differ, the sides are struck out with the truth
            for i, _, f in self.windows:
                self.stage.placed[i].side = 1 if f == min(floors) else 2

    def built(self, box: Hole, levels: list[tuple[float, str]], across: float) -> None:
        """Set the wall: each level as high as it says and of its own stuff, the lowest first."""
        kit, deep, low = self.kit, float(self.own.deep) + 0.06, box[2]
        if self.own.beams is not None:
            self.geoms += timber(kit, box, self.holes, self.own.beams)
        geoms = [*self.geoms, block(kit, (0.12, 0.11, 0.11), kit.finish(), box, deep + 0.02, deep + 0.5)]
        for high, finish in levels:
            skin = pierced(
                (box[0], box[1], low, high), [h for h in self.holes if h[3] > low and h[2] < high], deep, across
            )
            geoms.append(kit.geom("mesh", (), (0, 0, 0), (1, 1, 1), finish, mesh=skin, solid=False))
            for hole in self.holes if self.own.arch else ():
                if low < hole[3] <= high:
                    corners = arch(hole, float(self.own.arch) * (hole[1] - hole[0]) / 2, across)
                    geoms.append(kit.geom("mesh", (), (0, 0, 0), (1, 1, 1), finish, mesh=corners, solid=False))
            low = high
        shape = kit.shape("house", geoms, (max(-box[0], box[1]), 0.1, box[3]))
        shape.aside = True
        self.stage.put(shape, (self.x, 0.0, 0.0), framed=False)


@dataclass(frozen=True)
class Plan:
    """A front's measures in units: how many on each floor, what the ground floor is, how far apart, how large."""

    counts: list[int]
    ground: str  # "windows", "door" (one bay is the door), "shops" (none of it counts)
    step: float
    rise: float
    wide: float
    tall: float


def plan(rng: Rng, spread: float, most: int) -> Plan:
    """A plan with 2 to `most` windows."""
    while True:
        floors, across = int(rng.choice([1, 2, 2, 3, 3, 4, 5])), int(rng.choice([1, 2, 2, 3, 3, 4, 4, 5, 6, 7]))
        ground = str(rng.choice(["windows", "door", "door", "shops"]))
        counts = [across] * floors
        if floors > 1 and rng.random() < 0.35:
            counts[-1] = max(1, across - int(rng.integers(1, 3)))
        if ground == "door" and across < 2:
            continue
        total = sum(counts) - (ground == "door")
        if 2 <= total <= most and (ground != "shops" or floors < 5):
            break
    tall = float(rng.uniform(0.9, 1.65))
    return Plan(
        counts,
        ground,
        spread * float(rng.uniform(1.45, 2.1)),
        tall + float(rng.uniform(0.75, 1.3)),
        float(rng.uniform(0.7, 1.1)),
        tall,
    )


def _laid(house: Front, p: Plan) -> None:
    """Windows, doors and shops of a plan."""
    rng, row = house.kit.rng, max(p.counts)
    door = int(rng.integers(row)) if rng.random() < 0.5 else row // 2
    if p.ground == "shops":
        bays = int(np.clip(round(row * p.step / rng.uniform(2.2, 3.2)), 1, 4))
        span = row * p.step / bays
        for k in range(bays):
            shop = rng.random() < 0.65
            house.opening((k - (bays - 1) / 2) * span, span * 0.75 if shop else 1.0, 1.9, shop=shop)
    broad = float(rng.uniform(0.5, 1.35)) if rng.random() < 0.3 else 1.0  # some columns of their own width
    columns = {row // 2, (row - 1) // 2} if rng.random() < 0.5 else {0, row - 1}
    for floor, n in enumerate(p.counts):
        small = floor > 0 and rng.random() < 0.22
        own_wide, tall = (
            p.wide * (rng.uniform(0.6, 1.15) if small else 1),
            p.tall * (rng.uniform(0.5, 0.9) if small else 1),
        )
        step = p.step * (row / n if rng.random() < 0.4 else 1.0)
        z = (floor + (p.ground == "shops")) * p.rise + (0.85 if floor == 0 and p.ground != "shops" else 0.6)
        awning, balcony = rng.random() < 0.08, floor > 0 and rng.random() < 0.14
        for k in range(n):
            x, wide = (k - (n - 1) / 2) * step, own_wide * (broad if n == row and k in columns else 1.0)
            if floor == 0 and p.ground == "door" and k == min(door, n - 1):
                house.opening(x, float(rng.uniform(0.9, 1.15)), 0.85 + p.tall * 0.9, shop=False)
            else:
                house.window(x, z, wide, tall, floor, awning=awning)
                if balcony and k % 2 == (n - 1) // 2 % 2:
                    house.stage.put(street.balcony(house.kit, wide + 0.5), (house.x + x, 0.0, z - 0.15), framed=False)


def _levels(kit: Kit, p: Plan, top: float, beams: bool) -> list[tuple[float, str]]:
    """One stuff for the whole wall, or the ground floor, or a foot, of another."""
    rng = kit.rng
    upper = (top, kit.papered(walls.wall(rng) if not beams else walls.plaster(rng)))
    chance = rng.random()
    if chance < 0.3 and len(p.counts) + (p.ground == "shops") > 1:
        return [((p.rise if p.ground == "shops" else p.rise + 0.2), kit.papered(walls.wall(rng))), upper]
    return [(0.3, kit.papered(walls.stone(rng))), upper] if chance < 0.55 else [upper]


def _house(
    kit: Kit, stage: Stage, p: Plan, own: Style, *, x: float = 0.0, aside: bool = False, more: float = 0.0
) -> tuple[Front, float, float]:
    """A house of this plan on the stage, its half width, and where its eaves are; its wall goes on for `more` units."""
    rng, house = kit.rng, Front(kit, stage, own, x, aside, fine=not aside and sum(p.counts) <= 7)
    _laid(house, p)
    half = max(p.counts) * p.step / 2 + float(rng.uniform(0.0, 0.8))
    top = max(h[3] for h in house.holes) + float(rng.uniform(0.4, 1.0))
    levels = _levels(kit, p, top, own.beams is not None)
    house.built(
        (-half - more, half + more, 0.0, top + more),
        [*levels[:-1], (top + more, levels[-1][1])],
        float(rng.uniform(1.6, 3.0)),
    )
    return house, half, top


def front(kit: Kit) -> Stage:
    """The front of a house with 2 to 24 windows, from the street."""
    rng = kit.rng
    stage = Stage("solid front", main="window", fill=(0.8, 1.1), flat=True, sky=True, lift=(-24, 6), sway=17.0)
    own = style(kit)
    p = plan(rng, 1.3 if own.shutters else 1.0, 22)
    house, half, top = _house(kit, stage, p, own)
    if rng.random() < 0.6:
        stage.put(street.roof(kit, half, top), framed=False)
        if rng.random() < 0.35 and sum(p.counts) < 20:
            house.dormers(int(rng.integers(1, 4)), half, top, kit.papered(walls.wall(rng)))
    elif rng.random() < 0.5 and half > 0.45 * top:
        _neighbour(kit, stage, half)
    house.halves()
    street.before(kit, stage, half)
    return stage


def _neighbour(kit: Kit, stage: Stage, half: float) -> None:
    """Another house next to the one that is meant, mostly out of the picture; its windows are left out."""
    own = style(kit)
    p = plan(kit.rng, 1.3 if own.shutters else 1.0, 22)
    wide = max(p.counts) * p.step / 2 + 0.8
    _house(kit, stage, p, own, x=float(kit.rng.choice([-1, 1])) * (half + wide), aside=True)


def close(kit: Kit) -> Stage:
    """A few windows that fill the picture, the wall going on past its edges; others may be cut by the frame."""
    rng = kit.rng
    stage = Stage("solid front close", main="window", fill=(0.75, 1.2), flat=True, sky=True, lift=(-30, 10), sway=20.0)
    own = style(kit)
    p = plan(rng, 1.3 if own.shutters else 1.0, 7)
    house, half, _ = _house(kit, stage, p, own, more=14.0)
    house.halves()
    street.before(kit, stage, half)
    return stage


def room(kit: Kit) -> Stage:
    """Windows of a room from inside, bright, with curtains; sometimes a potted plant stands before them."""
    rng = kit.rng
    stage = Stage("solid room", main="window", fill=(0.7, 1.15), flat=True, lift=(-6, 12), sway=18.0)
    glass = [kit.papered(walls.sky(rng), shine=0.2, glow=float(rng.uniform(0.3, 0.7))) for _ in range(2)]
    own = replace(
        style(kit), glass=glass, shutters="", beams=None, lintel=0.0, drawn=float(rng.choice([0.0, 0.5, 0.9]))
    )
    n, wide, tall = int(rng.integers(2, 6)), float(rng.uniform(0.6, 1.1)), float(rng.uniform(0.9, 1.6))
    p = Plan([n], "windows", wide * float(rng.uniform(1.25, 2.0)), tall + 1.2, wide, tall)
    house, half, _ = _house(kit, stage, p, own, more=12.0)
    house.halves()
    for _ in range(int(rng.choice([0, 0, 1, 2]))):
        shape = plant(kit)
        shape.aside = True
        stage.put(shape, (float(rng.uniform(-half, half)), -float(rng.uniform(0.5, 1.2)), 0.0), framed=False)
    return stage

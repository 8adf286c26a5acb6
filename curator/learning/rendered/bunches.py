"""Things that grow or are built side by side: fruit in bunches, planks of gates, benches and pallets, chairs in a row
that partly hide each other.
"""

from __future__ import annotations

import numpy as np

from curator.learning.rendered import household, walls
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, side_of, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.soft import Cone, Limb, chain, soft
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator


CROWN = 0.4  # how far the crown of a bunch lies from its middle, units


def _skin(rng: Rng) -> Tone:
    """Yellow to green, now and then any tone."""
    if rng.random() < 0.15:
        return tone_of(rng)
    green = float(rng.uniform(0, 1)) ** 2
    return (0.95 - 0.5 * green, 0.8 - 0.1 * green, 0.15 + 0.1 * float(rng.random()))


def _finger(rng: Rng, turn: float, bend: float, long: float, fat: float) -> list[Cone]:
    """A curved fruit from the crown, CROWN left of the origin: out along `turn` (radians), bent by `bend`."""
    t = np.linspace(0, 1, 8)
    a = turn + bend * (t - 0.15)
    step = long / 7
    x = np.concatenate([[0.0], np.cumsum(np.cos(a[:-1])) * step]) - CROWN
    y = np.concatenate([[0.0], np.cumsum(np.sin(a[:-1])) * step])
    z = fat * 1.05 + 0.12 * long * np.sin(np.pi * t) * float(rng.uniform(0.2, 1))
    path: list[Point] = [(float(p), float(q), float(r)) for p, q, r in zip(x, y, z, strict=True)]
    return chain(path, [fat * w for w in (0.35, 0.5, 0.95, 1.05, 1.05, 0.95, 0.7, 0.3)])


def bunch(kit: Kit, n: int) -> Shape:
    """A bunch of n curved fruits that fan out from their crown and lie; each is a part."""
    rng, tone, finish = kit.rng, _skin(kit.rng), kit.calm() if kit.rng.random() < 0.8 else kit.finish()
    fat, long = float(rng.uniform(0.075, 0.1)), float(rng.uniform(0.75, 0.95))
    spread, bend = float(rng.uniform(0.3, 0.42)), float(rng.uniform(0.5, 1.1))
    limbs, parts = [], []
    for k in range(n):
        turn = -bend * 0.35 + (k - (n - 1) / 2) * spread + float(rng.normal(0, 0.04))
        cones = _finger(rng, turn, bend, long * float(rng.uniform(0.9, 1.05)), fat)
        limbs.append(Limb(k, cones, 0.012))
        middle, tip = cones[len(cones) // 2].one, cones[-1].two
        parts.append(Part("banana", middle, side_of(k, n), tip=tip))
    crown = [Cone((-0.14 - CROWN, 0, fat * 1.3), (0.02 - CROWN, 0, fat * 1.1), 0.045, 0.07)]
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), tone if part >= 0 else (0.4, 0.36, 0.15), finish, mesh=skin, part=part,
                 solid=False)
        for part, skin in soft(crown, limbs, 0.026).items()
    ]  # fmt: skip
    for k, limb in enumerate(limbs):  # the dark end of each
        geoms.append(kit.geom("sphere", (fat * 0.36,), limb.cones[-1].two, (0.2, 0.16, 0.1), finish, part=k,
                              solid=False))  # fmt: skip
    ends = np.array([p.tip for p in parts if p.tip is not None] + [p.at for p in parts])
    wide, deep = float(np.abs(ends[:, 0]).max()), float(np.abs(ends[:, 1]).max())
    return kit.shape("bunch", geoms, (wide + fat, deep + fat, 2.4 * fat), parts)


def grapes(kit: Kit, n: int) -> Shape:
    """A few round fruits on forked stalks, lying: each is a part."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    green: Tone = (0.28, 0.42, 0.16)
    big, geoms = float(rng.uniform(0.14, 0.22)), list[Geom]()
    parts, crown = [], (0.0, 0.4, big * 1.6)
    for k in range(n):
        x = (k - (n - 1) / 2) * big * float(rng.uniform(2.05, 2.5))
        at = (x, float(rng.normal(-0.3, 0.1)), big)
        geoms.append(kit.geom("sphere", (big,), at, tone, finish, part=k, solid=False))
        geoms.append(rod(kit, crown, (at[0] * 0.9, at[1] + big * 0.6, big * 1.75), 0.018, green, finish, -1))
        parts.append(Part("cherry", at, side_of(k, n)))
    if rng.random() < 0.6:
        geoms.append(kit.geom("ellipsoid", (0.2, 0.09, 0.012), (0.18, 0.45, big * 1.6), green, kit.finish(),
                              angles=(12, 0, 25), solid=False))  # fmt: skip
    return kit.shape("bunch", geoms, (big * (n + 0.6), 0.6, 2 * big), parts)


def bunches(kit: Kit) -> Stage:
    """One bunch whose fruits count, or two or three bunches, which count themselves."""
    rng = kit.rng
    n, curved = 1 if rng.random() < 0.72 else int(rng.choice([2, 2, 3])), rng.random() < 0.75
    make, fruits = (bunch, int(rng.integers(2, 7))) if curved else (grapes, int(rng.integers(2, 5)))
    stage = Stage("solid bunch", main=None, fill=(0.65, 1.15), flat=n > 1, lift=(42, 88))
    first = make(kit, fruits)
    stage.main = first.parts[0].kind if n == 1 else "bunch"
    for k in range(n):
        shape = first if k == 0 or rng.random() < 0.4 else make(kit, max(2, fruits + int(rng.integers(-1, 2))))
        at = ((k - (n - 1) / 2) * 2.1 * max(first.reach[:2]), float(rng.normal(0, 0.1)) * (n > 1), 0.0)
        turn = float(rng.uniform(0, 360)) if n == 1 else float(rng.normal(60, 25))
        stage.put(shape, at, turn=turn, side=k + 1 if n == 2 else 0)
    return stage


def _wood(kit: Kit) -> tuple[Tone, str]:
    """A tone and a material of planks."""
    rng = kit.rng
    brown = float(rng.uniform(0.3, 0.8))
    tone: Tone = (brown, brown * 0.75, brown * 0.5) if rng.random() < 0.55 else tone_of(rng)
    return tone, kit.mottled(float(rng.uniform(0.2, 0.5)))


class _Planks:
    """Boards of one make, each a part, and the beams that carry them, which are none."""

    def __init__(self, kit: Kit) -> None:
        self.kit, self.geoms, self.parts = kit, list[Geom](), list[Part]()
        self.tone, self.finish = _wood(kit)
        self.beam = self.tone if kit.rng.random() < 0.5 else unlike_tone(kit.rng, self.tone)

    def put(self, half: Point, at: Point, side: int) -> None:
        tint = float(self.kit.rng.uniform(0.82, 1.08))
        tone = tuple(min(1.0, c * tint) for c in self.tone)
        self.geoms.append(self.kit.geom("box", half, at, (tone[0], tone[1], tone[2]), self.finish,
                                        part=len(self.parts), solid=False))  # fmt: skip
        self.parts.append(Part("plank", at, side))

    def carried(self, half: Point, at: Point) -> None:
        self.geoms.append(self.kit.geom("box", half, at, self.beam, self.finish, solid=False))


def gate(kit: Kit, n: int) -> Shape:
    """A gate of n lying planks between posts with a brace, or of n standing ones on rails."""
    rng, own = kit.rng, _Planks(kit)
    gap, thick, lying = float(rng.uniform(1.15, 2.0)), 0.02, rng.random() < 0.5
    tall = float(rng.uniform(0.7, 1.1))
    if lying:
        each, wide = tall / n, float(rng.uniform(0.6, 0.9))
        for k in range(n):
            own.put((wide, thick, each / 2 / gap), (0, 0, each * (k + 0.5) + 0.08), side_of(k, n))
        for x in (-wide, wide):
            own.carried((0.05, 0.05, tall / 2 + 0.1), (x, 0.03, tall / 2 + 0.1))
        if rng.random() < 0.5:
            slope = float(np.degrees(np.arctan2(tall, 2 * wide)))
            own.geoms.append(kit.geom("box", (float(np.hypot(wide, tall / 2)) * 0.95, 0.012, 0.04),
                                      (0, 0.035, tall / 2 + 0.08), own.beam, own.finish, angles=(0, slope, 0),
                                      solid=False))  # fmt: skip
        return kit.shape("gate", own.geoms, (wide + 0.05, 0.08, tall + 0.2), own.parts)
    each = float(rng.uniform(0.12, 0.2))
    for k in range(n):
        own.put((each / 2 / gap, thick, tall / 2), ((k - (n - 1) / 2) * each, 0, tall / 2 + 0.05), side_of(k, n))
    half = n * each / 2
    for z in (0.22, 0.8):
        own.carried((half, 0.015, 0.04), (0, 0.035, tall * z + 0.05))
    return kit.shape("gate", own.geoms, (half, 0.06, tall + 0.08), own.parts)


def bench(kit: Kit, n: int) -> Shape:
    """A bench along x that looks to -y: planks of its seat and of its back."""
    rng, own = kit.rng, _Planks(kit)
    seat = n if rng.random() < 0.3 else (n + 1) // 2
    back, wide, high = n - seat, float(rng.uniform(0.6, 0.85)), float(rng.uniform(0.38, 0.48))
    each, gap = 0.42 / seat, float(rng.uniform(1.3, 1.8))
    for k in range(seat):
        own.put((wide, each / 2 / gap, 0.018), (0, -0.2 + each * (k + 0.5), high), 1 if seat == back else 0)
    for k in range(back):
        z = high + 0.12 + (0.42 / max(1, back)) * (k + 0.5)
        own.put((wide, 0.016, 0.21 / max(1, back) / gap), (0, 0.26, z), 2 if seat == back else 0)
    for x in (-wide * 0.8, wide * 0.8):
        own.carried((0.03, 0.22, 0.02), (x, 0.02, high - 0.04))
        own.carried((0.03, 0.03, high / 2), (x, -0.16, high / 2))
        own.carried((0.03, 0.03, (high + (0.5 if back else 0)) / 2), (x, 0.3, (high + (0.5 if back else 0)) / 2))
    return kit.shape("bench", own.geoms, (wide, 0.33, high + (0.55 if back else 0.05)), own.parts)


def pallet(kit: Kit, n: int) -> Shape:
    """Planks that lie side by side on two or three beams."""
    rng, own = kit.rng, _Planks(kit)
    each, gap, long = float(rng.uniform(0.14, 0.24)), float(rng.uniform(1.1, 1.9)), float(rng.uniform(0.4, 0.7))
    for k in range(n):
        own.put((each / 2 / gap, long * float(rng.uniform(0.97, 1.02)), 0.02), ((k - (n - 1) / 2) * each, 0, 0.12),
                side_of(k, n))  # fmt: skip
    half = n * each / 2
    for y in np.linspace(-long * 0.8, long * 0.8, int(rng.integers(2, 4))):
        own.carried((half, 0.05, 0.05), (0, float(y), 0.05))
    return kit.shape("pallet", own.geoms, (half, long, 0.15), own.parts)


def planks(kit: Kit) -> Stage:
    """A gate, a bench or a pallet whose planks count; now and then two or three benches, which count themselves."""
    rng, sort = kit.rng, int(kit.rng.integers(3))
    make, n = (gate, bench, pallet)[sort], 1 if sort != 1 or kit.rng.random() < 0.6 else int(kit.rng.choice([2, 2, 3]))
    count = int(rng.integers(3, 11)) if sort != 1 else int(rng.integers(3, 9))
    lift = ((0.0, 18.0), (26.0, 50.0), (35.0, 85.0))[sort]
    stage = Stage("solid planks", fill=(0.7, 1.15), flat=True, lift=lift, sway=20.0, sky=bool(rng.random() < 0.4))
    first = make(kit, count)
    stage.main = "plank" if n == 1 else first.kind
    if rng.random() < 0.4:
        stage.table = walls.leaves(rng) if rng.random() < 0.5 else walls.slabs(rng)
    for k in range(n):
        at = ((k - (n - 1) / 2) * first.reach[0] * 2.3, float(rng.normal(0, 0.1)) * (n > 1), 0.0)
        stage.put(first, at, turn=float(rng.normal(0, 6)), side=k + 1 if n == 2 else 0)
    return stage


def chair_rows(kit: Kit) -> Stage:
    """Two to eight chairs in a row, from behind, from before or along the row, so that each partly hides the next."""
    rng, first = kit.rng, household.chair(kit)
    n, way = int(rng.integers(2, 8)), int(rng.integers(3))
    stage = Stage("solid chair row", main="chair", flat=True, fill=(0.7, 1.1), lift=(6, 34), sway=14.0)
    facing = float(rng.choice([0, 180, 180]))  # their backs to the camera
    step = float(rng.uniform(0.44, 0.62))
    slant = float(rng.uniform(0.25, 0.6)) * float(rng.choice([-1, 1]))
    rows = 2 if n in (4, 6) and way == 0 and rng.random() < 0.5 else 1
    for k in range(n):
        if way == 0:  # side by side, in one row or in two
            row, col = divmod(k, n // rows)
            at = (col * step + row * step * 0.45, row * 0.75, 0.0)
        else:  # one behind the other, aslant
            at = (k * step * slant, k * step * float(1.15 if way == 1 else 0.8), 0.0)
        turn = facing + (90 if way == 2 else 0) + float(rng.normal(0, 5))
        side = ((k // (n // 2)) + 1) if n % 2 == 0 and (rows == 2 or way == 0 or n == 2) else 0
        stage.put(first, at, turn=turn, side=side, tint=float(rng.uniform(0.9, 1.06)))
    return stage

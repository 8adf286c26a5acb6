"""Sofas, whose cushions count: one row of them to lean on and one to sit on; armchairs, which count themselves; and
chairs round a table.
"""

from __future__ import annotations

import math

from curator.learning.rendered import household, things
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, shaded, superquadric, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.stage import Stage

SEAT = 0.42  # height of the seat, units
BEND = (0.22, 0.22)  # how round a frame's edges are, upright and around


class _Sofa:
    """A sofa that is put together: its geoms, its cushions as parts, and what its pieces have in common."""

    def __init__(self, kit: Kit) -> None:
        rng = kit.rng
        self.kit, self.geoms, self.parts = kit, list[Geom](), list[Part]()
        self.tone, self.cloth = tone_of(rng), kit.finish() if rng.random() < 0.4 else kit.calm()
        self.frame = self.tone if rng.random() < 0.75 else unlike_tone(rng, self.tone)
        self.wide, self.deep = float(rng.uniform(0.3, 0.42)), float(rng.uniform(0.32, 0.42))  # half a cushion
        self.soft = (float(rng.uniform(0.25, 0.6)), float(rng.uniform(0.2, 0.45)))

    def block(
        self, half: Point, at: Point, bend: tuple[float, float] = BEND, tilt: float = 0.0, part: int = -1
    ) -> None:
        """One upholstered piece; tilted about x by degrees."""
        tone = self.tone if part >= 0 else self.frame
        if part >= 0:  # no two cushions are worn alike
            tone = shaded(tone, float(self.kit.rng.uniform(0.93, 1.04)))
        mesh = superquadric(half, *bend)
        self.geoms.append(self.kit.geom("mesh", (), at, tone, self.cloth, angles=(tilt, 0, 0), mesh=mesh, part=part,
                                        solid=False))  # fmt: skip

    def row(self, kind: str, n: int, half: Point, at: Point, tilt: float, side: int) -> None:
        """`n` cushions of half sizes `half` in a row along x whose middle is `at`."""
        gap = float(self.kit.rng.uniform(1.0, 1.03))
        for k in range(n):
            place = (at[0] + (k - (n - 1) / 2) * 2 * half[0] * gap, at[1], at[2] + float(self.kit.rng.normal(0, 0.006)))
            self.block(half, place, self.soft, tilt + float(self.kit.rng.normal(0, 1.2)), len(self.parts))
            self.parts.append(Part(kind, place, side))


def _frame(own: _Sofa, half: float) -> float:
    """Base, back, arms and feet round a seat of half width `half`; how far the arms reach."""
    rng, deep = own.kit.rng, own.deep
    arm, tall = float(rng.uniform(0.07, 0.16)), float(rng.uniform(0.5, 0.75))
    own.block((half + arm, deep + 0.08, 0.13), (0, 0.05, 0.2))
    own.block((half + arm, 0.09, float(rng.uniform(0.34, 0.44))), (0, deep + 0.14, SEAT))
    rolled = rng.random() < 0.35
    for x in (-1, 1):
        at = (x * (half + arm), 0.03, tall / 2 + 0.05)
        own.block((arm, deep + 0.1, tall / 2), at)
        if rolled:
            own.geoms.append(own.kit.geom("capsule", (arm * 1.25, deep), (at[0], 0.03, tall + 0.02), own.frame,
                                          own.cloth, angles=(90, 0, 0), solid=False))  # fmt: skip
        for y in (-1, 1):
            foot = (x * (half + arm * 0.6), y * deep * 0.9, 0.0)
            own.geoms.append(rod(own.kit, foot, (foot[0], foot[1], 0.12), 0.03, (0.25, 0.16, 0.1), own.cloth, -1))
    return half + 2 * arm


def _pillows(own: _Sofa, half: float) -> None:
    """One or two small ones of another cloth that lie in the corners: nobody means them."""
    kit, tone = own.kit, unlike_tone(own.kit.rng, own.tone)
    for x in kit.rng.permutation([-1, 1])[: int(kit.rng.integers(1, 3))]:
        size = float(kit.rng.uniform(0.14, 0.2))
        at = (float(x) * (half - size), -0.02, SEAT + 0.1 + size)
        mesh = superquadric((size, 0.07, size), 0.35, 1.0)
        own.geoms.append(kit.geom("mesh", (), at, tone, kit.finish(), angles=(-25, 0, float(x) * 20), mesh=mesh,
                                  solid=False))  # fmt: skip


def sofa(kit: Kit, backs: int, seats: int) -> Shape:
    """A sofa along x that is seen from -y; as many cushions to lean on as to sit on are one kind, else they are two."""
    rng, own = kit.rng, _Sofa(kit)
    half = own.wide * max(backs, seats)
    reach = _frame(own, half)
    thick, high, lean = (float(v) for v in rng.uniform((0.08, 0.2, 6), (0.12, 0.3, 16)))
    kinds = ("cushion", "cushion") if backs == seats else ("back cushion", "seat cushion")
    up = SEAT + 0.06 + high
    own.row(kinds[0], backs, (half / backs, 0.1, high), (0, own.deep - 0.06, up), -lean, 1)
    own.row(kinds[1], seats, (half / seats, own.deep, thick), (0, -0.04, SEAT), 0, 2)
    if rng.random() < 0.2:
        _pillows(own, half)
    return kit.shape("sofa", own.geoms, (reach, own.deep + 0.2, up + high), own.parts)


def sofas(kit: Kit) -> Stage:
    """One sofa whose cushions count, or a few armchairs or sofas that count themselves."""
    rng = kit.rng
    alone = rng.random() < 0.75
    backs = int(rng.choice([2, 2, 3, 3, 4])) if alone else int(rng.choice([1, 1, 2]))
    seats = backs if not alone or rng.random() < 0.8 else int(rng.choice([s for s in (1, 2, 3) if s != backs]))
    n = 1 if alone else int(rng.choice([2, 2, 3, 4]))
    stage = Stage("solid sofa", fill=(0.8, 1.2), lift=(6, 38), sway=24.0, flat=n > 1)
    first = sofa(kit, backs, seats)
    stage.main = "sofa" if n > 1 else first.parts[0].kind
    facing = float(rng.choice([0, 0, 90])) if n == 2 else 0.0
    for k in range(n):
        at = ((k - (n - 1) / 2) * 2 * first.reach[0] * float(rng.uniform(1.05, 1.3)), float(rng.normal(0, 0.1)), 0.0)
        turn = (2 * k - 1) * facing * float(rng.uniform(0.3, 1)) + float(rng.normal(0, 6 if n > 1 else 2))
        stage.put(first if rng.random() < 0.8 else sofa(kit, backs, seats), at, turn=turn, side=k + 1 if n == 2 else 0)
    return stage


def _table(kit: Kit, half: Point) -> Shape:
    """A table of half sizes `half` (the third its height) on four legs or on one foot."""
    rng, (x, y, tall), tone, finish = kit.rng, half, tone_of(kit.rng), kit.mottled(float(kit.rng.uniform(0.1, 0.4)))
    thick, wood = float(rng.uniform(0.025, 0.05)), kit.plain()
    round_ = rng.random() < 0.3
    top = superquadric((x, y, thick), 0.15, 1.0 if round_ else 0.12)
    geoms = [kit.geom("mesh", (), (0, 0, tall), tone, finish, mesh=top)]
    if round_ and rng.random() < 0.6:
        geoms.append(rod(kit, (0, 0, 0.03), (0, 0, tall), 0.06, tone, wood, -1))
        geoms.append(kit.geom("cylinder", (x * 0.45, 0.03), (0, 0, 0.03), tone, wood))
    else:
        inset, leg = (0.68 if round_ else 0.9), float(rng.uniform(0.03, 0.06))
        for sx in (-1, 1):
            for sy in (-1, 1):
                foot = (sx * x * inset, sy * y * inset, leg)
                geoms.append(rod(kit, foot, (foot[0], foot[1], tall - leg), leg, tone, wood, -1))
    return kit.shape("table", geoms, (x, y, tall + thick))


def dining(kit: Kit) -> Stage:
    """Chairs round a table, which hides a part of them: along two sides, or all round."""
    rng, first = kit.rng, household.chair(kit)
    n = int(rng.choice([2, 3, 4, 4, 5, 6, 6, 8]))
    deep = max(first.reach[:2])
    along = (n + 1) // 2
    half: Point = (max(0.45, along * deep * 1.08), float(rng.uniform(0.35, 0.55)), float(rng.uniform(0.55, 0.68)))
    stage = Stage("solid dining", main="chair", fill=(0.75, 1.2), lift=(10, 50), sway=40.0, flat=rng.random() < 0.7)
    stage.put(_table(kit, half), framed=False)
    out, ring = float(rng.uniform(-0.1, 0.25)), n in (3, 5) or rng.random() < 0.3
    for k in range(n):
        if ring:
            a = 6.2832 * (k + 0.5) / n
            at = ((half[0] + deep * 0.7 + out) * math.cos(a), (half[1] + deep * 0.7 + out) * math.sin(a), 0.0)
            turn = math.degrees(a) - 90
        else:
            side, place = (-1, 1)[k % 2], (k // 2 - (along - 1) / 2) * 2.1 * deep
            at, turn = (place, side * (half[1] + deep * 0.45 + out), 0.0), 0.0 if side > 0 else 180.0
        stage.put(first, at, turn=turn + float(rng.normal(0, 6)), side=0 if ring else 1 + k % 2)
    if rng.random() < 0.6:
        kit.unit = 0.3
        for _ in range(int(rng.integers(1, 4))):
            shape = things.THINGS[str(rng.choice(["bowl", "vase", "cup", "plate", "bottle"]))](kit)
            on = (float(rng.uniform(-0.6, 0.6)) * half[0], float(rng.uniform(-0.5, 0.5)) * half[1], half[2] + 0.05)
            stage.put(shape, on, framed=False)
        kit.unit = 1.0
    return stage

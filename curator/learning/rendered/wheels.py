"""Things on wheels seen from the side: bicycles, scooters, carts, barrows, prams, toy cars; the wheels of one count,
several count themselves.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, superquadric, tone_of, unlike_tone
from curator.learning.rendered.parts import bent, rod
from curator.learning.rendered.stage import Stage
from curator.learning.rendered.vehicles import spoked, wheel

Rng = np.random.Generator
RUBBER: Tone = (0.09, 0.09, 0.1)


class _Wheels:
    """The wheels of one thing: spoked or full, of one make."""

    def __init__(self, kit: Kit, *, thin: float) -> None:
        rng = kit.rng
        self.kit, self.thin = kit, rng.random() < thin
        self.tone = RUBBER if rng.random() < 0.6 else tone_of(rng)
        self.hub, self.share = unlike_tone(rng, self.tone), float(rng.uniform(0.25, 0.7))
        self.geoms: list[Geom] = []
        self.parts: list[Part] = []

    def put(self, at: Point, big: float, side: int = 0) -> None:
        """A wheel about the y axis."""
        k = len(self.parts)
        if self.thin:
            self.geoms += spoked(self.kit, at, big, 0.02, self.tone, k)
        else:
            self.geoms += wheel(self.kit, at, big, self.tone, (big * self.share, self.hub), k)
        self.parts.append(Part("wheel", at, side))

    def pair(self, x: float, y: float, big: float) -> None:
        """One on each side; the far one cannot be seen from the side when the body hides it."""
        self.put((x, -y, big), big)
        self.put((x, y, big), big)


def bicycle(kit: Kit) -> Shape:
    """Along x: a frame of one of several makes, fork, bars, saddle, pedals, now and then a basket and guards."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    big, half, own = float(rng.uniform(0.22, 0.28)), float(rng.uniform(0.3, 0.38)), _Wheels(kit, thin=0.95)
    for k, x in enumerate((-half, half)):
        own.put((x, 0, big + 0.02), big * (float(rng.uniform(0.7, 1)) if rng.random() < 0.1 else 1), k + 1)
    z, thick = big + 0.02, float(rng.uniform(0.013, 0.024))
    low, seat, bar = (-0.02, 0.0, z * 0.95), (-half * 0.4, 0.0, z + big * 0.9), (half * 0.66, 0.0, z + big * 1.0)
    tubes = [((-half, 0.0, z), low), (low, seat), (low, bar), ((-half, 0.0, z), seat), (bar, (half, 0.0, z))]
    if rng.random() < 0.7:
        tubes.append((seat, bar))
    geoms = [rod(kit, one, two, thick, tone, finish, -1) for one, two in tubes]
    top = (bar[0] - 0.03, 0.0, bar[2] + float(rng.uniform(0.05, 0.16)))
    geoms.append(rod(kit, bar, top, thick, tone, finish, -1))
    for s in (-1, 1):
        grip = (top[0] - float(rng.uniform(0.02, 0.1)), s * 0.17, top[2])
        geoms.append(rod(kit, top, grip, thick * 0.9, (0.2, 0.2, 0.2), finish, -1))
        geoms.append(
            rod(kit, low, (low[0] + s * 0.07, s * 0.07, low[2] - s * 0.07), 0.012, (0.3, 0.3, 0.3), finish, -1)
        )
    saddle = (seat[0], 0.0, seat[2] + 0.07)
    geoms.append(rod(kit, seat, saddle, thick, (0.5, 0.5, 0.5), finish, -1))
    geoms.append(kit.geom("ellipsoid", (0.11, 0.05, 0.028), saddle, (0.12, 0.09, 0.08), finish, solid=False))
    geoms.append(kit.geom("cylinder", (0.055, 0.015), low, (0.35, 0.35, 0.36), finish, angles=(90, 0, 0), solid=False))
    if rng.random() < 0.3:
        size, at = (0.09, 0.12, 0.08), (half * 0.85 + 0.08, 0.0, bar[2])
        geoms.append(kit.geom("box", size, at, tone_of(rng), kit.finish(), solid=False))
    return kit.shape("bicycle", [*own.geoms, *geoms], (half + big, 0.17, top[2]), own.parts)


def scooter(kit: Kit) -> Shape:
    """Along x: a board on two wheels with a post and bars."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    big, half, own = float(rng.uniform(0.08, 0.16)), float(rng.uniform(0.35, 0.5)), _Wheels(kit, thin=0.3)
    for k, x in enumerate((-half, half)):
        own.put((x, 0, big), big, k + 1)
    z, high = big + 0.01, float(rng.uniform(0.7, 1.0))
    geoms = [
        kit.geom("box", (half - big * 0.9, 0.07, 0.02), (-big * 0.15, 0, z), tone, kit.finish(), solid=False),
        *bent(kit, [(half, 0.0, big), (half - 0.03, 0.0, z + 0.2), (half - 0.12, 0.0, high)], 0.022, tone, finish),
        rod(kit, (-half, 0, big), (-half + big, 0, z), 0.02, tone, finish, -1),
        rod(kit, (half - big * 1.2, 0, z), (half - 0.03, 0, z + 0.2), 0.022, tone, finish, -1),
        rod(kit, (half - 0.12, -0.2, high), (half - 0.12, 0.2, high), 0.02, (0.15, 0.15, 0.16), finish, -1),
    ]
    return kit.shape("scooter", [*own.geoms, *geoms], (half + big, 0.2, high), own.parts)


def tricycle(kit: Kit) -> Shape:
    """Along x: one wheel ahead and two behind."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    front, back, own = float(rng.uniform(0.16, 0.26)), float(rng.uniform(0.11, 0.17)), _Wheels(kit, thin=0.35)
    wide = float(rng.uniform(0.2, 0.28))
    own.put((0.34, 0, front), front)
    own.pair(-0.3, wide, back)
    bar = (0.26, 0.0, front + 0.38)
    geoms = [
        *bent(kit, [(0.34, 0.0, front), (0.3, 0.0, front + 0.2), bar], 0.024, tone, finish),
        *bent(kit, [(0.3, 0.0, front + 0.2), (0.0, 0.0, back + 0.1), (-0.3, 0.0, back)], 0.026, tone, finish),
        rod(kit, (-0.3, -wide, back), (-0.3, wide, back), 0.02, (0.4, 0.4, 0.4), finish, -1),
        rod(kit, (bar[0], -0.18, bar[2]), (bar[0], 0.18, bar[2]), 0.02, (0.2, 0.2, 0.2), finish, -1),
        rod(kit, (-0.15, 0, back + 0.05), (-0.15, 0, back + 0.24), 0.02, tone, finish, -1),
        kit.geom("ellipsoid", (0.13, 0.09, 0.03), (-0.15, 0, back + 0.25), unlike_tone(rng, tone), finish, solid=False),
    ]
    return kit.shape("tricycle", [*own.geoms, *geoms], (0.34 + front, wide + 0.04, bar[2]), own.parts)


def barrow(kit: Kit) -> Shape:
    """Along x: a handcart with two wheels and its shafts, or a wheelbarrow with one wheel ahead and two legs."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    one, own, wood = rng.random() < 0.35, _Wheels(kit, thin=0.45), tone_of(kit.rng)
    big = float(rng.uniform(0.12, 0.17)) if one else float(rng.uniform(0.18, 0.3))
    z = big * 1.5
    tub = superquadric((0.36, 0.24, 0.15), 0.35, 0.3)
    tub[0][:, :2] *= np.interp(tub[0][:, 2], [-0.15, 0.15], [0.7, 1.1])[:, None]
    geoms = [
        kit.geom("mesh", (), (0, 0, z + 0.14), tone, finish, mesh=tub, solid=False),
        kit.geom("box", (0.33, 0.21, 0.01), (0, 0, z + 0.29), tuple(c * 0.5 for c in tone), finish, solid=False),
    ]
    for s in (-1, 1):
        ends = [(0.45, s * 0.08, big), (-0.2, s * 0.2, z), (-0.75, s * 0.22, z + 0.14)]
        geoms += bent(kit, ends if one else ends[1:], 0.02, wood, kit.plain())
    if one:
        own.put((0.45, 0, big), big)
        for s in (-1, 1):
            geoms.append(rod(kit, (-0.22, s * 0.19, z), (-0.26, s * 0.19, 0.02), 0.02, wood, kit.plain(), -1))
    else:
        own.pair(0.05, 0.29, big)
        geoms.append(rod(kit, (0.05, -0.29, big), (0.05, 0.29, big), 0.02, (0.3, 0.3, 0.3), kit.plain(), -1))
        geoms.append(rod(kit, (-0.3, 0, z), (-0.32, 0, 0.02), 0.02, wood, kit.plain(), -1))
    return kit.shape("barrow" if one else "handcart", [*own.geoms, *geoms], (0.7, 0.33, z + 0.3), own.parts)


def wagon(kit: Kit) -> Shape:
    """Along x: a box or a pram on four wheels, with a drawbar or a hood and a handle."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    big, y, own = float(rng.uniform(0.1, 0.18)), float(rng.uniform(0.2, 0.26)), _Wheels(kit, thin=0.5)
    for x in (-0.3, 0.3):
        own.pair(x, y, big)
    pram, z = rng.random() < 0.4, big * 1.3
    other = unlike_tone(rng, tone)
    geoms = [rod(kit, (x, -y, big), (x, y, big), 0.018, (0.3, 0.3, 0.3), kit.plain(), -1) for x in (-0.3, 0.3)]
    if pram:
        body = superquadric((0.42, 0.2, 0.17), 0.6, 0.5)
        geoms.append(kit.geom("mesh", (), (0, 0, z + 0.26), tone, finish, mesh=body, solid=False))
        geoms.append(kit.geom("ellipsoid", (0.2, 0.2, 0.24), (0.22, 0, z + 0.38), other, finish, solid=False))
        for x in (-0.3, 0.3):
            geoms.append(rod(kit, (x, 0, big), (-x * 0.5, 0, z + 0.14), 0.018, (0.6, 0.6, 0.62), kit.plain(), -1))
        geoms += bent(kit, [(-0.38, 0.0, z + 0.3), (-0.62, 0.0, z + 0.5)], 0.02, (0.2, 0.2, 0.2), kit.plain())
    else:
        tall = float(rng.uniform(0.08, 0.2))
        geoms.append(kit.geom("box", (0.45, y * 0.85, tall), (0, 0, z + tall), tone, finish, solid=False))
        geoms.append(kit.geom("box", (0.42, y * 0.78, 0.01), (0, 0, z + 2 * tall), tuple(c * 0.5 for c in tone), finish,
                              solid=False))  # fmt: skip
        geoms += bent(kit, [(0.42, 0.0, big), (0.75, 0.0, big + 0.25)], 0.018, other, kit.plain())
    return kit.shape("wagon", [*own.geoms, *geoms], (0.6, y + 0.05, z + 0.55), own.parts)


def toy(kit: Kit) -> Shape:
    """Along x: a wooden toy, flat from side to side, with two to four wheels on each side; those behind are hidden."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    n, y = int(rng.choice([2, 2, 2, 3, 4])), float(rng.uniform(0.1, 0.17))
    big, own = min(float(rng.uniform(0.1, 0.16)), 0.42 / n), _Wheels(kit, thin=0.1)
    xs = np.linspace(-0.33, 0.33, n) + (rng.normal(0, 0.02, n) if n == 2 else 0)
    for x in xs:
        own.put((float(x), -y, big), big)
    z, other = big * 0.8, unlike_tone(rng, tone)
    low = float(rng.uniform(0.1, 0.15))
    geoms = [kit.geom("mesh", (), (0, 0.04, z + low), tone, finish, mesh=superquadric((0.5, y, low), 0.25, 0.25),
                      solid=False)]  # fmt: skip
    geoms.append(kit.geom("box", (0.45, y * 0.8, z / 2), (0, 0.05, z / 2 + 0.01), RUBBER, kit.plain(), solid=False))
    middle, sort = float(rng.uniform(-0.2, 0.2)), int(rng.integers(3))
    if sort == 0:  # a cabin with windows
        cabin = superquadric((0.26, y * 0.9, 0.13), 0.4, 0.3)
        geoms.append(kit.geom("mesh", (), (middle, 0.04, z + 2 * low + 0.1), tone, finish, mesh=cabin, solid=False))
        glass, size = kit.plain(), (0.085, y * 0.92, 0.07)
        for dx in (-0.11, 0.11):
            at = (middle + dx, 0.03, z + 2 * low + 0.1)
            geoms.append(kit.geom("box", size, at, (0.15, 0.18, 0.22), glass, solid=False))
    elif sort == 1:  # a boiler and a chimney
        geoms.append(kit.geom("cylinder", (y * 0.85, 0.3), (0.14, 0.04, z + 2 * low + 0.08), other, finish,
                              angles=(0, 90, 0), solid=False))  # fmt: skip
        geoms.append(
            kit.geom("cylinder", (0.05, 0.16), (0.3, 0.04, z + 2 * low + 0.25), tone_of(rng), finish, solid=False)
        )
        geoms.append(
            kit.geom("box", (0.14, y * 0.95, 0.22), (-0.32, 0.04, z + 2 * low + 0.2), tone, finish, solid=False)
        )
    else:  # a load and a cab
        geoms.append(
            kit.geom("box", (0.28, y, 0.16), (-0.2, 0.04, z + 2 * low + 0.14), other, kit.finish(), solid=False)
        )
        geoms.append(kit.geom("box", (0.12, y, 0.13), (0.34, 0.04, z + 2 * low + 0.1), tone, finish, solid=False))
    return kit.shape("toy", [*own.geoms, *geoms], (0.52, y + 0.06, z + 2 * low + 0.36), own.parts)


SORTS: tuple[tuple[Callable[[Kit], Shape], float, tuple[float, float]], ...] = (
    (bicycle, 0.34, (2, 22)),
    (scooter, 0.1, (2, 24)),
    (tricycle, 0.12, (10, 34)),
    (barrow, 0.12, (12, 36)),
    (wagon, 0.12, (14, 38)),
    (toy, 0.2, (2, 18)),
)
"""Each maker, how often it comes, and how high it is seen from (degrees), so that its wheels can be told."""


def wheeled(kit: Kit) -> Stage:
    """One thing from the side, whose wheels count, or two to five, which count themselves."""
    rng = kit.rng
    weights = np.array([w for _, w, _ in SORTS])
    make, _, lift = SORTS[int(rng.choice(len(SORTS), p=weights / weights.sum()))]
    first = make(kit)
    n = 1 if rng.random() < 0.6 else int(rng.choice([2, 2, 3, 3, 4, 5]))
    if len(first.parts) < 2:
        n = max(2, n)
    stage = Stage("solid wheels", main="wheel" if n == 1 else first.kind, fill=(0.7, 1.15), flat=True, lift=lift,
                  sway=16.0, sky=bool(rng.random() < 0.4))  # fmt: skip
    facing, same, deep = (
        float(rng.choice([0, 180] if first.kind != "toy" else [0])),
        rng.random() < 0.4,
        rng.random() < 0.4,
    )
    for k in range(n):
        shape = first
        if k and not same:
            while (shape := make(kit)).kind != first.kind:
                pass
        wide, thick = first.reach[0] * 2.2, first.reach[1] * 2 + 0.25
        at = (k * wide * 0.45, k * thick * 1.5, 0.0) if deep else ((k % 3) * wide, (k // 3) * thick * 2.5, 0.0)
        turn = facing + float(rng.normal(0, 8))
        stage.put(shape, (at[0] + float(rng.normal(0, 0.05)), at[1], 0.0), turn=turn, side=k + 1 if n == 2 else 0)
    return stage

"""Toy vehicles and bicycles: their wheels count where there is one, else they count themselves."""

from __future__ import annotations

import numpy as np

from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, lathe, superquadric, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.stage import Stage


def wheel(kit: Kit, at: Point, big: float, tone: Tone, hub: tuple[float, Tone], part: int) -> list[Geom]:
    """A wheel about the y axis: a tyre, and a hub of a radius and a tone."""
    finish = kit.plain()
    return [
        kit.geom("cylinder", (big, 0.04), at, tone, finish, angles=(90, 0, 0), part=part, solid=False),
        kit.geom("cylinder", (hub[0], 0.0435), at, hub[1], finish, angles=(90, 0, 0), part=part, solid=False),
    ]


def spoked(kit: Kit, at: Point, big: float, wide: float, tone: Tone, part: int) -> list[Geom]:
    """A thin wheel about the y axis with spokes."""
    finish = kit.plain()
    tyre = lathe([(big, -wide), (big + wide, 0), (big, wide), (big - wide, 0), (big, -wide)], 32)
    geoms = [kit.geom("mesh", (), at, tone, finish, angles=(90, 0, 0), mesh=tyre, part=part, solid=False)]
    for a in np.linspace(0, np.pi, 5, endpoint=False):
        c, s = float(np.cos(a)) * big, float(np.sin(a)) * big
        geoms.append(
            rod(kit, (at[0] - c, at[1], at[2] - s), (at[0] + c, at[1], at[2] + s), 0.008, (0.7, 0.7, 0.7), finish, part)
        )
    return geoms


def cycle(kit: Kit) -> Shape:
    """A bicycle along x; its two wheels are parts."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    big, half = float(rng.uniform(0.2, 0.26)), float(rng.uniform(0.28, 0.36))
    dark: Tone = (0.09, 0.09, 0.1) if rng.random() < 0.7 else tone_of(rng)
    geoms: list[Geom] = []
    parts = []
    for k, x in enumerate((-half, half)):
        geoms += spoked(kit, (x, 0, big + 0.02), big, 0.022, dark, k)
        parts.append(Part("wheel", (x, 0, big + 0.02), k + 1))
    z, seat, bar = big + 0.02, (-half * 0.35, 0.0, big * 2.1), (half * 0.7, 0.0, big * 2.2)
    low = (-half * 0.1, 0.0, z)
    for one, two in (
        ((-half, 0.0, z), low),
        (low, seat),
        (seat, bar),
        (low, bar),
        ((-half, 0.0, z), seat),
        (bar, (half, 0.0, z)),
    ):
        geoms.append(rod(kit, one, two, 0.02, tone, finish, -1))
    geoms.append(
        kit.geom("ellipsoid", (0.1, 0.04, 0.025), (seat[0], 0, seat[2] + 0.05), (0.1, 0.08, 0.08), finish, solid=False)
    )
    geoms.append(
        rod(kit, (bar[0], -0.14, bar[2] + 0.05), (bar[0], 0.14, bar[2] + 0.05), 0.016, (0.2, 0.2, 0.2), finish, -1)
    )
    return kit.shape("bicycle", geoms, (half + big, 0.12, big * 2.4), parts)


def vehicle(kit: Kit) -> Shape:
    """A toy car, van or lorry along x: two wheels on each side, or three."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    big, y = float(rng.uniform(0.08, 0.14)), float(rng.uniform(0.17, 0.24))
    z, dark = big * 1.1, (0.08, 0.08, 0.09)
    wheels = [-0.3, 0.3] if rng.random() < 0.75 else [-0.36, -0.1, 0.34]
    low, glass = float(rng.uniform(0.08, 0.13)), kit.plain()
    if rng.random() < 0.55:
        cabin = float(rng.uniform(0.1, 0.16))
        geoms = [
            kit.geom("mesh", (), (0, 0, z + low), tone, finish, mesh=superquadric((0.52, y, low), 0.35, 0.3)),
            kit.geom(
                "mesh",
                (),
                (-0.04, 0, z + 2 * low + cabin * 0.5),
                (0.12, 0.14, 0.17),
                glass,
                mesh=superquadric((0.3, y * 0.9, cabin), 0.5, 0.35),
                solid=False,
            ),
            kit.geom("box", (0.2, y * 0.75, 0.015), (-0.04, 0, z + 2 * low + cabin * 1.45), tone, finish, solid=False),
        ]
    else:
        load = float(rng.uniform(0.1, 0.24))
        geoms = [
            kit.geom("box", (0.5, y * 0.9, 0.03), (0, 0, z + 0.03), (0.2, 0.2, 0.2), glass),
            kit.geom("box", (0.32, y, load), (-0.18, 0, z + 0.06 + load), unlike_tone(rng, tone), kit.finish()),
            kit.geom("mesh", (), (0.34, 0, z + 0.2), tone, finish, mesh=superquadric((0.16, y * 0.95, 0.17), 0.3, 0.3)),
            kit.geom("box", (0.1, y * 0.97, 0.06), (0.4, 0, z + 0.25), (0.12, 0.14, 0.17), glass, solid=False),
        ]
    parts = []
    hub = (big * float(rng.uniform(0.3, 0.65)), unlike_tone(rng, dark))
    for x in wheels:
        for side, s in ((1, -1), (2, 1)):
            at = (x, s * y, big)
            geoms += wheel(kit, at, big, dark, hub, len(parts))
            parts.append(Part("wheel", at, side))
    return kit.shape("vehicle", geoms, (0.54, y + 0.05, 0.6), parts)


def vehicles(kit: Kit) -> Stage:
    """One vehicle, whose wheels count, or several, which count themselves."""
    rng = kit.rng
    n = int(rng.choice([1, 1, 1, 2, 3, 4]))
    stage = Stage("solid vehicles", fill=(0.6, 1.1), look=str(rng.choice(["front", "oblique"])), sway=24.0, flat=n == 1)
    make = cycle if rng.random() < 0.35 else vehicle
    first = make(kit)
    same, base, over = (
        rng.random() < 0.3,
        float(rng.choice([0, 180])),
        bool(make is vehicle and n == 1 and rng.random() < 0.25),
    )
    if over:  # on its roof: every wheel can be seen
        stage.look = str(rng.choice(["top", "oblique"]))
        stage.put(first, (0, 0, first.reach[2]), turn=float(rng.uniform(-40, 40)), tilt=180.0)
    for k in range(0 if over else n):
        shape = first if same or k == 0 else make(kit)
        x, y = (k % 2) * 1.35, (k // 2) * 0.75
        stage.put(
            shape,
            (x + float(rng.normal(0, 0.06)), y, 0.0),
            turn=base + float(rng.normal(0, 12)),
            side=k + 1 if n == 2 else 0,
        )
    stage.main = "wheel" if n == 1 else first.kind
    return stage

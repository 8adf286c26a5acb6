"""Bodies with limbs that bend and touch the ground: insects, spiders, crabs, four-legged animals, stars with arms; and
wings.
"""

from __future__ import annotations

import numpy as np

from curator.learning.rendered import walls
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Skin, Tone, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.soft import Cone, Limb, chain, soft
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator


def _dimmed(rng: Rng, tone: Tone) -> Tone:
    r, g, b = (float(c * rng.uniform(0.25, 1.0)) for c in tone)
    return (r, g, b)


def _leg(rng: Rng, root: Point, turn: float, reach: float, knee: float, foot: float) -> list[Point]:
    """Root, knee, ankle and foot of a leg that goes out at `turn` (radians about z, 0 is +x) and touches the ground."""
    bent = turn + float(rng.normal(0, 0.12))
    out = lambda r, a, z: (root[0] + r * float(np.cos(a)), root[1] + r * float(np.sin(a)), z)  # noqa: E731
    return [
        root,
        out(reach * 0.42, turn, knee),
        out(reach * 0.82, bent, knee * 0.35 + foot),
        out(reach, bent + float(rng.normal(0, 0.1)), foot),
    ]


def _limb(kit: Kit, path: list[Point], thick: float, tone: Tone, finish: str, part: int) -> list[Geom]:
    return [
        rod(kit, path[k], path[k + 1], thick * (1.0, 0.75, 0.5)[min(2, k)], tone, finish, part)
        for k in range(len(path) - 1)
    ]


def _middle(path: list[Point]) -> Point:
    """A little beyond the knee, where a leg can be pointed at."""
    a, b = np.array(path[1]), np.array(path[2])
    x, y, z = (float(v) for v in 0.65 * a + 0.35 * b)
    return (x, y, z)


def crawler(kit: Kit, sort: str) -> Shape:
    """An insect (6 legs), a spider (8) or a crab (10, its claws counted: common practice); its head to +y, feelers
    left aside.
    """
    rng = kit.rng
    tone, finish = tone_of(rng) if rng.random() < 0.6 else (0.2 + 0.2 * float(rng.random()), 0.14, 0.1), kit.finish()
    limb = _dimmed(rng, tone) if rng.random() < 0.6 else tone_of(rng)
    up = float(rng.uniform(0.14, 0.3))
    geoms, half = _bodies(kit, sort, tone, finish, up)
    parts: list[Part] = []
    pairs = 3 if sort == "insect" else 4
    thick, reach = float(rng.uniform(0.018, 0.038)), float(rng.uniform(0.4, 0.75))
    knee = up + float(rng.uniform(0.05, 0.3 if sort == "spider" else 0.18))
    turns = np.radians(np.linspace(*((58, -52) if sort != "crab" else (28, -48)), pairs))
    for k in range(pairs):
        y = float(np.linspace(half[1], -half[1], pairs)[k]) + (0.1 if sort == "spider" else 0)
        for side, sign in ((1, -1.0), (2, 1.0)):
            turn = float(turns[k] + rng.normal(0, 0.14))
            own = _leg(rng, (half[0], y, up), turn, reach * float(rng.uniform(0.85, 1.15)), knee, thick)
            path = [(sign * p[0], p[1], p[2]) for p in own]
            geoms += _limb(kit, path, thick, limb, finish, len(parts))
            parts.append(Part("leg", _middle(path), side, tip=path[-1]))
    for kind, paths in _extras(rng, sort, up, half):
        for side, path in enumerate(paths, 1):
            geoms += _limb(kit, path, thick * (2.2 if kind == "claw" else 0.6), limb, finish, len(parts))
            if kind == "claw":
                geoms.append(
                    kit.geom("ellipsoid", (0.1, 0.14, 0.07), path[-1], tone, finish, part=len(parts), solid=False)
                )
            parts.append(
                Part("leg", path[1], side, tip=path[-1])
                if kind == "claw"
                else Part(kind, path[1], aside=True, tip=path[-1])
            )
    return kit.shape(
        sort,
        geoms,
        (half[0] + reach * 0.9, half[1] + reach * 0.6, knee + 0.1),
        parts,
        axis=((0, 0.45, up), (0, -0.45, up)),
    )


def _bodies(kit: Kit, sort: str, tone: Tone, finish: str, up: float) -> tuple[list[Geom], tuple[float, float]]:
    """The body's geoms, and how far its legs' roots lie from the middle (x, y)."""
    rng = kit.rng
    other = unlike_tone(rng, tone) if rng.random() < 0.4 else tone
    eye = kit.plain()
    if sort == "crab":
        wide, long = float(rng.uniform(0.26, 0.4)), float(rng.uniform(0.2, 0.3))
        geoms = [kit.geom("ellipsoid", (wide, long, 0.13), (0, 0, up), tone, finish, solid=False)]
        geoms += [
            kit.geom("sphere", (0.035,), (s * 0.1, long, up + 0.1), (0.05, 0.05, 0.05), eye, solid=False)
            for s in (-1, 1)
        ]
        return geoms, (wide * 0.8, long * 0.6)
    if sort == "spider":
        back = float(rng.uniform(0.2, 0.34))
        geoms = [
            kit.geom(
                "ellipsoid", (back * 0.85, back, back * 0.75), (0, -0.12 - back, up + 0.06), other, finish, solid=False
            ),
            kit.geom("ellipsoid", (0.15, 0.2, 0.1), (0, 0.08, up), tone, finish, solid=False),
        ]
        return geoms, (0.1, 0.12)
    wide, tall = float(rng.uniform(0.1, 0.25)), float(rng.uniform(0.09, 0.17))
    waist = rng.random() < 0.4
    rear = kit.geom(
        "ellipsoid",
        (wide, 0.26 if waist else 0.36, tall),
        (0, -0.3 if waist else -0.16, up + 0.03),
        other,
        finish,
        solid=False,
    )
    geoms = [rear, kit.geom("ellipsoid", (wide * 0.75, 0.18, tall * 0.85), (0, 0.12, up), tone, finish, solid=False)]
    geoms.append(kit.geom("sphere", (wide * 0.62,), (0, 0.36, up), tone, finish, solid=False))
    if not waist and rng.random() < 0.5:  # the line between the wing cases
        geoms.append(
            rod(kit, (0, 0.1, up + tall * 0.95), (0, -0.42, up + tall * 0.75), 0.012, _dimmed(rng, tone), eye, -1)
        )
    return geoms, (wide * 0.6, 0.14)


def _extras(rng: Rng, sort: str, up: float, half: tuple[float, float]) -> list[tuple[str, list[list[Point]]]]:
    """A crab's claws, an insect's feelers: by kind, left and right."""
    made: list[tuple[str, list[list[Point]]]] = []
    if sort == "crab":
        out = float(rng.uniform(0.25, 0.4))
        arm = [
            (half[0], half[1], up),
            (half[0] + out * 0.7, half[1] + 0.2, up + 0.05),
            (half[0] * 0.7, half[1] + 0.45, up),
        ]
        made.append(("claw", [[(s * x, y, z) for x, y, z in arm] for s in (-1.0, 1.0)]))
    elif sort == "insect" and rng.random() < 0.75:
        long = float(rng.uniform(0.2, 0.5))
        made.append(
            (
                "feeler",
                [
                    [
                        (s * 0.05, 0.44, up + 0.05),
                        (s * 0.14, 0.5 + long * 0.4, up + 0.18),
                        (s * 0.26, 0.5 + long, up + 0.1),
                    ]
                    for s in (-1.0, 1.0)
                ],
            )
        )
    return made


def _wing(
    kit: Kit, root: Point, turn: float, long: float, wide: float, finish: str, tone: Tone, part: int, lift: float
) -> tuple[Geom, Point, Point]:
    """A flat wing from its root, seen from both sides; its middle and its tip."""
    t = np.linspace(0, 2 * np.pi, 18, endpoint=False)
    along, across = long * (0.5 - 0.5 * np.cos(t)), wide * np.sin(t) * (0.6 + 0.4 * np.sin(t / 2))
    c, s = np.cos(turn), np.sin(turn)
    ring = np.stack([along * c - across * s, along * s + across * c, along * lift], 1) + np.array(root)
    corners = np.concatenate(
        [ring, [[root[0] + 0.5 * long * c, root[1] + 0.5 * long * s, root[2] + 0.5 * long * lift]]]
    )
    k = np.arange(18)
    front = np.stack([k, (k + 1) % 18, np.full(18, 18)], 1)
    vertices = np.concatenate([corners, corners - [0, 0, 0.004]])
    faces = np.concatenate([front, front[:, ::-1] + 19])
    normals = np.concatenate([np.tile([0.0, 0, 1], (19, 1)), np.tile([0.0, 0, -1], (19, 1))])
    spots = np.tile(np.stack([along / long, 0.5 + across / max(1e-6, 2 * wide)], 1), (1, 1))
    spots = np.concatenate([spots, [[0.5, 0.5]]] * 2)
    made = kit.geom(
        "mesh", (), (0, 0, 0), tone, finish, mesh=Skin(vertices, faces, normals, spots), part=part, solid=False
    )
    middle, tip = corners[18], root + np.array([long * c, long * s, long * lift])
    return made, (float(middle[0]), float(middle[1]), float(middle[2])), (float(tip[0]), float(tip[1]), float(tip[2]))


def winged(kit: Kit) -> Shape:
    """A butterfly or a dragonfly with four spread wings; its feelers are left aside."""
    rng, tone = kit.rng, tone_of(kit.rng)
    slim, up, finish = rng.random() < 0.45, 0.12, kit.plain()
    colour = unlike_tone(rng, tone)
    picture = walls.leaves(rng) if rng.random() < 0.3 else walls.plaster(rng)
    wing = kit.papered(np.asarray(picture * 0.6 + 100, np.float32).clip(0, 255), shine=0.4)
    geoms = [
        rod(kit, (0, 0.29, up), (0, -0.39, up), 0.05, tone, finish, -1),
        kit.geom("sphere", (0.075,), (0, 0.36, up), tone, finish, solid=False),
    ]
    parts: list[Part] = []
    lift = float(rng.uniform(0.02, 0.4))
    measures = (
        ((14.0, 0.75, 0.1), (-12.0, 0.7, 0.12))
        if slim
        else ((35.0, float(rng.uniform(0.6, 0.8)), 0.2), (-38.0, float(rng.uniform(0.4, 0.55)), 0.2))
    )
    for row, (turn, long, wide) in enumerate(measures):
        for side, sign in ((1, -1), (2, 1)):
            a = np.radians(turn if sign > 0 else 180 - turn)
            own = colour if row == 0 or slim else _dimmed(rng, colour)
            made, middle, tip = _wing(
                kit, (sign * 0.03, 0.12 - 0.16 * row, up + 0.03), float(a), long, wide, wing, own, len(parts), lift
            )
            geoms.append(made)
            parts.append(Part("wing", middle, side, tip=tip))
    for s in (-1.0, 1.0):
        path = [(s * 0.03, 0.4, up + 0.05), (s * 0.08, 0.52, up + 0.12), (s * 0.16, 0.66, up + 0.14)]
        geoms += _limb(kit, path, 0.014, tone, finish, len(parts))
        parts.append(Part("feeler", path[1], aside=True, tip=path[-1]))
    return kit.shape("flier", geoms, (0.75, 0.5, 0.3), parts, axis=((0, 0.4, up), (0, -0.4, up)))


def animal(kit: Kit) -> Shape:
    """A four-legged animal along x, its head to +x: legs, neck, ears and tail of any length."""
    rng, tone = kit.rng, tone_of(kit.rng)
    leg, fat, long, neck = (
        float(rng.uniform(0.15, 0.5)),
        float(rng.uniform(0.12, 0.2)),
        float(rng.uniform(0.22, 0.36)),
        float(rng.uniform(0.05, 0.45)),
    )
    z = leg + fat * 0.6
    trunk = [Cone((-long, 0, z), (long, 0, z + float(rng.uniform(-0.02, 0.06))), fat, fat * 0.95)]
    top: Point = (long + 0.12 + neck * 0.35, 0, z + 0.12 + neck)
    trunk += chain([(long, 0, z + 0.03), top], [fat * 0.7, 0.09])
    trunk += [Cone(top, (top[0] + float(rng.uniform(0.08, 0.24)), 0, top[2] - 0.05), 0.1, 0.06)]
    trunk += [
        Cone(
            (top[0] - 0.02, s * 0.06, top[2] + 0.08),
            (top[0] - 0.05, s * 0.09, top[2] + float(rng.uniform(0.1, 0.2))),
            0.03,
            0.025,
        )
        for s in (-1, 1)
    ]
    thick = float(rng.uniform(0.045, 0.085))
    limbs, parts = [], []
    for side, x in ((1, -long * 0.9), (2, long * 0.85)):
        for s in (-1, 1):
            foot = x + float(rng.normal(0, 0.07))
            path: list[Point] = [
                (x, s * fat * 0.6, z),
                ((x + foot) / 2 + 0.02, s * fat * 0.7, z * 0.5),
                (foot, s * fat * 0.7, thick * 0.8),
            ]
            limbs.append(Limb(len(parts), chain(path, [thick * 1.3, thick, thick * 0.85]), 0.05))
            parts.append(Part("leg", (foot, s * fat * 0.7, z * 0.35), side, tip=path[-1]))
    tail = len(parts)
    end: Point = (-long - fat - 0.2, 0, z - float(rng.uniform(-0.15, 0.25)))
    limbs.append(Limb(tail, chain([(-long - fat * 0.8, 0, z + 0.05), end], [0.035, 0.02]), 0.02))
    parts.append(Part("tail", (-long - fat - 0.1, 0, z), aside=True, tip=end))
    finish = kit.finish()
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=skin, part=part, solid=False)
        for part, skin in soft(trunk, limbs, 0.034).items()
    ]
    return kit.shape("animal", geoms, (long + fat + 0.3, fat + 0.1, top[2] + 0.2), parts)


def star(kit: Kit) -> Shape:
    """A body lying flat with five to eight arms that taper and bend."""
    rng, tone = kit.rng, tone_of(kit.rng)
    arms, fat = int(rng.choice([5, 5, 6, 8])), float(rng.uniform(0.12, 0.24))
    bend, long, thick = float(rng.normal(0, 0.35)), float(rng.uniform(0.35, 0.6)), fat * float(rng.uniform(0.35, 0.6))
    trunk = [Cone((0, 0, fat * 0.6), (0, 0, fat * float(rng.uniform(0.6, 1.6))), fat, fat)]
    limbs, parts = [], []
    for k in range(arms):
        a = 2 * np.pi * (k + 0.5) / arms + float(rng.normal(0, 0.08))
        own, path = bend + float(rng.normal(0, 0.2)), []
        for t in np.linspace(0.2, 1, 4):
            r, b = fat + long * t, a + own * t * t
            path.append((float(r * np.cos(b)), float(r * np.sin(b)), float(thick * (1.1 - 0.5 * t))))
        root = (float(fat * 0.7 * np.cos(a)), float(fat * 0.7 * np.sin(a)), fat * 0.5)
        limbs.append(Limb(k, chain([root, *path], [thick * w for w in (1.2, 1, 0.85, 0.65, 0.4)]), 0.05))
        parts.append(Part("arm", path[1], (1 if np.cos(a) < 0 else 2) if arms % 2 == 0 else 0, tip=path[-1]))
    finish = kit.finish()
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=skin, part=part, solid=False)
        for part, skin in soft(trunk, limbs, 0.034).items()
    ]
    return kit.shape("star", geoms, (fat + long, fat + long, fat * 2), parts)


def crawlers(kit: Kit) -> Stage:
    """One body whose limbs count; now and then two or three bodies, which count themselves."""
    rng = kit.rng
    sort = str(
        rng.choice(
            ["insect", "insect", "insect", "spider", "spider", "crab", "crab", "flier", "animal", "animal", "star"]
        )
    )
    look = str(rng.choice(["oblique", "front"])) if sort == "animal" else str(rng.choice(["top", "oblique", "oblique"]))
    n = 1 if rng.random() < 0.82 else int(rng.integers(2, 4))
    stage = Stage("solid crawler", fill=(0.6, 1.05), look=look, flat=n > 1, lift=(3, 26) if sort == "animal" else None)
    made = {"flier": winged, "animal": animal, "star": star}.get(sort, lambda k: crawler(k, sort))
    same, base = made(kit), rng.uniform(0, 360) if sort != "animal" else 0.0
    for k in range(n):
        x = (k - (n - 1) / 2) * same.reach[0] * 2.2
        stage.put(
            same,
            (x, float(rng.normal(0, 0.1)) * (n > 1), 0.0),
            turn=float(base + rng.normal(0, 25)),
            side=k + 1 if n == 2 else 0,
        )
    stage.main = same.parts[0].kind if n == 1 else same.kind
    return stage

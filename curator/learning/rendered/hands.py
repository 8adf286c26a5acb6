"""Hands: some fingers raised, the others folded into the fist; palm or back, upright or flat on a table."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from curator.learning import paint
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.soft import Cone, Limb, chain, soft
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator

KNUCKLES: tuple[Point, ...] = ((-0.3, 0.0, 0.84), (-0.1, 0.03, 0.9), (0.1, 0.02, 0.86), (0.28, 0.0, 0.76))
BONES = ((0.36, 0.23, 0.18), (0.4, 0.26, 0.19), (0.37, 0.24, 0.18), (0.29, 0.18, 0.16))
THICK = (0.105, 0.108, 0.102, 0.09)
"""Roots, lengths of the three bones and radii of the four fingers of a hand about 0.8 units wide (by eye)."""


@dataclass
class Pose:
    """One hand: which of thumb and fingers are raised, how it is turned, and how it is made."""

    raised: tuple[bool, ...]
    spin: float  # degrees about the arm: 0 shows the palm to -y
    roll: float  # degrees about y: the arm from below, or from a side
    skin: Tone
    spread: float
    side: int = 0
    sleeve: Tone | None = None
    paths: dict[int, list[Point]] = field(default_factory=dict)


def _moved(pose: Pose, points: list[Point]) -> list[Point]:
    a, b = np.radians(pose.spin), np.radians(pose.roll)
    spin = np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])
    roll = np.array([[np.cos(b), 0, np.sin(b)], [0, 1, 0], [-np.sin(b), 0, np.cos(b)]])
    turned = np.array(points) @ (roll @ spin).T
    return [(float(x), float(y), float(z)) for x, y, z in turned]


def _finger(rng: Rng, k: int, up: bool, spread: float) -> list[Point]:
    """Joints from the knuckle to the tip: nearly straight, or folded towards the palm at -y."""
    lean = np.radians(spread * (-13, -4, 4, 13)[k] + rng.normal(0, 2.5)) if up else np.radians((-3, -1, 1, 3)[k])
    bends = (
        np.cumsum(np.abs(rng.normal(0, (6, 6, 4))))
        if up
        else np.cumsum((rng.uniform(72, 92), rng.uniform(95, 105), rng.uniform(45, 70)))
    )
    at, path = np.array(KNUCKLES[k]), [KNUCKLES[k]]
    for length, bend in zip(BONES[k], np.radians(bends), strict=True):
        ahead = np.array([np.sin(lean) * np.cos(bend), -np.sin(bend), np.cos(lean) * np.cos(bend)])
        at = at + length * ahead
        path.append((float(at[0]), float(at[1]), float(at[2])))
    return path


def _thumb(rng: Rng, up: bool) -> list[Point]:
    if not up:
        drop = float(rng.uniform(-0.05, 0.05))
        return [
            (-0.24, -0.08, 0.14),
            (-0.36, -0.27, 0.42 + drop),
            (-0.2, -0.41, 0.58 + drop),
            (0.06, -0.42, 0.58 + drop),
        ]
    out = float(rng.uniform(0.75, 1.25))
    return [
        (-0.24, -0.05, 0.14),
        (-0.42 * out - 0.05, -0.1, 0.42),
        (-0.6 * out - 0.05, -0.12, 0.66),
        (-0.7 * out - 0.05, -0.12, 0.92),
    ]


def hand(kit: Kit, pose: Pose, step: float = 0.033) -> Shape:
    """A right hand (with `kit.flip` a left one), its wrist at the origin and the arm going down to z = -1.8."""
    rng, finish = kit.rng, kit.mottled(float(kit.rng.uniform(0.0, 0.22)))
    limbs, parts = [], []
    for k in range(5):
        up = pose.raised[k]
        path = _moved(pose, _thumb(rng, up) if k == 0 else _finger(rng, k - 1, up, pose.spread))
        thick = 0.115 if k == 0 else THICK[k - 1]
        radii = (
            [thick * 1.15, thick, thick * 0.93, thick * 0.78]
            if k == 0
            else [thick, thick * 0.95, thick * 0.87, thick * 0.74]
        )
        limbs.append(Limb(k, chain(path, radii), 0.1 if up or k == 0 else 0.035))
        at = tuple(
            float(v)
            for v in 0.4 * np.array(path[2])
            + 0.6 * np.array(path[3])
            - (0.1 if k else 0.2) * np.subtract(path[3], path[2])
        )
        parts.append(Part("finger" if up else "folded", (at[0], at[1], at[2]), pose.side if up else 0, not up, path[3]))
    pose.paths = {k: [limb.cones[0].one, *(c.two for c in limb.cones)] for k, limb in enumerate(limbs)}
    skins = soft(_palm(pose), limbs, step)
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), pose.skin, finish, mesh=skin, part=part, solid=False)
        for part, skin in skins.items()
    ]
    geoms += _details(kit, pose, finish)
    return kit.shape("hand", geoms, (0.6, 0.3, 1.75), parts)


def _palm(pose: Pose) -> list[Cone]:
    """Four bones of the palm, the ball of the thumb, and the forearm."""
    cones = []
    for k, knuckle in enumerate(KNUCKLES):
        root = ((-0.13, -0.04, 0.05, 0.13)[k], 0.0, 0.06)
        cones += chain(_moved(pose, [root, (knuckle[0], knuckle[1], knuckle[2] - 0.06)]), [0.14, 0.125])
    cones += chain(_moved(pose, [(-0.14, -0.07, 0.1), (-0.26, -0.1, 0.34)]), [0.14, 0.13])
    cones += chain(_moved(pose, [(0.17, -0.05, 0.12), (0.22, -0.04, 0.4)]), [0.13, 0.12])
    return (
        cones
        + chain(_moved(pose, [(-0.05, 0, 0.05), (-0.06, 0.01, -1.8)]), [0.17, 0.26])
        + chain(_moved(pose, [(0.05, 0, 0.05), (0.06, 0.01, -1.8)]), [0.17, 0.26])
    )


def _details(kit: Kit, pose: Pose, finish: str) -> list[Geom]:
    """Nails on the back, creases on the palm's side, and a sleeve."""
    rng = kit.rng
    nail = tuple(float(min(1.0, c * 1.12 + 0.07)) for c in pose.skin)
    dark = tuple(c * 0.72 for c in pose.skin)
    back = np.array(_moved(pose, [(0.0, 1.0, 0.0)])[0])
    geoms = []
    for k, path in pose.paths.items():
        tip, last = np.array(path[3]), np.array(path[3]) - np.array(path[2])
        along = last / np.linalg.norm(last)
        out = (
            np.cross(np.cross(along, back), along)
            if pose.raised[k] or k == 0
            else np.cross(along, np.cross(back, along))
        )
        out = out / (np.linalg.norm(out) + 1e-9)
        thick = 0.09 if k == 0 else THICK[k - 1] * 0.74
        if pose.raised[k]:
            one, two = tip - along * 0.03 + out * thick * 0.55, tip + along * 0.035 + out * thick * 0.45
            geoms.append(_bar(kit, one, two, thick * 0.52, (nail[0], nail[1], nail[2]), finish, k))
            for joint in path[1:3]:
                across = np.cross(along, out) * thick * 0.75
                middle = np.array(joint) - out * thick * 1.12
                geoms.append(_bar(kit, middle - across, middle + across, 0.009, (dark[0], dark[1], dark[2]), finish, k))
    if pose.sleeve is not None:
        start = float(rng.uniform(-0.9, -0.2))
        ends = _moved(pose, [(0, 0, start), (0, 0, start - 2.4), (0, 0, start), (0, 0, start - 0.12)])
        cloth = kit.finish()
        cuff = unlike_tone(rng, pose.sleeve) if rng.random() < 0.3 else pose.sleeve
        for k, (thick, tone) in enumerate(((0.33, pose.sleeve), (0.35, cuff))):
            geoms.append(replace(rod(kit, ends[2 * k], ends[2 * k + 1], thick, tone, cloth, -1), sort="cylinder"))
    return geoms


def _bar(kit: Kit, one: paint.Picture, two: paint.Picture, thick: float, tone: Tone, finish: str, part: int) -> Geom:
    a, b = ((float(p[0]), float(p[1]), float(p[2])) for p in (one, two))
    return rod(kit, a, b, thick, tone, finish, part)


def _raised(rng: Rng, count: int) -> tuple[bool, ...]:
    """Which of thumb and fingers: mostly as people count, now and then any."""
    order = [[1, 2, 3, 4, 0], [1, 2, 3, 4, 0], [0, 1, 2, 3, 4], [1, 2, 0, 3, 4]][int(rng.integers(4))]
    chosen = set(order[:count]) if rng.random() < 0.75 else set(rng.permutation(5)[:count].tolist())
    if chosen in ({2}, {3}):  # one finger alone is the pointing one: others could be a rude sign
        chosen = {1}
    return tuple(k in chosen for k in range(5))


def skin_tone(rng: Rng) -> Tone:
    """From pale to dark brown, as bright as a lit room shows it."""
    pale = rng.random() < 0.5
    found = paint.hsv(
        rng.integers(6, 14),
        rng.uniform(0.32, 0.5) if pale else rng.uniform(0.38, 0.62),
        rng.uniform(0.9, 1.0) if pale else rng.uniform(0.4, 0.95),
    )
    r, g, b = (found / 255).tolist()
    return (float(r), float(g), float(b))


def hands(kit: Kit) -> Stage:
    """One or two hands, mostly upright before a wall or a room; some flat on a table."""
    rng = kit.rng
    two, flat = rng.random() < 0.5, rng.random() < 0.25
    stage = Stage("solid hands", main="finger", look="top" if flat else "front", fill=(0.7, 1.05), flat=True)
    if not flat:
        stage.wall, stage.sway, stage.lift = float(rng.uniform(0.8, 6)), 16.0, (-8, 18)
    n = int(rng.integers(1, 6))
    m = n if rng.random() < 0.6 else int(rng.integers(1, 6))
    skin, sleeve = skin_tone(rng), tone_of(rng) if rng.random() < 0.55 else None
    back = rng.random() < 0.45
    inward = rng.random() < 0.6
    # arms that come from the sides: an open hand may lie at any turn, two raised ones lean apart or together
    lean = float(rng.normal(0, 40)) if not two and rng.random() < 0.35 else float(rng.normal(0, 12))
    base = float(rng.uniform(0, 360)) if flat and not two else 0.0
    apart, spread = float(rng.uniform(0.85, 1.3)), float(rng.uniform(0.4, 1.4))
    for side, count in ((1, n), (2, m)) if two else ((0, n),):
        kit.flip = rng.random() < 0.5
        if two and rng.random() < 0.85:  # thumbs towards each other, or both away
            kit.flip = (side == 1) == inward
        raised = tuple([True] * 5) if flat and rng.random() < 0.6 else _raised(rng, count)
        spin = (180.0 if back else 0.0) + float(np.clip(rng.normal(0, 18), -40, 40))
        outward = lean * (1 if side == 2 else -1) * (-1 if kit.flip else 1)  # a mirrored hand leans the other way
        pose = Pose(raised, spin, float(rng.normal(0, 12)) + outward, skin, spread, side, sleeve)
        shape = hand(kit, pose)
        kit.flip = False
        x = 0.0 if not two else (side - 1.5) * 2 * apart
        stage.put(
            shape,
            (x, 0.0, 0.35 if flat else 1.9),
            side=side,
            tilt=-90.0 if flat else 0.0,
            turn=base + float(rng.normal(0, 6)),
        )
    return stage

"""What stands about a front: doors, shops, balconies; trees, bushes, lamp posts and cars before it."""

from __future__ import annotations

import numpy as np

from curator.learning import paint
from curator.learning.rendered import walls
from curator.learning.rendered.kit import Geom, Kit, Shape, Skin, lathe, superquadric, tone_of, unlike_tone
from curator.learning.rendered.panes import block, facing
from curator.learning.rendered.parts import rod
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator


def _aside(shape: Shape) -> Shape:
    shape.aside = True
    return shape


def door(kit: Kit, wide: float, tall: float, glass: str) -> Shape:
    """A door of one or two leaves, panelled or with a pane."""
    rng, h = kit.rng, wide / 2
    tone, finish = tone_of(rng), kit.finish()
    deeper = tuple(c * 0.7 for c in tone)
    geoms = [block(kit, tone, finish, (-h, h, 0, tall), 0.05, 0.12)]
    leaves = 2 if wide > 1 and rng.random() < 0.5 else 1
    for k in range(leaves):
        left = -h + (2 * k * h) / leaves + 0.1
        right = left + 2 * h / leaves - 0.2
        for low, high in ((0.12, 0.45), (0.5, 0.92)):
            if low > 0.45 and rng.random() < 0.35:
                geoms.append(facing(kit, glass, left, right, tall * low, tall * high, 0.045))
            else:
                geoms.append(block(kit, deeper, finish, (left, right, tall * low, tall * high), 0.035, 0.06))
    geoms.append(kit.geom("sphere", (0.035,), (h - 0.09, 0.02, tall * 0.47), (0.75, 0.7, 0.5), finish, solid=False))
    geoms.append(block(kit, (0.55, 0.54, 0.52), finish, (-h - 0.15, h + 0.15, 0, 0.08), -0.35, 0.0))
    return _aside(kit.shape("door", geoms, (h, 0.1, tall)))


def shop(kit: Kit, wide: float, tall: float, glass: str) -> Shape:
    """A shop's large pane, often under an awning or a board without words."""
    rng, h = kit.rng, wide / 2
    tone, finish = tone_of(rng), kit.finish()
    geoms = [facing(kit, glass, -h, h, 0.3, tall, 0.08), block(kit, tone, finish, (-h, h, 0, 0.3), 0.0, 0.1)]
    for k in range(int(rng.integers(2, 4))):
        x = -h + 2 * h * k / 2 if k < 2 else h
        geoms.append(block(kit, tone, finish, (max(-h, x - 0.05), min(h, x + 0.05), 0, tall), 0.03, 0.08))
    if rng.random() < 0.5:
        stripes = kit.papered(walls.boards(rng))
        geoms.append(
            kit.geom(
                "box", (h + 0.1, 0.5, 0.015), (0, -0.4, tall + 0.02), (1, 1, 1), stripes, angles=(28, 0, 0), solid=False
            )
        )
    else:
        geoms.append(block(kit, unlike_tone(rng, tone), finish, (-h, h, tall - 0.02, tall + 0.28), -0.06, 0.02))
    return _aside(kit.shape("shop", geoms, (h, 0.5, tall)))


def balcony(kit: Kit, wide: float) -> Shape:
    """A slab with a railing of thin bars, its floor at z = 0, before a window."""
    rng, h, high, out = kit.rng, wide / 2, float(kit.rng.uniform(0.35, 0.5)), float(kit.rng.uniform(0.3, 0.6))
    tone, finish = tone_of(rng), kit.finish()
    geoms = [block(kit, (0.7, 0.69, 0.66), finish, (-h, h, -0.1, 0), -out, 0)]
    geoms.append(block(kit, tone, finish, (-h, h, high - 0.03, high), -out, -out + 0.03))
    for x in np.linspace(-h, h, int(rng.integers(8, 14))):
        geoms.append(
            kit.geom("box", (0.012, 0.012, high / 2), (float(x), -out + 0.015, high / 2), tone, finish, solid=False)
        )
    return _aside(kit.shape("balcony", geoms, (h, out, high)))


def roof(kit: Kit, half: float, top: float) -> Shape:
    """A sloping roof over a front of this half width, its eaves at z = top."""
    rng = kit.rng
    high, deep, over = float(rng.uniform(0.9, 2.2)), 3.0, float(rng.uniform(0.05, 0.4))
    rise = high / (deep + over)
    corners = np.array(
        [
            (-half - over, -over, top),
            (half + over, -over, top),
            (half + over, deep, top + high),
            (-half - over, deep, top + high),
        ]
    )
    faces, normal = np.array([[0, 1, 2], [0, 2, 3]]), np.array([0, -rise, 1]) / np.hypot(rise, 1)
    skin = Skin(corners, faces, np.tile(normal, (4, 1)), np.array([(0, 1), (half, 1), (half, 0), (0, 0)], float))
    gutter, finish = tone_of(rng), kit.finish()
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), (1, 1, 1), kit.papered(walls.tiles(rng)), mesh=skin, solid=False),
        block(kit, gutter, finish, (-half - over, half + over, top - 0.1, top + 0.02), -over - 0.05, -over + 0.05),
    ]
    for _ in range(int(rng.integers(0, 3))):
        x = float(rng.uniform(-half, half))
        geoms.append(block(kit, (0.5, 0.3, 0.25), finish, (x, x + 0.5, top, top + high + 0.8), deep - 0.6, deep))
    return _aside(kit.shape("roof", geoms, (half, deep, high)))


def dormer(kit: Kit, wide: float, tall: float, finish: str) -> Shape:
    """The little house of a dormer, without its window; its front is in the plane y = 0.3."""
    h = wide / 2 + 0.15
    own = kit.finish()
    geoms = [block(kit, (1, 1, 1), finish, (-h, h, -0.4, tall + 0.12), 0.3, 2.5)]
    ridge = 0.5 * h
    corners = np.array([(-h - 0.1, 0.15, tall + 0.1), (0, 0.15, tall + 0.1 + ridge), (h + 0.1, 0.15, tall + 0.1)])
    solid = np.concatenate([corners, corners + [0, 2.3, 0]])
    faces = np.array([[0, 2, 1], [3, 4, 5], [0, 1, 4], [0, 4, 3], [1, 2, 5], [1, 5, 4], [0, 3, 5], [0, 5, 2]])
    geoms.append(kit.geom("mesh", (), (0, 0, 0), (0.45, 0.3, 0.26), own, mesh=(solid, faces), solid=False))
    return _aside(kit.shape("dormer", geoms, (h, 1.2, tall)))


def _leafy(kit: Kit, at: tuple[float, float, float], reach: tuple[float, float, float], count: int) -> Geom:
    """A cloud of leaves: small double triangles in one mesh, so that what is behind shows between them."""
    rng = kit.rng
    middle = rng.normal(0, 1, (count, 3))
    middle *= (rng.uniform(0.3, 1, (count, 1)) ** 0.5) / np.linalg.norm(middle, axis=1, keepdims=True)
    big = float(np.mean(reach)) * rng.uniform(0.06, 0.13, (count, 1, 1))
    corners = (middle * reach)[:, None] + rng.normal(0, 1, (count, 4, 3)) * big
    faces = np.arange(count)[:, None, None] * 4 + np.array([[0, 1, 2], [0, 2, 1], [0, 2, 3], [0, 3, 2]])[None]
    tone = tuple(
        float(v) / 255 for v in paint.hsv(rng.integers(28, 65), rng.uniform(0.35, 0.8), rng.uniform(0.3, 0.75))
    )
    return kit.geom(
        "mesh",
        (),
        at,
        (tone[0], tone[1], tone[2]),
        kit.finish(),
        mesh=(corners.reshape(-1, 3), faces.reshape(-1, 3)),
        solid=False,
    )


def tree(kit: Kit) -> Shape:
    """Bare or in leaf, two to five units high."""
    rng = kit.rng
    tall, thick = float(rng.uniform(2.0, 5.0)), float(rng.uniform(0.05, 0.16))
    bark, finish = (0.3, 0.23, 0.17), kit.finish()
    trunk = (float(rng.normal(0, 0.1)), 0.0, tall * 0.6)
    geoms = [rod(kit, (0, 0, 0), trunk, thick, bark, finish, -1)]
    for k in range(int(rng.integers(4, 12))):
        a, low = rng.uniform(0, 6.28), rng.uniform(0.45, 1.0)
        root = (trunk[0] * low, 0.0, trunk[2] * low)
        end = (
            root[0] + float(np.cos(a)) * tall * 0.22,
            float(np.sin(a)) * tall * 0.2,
            root[2] + tall * float(rng.uniform(0.12, 0.35)),
        )
        geoms.append(rod(kit, root, end, thick * float(rng.uniform(0.2, 0.5)), bark, finish, -1))
        if k < 4 and rng.random() < 0.5:
            geoms.append(_leafy(kit, end, (tall * 0.16,) * 3, 150))
    if rng.random() < 0.5:
        wide = tall * float(rng.uniform(0.15, 0.28))
        geoms.append(_leafy(kit, (0, 0, tall * 0.8), (wide, wide, tall * 0.25), 420))
    return _aside(kit.shape("tree", geoms, (tall * 0.25, tall * 0.25, tall)))


def bush(kit: Kit) -> Shape:
    wide, tall = float(kit.rng.uniform(0.4, 1.4)), float(kit.rng.uniform(0.25, 0.6))
    return _aside(kit.shape("bush", [_leafy(kit, (0, 0, tall), (wide, 0.4, tall), 420)], (wide, 0.4, 2 * tall)))


def lamp(kit: Kit) -> Shape:
    """A post with a lamp."""
    rng, tall = kit.rng, float(kit.rng.uniform(2.5, 5))
    tone, finish = (0.2, 0.22, 0.22), kit.finish()
    geoms = [kit.geom("cylinder", (0.05, tall / 2), (0, 0, tall / 2), tone, finish, solid=False)]
    if rng.random() < 0.5:
        geoms.append(
            kit.geom(
                "mesh",
                (),
                (0, 0, tall),
                (0.9, 0.88, 0.75),
                finish,
                mesh=lathe([(0.001, 0), (0.09, 0), (0.16, 0.3), (0.001, 0.4)], 10),
                solid=False,
            )
        )
    else:
        geoms.append(rod(kit, (0, 0, tall), (0.7, -0.1, tall + 0.15), 0.035, tone, finish, -1))
        geoms.append(
            kit.geom("ellipsoid", (0.2, 0.08, 0.05), (0.75, -0.1, tall + 0.12), (0.8, 0.8, 0.78), finish, solid=False)
        )
    return _aside(kit.shape("lamp", geoms, (0.2, 0.2, tall)))


def car(kit: Kit) -> Shape:
    """A parked car along x, its side to the camera."""
    tone, finish = tone_of(kit.rng), kit.finish()
    geoms = [
        kit.geom("mesh", (), (0, 0, 0.42), tone, finish, mesh=superquadric((1.5, 0.6, 0.28), 0.4, 0.3), solid=False),
        kit.geom(
            "mesh",
            (),
            (-0.1, 0, 0.72),
            (0.12, 0.14, 0.16),
            finish,
            mesh=superquadric((0.9, 0.52, 0.3), 0.6, 0.3),
            solid=False,
        ),
        kit.geom("box", (0.7, 0.45, 0.03), (-0.1, 0, 1.0), tone, finish, solid=False),
    ]
    for x in (-0.9, 0.9):
        geoms.append(
            kit.geom(
                "cylinder", (0.24, 0.08), (x, -0.56, 0.24), (0.08, 0.08, 0.08), finish, angles=(90, 0, 0), solid=False
            )
        )
        geoms.append(
            kit.geom(
                "cylinder", (0.13, 0.085), (x, -0.56, 0.24), (0.7, 0.7, 0.7), finish, angles=(90, 0, 0), solid=False
            )
        )
    return _aside(kit.shape("car", geoms, (1.5, 0.6, 1.0)))


BEFORE = (tree, tree, tree, bush, bush, lamp, lamp, car)


def before(kit: Kit, stage: Stage, half: float) -> None:
    """Now and then up to three things between the camera and the front; no tree before a narrow one, which it would
    hide.
    """
    rng, narrow = kit.rng, half < 2.5
    for _ in range(int(rng.choice([0, 0, 1, 1, 2, 3] if not narrow else [0, 0, 1]))):
        make = BEFORE[int(rng.integers(3 if narrow else 0, len(BEFORE)))]
        stage.put(make(kit), (float(rng.uniform(-half, half)), -float(rng.uniform(0.9, 2.6)), 0.0), framed=False)

"""Single solids of about one unit: vessels, food, blocks, tools; each a function (kit) -> Shape."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning.rendered.kit import Kit, Shape, lathe, superquadric, tone_of, unlike_tone

Maker = Callable[[Kit], Shape]


def _tones(kit: Kit) -> tuple[tuple[float, float, float], tuple[float, float, float], str]:
    tone = tone_of(kit.rng)
    return tone, unlike_tone(kit.rng, tone), kit.finish()


def ball(kit: Kit) -> Shape:
    tone, _, finish = _tones(kit)
    return kit.shape("ball", [kit.geom("sphere", (0.5,), (0, 0, 0.5), tone, finish)], (0.5, 0.5, 1))


def egg(kit: Kit) -> Shape:
    tone, _, finish = _tones(kit)
    if kit.rng.random() < 0.6:
        tone = (0.93, 0.85 - 0.2 * kit.rng.random(), 0.75 - 0.3 * kit.rng.random())
    t = np.linspace(0, np.pi, 16)
    wide = 0.36 * np.sin(t) * (1 + 0.14 * np.cos(t))
    mesh = lathe([(r, 0.5 - 0.5 * np.cos(a)) for r, a in zip(wide, t, strict=True)])
    return kit.shape("egg", [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=mesh)], (0.38, 0.38, 1))


def fruit(kit: Kit) -> Shape:
    """A round fruit with a dent and a stem."""
    rng = kit.rng
    tone, _, finish = _tones(kit)
    t = np.linspace(0, np.pi, 20)
    squat, dent, lean = rng.uniform(0.8, 1.15), rng.uniform(0.05, 0.3), rng.uniform(-0.15, 0.2)
    reach = 0.5 * (1 - dent * np.cos(t) ** 8) * (1 - lean * np.cos(t) * 0.5)
    z = -reach * squat * np.cos(t)
    low, high = float(z.min()), float(z.max())
    mesh = lathe([(float(r), float(v - low)) for r, v in zip(reach * np.sin(t), z, strict=True)])
    top = high - low
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=mesh)]
    if rng.random() < 0.7:
        geoms.append(
            kit.geom(
                "capsule", (0.025, 0.07), (0, 0, top * 0.98), (0.3, 0.22, 0.1), finish, angles=(15, 0, 0), solid=False
            )
        )
    return kit.shape("fruit", geoms, (0.5, 0.5, top))


def can(kit: Kit) -> Shape:
    tone, other, finish = _tones(kit)
    r, h = kit.rng.uniform(0.26, 0.42), 0.5
    geoms = [
        kit.geom("cylinder", (r, h), (0, 0, h), (0.75, 0.75, 0.76), finish),
        kit.geom("cylinder", (r * 1.01, h * 0.9), (0, 0, h), tone, finish, solid=False),
        kit.geom(
            "cylinder",
            (r * 1.015, h * kit.rng.uniform(0.15, 0.5)),
            (0, 0, h * kit.rng.uniform(0.8, 1.2)),
            other,
            finish,
            solid=False,
        ),
    ]
    return kit.shape("can", geoms, (r, r, 1))


def bottle(kit: Kit) -> Shape:
    rng = kit.rng
    tone, other, finish = _tones(kit)
    r, neck = rng.uniform(0.14, 0.22), rng.uniform(0.05, 0.075)
    shoulder = rng.uniform(0.5, 0.7)
    outline = [
        (0.001, 0),
        (r, 0),
        (r, 0.02),
        (r, shoulder),
        (r * 0.8, shoulder + 0.08),
        (neck * 1.1, shoulder + 0.16),
        (neck, 0.92),
        (0.001, 0.92),
    ]
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(outline)),
        kit.geom("cylinder", (neck * 1.25, 0.05), (0, 0, 0.95), other, finish, solid=False),
    ]
    if rng.random() < 0.6:
        geoms.append(
            kit.geom(
                "cylinder",
                (r * 1.01, rng.uniform(0.08, 0.18)),
                (0, 0, shoulder * 0.5),
                unlike_tone(rng, tone),
                finish,
                solid=False,
            )
        )
    return kit.shape("bottle", geoms, (r, r, 1))


def cup(kit: Kit) -> Shape:
    rng = kit.rng
    tone, other, finish = _tones(kit)
    low, high, tall, wall = rng.uniform(0.28, 0.42), rng.uniform(0.38, 0.46), rng.uniform(0.6, 0.95), 0.04
    outline = [
        (0.001, 0),
        (low, 0),
        (low * 1.02, 0.03),
        (high, tall),
        (high - wall, tall),
        (low - wall, 0.08),
        (0.001, 0.08),
    ]
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(outline))]
    if rng.random() < 0.75:  # a handle of three rods
        x, z = (low + high) / 2, tall / 2
        for at, angle, length in (
            ((x + 0.1, 0, z + 0.17), 65, 0.09),
            ((x + 0.2, 0, z), 0, 0.13),
            ((x + 0.1, 0, z - 0.17), -65, 0.09),
        ):
            geoms.append(kit.geom("capsule", (0.04, length), at, tone, finish, angles=(0, -angle, 0), solid=False))
    if rng.random() < 0.4:
        geoms.append(
            kit.geom("cylinder", ((low + high) / 2 - wall * 0.8, 0.01), (0, 0, tall * 0.6), other, finish, solid=False)
        )
    return kit.shape("cup", geoms, (0.48, 0.46, tall))


def bowl(kit: Kit) -> Shape:
    rng = kit.rng
    tone, other, finish = _tones(kit)
    tall = rng.uniform(0.2, 0.42)
    t = np.linspace(0.35, 1, 7)
    out = [
        (0.001, 0.0),
        *((float(0.5 * np.sin(a * 1.57)), float(tall * (1 - np.cos((a - 0.35) / 0.65 * 1.57)))) for a in t),
    ]
    back = [(max(0.001, r - 0.035), z + 0.03 if r < 0.49 else z) for r, z in reversed(out)]
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out + back))]
    if rng.random() < 0.4:
        geoms.append(kit.geom("cylinder", (0.37, 0.01), (0, 0, tall * 0.42), other, finish, solid=False))
    return kit.shape("bowl", geoms, (0.5, 0.5, tall))


def plate(kit: Kit) -> Shape:
    tone, other, finish = _tones(kit)
    out = [(0.001, 0), (0.3, 0), (0.5, 0.07), (0.48, 0.085), (0.3, 0.025), (0.001, 0.025)]
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out, 40))]
    if kit.rng.random() < 0.5:
        geoms.append(kit.geom("cylinder", (0.28, 0.004), (0, 0, 0.026), other, finish, solid=False))
    return kit.shape("plate", geoms, (0.5, 0.5, 0.09))


def muffin(kit: Kit) -> Shape:
    """A ribbed paper cup with a dome and crumbs."""
    rng = kit.rng
    tone, other, finish = _tones(kit)
    if rng.random() < 0.6:
        other = (0.7 + 0.2 * rng.random(), 0.5 + 0.2 * rng.random(), 0.25 + 0.15 * rng.random())
    vertices, faces = lathe([(0.001, 0), (0.3, 0), (0.42, 0.45), (0.001, 0.45)], 48)
    vertices[::2, :2] *= 0.95
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=(vertices, faces)),
        kit.geom("ellipsoid", (0.48, 0.48, rng.uniform(0.2, 0.34)), (0, 0, 0.47), other, finish),
    ]
    crumb = unlike_tone(rng, other)
    for _ in range(int(rng.integers(0, 9))):
        a, r = rng.uniform(0, 6.28), rng.uniform(0, 0.33)
        geoms.append(
            kit.geom(
                "sphere",
                (rng.uniform(0.02, 0.045),),
                (r * np.cos(a), r * np.sin(a), 0.7 - 0.5 * r * r),
                crumb,
                finish,
                solid=False,
            )
        )
    return kit.shape("muffin", geoms, (0.48, 0.48, 0.75))


def carton(kit: Kit) -> Shape:
    rng = kit.rng
    tone, other, finish = _tones(kit)
    x, y, z = rng.uniform(0.22, 0.5), rng.uniform(0.18, 0.45), rng.uniform(0.15, 0.5)
    geoms = [kit.geom("box", (x, y, z), (0, 0, z), tone, finish)]
    if rng.random() < 0.7:  # a tape or a label all round
        geoms.append(
            kit.geom("box", (x * 1.004, y * rng.uniform(0.1, 0.4), z * 1.004), (0, 0, z), other, finish, solid=False)
        )
    return kit.shape("carton", geoms, (x, y, 2 * z))


def blob(kit: Kit) -> Shape:
    """A rounded box, a pillow or a pebble."""
    rng = kit.rng
    tone, _, finish = _tones(kit)
    half = (rng.uniform(0.3, 0.5), rng.uniform(0.3, 0.5), rng.uniform(0.12, 0.5))
    mesh = superquadric(half, rng.uniform(0.2, 1.3), rng.uniform(0.2, 1.3))
    return kit.shape(
        "blob", [kit.geom("mesh", (), (0, 0, half[2]), tone, finish, mesh=mesh)], (half[0], half[1], 2 * half[2])
    )


def vase(kit: Kit) -> Shape:
    rng = kit.rng
    tone, _, finish = _tones(kit)
    knots = rng.uniform(0.12, 0.42, 5)
    z = np.linspace(0, 1, 14)
    r = np.interp(z, np.linspace(0, 1, 5), knots)
    r = np.convolve(np.pad(r, 2, mode="edge"), np.ones(5) / 5, "valid")
    outline = [
        (0.001, 0.0),
        *zip(r.tolist(), z.tolist(), strict=True),
        (float(r[-1]) - 0.03, 1.0),
        (float(r[-1]) - 0.04, 0.7),
        (0.001, 0.7),
    ]
    wide = float(r.max())
    return kit.shape("vase", [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(outline))], (wide, wide, 1))


def pencil(kit: Kit) -> Shape:
    """Lies along y."""
    tone, other, finish = _tones(kit)
    r = kit.rng.uniform(0.025, 0.05)
    cone = lathe([(r, 0), (r * 0.25, 0.1)], 12)
    point = lathe([(r * 0.27, 0.098), (0.001, 0.14)], 12)
    geoms = [
        kit.geom("cylinder", (r, 0.36), (0, -0.06, r), tone, finish, angles=(90, 0, 0)),
        kit.geom("mesh", (), (0, 0.3, r), (0.85, 0.68, 0.45), finish, angles=(-90, 0, 0), mesh=cone, solid=False),
        kit.geom("mesh", (), (0, 0.3, r), tone, finish, angles=(-90, 0, 0), mesh=point, solid=False),
        kit.geom("cylinder", (r * 1.02, 0.03), (0, -0.45, r), other, finish, angles=(90, 0, 0), solid=False),
    ]
    return kit.shape("pencil", geoms, (r, 0.48, 2 * r))


def spoon(kit: Kit) -> Shape:
    """Lies along y."""
    tone, _, finish = _tones(kit)
    if kit.rng.random() < 0.6:
        tone = (0.75, 0.75, 0.77)
    wide = kit.rng.uniform(0.08, 0.13)
    geoms = [
        kit.geom("ellipsoid", (wide, 0.17, 0.03), (0, 0.33, 0.04), tone, finish),
        kit.geom("capsule", (0.022, 0.3), (0, -0.15, 0.03), tone, finish, angles=(90, 0, 0)),
    ]
    return kit.shape("spoon", geoms, (wide, 0.5, 0.08))


def shoe(kit: Kit, seed: int = 0, wide_tone: tuple[float, float, float] | None = None) -> Shape:
    """A shoe or boot with its toe to +y; the same seed and `kit.flip` give its fellow."""
    own = np.random.default_rng(seed or int(kit.rng.integers(1, 1 << 30)))
    tone = wide_tone or tone_of(own)
    other = unlike_tone(own, tone)
    finish = kit.finish()
    shaft = own.uniform(0.05, 0.5) if own.random() < 0.5 else 0.03

    def bent(half: tuple[float, float, float], exponent: float) -> tuple[np.ndarray, np.ndarray]:
        vertices, faces = superquadric(half, exponent, 0.75)
        vertices[:, 0] += 0.28 * vertices[:, 1] ** 2 - 0.03
        vertices[:, 0] *= 1 + 0.35 * vertices[:, 1]
        return vertices, faces

    upper, faces = bent((0.16, 0.46, 0.2), 0.9)
    upper[:, 2] *= np.interp(upper[:, 1], [-0.4, -0.05, 0.4], [1.25, 1.1, 0.6])
    geoms = [
        kit.geom("mesh", (), (0, 0, 0.04), other, finish, mesh=bent((0.18, 0.5, 0.045), 0.3)),
        kit.geom("mesh", (), (0, 0, 0.1), tone, finish, mesh=(upper, faces), solid=False),
    ]
    rim = lathe([(0.145, 0), (0.15, 0.2 + shaft), (0.12, 0.2 + shaft), (0.11, 0.12 + shaft), (0.001, 0.12 + shaft)])
    geoms.append(kit.geom("mesh", (), (0, -0.24, 0.16), tone, finish, mesh=rim, solid=False))
    geoms.append(kit.geom("cylinder", (0.11, 0.005), (0, -0.24, 0.29 + shaft), (0.07, 0.06, 0.06), finish, solid=False))
    for k in range(int(own.integers(0, 4))):  # laces
        geoms.append(
            kit.geom(
                "capsule",
                (0.012, 0.07),
                (0.01, 0.02 + 0.07 * k, 0.29 - 0.025 * k),
                other,
                finish,
                angles=(0, 90, 0),
                solid=False,
            )
        )
    return kit.shape("shoe", geoms, (0.21, 0.5, 0.4 + shaft))


def mushroom(kit: Kit) -> Shape:
    tone, other, finish = _tones(kit)
    geoms = [
        kit.geom("cylinder", (0.12, 0.3), (0, 0, 0.3), other, finish),
        kit.geom("ellipsoid", (0.45, 0.45, 0.26), (0, 0, 0.62), tone, finish),
    ]
    return kit.shape("mushroom", geoms, (0.45, 0.45, 0.9))


def candle(kit: Kit) -> Shape:
    tone, _, finish = _tones(kit)
    r = kit.rng.uniform(0.05, 0.16)
    geoms = [
        kit.geom("cylinder", (r, 0.42), (0, 0, 0.42), tone, finish),
        kit.geom("capsule", (0.012, 0.04), (0, 0, 0.87), (0.1, 0.1, 0.1), finish, solid=False),
    ]
    if kit.rng.random() < 0.4:
        geoms.append(kit.geom("ellipsoid", (0.035, 0.035, 0.08), (0, 0, 0.96), (1.0, 0.85, 0.4), finish, solid=False))
    return kit.shape("candle", geoms, (r, r, 1))


def book(kit: Kit) -> Shape:
    tone, _, finish = _tones(kit)
    x, z = kit.rng.uniform(0.3, 0.4), kit.rng.uniform(0.03, 0.1)
    geoms = [
        kit.geom("box", (x, 0.5, z), (0, 0, z), tone, finish),
        kit.geom("box", (x * 0.97, 0.505, z * 0.8), (0.025, 0, z), (0.93, 0.9, 0.82), finish, solid=False),
    ]
    return kit.shape("book", geoms, (x, 0.5, 2 * z))


def biscuit(kit: Kit) -> Shape:
    """A flat round with an uneven rim, crumbs or a filling."""
    rng = kit.rng
    tone, other, finish = _tones(kit)
    if rng.random() < 0.6:
        tone = (0.75 + 0.15 * rng.random(), 0.52 + 0.15 * rng.random(), 0.28 + 0.1 * rng.random())
    vertices, faces = lathe([(0.001, 0), (0.46, 0), (0.5, 0.05), (0.46, 0.1), (0.001, 0.12)], 36)
    vertices[:, :2] *= 1 + 0.025 * np.sin(rng.uniform(3, 12) * np.arctan2(vertices[:, 1], vertices[:, 0]))[:, None]
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=(vertices, faces))]
    for _ in range(int(rng.integers(0, 12))):
        a, r = rng.uniform(0, 6.28), 0.4 * rng.uniform(0, 1) ** 0.5
        geoms.append(
            kit.geom(
                "sphere", (rng.uniform(0.025, 0.06),), (r * np.cos(a), r * np.sin(a), 0.1), other, finish, solid=False
            )
        )
    return kit.shape("biscuit", geoms, (0.5, 0.5, 0.12))


THINGS: dict[str, Maker] = {
    "ball": ball,
    "egg": egg,
    "fruit": fruit,
    "can": can,
    "bottle": bottle,
    "cup": cup,
    "bowl": bowl,
    "plate": plate,
    "muffin": muffin,
    "carton": carton,
    "blob": blob,
    "vase": vase,
    "pencil": pencil,
    "spoon": spoon,
    "shoe": shoe,
    "mushroom": mushroom,
    "candle": candle,
    "book": book,
    "biscuit": biscuit,
}

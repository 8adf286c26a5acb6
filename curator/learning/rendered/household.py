"""Things of kitchens, rooms and gardens that hold parts of their own: cutlery, chairs, leaves, small machines; and a
table full of other things beside what counts."""

from __future__ import annotations

import numpy as np

from curator.learning.drawn import places
from curator.learning.rendered import things
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, lathe, superquadric, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.stage import Stage, from_layout, maker

Rng = np.random.Generator
STEEL: Tone = (0.74, 0.74, 0.76)


def _handle(kit: Kit, tone: Tone, finish: str) -> list[Geom]:
    rng = kit.rng
    wide, grip = float(rng.uniform(0.018, 0.035)), tone if rng.random() < 0.6 else tone_of(rng)
    return [
        kit.geom("ellipsoid", (wide, float(rng.uniform(0.16, 0.24)), 0.018), (0, -0.3, 0.03), grip, finish),
        rod(kit, (0, -0.25, 0.03), (0, 0.2, 0.03), wide * 0.55, tone, finish, -1),
    ]


def fork(kit: Kit) -> Shape:
    """Lies along y."""
    rng, tone, finish = kit.rng, STEEL if kit.rng.random() < 0.6 else tone_of(kit.rng), kit.plain()
    tines, wide, root = int(rng.choice([3, 4, 4])), float(rng.uniform(0.05, 0.075)), float(rng.uniform(0.22, 0.3))
    geoms = _handle(kit, tone, finish)
    geoms.append(kit.geom("ellipsoid", (wide, 0.09, 0.02), (0, root, 0.03), tone, finish))
    for x in np.linspace(-wide * 0.85, wide * 0.85, tines):
        geoms.append(rod(kit, (float(x), root, 0.03), (float(x), 0.5, 0.045), 0.01, tone, finish, -1))
    return kit.shape("fork", geoms, (wide, 0.5, 0.06))


def knife(kit: Kit) -> Shape:
    """Lies along y."""
    rng, tone, finish = kit.rng, STEEL if kit.rng.random() < 0.7 else tone_of(kit.rng), kit.plain()
    geoms = _handle(kit, tone, finish)
    wide, long = float(rng.uniform(0.03, 0.06)), float(rng.uniform(0.22, 0.3))
    blade = superquadric((wide, long, 0.008), 0.4, 0.9)
    geoms.append(kit.geom("mesh", (), (wide * 0.3, 0.22, 0.03), tone, finish, mesh=blade))
    return kit.shape("knife", geoms, (wide, 0.5, 0.06))


def whisk(kit: Kit) -> Shape:
    """Lies along y: a ladle, a brush or a turner."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    geoms = _handle(kit, tone_of(rng) if rng.random() < 0.5 else tone, finish)
    sort, wide = int(rng.integers(3)), float(rng.uniform(0.07, 0.14))
    if sort == 0:
        geoms.append(kit.geom("ellipsoid", (wide, wide, 0.06), (0, 0.36, 0.06), tone, finish))
    elif sort == 1:
        geoms.append(kit.geom("box", (wide, 0.14, 0.012), (0, 0.34, 0.03), tone, finish))
    else:
        geoms.append(kit.geom("box", (wide * 0.6, 0.16, 0.035), (0, 0.32, 0.04), unlike_tone(rng, tone), kit.finish()))
    return kit.shape("utensil", geoms, (wide, 0.5, 0.12))


def cutlery(kit: Kit) -> Stage:
    """Cutlery of one kind, or of two, side by side, in two rows or any way; on a table with plates now and then."""
    rng = kit.rng
    makers = [fork, knife, whisk, things.spoon]
    k = int(rng.integers(4))
    make, other = makers[k], makers[(k + int(rng.integers(1, 4))) % 4]
    n, first = int(rng.integers(2, 9)), make(kit)
    stage = Stage("solid cutlery", main=first.kind, fill=(0.6, 1.1), lift=(35, 89))
    rows, step, mixed = int(rng.choice([1, 1, 2])), float(rng.uniform(0.2, 0.42)), rng.random() < 0.25
    loose = float(rng.choice([0, 0.02, 0.04]))
    for i in range(n):
        at = ((i // rows) * step + float(rng.normal(0, loose)), (i % rows) * 1.12 + float(rng.normal(0, loose)), 0.0)
        stage.put(first if rng.random() < 0.8 else make(kit), at, turn=float(rng.normal(0, 6)))
    if mixed:
        stage.put(other(kit), (-step * 1.3, 0.0, 0.0), turn=float(rng.normal(0, 6)), framed=False)
        stage.flat = True
    if rng.random() < 0.3:
        kit.unit = 1.3
        stage.put(things.plate(kit), (-1.1, 0.2, 0.0), framed=False)
        kit.unit = 1.0
    return stage


def chair(kit: Kit) -> Shape:
    """A chair, stool or small table with four legs."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.finish()
    half, deep, tall = float(rng.uniform(0.2, 0.28)), float(rng.uniform(0.18, 0.26)), float(rng.uniform(0.35, 0.5))
    frame, thick = tone if rng.random() < 0.5 else unlike_tone(rng, tone), float(rng.uniform(0.014, 0.03))
    seat = superquadric((half, deep, 0.025 + 0.03 * float(rng.random())), 0.4, float(rng.choice([0.15, 0.3, 1.0])))
    geoms = [kit.geom("mesh", (), (0, 0, tall), tone, finish, mesh=seat)]
    parts, splay, wood = [], float(rng.uniform(0, 0.05)), kit.plain()
    for side, x in ((1, -1), (2, 1)):
        for y in (-1, 1):
            low = (x * (half * 0.85 + splay), y * (deep * 0.85 + splay), 0.02)
            geoms.append(rod(kit, low, (x * half * 0.85, y * deep * 0.85, tall), thick, frame, wood, len(parts)))
            parts.append(Part("leg", (low[0], low[1], tall * 0.4), side, tip=low))
    if rng.random() < 0.75:
        back = tall + float(rng.uniform(0.3, 0.5))
        for x in (-1, 1):
            top = (x * half * 0.8, deep * 1.05, back)
            geoms.append(rod(kit, (x * half * 0.8, deep * 0.9, tall), top, thick, frame, wood, -1))
        for z in np.linspace(back - 0.05, tall + 0.12, int(rng.integers(1, 4))):
            size = (half * 0.85, 0.012, float(rng.uniform(0.02, 0.1)))
            geoms.append(kit.geom("box", size, (0, deep, float(z)), tone, finish, solid=False))
        tall = back
    if rng.random() < 0.3:
        size = (half * 0.8, deep * 0.8, 0.02)
        geoms.append(kit.geom("ellipsoid", size, (0, 0, parts[0].at[2] * 2.5 + 0.05), tone_of(rng), kit.finish()))
    return kit.shape("chair", geoms, (half + 0.06, deep + 0.06, tall), parts)


def chairs(kit: Kit) -> Stage:
    """Chairs in a row, in two rows, or round a place; one alone shows its legs."""
    rng, first = kit.rng, chair(kit)
    n = int(rng.choice([1, 2, 2, 3, 4, 4, 5, 6, 8]))
    stage = Stage("solid chairs", fill=(0.6, 1.05), look=str(rng.choice(["oblique", "front", "oblique", "top"])))
    rows, step, ring = int(rng.choice([1, 1, 2])), float(rng.uniform(0.62, 0.95)), n >= 3 and rng.random() < 0.3
    facing, same = float(rng.uniform(0, 360)), rng.random() < 0.75
    stage.flat = n > 1
    for k in range(n):
        shape = first if same or k == 0 else chair(kit)
        a = 6.2832 * k / n
        r = step * n / 5 + 0.25
        at = (r * np.cos(a), r * np.sin(a), 0.0) if ring else ((k // rows) * step, (k % rows) * 0.85, 0.0)
        turn = np.degrees(a) - 90 if ring else facing + (180 * (k % rows) if rows == 2 and rng.random() < 0.9 else 0)
        stage.put(shape, at, turn=float(turn + rng.normal(0, 4)), side=k + 1 if n == 2 else 0)
    stage.main = "leg" if n == 1 else "chair"
    return stage


def _blade(kit: Kit, tone: Tone, finish: str, place: tuple[float, float, float], long: float, part: int) -> list[Geom]:
    """A leaf from its root (x, y) along an angle in degrees, a little bent, with a rib."""
    x, y, angle = place
    t = np.linspace(0, 1, 11)
    wide = long * float(kit.rng.uniform(0.18, 0.3)) * np.sin(np.pi * t**0.8) + 1e-3
    z = 0.03 + 0.06 * long * np.sin(np.pi * t)
    spine = np.stack([0 * t, t * long, z], 1)
    left, right = spine - np.stack([wide, 0 * t, 0.02 + 0 * t], 1), spine + np.stack([wide, 0 * t, -0.02 + 0 * t], 1)
    vertices = np.concatenate([left, spine, right, left - (0, 0, 0.004), spine - (0, 0, 0.004), right - (0, 0, 0.004)])
    faces = []
    for i in range(10):
        for a, b in ((0, 11), (11, 22)):
            faces += [(a + i, b + i, b + i + 1), (a + i, b + i + 1, a + i + 1)]
    under = [(a + 33, c + 33, b + 33) for a, b, c in faces]
    made = kit.geom("mesh", (), (x, y, 0), tone, finish, angles=(0, 0, angle - 90),
                    mesh=(vertices, np.array(faces + under)), part=part, solid=False)  # fmt: skip
    c, s = np.cos(np.radians(angle)) * long, np.sin(np.radians(angle)) * long
    tip = (x + c * 0.9, y + s * 0.9, 0.05)
    rib = rod(kit, (x, y, 0.04), tip, 0.006 + 0.008 * long, unlike_tone(kit.rng, tone, 0.2), kit.plain(), part)
    return [made, rib]


def sprig(kit: Kit) -> Shape:
    """A stalk along y with leaflets in pairs, and one at its end now and then; or one leaf."""
    rng = kit.rng
    tone = (float(rng.uniform(0.1, 0.5)), float(rng.uniform(0.3, 0.65)), 0.15) if rng.random() < 0.6 else tone_of(rng)
    finish, pairs = kit.mottled(0.35), int(rng.choice([0, 0, 2, 3, 4, 5]))
    if not pairs:
        geoms = _blade(kit, tone, finish, (0, -0.4, 90), 0.9, -1)
        geoms.append(rod(kit, (0, -0.55, 0.03), (0, -0.35, 0.04), 0.012, tone, finish, -1))
        return kit.shape("leaf", geoms, (0.25, 0.55, 0.1))
    geoms, parts = [rod(kit, (0, -0.55, 0.03), (0, 0.35, 0.04), 0.014, tone, kit.plain(), -1)], []
    long, up = float(rng.uniform(0.28, 0.42)), float(rng.uniform(15, 55))
    for k, y in enumerate(np.linspace(-0.35, 0.25, pairs)):
        for side, angle in ((1, 180 - up), (2, up)):
            slip = float(rng.normal(0, 0.015))
            own = long * (1 - 0.06 * k)
            geoms += _blade(kit, tone, finish, (0, float(y) + slip, angle + float(rng.normal(0, 4))), own, len(parts))
            c, s = np.cos(np.radians(angle)) * own, np.sin(np.radians(angle)) * own
            parts.append(Part("leaflet", (c / 2, float(y) + s / 2, 0.05), side, tip=(c, float(y) + s, 0.05)))
    if rng.random() < 0.5:
        geoms += _blade(kit, tone, finish, (0, 0.34, 90), long, len(parts))
        parts.append(Part("leaflet", (0, 0.34 + long / 2, 0.05), tip=(0, 0.34 + long, 0.05)))
    return kit.shape("sprig", geoms, (long, 0.6, 0.1), parts)


def leaves(kit: Kit) -> Stage:
    """One sprig whose leaflets count, or several leaves or sprigs laid out."""
    rng, first = kit.rng, sprig(kit)
    n = 1 if first.parts and rng.random() < 0.65 else int(rng.integers(2, 11))
    stage = Stage("solid leaves", fill=(0.6, 1.1), look=str(rng.choice(["top", "top", "oblique"])), flat=n == 1)
    if n == 1:
        stage.put(first, turn=float(rng.uniform(0, 360)))
    else:
        from_layout(kit, stage, places.scatter(rng, n), float(rng.uniform(1.0, 1.4)), lambda: first)
    stage.main = "leaflet" if n == 1 else first.kind
    return stage


def gadget(kit: Kit) -> Shape:
    """A body with strong marks of its own: knobs, dials, holes, lids, bands, a handle; the marks alike are parts."""
    rng, tone = kit.rng, tone_of(kit.rng)
    x, y, z = (float(v) for v in rng.uniform((0.2, 0.15, 0.15), (0.5, 0.4, 0.5)))
    round_ = rng.random() < 0.4
    if round_:
        knots = rng.uniform(0.7, 1.0, 4) * x
        rings = zip(knots.tolist(), np.linspace(0.1, 2 * z, 4).tolist(), strict=True)
        body = lathe([(0.001, 0), (float(knots[0]), 0), *rings, (0.001, 2 * z)], 32)
        y = x
    else:
        body = superquadric((x, y, z), float(rng.uniform(0.1, 0.5)), float(rng.uniform(0.1, 0.6)))
        body = (body[0] + (0, 0, z), body[1])
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, kit.finish(), mesh=body)]
    mark = unlike_tone(rng, tone, 0.45)
    marks, parts = _knobs(kit, (x, y * (0.95 if round_ else 0.98), z), mark)
    geoms += marks
    if rng.random() < 0.3:
        lid = (x * 0.96, y * 0.96, 0.02)
        geoms.append(kit.geom("ellipsoid", lid, (0, 0, 2 * z), tone_of(rng), kit.finish(), solid=False))
    if rng.random() < 0.3:
        geoms.append(rod(kit, (-x * 0.8, 0, 2 * z + 0.15), (x * 0.8, 0, 2 * z + 0.15), 0.025, mark, kit.plain(), -1))
        for s in (-1, 1):
            geoms.append(rod(kit, (s * x * 0.8, 0, z), (s * x * 0.8, 0, 2 * z + 0.15), 0.025, mark, kit.plain(), -1))
    if rng.random() < 0.3:
        band = (x * 1.01, y * 1.01, z * 0.12)
        sort, size = ("cylinder", (x * 0.99, band[2])) if round_ else ("box", band)
        geoms.append(kit.geom(sort, size, (0, 0, z * 0.5), tone_of(rng), kit.plain(), solid=False))
    return kit.shape("gadget", geoms, (x, y, 2 * z), parts)


def _knobs(kit: Kit, half: Point, mark: Tone) -> tuple[list[Geom], list[Part]]:
    """One to four marks alike in a row on the top or on the front of a body."""
    rng, (x, y, z) = kit.rng, half
    geoms: list[Geom] = []
    parts: list[Part] = []
    n, big = int(rng.choice([1, 2, 2, 3, 4])), float(rng.uniform(0.12, 0.3)) * x
    top = rng.random() < 0.55
    for k in range(n):
        u = ((k + 0.5) / n - 0.5) * 1.5 * x
        at = (u, float(rng.choice([0, 0.3 * y])), 2 * z) if top else (u, -y, z * 1.1)
        angles = (0.0, 0.0, 0.0) if top else (90.0, 0.0, 0.0)
        size = (min(big, 0.7 * x / n), 0.02 + 0.05 * float(rng.random()))
        geoms.append(kit.geom("cylinder", size, at, mark, kit.plain(), angles=angles, part=k, solid=False))
        if rng.random() < 0.3:
            more = (at[0], at[1] - (0 if top else size[1]), at[2] + (size[1] if top else 0))
            geoms.append(
                kit.geom("sphere", (size[0] * 0.5,), more, unlike_tone(rng, mark), kit.plain(), part=k, solid=False)
            )
        parts.append(Part("knob", at))
    return geoms, parts


def gadgets(kit: Kit) -> Stage:
    """Two to six bodies with marks: the bodies count, not their marks."""
    rng, first = kit.rng, gadget(kit)
    n = int(rng.choice([2, 2, 2, 2, 3, 4, 5, 6]))
    stage = Stage(
        "solid gadgets", main="gadget", fill=(0.6, 1.2), look=str(rng.choice(["oblique", "oblique", "front", "top"]))
    )
    layout = places.rows(rng, (n,), sides=False) if rng.random() < 0.7 else places.scatter(rng, n)
    from_layout(kit, stage, layout, float(rng.uniform(1.0, 1.35)), lambda: first)
    facing, spread = float(rng.choice([0, 0, rng.uniform(0, 360)])), float(rng.choice([3, 12, 40]))
    for k, one in enumerate(stage.placed):
        one.turn, one.side = facing + float(rng.normal(0, spread)), k + 1 if n == 2 else 0
    return stage


def counter(kit: Kit) -> Stage:
    """What counts, with many other things all round it."""
    rng = kit.rng
    n, make = int(rng.integers(2, 9)), maker(kit)
    stage = Stage(
        "solid counter", main="?", fill=(0.7, 1.25), look=str(rng.choice(["top", "oblique", "oblique"])), flat=True
    )
    from_layout(
        kit,
        stage,
        places.scatter(rng, n) if rng.random() < 0.6 else places.rows(rng, (n,), sides=False),
        float(rng.uniform(1.0, 1.5)),
        make,
    )
    own = stage.placed[0].shape.kind
    stage.main = own
    far = max(float(np.hypot(*p.at[:2])) + max(p.shape.reach[:2]) for p in stage.placed)
    names = [str(x) for x in rng.permutation([x for x in things.THINGS if x != own])][: int(rng.integers(3, 9))]
    for k, name in enumerate(names):
        kit.unit = float(np.exp(rng.uniform(np.log(0.6), np.log(1.5))))
        shape = things.THINGS[name](kit)
        a = 6.2832 * (k + float(rng.uniform(-0.25, 0.25))) / len(names)
        r = far + max(shape.reach[:2]) * float(rng.uniform(1.0, 1.3))
        stage.put(shape, (r * np.cos(a), r * np.sin(a), 0.0), turn=float(rng.uniform(0, 360)), framed=False)
    kit.unit = 1.0
    return stage

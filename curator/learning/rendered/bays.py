"""Long thin things side by side, partly in a case: batteries in a bay, screws in a strip, cables with plugs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, lathe, side_of, tone_of, unlike_tone
from curator.learning.rendered.parts import bent, rod
from curator.learning.rendered.stage import Stage
from curator.learning.rendered.workshop import metal, screw

Rng = np.random.Generator


def battery(kit: Kit, body: Tone, band: Tone, slim: float) -> Shape:
    """Lies along y, its knob to +y; the end of another tone and the knob are its poles."""
    finish, steel = kit.plain(), (0.75, 0.75, 0.77)
    share = float(kit.rng.uniform(0.1, 0.35))
    lying = lambda half, radius, y, tone, part: kit.geom(  # noqa: E731
        "cylinder", (radius, half), (0, y, slim), tone, finish, angles=(90, 0, 0), part=part, solid=False
    )
    geoms = [
        lying(0.47 * (1 - share), slim, -0.47 * share, body, -1),
        lying(0.47 * share, slim * 1.002, 0.47 * (1 - share), band, -1),
        lying(0.01, slim * 0.9, -0.475, steel, 0),
        lying(0.01, slim * 0.9, 0.475, steel, 1),
        lying(0.025, slim * 0.32, 0.5, steel, 1),
    ]
    parts = [Part("pole", (0, -0.475, slim)), Part("pole", (0, 0.49, slim))]
    return kit.shape("battery", geoms, (slim, 0.52, 2 * slim), parts)


def _case(kit: Kit, half: Point, *, lid: float) -> Shape:
    """An open box round z = 0 with a rim, whose lid covers a share of it from +y; left aside."""
    x, y, z = half
    tone, finish, thick = _dark(kit.rng), kit.finish(), 0.03
    geoms = [kit.geom("box", (x + 0.06, y + 0.06, 0.003), (0, 0, 0.003), tone, finish, solid=False)]
    for size, at in (
        ((thick, y + 0.06, z), (-x - 0.03, 0, z)),
        ((thick, y + 0.06, z), (x + 0.03, 0, z)),
        ((x + 0.06, thick, z), (0, -y - 0.03, z)),
        ((x + 0.06, thick, z), (0, y + 0.03, z)),
    ):
        geoms.append(kit.geom("box", size, (at[0], at[1], at[2]), tone, finish, solid=False))
    if lid:
        geoms.append(kit.geom("box", (x + 0.06, y * lid, 0.015), (0, y * (1 - lid), 2 * z), tone, finish, solid=False))
    wide = float(kit.rng.uniform(0.1, 0.8))  # the rest of the case round the bay
    for s in (-1, 1):
        geoms.append(
            kit.geom("box", (wide / 2, y + 0.06, z), (s * (x + 0.06 + wide / 2), 0, z), tone, finish, solid=False)
        )
    shape = kit.shape("case", geoms, (x + 0.1, y + 0.1, 2 * z))
    shape.aside = True
    return shape


def _dark(rng: Rng) -> Tone:
    shade = float(rng.uniform(0.06, 0.3))
    return (shade, shade, shade * 1.1) if rng.random() < 0.5 else tone_of(rng)


def batteries(kit: Kit) -> Stage:
    """Two to eight batteries side by side, every other one turned or all alike, in a bay or on a table."""
    rng, n = kit.rng, int(kit.rng.choice([2, 2, 3, 4, 4, 5, 6, 8]))
    stage = Stage("solid batteries", main="battery", fill=(0.65, 1.1), flat=True, lift=(38, 88), sway=34.0)
    slim, body = float(rng.uniform(0.1, 0.17)), tone_of(rng)
    band = unlike_tone(rng, body)
    bay, same, turned = rng.random() < 0.65, rng.random() < 0.8, rng.random() < 0.5
    step = 2 * slim * float(rng.uniform(1.04, 1.25) if bay or rng.random() < 0.5 else rng.uniform(1.3, 2.4))
    rows = 2 if n in (4, 6, 8) and rng.random() < 0.3 else 1
    across, first = n // rows, battery(kit, body, band, slim)
    for k in range(n):
        other = first if same else battery(kit, *_unlike_pair(rng), slim)
        row, col = divmod(k, across)
        at = ((col - (across - 1) / 2) * step, (row - (rows - 1) / 2) * 1.14, 0.0)
        way = 180.0 if turned and k % 2 else 0.0
        side = (1 if (col < across / 2 if across % 2 == 0 else row == 0) else 2) if n % 2 == 0 else 0
        loose = 0.0 if bay else float(rng.normal(0, 3))
        stage.put(other, at, turn=way + loose, side=side, tint=float(rng.uniform(0.9, 1.05)))
    if bay:
        half = (across * step / 2, 0.57 * rows, slim * float(rng.uniform(0.4, 1.0)))
        stage.put(_case(kit, half, lid=0.0), framed=False)
    return stage


def _unlike_pair(rng: Rng) -> tuple[Tone, Tone]:
    tone = tone_of(rng)
    return tone, unlike_tone(rng, tone)


def strip(kit: Kit) -> Stage:
    """Screws or pins side by side whose points stick in a band of paper, or that lie in a box with its lid half on."""
    rng, n = kit.rng, int(kit.rng.integers(2, 13))
    stage = Stage("solid strip", fill=(0.65, 1.1), flat=True, lift=(38, 88), sway=34.0)
    first = screw(kit) if rng.random() < 0.6 else stick(kit)
    stage.main, step = first.kind, max(2 * first.reach[0] * float(rng.uniform(1.1, 2.6)), 0.12)
    gone = {int(k) for k in rng.choice(n, 1)} if n > 5 and rng.random() < 0.2 else set()
    for k in range(n):
        if k in gone:
            continue
        side = 0 if gone else side_of(k, n)
        at = ((k - (n - 1) / 2) * step, float(rng.normal(0, 0.015)), 0.0)
        stage.put(first, at, turn=float(rng.normal(0, 1.5)), side=side, tint=float(rng.uniform(0.85, 1.1)))
    half, chance = n * step / 2, rng.random()
    if chance < 0.45:  # a band over them
        tone, finish = tone_of(rng), kit.finish()
        wide, z = float(rng.uniform(0.06, 0.16)), first.reach[2]
        geoms = [kit.geom("box", (half, wide, 0.01), (0, float(rng.uniform(-0.1, 0.25)), z), tone, finish, solid=False)]
        band = kit.shape("band", geoms, (half, wide, 0.05))
        band.aside = True
        stage.put(band, framed=False)
    elif chance < 0.85:
        lid = float(rng.choice([0.0, 0.0, 0.25, 0.4]))
        stage.put(_case(kit, (half, 0.56, first.reach[2] * 0.55), lid=lid), framed=False)
    return stage


def stick(kit: Kit) -> Shape:
    """Lies along y: a crayon, a pin with a head, a fuse with caps."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    r, sort = float(rng.uniform(0.03, 0.075)), int(rng.integers(3))
    body = kit.geom("cylinder", (r, 0.44), (0, 0, r), tone, finish, angles=(90, 0, 0), solid=False)
    other = unlike_tone(rng, tone)
    if sort == 0:  # a paper sleeve and a blunt point
        point = lathe([(r, 0), (r * 0.4, 0.1), (0.001, 0.1)], 16)
        ends = [
            kit.geom("cylinder", (r * 1.04, 0.3), (0, -0.08, r), other, finish, angles=(90, 0, 0), solid=False),
            kit.geom("mesh", (), (0, 0.42, r), tone, finish, angles=(-90, 0, 0), mesh=point, solid=False),
        ]
    elif sort == 1:
        ends = [kit.geom("sphere", (r * 1.8,), (0, -0.44, r * 1.8), other, finish, solid=False)]
    else:
        ends = [
            kit.geom("cylinder", (r * 1.15, 0.1), (0, s * 0.4, r), metal(rng), finish, angles=(90, 0, 0), solid=False)
            for s in (-1, 1)
        ]
    return kit.shape("stick", [body, *ends], (r * 1.8, 0.5, 2 * r))


def _plug(kit: Kit, at: Point, turn: float, tone: Tone, sort: int, part: int) -> list[Geom]:
    """A plug at the end of a cable, its prongs pointing along `turn` (radians, 0 is +x)."""
    c, s, finish = float(np.cos(turn)), float(np.sin(turn)), kit.plain()
    ahead = lambda d, e=0.0: (at[0] + c * d - s * e, at[1] + s * d + c * e, at[2])  # noqa: E731
    angles = (0.0, 0.0, float(np.degrees(turn)))
    steel = metal(kit.rng)
    if sort == 0:  # a flat housing with a metal tongue
        return [
            kit.geom("box", (0.1, 0.055, 0.03), ahead(0.1), tone, finish, angles=angles, part=part, solid=False),
            kit.geom("box", (0.06, 0.04, 0.015), ahead(0.25), steel, finish, angles=angles, part=part, solid=False),
        ]
    if sort == 1:  # a round jack
        return [
            rod(kit, ahead(0.03), ahead(0.2), 0.035, tone, finish, part),
            rod(kit, ahead(0.2), ahead(0.38), 0.016, steel, finish, part),
        ]
    return [  # a housing with two prongs
        rod(kit, ahead(0.03), ahead(0.14), 0.075, tone, finish, part),
        *(rod(kit, ahead(0.18, e), ahead(0.36, e), 0.014, steel, finish, part) for e in (-0.04, 0.04)),
    ]


Path = Callable[[float], tuple[float, float]]


def cable(kit: Kit, path: Path, tones: tuple[Tone, Tone], sort: int, *, both: bool) -> Shape:
    """A cable along a path (0..1 -> x, y, its plug at 1; its middle at the origin) with a plug at its one end or at
    both; plugs are parts. Tones of the cable and of its plugs.
    """
    thick, finish = float(kit.rng.uniform(0.018, 0.032)), kit.plain()
    at = [(*path(float(t)), 0.04) for t in np.linspace(0, 1, 23)]
    geoms = bent(kit, at, thick, tones[0], finish)
    parts = []
    for k, (end, before) in enumerate([(-1, -2), (0, 1)] if both else [(-1, -2)]):
        turn = float(np.arctan2(at[end][1] - at[before][1], at[end][0] - at[before][0]))
        geoms += _plug(kit, at[end], turn, tones[1], sort, k)
        x, y = at[end][0] + 0.14 * float(np.cos(turn)), at[end][1] + 0.14 * float(np.sin(turn))
        parts.append(Part("plug", (x, y, 0.05), k + 1 if both else 0))
    spots = np.array(at)
    return kit.shape("cable", geoms, (float(np.abs(spots[:, 0]).max()), float(np.abs(spots[:, 1]).max()) + 0.3, 0.1),
                     parts)  # fmt: skip


def cables(kit: Kit) -> Stage:
    """Two to seven cables side by side on a desk, some running into a box; of one alone its two plugs count."""
    rng, n = kit.rng, int(kit.rng.choice([1, 2, 2, 3, 3, 4, 5, 6, 7]))
    stage = Stage("solid cables", main="cable" if n > 1 else "plug", fill=(0.65, 1.1), flat=True, lift=(40, 88),
                  sway=34.0)  # fmt: skip
    sway, turns, step = float(rng.uniform(0.05, 0.35)), float(rng.uniform(0.5, 1.4)), float(rng.uniform(0.24, 0.42))
    tones, sort, same = (_dark(rng), tone_of(rng)), int(rng.integers(3)), rng.random() < 0.6
    tones = (tones[0], tones[0]) if rng.random() < 0.5 else tones
    start, box = float(rng.uniform(0, 6.28)), n > 1 and rng.random() < 0.5
    both = n == 1 or (not box and rng.random() < 0.5)
    spread = float(rng.uniform(0.5, 1.0)) if box else 1.0  # how near each other the far ends lie
    for k in range(n):
        own, slip = sway * float(rng.uniform(0.85, 1.15)), float(rng.normal(0, 0.12))

        def path(t: float, own: float = own, slip: float = slip) -> tuple[float, float]:
            bend = own * float(np.sin(start + 6.28 * turns * t)) * (1 - 0.5 * t)
            return bend, (t - 0.5) * 1.8 + slip * t

        middle = path(0.5)
        centred = lambda t, path=path, middle=middle: (path(t)[0] - middle[0], path(t)[1] - middle[1])  # noqa: E731
        x, own_tone = (k - (n - 1) / 2) * step * spread, tone_of(rng)
        grip = own_tone if tones[0] == tones[1] else tones[1]
        shape = cable(kit, centred, tones if same else (own_tone, grip), sort, both=both)
        side = side_of(k, n)
        lean = (k - (n - 1) / 2) * (1 - spread) * 14 if box else 0.0
        stage.put(shape, (x + middle[0], middle[1], 0.0), turn=-lean, side=side)
    if n == 1:
        stage.placed[0].turn = float(rng.uniform(0, 360))
    if box:
        wide, high = n * step * 0.5 + 0.2 + sway, float(rng.uniform(0.06, 0.25))
        geoms = [kit.geom("box", (wide, 0.3, high), (0, -1.15, high), _dark(rng), kit.finish(), solid=False)]
        hub = kit.shape("hub", geoms, (wide, 1.3, 2 * high))
        hub.aside = True
        stage.put(hub, framed=False)
    return stage

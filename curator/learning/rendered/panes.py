"""Windows of a front, each set in its opening: frame, bars, panes that reflect, curtains and blinds, ledges, shutters,
awnings.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from curator.learning.rendered import walls
from curator.learning.rendered.kit import Geom, Kit, Part, Shape, Skin, Tone, tone_of

Rng = np.random.Generator
Hole = tuple[float, float, float, float]  # left, right, bottom, top of an opening in the front, units


@dataclass(frozen=True)
class Style:
    """What the windows of one house have in common."""

    frame: Tone
    finish: str
    panes: tuple[int, int]  # high, wide
    bar: float
    deep: float  # how far the glass lies behind the wall
    glass: list[str]  # materials of panes
    cloth: list[str]  # materials of curtains and blinds
    drawn: float  # chance that something is drawn
    ledge: float  # how far the ledge stands out, 0 for none
    lintel: float
    shutters: str  # material, or "" for none
    leaf: Tone
    arch: float = 0.0  # height of an arch in half widths, 0 for none
    beams: Tone | None = None  # timber on the wall


def style(kit: Kit) -> Style:
    rng = kit.rng
    pale = (0.9, 0.9, 0.88)
    panes = [(1, 1), (1, 2), (1, 2), (2, 2), (2, 2), (2, 1), (3, 2), (1, 3), (2, 3), (4, 2), (3, 3)][
        int(rng.integers(11))
    ]
    arched, beams = rng.random() < 0.15, rng.random() < 0.12
    shutters = not arched and rng.random() < 0.3
    return Style(
        pale if rng.random() < 0.6 else tone_of(rng),
        kit.finish(),
        panes,
        rng.uniform(0.025, 0.055),
        rng.choice([0.02, 0.08, 0.15, 0.22]),
        [kit.papered(walls.pane(rng), shine=0.7) for _ in range(int(rng.integers(1, 4)))],
        [kit.papered(walls.plaster(rng)) for _ in range(2)],
        float(rng.choice([0.0, 0.25, 0.5, 0.9])),
        rng.choice([0.0, 0.06, 0.12]),
        0.0 if arched else rng.choice([0.0, 0.0, 0.03, 0.07]),
        kit.papered(walls.boards(rng)) if shutters else "",
        tone_of(rng),
        float(rng.choice([0.3, 0.6, 1.0])) if arched else 0.0,
        (0.22 + 0.15 * float(rng.random()), 0.16, 0.11) if beams else None,
    )


def facing(kit: Kit, finish: str, left: float, right: float, bottom: float, top: float, y: float) -> Geom:
    """A rectangle that looks to -y."""
    at = ((left + right) / 2, y, (bottom + top) / 2)
    return kit.geom(
        "plane", ((right - left) / 2, (top - bottom) / 2, 1), at, (1, 1, 1), finish, angles=(90, 0, 0), solid=False
    )


def block(kit: Kit, tone: Tone, finish: str, box: Hole, front: float, back: float) -> Geom:
    """A box between two depths (front < back)."""
    left, right, bottom, top = box
    at = ((left + right) / 2, (front + back) / 2, (bottom + top) / 2)
    return kit.geom("box", ((right - left) / 2, (back - front) / 2, (top - bottom) / 2), at, tone, finish, solid=False)


def window(kit: Kit, own: Style, wide: float, tall: float, *, fine: bool = False) -> Shape:
    """A window whose opening is `wide` by `tall`, foot at z = 0 in the plane of the wall, looking to -y; if `fine` its
    panes are parts.
    """
    rng, d, b, h = kit.rng, own.deep, own.bar * min(1.0, wide), wide / 2
    outer, edge = (-h, h, 0.0, tall), 1.6 * b
    across = 1 if wide < 0.5 else own.panes[1]
    high = 1 if tall < 0.6 else own.panes[0]
    xs = [(k / across - 0.5) * wide for k in range(1, across)]
    zs = [tall * k / high if high > 2 else tall * 0.68 for k in range(1, high)]
    geoms = [
        block(kit, own.frame, own.finish, box, d - 0.03, d)
        for box in ((-h, -h + edge, 0, tall), (h - edge, h, 0, tall), (-h, h, 0, edge), (-h, h, tall - edge, tall))
    ]
    geoms += [block(kit, own.frame, own.finish, (x - b * 0.7, x + b * 0.7, 0, tall), d - 0.022, d) for x in xs]
    geoms += [block(kit, own.frame, own.finish, (-h, h, z - b * 0.7, z + b * 0.7), d - 0.022, d) for z in zs]
    sheets = [(str(rng.choice(own.glass)), outer, d), *_drawn(kit, own, h, tall)]
    if not fine or across * high == 1:
        return kit.shape(
            "window", [*geoms, *(facing(kit, finish, *box, y) for finish, box, y in sheets)], (h, 0.05, tall)
        )
    parts = []
    for left, right in pairwise([-h, *xs, h]):
        for low, top in pairwise([0.0, *zs, tall]):
            cell = (left, right, low, top)
            geoms += [
                _clipped(kit, finish, box, cell, outer, y, len(parts)) for finish, box, y in sheets if _meet(box, cell)
            ]
            parts.append(Part("pane", ((left + right) / 2, d, (low + top) / 2)))
    return kit.shape("window", geoms, (h, 0.05, tall), parts)


def _meet(one: Hole, two: Hole) -> bool:
    return min(one[1], two[1]) - max(one[0], two[0]) > 0.01 and min(one[3], two[3]) - max(one[2], two[2]) > 0.01


def _clipped(kit: Kit, finish: str, box: Hole, cell: Hole, outer: Hole, y: float, part: int) -> Geom:
    """The piece of a pane or a cloth that one cell shows, its picture going on from cell to cell."""
    left, right, low, top = max(box[0], cell[0]), min(box[1], cell[1]), max(box[2], cell[2]), min(box[3], cell[3])
    corners = np.array([(left, y, low), (right, y, low), (right, y, top), (left, y, top)])
    spots = np.stack(
        [(corners[:, 0] - outer[0]) / (outer[1] - outer[0]), 1 - (corners[:, 2] - outer[2]) / (outer[3] - outer[2])], 1
    )
    skin = Skin(corners, np.array([[0, 1, 2], [0, 2, 3]]), np.tile([0.0, -1.0, 0.0], (4, 1)), spots)
    return kit.geom("mesh", (), (0, 0, 0), (1, 1, 1), finish, mesh=skin, part=part, solid=False)


def _drawn(kit: Kit, own: Style, h: float, tall: float) -> list[tuple[str, Hole, float]]:
    """Curtains at the sides or a blind from above, just behind the bars: material, place, depth."""
    rng, y = kit.rng, own.deep - 0.004
    if rng.random() > own.drawn:
        return []
    cloth = str(rng.choice(own.cloth))
    if rng.random() < 0.5:
        return [(cloth, (-h, h, tall * float(rng.uniform(0.1, 0.85)), tall), y)]
    reach = h * float(rng.uniform(0.2, 0.75))
    return [(cloth, (-h, -h + reach, 0, tall), y), (cloth, (h - reach, h, 0, tall), y)]


def trim(kit: Kit, own: Style, hole: Hole, awning: bool) -> list[Geom]:
    """What belongs to a window and is none: ledge, lintel, open shutters, an awning."""
    left, right, bottom, top = hole
    geoms = []
    if own.ledge:
        geoms.append(
            block(
                kit, own.frame, own.finish, (left - 0.08, right + 0.08, bottom - 0.07, bottom), -float(own.ledge), 0.02
            )
        )
    if own.lintel:
        geoms.append(
            block(kit, own.frame, own.finish, (left - 0.06, right + 0.06, top, top + 0.13), -float(own.lintel), 0.02)
        )
    if own.shutters:
        half = (right - left) / 2
        for box in ((left - half, left - 0.02, bottom, top), (right + 0.02, right + half, bottom, top)):
            geoms.append(block(kit, own.leaf, own.shutters, box, -0.04, 0.0))
    if awning:
        at, reach = ((left + right) / 2, -0.2, top - 0.02), (right - left) / 2 + 0.05
        geoms.append(kit.geom("box", (reach, 0.26, 0.012), at, own.leaf, own.finish, angles=(32, 0, 0), solid=False))
    return geoms

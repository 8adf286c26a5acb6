"""What the things lie on or hang from, and the unlike odds and ends beside them."""

from __future__ import annotations

import math
import random
from typing import Any

from curator.learning.samples.things import ball, block, drum, material, ring

Spots = list[tuple[float, float]]


def _table(colour: tuple[float, float, float], grain: float) -> None:
    import bpy

    bpy.ops.mesh.primitive_plane_add(size=60)
    bpy.context.object.data.materials.append(material("ground", colour, rough=0.6, grain=grain))


def plain(kind: str) -> None:
    """A table of wood, cloth, stone or slate, or a wall."""
    colours = {
        "wood": (0.45, 0.26, 0.12),
        "pale": (0.72, 0.58, 0.4),
        "cloth": (0.75, 0.78, 0.8),
        "stone": (0.4, 0.41, 0.4),
        "slate": (0.08, 0.1, 0.12),
        "wall": (0.8, 0.76, 0.66),
        "moss": (0.16, 0.2, 0.09),
        "blue": (0.18, 0.3, 0.45),
    }
    _table(colours[kind], 0.8 if kind in ("wood", "pale") else 0.25)


def carton(at: Spots) -> None:
    """A tray with one cup under every place."""
    pulp = material("pulp", (0.42, 0.4, 0.36), rough=0.95, grain=0.25)
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    cx, cy = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    block(pulp, (cx, cy, 0.04), (max(xs) - min(xs) + 1.15, max(ys) - min(ys) + 1.15, 0.08), bevel=0.05)
    for x, y in at:
        ring(pulp, (x, y, 0.2), 0.41, 0.09)
        drum(material("cup", (0.25, 0.24, 0.21), rough=1), (x, y, 0.1), 0.36, 0.04)


def tray(at: Spots) -> None:
    """A flat baking tray under the places, with a rim."""
    steel = material("tray", (0.3, 0.31, 0.33), rough=0.35, metal=0.8)
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    cx, cy, w, h = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, max(xs) - min(xs) + 1.3, max(ys) - min(ys) + 1.3
    block(steel, (cx, cy, 0.02), (w, h, 0.04), bevel=0.02)
    for dx, dy, sx, sy in ((0, h / 2, w, 0.08), (0, -h / 2, w, 0.08), (w / 2, 0, 0.08, h), (-w / 2, 0, 0.08, h)):
        block(steel, (cx + dx, cy + dy, 0.1), (sx, sy, 0.2), bevel=0.03)


def sash(at: Spots) -> None:
    """A painted window frame round the places."""
    paint = material("frame", (0.85, 0.84, 0.8), rough=0.4)
    xs, ys = sorted({p[0] for p in at}), sorted({p[1] for p in at})
    w, h = xs[-1] - xs[0] + 1.0, ys[-1] - ys[0] + 1.0
    cx, cy = (xs[0] + xs[-1]) / 2, (ys[0] + ys[-1]) / 2
    for x in [xs[0] - 0.5, *(((a + b) / 2) for a, b in zip(xs, xs[1:], strict=False)), xs[-1] + 0.5]:
        block(paint, (x, cy, 0.1), (0.12, h + 0.2, 0.2))
    for y in [ys[0] - 0.5, *(((a + b) / 2) for a, b in zip(ys, ys[1:], strict=False)), ys[-1] + 0.5]:
        block(paint, (cx, y, 0.1), (w + 0.2, 0.12, 0.2))
    block(paint, (cx, ys[0] - 0.75, 0.2), (w + 0.6, 0.2, 0.4))


def board(at: Spots) -> None:
    """A plank on the wall behind the places."""
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    wood = material("plank", (0.32, 0.17, 0.08), rough=0.6, grain=0.8)
    block(wood, ((min(xs) + max(xs)) / 2, sum(ys) / len(ys) + 0.15, 0.03), (max(xs) - min(xs) + 1.6, 1.1, 0.06))


def stem(at: Spots) -> None:
    """A stalk between two rows of leaflets."""
    ys = [p[1] for p in at]
    drum(
        material("stalk", (0.2, 0.26, 0.08), rough=0.6),
        (0, (min(ys) + max(ys)) / 2 - 0.4, 0.08),
        0.06,
        max(ys) - min(ys) + 2.2,
        lie=0.0,
    )


def beetle(at: Spots) -> None:
    """A wing-cased body, head and six legs under the spots."""
    shell = material("case", (0.6, 0.05, 0.03), rough=0.2)
    dark = material("dark", (0.02, 0.02, 0.02), rough=0.4)
    ball(shell, (0, 0, 0.2), (1.15, 1.45, 0.5))
    ball(dark, (0, 1.45, 0.2), (0.55, 0.42, 0.3))
    block(dark, (0, -0.05, 0.69), (0.05, 2.6, 0.06), bevel=0.01)
    for side in (-1, 1):
        for y, lean in ((0.8, 0.5), (0.0, 0.0), (-0.8, -0.5)):
            drum(dark, (side * 1.35, y * 1.1, 0.12), 0.06, 0.9, lie=side * (math.pi / 2 + lean))


def domino(at: Spots) -> None:
    xs, ys = [p[0] for p in at], [p[1] for p in at]
    bone = material("bone", (0.85, 0.82, 0.72), rough=0.35)
    cx, cy = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    block(bone, (cx, cy, 0.28), (max(xs) - min(xs) + 0.75, max(ys) - min(ys) + 0.75, 0.55), bevel=0.12)
    block(material("groove", (0.1, 0.1, 0.1)), (cx, cy, 0.555), (0.04, max(ys) - min(ys) + 0.5, 0.012), bevel=0)


def dice(at: Spots) -> None:
    """Two dice, each under half of the places."""
    for part in (at[: len(at) // 2], at[len(at) // 2 :]):
        cx, cy = sum(p[0] for p in part) / len(part), sum(p[1] for p in part) / len(part)
        block(material("die", (0.75, 0.12, 0.1), rough=0.3), (cx, cy, 0.28), (1.25, 1.25, 0.55), bevel=0.14)


def two_trays(at: Spots) -> None:
    tray(at[: len(at) // 2])
    tray(at[len(at) // 2 :])


def drawers(at: Spots) -> None:
    wood = material("drawer", (0.5, 0.33, 0.18), rough=0.55, grain=0.8)
    for x, y in at:
        block(wood, (x, y, 0.05), (1.5, 0.95, 0.1), bevel=0.04)


UNDER: dict[str, Any] = {
    f.__name__: f for f in (carton, tray, sash, board, stem, beetle, domino, dice, two_trays, drawers)
}


def odds(chance: random.Random, reach: tuple[float, float], how_many: int) -> None:
    """A few unlike things at the rim of the picture: a cloth, a stick, a stone, a lid; never two alike."""

    def cloth(x: float, y: float) -> None:
        block(
            material("cloth", (0.7, 0.3, 0.25), rough=1, grain=0.2),
            (x, y, 0.03),
            (1.6, 1.1, 0.05),
            turn=0.4,
            bevel=0.02,
        )

    def stick(x: float, y: float) -> None:
        drum(
            material("stick", (0.55, 0.4, 0.2), rough=0.8, grain=0.8), (x, y, 0.08), 0.07, 2.6, lie=chance.uniform(0, 3)
        )

    def stone(x: float, y: float) -> None:
        ball(material("stone", (0.35, 0.33, 0.3), rough=0.9, grain=0.3), (x, y, 0.2), (0.5, 0.34, 0.24))

    def lid(x: float, y: float) -> None:
        drum(material("lid", (0.2, 0.4, 0.35), rough=0.3), (x, y, 0.05), 0.5, 0.1)

    makers = [cloth, stick, stone, lid]
    chance.shuffle(makers)
    corners = [(-1, -1), (1, 1), (-1, 1), (1, -1)]
    chance.shuffle(corners)
    for make, (sx, sy) in zip(makers[:how_many], corners, strict=False):
        make(sx * (reach[0] + 1.5), sy * (reach[1] + 1.1))

"""The wall of a front: a plane with openings, arches over them, and beams of timber on it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from curator.learning.rendered.kit import Geom, Kit, Skin, Tone
from curator.learning.rendered.panes import Hole, block

Rng = np.random.Generator


def _quads(corners: list[NDArray[np.float64]]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    faces = [(4 * k + np.array([[0, 1, 2], [0, 2, 3]])) for k in range(len(corners))]
    return np.concatenate(corners), np.concatenate(faces)


def pierced(box: Hole, holes: list[Hole], deep: float, across: float) -> Skin:
    """A wall in the plane y = 0 with openings, and their sides as far as `deep`; its texture repeats every `across`
    units.
    """
    left, right, bottom, top = box
    levels = sorted({bottom, top, *(z for h in holes for z in h[2:] if bottom < z < top)})
    corners, normals = [], []

    def put(points: list[tuple[float, float, float]], normal: tuple[float, float, float]) -> None:
        corners.append(np.array(points))
        normals.append(np.tile(np.array(normal, float), (4, 1)))

    for low, high in pairwise(levels):
        cuts = sorted((h[0], h[1]) for h in holes if h[2] < high - 1e-9 and h[3] > low + 1e-9)
        x = left
        for a, b in [*cuts, (right, right)]:
            if a > x:
                put([(x, 0, low), (a, 0, low), (a, 0, high), (x, 0, high)], (0, -1, 0))
            x = max(x, b)
    for a, b, low, high in holes:
        put([(a, 0, low), (a, deep, low), (a, deep, high), (a, 0, high)], (1, 0, 0))
        put([(b, deep, low), (b, 0, low), (b, 0, high), (b, deep, high)], (-1, 0, 0))
        put([(a, 0, low), (b, 0, low), (b, deep, low), (a, deep, low)], (0, 0, 1))
        put([(a, deep, high), (b, deep, high), (b, 0, high), (a, 0, high)], (0, 0, -1))
    vertices, faces = _quads(corners)
    spots = np.stack([vertices[:, 0] + vertices[:, 1], -vertices[:, 2] + vertices[:, 1]], 1) / across
    return Skin(vertices, faces, np.concatenate(normals), spots)


def arch(hole: Hole, rise: float, across: float) -> Skin:
    """What fills the upper corners of an opening to end in an arch as high as `rise`; texture as the wall's."""
    left, right, _, top = hole
    middle, half = (left + right) / 2, (right - left) / 2
    triangles = []
    for corner, begin in ((left, np.pi), (right, np.pi / 2)):
        turn = np.linspace(begin, begin - np.pi / 2, 7)
        arc = [(middle + half * float(np.cos(t)), 0.0, top - rise + rise * float(np.sin(t))) for t in turn]
        triangles += [[(corner, 0.0, top), a, b] for a, b in pairwise(arc)]
    vertices = np.array(triangles).reshape(-1, 3)
    faces = np.arange(len(vertices)).reshape(-1, 3)
    normals = np.tile([0.0, -1.0, 0.0], (len(vertices), 1))
    return Skin(vertices, faces, normals, np.stack([vertices[:, 0], -vertices[:, 2]], 1) / across)


def timber(kit: Kit, box: Hole, holes: list[Hole], tone: Tone) -> list[Geom]:
    """Beams on a wall: posts at its ends and between openings, rails over and under each row, and braces below some
    windows.
    """
    rng, finish, b = kit.rng, kit.finish(), float(kit.rng.uniform(0.06, 0.11))
    geoms = [block(kit, tone, finish, (x - b, x + b, box[2], box[3]), -0.03, 0.0) for x in (box[0] + b, box[1] - b)]
    rows: dict[float, list[Hole]] = {}
    for hole in holes:
        rows.setdefault(round(hole[2], 2), []).append(hole)
    for low, row in rows.items():
        row.sort()
        if low < 0.3:
            continue
        high = max(h[3] for h in row)
        if not any(
            h not in row and h[2] < high + 2 * b and h[3] > low - 2 * b for h in holes
        ):  # no rail across another opening
            geoms += [
                block(kit, tone, finish, (box[0], box[1], z - b, z + b), -0.025, 0.0) for z in (low - b, high + b)
            ]
        geoms += [
            block(kit, tone, finish, ((p[1] + q[0]) / 2 - b, (p[1] + q[0]) / 2 + b, low, high), -0.02, 0.0)
            for p, q in pairwise(row)
        ]
        for hole in row if rng.random() < 0.6 else ():
            half, lean = (hole[1] - hole[0]) / 2, float(rng.choice([-1, 1]))
            at = ((hole[0] + hole[1]) / 2, -0.01, low - 0.38)
            geoms.append(
                kit.geom("box", (half * 1.1, 0.01, b * 0.7), at, tone, finish, angles=(0, lean * 30, 0), solid=False)
            )
    return geoms

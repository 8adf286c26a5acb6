"""Winged insects seen from above: butterflies, moths, dragonflies, flies and beetles with open wing cases."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning import paint
from curator.learning.drawn import places
from curator.learning.rendered import walls
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Skin, Tone, tone_of
from curator.learning.rendered.parts import bent
from curator.learning.rendered.stage import Stage, from_layout

Rng = np.random.Generator
Outline = NDArray[np.float64]  # (n, 2) x outwards, y ahead, from the root at the origin, units

FORE = ((0.0, 0.05), (0.2, 0.3), (0.5, 0.52), (0.72, 0.56), (0.72, 0.38), (0.6, 0.12), (0.35, -0.02), (0.05, -0.06))
HIND = ((0.0, 0.02), (0.3, 0.06), (0.52, -0.06), (0.56, -0.28), (0.42, -0.48), (0.24, -0.5), (0.1, -0.3))
TAILED = (
    (0.0, 0.02), (0.3, 0.06), (0.5, -0.06), (0.5, -0.28), (0.4, -0.4), (0.42, -0.66), (0.33, -0.66), (0.26, -0.44),
    (0.1, -0.3),
)  # fmt: skip
MOTH = ((0.0, 0.12), (0.28, 0.22), (0.62, 0.14), (0.72, -0.02), (0.6, -0.24), (0.34, -0.36), (0.1, -0.32))
SLIM = ((0.0, 0.02), (0.25, 0.07), (0.6, 0.09), (0.8, 0.06), (0.82, -0.01), (0.6, -0.06), (0.25, -0.05))
CLEAR = ((0.0, 0.03), (0.2, 0.08), (0.45, 0.13), (0.6, 0.06), (0.58, -0.06), (0.35, -0.1), (0.1, -0.05))
CASE = ((0.0, 0.06), (0.25, 0.16), (0.5, 0.14), (0.62, 0.02), (0.5, -0.1), (0.2, -0.13), (0.02, -0.06))


@dataclass(frozen=True)
class Pair:
    """Two wings alike: their outline, how they are turned ahead (degrees) and how long they are."""

    outline: tuple[tuple[float, float], ...]
    turn: float
    long: float
    root: float  # where along the body
    clear: bool = False


def _smooth(corners: Outline) -> Outline:
    """A closed outline with its corners cut twice."""
    for _ in range(2):
        after = np.roll(corners, -1, 0)
        corners = np.stack([0.75 * corners + 0.25 * after, 0.25 * corners + 0.75 * after], 1).reshape(-1, 2)
    return corners


WINGS: tuple[Tone, ...] = (
    (0.85, 0.4, 0.08), (0.75, 0.2, 0.08), (0.9, 0.75, 0.25), (0.92, 0.9, 0.8), (0.3, 0.18, 0.1), (0.12, 0.09, 0.08),
    (0.25, 0.45, 0.75), (0.5, 0.35, 0.2), (0.6, 0.6, 0.45),
)  # fmt: skip
"""Orange, red, yellow, cream, browns, black, blue and pale green of wings; by eye."""


def _dye(rng: Rng) -> Callable[[], tuple[float, ...]]:
    """Where a wing's colours come from: mostly its own few, a little lighter or darker, else any."""
    if rng.random() < 0.4:
        return lambda: tuple(float(v) for v in 255 * np.array(tone_of(rng)))
    own = rng.choice(len(WINGS), 3, replace=False)
    return lambda: tuple(float(v) for v in 255 * np.array(WINGS[int(rng.choice(own))]) * rng.uniform(0.75, 1.15))


def _edge_spots(rng: Rng, picture: paint.Picture, spots: NDArray[np.int32], start: tuple[int, int]) -> None:
    """A row of pale spots along the border, a little inside."""
    pale, big = (235.0, 230.0, 215.0), int(rng.integers(2, 6))
    for spot in spots[:: int(rng.integers(2, 4))]:
        at = np.array(spot) + (np.array(start) - spot) * 0.1
        cv2.circle(picture, (int(at[0]), int(at[1])), big, pale, -1, cv2.LINE_AA)


def marked(rng: Rng, outline: Outline, *, clear: bool) -> paint.Picture:
    """A wing's picture over its outline's bounding box: ground, veins, border, spots; or clear with veins alone."""
    side, low = 128, outline.min(0)
    spots = ((outline - low) / (outline.max(0) - low) * (side - 1)).round().astype(np.int32)
    spots[:, 1] = side - 1 - spots[:, 1]
    colour = _dye(rng)
    picture = np.empty((side, side, 3), np.float32)
    picture[:] = paint.hsv(rng.integers(0, 180), rng.uniform(0, 0.15), rng.uniform(0.65, 0.95)) if clear else colour()
    root = ((np.zeros(2) - low) / (outline.max(0) - low) * (side - 1)).round().astype(int)
    start = (int(root[0]), int(side - 1 - root[1]))
    dark = (40.0, 34.0, 30.0) if rng.random() < 0.6 else colour()
    if not clear and rng.random() < 0.5:
        cv2.circle(picture, start, int(rng.integers(30, 70)), colour(), -1)
    if rng.random() < 0.75:
        for spot in spots[:: int(rng.integers(2, 5))]:
            cv2.line(picture, start, tuple(int(v) for v in spot), dark, 1, cv2.LINE_AA)
    if not clear:
        cv2.polylines(picture, [spots], True, dark, int(rng.choice([2, 6, 12, 20])), cv2.LINE_AA)
        if rng.random() < 0.35:
            _edge_spots(rng, picture, spots, start)
        for _ in range(int(rng.choice([0, 0, 1, 2, 4, 7]))):
            at, big = tuple(int(v) for v in rng.integers(20, side - 20, 2)), int(rng.integers(4, 14))
            cv2.circle(picture, at, big, colour(), -1, cv2.LINE_AA)
            cv2.circle(picture, at, big // 2, dark, -1, cv2.LINE_AA)
    return np.asarray(picture * (1 + 0.06 * paint.noise(rng, (side, side))[..., None]), np.float32).clip(0, 255)


def membrane(kit: Kit, flat: Outline, placed: Outline, up: float, lift: float, finish: str, part: int) -> Geom:
    """A wing as placed (its outline in the body's frame), rising by `lift` a unit outwards; seen from both sides."""
    n = len(placed)
    ring = np.concatenate([placed, placed.mean(0)[None]])
    z = up + lift * np.abs(ring[:, 0]) + 0.02 * np.sin(3 * np.abs(ring[:, 0]))
    corners = np.concatenate([ring, z[:, None]], 1)
    low = flat.min(0)
    spots = (np.concatenate([flat, flat.mean(0)[None]]) - low) / (flat.max(0) - low)
    k = np.arange(n)
    top = np.stack([k, (k + 1) % n, np.full(n, n)], 1)
    a, b, c = (ring[top[:, j]] for j in range(3))
    area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    if area.sum() < 0:
        top = top[:, ::-1]
    vertices = np.concatenate([corners, corners - [0, 0, 0.004]])
    normals = np.repeat([[0.0, 0, 1], [0.0, 0, -1]], n + 1, 0)
    skin = Skin(vertices, np.concatenate([top, top[:, ::-1] + n + 1]), normals, np.concatenate([spots, spots]))
    return kit.geom("mesh", (), (0, 0, 0), (1, 1, 1), finish, mesh=skin, part=part, solid=False)


def _wings(kit: Kit, pairs: list[Pair], up: float, out: float) -> tuple[list[Geom], list[Part]]:
    """The wings of both sides, the first pair on top."""
    rng, lift = kit.rng, float(kit.rng.uniform(0.0, 0.3))
    geoms: list[Geom] = []
    parts: list[Part] = []
    dressed, alike = int(rng.integers(1 << 30)), rng.random() < 0.5
    for row, pair in enumerate(pairs):
        own = np.array(pair.outline) * pair.long * [1.0, float(rng.uniform(1.0, 1.0 if pair.clear else 1.35))]
        flat = _smooth(own * (1 + rng.normal(0, 0.04, own.shape)))
        # many have one dress on both pairs, and only the seam between these tells them apart
        dress = np.random.default_rng(dressed) if alike else rng
        finish = kit.papered(marked(dress, flat, clear=pair.clear), shine=0.3)
        far = flat[np.argmax((flat**2).sum(1))]
        for side, sign in ((1, -1.0), (2, 1.0)):
            a = np.radians(pair.turn + float(rng.normal(0, 2.5)))
            turned = lambda p, a=a, sign=sign, root=pair.root: (  # noqa: E731
                np.stack([p[..., 0] * np.cos(a) - p[..., 1] * np.sin(a) + out,
                          p[..., 0] * np.sin(a) + p[..., 1] * np.cos(a) + root], -1) * [sign, 1]
            )  # fmt: skip
            placed = turned(flat)
            z = up - 0.025 * row
            geoms.append(membrane(kit, flat, placed, z, lift, finish, len(parts)))
            middle, tip = placed.mean(0), turned(far)
            at = [(float(p[0]), float(p[1]), float(z + lift * abs(p[0]))) for p in (middle, tip)]
            parts.append(Part("wing", at[0], side, tip=at[1]))
    return geoms, parts


def _butterfly(rng: Rng) -> list[Pair]:
    fore, hind = float(rng.uniform(0.85, 1.15)), float(rng.uniform(0.75, 1.05))
    lower = TAILED if rng.random() < 0.25 else HIND
    if rng.random() < 0.5:  # drawn back over the lower pair
        turn = float(rng.uniform(-38, -14))
        return [Pair(FORE, turn, fore, 0.16), Pair(lower, turn * 0.4, hind * 1.15, 0.04)]
    return [Pair(FORE, float(rng.uniform(-22, 8)), fore, 0.16), Pair(lower, float(rng.uniform(-8, 8)), hind, 0.0)]


def _moth(rng: Rng) -> list[Pair]:
    """Fore wings that cover what is below: two are seen."""
    return [Pair(MOTH, float(rng.uniform(-25, 8)), float(rng.uniform(0.85, 1.1)), 0.1)]


def _dragonfly(rng: Rng) -> list[Pair]:
    clear, turn = rng.random() < 0.8, float(rng.uniform(4, 16))
    return [Pair(SLIM, turn, 0.95, 0.22, clear), Pair(SLIM, -float(rng.uniform(6, 18)), 0.9, 0.04, clear)]


def _fly(rng: Rng) -> list[Pair]:
    return [Pair(CLEAR, -float(rng.uniform(5, 50)), float(rng.uniform(0.9, 1.2)), 0.12, True)]


def _beetle(rng: Rng) -> list[Pair]:
    """Open wing cases, with the wings below them or without."""
    cases = Pair(CASE, float(rng.uniform(-25, 15)), float(rng.uniform(0.75, 0.95)), 0.16)
    return [cases, Pair(CLEAR, cases.turn - 48, 1.15, 0.06, True)] if rng.random() < 0.6 else [cases]


SORTS: dict[str, tuple[Callable[[Rng], list[Pair]], float]] = {
    "butterfly": (_butterfly, 0.42),
    "moth": (_moth, 0.14),
    "dragonfly": (_dragonfly, 0.22),
    "fly": (_fly, 0.1),
    "beetle": (_beetle, 0.12),
}
"""Each sort's wings, and how often it comes."""


def _body(kit: Kit, sort: str, up: float) -> tuple[list[Geom], float]:
    """Head to +y, breast and rear; and half the breast's width."""
    rng, tone, finish = kit.rng, _dull(kit.rng), kit.finish()
    fat = {"butterfly": 0.045, "moth": 0.09, "dragonfly": 0.06, "fly": 0.11, "beetle": 0.16}[sort]
    fat *= float(rng.uniform(0.85, 1.25))
    long = {"dragonfly": 0.75, "butterfly": 0.42}.get(sort, 0.4)
    slim = 0.5 if sort == "dragonfly" else 0.9
    geoms = [
        kit.geom("ellipsoid", (fat, 0.15, fat * 0.9), (0, 0.14, up), tone, finish, solid=False),
        kit.geom("ellipsoid", (fat * slim, long * 0.55, fat * 0.8), (0, -long * 0.5 + 0.08, up), _dull(rng), finish,
                 solid=False),
        kit.geom("sphere", (max(0.05, fat * 0.7),), (0, 0.32, up), tone, finish, solid=False),
    ]  # fmt: skip
    if sort in ("dragonfly", "fly"):
        geoms += [
            kit.geom("sphere", (fat * 0.55,), (s * fat * 0.55, 0.36, up + 0.02), tone_of(rng), finish, solid=False)
            for s in (-1, 1)
        ]
    if sort == "dragonfly" and rng.random() < 0.6:
        for k in range(5):
            geoms.append(kit.geom("cylinder", (fat * 0.55, 0.012), (0, 0.02 - 0.13 * k, up), _dull(rng), finish,
                                  angles=(90, 0, 0), solid=False))  # fmt: skip
    return geoms, fat * 0.6


def _dull(rng: Rng) -> Tone:
    """Mostly the brown or black of a body."""
    shade = float(rng.uniform(0.08, 0.3))
    return (shade * 1.2, shade, shade * 0.8) if rng.random() < 0.6 else tone_of(rng)


def winged(kit: Kit, sort: str) -> Shape:
    """An insect with its wings spread, head to +y; the wings are parts, its feelers are left aside."""
    rng, up = kit.rng, 0.16
    geoms, out = _body(kit, sort, up)
    made, parts = _wings(kit, SORTS[sort][0](rng), up + 0.06, out)
    geoms += made
    if sort != "dragonfly" and rng.random() < 0.85:
        long, spread, tone, finish = (
            float(rng.uniform(0.15, 0.4)),
            float(rng.uniform(0.3, 0.9)),
            _dull(rng),
            kit.plain(),
        )
        for s in (-1.0, 1.0):
            path: list[Point] = [
                (s * 0.02, 0.36, up + 0.02),
                (s * (0.02 + long * spread * 0.4), 0.36 + long * 0.6, up + 0.06),
                (s * (0.02 + long * spread), 0.36 + long, up + 0.05),
            ]
            geoms += bent(kit, path, 0.01, tone, finish, len(parts))
            if rng.random() < 0.5:
                geoms.append(kit.geom("sphere", (0.02,), path[-1], tone, finish, part=len(parts), solid=False))
            parts.append(Part("feeler", path[1], aside=True, tip=path[-1]))
    wide = max(abs(p.tip[0]) for p in parts if p.tip is not None)
    return kit.shape(sort, geoms, (wide, 0.6, 0.35), parts, axis=((0, 0.4, up), (0, -0.4, up)))


def insects(kit: Kit) -> Stage:
    """One insect whose wings count, or two to nine that count themselves."""
    rng = kit.rng
    weights = np.array([w for _, w in SORTS.values()])
    sort = str(rng.choice(list(SORTS), p=weights / weights.sum()))
    n = 1 if rng.random() < 0.6 else int(rng.choice([2, 2, 3, 4, 5, 6, 8, 9]))
    stage = Stage("solid insects", fill=(0.65, 1.05), flat=True, lift=(48, 89), sway=30.0)
    if rng.random() < 0.6:
        stage.table = [walls.leaves, walls.boards, walls.stone, walls.plaster][int(rng.integers(4))](rng)
    first, same = winged(kit, sort), rng.random() < 0.4
    if n == 1:
        stage.put(first, turn=float(rng.uniform(0, 360)) if rng.random() < 0.5 else float(rng.normal(0, 15)))
        stage.main = "wing"
        return stage
    layout = (
        places.rows(rng, (n,) if n < 4 else ((n + 1) // 2, n // 2)) if rng.random() < 0.5 else places.scatter(rng, n)
    )
    from_layout(kit, stage, layout, float(rng.uniform(1.0, 1.4)), lambda: first if same else winged(kit, sort))
    stage.main = first.kind
    return stage

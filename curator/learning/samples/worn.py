"""What people wear: rubber boots, laced shoes, hands in garden gloves; each stands or lies on z = 0, toes or fingers away."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np

from curator.learning.samples import materials as made_of
from curator.learning.samples.nodes import Colour
from curator.learning.samples.shapes import cut_out, egg_shaped, from_points, grown, rows_of_quads, spread, swept

Station = tuple[float, float, float, float, float]  # y and z of the middle, lean in degrees, half width, half length


def _sock(stations: list[Station], side: float, steps: int = 40) -> tuple[Any, Any]:
    """The skin of a boot or shoe: sections from the opening (level) round the heel to the toe (upright)."""
    given = np.array(stations)
    at = np.linspace(0, len(given) - 1, 60)
    rows = []
    fine = np.array([np.interp(at, np.arange(len(given)), given[:, k]) for k in range(5)]).T
    kernel = np.array([1, 2, 3, 2, 1]) / 9
    for k in range(5):
        padded = np.pad(fine[:, k], 2, mode="edge")
        fine[:, k] = np.convolve(padded, kernel, "valid")
    for n, (y, z, lean, wide, long) in enumerate(fine):
        t = math.radians(lean)
        forward = np.array([0.0, math.cos(t), math.sin(t)])  # from the heel side to the instep side of the section
        inward = side * 0.07 * (n / 60) ** 2
        for a in np.linspace(0, 2 * math.pi, steps, endpoint=False):
            p = np.array([inward + wide * math.cos(a), y, z]) + forward * long * math.sin(a)
            rows.append((p[0], p[1], max(p[2], 0.1)))
    faces: list[Any] = list(rows_of_quads(60, steps, closed=True))
    faces.append(tuple(range(59 * steps, 60 * steps)))
    return rows, faces


def _sole(rows: Any, grow: float) -> list[tuple[float, float]]:
    """The outline of what a foot stands on: the hull of its lower skin, evened out and `grow` wider all round."""
    low = np.array([(px, py) for px, py, pz in rows if pz < 0.32], np.float32)
    hull = cv2.convexHull(low)[:, 0]
    ring = np.vstack([hull, hull[:1]])
    far = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    at = np.linspace(0, far[-1], 72, endpoint=False)
    even = np.stack([np.interp(at, far, ring[:, k]) for k in (0, 1)], 1)
    for _ in range(4):
        even = (np.roll(even, 1, 0) + 2 * even + np.roll(even, -1, 0)) / 4
    along = np.roll(even, -1, 0) - np.roll(even, 1, 0)
    out = np.stack([along[:, 1], -along[:, 0]], 1) / (np.linalg.norm(along, axis=1, keepdims=True) + 1e-9)
    out *= np.sign(((even - even.mean(0)) * out).sum())  # outwards, whichever way round the hull runs
    return [(float(px), float(py)) for px, py in even + out * grow]


def boot(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A rubber boot; turn < 0 is the one on the left. Its toe points to -y, towards the viewer."""
    side = -1.0 if turn < 0 else 1.0
    skin = made_of.rubber(colour)
    stations: list[Station] = [
        (-0.3, 1.55, 6, 0.32, 0.36), (-0.3, 1.3, 4, 0.31, 0.35), (-0.3, 1.0, 0, 0.285, 0.32), (-0.29, 0.75, 4, 0.265, 0.3), (-0.25, 0.55, 14, 0.25, 0.31),
        (-0.14, 0.4, 35, 0.255, 0.4), (0.04, 0.33, 62, 0.26, 0.34), (0.22, 0.28, 78, 0.27, 0.27), (0.45, 0.24, 88, 0.29, 0.215), (0.66, 0.21, 92, 0.275, 0.18), (0.82, 0.19, 98, 0.21, 0.13), (0.9, 0.17, 104, 0.09, 0.07),
    ]  # fmt: skip
    rows, faces = _sock(stations, side)
    where, angle = (x, y, 0.0), (0.0, 0.0, math.pi + chance.gauss(0.06 * side, 0.03))
    from_points(rows, faces, skin, where, angle, thick=0.035, subdivide=1)
    trim = made_of.rubber(made_of.times(colour, 1.7))
    for z, thick, grow in ((1.555, 0.03, 0.012), (1.46, 0.014, 0.018)):
        ring = [
            (
                (0.32 + grow - (1.555 - z) * 0.02) * math.cos(a),
                -0.3 + (0.36 + grow) * math.sin(a),
                z + 0.036 * math.sin(a),
            )
            for a in np.linspace(0, 2 * math.pi, 33)
        ]
        swept(ring, thick, trim, where, angle, curve=2)
    sole = made_of.rubber((0.025, 0.024, 0.022))
    print_ = _sole(rows, 0.03)
    cut_out(print_, 0.13, sole, where, angle, bevel=0.025)
    welt = [(a, b, 0.15) for a, b in print_[::3]]
    swept([*welt, welt[0]], 0.022, trim, where, angle, curve=3)
    lining = made_of.cloth((0.2, 0.17, 0.13), weave=40)
    turned_in = [
        (0.27 * math.cos(a), -0.29 + 0.31 * math.sin(a), 0.95) for a in np.linspace(0, 2 * math.pi, 24, endpoint=False)
    ]
    from_points(turned_in, [tuple(range(24))], lining, where, angle)


def shoe(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A canvas shoe with a rubber sole and laces; turn < 0 is the left one. The toe points to -y, towards the viewer."""
    side = -1.0 if turn < 0 else 1.0
    canvas = made_of.cloth(colour, weave=60)
    stations: list[Station] = [
        (-0.36, 0.72, 14, 0.235, 0.36), (-0.355, 0.62, 14, 0.245, 0.37), (-0.34, 0.5, 20, 0.255, 0.4), (-0.28, 0.42, 32, 0.265, 0.46), (-0.12, 0.36, 52, 0.27, 0.4),
        (0.1, 0.31, 70, 0.285, 0.33), (0.35, 0.265, 82, 0.315, 0.255), (0.62, 0.235, 90, 0.325, 0.2), (0.84, 0.22, 95, 0.28, 0.16), (0.98, 0.2, 100, 0.19, 0.11), (1.04, 0.18, 104, 0.07, 0.05),
    ]  # fmt: skip
    rows, faces = _sock(stations, side)
    where, angle = (x, y, 0.0), (0.0, 0.0, math.pi + chance.gauss(0.07 * side, 0.03))
    from_points(rows, faces, canvas, where, angle, thick=0.03, subdivide=1)
    pale = made_of.plain((0.72, 0.69, 0.62), 0.5, bump=0.2)
    print_ = _sole(rows, 0.035)
    cut_out(print_, 0.17, pale, where, angle, bevel=0.035)
    stripe = [(a * 1.012, b * 1.006, 0.115) for a, b in print_[::2]]
    swept([*stripe, stripe[0]], 0.011, made_of.plain(made_of.times(colour, 0.6), 0.5), where, angle, curve=3)
    _tongue_and_laces(where, angle, colour, side, chance)


Instep = Callable[[float], tuple[float, float]]  # y and z along it, from the opening (0) to the toe (1)


def _tongue_and_laces(where: Any, angle: Any, colour: Colour, side: float, chance: random.Random) -> None:
    """The instep of a shoe: tongue, eyelets, laces to and fro, a bow."""
    tongue = made_of.cloth(made_of.times(colour, 0.8), weave=60)

    def top(t: float) -> tuple[float, float]:
        """y and z along the instep, t from the opening (0) to the toe (1)."""
        return (-0.02 + 0.5 * t, float(np.interp(t, [0, 0.35, 0.7, 1], [0.83, 0.7, 0.585, 0.5])))

    def place(u: float, v: float) -> tuple[float, float, float]:
        py, pz = top(v * 1.02 - 0.22)
        off = (2 * u - 1) * (0.15 - 0.03 * v)
        extra = max(0.0, 0.18 - v) * 0.6
        return (off + side * 0.02, py - extra * 0.2, pz + 0.03 + extra - off * off * 1.6)

    spread(place, tongue, where, angle, across=9, along=30, thick=0.03, subdivide=1)
    lace = made_of.cloth((0.78, 0.75, 0.68), weave=90)
    _laces(top, lace, where, angle, chance)
    _bow(top(0.02), lace, where, angle, chance)


def _laces(top: Instep, lace: Any, where: Any, angle: Any, chance: random.Random) -> None:
    """Five pairs of eyelets along the instep, and the laces that cross between them."""
    ring = made_of.metal((0.6, 0.58, 0.52), 0.3, 0.4)
    inside = 0.165
    for k in range(5):
        t = 0.08 + 0.19 * k
        (ya, za), (yb, zb) = top(t), top(t + 0.12)
        for flip in (1, -1):
            eyelet = [
                (flip * (inside + 0.022 * math.cos(a)), ya + 0.022 * math.sin(a), za - 0.025)
                for a in np.linspace(0, 6.28, 9)
            ]
            swept(eyelet, 0.008, ring, where, angle, steps=8, curve=2)
        lift = 0.05 + chance.uniform(0, 0.01)
        line = [
            (-inside, ya, za - 0.02),
            (-0.09, (2 * ya + yb) / 3, za + lift - 0.01),
            (0, (ya + yb) / 2, (za + zb) / 2 + lift + 0.012),
            (0.09, (ya + 2 * yb) / 3, zb + lift - 0.01),
            (inside, yb, zb - 0.02),
        ]
        swept(line, 0.026, lace, where, angle, flat=0.6, steps=10)
        crossing = [(-a, b - 0.012, c - 0.018) for a, b, c in line]
        if k < 4:
            swept(crossing, 0.026, lace, where, angle, flat=0.6, steps=10)


def _bow(knot: tuple[float, float], lace: Any, where: Any, angle: Any, chance: random.Random) -> None:
    """Two loops and two ends, tied at y, z of the instep."""
    y0, z0 = knot
    for flip in (1, -1):
        loop = [
            (0, y0, z0 + 0.07),
            (flip * 0.2, y0 + 0.06, z0 + 0.12),
            (flip * 0.36, y0 + 0.12, z0 - 0.03),
            (flip * 0.3, y0 - 0.02, z0 - 0.06),
            (flip * 0.12, y0 - 0.02, z0 + 0.07),
            (0, y0, z0 + 0.07),
        ]
        swept(loop, 0.024, lace, where, angle, flat=0.6, steps=10)
        end = [
            (0, y0, z0 + 0.07),
            (flip * 0.13, y0 + 0.2, z0 + 0.05),
            (flip * 0.3, y0 + 0.34, z0 - 0.2),
            (flip * (0.36 + chance.uniform(0, 0.06)), y0 + 0.4, z0 - 0.36),
        ]
        swept(end, 0.022, lace, where, angle, flat=0.6, steps=10)
    egg_shaped(lace, (where[0], where[1] - y0, where[2] + z0 + 0.085), (0.05, 0.045, 0.04))


# ---- hands

FINGERS = (  # foot, knuckle and tip of each, thickness at foot and tip; the right hand, thumb towards -x
    ((-0.42, -0.22, 0.17), (-0.72, 0.1, 0.16), (-0.9, 0.42, 0.13), 0.17, 0.135),
    ((-0.3, 0.4, 0.19), (-0.4, 0.78, 0.2), (-0.48, 1.22, 0.12), 0.145, 0.115),
    ((-0.08, 0.46, 0.2), (-0.09, 0.9, 0.22), (-0.1, 1.42, 0.12), 0.148, 0.118),
    ((0.15, 0.42, 0.19), (0.22, 0.82, 0.2), (0.29, 1.28, 0.12), 0.14, 0.112),
    ((0.35, 0.28, 0.17), (0.49, 0.58, 0.17), (0.63, 0.92, 0.11), 0.125, 0.1),
)


def hand(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> list[Any]:
    """A gloved hand lying palm down; turn < 0 is the left one. Gives back its five fingers, thumb first, as (mesh, slot)."""
    flip = -1.0 if turn < 0 else 1.0
    paint = made_of.knit(colour)
    parts = [
        egg_shaped(paint, (0.02, 0.02, 0.2), (0.46, 0.5, 0.19)), egg_shaped(paint, (-0.26, -0.2, 0.19), (0.26, 0.3, 0.17)),
        egg_shaped(paint, (0.1, -0.42, 0.21), (0.33, 0.4, 0.19)), egg_shaped(paint, (0.02, 0.3, 0.2), (0.44, 0.2, 0.16)),
    ]  # fmt: skip
    lines = []
    for foot, knuckle, tip, thick, thin in FINGERS:
        stray = np.array([chance.gauss(0, 0.025), chance.gauss(0, 0.02), 0])
        line = np.array([foot, np.add(knuckle, stray * 0.5), np.add(tip, stray)])
        lines.append(line)
        parts.append(
            swept(line, [thick, thick * 0.97, (thick + thin) / 2, thin * 1.04, thin], paint, steps=18, flat=0.92)
        )
    whole = grown(parts, paint, voxel=0.035, soften=5)
    _fingers_apart(whole, lines, paint)
    whole.location, whole.scale, whole.rotation_euler = (
        (x, y, 0.0),
        (flip, 1, 1),
        (0, 0, -flip * 0.12 + chance.gauss(0, 0.03)),
    )
    cuff = made_of.knit(made_of.times(colour, 0.55), 46)
    ring = [(0.06 * flip, -0.78, 0.24), (0.07 * flip, -0.95, 0.25), (0.08 * flip, -1.12, 0.26)]
    swept(ring, [0.34, 0.33, 0.35], cuff, (x, y, 0), whole.rotation_euler, flat=0.72, steps=32)
    sleeve = made_of.cloth((0.09, 0.13, 0.2), weave=40)
    arm = [(0.08 * flip, -1.12, 0.28), (0.1 * flip, -1.7, 0.32), (0.16 * flip, -2.6, 0.4), (0.24 * flip, -4.4, 0.55)]
    swept(arm, [0.4, 0.44, 0.5, 0.55, 0.62], sleeve, (x, y, 0), whole.rotation_euler, flat=0.8, steps=36)
    return [[(whole, n + 1)] for n in range(5)]


def _fingers_apart(whole: Any, lines: list[Any], paint: Any) -> None:
    """Each finger's faces get a slot of their own (1 to 5), the palm keeps 0."""
    for _ in lines:
        whole.data.materials.append(paint)
    for face in whole.data.polygons:
        p = np.array(face.center)
        best = [
            (
                min(
                    np.linalg.norm(p - (a + (b - a) * t))
                    for a, b in zip(line, line[1:], strict=False)
                    for t in (0.1, 0.3, 0.5, 0.7, 0.9)
                ),
                n,
            )
            for n, line in enumerate(lines)
        ]
        away, n = min(best)
        foot, ahead = lines[n][0], lines[n][1] - lines[n][0]
        if (p - foot) @ ahead / np.linalg.norm(ahead) > 0.02 and away < 0.3:
            face.material_index = n + 1


BUILDERS = {f.__name__: f for f in (boot, shoe, hand)}

"""Meshes that real things need: turned, swept, spread, pressed, cut out and grown together; all of them in z-up units."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import bmesh
import bpy
import numpy as np
from mathutils import Vector, noise

Object = Any
Point = tuple[float, float, float]
Where = tuple[float, float, float]
FACES_OF_SPHERE = (40, 24)


def from_points(
    verts: Any, faces: Any, paint: Any, at: Point = (0, 0, 0), turn: Point = (0, 0, 0), *, bevel: float = 0.0,
    smooth: bool = True, subdivide: int = 0, thick: float = 0.0, uv: Any = None,
) -> Object:  # fmt: skip
    """A mesh object; `uv` one pair a vertex, `thick` gives a sheet a body, `subdivide` rounds it."""
    data = bpy.data.meshes.new("mesh")
    data.from_pydata([tuple(map(float, v)) for v in verts], [], [tuple(map(int, f)) for f in faces])
    if uv is not None:
        layer = data.uv_layers.new(name="UVMap")
        for loop in data.loops:
            layer.data[loop.index].uv = uv[loop.vertex_index]
    shaped = bmesh.new()
    shaped.from_mesh(data)
    bmesh.ops.recalc_face_normals(shaped, faces=shaped.faces)
    shaped.to_mesh(data)
    shaped.free()
    if smooth:
        data.shade_smooth()
    data.materials.append(paint)
    made = bpy.data.objects.new("thing", data)
    bpy.context.collection.objects.link(made)
    made.location, made.rotation_euler = at, turn
    if thick:
        body = made.modifiers.new("body", "SOLIDIFY")
        body.thickness, body.offset = thick, 0
    if bevel:
        edge = made.modifiers.new("edge", "BEVEL")
        edge.width, edge.segments, edge.limit_method, edge.angle_limit = bevel, 3, "ANGLE", 0.6
        edge.harden_normals = False
    if subdivide:
        finer = made.modifiers.new("finer", "SUBSURF")
        finer.levels = finer.render_levels = subdivide
    return made


def rows_of_quads(rows: int, columns: int, *, closed: bool) -> list[tuple[int, int, int, int]]:
    last = columns if closed else columns - 1
    return [
        (r * columns + c, r * columns + (c + 1) % columns, (r + 1) * columns + (c + 1) % columns, (r + 1) * columns + c)
        for r in range(rows - 1)
        for c in range(last)
    ]


def turned(
    profile: Sequence[tuple[float, float]], paint: Any, at: Point = (0, 0, 0), turn: Point = (0, 0, 0), *,
    steps: int = 48, lumps: float = 0.0, size: float = 1.5, seed: float = 0.0, finer: int = 6, smooth: bool = True,
) -> Object:  # fmt: skip
    """A profile of (radius, height) turned about z, its corners rounded by `finer` steps; `lumps` dents it by noise."""
    line = rounded(profile, finer) if finer else list(profile)
    around = [2 * math.pi * k / steps for k in range(steps)]
    verts = [(r * math.cos(a), r * math.sin(a), z) for r, z in line for a in around]
    if lumps:
        verts = [lumped(v, lumps, size, seed) for v in verts]
    faces: list[Any] = list(rows_of_quads(len(line), steps, closed=True))
    for end in (0, len(line) - 1):
        if line[end][0] > 1e-4:
            faces.append(tuple(range(end * steps, (end + 1) * steps)))
    return from_points(verts, faces, paint, at, turn, smooth=smooth)


def lumped(v: Sequence[float], much: float, size: float, seed: float) -> Point:
    push = noise.noise(Vector((v[0] * size + seed, v[1] * size, v[2] * size))) * much
    length = math.sqrt(v[0] ** 2 + v[1] ** 2 + v[2] ** 2) or 1.0
    return tuple(c + push * c / length for c in v)  # type: ignore[return-value]


def rounded(line: Sequence[tuple[float, ...]], steps: int = 6, cut: float = 0.3) -> list[tuple[float, ...]]:
    """A line whose corners are cut as arcs (quadratic curves over `cut` of the shorter neighbour, 0.05 at most)."""
    points = [np.array(p, float) for p in line]
    out = [tuple(points[0])]
    for before, here, after in zip(points, points[1:], points[2:], strict=False):
        reach = min(0.05, cut * np.linalg.norm(before - here), cut * np.linalg.norm(after - here))
        a = here + (before - here) * reach / (np.linalg.norm(before - here) + 1e-9)
        b = here + (after - here) * reach / (np.linalg.norm(after - here) + 1e-9)
        out += [tuple((1 - t) ** 2 * a + 2 * t * (1 - t) * here + t * t * b) for t in np.linspace(0, 1, steps)]
    return [*out, tuple(points[-1])]


def smooth_line(points: Sequence[Point], steps: int = 8) -> Any:
    """A Catmull-Rom curve through the points, as rows."""
    p = np.array(points, float)
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    out = []
    for a, b, c, d in zip(p, p[1:], p[2:], p[3:], strict=False):
        for t in np.linspace(0, 1, steps, endpoint=False):
            out.append(
                0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
            )
    return np.array([*out, p[-2]])


def swept(
    points: Any, radius: Any, paint: Any, at: Point = (0, 0, 0), turn: Point = (0, 0, 0), *,
    steps: int = 14, flat: float = 1.0, curve: int = 8, smooth: bool = True,
) -> Object:  # fmt: skip
    """A tube along a smooth line; `radius` one number or one a point; `flat` presses it in z; round ends."""
    line = smooth_line(points, curve) if curve else np.array(points, float)
    given = np.atleast_1d(np.array(radius, float))
    widths = (
        np.interp(np.linspace(0, 1, len(line)), np.linspace(0, 1, len(given)), given)
        if len(given) > 1
        else np.full(len(line), given[0])
    )
    ahead = np.gradient(line, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1, keepdims=True) + 1e-9
    rows, side = [], np.array([0.0, 0.0, 1.0])
    if abs(ahead[0] @ side) > 0.9:
        side = np.array([0.0, 1.0, 0.0])
    ends = [(line[0] - ahead[0] * widths[0] * s, widths[0] * c) for s, c in ((0.95, 0.3), (0.7, 0.7))]
    tail = [(line[-1] + ahead[-1] * widths[-1] * s, widths[-1] * c) for s, c in ((0.7, 0.7), (0.95, 0.3))]
    stations = (
        [(p, w, ahead[0]) for p, w in ends]
        + list(zip(line, widths, ahead, strict=True))
        + [(p, w, ahead[-1]) for p, w in tail]
    )
    for place, width, direction in stations:
        side = side - direction * (side @ direction)
        side /= np.linalg.norm(side) + 1e-9
        other = np.cross(direction, side)
        for k in range(steps):
            a = 2 * math.pi * k / steps
            spread = (side * math.cos(a) + other * math.sin(a)) * width
            rows.append(place + spread * np.array([1, 1, flat]))
    faces: list[Any] = list(rows_of_quads(len(stations), steps, closed=True))
    faces += [tuple(range(steps)), tuple(range((len(stations) - 1) * steps, len(stations) * steps))]
    return from_points(rows, faces, paint, at, turn, smooth=smooth)


def spread(
    height: Callable[[float, float], Point], paint: Any, at: Point = (0, 0, 0), turn: Point = (0, 0, 0), *,
    across: int = 12, along: int = 24, thick: float = 0.0, subdivide: int = 0,
) -> Object:  # fmt: skip
    """A sheet: `height(u, v)` is the place of each u, v from 0 to 1."""
    grid = [(u, v) for v in np.linspace(0, 1, along) for u in np.linspace(0, 1, across)]
    faces = rows_of_quads(along, across, closed=False)
    return from_points(
        [height(u, v) for u, v in grid], faces, paint, at, turn, uv=grid, thick=thick, subdivide=subdivide
    )


def block(paint: Any, at: Point, size: Point, turn: Point | float = 0.0, *, bevel: float = 0.03) -> Object:
    x, y, z = (s / 2 for s in size)
    verts = [(i, j, k) for k in (-z, z) for j in (-y, y) for i in (-x, x)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    angle = (0.0, 0.0, turn) if isinstance(turn, (int, float)) else turn
    return from_points(verts, faces, paint, at, angle, bevel=bevel)


def cut_out(
    outline: Sequence[tuple[float, float]],
    depth: float,
    paint: Any,
    at: Point = (0, 0, 0),
    turn: Point = (0, 0, 0),
    *,
    bevel: float = 0.02,
) -> Object:
    """A flat outline given a depth upwards, its edges broken."""
    n = len(outline)
    verts = [(x, y, z) for z in (0.0, depth) for x, y in outline]
    faces: list[Any] = [tuple(reversed(range(n))), tuple(range(n, 2 * n))]
    faces += [(k, (k + 1) % n, n + (k + 1) % n, n + k) for k in range(n)]
    return from_points(verts, faces, paint, at, turn, bevel=bevel)


def pressed(
    size: tuple[float, float],
    profile: Sequence[tuple[float, float]],
    paint: Any,
    at: Point = (0, 0, 0),
    turn: float = 0.0,
    *,
    corner: float = 0.15,
) -> Object:
    """A rounded rectangle's rim of (how far inside, height), filled in the middle: trays, lids, plates."""
    line, rows = rounded(profile, 4), []
    for inset, z in line:
        w, h, r = size[0] / 2 - inset, size[1] / 2 - inset, max(corner - inset, 0.02)
        for cx, cy, start in ((w - r, h - r, 0), (-w + r, h - r, 90), (-w + r, -h + r, 180), (w - r, -h + r, 270)):
            for a in range(0, 91, 15):
                t = math.radians(start + a)
                rows.append((cx + r * math.cos(t), cy + r * math.sin(t), z))
    steps = 28
    faces: list[Any] = list(rows_of_quads(len(line), steps, closed=True))
    faces += [tuple(range((len(line) - 1) * steps, len(line) * steps))]
    return from_points(rows, faces, paint, at, (0, 0, turn), thick=0.0)


def grown(parts: list[Object], paint: Any, *, voxel: float = 0.04, soften: int = 6, subdivide: int = 1) -> Object:
    """Several meshes grown together into one skin; the parts are used up."""
    for one in bpy.data.objects:
        one.select_set(one in parts)
    bpy.context.view_layer.objects.active = parts[0]
    bpy.ops.object.join()
    whole = bpy.context.object
    melt = whole.modifiers.new("melt", "REMESH")
    melt.mode, melt.voxel_size, melt.use_smooth_shade = "VOXEL", voxel, True
    soft = whole.modifiers.new("soft", "SMOOTH")
    soft.factor, soft.iterations = 0.5, soften
    if subdivide:
        finer = whole.modifiers.new("finer", "SUBSURF")
        finer.levels = finer.render_levels = subdivide
    bpy.context.view_layer.update()
    fixed = bpy.data.meshes.new_from_object(whole.evaluated_get(bpy.context.evaluated_depsgraph_get()))
    whole.modifiers.clear()
    whole.data = fixed
    whole.data.shade_smooth()
    whole.data.materials.clear()
    whole.data.materials.append(paint)
    return whole


def egg_shaped(
    paint: Any,
    at: Point,
    size: Point,
    turn: Point = (0, 0, 0),
    *,
    lumps: float = 0.0,
    lump_size: float = 2.0,
    seed: float = 0.0,
) -> Object:
    """An ellipsoid with half axes `size`, dented by `lumps`."""
    around, down = FACES_OF_SPHERE
    verts = [
        (math.sin(b) * math.cos(a), math.sin(b) * math.sin(a), math.cos(b))
        for b in np.linspace(0.02, math.pi - 0.02, down)
        for a in np.linspace(0, 2 * math.pi, around, endpoint=False)
    ]
    if lumps:
        verts = [lumped(v, lumps, lump_size, seed) for v in verts]
    scaled = [(x * size[0], y * size[1], z * size[2]) for x, y, z in verts]
    faces: list[Any] = list(rows_of_quads(down, around, closed=True))
    faces += [tuple(range(around)), tuple(range((down - 1) * around, down * around))]
    return from_points(scaled, faces, paint, at, turn)

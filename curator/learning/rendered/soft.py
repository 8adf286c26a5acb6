"""Soft bodies: limbs of round cones that grow out of a trunk without a seam, cut into one mesh for each part."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from skimage.measure import marching_cubes

from curator.learning.rendered.kit import Point, Skin

Points = NDArray[np.floating[Any]]


class Cone(NamedTuple):
    """A capsule whose ends have radii of their own."""

    one: Point
    two: Point
    thick: float
    thin: float


class Limb(NamedTuple):
    """Cones that make one part; `blend` is how widely it flows into the trunk, in units."""

    part: int
    cones: list[Cone]
    blend: float


def chain(path: list[Point], radii: list[float]) -> list[Cone]:
    """Cones from point to point."""
    return [Cone(path[k], path[k + 1], radii[k], radii[k + 1]) for k in range(len(path) - 1)]


def _away(at: Points, cones: list[Cone]) -> Points:
    """(n,) distance of points to the nearest of the cones' surfaces, negative inside."""
    best = np.full(len(at), 1e3, at.dtype)
    for cone in cones:
        one, along = np.array(cone.one, at.dtype), np.subtract(cone.two, cone.one).astype(at.dtype)
        t = np.clip((at - one) @ (along / max(1e-9, float(along @ along))), 0, 1)
        gap = at - one - t[:, None] * along
        best = np.minimum(best, np.sqrt(np.einsum("ij,ij->i", gap, gap)) - cone.thick - t * (cone.thin - cone.thick))
    return best


def _joined(a: Points, b: Points, width: float) -> Points:
    """The smaller of two distances, rounded where they are nearly the same."""
    share = np.clip(0.5 + 0.5 * (b - a) / max(width, 1e-6), 0, 1)
    return np.asarray(b + (a - b) * share - width * share * (1 - share))


def soft(trunk: list[Cone], limbs: list[Limb], step: float) -> dict[int, Skin]:
    """One mesh for each limb's part and, under -1, for the trunk; `step` is the side of a cell in units."""
    ends = np.array([p for c in trunk + [c for limb in limbs for c in limb.cones] for p in (c.one, c.two)])
    most = max(max(c.thick, c.thin) for c in trunk + [c for limb in limbs for c in limb.cones])
    low, high = ends.min(0) - most - 2 * step, ends.max(0) + most + 2 * step
    axes = [np.arange(a, b + step, step, dtype=np.float32) for a, b in zip(low, high, strict=True)]
    shape = tuple(len(a) for a in axes)
    at = np.stack(np.meshgrid(*axes, indexing="ij"), -1).reshape(-1, 3)
    middle = _away(at, trunk)
    field = middle
    for limb in limbs:
        points = np.array([p for c in limb.cones for p in (c.one, c.two)])
        reach = most + limb.blend + 3 * step
        near = ((at > points.min(0) - reach) & (at < points.max(0) + reach)).all(1)
        field = field if field is not middle else middle.copy()
        field[near] = np.minimum(field[near], _joined(_away(at[near], limb.cones), middle[near], limb.blend))
    vertices, faces, normals, _ = marching_cubes(
        field.reshape(shape), 0, spacing=(step,) * 3, gradient_direction="ascent", allow_degenerate=False
    )
    vertices, faces, normals = _outward(vertices + low, faces, normals)
    return _shared_out(vertices, faces, normals, trunk, limbs)


def _outward(vertices: Any, faces: Any, normals: Any) -> tuple[Points, NDArray[np.int64], Points]:
    """Faces counter-clockwise from outside and normals that point out: versions of scikit-image differ in this."""
    a, b, c = (np.asarray(vertices, float)[faces[:, k]] for k in range(3))
    across = np.cross(b - a, c - a)
    if np.einsum("ij,ij->", a, across) < 0:  # six times the volume
        faces, across = faces[:, ::-1], -across
    agree = np.einsum("ij,ij->", np.asarray(normals, float)[faces[:, 0]], across)
    return np.asarray(vertices, float), np.asarray(faces, np.int64), np.asarray(normals * np.sign(agree), float)


def _shared_out(
    vertices: Points, faces: NDArray[np.int64], normals: Points, trunk: list[Cone], limbs: list[Limb]
) -> dict[int, Skin]:
    """Each face goes to the part it is nearest to."""
    at = vertices[faces].mean(1)
    away = np.stack([_away(at, trunk), *(_away(at, limb.cones) for limb in limbs)])
    owners = np.array([-1, *(limb.part for limb in limbs)])[away.argmin(0)]
    made = {}
    for part in np.unique(owners):
        own, numbers = np.unique(faces[owners == part], return_inverse=True)
        if (owners == part).sum() >= 4:
            made[int(part)] = Skin(vertices[own], numbers.reshape(-1, 3).astype(np.int64), normals[own])
    return made

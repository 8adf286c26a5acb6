"""A scene from a row: ground, things, clutter, camera, light; and where each counted thing lies in the picture."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from curator.learning.samples import clutter, garden, grounds, house, kitchen, lens, materials, room, workshop, worn
from curator.learning.samples.specs import Spec

BUILDERS: dict[str, Any] = {
    **kitchen.BUILDERS, **workshop.BUILDERS, **garden.BUILDERS, **worn.BUILDERS, "pane": house.pane,
}  # fmt: skip
SETS = {"kitchen": clutter.KITCHEN, "workshop": clutter.WORKSHOP, "garden": clutter.GARDEN}
Part = tuple[Any, int | None]  # an object, and the one of its slots that is meant (None for all of it)


@dataclass(frozen=True)
class Stage:
    """A scene that is ready: the parts of each counted thing, the camera, the middles' places (fractions)."""

    things: list[list[Part]]
    held: lens.Held
    dots: list[list[float]]


def _points(parts: list[Part]) -> Any:
    """The finished meshes' vertices in the world. (n, 3)"""
    graph, out = bpy.context.evaluated_depsgraph_get(), []
    for one, slot in parts:
        mesh = one.evaluated_get(graph).to_mesh()
        at = np.empty(len(mesh.vertices) * 3)
        mesh.vertices.foreach_get("co", at)
        at = at.reshape(-1, 3)
        if slot is not None:
            at = at[sorted({v for face in mesh.polygons if face.material_index == slot for v in face.vertices})]
        world = np.array(one.matrix_world)
        out.append(at @ world[:3, :3].T + world[:3, 3])
        one.evaluated_get(graph).to_mesh_clear()
    return np.vstack(out)


def _things(spec: Spec, chance: random.Random) -> list[list[Part]]:
    """Build what is counted; a builder that counts parts of its own gives them back."""
    things: list[list[Part]] = []
    for i, (x, y, turn) in enumerate(spec.places):
        jitter = 0.0 if spec.under or spec.builder in ("boot", "shoe", "mug", "spoon", "leaf", "hand") else 0.03
        colour = spec.colours[i % len(spec.colours)] if len(spec.colours) < 2 else chance.choice(spec.colours)
        before = set(bpy.data.objects)
        own = BUILDERS[spec.builder](x + chance.gauss(0, jitter), y + chance.gauss(0, jitter), turn, colour, chance)
        made = [part for part in bpy.data.objects if part not in before]
        for part in made:
            part.pass_index = i + 1
        if own is None:
            things.append([(part, None) for part in made])
        else:
            things += [[part if isinstance(part, tuple) else (part, None) for part in parts] for parts in own]
    return things


def _under(spec: Spec) -> None:
    spots = [(x, y) for x, y, _ in (spec.cups or spec.places)]
    if spec.under == "dice_uneven":
        grounds.dice([(-1.2, 0.0), (1.2, 0.0)])
    elif spec.under:
        grounds.UNDER[spec.under](spots)


def _middle(spec: Spec, at: Any) -> Any:
    """The middle of a thing's box; of a slender one (a leg) the point of it that is nearest to that."""
    middle = (at.min(0) + at.max(0)) / 2
    return at[((at - middle) ** 2).sum(1).argmin()] if spec.builder in ("legged_beetle", "hand", "moth") else middle


def _put_up(held: lens.Held, sharp: Any) -> None:
    """That camera in the scene, focused at a point, with a little depth of field."""
    data = bpy.data.cameras.new("camera")
    camera = bpy.data.objects.new("camera", data)
    bpy.context.collection.objects.link(camera)
    camera.matrix_world = Matrix.Translation(held.eye.tolist()) @ Matrix(held.turn.tolist()).to_4x4()
    data.lens, data.sensor_width = lens.LENS, 36
    data.dof.use_dof = True
    data.dof.focus_distance = float((held.eye - sharp) @ held.turn[:, 2])
    data.dof.aperture_fstop = lens.LENS / 1000 / (lens.APERTURE * data.dof.focus_distance)
    bpy.context.scene.camera = camera


def _litter(spec: Spec, held: lens.Held, boxes: list[Any], chance: random.Random) -> None:
    """One each of a few unlike things at the rim of the picture, clear of what is counted."""
    makers = list(SETS[spec.lies_about])
    chance.shuffle(makers)
    corners = [(0.07, 0.1), (0.94, 0.9), (0.93, 0.09), (0.07, 0.9)]
    chance.shuffle(corners)
    if not spec.places:
        corners = [(0.27, 0.3), (0.74, 0.27), (0.28, 0.76), (0.73, 0.74)]
    for make, (u, v) in zip(makers[: spec.odds], corners, strict=False):
        x, y = held.ground(u, v)
        for _ in range(60):
            if all(math.hypot(max(a[0] - x, 0, x - b[0]), max(a[1] - y, 0, y - b[1])) > 2.0 for a, b in boxes):
                break
            x, y = x * 1.04, y * 1.04 + 0.02 * (1 if y > 0 else -1)
        make((x, y), chance)
    if spec.crumbs:
        x, y = held.ground(chance.uniform(0.3, 0.7), 0.9)
        clutter.crumbs((x, y), chance)


def _sun(strength: float, chance: random.Random) -> None:
    data = bpy.data.lights.new("sun", "SUN")
    data.energy, data.angle, data.color = strength, math.radians(chance.uniform(2.5, 7)), (1.0, 0.9, 0.76)
    sun = bpy.data.objects.new("sun", data)
    bpy.context.collection.objects.link(sun)
    sun.rotation_euler = (
        math.radians(chance.uniform(38, 58)),
        0,
        math.radians(chance.choice([-1, 1]) * chance.uniform(115, 165)),
    )


def build(spec: Spec, seed: int, size: tuple[int, int]) -> Stage:
    """Set the scene in an empty file."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    materials.KEPT.clear()
    chance = random.Random(seed)
    things = _things(spec, chance)
    before = set(bpy.data.objects)
    _under(spec)
    under = [one for one in bpy.data.objects if one not in before]
    bpy.context.view_layer.update()
    clouds = [_points(parts) for parts in things]
    shown = [np.array([*cloud.min(0), *cloud.max(0)]) for cloud in clouds]
    corners = [
        np.array(p) for b in shown for p in np.stack(np.meshgrid(*zip(b[:3], b[3:], strict=True)), -1).reshape(-1, 3)
    ]
    points = np.array(corners) if corners else np.array([(-2, -1.5, 0), (2, 1.5, 0), (-2, 1.5, 0), (2, -1.5, 0)])
    off = (chance.uniform(-0.035, 0.035), chance.uniform(-0.03, 0.03) + spec.lower)
    held = lens.hold(points, spec.slant, spec.roll * chance.choice([-1, 1]), chance.gauss(0, 3), spec.fill, off, size)
    _put_up(held, points.mean(0))
    grounds.plain(spec.ground, chance)
    carried = [
        np.array(one.bound_box) @ np.array(one.matrix_world)[:3, :3].T + np.array(one.matrix_world)[:3, 3]
        for one in under
    ]
    boxes = [(b[:2], b[3:5]) for b in shown] + [
        (c.min(0)[:2], c.max(0)[:2]) for c in carried if np.ptp(c, axis=0).max() < 12
    ]
    _litter(spec, held, boxes, chance)
    for k, one in enumerate(bpy.data.objects):
        one.pass_index = one.pass_index or 100 + k
    room.light("outdoors" if spec.light in ("garden", "shade") else "indoors", seed, 1.0)
    if spec.light in ("sun", "garden"):
        _sun(2.2 if spec.light == "sun" else 3.5, chance)
    dots = lens.bent(held.seen([_middle(spec, cloud) for cloud in clouds]), size) if clouds else []
    return Stage(things, held, [[round(float(x), 4), round(float(y), 4)] for x, y in dots])

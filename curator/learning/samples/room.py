"""The picture of a room that lights a scene: painted here, floor to ceiling, in light that is brighter than white."""

from __future__ import annotations

import math
import random
from typing import Any

import bpy
import numpy as np

WIDE, HIGH = 512, 256


def _noise(chance: np.random.Generator, cells: int) -> Any:
    """Soft noise of 0 to 1 over the picture, the same at both ends."""
    rough = chance.random((cells // 2 + 1, cells))
    rough = np.hstack([rough, rough[:, :1]])
    rows, columns = np.linspace(0, cells // 2, HIGH), np.linspace(0, cells, WIDE)
    r, c = np.minimum(rows.astype(int), cells // 2 - 1), np.minimum(columns.astype(int), cells - 1)
    fr, fc = (rows - r)[:, None], (columns - c)[None]
    fr, fc = fr * fr * (3 - 2 * fr), fc * fc * (3 - 2 * fc)
    top = rough[r][:, c] * (1 - fc) + rough[r][:, c + 1] * fc
    low = rough[r + 1][:, c] * (1 - fc) + rough[r + 1][:, c + 1] * fc
    return top * (1 - fr) + low * fr


def _box(around: Any, up: Any, middle: float, low: float, high: float, half: float) -> Any:
    """Where a box on the wall lies: `around` and `up` in degrees."""
    off = np.abs((around - middle + 180) % 360 - 180)
    return (off < half) & (up > low) & (up < high)


def _garden(up: Any, noise: Any) -> Any:
    """What a window shows, by height in degrees: sky over trees over a lawn. (h, w, 3)"""
    sky = np.array([0.75, 0.9, 1.15]) * (1.0 + 0.5 * noise[..., None])
    trees = np.array([0.12, 0.2, 0.06]) * (0.4 + 1.6 * noise[..., None] ** 2)
    edge = np.clip((up - 10 - 14 * (noise - 0.5)) / 4, 0, 1)[..., None]
    return sky * edge + trees * (1 - edge)


def indoors(seed: int) -> Any:
    """A room with one large window, one small, a lamp, a door, shelves. (h, w, 3) radiance; row 0 is straight down."""
    chance, pick = np.random.default_rng(seed), random.Random(seed)
    up = np.linspace(-90, 90, HIGH)[:, None] + np.zeros((1, WIDE))
    around = np.linspace(0, 360, WIDE)[None] + np.zeros((HIGH, 1))
    soft, fine = _noise(chance, 12), _noise(chance, 60)
    wall = np.array(pick.choice([(0.5, 0.46, 0.4), (0.42, 0.46, 0.46), (0.52, 0.5, 0.47)]))
    picture = wall * (0.55 + 0.5 * soft + 0.1 * fine)[..., None]
    ceiling = np.clip((up - 38) / 3, 0, 1)[..., None]
    floor = np.clip((-22 - up) / 3, 0, 1)[..., None]
    picture = picture * (1 - ceiling) + ceiling * np.array([0.72, 0.7, 0.66]) * (0.8 + 0.3 * soft[..., None])
    picture = picture * (1 - floor) + floor * np.array([0.16, 0.1, 0.06]) * (0.6 + 0.8 * fine[..., None])
    for _ in range(9):
        place, half = pick.uniform(0, 360), pick.uniform(4, 16)
        low = pick.choice([-25, -25, 5])
        shelf = _box(around, up, place, low, low + pick.uniform(12, 38), half)
        picture[shelf] *= np.array([pick.uniform(0.15, 0.9) for _ in range(3)])
    main = pick.uniform(95, 175)
    for place, half, light in ((main, 26.0, 13.0), (main + pick.uniform(110, 200), 10.0, 6.0)):
        frame = _box(around, up, place, 0, 44, half + 2.5)
        picture[frame] = np.array([0.8, 0.78, 0.74])
        open_ = (
            _box(around, up, place, 2, 42, half) & ~_box(around, up, place, -90, 90, 0.9) & ~((up > 21) & (up < 22.4))
        )
        picture[open_] = (_garden(up, 0.6 * soft + 0.4 * fine) * light)[open_]
    lamp = pick.uniform(0, 360)
    away = np.hypot(((around - lamp + 180) % 360 - 180) * np.cos(np.radians(up)), up - 62)
    picture += (np.clip(1 - away / 6, 0, 1) ** 0.5 * 14)[..., None] * np.array([1.0, 0.78, 0.5])
    return picture


def outdoors(seed: int) -> Any:
    """A garden under a bright overcast sky: house wall on one side, hedge, trees. (h, w, 3) radiance."""
    chance, pick = np.random.default_rng(seed), random.Random(seed)
    up = np.linspace(-90, 90, HIGH)[:, None] + np.zeros((1, WIDE))
    around = np.linspace(0, 360, WIDE)[None] + np.zeros((HIGH, 1))
    soft, fine = _noise(chance, 14), _noise(chance, 90)
    clouds = np.clip(soft * 1.6 - 0.3, 0, 1)[..., None]
    sky = (np.array([0.55, 0.75, 1.1]) * (1 - clouds) + clouds * np.array([1.25, 1.22, 1.18])) * (
        0.8 + 0.012 * np.maximum(up, 0)
    )[..., None]
    ground = np.array([0.16, 0.17, 0.08]) * (0.5 + fine[..., None])
    trees = np.array([0.07, 0.12, 0.035]) * (0.3 + 1.9 * fine[..., None])
    line = 12 + 26 * (_noise(chance, 26) - 0.3)
    picture = np.where((up > line)[..., None], sky, np.where((up > -4)[..., None], trees, ground))
    house = _box(around, up, pick.uniform(230, 310), -90, 48, 48)
    picture[house] = (np.array([0.5, 0.42, 0.34]) * (0.7 + 0.4 * fine[..., None]))[house]
    sun = pick.uniform(100, 170)
    away = np.hypot(((around - sun + 180) % 360 - 180) * math.cos(math.radians(48)), up - 48)
    return picture + (np.exp(-((away / 9) ** 2)) * 32)[..., None] * np.array([1.0, 0.93, 0.82])


def light(kind: str, seed: int, strength: float = 1.0) -> None:
    """Put that room round the scene."""
    picture = (outdoors if kind == "outdoors" else indoors)(seed).astype(np.float32)
    image = bpy.data.images.new("room", WIDE, HIGH, float_buffer=True)
    image.colorspace_settings.name = "Linear Rec.709"
    image.pixels.foreach_set(np.dstack([picture, np.ones((HIGH, WIDE, 1), np.float32)]).astype(np.float32).ravel())
    image.pack()
    world = bpy.data.worlds.new("room")
    bpy.context.scene.world = world
    world.use_nodes = True
    nodes, links = world.node_tree.nodes, world.node_tree.links
    seen = nodes.new("ShaderNodeTexEnvironment")
    seen.image = image
    links.new(seen.outputs[0], nodes["Background"].inputs[0])
    nodes["Background"].inputs[1].default_value = strength

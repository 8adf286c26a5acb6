"""A phone's camera: where it is held, what lies where in its picture, and what its lens and sensor do to the light."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

LENS = 29.0  # millimetres as of a 36 mm film; phones' main cameras: 24 to 28 (common practice), cropped a little
BARREL = 0.022  # how far a corner is drawn in, as a share of its distance from the middle
APERTURE = 0.014  # the lens's opening as a share of the distance to what is sharp


@dataclass(frozen=True)
class Held:
    """A camera that has been placed: its turn, its place, the picture's size in pixels."""

    turn: Any
    eye: Any
    size: tuple[int, int]

    def seen(self, points: Any) -> Any:
        """Places in the picture, before the lens bends them, as fractions from the left and the top. (n, 2)"""
        there = (np.atleast_2d(points) - self.eye) @ np.array(self.turn)
        f = LENS / 36 * max(self.size)
        return np.stack(
            [0.5 - f * there[:, 0] / there[:, 2] / self.size[0], 0.5 + f * there[:, 1] / there[:, 2] / self.size[1]], 1
        )

    def ground(self, u: float, v: float) -> tuple[float, float]:
        """The place on z = 0 that lies at a fraction of the picture."""
        f = LENS / 36 * max(self.size)
        ray = np.array(self.turn) @ np.array([(u - 0.5) * self.size[0] / f, (0.5 - v) * self.size[1] / f, -1.0])
        far = self.eye + ray * (-self.eye[2] / ray[2])
        return float(far[0]), float(far[1])


def _about(axis: str, degrees: float) -> Any:
    """A turn about x or z, counter-clockwise. (3, 3)"""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    rows = [(1, 0, 0), (0, c, -s), (0, s, c)] if axis == "x" else [(c, -s, 0), (s, c, 0), (0, 0, 1)]
    return np.array(rows, float)


def hold(
    points: Any, slant: float, roll: float, yaw: float, fill: float, off: tuple[float, float], size: tuple[int, int]
) -> Held:
    """The camera that shows the points over `fill` of the picture, `off` its middle by fractions; angles in degrees."""
    turn = _about("z", yaw) @ _about("x", slant) @ _about("z", roll)
    ahead, target = -turn[:, 2], np.mean(points, axis=0)
    distance = 12.0
    for _ in range(40):
        held = Held(turn, target - ahead * distance, size)
        seen = held.seen(points)
        low, high = seen.min(0), seen.max(0)
        middle, wide = (low + high) / 2 - 0.5 - np.array(off), (high - low).max() / fill
        f = LENS / 36 * max(size)
        target = (
            target
            + turn @ np.array([middle[0] * size[0] / f * distance, -middle[1] * size[1] / f * distance, 0.0]) * 0.7
        )
        distance *= 1 + (wide - 1) * 0.7
    return Held(turn, target - ahead * distance, size)


def _bend(x: Any, y: Any, aspect: float) -> tuple[Any, Any]:
    """Where a place in the finished picture was before the lens bent it (fractions)."""
    dx, dy = (x - 0.5) * aspect, y - 0.5
    wide = 1 + BARREL * ((dx * dx + dy * dy) / (0.25 * (aspect * aspect + 1)) - 1)
    return 0.5 + dx * wide / aspect, 0.5 + dy * wide


def bent(places: Any, size: tuple[int, int]) -> Any:
    """Where places of the straight picture lie in the finished one. (n, 2) fractions"""
    want, found = np.asarray(places, float), np.asarray(places, float).copy()
    for _ in range(12):
        x, y = _bend(found[:, 0], found[:, 1], size[0] / size[1])
        found += want - np.stack([x, y], 1)
    return found


def through(picture: Any, nearest: bool = False, grow: float = 1.0) -> Any:
    """The picture as the lens bends it; `grow` is the lens's other size for one of the colours."""
    h, w = picture.shape[:2]
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    u, v = _bend((x + 0.5) / w, (y + 0.5) / h, w / h)
    u, v = 0.5 + (u - 0.5) * grow, 0.5 + (v - 0.5) * grow
    how = cv2.INTER_NEAREST if nearest else cv2.INTER_CUBIC
    return cv2.remap(
        picture,
        (u * w - 0.5).astype(np.float32),
        (v * h - 0.5).astype(np.float32),
        how,
        borderMode=cv2.BORDER_REPLICATE,
    )


def develop(picture: Any, seed: int) -> Any:
    """What a phone makes of the light: bent, darker corners, a trace of colour fringe, grain, sharpening. uint8 BGR of float 0..1"""
    chance = np.random.default_rng(seed)
    h, w = picture.shape[:2]
    bands = [through(np.ascontiguousarray(picture[..., k]), grow=g) for k, g in ((0, 1.0006), (1, 1.0), (2, 0.9994))]
    made = np.dstack(bands)
    y, x = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j]
    made *= (1 - 0.16 * ((x * x + y * y) / 2) ** 1.4)[..., None]
    made *= np.array(
        [chance.uniform(0.955, 1.025), 1.0, chance.uniform(0.985, 1.035)]
    )  # white balance, never quite right
    grey = cv2.GaussianBlur(chance.normal(0, 1, (h, w)), (0, 0), 0.7) * 1.6
    tint = np.dstack([cv2.GaussianBlur(chance.normal(0, 1, (h, w)), (0, 0), 1.6) * 2.6 for _ in range(3)])
    dark = 1.25 - 0.75 * made.mean(2, keepdims=True)
    made = made + (grey[..., None] * 0.011 + tint * 0.006) * dark
    soft = cv2.GaussianBlur(made, (0, 0), 1.2)
    made = made + 0.45 * (made - soft)
    return (np.clip(made, 0, 1) * 255 + 0.5).astype(np.uint8)

"""Pictures for surfaces out of doors: walls, roofs, skies, and what a pane reflects; float32 RGB 0..255, square."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np

from curator.learning import paint

Rng = np.random.Generator
Picture = paint.Picture
SIDE = 256


def _rough(rng: Rng, picture: Picture, amount: float) -> Picture:
    return np.asarray(picture * (1 + amount * paint.noise(rng, picture.shape[:2], rough=0.8)[..., None]), np.float32)


def _courses(rng: Rng, tone: Picture, joint: Picture, rows: int, across: int, *, shift: bool, spread: float) -> Picture:
    """Bricks or slabs in courses, each a little different."""
    picture = np.empty((SIDE, SIDE, 3), np.float32)
    picture[:] = joint
    high, wide = SIDE / rows, SIDE / across
    gap = max(1, round(0.1 * high))
    for i in range(rows):
        off = wide / 2 * (i % 2) if shift else 0.0
        for j in range(-1, across + 1):
            top, left = round(i * high), round(j * wide + off)
            own = tone * (1 + rng.normal(0, spread)) * (1 + rng.normal(0, spread / 4, 3))
            picture[max(0, top) : round(top + high) - gap, max(0, left) : max(0, round(left + wide) - gap)] = own
    return picture


def brick(rng: Rng) -> Picture:
    tone = paint.hsv(rng.integers(0, 18), rng.uniform(0.25, 0.75), rng.uniform(0.35, 0.85))
    joint = paint.hsv(15, 0.1, rng.uniform(0.4, 0.85))
    return _rough(rng, _courses(rng, tone, joint, 16, 6, shift=True, spread=float(rng.uniform(0.04, 0.16))), 0.12)


def plaster(rng: Rng) -> Picture:
    picture = np.empty((SIDE, SIDE, 3), np.float32)
    picture[:] = paint.hsv(
        float(rng.choice([rng.integers(8, 30), rng.integers(0, 180)])), rng.beta(1.5, 4), rng.uniform(0.55, 1)
    )
    return _rough(rng, picture, float(rng.uniform(0.02, 0.14)))


def boards(rng: Rng) -> Picture:
    """Timber: boards that overlap, lying or standing."""
    tone = paint.muted(rng)
    picture = _courses(
        rng, tone, np.asarray(tone * 0.55, np.float32), int(rng.integers(7, 15)), 1, shift=False, spread=0.04
    )
    picture = _rough(rng, picture, 0.08)
    return picture if rng.random() < 0.7 else np.ascontiguousarray(picture.transpose(1, 0, 2))


def stone(rng: Rng) -> Picture:
    tone = paint.hsv(rng.integers(10, 30), rng.uniform(0.03, 0.3), rng.uniform(0.4, 0.9))
    return _rough(
        rng,
        _courses(rng, tone, np.asarray(tone * rng.uniform(0.6, 1.2), np.float32), 5, 3, shift=True, spread=0.08),
        0.2,
    )


def slabs(rng: Rng) -> Picture:
    """Flat panels as on newer buildings."""
    tone = paint.muted(rng)
    return _rough(rng, _courses(rng, tone, np.asarray(tone * 0.6, np.float32), 2, 2, shift=False, spread=0.02), 0.04)


def tiles(rng: Rng) -> Picture:
    """A roof of tiles or slates."""
    tone = paint.hsv(float(rng.choice([rng.integers(2, 14), 110])), rng.uniform(0.1, 0.6), rng.uniform(0.25, 0.7))
    return _rough(rng, _courses(rng, tone, np.asarray(tone * 0.5, np.float32), 12, 12, shift=True, spread=0.1), 0.15)


WALLS: tuple[Callable[[Rng], Picture], ...] = (brick, brick, plaster, plaster, plaster, boards, stone, slabs)


def wall(rng: Rng) -> Picture:
    return WALLS[int(rng.integers(len(WALLS)))](rng)


def leaves(rng: Rng, side: int = SIDE) -> Picture:
    """A thicket: light and dark leaves over each other."""
    tone = paint.hsv(rng.integers(28, 62), rng.uniform(0.35, 0.8), rng.uniform(0.3, 0.65))
    picture = np.empty((side, side, 3), np.float32)
    picture[:] = tone * 0.45
    for _ in range(260):
        at = tuple(int(v) for v in rng.integers(0, side, 2))
        own = tone * rng.uniform(0.45, 1.5)
        size = (int(rng.integers(3, 11)), int(rng.integers(2, 6)))
        cv2.ellipse(picture, at, size, float(rng.uniform(0, 180)), 0, 360, tuple(float(v) for v in own), -1)
    return picture


def sky(rng: Rng) -> Picture:
    """Blue to overcast, with clouds, and often trees or roofs at the foot."""
    blue = paint.hsv(rng.integers(98, 116), rng.uniform(0.05, 0.6), rng.uniform(0.7, 1.0))
    pale = np.asarray(blue * 0.4 + 150, np.float32)
    down = np.linspace(0, 1, SIDE, dtype=np.float32)[:, None, None]
    picture = blue * (1 - down) + pale * down
    cloud = np.clip(paint.noise(rng, (SIDE, SIDE), rough=0.6) * 2 - rng.uniform(-0.6, 1), 0, 1)[..., None]
    picture = picture * (1 - cloud) + 245 * cloud
    if rng.random() < 0.75:
        edge = SIDE * (0.98 - rng.uniform(0.02, 0.3)) - 14 * paint.noise(rng, (1, SIDE), rough=0.9)[0]
        below = np.arange(SIDE)[:, None] > edge[None]
        far = leaves(rng) if rng.random() < 0.7 else np.broadcast_to(paint.muted(rng), picture.shape)
        picture = np.where(below[..., None], far * 0.8 + 25, picture)
    return np.asarray(picture, np.float32)


def pane(rng: Rng) -> Picture:
    """What a pane shows: a dark room, the sky, trees or a roof line opposite, a bright streak."""
    down = np.linspace(0, 1, SIDE, dtype=np.float32)[:, None, None]
    dark = paint.hsv(rng.integers(95, 125), rng.uniform(0.05, 0.4), rng.uniform(0.06, 0.3))
    picture = dark * (1.25 - 0.5 * down) + np.zeros((SIDE, SIDE, 3), np.float32)
    if rng.random() < 0.55:
        picture = picture * 0.3 + sky(rng) * rng.uniform(0.3, 0.85)
    if rng.random() < 0.35:
        lean = np.linspace(-1, 1, SIDE, dtype=np.float32)[None] * rng.uniform(-1, 1) + 2 * down[..., 0] - 1
        streak = np.abs(lean - rng.uniform(-0.6, 0.6)) < rng.uniform(0.1, 0.4)
        picture = picture + streak[..., None] * np.float32(rng.uniform(10, 60))
    return _rough(rng, picture, 0.06)

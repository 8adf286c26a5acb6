"""Things without parts: photo cut-outs with jitter, and drawn solids."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning import material, paint
from curator.learning.drawn.board import Board, Drawer, Frame, Points

Rng = np.random.Generator


def circle(steps: int = 28, high: float = 1.0, wide: float = 1.0) -> Points:
    angle = np.linspace(0, 2 * np.pi, steps, endpoint=False)
    return np.stack([np.sin(angle) * high, np.cos(angle) * wide], 1)


def block(high: float, wide: float, corner: float = 0.15) -> Points:
    """A rectangle of half extents with rounded corners; corner as a share of the smaller one."""
    radius = corner * min(high, wide)
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([np.sign(s) * (high - radius) + s * radius, np.sign(c) * (wide - radius) + c * radius], 1)


def outline(rng: Rng) -> Points:
    """A closed outline in -1..1: round, box, polygon, star, bean, egg, capsule, drop, ring-like crescent or lumpy."""
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    names = ["round", "round", "box", "box", "poly", "star", "bean", "long", "egg", "drop", "lumpy", "cross"]
    kind = names[int(rng.integers(len(names)))]
    power = {"box": float(rng.uniform(3, 9)), "long": 4.0}.get(kind, 2.0)
    c, s = np.cos(angle), np.sin(angle)
    x, y = np.sign(c) * np.abs(c) ** (2 / power), np.sign(s) * np.abs(s) ** (2 / power)
    if kind in ("poly", "star", "cross"):
        corners = 4 if kind == "cross" else int(rng.integers(3, 8))
        wave = np.abs(((angle * corners / (2 * np.pi)) % 1) - 0.5) * 2
        wave = np.clip(wave * 2 - 0.4, 0, 1) if kind == "cross" else wave
        reach = 1 - (rng.uniform(0.05, 0.25) if kind == "poly" else rng.uniform(0.35, 0.6)) * (1 - wave)
        x, y = c * reach, s * reach
    elif kind == "egg":
        x = x * (1 + 0.2 * y)
    elif kind == "drop":
        x = x * (0.5 + 0.5 * y)
    elif kind == "bean":
        x = x + 0.4 * y**2 - 0.2
    elif kind == "lumpy":
        wave = sum(rng.normal(0, 0.13 / k) * np.cos(k * angle + rng.uniform(0, 6.28)) for k in range(2, 7))
        x, y = c * (1 + wave), s * (1 + wave)
    ratio = rng.uniform(0.12, 0.35) if kind == "long" else rng.uniform(0.6, 1.0)
    shape = np.stack([y, x * ratio], 1)
    return np.asarray(shape / np.abs(shape).max())


def solid(rng: Rng, shape: Points | None = None, *, alike: float = 1.0, tone: Any = None) -> Drawer:
    """A drawn thing: outline, surface, perhaps a mark on it (part of its look, not counted)."""
    own = outline(rng) if shape is None else shape
    style = paint.look(rng, tone=tone)
    mark = outline(rng) * rng.uniform(0.15, 0.5) if rng.random() < 0.3 else None
    mark_style = paint.look(rng, tone=paint.unlike(rng, style.tone), plain=True)
    lift, dark = float(rng.uniform(0.02, 0.16)), float(rng.uniform(0.25, 0.75))

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        warp = 1 + board.rng.normal(0, 0.02 * alike, own.shape)
        worn = paint.jittered(board.rng, style, alike)
        index = board.shape(
            frame.to(own * warp), worn, kind, shadow=dark, height=lift, at=(frame.row, frame.col), **truth
        )
        if mark is not None:
            board.shape(frame.to(mark), mark_style, layer=3)
        return index

    return draw


def ball(rng: Rng) -> Drawer:
    """A round thing with strong shading: fruit, bun, marble, ball."""
    tone = paint.hsv(
        rng.choice([rng.integers(0, 36), rng.integers(0, 180)]), rng.uniform(0.15, 0.95), rng.uniform(0.4, 1.0)
    )
    style = paint.Look(
        tone,
        bulge=float(rng.uniform(0.6, 1.1)),
        gloss=float(rng.uniform(0, 0.9)),
        grain=paint.grain(rng),
        pattern=int(rng.choice([0, 0, 0, 1, 2, 4])),
        second=paint.unlike(rng, tone),
        pitch=float(rng.uniform(2, 6)),
    )
    ratio, lump = float(rng.uniform(0.75, 1.0)), float(rng.choice([0.0, 0.02, 0.05]))
    stalk = paint.look(rng, tone=paint.hsv(rng.integers(10, 50), 0.6, 0.35), plain=True) if rng.random() < 0.4 else None

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        angle = np.linspace(0, 2 * np.pi, 32, endpoint=False)
        wave = sum(
            (board.rng.normal(0, lump / k) * np.cos(k * angle + board.rng.uniform(0, 6.28)) for k in range(2, 5)),
            np.zeros(32),
        )
        shape = np.stack([np.sin(angle) * (1 + wave), np.cos(angle) * ratio * (1 + wave)], 1)
        worn = paint.jittered(board.rng, style, 1.4)
        index = board.shape(frame.to(shape), worn, kind, shadow=0.6, height=0.1, at=(frame.row, frame.col), **truth)
        if stalk is not None:
            at = board.rng.uniform(-0.35, 0.35, 2)
            board.shape(frame.to(circle(8, 0.1, 0.1) + at), stalk, layer=3)
        return index

    return draw


def bun(rng: Rng) -> Drawer:
    """Something baked: a rough crust, a paler rim, crumbs on top; each a little different."""
    tone = paint.hsv(rng.integers(8, 24), rng.uniform(0.35, 0.85), rng.uniform(0.4, 0.95))
    rough = paint.noise(rng, (paint.GRAIN, paint.GRAIN), rough=0.95) * np.float32(rng.uniform(0.2, 0.5))
    base = paint.Look(
        np.minimum(tone * 1.15, 255).astype(np.float32), bulge=0.8, bevel=0.4, grain=rough * np.float32(0.5)
    )
    top = paint.Look(tone * float(rng.uniform(0.55, 0.95)), bulge=0.6, grain=rough, gloss=float(rng.uniform(0, 0.3)))
    crumb = paint.Look(paint.unlike(rng, tone, 50), bulge=0.7)
    crumbs, ratio = int(rng.choice([0, 0, 4, 9])), float(rng.uniform(0.6, 1.0))

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        angle = np.linspace(0, 2 * np.pi, 36, endpoint=False)
        wave = sum(
            (board.rng.normal(0, 0.08 / k) * np.cos(k * angle + board.rng.uniform(0, 6)) for k in range(2, 7)),
            np.zeros(36),
        )
        shape = np.stack([np.sin(angle), np.cos(angle) * ratio], 1) * (0.95 + wave[:, None])
        at = (frame.row, frame.col)
        index = board.shape(frame.to(shape), paint.jittered(board.rng, base, 1.5), kind, shadow=0.6, at=at, **truth)
        board.shape(frame.to(shape * board.rng.uniform(0.7, 0.85)), paint.jittered(board.rng, top, 1.5), layer=3)
        for spot in board.rng.uniform(-0.5, 0.5, (crumbs, 2)):
            board.shape(frame.to(circle(8, 0.07, 0.07) + spot), crumb, layer=3)
        return index

    return draw


def _hue_shift(picture: NDArray[np.uint8], shift: int) -> NDArray[np.uint8]:
    hsv = cv2.cvtColor(np.ascontiguousarray(picture[..., :3]), cv2.COLOR_RGB2HSV)
    hsv[..., 0] = (hsv[..., 0].astype(int) + shift) % 180
    return np.dstack([cv2.cvtColor(hsv, cv2.COLOR_HSV2RGB), picture[..., 3]])


def _cut_out(pictures: list[NDArray[np.uint8]], rng: Rng) -> Drawer:
    dark, lift = float(rng.uniform(0.2, 0.6)), float(rng.uniform(0.02, 0.12))
    spread, feather = float(rng.uniform(0.02, 0.1)), float(rng.choice([0.0, 0.0, 0.7, 1.1]))

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        picture = pictures[int(board.rng.integers(len(pictures)))]
        gain = np.exp(board.rng.normal(0, spread) + board.rng.normal(0, spread * 0.4, 3)).astype(np.float32)
        return board.sprite(picture, frame, kind, shadow=dark, height=lift, gain=gain, feather=feather, **truth)

    return draw


def sprite(rng: Rng, *, mixed: bool = False, real: bool = False) -> Drawer:
    """A cut-out; `mixed` draws a different one of the same sort each time. A solid where there is no material."""
    packed = material.pack()
    if packed is None or not packed.indices("sprite"):
        return ball(rng) if rng.random() < 0.5 else solid(rng)
    prefix = "real" if real or rng.random() < 0.35 else str(rng.choice(["stamp", "emoji", "toon"], p=[0.62, 0.3, 0.08]))
    choices = packed.indices("sprite", prefix) or packed.indices("sprite")  # packed without photos, say
    first = choices[int(rng.integers(len(choices)))]
    alike = packed.indices("sprite", packed.group[first])
    if mixed and len(alike) > 1:
        return _cut_out([packed.picture(int(i)) for i in rng.permutation(alike)[:8]], rng)
    picture = packed.picture(first)
    return _cut_out([_hue_shift(picture, int(rng.integers(0, 180))) if rng.random() < 0.3 else picture], rng)


def unlike_solids(rng: Rng) -> Drawer:
    """One sort, each with a colour or pattern of its own (painted eggs, crayons, cups)."""
    shape, style = outline(rng), paint.look(rng)
    patterned = rng.random() < 0.5

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        own = paint.look(board.rng) if patterned else paint.replace(style, tone=paint.colour(board.rng))
        return board.shape(frame.to(shape), own, kind, shadow=0.5, at=(frame.row, frame.col), **truth)

    return draw

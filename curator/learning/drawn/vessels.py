"""Mugs, bottles, shoes and slim things: whole things seen from the side."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn.board import PART, SPOT, Board, Drawer, Frame
from curator.learning.drawn.simple import block, circle

Rng = np.random.Generator


def mug(rng: Rng) -> Drawer:
    """A mug from the side with its handle (left aside): mirrored where the frame is flipped."""
    style = paint.look(rng)
    inner = paint.Look(style.tone * 0.5, bulge=-0.3)
    lip = float(rng.uniform(0.0, 0.25))

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        angle = np.linspace(-1.6, 1.6, 12)
        path = frame.to(np.stack([np.sin(angle) * 0.42, 0.52 + np.cos(angle) * 0.4], 1))
        body = np.array([(-0.85, -0.7), (-0.85, 0.6), (0.7, 0.55), (0.85, 0.45), (0.85, -0.55), (0.7, -0.65)])
        handle = board.stroke(path, (0.15 * frame.scale,) * 2, style, board.kind("handle"), level=PART, aside=True)
        index = board.shape(
            frame.to(body), paint.jittered(board.rng, style), kind, shadow=0.4, at=(frame.row, frame.col), **truth
        )
        board.rows[handle]["parent"] = index
        if lip:
            board.shape(frame.to(circle(20, lip * 0.6, 0.65) + (-0.85, -0.05)), inner, layer=SPOT)
        return index

    return draw


def bottle(rng: Rng) -> Drawer:
    """A bottle, jar or vase: a turned outline with a cap and a label with text-like marks."""
    neck, shoulder, wide = float(rng.uniform(0.08, 0.22)), float(rng.uniform(-0.5, -0.1)), float(rng.uniform(0.24, 0.5))
    profile = np.array(
        [
            (-0.95, neck),
            (shoulder - 0.2, neck),
            (shoulder, wide * 0.8),
            (shoulder + 0.15, wide),
            (0.9, wide),
            (0.96, wide * 0.85),
        ]
    )
    profile[1:4, 1] *= rng.uniform(0.85, 1.15, 3)
    shape = np.concatenate([profile, (profile * (1, -1))[::-1]])
    style = paint.Look(
        paint.colour(rng), bulge=float(rng.uniform(0.4, 1.0)), gloss=float(rng.uniform(0, 0.9)), grain=paint.grain(rng)
    )
    cap, label = paint.look(rng, plain=True), paint.look(rng)
    unlike, labelled = rng.random() < 0.3, rng.random() < 0.6

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        own = paint.replace(style, tone=paint.colour(board.rng)) if unlike else paint.jittered(board.rng, style)
        index = board.shape(frame.to(shape), own, kind, shadow=0.45, height=0.06, at=(frame.row, frame.col), **truth)
        board.shape(frame.to(block(0.08, neck * 1.15, 0.2) + (-0.9, 0)), cap, layer=SPOT)
        if labelled:
            board.shape(frame.to(block(0.25, wide * 0.98, 0.05) + (shoulder + 0.6, 0)), label, layer=SPOT)
        return index

    return draw


def shoe(rng: Rng) -> Drawer:
    """A shoe or boot sole-down from above or the side; a left one and, flipped, a right one."""
    style, trim = paint.look(rng), paint.look(rng, plain=True)
    angle = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    r, c = np.sin(angle), np.cos(angle)
    sole = np.stack([r * 0.95, c * (0.36 - 0.08 * np.cos(2.4 * r)) + 0.12 * r**2 * np.sign(-r) * 0.8], 1)
    boot = np.array([(-0.95, -0.35), (-0.95, 0.15), (0.2, 0.2), (0.45, 0.75), (0.75, 0.85), (0.9, 0.8), (0.9, -0.4)])
    shape = sole if rng.random() < 0.6 else boot
    laced = rng.random() < 0.5

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        index = board.shape(
            frame.to(shape), paint.jittered(board.rng, style), kind, shadow=0.55, at=(frame.row, frame.col), **truth
        )
        if shape is sole:
            board.shape(
                frame.to(circle(24, 0.36, 0.2) + (0.45, 0.02)), paint.replace(trim, tone=trim.tone * 0.4), layer=SPOT
            )
        else:
            board.shape(frame.to(block(0.07, 0.62, 0.2) + (0.9, 0.2)), trim, layer=SPOT)
        if laced and shape is sole:
            for k in range(4):
                board.stroke(
                    frame.to([(-0.3 + 0.13 * k, -0.15), (-0.25 + 0.13 * k, 0.15)]),
                    (0.05 * frame.scale,) * 2,
                    trim,
                    layer=SPOT,
                )
        return index

    return draw


def slim(rng: Rng) -> Drawer:
    """Pencil, candle, pole, spoon or brush: long and thin, along its frame's rows."""
    wide, kind_of = float(rng.uniform(0.035, 0.13)), int(rng.integers(0, 5))
    style, tip = paint.look(rng), paint.look(rng, plain=True)
    unlike = rng.random() < 0.35

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        own = paint.replace(style, tone=paint.colour(board.rng)) if unlike else paint.jittered(board.rng, style)
        if kind_of == 0:  # a pencil with a point
            shape = np.array([(-0.97, 0), (-0.78, wide), (0.95, wide), (0.95, -wide), (-0.78, -wide)])
        elif kind_of == 1:  # a spoon
            a = np.linspace(-2.7, 2.7, 24)
            bowl = np.stack([-0.7 - 0.26 * np.cos(a), 0.19 * np.sin(a)], 1)
            shape = np.concatenate(
                [[(0.95, -wide * 0.8), (-0.4, -wide * 0.4)], bowl[::1], [(-0.4, wide * 0.4), (0.95, wide * 0.8)]]
            )
        else:
            shape = block(0.95, wide, 0.5 if kind_of == 2 else 0.1)
        index = board.shape(frame.to(shape), own, kind, shadow=0.5, height=0.03, at=(frame.row, frame.col), **truth)
        if kind_of == 0:
            board.shape(frame.to([(-0.97, 0), (-0.9, wide * 0.37), (-0.9, -wide * 0.37)]), tip, layer=SPOT)
            board.shape(frame.to(block(0.06, wide, 0.1) + (0.9, 0)), tip, layer=SPOT)
        elif kind_of == 3:  # a candle's flame
            board.shape(
                frame.to(circle(12, 0.12, 0.05) + (-1.1, 0)),
                paint.Look(np.array([255, 200, 80], np.float32), bulge=0.4),
                layer=SPOT,
            )
        return index

    return draw

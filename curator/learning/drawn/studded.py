"""Wholes that carry repeated parts: toppings on a plate, spots on a body, wheels under a cart, legs under a seat."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn import made, places, simple
from curator.learning.drawn.arrange import clutter, marks
from curator.learning.drawn.board import DETAIL, HOLDER, PART, Board, Drawer, Frame
from curator.learning.drawn.simple import block, circle
from curator.learning.scene import Scene

Rng = np.random.Generator
Spots = list[tuple[float, float, int]]  # row, col in -1..1, side


def _start(rng: Rng, size: int, **seen: Any) -> Board:
    board = Board.new(rng, size, **seen)
    marks(board)
    clutter(board, most=3)
    return board


def _spots(rng: Rng, n: int) -> tuple[Spots, float]:
    """Places on one whole and their room: mirrored, in two columns, round, or thrown."""
    sort = int(rng.integers(0, 4)) if n % 2 == 0 else 3
    if sort == 0:
        half = places.scatter(rng, n // 2, wide=0.8).places
        right = [((r - 0.5) * 1.5, 0.12 + (c - 0.1) * 0.68) for r, c, _, _ in half]
        return [(r, c, 2) for r, c in right] + [(r, -c, 1) for r, c in right], 0.55 / np.sqrt(n)
    if sort == 1:
        step = 1.5 / max(1, n // 2)
        out = rng.uniform(0.25, 0.5)
        return [((k - (n // 2 - 1) / 2) * step, s * out, 1 + (s > 0)) for s in (-1, 1) for k in range(n // 2)], float(
            min(step / 2, out * 0.9)
        )
    layout = places.ring(rng, n) if sort == 2 else places.scatter(rng, n, wide=0.75)
    return [((r - 0.5) * 1.6, (c - 0.5) * 1.6, s) for r, c, _, s in layout.places], layout.room * 1.5


def _part(rng: Rng, ground: paint.Picture) -> Drawer:
    """Something small enough to sit on a whole."""
    if rng.random() < 0.25:
        return simple.sprite(rng)
    if rng.random() < 0.3:
        return (simple.ball, made.knob, made.plate)[int(rng.integers(0, 3))](rng)
    shape = circle(20) if rng.random() < 0.5 else simple.outline(rng)
    return simple.solid(rng, shape, alike=0.6, tone=paint.unlike(rng, ground, 60))


def studded(rng: Rng, size: int) -> Scene:
    """One to six alike wholes, each with the same parts on it."""
    board = _start(rng, size, zoom=(0.8, 1.2))
    wholes = int(rng.choice([1, 1, 1, 2, 2, 3, 4, 6]))
    layout = {1: places.Layout([(0.5, 0.5, float(rng.normal(0, 0.4)), 0)], 0.44), 2: places.beside(rng)}.get(wholes)
    layout = layout or places.rows(rng, (wholes // 2,) * 2 if wholes % 2 == 0 else (wholes,))
    shape = (circle(36), block(0.95, float(rng.uniform(0.6, 0.95)), float(rng.uniform(0.1, 0.6))))[
        int(rng.integers(0, 2))
    ]
    style = paint.look(rng, plain=rng.random() < 0.8)
    draw = _part(rng, style.tone)
    n = int(rng.integers(2, 13 if wholes == 1 else 7))
    spots, room = _spots(rng, n)
    extent = room * float(rng.uniform(0.45, 0.85))
    own_turn = rng.uniform(0, 6.28)
    for row, col, turn, side in layout.places:
        frame = Frame(row, col, min(layout.room, 0.44) * float(rng.uniform(0.85, 0.95)), turn)
        body = board.shape(
            frame.to(shape), paint.jittered(rng, style), board.kind("whole"), layer=HOLDER, shadow=0.5, side=side
        )
        for r, c, part_side in spots if wholes < 3 or rng.random() < 0.85 else spots[:-1]:
            at = frame.inner(r * 0.82, c * (0.82 if shape[:, 1].max() > 0.9 else 0.55), extent, own_turn)
            draw(board, at, board.kind("part"), layer=DETAIL, level=PART, parent=body, side=part_side)
    return board.done("studded", main="part" if wholes == 1 else None)


def stool(rng: Rng, size: int) -> Scene:
    """A seat, table or animal-like body on legs, or a cart on wheels, from the side."""
    board = _start(rng, size, upright=True, slant=0.0)
    n, wheels = int(rng.choice([2, 2, 3, 4, 4, 5, 6])), rng.random() < 0.4
    frame = Frame(0.5, 0.5, float(rng.uniform(0.28, 0.44)), rng.normal(0, 0.04))
    style, limb = paint.look(rng), paint.look(rng, plain=True)
    wide, thick, splay = float(rng.uniform(0.5, 0.95)), float(rng.uniform(0.05, 0.4)), float(rng.uniform(-0.02, 0.25))
    body = board.shape(
        frame.to(block(thick, wide, 0.4) + (-0.3, 0)), style, board.kind("body"), layer=HOLDER, shadow=0.5
    )
    gap = 1.7 * wide / max(1, n - 1)
    reach = min(0.36, gap * 0.42)
    width = min(0.2, gap * 0.5) * float(rng.uniform(0.4, 1.0)) * frame.scale
    for k in range(n):
        t = k - (n - 1) / 2
        truth: dict[str, Any] = {"layer": DETAIL, "level": PART, "parent": body, "side": 0 if n % 2 else 1 + int(t > 0)}
        if wheels:
            hub = frame.inner(-0.3 + thick, t * gap, reach)
            wheel = board.shape(hub.to(circle(28)), limb, board.kind("wheel"), shadow=0.4, **truth)
            board.shape(hub.to(circle(14, 0.3, 0.3)), style, layer=3, parent=wheel)
        else:
            foot = (-0.3 + thick + rng.uniform(0.75, 0.85), t * gap * (1 + splay))
            path = [(-0.32 + thick, t * gap), (-0.3 + thick + 0.4, t * gap * (1 + splay / 2)), foot]
            board.stroke(
                frame.to(path),
                (width, width * 0.9, width * 0.7),
                limb,
                board.kind("leg"),
                shadow=0.3,
                height=0.03,
                **truth,
            )
    return board.done("stool", main="wheel" if wheels else "leg")

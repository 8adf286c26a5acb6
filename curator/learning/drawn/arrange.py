"""Whole things laid out: scattered, rows, lattices, rings, heaps, mirrored, groups, two large ones, unlike looks."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn import made, places, simple, vessels
from curator.learning.drawn.board import Board, Drawer, Frame
from curator.learning.drawn.places import Layout
from curator.learning.scene import Scene

Rng = np.random.Generator


def clutter(board: Board, *, most: int = 4, before: bool = True) -> None:
    """Unlike things that stand about; each has a kind of its own."""
    rng = board.rng
    for k in range(int(rng.integers(0, most + 1))):
        edge = rng.uniform(-0.05, 0.16)
        at = [edge if rng.random() < 0.5 else 1 - edge, rng.uniform(0, 1)]
        at = at if rng.random() < 0.5 else at[::-1]
        extent = float(np.exp(rng.uniform(np.log(0.02), np.log(0.14 if before else 0.08))))
        made.thing(rng, plain=True)(
            board, Frame(at[0], at[1], extent, rng.uniform(0, 6.28)), board.kind(f"odd{k}{before}")
        )


def marks(board: Board) -> None:
    """Text-like rows of small strokes that nobody counts."""
    rng = board.rng
    if rng.random() < 0.75:
        return
    ink = paint.Look(paint.colour(rng) * 0.5, flat=True)
    at, size = rng.uniform(0.02, 0.95, 2), rng.uniform(0.006, 0.02)
    for line in range(int(rng.integers(1, 4))):
        for k in range(int(rng.integers(5, 14))):
            shape = (
                simple.block(size * rng.uniform(0.5, 1), size * rng.uniform(0.15, 0.5), 0.1)
                + at
                + (line * size * 3, k * size * 1.4)
            )
            board.shape(shape, ink, layer=0)


def lay(
    board: Board,
    draw: Drawer,
    layout: Layout,
    name: str = "thing",
    *,
    fill: tuple[float, float] = (0.55, 1.0),
    turning: str = "any",
    vary: float = 0.06,
    other: Drawer | None = None,
) -> list[int]:
    """Things at the layout's places; `turning`: any, none, each its own; `other` draws the second half."""
    rng = board.rng
    common = rng.uniform(0, 6.28) if turning == "any" and rng.random() < 0.4 else 0.0
    extent = layout.room * rng.uniform(*fill)
    indices = []
    for row, col, turn, side in layout.places:
        own = rng.uniform(0, 6.28) if turning == "each" else 0.0 if turning == "none" else turn + common
        scale = min(extent, 0.32) * float(np.exp(rng.normal(0, vary)))
        own_draw = other if other is not None and side == 2 else draw
        indices.append(own_draw(board, Frame(row, col, scale, own), board.kind(name), side=side))
    return indices


def _second(board: Board, draw: Drawer | None = None) -> None:
    """A second kind of a few smaller things at the edges."""
    rng = board.rng
    if rng.random() > 0.3:
        return
    draw = draw or made.thing(rng, plain=True)
    n, extent = int(rng.integers(2, 5)), rng.uniform(0.025, 0.06)
    for k in range(n):
        along = 0.1 + 0.8 * (k + rng.uniform(0.2, 0.8)) / n
        edge = float(rng.choice([0.03, 0.97])) + rng.normal(0, 0.015)
        place = (along, edge) if rng.random() < 0.5 else (edge, along)
        draw(board, Frame(*place, extent, rng.uniform(0, 6.28)), board.kind("second"))


def _start(rng: Rng, size: int, **seen: Any) -> Board:
    board = Board.new(rng, size, **seen)
    marks(board)
    clutter(board)
    return board


def _finish(board: Board, family: str) -> Scene:
    _second(board)
    return board.done(family, main="thing")


def scattered(rng: Rng, size: int) -> Scene:
    board = _start(rng, size)
    n = int(rng.choice([2 * places.half(rng), places.odd(rng)]))
    lay(board, made.thing(rng), places.scatter(rng, n), turning=str(rng.choice(["each", "any", "none"])), vary=0.12)
    return _finish(board, "scattered")


def _two_looks(rng: Rng) -> tuple[Drawer, Drawer | None]:
    """A drawer, and now and then one of the same shape in another colour for the second half."""
    if rng.random() < 0.75:
        return made.thing(rng), None
    shape = simple.outline(rng)
    return simple.solid(rng, shape), simple.solid(rng, shape)


def two_rows(rng: Rng, size: int) -> Scene:
    board = _start(rng, size)
    n = places.half(rng)
    uneven = rng.random() < 0.22
    counts = (n, n + int(rng.choice([1, 1, 2]))) if uneven else (n, n)
    draw, other = _two_looks(rng)
    lay(board, draw, places.rows(rng, counts), other=other)
    return _finish(board, "two rows")


def one_row(rng: Rng, size: int) -> Scene:
    board = _start(rng, size, zoom=(0.8, 1.1))
    n = int(rng.integers(2, 10))
    layout = places.rows(rng, (n,))
    if n % 2 == 0:
        layout = Layout([(r, c, t, 1 + (k >= n / 2)) for k, (r, c, t, _) in enumerate(layout.places)], layout.room)
    lay(board, vessels.slim(rng) if rng.random() < 0.3 else made.thing(rng), layout)
    return _finish(board, "one row")


def lattice(rng: Rng, size: int) -> Scene:
    board = _start(rng, size)
    high, wide = int(rng.integers(2, 5)), int(rng.integers(2, 7))
    missing = int(rng.choice([0, 0, 0, 1, 1, 2]))
    lay(
        board,
        made.thing(rng, plain=high * wide > 12),
        places.grid(rng, high, wide, missing=min(missing, high * wide - 2)),
        vary=0.03,
    )
    return _finish(board, "lattice")


def ring(rng: Rng, size: int) -> Scene:
    board = _start(rng, size)
    lay(board, made.thing(rng, plain=True), places.ring(rng, int(rng.integers(3, 13))))
    return _finish(board, "ring")


def heap(rng: Rng, size: int) -> Scene:
    """Touching, hiding things: round ones above all."""
    board = _start(rng, size, zoom=(0.85, 1.35))
    n = int(rng.integers(2, 15))
    if rng.random() < 0.5:
        room = made.plate(rng)
        room(board, Frame(0.5, 0.5, 0.5), board.kind("dish"), layer=0)
    draw = (
        simple.ball(rng)
        if rng.random() < 0.5
        else simple.sprite(rng, mixed=rng.random() < 0.3)
        if rng.random() < 0.7
        else made.thing(rng)
    )
    lay(board, draw, places.heap(rng, n), fill=(0.95, 1.2), vary=0.1, turning=str(rng.choice(["each", "none"])))
    return board.done("heap", main="thing")


def mirrored(rng: Rng, size: int) -> Scene:
    board = _start(rng, size)
    layout = places.mirrored(rng, places.half(rng, 8))
    draw, extent = made.thing(rng), layout.room * rng.uniform(0.6, 1.0)
    for row, col, turn, side in layout.places:
        draw(board, Frame(row, col, extent, turn, side == 2), board.kind("thing"), side=side)
    return _finish(board, "mirrored")


def groups(rng: Rng, size: int) -> Scene:
    """Two groups of the same number apart."""
    board = _start(rng, size)
    n = places.half(rng, 9)
    layout = places.groups(rng, n)
    if rng.random() < 0.35:  # each group on a tray of its own
        tray = made.plate(rng)
        for s in (1, 2):
            own = np.array([p[:2] for p in layout.places if p[3] == s])
            reach = float(max(np.ptp(own, axis=0).max() / 2 + layout.room * 1.3, 0.1))
            middle = (own.max(0) + own.min(0)) / 2
            tray(board, Frame(float(middle[0]), float(middle[1]), reach), board.kind("tray"), layer=0, side=s)
    draw, other = _two_looks(rng)
    indices = lay(board, draw, layout, fill=(0.6, 0.95), other=other)
    for s in (1, 2):
        board.group("group", [i for i, p in zip(indices, layout.places, strict=True) if p[3] == s], s)
    return board.done("groups", main="thing")


def beside(rng: Rng, size: int) -> Scene:
    """Two large things of one kind that nearly fill the picture."""
    board = _start(rng, size, zoom=(0.85, 1.3), slant=float(rng.uniform(0, 0.3)))
    layout = places.beside(rng)
    draw = vessels.shoe(rng) if rng.random() < 0.2 else vessels.mug(rng) if rng.random() < 0.15 else made.thing(rng)
    flip = rng.random() < 0.6
    extent = layout.room * rng.uniform(0.8, 1.25)
    for row, col, turn, side in layout.places:
        draw(
            board,
            Frame(row, col, extent * rng.uniform(0.92, 1.08), turn, flip and side == 2),
            board.kind("thing"),
            side=side,
        )
    return board.done("two beside", main="thing")


def pairs(rng: Rng, size: int) -> Scene:
    """Pairs of mirrored things: shoes, gloves, mugs."""
    board = _start(rng, size)
    n = int(rng.integers(1, 6))
    layout = places.grid(rng, *((1, n) if n < 4 else (2, (n + 1) // 2)), missing=n % 2 if n > 3 else 0)
    draw = (vessels.shoe, vessels.mug, vessels.shoe, simple.sprite)[int(rng.integers(0, 4))](rng)
    for row, col, turn, _ in layout.places:
        extent = min(layout.room, 0.3) * 0.5 * rng.uniform(0.8, 1.0)
        out = turn + rng.normal(0, 0.1)
        two = [
            draw(
                board,
                Frame(row, col + s * extent, extent * 1.15, out, s > 0),
                board.kind("thing"),
                side=1 if s < 0 else 2,
            )
            for s in (-1, 1)
        ]
        board.group("pair", two)
    return _finish(board, "pairs")


def unlike(rng: Rng, size: int) -> Scene:
    """One sort of thing, each of a look of its own."""
    board = _start(rng, size)
    draw = simple.sprite(rng, mixed=True, real=True) if rng.random() < 0.6 else simple.unlike_solids(rng)
    n = int(rng.integers(2, 13))
    layout = [places.scatter(rng, n), places.rows(rng, (n // 2 + n % 2,) * 2), places.ring(rng, max(n, 3))][
        int(rng.integers(0, 3))
    ]
    lay(board, draw, layout, vary=0.1)
    return board.done("unlike looks", main="thing")


def two_kinds(rng: Rng, size: int) -> Scene:
    """Two kinds among each other; the first has larger things."""
    board = _start(rng, size)
    n, m = places.half(rng, 7), int(rng.integers(2, 7))
    layout = places.scatter(rng, 2 * n + m, tight=0.95)
    first, second = made.thing(rng), made.thing(rng, plain=True)
    extent = layout.room * rng.uniform(0.75, 1.0)
    for k, (row, col, turn, _) in enumerate(layout.places):
        draw, name = (first, "thing") if k < 2 * n else (second, "second")
        draw(board, Frame(row, col, extent * (1 if k < 2 * n else rng.uniform(0.5, 0.9)), turn), board.kind(name))
    return board.done("two kinds", main="thing")


def nothing(rng: Rng, size: int) -> Scene:
    """Nothing that repeats: a surface, one thing, unlike things."""
    board = _start(rng, size)
    if rng.random() < 0.7:
        draw = made.thing(rng, plain=True)
        draw(
            board,
            Frame(rng.uniform(0.35, 0.65), rng.uniform(0.35, 0.65), rng.uniform(0.08, 0.4), rng.uniform(0, 6.28)),
            board.kind("one"),
        )
    return board.done("nothing")

"""Holders and their places: cartons, keys, pins, facades, shelves, dice and cards for their pips, slim things."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn import made, places, simple, vessels
from curator.learning.drawn.arrange import clutter, lay, marks
from curator.learning.drawn.board import DETAIL, HOLDER, PART, SPOT, THING, Board, Frame
from curator.learning.drawn.simple import block, circle
from curator.learning.scene import Scene

Rng = np.random.Generator


def _start(rng: Rng, size: int, **seen: Any) -> Board:
    board = Board.new(rng, size, **seen)
    marks(board)
    clutter(board, most=3)
    return board


def _cells(rng: Rng, high: int, wide: int) -> tuple[list[tuple[float, float, int]], float]:
    """Own coordinates and sides of a lattice inside a holder, and the half step."""
    step = 1.8 / max(high, wide)
    spots = [
        (
            (r - (high - 1) / 2) * step,
            (c - (wide - 1) / 2) * step,
            (1 + (r >= high / 2)) if high % 2 == 0 else (1 + (c >= wide / 2)) if wide % 2 == 0 else 0,
        )
        for r in range(high)
        for c in range(wide)
    ]
    return spots, step / 2


def carton(rng: Rng, size: int) -> Scene:
    """A carton, tray or tin with cups, filled wholly, partly or not at all."""
    board = _start(rng, size, zoom=(0.8, 1.2))
    high, wide = int(rng.choice([2, 2, 2, 3, 4, 1])), int(rng.integers(2, 7))
    spots, room = _cells(rng, high, wide)
    frame = Frame(0.5, 0.5, float(rng.uniform(0.36, 0.46)))
    tray = paint.look(rng, plain=rng.random() < 0.7)
    holder = board.shape(
        frame.to(block(high * room + 0.08, wide * room + 0.08, 0.25)),
        tray,
        board.kind("holder"),
        layer=HOLDER,
        shadow=0.5,
        height=0.05,
    )
    hollow = paint.Look(
        tray.tone * float(rng.uniform(0.35, 0.8)), bulge=-0.8, bevel=float(rng.uniform(0.3, 1)), grain=tray.grain
    )
    rounded, filled = rng.random() < 0.75, str(rng.choice(["all", "some", "none", "one out"], p=[0.4, 0.2, 0.2, 0.2]))
    draw, out = simple.ball(rng) if rng.random() < 0.7 else made.thing(rng, plain=True), int(rng.integers(len(spots)))
    extent, inside = room * float(rng.uniform(0.75, 0.95)), float(rng.uniform(0.75, 1.05))
    for k, (row, col, side) in enumerate(spots):
        full = filled == "all" or (filled == "some" and rng.random() < 0.6) or (filled == "one out" and k != out)
        own = circle(24, extent, extent) if rounded else block(extent, extent, 0.2)
        cup = board.shape(
            frame.to(own + (row, col)), hollow, board.kind("cup"), layer=THING, level=PART, parent=holder, side=side
        )
        if full:
            at = frame.inner(row, col, extent * inside, rng.uniform(0, 6.28))
            draw(board, at, board.kind("thing"), layer=DETAIL, parent=holder, side=side if filled == "all" else 0)
            board.rows[cup]["full"] /= max(0.12, 1 - 0.8 * inside**2)  # what fills a cup hides most of it
    put = sum(r["kind"] == board.kinds.get("thing", -9) for r in board.rows)
    return board.done("carton", main="thing" if put >= 2 else "cup" if put == 0 else None)


def keys(rng: Rng, size: int) -> Scene:
    """A pad of keys or knobs, or holes along two edges of a board, or a row of pins."""
    board = _start(rng, size)
    sort = str(rng.choice(["pad", "edges", "pins"]))
    if sort == "pad":
        high, wide = int(rng.integers(1, 5)), int(rng.integers(2, 7))
        spots, room = _cells(rng, high, wide)
        span = (high * room + 0.1, wide * room + 0.1)
    else:
        n = int(rng.integers(2, 13))
        other = n if rng.random() < 0.75 else max(1, n - int(rng.integers(1, 3)))
        room, half = 0.9 / max(n, 3), float(rng.uniform(0.2, 0.6))
        spots = [
            (r, (k - (m - 1) / 2) * 2 * room, s) for r, m, s in ((-half, n, 1), (half, other, 2)) for k in range(m)
        ]
        span = (half + max(room, 0.08) * 1.3, max(n, 3) * room + 0.06)
    frame = Frame(0.5, 0.5, float(rng.uniform(0.36, 0.46)))
    plate = paint.look(rng, plain=True)
    body = board.shape(
        frame.to(block(*span, float(rng.uniform(0, 0.3)))),
        plate,
        board.kind("board"),
        layer=HOLDER,
        shadow=0.5,
        height=0.04,
    )
    own = paint.unlike(rng, plate.tone, 40)
    piece = paint.Look(
        own,
        bulge=float(rng.choice([0.8, 0.5, -0.7])),
        bevel=float(rng.uniform(0.15, 0.8)),
        gloss=float(rng.uniform(0, 0.8)),
    )
    round_, extent = rng.random() < 0.6, min(room, 0.3) * float(rng.uniform(0.55, 0.85))
    ringed = paint.Look(paint.unlike(rng, own), bulge=0.3) if rng.random() < 0.35 else None
    long_ = float(rng.uniform(2, 4)) if sort == "pins" else 1.0
    for row, col, side in spots:
        shape = circle(20, extent, extent) if round_ and long_ == 1 else block(min(extent * long_, 0.3), extent, 0.2)
        if ringed is not None:
            board.shape(frame.to(shape * 1.15 + (row, col)), ringed, layer=THING)
        board.shape(
            frame.to(shape + (row, col)),
            paint.jittered(rng, piece, 0.6),
            board.kind("key"),
            layer=DETAIL,
            level=PART,
            parent=body,
            side=side,
            shadow=0.3 if piece.bulge > 0 else 0.0,
        )
    _chips(board, frame, span, sort)
    return board.done("keys", main="key")


def _chips(board: Board, frame: Frame, span: tuple[float, float], sort: str) -> None:
    """Single odd parts in the free middle of a board."""
    rng = board.rng
    for k in range(int(rng.integers(0, 4)) if sort != "pad" else 0):
        at = (rng.uniform(-0.25, 0.25) * span[0], rng.uniform(-0.7, 0.7) * span[1])
        shape = block(rng.uniform(0.04, 0.16) * span[0] * 1.4, rng.uniform(0.04, 0.2), 0.1)
        board.shape(
            frame.to(shape + at),
            paint.look(rng, plain=True),
            board.kind(f"chip{k}"),
            layer=DETAIL,
            level=PART,
            shadow=0.3,
        )


def facade(rng: Rng, size: int) -> Scene:
    """A wall with windows in rows, seen at a slant, with doors and signs that are not windows."""
    board = Board.new(rng, size, upright=True, slant=float(rng.choice([0, rng.uniform(0, 0.8)])), zoom=(0.9, 1.5))
    _wall(board)
    high, wide = int(rng.choice([1, 1, 2, 2, 3])), int(rng.integers(2, 8))
    draw, other = made.window(rng), made.window(rng)
    step, tall = 0.96 / wide, min(0.92 / high, 1.25 / wide)
    extent = min(step, tall) * 0.5 * float(rng.uniform(0.55, 0.88))
    door = int(rng.integers(0, wide)) if rng.random() < 0.35 else -1
    for r in range(high):
        kind = "window" if r == 0 or rng.random() < 0.75 else "other window"
        for c in range(wide):
            row, col = 0.5 + (r - (high - 1) / 2) * tall, 0.5 + (c - (wide - 1) / 2) * step
            if r == high - 1 and c == door:
                _door(board, row, col, extent)
                continue
            side = 1 + r if high == 2 else (1 + (c >= wide / 2)) if high == 1 and wide % 2 == 0 else 0
            (draw if kind == "window" else other)(board, Frame(row, col, extent), board.kind("window"), side=side)
    if rng.random() < 0.3:
        sign = Frame(float(rng.uniform(0, 1)), float(rng.uniform(0.1, 0.9)), float(rng.uniform(0.03, 0.1)))
        board.shape(sign.to(block(0.4, 1.5, 0.1)), paint.look(rng), board.kind("sign"), shadow=0.4)
    return board.done("facade", main="window")


def _wall(board: Board) -> None:
    """Bands and edges of a front."""
    rng = board.rng
    for _ in range(int(rng.integers(0, 4))):
        band = block(rng.uniform(0.004, 0.03), 1.5, 0) + (rng.uniform(-0.1, 1.1), 0.5)
        board.shape(band, paint.look(rng, plain=True), layer=HOLDER, shadow=0.4, height=0.01)


def _door(board: Board, row: float, col: float, extent: float) -> None:
    frame, style = Frame(row + extent * 0.25, col, extent * 1.25), paint.look(board.rng)
    board.shape(frame.to(block(0.95, 0.45, 0.05)), style, board.kind("door"), shadow=0.4)
    board.shape(frame.to(circle(10, 0.05, 0.05) + (0.1, 0.3)), paint.Look(style.tone * 0.4), layer=SPOT)


def one_window(rng: Rng, size: int) -> Scene:
    """One or two windows near by, for their panes."""
    board = _start(rng, size, upright=True, zoom=(0.85, 1.2))
    draw = made.window(rng)
    if rng.random() < 0.75:
        draw(board, Frame(0.5, 0.5, float(rng.uniform(0.3, 0.46))), board.kind("window"))
    else:
        lay(board, draw, places.beside(rng), "window", turning="none", fill=(0.8, 0.95))
    return board.done("one window")


def shelves(rng: Rng, size: int) -> Scene:
    """Boards with bottles, jars, boxes or toys standing on them."""
    board = Board.new(rng, size, upright=True, slant=float(rng.uniform(0, 0.3)), zoom=(0.85, 1.25))
    levels = int(rng.choice([1, 2, 2, 3]))
    wood = paint.look(rng, plain=True)
    n = int(rng.integers(2, 8))
    draw = vessels.bottle(rng) if rng.random() < 0.5 else made.thing(rng, plain=True)
    tall = 0.9 / levels
    extent = min(0.92 / n, tall * 0.9) / 2 * float(rng.uniform(0.7, 1.1))
    for level in range(levels):
        base = 0.05 + (level + 1) * tall
        board.shape(
            block(0.014, 0.52, 0.1) + (base + 0.012, 0.5),
            wood,
            board.kind("shelf"),
            layer=HOLDER,
            shadow=0.5,
            height=0.02,
        )
        count = n if rng.random() < 0.7 else int(rng.integers(1, n + 1))
        for k in range(count):
            col = 0.5 + (k - (count - 1) / 2) * 0.92 / n + rng.normal(0, 0.006)
            draw(
                board,
                Frame(base - extent, col, extent * (1 + rng.normal(0, 0.02)), rng.normal(0, 0.03)),
                board.kind("thing"),
                side=level + 1 if levels == 2 else 0,
            )
    return board.done("shelves", main="thing")


def many_dice(rng: Rng, size: int) -> Scene:
    """Dice, dominoes, cards or buttons laid out so that their pips or holes make halves."""
    board = _start(rng, size)
    sort = int(rng.integers(0, 4))
    if sort == 0:  # dice in two halves, one face on all or face by face
        n, face = int(rng.choice([1, 1, 1, 2, 3])), int(rng.integers(1, 7))
        draw = made.die(rng, face if rng.random() < 0.75 else None, halves="dice")
        lay(board, draw, places.rows(rng, (n, n)) if n > 1 else places.scatter(rng, 2), fill=(0.8, 1.15))
    elif sort == 1 or rng.random() < 0.45:  # one alone: its parts are meant
        draw = (made.die, made.domino, made.card, made.button)[int(rng.integers(0, 4))](rng)
        draw(board, Frame(0.5, 0.5, float(rng.uniform(0.2, 0.45)), rng.uniform(0, 6.28)), board.kind("thing"))
    else:
        draw = (made.domino, made.card, made.button)[int(rng.integers(0, 3))](rng)
        lay(board, draw, places.scatter(rng, int(rng.integers(2, 8))), fill=(0.8, 1.2), turning="each")
    return board.done("pips")


def fan(rng: Rng, size: int) -> Scene:
    """Long thin things side by side or fanned out."""
    board = _start(rng, size, upright=rng.random() < 0.5)
    n, fanned = int(rng.integers(2, 13)), rng.random() < 0.35
    draw = vessels.slim(rng)
    step, lean = min(0.85 / n, 0.2), float(rng.uniform(0.08, 0.22))
    gap = rng.uniform(1.3, 2.0) if n % 2 == 0 and rng.random() < 0.4 else 0.0
    for k in range(n):
        t = k - (n - 1) / 2
        side = 0 if n % 2 else 1 + (t > 0)
        if fanned:
            turn = t * min(lean, 2.2 / n)
            frame = Frame(0.75 - 0.36 * np.cos(turn), 0.5 + 0.5 * np.sin(turn), 0.34, -turn)
        else:
            frame = Frame(
                0.5 + rng.normal(0, 0.012),
                0.5 + (t + np.sign(t) * gap * 0.5) * step / (1 + gap / n),
                float(rng.uniform(0.3, 0.34)),
                rng.normal(0, 0.025),
            )
        draw(board, frame, board.kind("thing"), side=int(side))
    return board.done("fan", main="thing")

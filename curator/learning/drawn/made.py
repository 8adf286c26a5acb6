"""Made things with parts: dice, dominoes, cards, buttons, windows. Each part is counted and belongs to its thing."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn.board import DETAIL, HOLDER, PART, SPOT, Board, Drawer, Frame
from curator.learning.drawn.simple import ball, block, bun, circle, outline, solid, sprite
from curator.learning.drawn.vessels import bottle, mug, shoe, slim

Rng = np.random.Generator
Spots = list[tuple[float, float, int]]  # row, col in -1..1, side

FACES: dict[int, Spots] = {
    1: [(0, 0, 0)],
    2: [(-0.5, -0.5, 1), (0.5, 0.5, 2)],
    3: [(-0.5, -0.5, 0), (0, 0, 0), (0.5, 0.5, 0)],
    4: [(-0.5, -0.5, 1), (0.5, -0.5, 1), (-0.5, 0.5, 2), (0.5, 0.5, 2)],
    5: [(-0.5, -0.5, 0), (0.5, -0.5, 0), (0, 0, 0), (-0.5, 0.5, 0), (0.5, 0.5, 0)],
    6: [(-0.55, -0.48, 1), (0, -0.48, 1), (0.55, -0.48, 1), (-0.55, 0.48, 2), (0, 0.48, 2), (0.55, 0.48, 2)],
}
"""Where the pips of a die lie, as on any die (common practice)."""


def _pips(
    board: Board, frame: Frame, spots: Spots, size: float, style: paint.Look, kind: str, parent: int, side: int = 0
) -> None:
    for row, col, own in spots:
        board.shape(
            frame.to(circle(14, size, size) + (row, col)),
            style,
            board.kind(kind),
            layer=DETAIL,
            level=PART,
            parent=parent,
            side=side or own,
            at=frame.to([(row, col)]),
        )


def die(rng: Rng, face: int | None = None, *, halves: str = "") -> Drawer:
    """A die from above, perhaps with a side to be seen; pips take the die's side when `halves` is "dice"."""
    tone = paint.colour(rng)
    body = paint.Look(tone, bulge=0.5, bevel=0.15, gloss=float(rng.uniform(0, 0.6)))
    pip = paint.Look(paint.unlike(rng, tone, 110), bulge=-0.3, bevel=1.0)
    corner, dot = float(rng.uniform(0.1, 0.5)), float(rng.uniform(0.12, 0.2))
    thick, toward = float(rng.uniform(0.15, 0.6) * (rng.random() < 0.5)), float(rng.uniform(0, 6.28))

    def draw(board: Board, frame: Frame, kind: int | None = None, *, side: int = 0, **truth: Any) -> int:
        shape = frame.to(block(0.8, 0.8, corner))
        shown = face or int(board.rng.integers(1, 7))
        if thick:  # the side: the same outline moved away and darkened
            away = np.array([np.sin(toward), np.cos(toward)]) * thick * frame.scale * 0.5
            board.shape(
                shape + away, paint.replace(body, tone=body.tone * 0.55, grain=None), None, shadow=0.6, height=0.12
            )
        index = board.shape(shape, body, kind, shadow=0.0 if thick else 0.6, height=0.1, side=side, **truth)
        _pips(
            board,
            Frame(frame.row, frame.col, frame.scale * 0.8, frame.turn, frame.flip),
            FACES[shown],
            dot,
            pip,
            "pip",
            index,
            side if halves == "dice" else 0,
        )
        return index

    return draw


def domino(rng: Rng) -> Drawer:
    """Two square ends with pips, which pair up when both carry the same."""
    tone = paint.colour(rng)
    body, pip = paint.Look(tone, bulge=0.5, bevel=0.2, gloss=0.2), paint.Look(paint.unlike(rng, tone, 120), bulge=-0.2)
    bar = paint.Look(paint.unlike(rng, tone, 60), flat=True)
    same = rng.random() < 0.65

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        index = board.shape(frame.to(block(0.48, 0.96, 0.15)), body, kind, shadow=0.6, height=0.08, **truth)
        board.shape(frame.to(block(0.42, 0.02, 0)), bar, layer=SPOT)
        first = int(board.rng.integers(1, 7))
        second = first if same else int(board.rng.integers(1, 7))
        for i, (end, face) in enumerate(((-0.48, first), (0.48, second))):
            _pips(board, frame.inner(0, end * frame.stretch, 0.42), FACES[face], 0.17, pip, "pip", index, i + 1)
        return index

    return draw


def card(rng: Rng) -> Drawer:
    """A card with marks in two columns, sometimes one in the middle, small marks in the corners left aside."""
    ink = paint.hsv(0, 0.9, 0.8) if rng.random() < 0.5 else paint.hsv(0, 0, float(rng.uniform(0.05, 0.2)))
    ink = paint.colour(rng) * 0.7 if rng.random() < 0.3 else ink
    sheet = paint.Look(paint.hsv(25, float(rng.uniform(0, 0.12)), float(rng.uniform(0.85, 1))), bulge=0.1, bevel=0.03)
    mark, style = outline(rng), paint.Look(ink, flat=True)
    fixed = int(rng.integers(1, 6))

    def draw(board: Board, frame: Frame, kind: int | None = None, *, side: int = 0, **truth: Any) -> int:
        index = board.shape(
            frame.to(block(0.98, 0.68, 0.12)), sheet, kind, shadow=0.45, height=0.03, side=side, **truth
        )
        column = fixed if board.rng.random() < 0.8 else int(board.rng.integers(1, 6))
        middle = board.rng.random() < 0.25
        spots: Spots = [
            (-0.6 + 1.2 * (k + 0.5) / column, c, 0 if middle else s)
            for s, c in ((1, -0.3), (2, 0.3))
            for k in range(column)
        ]
        spots += [(0.0 if column % 2 == 0 else -0.6 + 1.2 / column, 0.0, 0)] * middle
        for row, col, own in spots:
            board.shape(
                frame.to(mark * 0.13 + (row, col)),
                style,
                board.kind("mark"),
                layer=DETAIL,
                level=PART,
                parent=index,
                side=own,
                at=frame.to([(row, col)]),
            )
        for row, col in ((-0.84, -0.54), (0.84, 0.54)):
            board.shape(
                frame.to(mark * 0.07 + (row, col)),
                style,
                board.kind("corner"),
                layer=DETAIL,
                level=PART,
                parent=index,
                aside=True,
            )
        return index

    return draw


def button(rng: Rng, holes: int | None = None) -> Drawer:
    """A round button with a rim and two to four holes."""
    tone = paint.colour(rng)
    style = paint.Look(tone, bulge=0.6, bevel=0.35, gloss=float(rng.uniform(0, 0.7)), grain=paint.grain(rng))
    plate = paint.Look(tone * 0.9, bulge=-0.3, bevel=0.3, grain=paint.grain(rng))
    dark = paint.Look(np.clip(tone * 0.25, 5, 80).astype(np.float32), bulge=-0.4)
    n = holes or int(rng.choice([2, 4, 4, 3]))
    reach, size, unlike = float(rng.uniform(0.2, 0.28)), float(rng.uniform(0.08, 0.13)), rng.random() < 0.25

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        own = paint.replace(style, tone=paint.colour(board.rng)) if unlike else paint.jittered(board.rng, style)
        index = board.shape(frame.to(circle(32, 0.95, 0.95)), own, kind, shadow=0.5, height=0.05, **truth)
        if not unlike:
            board.shape(frame.to(circle(24, 0.6, 0.6)), plate, layer=SPOT)
        for k in range(n):
            a = 2 * np.pi * (k + 0.5) / n
            at = (reach * np.sin(a), reach * np.cos(a))
            board.shape(
                frame.to(circle(12, size, size) + at),
                dark,
                board.kind("hole"),
                layer=DETAIL,
                level=PART,
                parent=index,
                side=0 if n % 2 else 1 + (k >= n / 2),
            )
        return index

    return draw


def window(rng: Rng) -> Drawer:
    """A window: frame, sashes, panes with what they mirror, a sill, perhaps shutters (left aside)."""
    high, wide = int(rng.integers(1, 5)), int(rng.choice([1, 2, 2, 2, 3, 4]))
    wood = paint.Look(
        paint.colour(rng) if rng.random() < 0.4 else paint.hsv(20, 0.1, float(rng.uniform(0.6, 1))),
        bulge=0.4,
        bevel=0.2,
        grain=paint.grain(rng),
    )
    glass_tone = paint.hsv(float(rng.integers(85, 125)), float(rng.uniform(0.05, 0.5)), float(rng.uniform(0.08, 0.8)))
    ratio, bar, border = float(rng.uniform(0.45, 0.95)), float(rng.uniform(0.02, 0.07)), float(rng.uniform(0.04, 0.12))
    sill, shutters = rng.random() < 0.5, rng.random() < 0.2
    shutter = paint.look(rng)
    clip_glass = float(rng.uniform(0, 0.5))

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        index = board.shape(
            frame.to(block(0.95, ratio, 0.03)),
            wood,
            kind,
            layer=HOLDER if "parent" not in truth else 1,
            shadow=0.4,
            height=0.03,
            **truth,
        )
        for s in (-1, 1) if shutters else ():
            place = frame.to(block(0.95, 0.28, 0.02) + (0, s * (ratio + 0.3)))
            board.shape(place, shutter, board.kind("shutter"), parent=index, level=PART, aside=True)
        cell_r, cell_c = 2 * (0.95 - border) / high, 2 * (ratio - border) / wide
        for k in range(high * wide):
            r, c = divmod(k, wide)
            at = (-0.95 + border + (r + 0.5) * cell_r, -ratio + border + (c + 0.5) * cell_c)
            tone = np.clip(glass_tone + board.rng.normal(0, 12), 0, 255).astype(np.float32)
            glass = paint.Look(
                tone,
                bulge=0.05,
                bevel=0.1,
                pattern=4 if board.rng.random() < clip_glass else 0,
                second=np.minimum(tone * 1.5 + 20, 255),
                slant=0.8,
            )
            side = 0 if (high * wide) % 2 else 1 + (c >= wide / 2) if wide % 2 == 0 else 1 + (r >= high / 2)
            board.shape(
                frame.to(block(cell_r / 2 - bar / 2, cell_c / 2 - bar / 2, 0.02) + at),
                glass,
                board.kind("pane"),
                layer=DETAIL,
                level=PART,
                parent=index,
                side=int(side),
            )
        if sill:
            board.shape(frame.to(block(0.05, ratio * 1.12, 0.2) + (1.0, 0)), wood, layer=SPOT, shadow=0.4)
        return index

    return draw


def plate(rng: Rng) -> Drawer:
    """A plate, wheel or lid: rings in rings."""
    style, well = paint.look(rng), paint.look(rng, plain=True)
    inner = float(rng.uniform(0.5, 0.8))

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        index = board.shape(
            frame.to(circle(40, 0.95, 0.95)), paint.jittered(board.rng, style), kind, shadow=0.4, height=0.04, **truth
        )
        board.shape(frame.to(circle(32, inner, inner)), well, layer=SPOT)
        return index

    return draw


def knob(rng: Rng) -> Drawer:
    """A knob, stud, screw head or pin seen from above with a slot or a highlight."""
    style = paint.Look(
        paint.colour(rng), bulge=1.0, bevel=float(rng.choice([0.2, 0.5, 1.0])), gloss=float(rng.uniform(0.2, 0.9))
    )
    round_, slot = rng.random() < 0.7, rng.random() < 0.5
    dark = paint.Look(style.tone * 0.3, flat=True)

    def draw(board: Board, frame: Frame, kind: int | None = None, **truth: Any) -> int:
        index = board.shape(
            frame.to(circle(24, 0.9, 0.9) if round_ else block(0.85, 0.85, 0.2)),
            style,
            kind,
            shadow=0.6,
            height=0.1,
            **truth,
        )
        if slot:
            turn = board.rng.uniform(0, 3.1)
            board.shape(Frame(frame.row, frame.col, frame.scale, turn).to(block(0.07, 0.7, 0.1)), dark, layer=SPOT)
        return index

    return draw


WHOLES = (
    (ball, 2.5),
    (bun, 1),
    (solid, 3),
    (sprite, 8),
    (die, 1.2),
    (domino, 0.7),
    (card, 1),
    (button, 1.2),
    (mug, 0.8),
    (bottle, 0.8),
    (shoe, 0.6),
    (slim, 1.3),
    (plate, 0.5),
    (knob, 0.4),
    (window, 0.5),
)


def thing(rng: Rng, *, plain: bool = False) -> Drawer:
    """Any whole thing; `plain` ones have no parts of their own."""
    choices = [
        (maker, weight)
        for maker, weight in WHOLES
        if not plain or maker in (ball, bun, solid, sprite, bottle, slim, plate)
    ]
    weights = np.array([w for _, w in choices], float)
    return choices[int(rng.choice(len(choices), p=weights / weights.sum()))][0](rng)

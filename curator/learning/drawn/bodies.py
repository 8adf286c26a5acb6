"""Mirrored bodies and other things with limbs: insects, butterflies, flowers, starfish, leaflets."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn.arrange import clutter, marks
from curator.learning.drawn.board import DETAIL, PART, SPOT, Board, Frame, Points
from curator.learning.drawn.simple import circle
from curator.learning.scene import Scene

Rng = np.random.Generator


def _leg(rng: Rng, root: float, reach: float, aim: float, knee: float) -> Points:
    """A leg of the right-hand side in own coordinates: root on the body, a knee, a foot."""
    foot = np.array([root + reach * np.sin(aim), 0.1 + reach * np.cos(aim)])
    hip = np.array([root * 0.8, 0.06])
    bend = (hip + foot) / 2 + np.array([-np.cos(aim), np.sin(aim)]) * knee * reach
    return np.array([hip, bend, foot])


def _mirrored(path: Points) -> Points:
    return np.asarray(path * np.array([1, -1]))


def _body_at(board: Board, low: float = 0.3, high: float = 0.46) -> Frame:
    rng = board.rng
    return Frame(
        0.5 + rng.normal(0, 0.04), 0.5 + rng.normal(0, 0.04), float(rng.uniform(low, high)), rng.normal(0, 0.5)
    )


def start(rng: Rng, size: int, **seen: Any) -> Board:
    board = Board.new(rng, size, **seen)
    marks(board)
    clutter(board, most=2)
    return board


def insect(rng: Rng, size: int) -> Scene:
    """Insect, spider or crab from above: legs in pairs with tips; feelers and tails are left aside."""
    board = start(rng, size)
    n = int(rng.choice([2, 3, 3, 4, 4, 5]))
    frame = _body_at(board)
    tone = paint.hsv(rng.integers(0, 60), rng.uniform(0.1, 0.8), rng.uniform(0.08, 0.7))
    style = paint.Look(
        tone,
        bulge=0.9,
        gloss=float(rng.uniform(0, 0.8)),
        grain=paint.grain(rng),
        pattern=int(rng.choice([0, 0, 1, 2])),
        second=tone * 1.7,
    )
    limb = paint.Look(tone * float(rng.uniform(0.6, 1.3)), bulge=0.7, grain=paint.grain(rng))
    squat = float(rng.uniform(0.2, 0.5))
    body = board.note(board.kind("body"), board.pixels([(frame.row, frame.col)])[0], 1.0)
    _legs(board, frame, n, limb, body)
    _feelers(board, frame, limb, body)
    _trunk(board, frame, style, body, squat)
    board.axis(body, frame.to([(-0.6, 0), (0.6, 0)]), True)
    return board.done("insect", main="leg")


def _legs(board: Board, frame: Frame, n: int, limb: paint.Look, body: int) -> None:
    rng = board.rng
    thick = frame.scale * float(rng.uniform(0.025, 0.11))
    spread, knee, reach = rng.uniform(0.5, 1.1), rng.uniform(-0.35, 0.35), rng.uniform(0.6, 0.95)
    lost = rng.random() < 0.15
    gone = int(rng.integers(0, 2 * n)) if lost else -1
    for k in range(n):
        t = (k - (n - 1) / 2) / max(1, (n - 1) / 2) if n > 1 else 0.0
        for s in (1, 2):
            if 2 * k + s - 1 == gone:
                continue
            path = _leg(
                rng,
                t * 0.3,
                reach * (1 + rng.normal(0, 0.06)),
                t * spread + rng.normal(0, 0.09),
                knee + rng.normal(0, 0.05),
            )
            path = path if s == 2 else _mirrored(path)
            board.stroke(
                frame.to(path),
                (thick, thick * 0.8, thick * 0.3),
                limb,
                board.kind("leg"),
                layer=DETAIL,
                level=PART,
                parent=body,
                side=s,
                shadow=0.4,
                height=0.04,
            )


def _feelers(board: Board, frame: Frame, limb: paint.Look, body: int) -> None:
    rng = board.rng
    if rng.random() < 0.7:
        length, out = rng.uniform(0.3, 0.7), rng.uniform(0.15, 0.5)
        for s in (-1, 1):
            path = np.array([(-0.5, 0.05 * s), (-0.5 - length * 0.6, out * 0.4 * s), (-0.5 - length, out * s)])
            board.stroke(
                frame.to(path),
                (0.025 * frame.scale, 0.012 * frame.scale),
                limb,
                board.kind("feeler"),
                layer=DETAIL,
                level=PART,
                parent=body,
                aside=True,
            )
    if rng.random() < 0.2:
        board.stroke(
            frame.to([(0.5, 0), (0.8, rng.normal(0, 0.1)), (1.05, rng.normal(0, 0.2))]),
            (0.08 * frame.scale, 0.02 * frame.scale),
            limb,
            board.kind("tail"),
            layer=DETAIL,
            level=PART,
            parent=body,
            aside=True,
        )


def _trunk(board: Board, frame: Frame, style: paint.Look, body: int, squat: float) -> None:
    """Hind part, chest and head over the legs' roots."""
    parts = [
        circle(28, 0.42, squat) + (0.32, 0),
        circle(24, 0.22, squat * 0.7) + (-0.15, 0),
        circle(20, 0.16, squat * 0.55) + (-0.45, 0),
    ]
    parts = parts if squat < 0.38 else [circle(32, 0.5, squat * 1.4)]
    outlines = [board.pixels(frame.to(p)) for p in parts]
    for p in parts:
        board.shape(frame.to(p), style, None, shadow=0.3, layer=SPOT)
    total = np.concatenate(outlines)
    board.rows[body]["full"] = float(sum(abs(np.ptp(o[:, 0]) * np.ptp(o[:, 1])) * 0.78 for o in outlines))
    box = board._window(total)
    if box is not None:
        for o in outlines:
            inner = board._window(o)
            if inner is not None:
                board._claim(inner, board._coverage(o, inner) > 120, 1, body)


def butterfly(rng: Rng, size: int) -> Scene:
    """Two or four wings with spots in mirrored places."""
    board = start(rng, size)
    frame = _body_at(board, 0.28, 0.44)
    four = rng.random() < 0.7
    style, hind = paint.look(rng), paint.look(rng)
    hind = hind if rng.random() < 0.4 else style
    spot = paint.Look(paint.unlike(rng, style.tone), flat=rng.random() < 0.5)
    dots = int(rng.choice([0, 1, 1, 2, 3, 4]))
    dark = paint.Look(paint.hsv(15, 0.4, 0.2), bulge=0.8)
    body = board.shape(frame.to(circle(20, 0.45, 0.07)), dark, board.kind("body"), layer=1)
    shape = _wing(rng)
    lower = _wing(rng) * (0.75, 0.8)
    at = [(rng.uniform(-0.55, -0.05), rng.uniform(0.3, 0.75)) for _ in range(dots)]
    for s in (1, 2):
        half = Frame(frame.row, frame.col, frame.scale, frame.turn + rng.normal(0, 0.03), s == 1)
        if four:
            _one_wing(board, half, lower * (-1, 1), hind, body, s, (0.32, 0.38))
        wing = _one_wing(board, half, shape, style, body, s, (-0.25, 0.5))
        for r, c in at:
            reach = 0.05 + 0.05 * abs(np.sin(9 * c))
            board.shape(
                half.to(circle(16, reach, reach) + (r, c)),
                spot,
                board.kind("spot"),
                layer=SPOT,
                level=PART,
                parent=wing,
                side=s,
            )
        board.stroke(
            half.to([(-0.4, 0.03), (-0.7, 0.12), (-0.85, 0.25)]),
            (0.02 * frame.scale,) * 2,
            dark,
            board.kind("feeler"),
            layer=SPOT,
            level=PART,
            parent=body,
            aside=True,
        )
    board.shape(frame.to(circle(20, 0.45, 0.07)), dark, None, layer=SPOT)
    board.axis(body, frame.to([(-0.5, 0), (0.5, 0)]), True)
    return board.done("butterfly", main="wing")


def _wing(rng: Rng) -> Points:
    """One right fore-wing in own coordinates; its root lies at the body."""
    tip, low = rng.uniform(0.75, 1.0), rng.uniform(0.0, 0.25)
    rough = np.array(
        [
            (-0.15, 0.04),
            (-0.5, 0.35),
            (-rng.uniform(0.6, 0.9), tip * 0.8),
            (-rng.uniform(0.4, 0.7), tip),
            (low - 0.2, tip * 0.85),
            (low, 0.5),
            (0.05, 0.04),
        ]
    )
    closed = np.concatenate([rough, rough[:1]])
    for _ in range(2):
        closed = np.stack([0.75 * closed[:-1] + 0.25 * closed[1:], 0.25 * closed[:-1] + 0.75 * closed[1:]], 1).reshape(
            -1, 2
        )
        closed = np.concatenate([closed, closed[:1]])
    return np.asarray(closed)


def _one_wing(
    board: Board, half: Frame, shape: Points, style: paint.Look, body: int, side: int, at: tuple[float, float]
) -> int:
    return board.shape(
        half.to(shape),
        style,
        board.kind("wing"),
        layer=DETAIL,
        level=PART,
        parent=body,
        side=side,
        shadow=0.3,
        height=0.03,
        at=half.to(shape).mean(0),
    )


def flower(rng: Rng, size: int) -> Scene:
    """Petals round a middle, or the arms of a starfish."""
    board = start(rng, size)
    n = int(rng.choice([3, 4, 5, 5, 5, 6, 6, 8, 10]))
    frame = _body_at(board, 0.25, 0.45)
    style, middle = paint.look(rng), paint.look(rng, plain=True)
    star = rng.random() < 0.4
    wide = float(np.tan(np.pi / n) * rng.uniform(0.55, 0.95)) if n > 3 else 0.5
    angle = np.linspace(0, 2 * np.pi, 28, endpoint=False)
    petal = np.stack(
        [
            -0.55 + 0.43 * np.sin(angle),
            wide * 0.55 * np.cos(angle) * (1 - 0.35 * np.sin(angle) * float(rng.choice([-1, 1]))),
        ],
        1,
    )
    body = board.shape(frame.to(circle(24, 0.3, 0.3)), middle if not star else style, board.kind("middle"), layer=1)
    for k in range(n):
        turned = Frame(
            frame.row,
            frame.col,
            frame.scale * (1 + rng.normal(0, 0.04)),
            frame.turn + 2 * np.pi * k / n + rng.normal(0, 0.04),
        )
        side = 0 if n % 2 else 1 + (k >= n / 2)
        truth: dict[str, Any] = {"layer": DETAIL, "level": PART, "parent": body, "side": int(side)}
        if star:
            bend = rng.normal(0, 0.06)
            board.stroke(
                turned.to([(0, 0), (-0.5, bend), (-1.0, bend * 2)]),
                (0.45 * frame.scale, 0.3 * frame.scale, 0.05 * frame.scale),
                style,
                board.kind("arm"),
                at=turned.to([(-0.6, bend)]),
                **truth,
            )
        else:
            own = turned.to(petal)
            board.shape(
                own,
                paint.jittered(rng, style),
                board.kind("arm"),
                tip=turned.to([(-0.97, 0)]),
                shadow=0.35,
                height=0.04,
                **truth,
            )
    board.shape(frame.to(circle(24, 0.2, 0.2)), middle if not star else style, None, layer=SPOT)
    board.axis(body, frame.to([(-0.9, 0), (0.9, 0)]), True)
    return board.done("flower", main="arm")


def leaflets(rng: Rng, size: int) -> Scene:
    """Leaflets in pairs on a stem, sometimes with one at the end."""
    board = start(rng, size)
    n = int(rng.integers(2, 8))
    frame = _body_at(board, 0.38, 0.48)
    green = paint.hsv(rng.integers(15, 75), rng.uniform(0.3, 0.9), rng.uniform(0.25, 0.9))
    style = paint.Look(green, bulge=0.3, bevel=0.6, grain=paint.grain(rng), gloss=float(rng.uniform(0, 0.4)))
    stem = paint.Look(green * 0.6, bulge=0.5)
    body = board.stroke(
        frame.to([(1.0, rng.normal(0, 0.05)), (0, rng.normal(0, 0.05)), (-0.85, 0)]),
        (0.05 * frame.scale, 0.02 * frame.scale),
        stem,
        board.kind("stem"),
        shadow=0.3,
        aside=True,
    )
    end, lean, stagger = rng.random() < 0.45, rng.uniform(0.2, 0.9), float(rng.choice([0.0, 0.5])) * 1.5 / n
    length, plump = rng.uniform(0.35, 0.6), rng.uniform(0.25, 0.5) * min(1.0, 4 / n)
    leaf = circle(24) * (1, plump) * (1 + 0.25 * circle(24)[:, :1] ** 2 * 0) * length / 2 - (length / 2, 0)
    for k in range(n):
        row = 0.7 - 1.5 * k / n
        for s in (1, 2):
            sign = -1 if s == 1 else 1
            at = frame.inner(
                row - (stagger if s == 2 else 0),
                0.02 * sign,
                1 + rng.normal(0, 0.05),
                -sign * (1.57 - lean) + rng.normal(0, 0.05),
            )
            _leaf(board, at, leaf, length, style, body, s if not end else 0)
    if end:
        _leaf(board, frame.inner(-0.85, 0, 1.0), leaf, length, style, body, 0)
    board.axis(body, frame.to([(1, 0), (-0.85, 0)]), True)
    return board.done("leaflets", main="leaf")


def _leaf(board: Board, at: Frame, leaf: Points, length: float, style: paint.Look, stem: int, side: int) -> None:
    board.shape(
        at.to(leaf),
        paint.jittered(board.rng, style),
        board.kind("leaf"),
        layer=DETAIL,
        level=PART,
        parent=stem,
        side=side,
        shadow=0.35,
        height=0.05,
        tip=at.to([(-length, 0)]),
    )
    board.stroke(
        at.to([(0, 0), (-length * 0.9, 0)]),
        (0.02 * at.scale, 0.008 * at.scale),
        paint.replace(style, tone=style.tone * 1.25),
        layer=SPOT,
    )

"""Hands with raised fingers, palm or back to the camera; folded fingers are left aside."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.drawn.board import DETAIL, PART, SPOT, Board, Frame
from curator.learning.drawn.bodies import start
from curator.learning.drawn.simple import circle
from curator.learning.scene import Scene

Rng = np.random.Generator

FINGERS = ((-0.42, 0.95, -0.16), (-0.14, 1.12, -0.05), (0.12, 1.05, 0.04), (0.36, 0.82, 0.15))
"""Column of the root, length and lean of the four fingers of a right hand, palm width about 1 (by eye)."""


def _hand(
    board: Board, frame: Frame, raised: tuple[bool, ...], skin: paint.Look, nail: paint.Look | None, side: int
) -> int:
    """A palm, raised fingers (counted), folded ones (left aside); the thumb is the first of the five."""
    rng = board.rng
    wide = 0.27 * frame.scale
    wrist = np.array([(0.5, -0.36), (1.9, -0.33), (1.9, 0.33), (0.5, 0.36)])
    board.shape(frame.to(wrist), skin, None, layer=1)
    truth: dict[str, Any] = {"layer": DETAIL, "level": PART}
    limbs = []
    for up, (col, length, lean) in zip(raised[1:], FINGERS, strict=True):
        lean += float(rng.normal(0, 0.05)) * (1 if up else 0)
        if up:
            path = np.array([(-0.2, col), (-0.2 - length * 0.5, col + lean * 0.6), (-0.2 - length, col + lean * 1.4)])
            limbs.append(
                board.stroke(
                    frame.to(path),
                    (wide * 0.95, wide, wide * 0.72),
                    paint.jittered(rng, skin, 0.5),
                    board.kind("finger"),
                    shadow=0.3,
                    height=0.03,
                    side=side,
                    at=frame.to([path[1] * 0.7 + path[2] * 0.3]),
                    **truth,
                )
            )
            if nail is not None:
                board.shape(frame.to(circle(14, 0.1, 0.075) + path[2] + (0.02, 0)), nail, layer=SPOT)
    if raised[0]:
        path = np.array([(0.3, 0.38), (0.02, 0.68), (-0.3, 0.9)])
        limbs.append(
            board.stroke(
                frame.to(path),
                (wide * 1.2, wide * 1.05, wide * 0.75),
                skin,
                board.kind("finger"),
                shadow=0.3,
                height=0.03,
                side=side,
                **truth,
            )
        )
    board.shape(
        frame.to(
            np.array([(-0.3, -0.5), (-0.34, 0.0), (-0.28, 0.48), (0.2, 0.52), (0.55, 0.4), (0.62, -0.35), (0.2, -0.53)])
        ),
        skin,
        None,
        layer=1,
        opacity=1,
    )
    palm = board.shape(frame.to(circle(24, 0.44, 0.47) + (0.1, 0)), skin, board.kind("hand"), layer=1, side=side)
    for limb in limbs:
        board.rows[limb]["parent"] = palm
    _folded(board, frame, raised, skin, palm, wide)
    return palm


def _folded(board: Board, frame: Frame, raised: tuple[bool, ...], skin: paint.Look, palm: int, wide: float) -> None:
    truth: dict[str, Any] = {"layer": DETAIL, "level": PART, "parent": palm, "aside": True}
    for up, (col, _, _) in zip(raised[1:], FINGERS, strict=True):
        if not up:
            board.stroke(
                frame.to([(-0.32, col), (-0.02, col * 0.9)]),
                (wide, wide * 0.95),
                skin,
                board.kind("folded"),
                shadow=0.4,
                height=0.05,
                **truth,
            )
    if not raised[0]:
        board.stroke(
            frame.to([(0.42, 0.42), (0.25, 0.25), (0.16, -0.12)]),
            (wide * 1.1, wide),
            skin,
            board.kind("folded"),
            shadow=0.4,
            height=0.06,
            **truth,
        )


def hands(rng: Rng, size: int) -> Scene:
    """One or two hands with raised fingers; two with the same number make halves."""
    board = start(rng, size, upright=True, slant=0.0)
    skin = paint.Look(
        paint.hsv(rng.integers(5, 16), rng.uniform(0.25, 0.65), rng.uniform(0.3, 0.98)),
        bulge=0.85,
        bevel=float(rng.uniform(0.5, 1)),
        grain=paint.grain(rng),
    )
    nail = (
        paint.Look(np.minimum(skin.tone * 1.15 + 15, 255).astype(np.float32), bulge=0.3, gloss=0.4)
        if rng.random() < 0.6
        else None
    )
    two = rng.random() < 0.6
    n, m = int(rng.integers(1, 6)), int(rng.integers(0, 6))
    m = n if rng.random() < 0.7 else m
    for side, count in ((1, n), (2, m)) if two else ((0, n),):
        order = rng.permutation(5) if rng.random() < 0.3 else np.array([1, 2, 3, 4, 0])
        chosen = {int(i) for i in order[:count]}
        if chosen in ({2}, {3}):  # one finger alone is the pointing one: others could be a rude sign
            chosen = {1}
        col = 0.5 if not two else (0.25, 0.75)[side - 1]
        scale = float(rng.uniform(0.2, 0.25) if two else rng.uniform(0.24, 0.36))
        frame = Frame(
            0.55 + rng.normal(0, 0.03),
            col,
            scale,
            rng.normal(0, 0.12),
            flip=side == 1 if rng.random() < 0.9 else side == 2,
        )
        _hand(board, frame, tuple(i in chosen for i in range(5)), skin, nail, side)
    main = "finger" if sum(r["kind"] == board.kinds.get("finger", -9) for r in board.rows) >= 2 else None
    return board.done("hands", main=main)

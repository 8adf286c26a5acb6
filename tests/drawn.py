"""Drawn pictures whose answer is known, for the finders' tests: uint8 (H, W, 3), about 512 on the longer side."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]


def ground(colour: Colour = (196, 180, 150), size: tuple[int, int] = (384, 512), seed: int = 1) -> Pixels:
    """An even ground, lit a little from one side, with camera noise."""
    noise = np.random.default_rng(seed).normal(0, 3, (*size, 3))
    light = np.linspace(0.92, 1.05, size[1])[None, :, None]
    return np.clip(np.array(colour) * light + noise, 0, 255).astype(np.uint8)


def softened(pixels: Pixels) -> Pixels:
    """Edges as a lens leaves them."""
    soft: Pixels = cv2.GaussianBlur(pixels, (0, 0), 1.0)
    return soft


def discs(rows: int, columns: int, colour: Colour = (60, 70, 140), radius: int = 26, step: int = 72) -> Pixels:
    picture = ground()
    top, left = (384 - (rows - 1) * step) // 2, (512 - (columns - 1) * step) // 2
    for r in range(rows):
        for c in range(columns):
            cv2.circle(picture, (left + c * step, top + r * step), radius, colour, -1, cv2.LINE_AA)
    return softened(picture)


def panes(rows: int, columns: int) -> Pixels:
    """Dark openings in a pale frame."""
    picture = ground((120, 90, 70))
    h, w, bar = 84, 78, 20
    top, left = (384 - rows * (h + bar) - bar) // 2, (512 - columns * (w + bar) - bar) // 2
    bottom, right = top + rows * (h + bar) + bar, left + columns * (w + bar) + bar
    cv2.rectangle(picture, (left, top), (right, bottom), (225, 220, 210), -1)
    for r in range(rows):
        for c in range(columns):
            y, x = top + bar + r * (h + bar), left + bar + c * (w + bar)
            cv2.rectangle(picture, (x, y), (x + w, y + h), (52, 66, 84), -1)
    return softened(picture)


def carton(filled: int) -> Pixels:
    """Two rows of six cups, the first ones filled with something pale and round."""
    picture = ground((70, 110, 90))
    cv2.rectangle(picture, (26, 106), (486, 278), (150, 140, 130), -1)
    for i in range(12):
        middle = (66 + 76 * (i % 6), 150 + 84 * (i // 6))
        cv2.circle(picture, middle, 32, (84, 78, 74), -1, cv2.LINE_AA)
        if i < filled:
            cv2.circle(picture, middle, 27, (236, 214, 186), -1, cv2.LINE_AA)
    return softened(picture)


def dice(*pips: int) -> Pixels:
    """Dice seen from above, side by side."""
    spots = {1: [4], 2: [0, 8], 3: [0, 4, 8], 4: [0, 2, 6, 8], 5: [0, 2, 4, 6, 8], 6: [0, 2, 3, 5, 6, 8]}
    picture = ground((40, 96, 70))
    for k, n in enumerate(pips):
        left, top = 70 + 220 * k, 110
        cv2.rectangle(picture, (left, top), (left + 160, top + 160), (240, 238, 230), -1)
        for s in spots[n]:
            cv2.circle(picture, (left + 36 + 44 * (s % 3), top + 36 + 44 * (s // 3)), 14, (30, 30, 34), -1, cv2.LINE_AA)
    return softened(picture)


def hand() -> Pixels:
    """An open hand whose wrist leaves the picture below: five fingers."""
    picture = ground((70, 84, 80), (512, 420))
    skin = (206, 160, 130)
    cv2.ellipse(picture, (210, 330), (74, 84), 0, 0, 360, skin, -1, cv2.LINE_AA)
    cv2.rectangle(picture, (168, 380), (252, 511), skin, -1)
    for base, tip in (
        ((162, 300), (112, 130)),
        ((192, 290), (176, 80)),
        ((222, 290), (238, 74)),
        ((254, 300), (306, 110)),
        ((150, 360), (48, 270)),
    ):
        cv2.line(picture, base, tip, skin, 32, cv2.LINE_AA)
    return softened(picture)


DARK, RED = (60, 44, 36), (190, 80, 50)


def insect(feelers: bool) -> Pixels:
    """A body with three legs a side, and two thin feelers at its head."""
    picture = ground((214, 210, 200))
    cv2.ellipse(picture, (256, 230), (30, 86), 0, 0, 360, DARK, -1, cv2.LINE_AA)
    cv2.circle(picture, (256, 130), 24, DARK, -1, cv2.LINE_AA)
    for side in (-1, 1):
        for y, dy in ((180, -60), (216, 4), (252, 66)):
            cv2.line(picture, (256 + side * 16, y), (256 + side * 130, y + dy), DARK, 9, cv2.LINE_AA)
        if feelers:
            cv2.line(picture, (256 + side * 8, 120), (256 + side * 30, 50), DARK, 4, cv2.LINE_AA)
    return softened(picture)


def _limb(picture: Pixels, points: tuple[tuple[int, int], ...], colour: tuple[int, int, int], thick: int) -> None:
    """One limb of a body whose axis is upright in the middle, and its mirror image; points are (x, y), x from the
    axis.
    """
    for side in (-1, 1):
        cv2.polylines(
            picture, [np.array([(256 + side * x, y) for x, y in points], np.int32)], False, colour, thick, cv2.LINE_AA
        )


def spider() -> Pixels:
    """A body in two parts with four bent legs a side, and two short feelers at its mouth."""
    picture = ground((214, 210, 200))
    cv2.ellipse(picture, (256, 160), (34, 38), 0, 0, 360, DARK, -1, cv2.LINE_AA)
    cv2.ellipse(picture, (256, 250), (52, 66), 0, 0, 360, DARK, -1, cv2.LINE_AA)
    for leg in (
        ((24, 140), (70, 60), (150, 20)),
        ((24, 155), (90, 110), (180, 120)),
        ((24, 170), (90, 200), (185, 240)),
        ((24, 182), (70, 270), (150, 350)),
    ):
        _limb(picture, leg, DARK, 9)
    _limb(picture, ((10, 128), (18, 104)), DARK, 6)
    return softened(picture)


def crab() -> Pixels:
    """A broad body with four bent legs and a claw a side."""
    picture = ground((206, 196, 176))
    cv2.ellipse(picture, (256, 210), (86, 56), 0, 0, 360, RED, -1, cv2.LINE_AA)
    for leg in (
        ((70, 190), (130, 150), (170, 170)),
        ((76, 210), (150, 190), (190, 225)),
        ((72, 230), (145, 240), (175, 285)),
        ((56, 250), (110, 290), (130, 340)),
    ):
        _limb(picture, leg, RED, 10)
    _limb(picture, ((50, 180), (90, 110), (60, 60)), RED, 16)
    for side in (-1, 1):
        cv2.ellipse(picture, (256 + side * 52, 50), (20, 30), side * 20, 0, 360, RED, -1, cv2.LINE_AA)
    return softened(picture)


def starfish() -> Pixels:
    """One body with five arms."""
    angle = np.pi / 2 + np.arange(10) * np.pi / 5
    radius = np.where(np.arange(10) % 2 == 0, 170, 62)
    points = np.stack([256 + radius * np.cos(angle), 196 - radius * np.sin(angle)], axis=1).round().astype(np.int32)
    picture = ground((206, 196, 176))
    cv2.fillPoly(picture, [points], (196, 92, 60), cv2.LINE_AA)
    return softened(picture)

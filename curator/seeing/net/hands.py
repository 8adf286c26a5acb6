"""Hands in a picture, and which of their fingers are raised.

Two ready nets (`curator/models/README.md`) used as their makers publish it (Zhang et al. 2020, arXiv 2006.10214): one
gives palms on a grid of anchors, the other 21 joints of the one hand in a turned cut. What a raised finger is, and that
three cuts of each hand are asked, is ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing.beside import LANES
from curator.seeing.net.session import opened

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]

_MODELS = Path(__file__).parents[2] / "models"
PALMS, JOINTS = _MODELS / "palms.onnx", _MODELS / "hands.onnx"
SIDE = 96  # pixels of the square in which palms are sought: hands of a fifth of the picture and more are found in it
ANCHORS = ((8, 2), (16, 6))  # step of a grid of anchors in pixels, and how many lie on each of its places
CUT = 224  # pixels of the square in which joints are sought
PALM = 0.3  # score from which a cut is looked at: most that are no hands go by PRESENT
SAME = 0.3  # of two palms' boxes together: one palm
PRESENT = 0.9  # how likely there is a hand in two cuts of three (`.docs/experiments.md`)
LEAST = 0.15  # of the picture's longer side: a smaller hand is not what the photo is of
MOST = 6  # palms looked at
FINGERS = ((1, 2, 3, 4), (5, 6, 7, 8), (9, 10, 11, 12), (13, 14, 15, 16), (17, 18, 19, 20))  # joints, thumb first
WRIST, FIRST, MIDDLE, RING, LITTLE = 0, 5, 9, 13, 17  # and the knuckles
RAISED = 1.1  # a tip's way from the wrist over that of the joint in the finger's middle: 1.2 and more raised, bent .9
FULL = 0.2  # as far above RAISED or below it is as clear as can be
THUMB_BEND, THUMB_AWAY = 60.0, 0.18  # a thumb's bend in degrees for one palm's length that its tip is away, and more


@dataclass(frozen=True, slots=True, eq=False)
class Hand:
    """One hand: where its joints are, and which fingers it holds up."""

    joints: Array  # (21, 2) row, col in pixels: the wrist, then four of each finger from the thumb on, tips last
    raised: tuple[bool, ...]  # of the five fingers, thumb first
    clear: tuple[float, ...]  # of each, how clear that is, 0 to 1: the least of the cuts
    present: float  # how likely it is a hand, 0 to 1
    large: float  # its longer side over the picture's longer side


class _Square(NamedTuple):
    """A turned square of the picture: its middle (x, y), its side in pixels, and its turn, clockwise in radians."""

    middle: Array
    side: float
    turn: float


class _Look(NamedTuple):
    """What the second net says of one cut."""

    present: float
    joints: Array  # (21, 2) x, y in the picture
    solid: Array  # (21, 3) in metres about the hand's middle, as far as one picture can tell


def hands(pixels: Pixels) -> tuple[Hand, ...]:
    """The hands in a picture, uint8 (H, W, 3), that are as large as what a photo is of, likeliest palm first; none
    where a trained file is missing.
    """
    if not (PALMS.exists() and JOINTS.exists()):
        return ()
    found: list[Hand] = []
    for square in _palms(pixels):
        hand = _hand(pixels, square)
        if hand is not None and not any(_one_hand(hand, other) for other in found):
            found.append(hand)
    return tuple(found)


@cache
def _anchors(side: int) -> Array:
    """(n, 2) x, y of the middles of all anchors, in the order of the net's answers, for a square of `side` pixels."""
    every = []
    for step, many in ANCHORS:
        places = np.arange(0.5, side // step) * step
        x, y = np.meshgrid(places, places)
        every.append(np.repeat(np.column_stack([x.ravel(), y.ravel()]), many, axis=0))
    return np.concatenate(every)


def _palms(pixels: Pixels) -> list[_Square]:
    """The squares about likely hands, as the first net's palms have them, likeliest first."""
    high, wide = pixels.shape[:2]
    shrink = SIDE / max(high, wide)
    size = (max(1, round(wide * shrink)), max(1, round(high * shrink)))
    left, top = (SIDE - size[0]) // 2, (SIDE - size[1]) // 2
    given = np.zeros((SIDE, SIDE, 3), np.uint8)
    way = cv2.INTER_AREA if shrink < 1 else cv2.INTER_LINEAR
    given[top : top + size[1], left : left + size[0]] = cv2.resize(pixels, size, interpolation=way)
    places, scores = opened(PALMS, LANES).run(["places", "scores"], {"picture": _as_input(given)})
    score = 1 / (1 + np.exp(-scores[0, :, 0].astype(np.float64).clip(-50, 50)))
    keep = np.flatnonzero(score > PALM)
    each = places[0, keep].astype(np.float64).reshape(-1, 9, 2)  # middle, size, then seven points
    each[:, 0] += _anchors(SIDE)[keep]
    each[:, 2:] += _anchors(SIDE)[keep][:, None]
    merged = _merged(each, score[keep])[:MOST]
    back = (np.array([left, top]), 1 / shrink)
    return [_about_palm((one - back[0] * (np.arange(9) != 1)[:, None]) * back[1]) for one in merged]


def _as_input(picture: Pixels) -> NDArray[np.float32]:
    return np.ascontiguousarray(picture.transpose(2, 0, 1)[None], np.float32) / np.float32(255)


def _merged(each: Array, score: Array) -> list[Array]:
    """One palm of all answers (n, 9, 2) that overlap, each counting by its score; likeliest first."""
    corners = np.concatenate([each[:, 0] - each[:, 1] / 2, each[:, 0] + each[:, 1] / 2], axis=1)
    area = each[:, 1].prod(axis=1)
    left, merged = np.argsort(-score, kind="stable"), []
    while len(left):
        best, rest = corners[left[0]], corners[left]
        both = (np.minimum(best[2:], rest[:, 2:]) - np.maximum(best[:2], rest[:, :2])).clip(0).prod(axis=1)
        same = both > SAME * (area[left[0]] + area[left] - both)
        same[0] = True  # an answer without any size too
        own = left[same]
        merged.append(np.asarray(np.average(each[own], axis=0, weights=score[own]), np.float64))
        left = left[~same]
    return merged


def _about_palm(palm: Array) -> _Square:
    """The whole hand's square from its palm's box and points (9, 2): turned so that the middle finger points up, 2.6
    times as large, and half a palm further up (both as published).
    """
    turn, up = _turn(palm[2], palm[4])  # wrist and the middle finger's knuckle
    side = float(palm[1].max())
    return _Square(palm[0] + 0.5 * side * up, 2.6 * side, turn)


def _turn(low: Array, high: Array) -> tuple[float, Array]:
    """The turn that brings the way from `low` to `high` upright, and its direction (x, y)."""
    away = high - low
    turn = float(np.arctan2(away[0], -away[1]))
    return turn, np.array([np.sin(turn), -np.cos(turn)])


def _about_joints(joints: Array) -> _Square:
    """The square of a hand whose joints (21, 2) were seen: twice as large as what its palm and middle joints span."""
    knuckles = 0.5 * joints[MIDDLE] + 0.25 * (joints[FIRST + 1] + joints[RING + 1])
    turn, up = _turn(joints[WRIST], knuckles)
    across = np.array([-up[1], up[0]])
    inner = joints[[0, 1, 2, 3, 5, 6, 9, 10, 13, 14, 17, 18]]
    own = np.column_stack([inner @ across, inner @ up])
    low, high = own.min(axis=0), own.max(axis=0)
    side, middle = float((high - low).max()), (low + high) / 2
    return _Square(middle[0] * across + (middle[1] + 0.1 * side) * up, 2 * side, turn)


def _look(pixels: Pixels, square: _Square, *, mirrored: bool = False) -> _Look:
    """The joints in one square of the picture, seen as it is or with left and right exchanged."""
    scale = CUT / max(square.side, 1e-6)
    cos, sin = np.cos(square.turn) * scale, np.sin(square.turn) * scale
    to = np.array([[cos, sin], [-sin, cos]])
    if mirrored:
        to[0] *= -1
    matrix = np.column_stack([to, np.array([CUT / 2, CUT / 2]) - to @ square.middle])
    cut = np.asarray(cv2.warpAffine(pixels, matrix, (CUT, CUT), flags=cv2.INTER_LINEAR), np.uint8)
    joints, present, solid = opened(JOINTS, LANES).run(["joints", "present", "solid"], {"picture": _as_input(cut)})
    flat = joints.reshape(21, 3)[:, :2].astype(np.float64)
    seen = (flat - matrix[:, 2]) @ np.linalg.inv(to).T
    return _Look(float(present.ravel()[0]), seen, solid.reshape(21, 3).astype(np.float64))


def _hand(pixels: Pixels, square: _Square) -> Hand | None:
    """The hand in a palm's square by three cuts; None where there is hardly one, or a small one.

    The palm's own square, the better one of the joints seen in it, and that mirrored: one cut alone is wrong a little
    more often, and the three tell how clear each finger is.
    """
    first = _look(pixels, square)
    if first.present < PRESENT / 9:  # hopeless: two more cuts are not worth their time
        return None
    second = _look(pixels, _about_joints(first.joints))
    third = _look(pixels, _about_joints(second.joints), mirrored=True)
    looks = (first, second, third)
    present = sorted(look.present for look in looks)[1]
    joints = np.median([look.joints for look in looks], axis=0)
    large = float(np.ptp(joints, axis=0).max()) / max(pixels.shape[:2])
    if present < PRESENT or large < LEAST:
        return None
    each = np.array([_heights(look) for look in looks])
    usual = np.median(each, axis=0)
    raised = usual > 0
    clear = np.where(raised, each, -each).min(axis=0).clip(0, 1)
    return Hand(joints[:, ::-1], tuple(raised.tolist()), tuple(clear.tolist()), present, large)


def _heights(look: _Look) -> Array:
    """How far each finger is raised (above 0) or bent (below), thumb first; 1 is as clear as can be.

    A finger is raised where its tip is further from the wrist than its middle joint by RAISED. A thumb is where it is
    straight for as far as its tip lies from the middle finger's knuckle, in lengths of the palm.
    """
    joints = look.joints

    def apart(i: int, j: int) -> float:
        return max(1e-6, float(np.linalg.norm(joints[i] - joints[j])))

    tall = [(apart(tip, WRIST) / apart(inner, WRIST) - RAISED) / FULL for _, inner, _, tip in FINGERS[1:]]
    away = apart(FINGERS[0][3], MIDDLE) / apart(MIDDLE, WRIST)
    thumb = (away - _bend(look.solid[[0, *FINGERS[0]]]) / THUMB_BEND + THUMB_AWAY) / FULL
    return np.array([thumb, *tall]).clip(-1, 1)


def _bend(joints: Array) -> float:
    """By how many degrees a finger bends beyond its root, at its two outer joints together."""
    ways = np.diff(joints, axis=0)
    ways /= np.linalg.norm(ways, axis=1, keepdims=True).clip(1e-9)
    turns = np.degrees(np.arccos((ways[:-1] * ways[1:]).sum(axis=1).clip(-1, 1)))
    return float(turns[1:].sum())


def _one_hand(one: Hand, other: Hand) -> bool:
    """Whether two are the same hand, found twice: most joints lie in the same places."""
    apart = np.linalg.norm(one.joints - other.joints, axis=1)
    return float(np.median(apart)) < 0.25 * float(np.ptp(one.joints, axis=0).max())

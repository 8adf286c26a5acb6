"""Which pixels show which raised finger, from the joints of the hands: a cover over fingers folds whole ones away.

A finger has no outline of its own where it meets the palm, so no outline tells where it ends; its joints do.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from curator.classroom.marking.extents import Floats, Pixels
from curator.seeing.net.hands import FINGERS, MIDDLE, WRIST, Hand, hands

THUMB = 0
# of the palm's length, wrist to the middle knuckle: half a finger's width at its widest joint (from memory)
THICK = 0.115
ROOT = 0.4  # of the way from a knuckle to the joint after it: there a finger leaves the palm (from memory)
TIP = 0.9  # of half its width: so far a finger reaches past its last joint, which lies under the nail
NEAR = 1.5  # half widths: no farther does a dot lie from the middle line of its finger


def outlined(small: Pixels, things: Floats) -> NDArray[np.uint8] | None:
    """(h, w) 0 for no thing, 1 + i for the finger at the i-th place; None where not every place lies on a raised finger
    of its own.

    things: (n, 4) middles and half sizes x, y in the pixels of the picture.
    """
    import cv2

    raised = [_middle_line(hand, k) for hand in hands(small) for k, up in enumerate(hand.raised) if up]
    if len(raised) < len(things) or not len(things):
        return None
    away = np.array([[_away(thing[:2], *finger) for finger in raised] for thing in things])
    nearest = away.argmin(axis=1)
    if away.min(axis=1).max() > NEAR or len(set(nearest.tolist())) < len(things):
        return None
    found = np.zeros(small.shape[:2], np.uint8)
    for i, n in enumerate(nearest.tolist()):
        line, half = raised[n]
        for start, end in pairwise(line):
            cv2.line(found, _pixel(start), _pixel(end), (i + 1,), max(1, round(2 * half)), cv2.LINE_8)
    return found


def _middle_line(hand: Hand, k: int) -> tuple[Floats, float]:
    """(n, 2) x, y along a finger from where it leaves the palm to its end less half its width, and half its width."""
    joints = hand.joints[list(FINGERS[k])][:, ::-1]
    half = THICK * float(np.linalg.norm(hand.joints[MIDDLE] - hand.joints[WRIST]))
    line = joints[1:].copy() if k == THUMB else joints.copy()
    if k != THUMB:
        line[0] += ROOT * (line[1] - line[0])
    last = line[-1] - line[-2]
    line[-1] += (TIP - 1) * half * last / max(1e-6, float(np.linalg.norm(last)))  # round ends reach half a width on
    return line, half


def _away(place: Floats, line: Floats, half: float) -> float:
    """How far a place x, y lies from a finger's middle line, in half widths."""
    ways = np.diff(line, axis=0)
    share = (((place - line[:-1]) * ways).sum(axis=1) / np.maximum((ways**2).sum(axis=1), 1e-9)).clip(0, 1)
    return float(np.linalg.norm(line[:-1] + share[:, None] * ways - place, axis=1).min()) / half


def _pixel(place: Floats) -> tuple[int, int]:
    return round(float(place[0])), round(float(place[1]))

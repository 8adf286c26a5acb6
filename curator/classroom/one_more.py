"""A double with one more drawn beside it: the picture a little smaller, a plus sign, and one of its things again."""

from __future__ import annotations

import numpy as np

from curator.classroom.marking.covers import DARK
from curator.classroom.marking.extents import Pixels, reaches
from curator.classroom.marking.rings import ORANGE
from curator.records import Prompt

PAPER = (244, 241, 234)
SHRUNK = 0.8  # of the picture's width and height
ROOM = 1.25  # of a thing: what its copy shows


def drawn(photo: Pixels, prompt: Prompt) -> Pixels:
    """(H, W, 3) as large as the picture, which is shrunk into its left; the one that comes has a ring of its own."""
    import cv2

    high, wide = photo.shape[:2]
    out: Pixels = np.full_like(photo, PAPER)
    small = cv2.resize(photo, (round(wide * SHRUNK), round(high * SHRUNK)), interpolation=cv2.INTER_AREA)
    top = (high - small.shape[0]) // 2
    out[top : top + small.shape[0], : small.shape[1]] = small
    one = _one(photo, prompt)
    strip = wide - small.shape[1]
    most = (0.5 * high, 0.86 * strip)
    scale = min(most[0] / one.shape[0], most[1] / one.shape[1], max(SHRUNK, 0.6 * strip / max(one.shape[:2])))
    size = (max(1, round(one.shape[1] * scale)), max(1, round(one.shape[0] * scale)))
    one = np.asarray(cv2.resize(one, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    y, x = (high - size[1]) // 2, small.shape[1] + (strip - size[0]) // 2
    out[y : y + size[1], x : x + size[0]] = one
    line = max(2, round(wide / 300))
    cv2.rectangle(out, (x - line, y - line), (x + size[0] + line, y + size[1] + line), DARK, 2 * line)
    cv2.rectangle(out, (x - line, y - line), (x + size[0] + line, y + size[1] + line), ORANGE, line)
    arm = round(0.14 * strip)
    middle = (small.shape[1] + strip // 2, max(2 * arm, y - 2 * arm))
    for ends in (((-arm, 0), (arm, 0)), ((0, -arm), (0, arm))):
        (a, b), (c, d) = ends
        cv2.line(out, (middle[0] + a, middle[1] + b), (middle[0] + c, middle[1] + d), DARK, 3 * line)
    return out


def _one(photo: Pixels, prompt: Prompt) -> Pixels:
    """The part of the picture that shows one thing: of all, the one that lies farthest from its neighbours."""
    things = reaches(prompt, (photo.shape[0], photo.shape[1]))
    counted = [i for i, d in enumerate(prompt.dots) if d.side or prompt.fact is None]
    apart = np.linalg.norm(things[:, None, :2] - things[None, :, :2], axis=2) + np.diag([np.inf] * len(things))
    best = max(counted, key=lambda i: float(apart[i].min()) if len(things) > 1 else 0.0)
    x, y, w, h = things[best]
    reach_x, reach_y = ROOM * w, ROOM * h
    rows = slice(max(0, round(y - reach_y)), max(1, round(y + reach_y)))
    columns = slice(max(0, round(x - reach_x)), max(1, round(x + reach_x)))
    return np.ascontiguousarray(photo[rows, columns])

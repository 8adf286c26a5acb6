"""A double with one more drawn beside it: the picture, and right of it a plus sign and one of its things again."""

from __future__ import annotations

import numpy as np

from curator.classroom.marking.card_colors import LIGHT
from curator.classroom.marking.covers import stroke
from curator.classroom.marking.extents import Pixels, reaches
from curator.classroom.marking.rings import ORANGE
from curator.records import Prompt

GROUND = (18, 22, 28)  # of slides and of the page: the picture ends where the photo does
STRIP = 0.25  # of the picture's width: what stands beside it
ROOM = 1.25  # of a thing: what its copy shows


def wider(size: tuple[int, int]) -> tuple[int, int]:
    """Width and height with what comes beside a picture of that width and height."""
    return size[0] + max(1, round(STRIP * size[0])), size[1]


def drawn(photo: Pixels, prompt: Prompt) -> Pixels:
    """(H, `wider` W, 3) the picture, and what stands beside it; the one that comes has a ring of its own."""
    import cv2

    high, wide = photo.shape[:2]
    out: Pixels = np.full((high, wider((wide, high))[0], 3), GROUND, np.uint8)
    out[:, :wide] = photo
    one = _one(photo, prompt)
    strip = out.shape[1] - wide
    scale = min(
        0.5 * high / one.shape[0], 0.8 * strip / one.shape[1], max(1.0, 0.6 * strip / max(one.shape[0], one.shape[1]))
    )
    size = (max(1, round(one.shape[1] * scale)), max(1, round(one.shape[0] * scale)))
    one = np.asarray(cv2.resize(one, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    y, x = (high - size[1]) // 2, wide + (strip - size[0]) // 2
    out[y : y + size[1], x : x + size[0]] = one
    line = max(1, round(1.6 * stroke((high, wide))))
    cv2.rectangle(out, (x - line, y - line), (x + size[0] + line, y + size[1] + line), LIGHT, 2 * line)
    cv2.rectangle(out, (x - line, y - line), (x + size[0] + line, y + size[1] + line), ORANGE, line)
    arm = round(0.14 * strip)
    middle = (wide + strip // 2, max(arm + line, y - 2 * line - round(1.6 * arm)))
    for ends in (((-arm, 0), (arm, 0)), ((0, -arm), (0, arm))):
        (a, b), (c, d) = ends
        cv2.line(out, (middle[0] + a, middle[1] + b), (middle[0] + c, middle[1] + d), LIGHT, 2 * line)
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

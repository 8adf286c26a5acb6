"""More places that look like one place: a patch compared with the whole picture (not a finder)."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

LEAST = 0.42  # correlation under which a place is not like the patch


@dataclass(frozen=True, slots=True, eq=False)
class Repeat:
    """Places like one patch: middles (row, col) and the patch's height and width in pixels, how like each place is."""

    centers: NDArray[np.float64]
    shape: tuple[int, int]
    likeness: NDArray[np.float64]  # correlation with the patch, falling, 1 for the patch itself
    lead: float  # step in likeness down to the next place, left out; 0 to 1


def prepared(small: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture as it is compared: softened Lab, its lightness evened out."""
    lab: NDArray[np.uint8] = cv2.cvtColor(cv2.GaussianBlur(small, (0, 0), 0.9), cv2.COLOR_RGB2LAB)
    light = lab[..., 0].astype(np.float32)
    reach = int(0.35 * max(light.shape)) | 1
    lab[..., 0] = np.clip(light - cv2.blur(light, (reach, reach)) + 128, 0, 255).astype(np.uint8)
    return lab


def places_like(view: NDArray[np.uint8], box: tuple[int, int, int, int]) -> list[Repeat]:
    """Sets of places like the patch in `box` (top, left, bottom, right), cut where likeness falls most; best first."""
    height, width = view.shape[:2]
    more = max(2, round(0.12 * min(box[2] - box[0], box[3] - box[1])))
    top, left = max(0, box[0] - more), max(0, box[1] - more)
    bottom, right = min(height, box[2] + more), min(width, box[3] + more)
    h, w = bottom - top, right - left
    if min(h, w) < 6 or h > 0.6 * height or w > 0.6 * width:
        return []
    score = cv2.matchTemplate(view, np.ascontiguousarray(view[top:bottom, left:right]), cv2.TM_CCOEFF_NORMED)
    peak = (
        score >= cv2.dilate(score, np.ones((max(3, round(0.7 * h) | 1), max(3, round(0.7 * w) | 1)), np.uint8)) - 1e-6
    )
    rows, cols = np.nonzero(peak & (score > LEAST))
    like = score[rows, cols].astype(np.float64)
    order = np.argsort(-like, kind="stable")[:40]
    rows, cols, like = rows[order], cols[order], np.clip(like[order], 0, 1)
    if len(like) < 2:
        return []
    steps = np.append(like[:-1] - like[1:], max(0.0, like[-1] - LEAST))
    steps[0] = 0.0  # the patch itself is always 1
    middles = np.stack([rows + h / 2, cols + w / 2], axis=1)
    cuts = [int(i) + 1 for i in np.argsort(-steps, kind="stable")[:2] if steps[i] > 0.02]
    return [Repeat(middles[:n], (h, w), like[:n], float(min(1.0, 4 * steps[n - 1]))) for n in cuts]

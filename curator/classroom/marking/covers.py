"""Covers: opaque, shaped to their things; nothing of a covered thing shows, nothing of another is hidden."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from curator.classroom.marking import shapes
from curator.classroom.marking.extents import Mask, Pixels, reaches
from curator.classroom.marking.outlines import Labels
from curator.records import Prompt

PAPER = (74, 82, 96)  # 7.9:1 against LIGHT
LIGHT, DARK = (255, 255, 255), (20, 20, 20)


def sheet(own: Labels, prompt: Prompt, members: Collection[int], size: tuple[int, int]) -> Mask:
    """(H, W) where the cover over these dots lies, in a picture of that height and width."""
    small = shapes.working(size)
    return shapes.full(shapes.about(shapes.parted(own, prompt, members, small)), size)


def lay(photo: Pixels, mask: Mask) -> Pixels:
    """The picture with an opaque sheet there, edged light inside and dark outside, all within the mask."""
    import cv2

    out = photo.copy()
    line = max(2, round(mask.shape[1] / 480))
    left, top, width, height = cv2.boundingRect(mask.astype(np.uint8))
    part = out[top : top + height, left : left + width]
    deep = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_REPLICATE)[
        top : top + height + 2, left : left + width + 2
    ]
    inward = cv2.distanceTransform(np.ascontiguousarray(deep), cv2.DIST_L2, 5)[1:-1, 1:-1]
    for color, beyond in ((DARK, 0.0), (LIGHT, float(line)), (PAPER, 2.0 * line)):
        part[inward > beyond] = color
    return out


def some(prompt: Prompt, k: int, size: tuple[int, int]) -> list[int]:
    """k neighbouring things, chosen so that a sheet over them keeps farthest from the others."""
    counted = [i for i, d in enumerate(prompt.dots) if d.side]
    if not 0 < k < len(counted):
        raise ValueError(f"k: expected 1 to {len(counted) - 1}, got {k}")
    at = reaches(prompt, size)[counted]
    best, most = list(range(k)), -np.inf
    for turn in np.radians(np.arange(0, 360, 30)):
        along = at[:, :2] @ np.array([np.cos(turn), np.sin(turn)]) + 1e-4 * at[:, :2] @ np.array(
            [-np.sin(turn), np.cos(turn)]
        )
        order = np.argsort(along, kind="stable")
        gap = along[order[k]] - along[order[k - 1]]
        if gap > most * 1.2 + 1e-9 or most == -np.inf:
            best, most = [counted[i] for i in order[:k]], float(gap)
    return sorted(best)

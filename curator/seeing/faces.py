"""Frontal faces, so that a teacher is reminded of them. It misses turned, small or covered faces, and says so."""

from __future__ import annotations

from functools import cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Box

LOOKED_AT = 320  # longer side, in pixels, of the copy that is searched: keeps the search under half a second
SMALLEST, LARGEST = 28, 300  # side of a face in that copy


@cache
def _cascade() -> Any:
    """The local-binary-pattern frontal-face cascade that scikit-image carries."""
    from skimage.data import lbp_frontal_face_cascade_filename
    from skimage.feature import Cascade

    return Cascade(lbp_frontal_face_cascade_filename())


def faces(pixels: NDArray[np.uint8]) -> list[Box]:
    """Boxes of likely frontal faces in (H, W, 3) uint8 sRGB pixels; may miss some and may point at none."""
    height, width = pixels.shape[:2]
    shrink = min(1.0, LOOKED_AT / max(height, width))
    size = (max(1, round(width * shrink)), max(1, round(height * shrink)))
    if min(size) < SMALLEST:
        return []
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    found = _cascade().detect_multi_scale(
        img=small, scale_factor=1.2, step_ratio=1.3, min_size=(SMALLEST, SMALLEST), max_size=(LARGEST, LARGEST)
    )
    boxes = []
    for one in found:
        top, left = int(one["r"] / shrink), int(one["c"] / shrink)
        bottom, right = int((one["r"] + one["height"]) / shrink), int((one["c"] + one["width"]) / shrink)
        boxes.append(Box(max(0, top), max(0, left), min(height, bottom), min(width, right)))
    return boxes

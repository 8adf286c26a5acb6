"""A picture made smaller, for what a class sees and for glances at it."""

from __future__ import annotations

from math import log2

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]


def shrunk(pixels: Pixels, size: tuple[int, int]) -> Pixels:
    """The picture (H, W, 3) at that height and width, neither larger than its own.

    First by lines between pixels to so many times that size as halving makes it again, less than half as large or as
    small again; then halved: as near to Lanczos' filter as means over parts of pixels are, in a fifth to three quarters
    of their time.
    """
    import cv2

    halvings = max(0, round(log2(min(pixels.shape[0] / size[0], pixels.shape[1] / size[1]))))
    for times in (2**n for n in range(halvings, -1, -1)):
        high, wide = times * size[0], times * size[1]
        if pixels.shape[:2] != (high, wide):
            how = cv2.INTER_AREA if times < 2**halvings else cv2.INTER_LINEAR
            pixels = np.asarray(cv2.resize(pixels, (wide, high), interpolation=how), dtype=np.uint8)
    return pixels


def within(pixels: Pixels, wide: float, tall: float) -> Pixels:
    """The picture (H, W, 3) at most so wide and tall, never enlarged."""
    scale = min(wide / pixels.shape[1], tall / pixels.shape[0])
    if scale >= 1:
        return pixels
    return shrunk(pixels, (max(1, round(pixels.shape[0] * scale)), max(1, round(pixels.shape[1] * scale))))

"""Sums of a picture's colours, from which any box's mean and spread are read off (not a finder)."""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float64]


class Looks(NamedTuple):
    """Sums over L*a*b* (0..255 each) and its squares, so that any box's mean and deviation cost nothing."""

    sums: NDArray[np.int32]  # (H + 1, W + 1, 3), of a picture of up to eight megapixels
    squares: Values


def looks_of(pixels: NDArray[np.uint8]) -> Looks:
    """The sums of a picture, uint8 (H, W, 3)."""
    lab = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB)
    sums, squares = cv2.integral2(lab, sdepth=cv2.CV_32S, sqdepth=cv2.CV_64F)
    return Looks(np.asarray(sums, np.int32), np.asarray(squares, np.float64))

"""Which colour a card takes: the one that stands out from what lies around it in the picture."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from curator.classroom import shrinking
from curator.classroom.marking.extents import Mask, Pixels

Color = tuple[int, int, int]
LIGHT, DARK = (255, 255, 255), (20, 20, 20)
DARK_CARD, LIGHT_CARD = (52, 58, 70), (244, 240, 230)
# relative luminance 0.04 and 0.87 (WCAG 2.2): on any one grey at least one of them has 3:1
CONTRAST = 3.0  # against what lies around it (WCAG 2.2, success criterion 1.4.11)
GLANCE = 480  # pixels of the copy that is looked at
BAND = 0.02  # of the picture's longer side: what lies so near to a card lies around it


def glanced(photo: Pixels) -> Pixels:
    """A small copy of the picture, for the colours of its cards."""
    return shrinking.within(photo, GLANCE, GLANCE)


def beside(small: Pixels, mask: Mask) -> Color:
    """The card that stands out 3:1 from most of what lies around it; the dark one where both do."""
    import cv2

    inside = cv2.resize(mask.view(np.uint8), small.shape[1::-1], interpolation=cv2.INTER_NEAREST)
    reach = max(2, round(BAND * max(small.shape[:2])))
    ring = (cv2.dilate(inside, np.ones((2 * reach + 1,) * 2, np.uint8)) > 0) & (inside == 0)
    there = luminance(small[ring])
    shares = [float((contrast(there, luminance(np.array(c, np.uint8))) >= CONTRAST).mean()) if len(there) else 1.0
              for c in (DARK_CARD, LIGHT_CARD)]  # fmt: skip
    return DARK_CARD if shares[0] >= shares[1] else LIGHT_CARD


def luminance(pixels: Pixels) -> NDArray[np.float64]:
    """(...,) relative luminance 0 to 1 of sRGB pixels (..., 3), as WCAG 2.2 defines it."""
    value = pixels.astype(np.float64) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Contrast ratio, 1 to 21, of relative luminances (WCAG 2.2)."""
    return np.asarray((np.maximum(one, other) + 0.05) / (np.minimum(one, other) + 0.05))

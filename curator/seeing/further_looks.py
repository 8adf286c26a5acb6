"""A photo seen twice more, mirrored and as it is when somebody passes it on, for where its number is in doubt
(`judging/pooled.py`)."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing.finders import find_all
from curator.seeing.net.runtime import MODEL
from curator.seeing.view import view_of

Pixels = NDArray[np.uint8]
SMALLER, QUALITY = 0.94, 85  # of a photo passed on: its longer side, and its JPEG quality


def further(pixels: Pixels, model: Path = MODEL) -> list[list[ThingSet]]:
    """The candidate sets of each further look at (H, W, 3) pixels; places are those of the picture looked at."""
    views = [view_of(picture, model) for picture in (mirrored(pixels), passed_on(pixels))]  # the net goes on beside
    return [find_all(view) for view in views]


def mirrored(pixels: Pixels) -> Pixels:
    """Left and right exchanged."""
    return np.ascontiguousarray(pixels[:, ::-1])


def passed_on(pixels: Pixels) -> Pixels:
    """As a message service hands it on, a little smaller and saved again."""
    size = (round(pixels.shape[1] * SMALLER), round(pixels.shape[0] * SMALLER))
    small = cv2.cvtColor(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2BGR)
    _, data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return np.asarray(cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB), np.uint8)

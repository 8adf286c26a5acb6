"""A photo seen again, mirrored and as it is when somebody passes it on, for where its number is in doubt
(`judging/pooled.py`)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing.finders import find_all
from curator.seeing.net.hands import Hand
from curator.seeing.view import View, nets_on, view_of

Pixels = NDArray[np.uint8]
SMALLER, QUALITY = 0.94, 85  # of a photo passed on: its longer side, and its JPEG quality


def further(view: View) -> Iterator[list[ThingSet]]:
    """The candidate sets of each further look at what `view` shows; places are those of the picture looked at. Hands
    are where the first look has them: a mirrored or smaller picture says the same of them (`.docs/experiments.md`).
    """
    right = view.size[1] - 1
    hands = partial(_all_moved, view, (1, -1), (0, right))
    found = find_all(view_of(mirrored(view.pixels), view.model, hands))
    smaller = passed_on(view.pixels)
    nets = nets_on(smaller, view.model, partial(_all_moved, view, (SMALLER, SMALLER)))
    yield found  # while that is measured the nets look at the other: nine in ten need it
    yield find_all(view_of(smaller, view.model, begun=nets))


def _all_moved(view: View, scale: tuple[float, float], offset: tuple[int, int] = (0, 0)) -> tuple[Hand, ...]:
    return tuple(_moved(hand, scale, offset) for hand in view.hands)


def _moved(hand: Hand, scale: tuple[float, float], offset: tuple[int, int] = (0, 0)) -> Hand:
    """The same hand in a picture of another size: rows and columns times `scale`, and `offset` on."""
    return replace(hand, joints=hand.joints * scale + offset)


def mirrored(pixels: Pixels) -> Pixels:
    """Left and right exchanged."""
    return np.ascontiguousarray(pixels[:, ::-1])


def passed_on(pixels: Pixels) -> Pixels:
    """As a message service hands it on, a little smaller and saved again."""
    size = (round(pixels.shape[1] * SMALLER), round(pixels.shape[0] * SMALLER))
    small = cv2.cvtColor(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2BGR)
    _, data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return np.asarray(cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB), np.uint8)

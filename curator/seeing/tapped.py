"""How large a thing is that a person pointed at: as the net outlines it, where its looks agree.

A tap gives a place and no size, and a square as wide as half the usual step between taps says little of a shoe or of
what lies among small things. Of the net's looks at a picture the two neighbours that agree best are asked.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from curator.records import Box, Thing, ThingSet
from curator.seeing.net import outlines
from curator.seeing.net.runtime import Sight

Array = NDArray[np.float64]
AGREE = 0.6  # intersection over union of a thing's boxes in two looks: with less neither is believed


def sized(things: ThingSet, sights: Sequence[Sight]) -> ThingSet:
    """The same things with the boxes of their outlines, in the pixels of the picture that was seen; where the looks do
    not agree about one, or it would hold another one's place, its box stays as it is.
    """
    if not len(things) or len(sights) < 2 or not outlines.available(sights[-1]):
        return things
    looks = [_boxes(look, things) for look in sights]
    agreed = [_agreement(one, other) for one, other in pairwise(looks)]
    best = max(range(len(agreed)), key=lambda k: float(np.median(agreed[k])))
    told = (looks[best] + looks[best + 1]) / 2
    alone = _alone(told, things.centers)
    sure = (agreed[best] >= AGREE) & alone
    own = [_with_box(t, b) if good else t for t, b, good in zip(things.things, told, sure, strict=True)]
    return dataclasses.replace(things, things=tuple(own))


def _boxes(look: Sight, things: ThingSet) -> Array:
    """(n, 4) top, left, bottom, right of each thing's outline in one look; of no size where there is none."""
    found = np.zeros((len(things), 4))
    for k, corners in enumerate(outlines.hulls(look, things.centers)):
        if len(corners):
            found[k] = (*corners.min(axis=0), *corners.max(axis=0))
    size = np.array(things.size, dtype=np.float64)
    found[:, :2], found[:, 2:] = found[:, :2].clip(0, size), found[:, 2:].clip(0, size)
    return found


def _agreement(one: Array, other: Array) -> Array:
    """(n,) intersection over union of each two boxes."""
    both = (np.minimum(one[:, 2:], other[:, 2:]) - np.maximum(one[:, :2], other[:, :2])).clip(0).prod(axis=1)
    areas = [(each[:, 2:] - each[:, :2]).prod(axis=1) for each in (one, other)]
    return np.asarray(both / np.maximum(areas[0] + areas[1] - both, 1e-9))


def _alone(told: Array, centers: Array) -> NDArray[np.bool_]:
    """(n,) whether a box holds its own place and no other thing's middle half lies in it."""
    inside = (centers[None] >= told[:, None, :2]) & (centers[None] <= told[:, None, 2:])
    held = inside.all(axis=2)
    own = np.diag(held).copy()
    return np.asarray(own & (held.sum(axis=1) == 1))


def _with_box(thing: Thing, box: Array) -> Thing:
    top, left = np.floor(box[:2]).astype(int).tolist()
    bottom, right = np.ceil(box[2:]).astype(int).tolist()
    return dataclasses.replace(thing, box=Box(top, left, max(bottom, top + 2), max(right, left + 2)))

"""The second net at run time: a photo with one candidate set marked in, how right that set is out.

How it was made, from what, and how far it can be believed: `curator/models/README.md`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing.beside import LANES, beside
from curator.seeing.net.runtime import Maps, input_of, planes
from curator.seeing.net.session import opened

MODEL = Path(__file__).parents[2] / "models" / "checker.onnx"
LONGER = 256  # of its input: trained with 320, it learned to answer the same of 256 in .6 of the time
BLOT, LEAST, DOT = 0.35, 1.0, 1.2  # deviations: of a thing's side, at least so many cells, and of the dot in its middle


class Checked(NamedTuple):
    """What the net says of one set; logits."""

    right: float  # that these are all and only the things meant
    recall: float  # the share of the things meant that is marked
    precision: float  # the share of the marks that are things meant


def check(pixels: NDArray[np.uint8], sets: Sequence[ThingSet]) -> list[Checked]:
    """Each set's answer, looked at in the picture (H, W, 3) uint8 RGB whose pixels its places are in; none where the
    trained file is missing.
    """
    return [answer() for answer in beside(each(pictured(pixels), sets))]


class Pictured(NamedTuple):
    """A picture as the net takes it."""

    image: Maps  # (1, 3, h, w)
    scale: float  # its pixels per pixel of the picture


def pictured(pixels: NDArray[np.uint8]) -> Pictured:
    """The picture (H, W, 3) uint8 RGB as the net takes it."""
    picture, scale = input_of(pixels, LONGER)
    return Pictured(planes(picture), scale)


def each(seen: Pictured, sets: Sequence[ThingSet]) -> list[Callable[[], Checked]]:
    """What `check` does, set by set: two sets on a core each are done sooner than one after the other on both."""
    return [partial(_answer, _given(seen, [things])) for things in sets] if MODEL.exists() else []


def _answer(told: dict[str, Maps]) -> Checked:
    ((row,),) = opened(MODEL, LANES).run(["answer"], told)
    return Checked(*(float(v) for v in row))


def given(pixels: NDArray[np.uint8], sets: Sequence[ThingSet]) -> dict[str, Maps]:
    """What the net is given of a picture and sets in it: `image` (1, 3, h, w) and `marks` (sets, 2, h / 2, w / 2)."""
    return _given(pictured(pixels), sets)


def _given(seen: Pictured, sets: Sequence[ThingSet]) -> dict[str, Maps]:
    shape = (seen.image.shape[2] // 2, seen.image.shape[3] // 2)
    return {"image": seen.image, "marks": np.stack([_marked(things, seen.scale, shape) for things in sets])}


def _marked(things: ThingSet, scale: float, shape: tuple[int, int]) -> Maps:
    """(2, *shape): a soft blot as large as each thing, and a dot in its middle."""
    at = (things.centers * scale - 0.5) / 2
    boxes = np.array([t.box for t in things.things], np.float64).reshape(-1, 4)
    extent = (boxes[:, 2:] - boxes[:, :2]) * scale / 2
    reach = np.maximum(extent * BLOT, LEAST)
    return np.stack([_largest(at, reach, shape), _largest(at, np.full_like(at, DOT), shape)])


def _largest(at: NDArray[np.float64], reach: NDArray[np.float64], shape: tuple[int, int]) -> Maps:
    """The largest of the Gaussians at each place of the map."""
    down, across = (np.arange(side, dtype=np.float64) for side in shape)
    rows = np.exp(-0.5 * ((down - at[:, :1]) / reach[:, :1]) ** 2).astype(np.float32)
    columns = np.exp(-0.5 * ((across - at[:, 1:]) / reach[:, 1:]) ** 2).astype(np.float32)
    best = np.zeros(shape, np.float32)
    for row, column in zip(rows, columns, strict=True):
        np.maximum(best, row[:, None] * column[None], out=best)
    return best

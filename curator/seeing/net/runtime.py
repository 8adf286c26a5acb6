"""The trained net at run time: pixels and taps in, maps and peaks out.

How the net was made, from what, and how far it can be believed: `curator/models/README.md`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing.beside import LANES
from curator.seeing.net import one_thing
from curator.seeing.net.session import opened

Maps = NDArray[np.float32]

MODEL = Path(__file__).parents[2] / "models" / "finder.onnx"
STRIDE = 4
CHANNELS = {"main": 0, "whole": 1, "part": 2, "group": 3, "height": 4, "width": 5, "tip": 6, "axis": 7}
OUTLINED = ("main", "whole", "part")  # maps with a peak a thing; others show groups, ends of limbs, axes
EMBED = slice(8, 24)
SCALE_BINS = 12
SIZES = (256, 384, 512)  # longer sides at which one photo is looked at
CUT = 0.35  # a peak of the main map counts as a thing above it: where training balances misses and extras
FAINT = 0.12  # fainter peaks are not looked at
LEAST = 0.08  # nor, where all that a set leaves out is asked for, fainter ones than this
MOST_PEAKS = 80
TAP_REACH = 6.0  # pixels of the net's input, as in training
GREY = 127  # fills what the input lacks to a multiple of 32, as in training


@dataclass(frozen=True, slots=True, eq=False)
class Peaks:
    """Places where the net sees a thing's centre, the clearest first; pixels of the picture it was given."""

    centers: NDArray[np.float64]  # (n, 2) row, col
    extents: NDArray[np.float64]  # (n, 2) height, width
    scores: NDArray[np.float64]  # (n,) 0 to 1
    embed: NDArray[np.float64]  # (n, 16) unit vectors: near 1 in product where two things are of one kind

    def __len__(self) -> int:
        return len(self.scores)

    def taken(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> Peaks:
        """Only these."""
        return Peaks(self.centers[keep], self.extents[keep], self.scores[keep], self.embed[keep])


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """What the net answers for one picture at one size."""

    dense: Maps  # (24, h, w) raw, stride 4
    scale: NDArray[np.float64]  # (12,) probabilities of the things' size, 0.02 to 0.8 of the longer side
    count: NDArray[np.float64]  # (27,) probabilities of how many
    shrink: float  # net input pixels per picture pixel
    longer: int  # of the net's input
    _maps: dict[str, Maps] = field(default_factory=dict, init=False, repr=False)  # once asked for
    _peaks: dict[str, Peaks] = field(default_factory=dict, init=False, repr=False)

    def belief_in_size(self, extent: float) -> float:
        """How likely things this long, in picture pixels, are the ones meant: their bin of sizes and the two beside
        it.
        """
        at = math.log(max(1.0, extent * self.shrink) / self.longer / 0.02) / math.log(40) * (SCALE_BINS - 1)
        k = min(max(round(at), 0), SCALE_BINS - 1)
        return float(min(1.0, self.scale[max(0, k - 1) : k + 2].sum()))

    def map(self, name: str) -> Maps:
        """One heat map, 0 to 1."""
        if name not in self._maps:
            self._maps[name] = np.asarray(1 / (1 + np.exp(-self.dense[CHANNELS[name]])), np.float32)
            self._maps[name].setflags(write=False)
        return self._maps[name]

    def in_cells(self, centers: NDArray[np.float64]) -> NDArray[np.float64]:
        """Places (..., 2) of the picture, row and col in its pixels, in cells of the maps."""
        return (centers * self.shrink - (STRIDE - 1) / 2) / STRIDE

    def half_sizes(self, rows: Any, cols: Any) -> NDArray[np.float64]:
        """(2, ...) half the height and half the width, in cells, of the things seen in these cells."""
        size = self.dense[CHANNELS["height"] : CHANNELS["width"] + 1, rows, cols].astype(np.float64)
        return np.asarray(32 * np.exp(np.clip(size, -4, 4)) / (2 * STRIDE), np.float64)

    def peaks(self, name: str) -> Peaks:
        """The MOST_PEAKS clearest local maxima of one heat map that are at least LEAST, of those of one thing the
        clearest.
        """
        if name not in self._peaks:
            self._peaks[name] = _found(self, name)
        return self._peaks[name]


def _softmax(x: NDArray[np.float32]) -> NDArray[np.float64]:
    e = np.exp(x.astype(np.float64) - x.max())
    return np.asarray(e / e.sum(), np.float64)


def input_of(pixels: NDArray[np.uint8], longer: int) -> tuple[NDArray[np.uint8], float]:
    """The picture made `longer` pixels long, grey where it ends before a multiple of 32; and input pixels per pixel."""
    shrink = longer / max(pixels.shape[:2])
    size = (max(1, round(pixels.shape[1] * shrink)), max(1, round(pixels.shape[0] * shrink)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA if shrink < 1 else cv2.INTER_LINEAR)
    height, width = -(-size[1] // 32) * 32, -(-size[0] // 32) * 32
    return cv2.copyMakeBorder(
        small, 0, height - size[1], 0, width - size[0], cv2.BORDER_CONSTANT, value=(GREY,) * 3
    ), shrink


def _tapped(taps: Sequence[tuple[float, float]], shape: tuple[int, int], shrink: float) -> Maps:
    rows, cols = np.arange(shape[0])[:, None], np.arange(shape[1])[None]
    tap = np.zeros(shape, np.float32)
    for row, col in taps:
        near = np.exp(-((rows - row * shrink) ** 2 + (cols - col * shrink) ** 2) / (2 * TAP_REACH**2))
        tap = np.maximum(tap, near.astype(np.float32))
    return tap


def planes(picture: NDArray[np.uint8]) -> Maps:
    """A picture (H, W, 3) as nets take it: (1, 3, H, W)."""
    return picture.astype(np.float32).transpose(2, 0, 1)[None]


def given(pixels: NDArray[np.uint8], longer: int, taps: Sequence[tuple[float, float]] = ()) -> tuple[Maps, float]:
    """What the net is given of a picture (1, 4, h, w), its planes less GREY and what is tapped; and input pixels per
    pixel.
    """
    picture, shrink = input_of(pixels, longer)
    told = np.empty((1, 4, *picture.shape[:2]), np.float32)
    np.subtract(picture.transpose(2, 0, 1), np.float32(GREY), out=told[0, :3])
    told[0, 3] = _tapped(taps, (picture.shape[0], picture.shape[1]), shrink)
    return told, shrink


def see(pixels: NDArray[np.uint8], longer: int, taps: Sequence[tuple[float, float]] = (), model: Path = MODEL) -> Sight:
    """Run the net on a picture, uint8 (H, W, 3), made `longer` pixels long; taps are (row, col) in the picture's
    pixels.
    """
    told, shrink = given(pixels, longer, taps)
    dense, whole = opened(model, LANES).run(["dense", "whole"], {"given": told})
    height, width = round(pixels.shape[0] * shrink), round(pixels.shape[1] * shrink)
    seen = dense[0][:, : -(-height // STRIDE), : -(-width // STRIDE)]
    return Sight(
        np.ascontiguousarray(seen), _softmax(whole[0][:SCALE_BINS]), _softmax(whole[0][SCALE_BINS:]), shrink, longer
    )


def embedding(sight: Sight, places: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 16) unit vectors at places (n, 2) of the picture, row and col: near 1 in product where two things are of one
    kind.
    """
    at = np.clip(
        np.rint(places.reshape(-1, 2) * sight.shrink / STRIDE).astype(int), 0, np.array(sight.dense.shape[1:]) - 1
    )
    embed = sight.dense[EMBED, at[:, 0], at[:, 1]].T.astype(np.float64)
    return np.asarray(embed / np.maximum(1e-6, np.linalg.norm(embed, axis=1, keepdims=True)), np.float64)


def odds_inside(sight: Sight, centers: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, n) log odds that the outline of the thing at each of centers (n, 2), row and col in the picture's pixels,
    takes in the middle of each other one; all far below 0 where the trained file gives no outlines.
    """
    at = sight.in_cells(centers)
    cells = np.clip(np.rint(at).astype(int), 0, np.array(sight.dense.shape[1:]) - 1)
    rows, cols = cells.T
    told = sight.dense[:, rows, cols].astype(np.float64)
    return one_thing.takes_in(told, cells.T.astype(np.float64), at.T, sight.half_sizes(rows, cols))


def together(seen: Sequence[Peaks]) -> tuple[Peaks, NDArray[np.intp]]:
    """The peaks of several looks in one, and which look each is of."""
    every = Peaks(*(np.concatenate([getattr(p, field.name) for p in seen]) for field in fields(Peaks)))
    return every, np.repeat(np.arange(len(seen)), [len(p) for p in seen])


def peaks(sight: Sight, name: str = "main", least: float = 0.2) -> Peaks:
    """Local maxima of one heat map, at least `least` (LEAST or more) and at most MOST_PEAKS, refined to a fraction of a
    cell.
    """
    every = sight.peaks(name)
    return every.taken(np.arange(np.count_nonzero(every.scores >= least)))


def _found(sight: Sight, name: str) -> Peaks:
    heat = sight.map(name)
    around = cv2.dilate(heat, np.ones((3, 3), np.uint8))
    rows, cols = np.nonzero((heat >= around) & (heat >= LEAST))
    order = np.argsort(-heat[rows, cols])[:MOST_PEAKS]
    rows, cols = rows[order], cols[order]
    embed = sight.dense[EMBED, rows, cols].T.astype(np.float64)
    embed /= np.maximum(1e-6, np.linalg.norm(embed, axis=1, keepdims=True))
    extents = sight.half_sizes(rows, cols).T * (2 * STRIDE) / sight.shrink
    at = np.column_stack([rows + _lean(heat, rows, cols, 0), cols + _lean(heat, rows, cols, 1)])
    centers = (at * STRIDE + (STRIDE - 1) / 2) / sight.shrink
    every = Peaks(centers, extents, heat[rows, cols].astype(np.float64), embed)
    if name not in OUTLINED:
        return every
    things = one_thing.groups(odds_inside(sight, every.centers), every.scores)
    return every.taken(np.array([own[0] for own in things], np.intp))


def _lean(heat: Maps, rows: NDArray[np.intp], cols: NDArray[np.intp], axis: int) -> NDArray[np.float64]:
    """The vertex of the parabola through a peak and its two neighbours, within half a cell."""
    step = (1, 0) if axis == 0 else (0, 1)
    last = np.array(heat.shape) - 1
    before = heat[np.maximum(rows - step[0], 0), np.maximum(cols - step[1], 0)].astype(np.float64)
    after = heat[np.minimum(rows + step[0], last[0]), np.minimum(cols + step[1], last[1])].astype(np.float64)
    middle = heat[rows, cols].astype(np.float64)
    curve = before - 2 * middle + after
    return np.asarray(
        np.clip(np.where(np.abs(curve) > 1e-6, (before - after) / (2 * np.minimum(curve, -1e-6)), 0.0), -0.5, 0.5)
    )

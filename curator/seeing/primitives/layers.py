"""Components of one channel at all its thresholds, labelled and measured in one go (not a finder)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

MOST = 250  # components of one threshold, the first from the top
WIDEST = 0.85  # of the picture's height or width: what reaches further is ground

FIRST = 2  # empty rows above each layer; rows are labelled by twos, so that all layers begin alike


@dataclass(slots=True, eq=False)
class Layer:
    """The components of one threshold that are of a fitting size, and over how many thresholds each has lasted."""

    labels: NDArray[np.int32]  # (H, W)
    names: NDArray[np.intp]  # (n,) each component's label
    stats: NDArray[np.intp]  # (n, 5) left, top, width, height, area
    centres: NDArray[np.float64]  # (n, 2) col, row
    lasted: NDArray[np.intp]  # (n,)

    def __len__(self) -> int:
        return len(self.names)


def layers(channel: NDArray[np.uint8], levels: Sequence[int], above: bool, least: float, most: float) -> list[Layer]:
    """A layer for each level, of what is above it or below; components of `least` to `most` pixels.

    The thresholds lie one below the other in one tall picture. Only runs of set pixels are measured: OpenCV, which
    measures pixel by pixel what nobody asks for too, takes three times as long.
    """
    if not levels:
        return []
    height, width = channel.shape
    period = FIRST + height + height % 2
    tall = np.zeros((len(levels), period, width + 1), np.bool_)
    compare = np.greater if above else np.less
    for mask, level in zip(tall, levels, strict=True):
        compare(channel, level, out=mask[FIRST : FIRST + height, :width])
    every = tall.reshape(-1, width + 1)
    labels = cv2.connectedComponents(every.view(np.uint8), connectivity=8)[1]
    names, layer, stats, centres = _measured(every, labels, period, least, most)
    fits = (stats[:, 2] < WIDEST * width) & (stats[:, 3] < WIDEST * height)
    found = []
    for k in range(len(levels)):
        own = np.flatnonzero(fits & (layer == k))[:MOST]
        seen = labels[k * period + FIRST : k * period + FIRST + height, :width]
        found.append(Layer(seen, names[own], stats[own], centres[own], np.ones(len(own), np.intp)))
    return found


def _measured(
    every: NDArray[np.bool_], labels: NDArray[np.int32], period: int, least: float, most: float
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp], NDArray[np.float64]]:
    """Labels of the components of `least` to `most` pixels in layers of `period` rows, which layer each is in,
    its measures and centre (as in `Layer`); no run may reach the last column, nor begin in the first pixel.
    """
    flat, width = every.ravel(), every.shape[1]
    ends = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    starts, lengths = ends[::2], ends[1::2] - ends[::2]
    names = labels.ravel()[starts].astype(np.intp)
    area = np.bincount(names, weights=lengths, minlength=1)
    runs = np.flatnonzero(((area >= least) & (area <= most))[names])
    runs = runs[np.argsort(names[runs], kind="stable")]
    names, starts, lengths = names[runs], starts[runs], lengths[runs]
    if not len(runs):
        return names, names, np.empty((0, 5), np.intp), np.empty((0, 2))
    begin = np.flatnonzero(np.append(True, names[1:] != names[:-1]))
    rows, cols = np.divmod(starts, width)
    layer, rows = np.divmod(rows, period)
    rows -= FIRST
    top, bottom = rows[begin], rows[np.append(begin[1:], len(rows)) - 1] + 1
    left, right = np.minimum.reduceat(cols, begin), np.maximum.reduceat(cols + lengths, begin)
    full = np.add.reduceat(lengths, begin)
    across = np.add.reduceat(lengths * (2 * cols + lengths - 1), begin) / 2
    down = np.add.reduceat(lengths * rows, begin)
    stats = np.stack([left, top, right - left, bottom - top, full], axis=1)
    return names[begin], layer[begin], stats, np.stack([across / full, down / full], axis=1)

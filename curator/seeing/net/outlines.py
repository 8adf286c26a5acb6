"""Outlines of things as the net sees them: mixed from maps that all share, by what it says at each thing's middle.

After CondInst (Tian et al. 2020), with one linear layer and a conic; learned in `learning/network/losses.py`.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing.net.runtime import CHANNELS, STRIDE, Sight

FIRST = 24  # of the channels that outlines are mixed from
SHAPES = 12  # maps that all things share
REACH = 1.5  # half sizes round its middle within which a thing's outline is looked for


def available(sight: Sight) -> bool:
    """Whether the trained file gives outlines: earlier ones do not."""
    return bool(sight.dense.shape[0] > FIRST)


def outlines(sight: Sight, centers: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.bool_]:
    """(n, H, W) which pixels of a picture of `shape` belong to the thing at each of centers (n, 2), row and col in its
    pixels. ValueError where the trained file gives none.
    """
    return np.asarray(logits(sight, centers, shape) > 0, np.bool_)


def logits(sight: Sight, centers: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.float32]:
    """(n, H, W) the same as log odds; -20 beyond a thing's reach."""
    if not available(sight):
        raise ValueError("The trained file gives no outlines.")
    found = np.zeros((len(centers), *shape), np.float32)
    for k, center in enumerate(np.asarray(centers, np.float64).reshape(-1, 2)):
        found[k] = _in_picture(_chances(sight, (center * sight.shrink - (STRIDE - 1) / 2) / STRIDE), sight, shape)
    return found


def _chances(sight: Sight, at: NDArray[np.float64]) -> NDArray[np.float32]:
    """(h, w) logits of the thing at a place in cells; -20 beyond its reach."""
    h, w = sight.dense.shape[1:]
    row, col = np.clip(np.rint(at).astype(int), 0, (h - 1, w - 1))
    size = sight.dense[CHANNELS["height"] : CHANNELS["width"] + 1, row, col].astype(np.float64)
    half = 32 * np.exp(np.clip(size, -4, 4)) / (2 * STRIDE)
    maps, mix = sight.dense[FIRST : FIRST + SHAPES], sight.dense[FIRST + SHAPES :, row, col]
    y, x = np.meshgrid((np.arange(h) - at[0]) / half[0], (np.arange(w) - at[1]) / half[1], indexing="ij")
    near = (np.abs(y) < REACH) & (np.abs(x) < REACH)
    y, x = np.clip(y, -REACH, REACH), np.clip(x, -REACH, REACH)
    conic = np.stack([np.ones_like(y), y, x, y * y, x * x, x * y])
    logits = np.tensordot(mix[:SHAPES], maps, 1) + np.tensordot(mix[SHAPES:], conic, 1)
    return np.where(near, logits, -20).astype(np.float32)


def _in_picture(cells: NDArray[np.float32], sight: Sight, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Cells -> pixels, (H, W)."""
    step = STRIDE / sight.shrink  # pixels a cell
    move = np.array([[1 / step, 0, (0.5 / step - 0.5)], [0, 1 / step, (0.5 / step - 0.5)]])
    large = cv2.warpAffine(
        cells,
        move,
        (shape[1], shape[0]),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(large, np.float32)

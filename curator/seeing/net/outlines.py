"""Outlines of things as the net sees them: mixed from maps that all share, by what it says at each thing's middle.

After CondInst (Tian et al. 2020), with one linear layer and a conic; learned in `learning/network/losses.py`.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing.net.one_thing import BEYOND, FIRST, REACH, SHAPES
from curator.seeing.net.runtime import STRIDE, Sight

FINER = 3  # times as many pixels as cells, where an outline is followed
PIECE = 0.1  # of what lies about its middle: a smaller piece of an outline apart from that is none of its thing


def available(sight: Sight) -> bool:
    """Whether the trained file gives outlines: earlier ones do not."""
    return bool(sight.dense.shape[0] > FIRST)


def outlines(sight: Sight, centers: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.bool_]:
    """(n, H, W) which pixels of a picture of `shape` belong to the thing at each of centers (n, 2), row and col in its
    pixels. ValueError where the trained file gives none.
    """
    return np.asarray(logits(sight, centers, shape) > 0, np.bool_)


def logits(sight: Sight, centers: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.float32]:
    """(n, H, W) the same as log odds; BEYOND farther away than a thing reaches."""
    if not available(sight):
        raise ValueError("The trained file gives no outlines.")
    found = np.zeros((len(centers), *shape), np.float32)
    for k, center in enumerate(np.asarray(centers, np.float64).reshape(-1, 2)):
        found[k] = _in_picture(_chances(sight, sight.in_cells(center)), sight, shape)
    return found


def hulls(sight: Sight, centers: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Of the thing at each of centers (n, 2), row and col in the picture's pixels, the corners (m, 2) of the tightest
    shape without a dent about its outline; none where nothing is seen there. What several claim is whose it is
    likeliest. ValueError where the trained file gives no outlines.
    """
    if not available(sight):
        raise ValueError("The trained file gives no outlines.")
    places = sight.in_cells(np.asarray(centers, np.float64).reshape(-1, 2))
    parts = [_around(sight, at) for at in places]
    told = [_chances(sight, at, *part) for at, part in zip(places, parts, strict=True)]
    first = np.full(sight.dense.shape[1:], BEYOND, np.float32)
    second = first.copy()  # what the likeliest thing has at each cell, and the next one
    for part, own in zip(parts, told, strict=True):
        second[part] = np.maximum(second[part], np.minimum(first[part], own))
        first[part] = np.maximum(first[part], own)
    others = [np.where(own >= first[part], second[part], first[part]) for part, own in zip(parts, told, strict=True)]
    found = []
    for own, rest, at, (rows, cols) in zip(told, others, places, parts, strict=True):
        corner = (rows.start, cols.start)
        found.append(_hull(np.minimum(own, own - rest), at - corner, corner) / sight.shrink)
    return found


def _around(sight: Sight, at: NDArray[np.float64]) -> tuple[slice, slice]:
    """The rows and columns of cells that the thing at a place in cells may reach."""
    limits = np.array(sight.dense.shape[1:])
    row, col = np.clip(np.rint(at).astype(int), 0, limits - 1)
    reach = REACH * sight.half_sizes(row, col) + 1
    low = np.clip(np.floor(at - reach), 0, (row, col)).astype(int)
    high = np.clip(np.ceil(at + reach) + 1, (row + 1, col + 1), limits).astype(int)
    return slice(int(low[0]), int(high[0])), slice(int(low[1]), int(high[1]))


def _hull(cells: NDArray[np.float32], at: NDArray[np.float64], corner: tuple[int, int]) -> NDArray[np.float64]:
    """Corners, in pixels of the net's input, about what is likely in a part of its cells, if the place `at` is;
    `corner`: where that part begins. Crumbs do not count, but pieces do, which another thing may lie between.
    """
    fine = cv2.resize(cells, None, fx=FINER, fy=FINER, interpolation=cv2.INTER_LINEAR)
    _, parts = cv2.connectedComponents((fine > 0).astype(np.uint8), connectivity=4)
    inside = np.clip(((at + 0.5) * FINER).astype(int), 0, np.array(fine.shape) - 1)
    there = parts[inside[0], inside[1]]
    if not there:
        return np.zeros((0, 2))
    areas = np.bincount(parts.ravel())
    pieces = areas >= PIECE * areas[there]
    pieces[0] = False
    found, _ = cv2.findContours(pieces[parts].astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    corners = cv2.convexHull(np.concatenate(found)).reshape(-1, 2)[:, ::-1].astype(np.float64)
    return np.asarray(((corners + 0.5) / FINER - 0.5 + corner) * STRIDE + (STRIDE - 1) / 2, np.float64)


def _chances(
    sight: Sight, at: NDArray[np.float64], rows: slice = slice(None), cols: slice = slice(None)
) -> NDArray[np.float32]:
    """(h, w) logits of the thing at a place in cells, in those rows and columns."""
    h, w = sight.dense.shape[1:]
    row, col = np.clip(np.rint(at).astype(int), 0, (h - 1, w - 1))
    half = sight.half_sizes(row, col)
    maps, mix = sight.dense[FIRST : FIRST + SHAPES, rows, cols], sight.dense[FIRST + SHAPES :, row, col]
    y, x = (np.arange(h)[rows] - at[0]) / half[0], (np.arange(w)[cols] - at[1]) / half[1]
    near = (np.abs(y) < REACH)[:, None] & (np.abs(x) < REACH)
    one, down, right, down2, right2, both = mix[SHAPES:].astype(np.float64)
    conic = (one + down * y + down2 * y * y)[:, None] + (right * x + right2 * x * x) + np.outer(both * y, x)
    logits = np.tensordot(mix[:SHAPES], maps, 1) + conic
    return np.where(near, logits, BEYOND).astype(np.float32)


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

"""Likely faces in a picture, by the CenterFace net (curator/models/README.md). It can miss one: a person looks too.

Every door asks `faces` and nothing else, each of the same picture, so that all say the same.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Area
from curator.seeing.net.session import opened

MODEL = Path(__file__).parent.parent / "models" / "faces.onnx"
DETECTOR = "centerface-1"  # another net, size or threshold gets another name, and pictures are searched again
LONGEST = 1920  # pixels of the longer side that are searched: 40 pixels of a kept picture's 2560 are 30 here
TILE = 1024  # pixels: a larger picture is searched in tiles, so that memory stays below half a gigabyte
OVERLAP = 128  # pixels that tiles share; a larger face is seen in the whole picture made small
SMALL = 640  # pixels of that
LIKELY = 0.3  # of the net's own score
SAME = 0.5  # of the smaller of two boxes inside the other: one face
STEP = 4  # pixels of the picture for one of the net's answers
_OUTPUTS = ("537", "538", "539")  # score, size, place within the step: the file's own names


def faces(pixels: NDArray[np.uint8]) -> tuple[Area, ...]:
    """Boxes of likely faces in (H, W, 3) uint8 sRGB pixels, in fractions, likeliest first.

    Faces of 30 pixels and more are found in what is searched; smaller, turned over, covered or dark ones may be missed,
    and a box may hold no face.
    """
    shrink = min(1.0, LONGEST / max(pixels.shape[:2]))
    seen = _smaller(pixels, shrink)
    height, width = seen.shape[:2]
    found = [np.zeros((0, 5))]
    for top, bottom in _parts(height):
        for left, right in _parts(width):
            found.append(_search(seen[top:bottom, left:right]) + (left, top, left, top, 0))
    if max(height, width) > TILE:
        whole = SMALL / max(height, width)
        found.append(_search(_smaller(seen, whole)) / (whole, whole, whole, whole, 1))
    boxes = _distinct(np.concatenate(found))
    limits = (width, height, width, height)
    return tuple(
        Area(*(round(float(min(max(v / of, 0), 1)), 4) for v, of in zip(b, limits, strict=True))) for b in boxes
    )


def _smaller(pixels: NDArray[np.uint8], shrink: float) -> NDArray[np.uint8]:
    if shrink >= 1:
        return pixels
    size = (max(1, round(pixels.shape[1] * shrink)), max(1, round(pixels.shape[0] * shrink)))
    return np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)


def _parts(length: int) -> list[tuple[int, int]]:
    """Where tiles begin and end along one side, all of one length."""
    count = 1 + max(0, -(-(length - TILE) // (TILE - OVERLAP)))
    step = (length - OVERLAP) / count
    return [(round(i * step), min(length, round(i * step + step) + OVERLAP)) for i in range(count)]


def _search(part: NDArray[np.uint8]) -> NDArray[np.float64]:
    """(n, 5): left, top, right, bottom in pixels, and score."""
    high, wide = part.shape[:2]
    padded = np.zeros((-(-high // 32) * 32, -(-wide // 32) * 32, 3), np.uint8)  # the net halves five times
    padded[:high, :wide] = part
    asked = {"input.1": padded.transpose(2, 0, 1)[None].astype(np.float32)}
    score, size, place = (one[0] for one in opened(MODEL).run(_OUTPUTS, asked))
    rows, cols = np.nonzero(score[0] > LIKELY)
    tall, broad = np.exp(size[:, rows, cols].astype(np.float64)) * STEP
    y, x = (np.stack([rows, cols]) + place[:, rows, cols] + 0.5) * STEP
    return np.stack([x - broad / 2, y - tall / 2, x + broad / 2, y + tall / 2, score[0, rows, cols]], axis=1)


def _distinct(boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 4): one box a face, as large as all that were found of it: of a tile's edge comes a part of a face."""
    kept: list[NDArray[np.float64]] = []
    for box in boxes[np.argsort(-boxes[:, 4], kind="stable"), :4]:
        same = next((one for one in kept if _shared(one, box) > SAME), None)
        if same is None:
            kept.append(box.copy())
        else:
            same[:2], same[2:] = np.minimum(same[:2], box[:2]), np.maximum(same[2:], box[2:])
    return np.array(kept).reshape(-1, 4)


def _shared(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Share of the smaller box that lies in the other."""
    wide, tall = np.minimum(one[2:], other[2:]) - np.maximum(one[:2], other[:2])
    smaller = min(np.prod(one[2:] - one[:2]), np.prod(other[2:] - other[:2]))
    return float(max(0, wide) * max(0, tall) / max(smaller, 1e-9))

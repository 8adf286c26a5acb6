"""Photos with boxes as a finder may meet them: mirrored, turned, in poor copies, in cut-outs, with their truths."""

from __future__ import annotations

import zlib
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning.photos import real
from curator.learning.photos.boxed import Boxes, meant

Pixels = NDArray[np.uint8]
TOO_MANY = 40  # things of a truth
WAYS = ("as it is", "mirrored", "cut 1", "passed on", "cut 2", "a poor copy", "cut 3", "turned", "cut 4", "dim")
STRANGER = ("as it is", "cut 5", "mirrored", "cut 6", "passed on")  # for a net that has not learned the photo
WHOLE, GONE = 0.65, 0.12  # shares of a box inside a cut-out: it counts, it does not; a cut between these is not made
CUTS = 30  # tries
TOLERANT = ("fac", "gtom", "grape", "okra", "pear", "lego")
"""Sources in which some things have no box: what lacks a boxed thing is wrong there, what has all may be right."""
FRONTS = frozenset(
    f"fac_{number:03d}"
    for number in (
        *(2, 6, 7, 8, 14, 16, 17, 18, 20, 21, 22, 24, 26, 30, 32, 34, 39, 45, 50, 51, 52, 53, 55, 56, 57, 61, 62),
        *(63, 64, 66, 67, 69, 70, 73, 74, 75, 76, 78, 79, 80, 82, 83, 84, 87, 88),
    )
)
"""House fronts whose windows all have a box, by eye on contact sheets."""


class Shown(NamedTuple):
    """One photo in one way."""

    seen: Pixels  # what the finders look at
    shown: Pixels  # the same picture, good
    truths: list[Boxes]  # what a person may count
    complete: bool  # all of it has a box


def complete(name: str) -> bool | None:
    """Whether the photo's boxes are all there; None where they are not even nearly."""
    source = real.source_of(name)
    if source in real.COMPLETE or source in real.ALSO or name[:7] in FRONTS:
        return True
    return False if source in TOLERANT else None


def shown(raw: Pixels, name: str, boxes: list[dict[str, Any]], way: str) -> Shown | None:
    """The photo (H, W, 3) RGB in this way; None where nothing in it can be counted, or it cannot be cut so."""
    known = complete(name)
    if known is None:
        return None
    if real.source_of(name) == "fac":
        boxes = [one for one in boxes if one["kind"] == "window"]
    if way.startswith("cut"):
        cut = _cut(raw, boxes, np.random.default_rng(zlib.crc32(f"{name}/{way}".encode())))
        if cut is None:
            return None
        raw, boxes = cut
    truths = [one for one in meant(boxes, (raw.shape[0], raw.shape[1])) if len(one) <= TOO_MANY] if boxes else []
    truths = truths[:1] if len({len(one) for one in truths}) == 1 else truths
    if not truths:
        return None
    good, truths = _moved(raw, truths, way)
    return Shown(_worse(good, way), good, truths, known)


def _moved(raw: Pixels, truths: list[Boxes], way: str) -> tuple[Pixels, list[Boxes]]:
    high, wide = raw.shape[:2]
    if way == "mirrored":
        raw = raw[:, ::-1]
        truths = [np.column_stack([t[:, 0], wide - t[:, 3], t[:, 2], wide - t[:, 1]]) for t in truths]
    if way == "turned":
        raw = raw[::-1].transpose(1, 0, 2)
        truths = [np.column_stack([t[:, 1], high - t[:, 2], t[:, 3], high - t[:, 0]]) for t in truths]
    return np.ascontiguousarray(raw), truths


def _worse(good: Pixels, way: str) -> Pixels:
    if way in ("passed on", "a poor copy"):
        return _copied(good, *((0.94, 80) if way == "passed on" else (0.55, 40)))
    if way == "dim":
        soft = cv2.GaussianBlur(good, (0, 0), 1.2).astype(np.float32) * 0.6
        noise = np.random.default_rng(good.size).normal(0, 9, good.shape)
        return np.asarray((soft + noise).clip(0, 255), np.uint8)
    return good


def _copied(pixels: Pixels, smaller: float, quality: int) -> Pixels:
    """The picture as large as it was after it was made smaller and saved."""
    size = (round(pixels.shape[1] * smaller), round(pixels.shape[0] * smaller))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    _, data = cv2.imencode(".jpg", small[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    back = cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1]
    return np.asarray(cv2.resize(back, (pixels.shape[1], pixels.shape[0]), interpolation=cv2.INTER_LINEAR), np.uint8)


def _cut(
    raw: Pixels, boxes: list[dict[str, Any]], chance: np.random.Generator
) -> tuple[Pixels, list[dict[str, Any]]] | None:
    """A part of the picture with two boxed things or more, each wholly inside, nearly, or out of it."""
    if len(boxes) < 2:
        return None
    every = np.array([one["box"] for one in boxes], np.float64)  # left, top, right, bottom
    area = ((every[:, 2:] - every[:, :2]).prod(1)).clip(1e-9)
    for _ in range(CUTS):
        side = chance.uniform(0.4, 0.9, 2)
        first = chance.uniform(0, 1 - side)
        last = first + side
        inside = np.column_stack([np.maximum(every[:, :2], first), np.minimum(every[:, 2:], last)])
        share = (inside[:, 2:] - inside[:, :2]).clip(0).prod(1) / area
        kept = np.nonzero(share >= WHOLE)[0]
        if len(kept) < 2 or len(kept) == len(boxes) or ((share > GONE) & (share < WHOLE)).any():
            continue
        left, top = (first * raw.shape[1::-1]).astype(int)
        right, bottom = (last * raw.shape[1::-1]).astype(int)
        if min(right - left, bottom - top) < 90:
            continue
        new = (inside[kept] - np.tile(first, 2)) / np.tile(side, 2)
        rest = [{"kind": boxes[i]["kind"], "box": box.tolist()} for i, box in zip(kept, new, strict=True)]
        return np.ascontiguousarray(raw[top:bottom, left:right]), rest
    return None

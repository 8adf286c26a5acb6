"""Outlines of a prompt's things as the trained net sees them, their edges laid where the picture has its own.

The net looks at three sizes, and the two neighbours that agree best are believed as far as they agree. Where both are
sure a pixel is the thing's, or nothing's; what lies between is shared out by a watershed (Meyer 1991, as scikit-image
has it) along the steepest edges.
"""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.classroom.marking.extents import Floats, Pixels, disc
from curator.seeing.beside import beside
from curator.seeing.net import outlines, runtime

LARGE, SMALL = (192, 256, 384), (256, 384, 512)  # longer sides at which the net looks
FEW_PIXELS = 0.2  # of the longer side: things smaller than that are looked at in a larger picture
THING, NOTHING = 2.0, 3.0  # log odds from which a pixel is surely the thing's, and surely no thing's
SHARP = 8.0  # log odds: no look counts for more
EVEN = 5  # pixels of the median filter that takes the steps off an edge
SPIKE, BITE = 0.2, 0.35  # of half a thing's thickness: what is thinner than that is no part of it, and no way into it


class Seen(NamedTuple):
    """What the net says of a picture's things."""

    labels: NDArray[np.uint8]  # (H, W): 0 for no thing, 1 + i for thing i
    agreed: float  # 0 to 1: how far two looks agree about the middle one of the things (intersection over union)
    shared: NDArray[np.float64]  # (n, n) 0 to 1: how much of the smaller of two things is seen as the other one's, too
    masks: NDArray[np.bool_]  # (n, H, W) what is seen as each thing's; some of it may be seen as another's, too
    least: float  # 0 to 1: how far two looks agree about the thing they agree about least, each pixel one thing's
    doubted: NDArray[np.bool_]  # (H, W) what one look takes for one thing, and the other for another
    mixed: NDArray[np.float64]  # (n, n) how much of a thing in one look is another one's in the other


def seen(small: Pixels, steep: NDArray[np.float32], things: Floats) -> Seen | None:
    """The things of a picture (H, W, 3), their middles and half sizes x, y in its pixels (n, 4); None without a net.

    steep: (H, W) how steep the picture is at each pixel.
    """
    if not runtime.MODEL.exists():
        return None
    size = (small.shape[0], small.shape[1])
    wide = 2 * float(np.median(np.sqrt(things[:, 2] * things[:, 3]))) / max(size)
    sizes_seen = LARGE if wide >= FEW_PIXELS else SMALL
    looks = [look() for look in beside([partial(runtime.see, small, longer) for longer in sizes_seen])]
    if not outlines.available(looks[0]):
        return None
    told = [outlines.logits(look, things[:, 1::-1], size).clip(-SHARP, SHARP) for look in looks]
    agreements = [float(np.median(_agreement(*pair))) for pair in pairwise([look > 0 for look in told])]
    best = int(np.argmax(agreements))
    one, other = told[best : best + 2]
    whose = _likeliest(one), _likeliest(other)
    common, *sizes = _common(*whose, len(one))
    both = (one + other) / 2
    masks = both > 0
    flat = masks.reshape(len(masks), -1).astype(np.float32)
    overlaps = flat @ flat.T  # whole numbers
    return Seen(
        labels=_shared_out(steep, both),
        agreed=agreements[best],
        shared=_shares(overlaps, overlaps.diagonal(), overlaps.diagonal()),
        masks=masks,
        least=float(_over_union(common.diagonal(), *sizes).min()),
        doubted=(whose[0] > 0) & (whose[1] > 0) & (whose[0] != whose[1]),
        mixed=_shares(common, *sizes),
    )


def _likeliest(told: NDArray[np.float32]) -> NDArray[np.uint8]:
    """(H, W) the likeliest thing of each pixel from 1, 0 where none is likely, from log odds."""
    most, found = np.zeros(told.shape[1:], np.float32), np.zeros(told.shape[1:], np.uint8)
    for i, own in enumerate(told):
        found[own > most] = i + 1
        np.maximum(most, own, out=most)
    return found


def _common(
    one: NDArray[np.uint8], other: NDArray[np.uint8], n: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """(n, n) pixels that are one thing in one look and one in the other; (n,) and (n,) of each thing in either."""
    pairs = np.bincount((one.astype(np.intp) * (n + 1) + other).ravel(), minlength=(n + 1) ** 2)
    table = pairs.reshape(n + 1, n + 1)
    return table[1:, 1:], table[1:].sum(axis=1), table[:, 1:].sum(axis=0)


def _shares(common: NDArray[Any], one: NDArray[Any], other: NDArray[Any]) -> NDArray[np.float64]:
    """(n, n) the overlap of each two things, of the smaller one; 1 where one is not seen at all. From pixels."""
    least = np.minimum(one[:, None], other[None])
    overlap = np.where(least > 0, common.astype(np.float32) / np.maximum(least, 1).astype(np.float32), 1.0)
    np.fill_diagonal(overlap, 0.0)
    return np.asarray(overlap, dtype=np.float64)


def _agreement(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> NDArray[np.float64]:
    """(n,) intersection over union of each thing (n, H, W) in two looks."""
    return _over_union(*(np.array([np.count_nonzero(own) for own in each]) for each in (one & other, one, other)))


def _over_union(common: NDArray[Any], one: NDArray[Any], other: NDArray[Any]) -> NDArray[np.float64]:
    """(n,) intersection over union, from pixels; 0 of nothing."""
    return np.asarray(common / np.maximum(one + other - common, 1), np.float64)


def _shared_out(steep: NDArray[np.float32], told: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Each pixel to a thing or to none, from log odds (n, H, W)."""
    import cv2
    from skimage.segmentation import watershed

    none = len(told) + 1
    first = np.full(steep.shape, -SHARP, np.float32)
    second = first.copy()  # what the likeliest thing has at each pixel, and the next one
    for own in told:
        np.maximum(second, np.minimum(first, own), out=second)
        np.maximum(first, own, out=first)
    marks = np.zeros(steep.shape, np.int32)
    marks[first < -NOTHING] = none
    for i, own in enumerate(told):
        sure = (own > THING) & (own - np.where(own >= first, second, first) > THING)
        marks[sure if sure.any() else own >= own.max()] = i + 1
    # what is settled with all its neighbours takes no part: an eighth of the time
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    open_to = cv2.dilate((marks == 0).astype(np.uint8), cross) > 0
    found = np.where(open_to, watershed(steep, marks, mask=open_to), marks)
    found[found == none] = 0
    return _rounded(np.asarray(cv2.medianBlur(found.astype(np.uint8), EVEN), dtype=np.uint8))


def _rounded(labels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Each thing without the spikes that run out of it along some edge, and the bites that run into it."""
    import cv2

    found = labels.copy()
    for i in np.unique(labels[labels > 0]):
        left, top, width, height = cv2.boundingRect((labels == i).astype(np.uint8))
        part = np.s_[max(0, top - 1) : top + height + 1, max(0, left - 1) : left + width + 1]
        own = np.pad((labels[part] == i).astype(np.uint8), 1, mode="edge")
        thick = float(cv2.distanceTransform(own, cv2.DIST_L2, 3).max())
        even = cv2.morphologyEx(own, cv2.MORPH_OPEN, disc(int(SPIKE * thick)))
        even = cv2.morphologyEx(even, cv2.MORPH_CLOSE, disc(int(BITE * thick)))[1:-1, 1:-1]
        there = found[part]
        there[(even == 0) & (there == i)] = 0
        there[(even > 0) & (there == 0)] = i
    return found

"""Whether the things of a set are of one kind: by what the net takes for alike, by size, shape and colour.

How likely two things are of one kind is a logistic model of how they differ, fitted on photos in which boxes of several
kinds lie side by side (`learning/fit/kinds.py`); a set is of two kinds where its things part into two groups.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage

from curator.clues import Kinds
from curator.records import ThingSet

Values = NDArray[np.float64]
WEIGHTS: dict[str, float] = json.loads((Path(__file__).parents[2] / "models" / "judge.json").read_text("utf-8"))["kind"]
DIFFERENCES = ("embed", "size", "shape", "light", "colour", "mottle")
MIDDLE = 0.35  # of a box's height and width to each side of its middle: what is looked at of a thing
APART = 0.5  # likelihood by which two things of one group are more alike: the set holds two kinds


class Looks(NamedTuple):
    """Sums over L*a*b* (0..255 each) and its squares, so that any box's mean and deviation cost nothing."""

    sums: Values  # (H + 1, W + 1, 3)
    squares: Values


def looks_of(pixels: NDArray[np.uint8]) -> Looks:
    """What `differences` asks of a picture, uint8 (H, W, 3)."""
    lab = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB)
    sums, squares = cv2.integral2(lab, sdepth=cv2.CV_64F, sqdepth=cv2.CV_64F)
    return Looks(np.asarray(sums, np.float64), np.asarray(squares, np.float64))


def differences(boxes: Values, embeds: list[Values], looks: Looks) -> Values:
    """(n, n, 6) how each two of n boxes (n, 4: top, left, bottom, right) differ, in the order of DIFFERENCES.

    `embeds` are their embeddings (n, 16) at every size of the picture.
    """
    mean, deviation = _colours(boxes, looks)
    sides = np.log(np.maximum(1.0, boxes[:, 2:] - boxes[:, :2]))
    alike = np.median([embed @ embed.T for embed in embeds], axis=0)
    colour = np.linalg.norm(mean[:, None, 1:] - mean[None, :, 1:], axis=2)
    mottle = np.linalg.norm(deviation[:, None] - deviation[None], axis=2)
    long = np.abs(sides[:, 0] - sides[:, 1])  # a thing may lie either way
    parts = (1 - alike, _apart(sides.mean(1)), _apart(long), _apart(mean[:, 0]) / 64, colour / 32, mottle / 32)
    return np.asarray(np.minimum(np.stack(parts, axis=2), 2.0), np.float64)


def likely_one(apart: Values) -> Values:
    """(n, n) how likely each two things are of one kind, from their `differences`."""
    score = WEIGHTS["bias"] + apart @ np.array([WEIGHTS[name] for name in DIFFERENCES])
    return np.asarray(1 / (1 + np.exp(-np.clip(score, -30, 30))), np.float64)


def kinds(likely: Values) -> tuple[Kinds, NDArray[np.bool_]]:
    """How far the things are of one kind, and which belong to the smaller of the two groups they part into."""
    n = len(likely)
    if n < 2:
        return Kinds(), np.zeros(n, bool)
    others = (likely.sum(1) - np.diag(likely)) / (n - 1)
    if n == 2:
        return Kinds(float(likely[0, 1]), float(likely[0, 1]), 0.0, 0.5), np.array([False, True])
    group = fcluster(linkage((1 - likely)[np.triu_indices(n, 1)].clip(0), "average"), 2, "maxclust") == 1
    small = group if group.sum() * 2 <= n else ~group
    between = float(likely[np.ix_(small, ~small)].mean())
    within = [_inner(likely[np.ix_(own, own)]) for own in (small, ~small) if own.sum() > 1]
    return Kinds(float(others.min()), between, max(0.0, min(within) - between), float(small.mean())), small


def _inner(likely: Values) -> float:
    n = len(likely)
    return float((likely.sum() - np.trace(likely)) / (n * (n - 1)))


def of_set(things: ThingSet, embeds: list[Values], looks: Looks) -> tuple[Kinds, NDArray[np.bool_]]:
    """`kinds` of a set's things."""
    boxes = np.array([t.box for t in things.things], dtype=np.float64).reshape(-1, 4)
    return kinds(likely_one(differences(boxes, embeds, looks)))


def _apart(values: Values) -> Values:
    return np.asarray(np.abs(values[:, None] - values[None]), np.float64)


def _colours(boxes: Values, looks: Looks) -> tuple[Values, Values]:
    """(n, 3) mean and deviation of L*a*b* in the middle of each box."""
    limits = np.array(looks.sums.shape[:2]) - 1
    middle, reach = (boxes[:, :2] + boxes[:, 2:]) / 2, MIDDLE * (boxes[:, 2:] - boxes[:, :2])
    low = np.clip(np.floor(middle - reach).astype(int), 0, limits - 1)
    high = np.clip(np.ceil(middle + reach).astype(int), low + 1, limits)

    def total(table: Values) -> Values:
        return np.asarray(
            table[high[:, 0], high[:, 1]] - table[low[:, 0], high[:, 1]] - table[high[:, 0], low[:, 1]]
            + table[low[:, 0], low[:, 1]], np.float64,
        )  # fmt: skip

    area = np.prod(high - low, axis=1)[:, None]
    mean = total(looks.sums) / area
    return mean, np.sqrt(np.maximum(0.0, total(looks.squares) / area - mean**2))

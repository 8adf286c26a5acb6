"""Whether the things of a set are of one kind: by what the net takes for alike, by size, shape and colour.

How likely two things are of one kind is a logistic model of how they differ, fitted on photos in which boxes of several
kinds lie side by side (`learning/fit/kinds.py`); a set is of two kinds where its things part into two groups.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import linkage

from curator.clues import Kinds
from curator.seeing.features.side_by_side import Side, Values
from curator.seeing.primitives.colour_sums import Looks

WEIGHTS: dict[str, float] = json.loads((Path(__file__).parents[2] / "models" / "judge.json").read_text("utf-8"))["kind"]
DIFFERENCES = ("embed", "size", "shape", "light", "colour", "mottle")
MIDDLE = 0.35  # of a box's height and width to each side of its middle: what is looked at of a thing
APART = 0.5  # likelihood by which two things of one group are more alike: the set holds two kinds


def differences(boxes: Values, embeds: list[Values], looks: Looks) -> Values:
    """(n, n, 6) how each two of n boxes (n, 4: top, left, bottom, right) differ, in the order of DIFFERENCES.

    `embeds` are their embeddings (n, 16) at every size of the picture.
    """
    n = len(boxes)
    i, j = (pairs.ravel() for pairs in np.indices((n, n)))
    return _differences(boxes, embeds, looks, i, j).reshape(n, n, len(DIFFERENCES))


@cache
def _two_of(n: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    return np.triu_indices(n, 1)


def _pairs(counts: Sequence[int]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Every two things of one set, the earlier one first, set by set; things are numbered through."""
    each = [_two_of(n) for n in counts]
    starts: NDArray[np.intp] = np.repeat(np.cumsum(counts) - counts, [len(i) for i, _ in each])
    return np.concatenate([i for i, _ in each]) + starts, np.concatenate([j for _, j in each]) + starts


def _alike(embeds: Sequence[Values], i: NDArray[np.intp], j: NDArray[np.intp]) -> Values:
    """(pairs,) product of the embeddings of things i and j, the median over the sizes of the picture."""
    products = np.sort([np.einsum("ij,ij->i", embed[i], embed[j]) for embed in embeds], axis=0)
    sizes = len(embeds)
    return np.asarray((products[(sizes - 1) // 2] + products[sizes // 2]) / 2, np.float64)


def _differences(
    boxes: Values, embeds: Sequence[Values], looks: Looks, i: NDArray[np.intp], j: NDArray[np.intp]
) -> Values:
    """(pairs, 6): how boxes i differ from boxes j."""
    mean, deviation = _colours(boxes, looks)
    sides = np.log(np.maximum(1.0, boxes[:, 2:] - boxes[:, :2]))
    size, long = sides.mean(1), np.abs(sides[:, 0] - sides[:, 1])  # a thing may lie either way
    colour, mottle = _away(mean[:, 1:], i, j), _away(deviation, i, j)
    apart = [np.abs(values[i] - values[j]) for values in (size, long, mean[:, 0])]
    parts = (1 - _alike(embeds, i, j), apart[0], apart[1], apart[2] / 64, colour / 32, mottle / 32)
    return np.asarray(np.minimum(np.stack(parts, axis=1), 2.0), np.float64)


def _away(values: Values, i: NDArray[np.intp], j: NDArray[np.intp]) -> Values:
    off = values[i] - values[j]
    return np.asarray(np.sqrt((off * off).sum(1)), np.float64)


def likely_one(apart: Values) -> Values:
    """(...) how likely each two things are of one kind, from their `differences` (..., 6)."""
    score = WEIGHTS["bias"] + apart @ np.array([WEIGHTS[name] for name in DIFFERENCES])
    return np.asarray(1 / (1 + np.exp(-np.clip(score, -30, 30))), np.float64)


def kinds(likely: Values, n: int) -> tuple[Kinds, NDArray[np.bool_]]:
    """How far n things are of one kind, as likely as each two are (as `_pairs` has them), and which belong to the
    smaller of the two groups they part into.
    """
    if n < 2:
        return Kinds(), np.zeros(n, bool)
    if n == 2:
        return Kinds(float(likely[0]), float(likely[0]), 0.0, 0.5), np.array([False, True])
    i, j = _two_of(n)
    others = (np.bincount(i, likely, n) + np.bincount(j, likely, n)) / (n - 1)
    small = _smaller(linkage((1 - likely).clip(0), "average"), n)
    first, second = small[i], small[j]
    between = float(likely[first != second].mean())
    within = [float(likely[own].mean()) for own in (first & second, ~(first | second)) if own.any()]
    return Kinds(float(others.min()), between, max(0.0, min(within) - between), float(small.mean())), small


def _smaller(merged: Values, n: int) -> NDArray[np.bool_]:
    """The smaller of the two groups that the last merge of a `linkage` of n things joins; the first of two alike."""
    groups = [[int(child)] for child in merged[-1, :2]]
    for group in groups:
        while (largest := max(group)) >= n:  # a merge: its two parts stand for it
            group.remove(largest)
            group.extend(int(child) for child in merged[largest - n, :2])
    small = np.zeros(n, bool)
    small[min(groups, key=len)] = True
    return small


def of_sets(side: Side, embeds: Sequence[Values], looks: Looks) -> list[tuple[Kinds, NDArray[np.bool_]]]:
    """`kinds` of each set's things; `embeds` are the embeddings (n, 16) of all things at every size of the picture."""
    likely = likely_one(_differences(side.boxes, embeds, looks, *_pairs(side.counts.tolist())))
    ends = np.cumsum(side.counts * (side.counts - 1) // 2)[:-1]
    return [kinds(own, n) for own, n in zip(np.split(likely, ends), side.counts.tolist(), strict=True)]


def _colours(boxes: Values, looks: Looks) -> tuple[Values, Values]:
    """(n, 3) mean and deviation of L*a*b* in the middle of each box."""
    limits = np.array(looks.sums.shape[:2]) - 1
    middle, reach = (boxes[:, :2] + boxes[:, 2:]) / 2, MIDDLE * (boxes[:, 2:] - boxes[:, :2])
    low = np.clip(np.floor(middle - reach).astype(int), 0, limits - 1)
    high = np.clip(np.ceil(middle + reach).astype(int), low + 1, limits)

    def total(table: NDArray[Any]) -> Values:
        return np.asarray(
            table[high[:, 0], high[:, 1]] - table[low[:, 0], high[:, 1]] - table[high[:, 0], low[:, 1]]
            + table[low[:, 0], low[:, 1]], np.float64,
        )  # fmt: skip

    area = np.prod(high - low, axis=1)[:, None]
    mean = total(looks.sums) / area
    return mean, np.sqrt(np.maximum(0.0, total(looks.squares) / area - mean**2))

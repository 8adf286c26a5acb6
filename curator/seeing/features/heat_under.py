"""Heat of the net's maps under the things of many sets at once (not a finder)."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from curator.clues import Heat
from curator.seeing.features.side_by_side import Side, Values
from curator.seeing.net import runtime
from curator.seeing.net.runtime import Sight

HARDLY = 0.05  # heat: where the usual thing has less the net says nothing about the least clear one
STEP = math.log(2) / 3  # a third of the way to half the heat: the deviation where things are equally clear


def of_sets(side: Side, sights: Sequence[Sight], maps: Sequence[runtime.Maps]) -> list[Heat]:
    """What the net sees under the things of each set, in maps of what is meant, wholes and parts, (3, h, w) at each
    size of the picture.
    """
    under = np.stack([largest_near(side, heat, s.shrink) for heat, s in zip(maps, sights, strict=True)], axis=1)
    usual, middle = side.mean(under).max(1), side.medians(under).max(1)  # sets, levels
    best = under.max(axis=2)  # things, sizes
    least = side.least(under[:, :, 0]).max(1)
    below = np.minimum(1.0, below_usual(side, best) / 6)
    rows = np.column_stack([usual[:, 0], middle[:, 0], usual[:, 1], middle[:, 1], usual[:, 2], middle[:, 2]])
    return [
        Heat(*row, *rest)
        for row, *rest in zip(rows.tolist(), least.tolist(), faintest(side, best).tolist(), below.tolist(), strict=True)
    ]


def faintest(side: Side, heat: Values) -> Values:
    """(sets,) heat (things, sizes), of the level that sees each thing best, under the least clear thing over that under
    the usual one, 0 to 1.
    """
    usual = side.medians(heat).max(1)
    seen = usual > HARDLY
    return np.where(seen, np.minimum(1.0, side.least(heat).max(1) / np.where(seen, usual, 1.0)), 1.0)


def below_usual(side: Side, heat: Values) -> Values:
    """(sets,) how many standard deviations (robust, of the logarithm) the least clear thing lies below the usual one;
    `heat` as in `faintest`.

    Many small things are clear to very different degrees, so that one of two dozen has a third of the usual heat and is
    nothing else. Where they are equally clear a deviation is STEP.
    """
    clearest = side.spread(side.medians(heat).argmax(1))
    logs = np.log(np.maximum(heat[np.arange(len(heat)), clearest], 1e-3))
    away = np.abs(logs - side.spread(side.medians(logs)))
    deviation = np.maximum(STEP, 1.4826 * side.medians(away))
    return np.asarray(-np.log(np.maximum(1e-3, faintest(side, heat))) / deviation, np.float64)


def largest_near(side: Side, heat: runtime.Maps, shrink: float) -> Values:
    """The largest heat (things, levels) within a quarter width of each thing's centre, in maps (levels, h, w)."""
    scale = shrink / runtime.STRIDE
    at, reach = side.centers * scale, np.maximum(1.0, 0.25 * side.widths * scale)[:, None]
    low = np.maximum(0, (at - reach).astype(int))
    high = np.minimum(np.array(heat.shape[1:]), (at + reach).astype(int) + 1)
    there = (low < high).all(axis=1)
    low, (rows, cols) = low[there], (high - low)[there].T
    values = np.zeros((len(there), len(heat)))
    if len(low):
        starts = np.concatenate([[0], np.cumsum(rows * cols)[:-1]])
        which = np.repeat(np.arange(len(low)), rows * cols)  # of all cells near some thing, whose each is
        down, right = np.divmod(np.arange(len(which)) - starts[which], cols[which])
        cells = (low[which, 0] + down) * heat.shape[2] + low[which, 1] + right
        values[there] = np.maximum.reduceat(heat.reshape(len(heat), -1)[:, cells], starts, axis=1).T
    return values

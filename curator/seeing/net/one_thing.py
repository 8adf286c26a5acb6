"""Which peaks of a heat map are one thing, by the outlines that the net gives at each.

The middle of a leg, a spoon or a banana is a matter of taste, so a long thing may have several peaks, and others at
another size of the picture. Boxes cannot tell them from two things side by side, but outlines can: that of one thing
takes in the other peak, and the other way round.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FIRST = 24  # of the channels that outlines are mixed from
SHAPES = 12  # maps that all things share
REACH = 1.5  # half sizes round its middle within which a thing's outline is looked for
BEYOND = -20.0  # log odds of what lies farther away than that

Values = NDArray[np.float64]


def takes_in(told: Values, cells: Values, middles: Values, half: Values) -> Values:
    """(n, n) log odds that the outline of the thing in each row takes in the cell of the one in each column.

    told (channels, n) is what the net says in each one's cell, cells (2, n), middles (2, n) its place to a fraction of
    a cell, half (2, n) half its height and width, in cells. Without outlines no thing takes in another.
    """
    if len(told) <= FIRST:
        return np.full((told.shape[1],) * 2, BEYOND)
    shapes, mix, conic = np.split(told[FIRST:], [SHAPES, 2 * SHAPES])
    one, down, right, down2, right2, both = conic[:, :, None]
    y, x = (cells[:, None] - middles[:, :, None]) / half[:, :, None]
    odds = mix.T @ shapes + one + down * y + right * x + down2 * y * y + right2 * x * x + both * x * y
    return np.where((np.abs(y) < REACH) & (np.abs(x) < REACH), odds, BEYOND)


def groups(odds: Values, clear: Values) -> list[NDArray[np.intp]]:
    """Indices of the peaks of each thing, its clearest first, and the clearest thing first.

    odds (n, n) are those of `takes_in`, clear (n,) says how clear each peak is. Two are one thing where their outlines,
    taken together, rather take each other in than not.
    """
    one, free, found = odds + odds.T > 0, np.ones(len(clear), bool), []
    order = np.argsort(-clear, kind="stable")
    for k in order:
        if free[k]:
            free[k] = False
            found.append(np.concatenate([[k], order[(one[k] & free)[order]]]))
            free &= ~one[k]
    return found

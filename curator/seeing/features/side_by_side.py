"""The things of many sets side by side in one array each, so that what is asked of every set is asked once (not a
finder).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet

Values = NDArray[np.float64]


class Side(NamedTuple):
    """The things of several sets, none of them empty, one set after the other."""

    centers: Values  # (n, 2) row, col
    widths: Values  # (n,)
    boxes: Values  # (n, 4) top, left, bottom, right
    counts: NDArray[np.intp]  # (sets,) how many things each set has
    starts: NDArray[np.intp]  # (sets,) where its things begin

    def parts(self, values: Values) -> list[Values]:
        """Values of all things (n, ...) by set."""
        return np.split(values, self.starts[1:])

    def mean(self, values: Values) -> Values:
        """(sets, ...) mean of the values (n, ...) of each set's things."""
        counts = self.counts.reshape(-1, *[1] * (values.ndim - 1))
        return np.asarray(np.add.reduceat(values, self.starts) / counts, np.float64)

    def least(self, values: Values) -> Values:
        """(sets, ...) least of the values (n, ...) of each set's things."""
        return np.asarray(np.minimum.reduceat(values, self.starts), np.float64)

    def medians(self, values: Values) -> Values:
        """(sets, ...) median of the values (n, ...) of each set's things."""
        most = int(self.counts.max())
        filled = np.full((len(self.counts), most, *values.shape[1:]), np.inf)
        filled[np.arange(most) < self.counts[:, None]] = values
        filled.sort(axis=1)
        every, counts = np.arange(len(self.counts)), self.counts
        return np.asarray((filled[every, (counts - 1) // 2] + filled[every, counts // 2]) / 2, np.float64)

    def spread(self, values: NDArray[Any]) -> NDArray[Any]:
        """(n, ...) for each thing what its set has of the values (sets, ...)."""
        return np.repeat(values, self.counts, axis=0)

    def any(self, held: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """(places, sets): whether it holds for some thing of the set; `held` is (places, n)."""
        return np.asarray(np.logical_or.reduceat(held, self.starts, axis=1), np.bool_)

    def inside(self, places: Values) -> NDArray[np.bool_]:
        """(places, n): which places (row, col) lie in which things' boxes."""
        row, col = places[:, :1], places[:, 1:]
        top, left, bottom, right = self.boxes.T
        return np.asarray((row >= top) & (row < bottom) & (col >= left) & (col < right), np.bool_)


def side_by_side(sets: Sequence[ThingSet]) -> Side:
    """The things of at least one set; no set may be empty."""
    counts = np.array([len(s) for s in sets])
    return Side(
        np.concatenate([s.centers for s in sets]),
        np.concatenate([s.widths for s in sets]),
        np.concatenate([s.boxes for s in sets]),
        counts,
        np.concatenate([[0], np.cumsum(counts)[:-1]]),
    )

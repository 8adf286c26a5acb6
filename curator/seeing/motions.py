"""How one half goes onto the other: slide, flip, turn; fitted by least squares, and how often chance fits as well."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from curator.records import Kind

Array = NDArray[np.float64]
Motion = Callable[[Array, Array], Array]
RANDOM_MISFIT = {"flip": 0.36, "slide": 0.40, "turn": 0.38, "split": 1.0}
"""Root mean square misfit, in spacings, of the best fit to as many random dots (own simulation,
tests/seeing/test_halves.py).
"""


def unit(vectors: Array) -> Array:
    """(..., 2) of length 1; those of no length stay."""
    length = np.sqrt((vectors * vectors).sum(-1, keepdims=True))
    return np.asarray(vectors / np.where(length == 0, 1.0, length), np.float64)


def square(across: Array) -> Array:
    """(..., 2) a quarter turn on."""
    return np.stack([across[..., 1], -across[..., 0]], axis=-1)


def _middle(points: Array) -> Array:
    return np.asarray(points.sum(axis=1, keepdims=True) / points.shape[1], np.float64)


# Each is fitted to partners p -> q, (fits, n, 2) both, many fits at once, and gives where the fitted motion takes p.


def _slide(p: Array, q: Array) -> Array:
    return p + _middle(q - p)


def _slide_back(p: Array, q: Array) -> Array:
    """A row further back is shorter: its steps along and across are scaled, never turned far (affine, bounded)."""
    mean_p, mean_q = _middle(p), _middle(q)
    off_p, off_q = p - mean_p, q - mean_q
    across = unit(mean_q - mean_p)
    along = square(across)
    a, b = (off_p * along).sum(2), (off_q * along).sum(2)
    v = (off_p * across).sum(2)
    whole = np.maximum((a * a).sum(1), 1e-9)
    scale = ((a * b).sum(1) / whole).clip(0.6, 1.7)[:, None, None]
    lean = ((((off_q * across).sum(2) - v) * a).sum(1) / whole).clip(-0.35, 0.35)[:, None]
    return np.asarray(mean_q + a[..., None] * scale * along + (v + lean * a)[..., None] * across, np.float64)


def _flip(p: Array, q: Array) -> Array:
    """Mirror: the axis is fitted to the midpoints and the partners' common direction."""
    across = unit((q - p).sum(axis=1, keepdims=True))
    middle = ((p + q) / 2 * across).sum((1, 2)) / p.shape[1]
    return np.asarray(p + 2 * (middle[:, None] - (p * across).sum(2))[..., None] * across, np.float64)


def _flip_slant(p: Array, q: Array) -> Array:
    """A mirror seen at a slant: partners step in one direction, midpoints lie on a line that need not be square to
    it.
    """
    across = unit((q - p).sum(axis=1, keepdims=True))
    along, mids = square(across), (p + q) / 2
    u, v = (mids * along).sum(2), (mids * across).sum(2)
    slope = np.zeros(len(p))
    if p.shape[1] >= 3:
        off = u - u.sum(1, keepdims=True) / u.shape[1]
        spread = np.ptp(u, axis=1) > 1e-6
        slope[spread] = ((off * v).sum(1)[spread] / (off * off).sum(1)[spread]).clip(-0.5, 0.5)
    base = (v - slope[:, None] * u).sum(1) / u.shape[1]
    away = slope[:, None] * (p * along).sum(2) + base[:, None] - (p * across).sum(2)
    return np.asarray(p + 2 * away[..., None] * across, np.float64)


def _turn(p: Array, q: Array) -> Array:
    return np.asarray(_middle(p) + _middle(q) - p, np.float64)


MOTIONS: tuple[tuple[Kind, Motion, int], ...] = (
    ("slide", _slide, 2),
    ("slide", _slide_back, 4),
    ("flip", _flip, 2),
    ("flip", _flip_slant, 3),
    ("turn", _turn, 2),
)
"""Kind, motion, and how many numbers it is free to choose."""
PLAIN = (0, 2)
"""Those of MOTIONS that two points tell."""


def chance(n: int, misfit: float, free: int, kind: Kind) -> float:
    """Expected number of fits as good (misfit in spacings) among as many random dots (a contrario, number of false
    alarms).

    Every pair adds two numbers that must agree, every number the motion was free to choose takes one away.
    """
    constraints = n - free
    if constraints <= 0:
        return 1.0
    return float(min(1.0, max(misfit / RANDOM_MISFIT[kind], 1e-3) ** min(constraints, 20)))

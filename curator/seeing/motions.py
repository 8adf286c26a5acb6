"""How one half goes onto the other: slide, flip, turn; fitted by least squares, and how often chance fits as well."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from curator.records import Kind

Array = NDArray[np.float64]
Motion = Callable[[Array], Array]
Fitter = Callable[[Array, Array], tuple[Motion, int]]
RANDOM_MISFIT = {"flip": 0.36, "slide": 0.40, "turn": 0.38, "split": 1.0}
"""Root mean square misfit, in spacings, of the best fit to as many random dots (own simulation,
tests/seeing/test_halves.py).
"""


def mean(points: Array) -> Array:
    """What numpy's gives, in a third of its time: this is asked thousands of times a photo."""
    found: Array = points.sum(axis=0) / len(points)
    return found


def unit(vector: Array) -> Array:
    return vector / (math.hypot(*vector.tolist()) or 1.0)


def _bounded(value: float, low: float, high: float) -> float:
    return min(high, max(low, float(value)))


# each fits to partners p -> q and returns the motion with how many numbers it was free to choose


def slide(p: Array, q: Array) -> tuple[Motion, int]:
    step = mean(q - p)
    return (lambda x: x + step), 2


def _slide_back(p: Array, q: Array) -> tuple[Motion, int]:
    """A row further back is shorter: its steps along and across are scaled, never turned far (affine, bounded)."""
    mean_p, mean_q = mean(p), mean(q)
    across = unit(mean_q - mean_p)
    along = np.array([across[1], -across[0]])
    a, b = (p - mean_p) @ along, (q - mean_q) @ along
    scale = _bounded((a @ b) / max(a @ a, 1e-9), 0.6, 1.7)
    lean = _bounded(((q - mean_q) @ across - (p - mean_p) @ across) @ a / max(a @ a, 1e-9), -0.35, 0.35)

    def motion(x: Array) -> Array:
        u, v = (x - mean_p) @ along, (x - mean_p) @ across
        moved: Array = mean_q + (u * scale)[:, None] * along + (v + lean * u)[:, None] * across
        return moved

    return motion, 4


def flip(p: Array, q: Array) -> tuple[Motion, int]:
    """Mirror: the axis is fitted to the midpoints and the partners' common direction."""
    across = unit((q - p).sum(axis=0))
    middle = float((((p + q) / 2) @ across).sum()) / len(p)

    def motion(x: Array) -> Array:
        moved: Array = x + (2 * (middle - x @ across))[:, None] * across
        return moved

    return motion, 2


def _flip_slant(p: Array, q: Array) -> tuple[Motion, int]:
    """A mirror seen at a slant: partners step in one direction, midpoints lie on a line that need not be square to
    it.
    """
    across = unit((q - p).sum(axis=0))
    along = np.array([across[1], -across[0]])
    mids = (p + q) / 2
    u, v = mids @ along, mids @ across
    slope = 0.0
    if len(p) >= 3 and u.max() - u.min() > 1e-6:
        off = u - mean(u)
        slope = _bounded((off @ v) / (off @ off), -0.5, 0.5)
    base = float(mean(v - slope * u))

    def motion(x: Array) -> Array:
        moved: Array = x + (2 * (slope * (x @ along) + base - x @ across))[:, None] * across
        return moved

    return motion, 3


def _turn(p: Array, q: Array) -> tuple[Motion, int]:
    centre = (mean(p) + mean(q)) / 2
    return (lambda x: 2 * centre - x), 2


MOTIONS: tuple[tuple[Kind, Fitter], ...] = (
    ("slide", slide),
    ("slide", _slide_back),
    ("flip", flip),
    ("flip", _flip_slant),
    ("turn", _turn),
)


def chance(n: int, misfit: float, free: int, kind: Kind) -> float:
    """Expected number of fits as good (misfit in spacings) among as many random dots (a contrario, number of false
    alarms).

    Every pair adds two numbers that must agree, every number the motion was free to choose takes one away.
    """
    constraints = n - free
    if constraints <= 0:
        return 1.0
    return float(min(1.0, max(misfit / RANDOM_MISFIT[kind], 1e-3) ** min(constraints, 20)))

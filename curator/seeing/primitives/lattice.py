"""Points on a lattice of rows and columns, seen straight or at a slant; where it lacks some (not a finder)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Rows and columns, which of the points lie on it, how tightly (0 to 1), and the crossings without a point."""

    rows: int
    columns: int
    good: NDArray[np.bool_]
    tight: float
    gaps: Points  # (k, 2) row, col

    @property
    def fill(self) -> float:
        """Share of the crossings that have a point, 0 to 1."""
        return float(min(1.0, self.good.sum() / (self.rows * self.columns)))


def fit(at: Points, *, crossings: int | None = None) -> Lattice | None:
    """The lattice that most of four or more points (n, 2) row, col lie on; None where they lie on none, or where all of
    them would lie on one with another number of crossings than is asked for.

    Rows and columns are read from the two main step directions between neighbours, then straightened by a homography
    found by consensus (RANSAC).
    """
    if len(at) < 4 or (crossings is not None and _prime(crossings)):
        return None
    apart = at[:, None] - at[None]
    length = np.hypot(apart[..., 0], apart[..., 1]) + np.eye(len(at)) * 1e9
    near = median(length.min(axis=1).tolist())
    basis = _steps(apart, length, near)
    if basis is None or near <= 0:
        return None
    whole = _snap(np.linalg.solve(basis, (at - at[0]).T).T)
    if len(set(map(tuple, whole.tolist()))) < len(at):
        return None
    if crossings is not None and np.prod(np.ptp(whole, axis=0) + 1) != crossings:
        return None
    source, target = whole.astype(np.float32)[:, ::-1], at.astype(np.float32)[:, ::-1]
    cv2.setRNGSeed(11)
    homography, _ = cv2.findHomography(source, target, cv2.RANSAC, 0.25 * near, maxIters=150)
    if homography is None:
        return None
    off = np.hypot(*(cv2.perspectiveTransform(source[None], homography)[0] - target).T) / near
    good = off < 0.25
    if good.sum() < 4:
        return None
    low, high = whole[good].min(axis=0), whole[good].max(axis=0)
    rows, columns = (int(v) for v in high - low + 1)
    if min(rows, columns) < 2 or rows * columns > 4 * len(at):
        return None
    gaps = _gaps(whole[good], low, high, homography)
    return Lattice(rows, columns, good, float(np.exp(-3 * off[good].mean())), gaps)


def _prime(number: int) -> bool:
    return all(number % k for k in range(2, math.isqrt(number) + 1))


def _steps(apart: Points, length: Points, usual: float) -> Points | None:
    """The step down and the step across as columns of a matrix (row, col) <- (row number, column number), of the steps
    (n, n, 2) between points, how long they are, and how long those to the nearest usually.
    """
    n = len(apart)
    own, order = np.arange(n)[:, None], np.argsort(length, axis=1, kind="stable")[:, : min(4, n - 1)]
    near, reach = apart[own, order].reshape(-1, 2), length[own, order].ravel()
    angle = np.arctan2(near[:, 0], near[:, 1]) % np.pi
    close = reach < 2.2 * usual
    shortest = float(angle[close][np.argmin(reach[close])]) if close.any() else 0.0
    first = close & (_between(angle, shortest) < 0.45)
    second = close & (np.abs(_between(angle, shortest) - np.pi / 2) < 0.65)
    if first.sum() < 2 or second.sum() < 2:
        return None
    one, other = _mean_step(near[first]), _mean_step(near[second])
    down, across = (one, other) if abs(one[0]) > abs(one[1]) else (other, one)
    basis: Points = np.stack([down, across], axis=1)
    return basis if abs(np.linalg.det(basis)) > 1e-6 else None


def _between(angle: Points, other: float) -> Points:
    """Angle between undirected lines, 0 to pi/2."""
    apart = np.abs(angle - other) % np.pi
    folded: Points = np.minimum(apart, np.pi - apart)
    return folded


def _mean_step(steps: Points) -> Points:
    """The median step after all are turned to the same side."""
    lead = steps[np.argmax(np.abs(steps).max(axis=1))]
    turned = steps * np.where(steps @ lead < 0, -1, 1)[:, None]
    middle = np.array([median(turned[:, 0].tolist()), median(turned[:, 1].tolist())])
    return middle if middle[int(np.argmax(np.abs(middle)))] > 0 else -middle


def _snap(index: Points) -> NDArray[np.int_]:
    """Whole row and column numbers: gaps along each axis wider than half a step start the next number."""
    whole = np.zeros(index.shape, dtype=int)
    for k in (0, 1):
        order = np.argsort(index[:, k], kind="stable")
        steps = np.diff(index[order, k])
        whole[order, k] = np.concatenate([[0], np.cumsum(np.where(steps > 0.45, np.maximum(1, np.round(steps)), 0))])
    return whole


def _gaps(taken: NDArray[np.int_], low: NDArray[np.int_], high: NDArray[np.int_], homography: Points) -> Points:
    """Where the crossings without a point lie in the picture."""
    have = {(int(r), int(c)) for r, c in taken}
    free = [(c, r) for r in range(low[0], high[0] + 1) for c in range(low[1], high[1] + 1) if (r, c) not in have]
    if not free:
        return np.zeros((0, 2))
    found: Points = cv2.perspectiveTransform(np.array(free, dtype=np.float64)[None], homography)[0][:, ::-1]
    return found

"""The two kinds of models the judge uses, fitted: a conditional logit and a logistic regression, both with a ridge."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

Array = NDArray[np.float64]


def table(rows: list[dict[str, float]], names: list[str]) -> Array:
    """(rows, names): what is missing counts 0."""
    return np.array([[row.get(name, 0.0) for name in names] for row in rows], dtype=np.float64).reshape(-1, len(names))


class Choice:
    """A conditional logit over groups of rows (the sets of one photo), of which some are right.

    Rows of all groups lie one after the other; `sizes` says how many are each group's. Columns are measured in
    deviations while the weights are fitted.
    """

    def __init__(
        self, rows: Array, sizes: NDArray[np.intp], right: Array, share: Array, ridge: float, prior: Array | None = None
    ) -> None:
        self.sizes, self.right, self.share, self.ridge = sizes, right, share, ridge
        self.starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp)
        self.spread = rows.std(0) + 1e-6
        self.rows = rows / self.spread
        self.prior = np.zeros(rows.shape[1]) if prior is None else prior * self.spread
        self.known = np.add.reduceat(right, self.starts) > 0

    def fitted(self, keep: NDArray[np.bool_], start: Array | None = None) -> Array:
        """Weights (of the columns as given) from the groups in `keep` with a right row; `start` is a first guess."""
        groups = np.flatnonzero(keep & self.known)
        own = np.concatenate([np.arange(self.starts[g], self.starts[g] + self.sizes[g]) for g in groups])
        rows, right, share = self.rows[own], self.right[own], self.share[groups]
        sizes = self.sizes[groups]
        starts = np.concatenate([[0], np.cumsum(sizes)[:-1]]).astype(np.intp)
        group = np.repeat(np.arange(len(sizes)), sizes)

        def loss(w: Array) -> tuple[float, Array]:
            score = rows @ w
            likely = np.exp(score - np.maximum.reduceat(score, starts)[group])
            likely /= np.add.reduceat(likely, starts)[group]
            hit = np.add.reduceat(likely * right, starts)
            slope = (likely * right / hit.clip(1e-12)[group] - likely) * share[group]
            away = w - self.prior
            value = self.ridge * float(away @ away) / 2 - float((share * np.log(hit + 1e-12)).sum())
            return value, self.ridge * away - rows.T @ slope

        first = self.prior if start is None else start * self.spread
        return np.asarray(minimize(loss, first, jac=True, method="L-BFGS-B").x / self.spread, np.float64)


def logistic(rows: Array, right: Array, share: Array, ridge: float = 1.0, prior: Array | None = None) -> Array:
    """Weights of a ridge logistic regression by Newton's method, the bias first; they are drawn to
    `prior` (zeros), the bias is not. A step that overshoots is halved.
    """
    x = np.column_stack([np.ones(len(rows)), rows])
    toward = np.zeros(x.shape[1]) if prior is None else prior
    w, shrink = toward.copy(), np.full(x.shape[1], ridge)
    shrink[0] = 1e-3

    def loss(at: Array) -> float:
        z = x @ at
        return float((share * (np.logaddexp(0, z) - right * z)).sum() + (shrink * (at - toward) ** 2).sum() / 2)

    for _ in range(40):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        gradient = x.T @ (share * (p - right)) + shrink * (w - toward)
        curve = (x * (share * p * (1 - p) + 1e-9)[:, None]).T @ x + np.diag(shrink)
        step = np.linalg.solve(curve, gradient)
        before = loss(w)
        while loss(w - step) > before + 1e-9 and np.abs(step).max() > 1e-6:
            step /= 2
        w -= step
        if np.abs(step).max() < 1e-6:
            break
    return w

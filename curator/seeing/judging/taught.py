"""What a teacher kept of a thing speaks for how the next photos of that thing are counted.

Each kept photo is an example: its candidate sets as the judge measured them, and which of them hold what she kept. For
one look COUNT's weights lean towards what told her sets from the others: the likeliest weights of a conditional logit
over the examples, drawn to the judge's own by a ridge. Nothing is kept of that but the examples. What is measured of
the number itself does not take part: how many eggs she kept says nothing of how many come next.

The measures are those of sets, not of what things look like: the net's embeddings tell kinds within one photo, and do
not find the same thing again in another (`.docs/experiments.md`). So the caller says which examples are of that thing.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing import set_matching
from curator.seeing.judging import feature_table, models
from curator.seeing.judging.features import Measured
from curator.seeing.judging.models import Features

Values = NDArray[np.float64]

NAMES = tuple(row.name for row in feature_table.OF_A_SET)
_FITTED = json.loads((Path(__file__).parents[2] / "models" / "taught.json").read_text(encoding="utf-8"))
RIDGE: float = _FITTED["ridge"]  # how firmly the judge's own weights hold, a squared deviation
MOST: float = _FITTED["most"]  # logits by which a set may gain or lose on the one that is named without examples
AHEAD: float = _FITTED["ahead"]  # logits by which another set has to lead the one named without examples, to be named
SPREAD: Features = _FITTED["spread"]  # a deviation of each measure that takes part, over the sets of labelled photos
SETS = 16  # of an example: the likeliest, and those that are right
SAME = 0.85  # share of the things that two sets have in common, to be one


class Example(NamedTuple):
    """One kept photo: what was measured of its sets, and which hold all and only what was kept."""

    measures: Values  # (sets, NAMES)
    right: NDArray[np.bool_]  # (sets,)


Taught = tuple[Example, ...]


def example(every: Sequence[Measured], kept: ThingSet) -> Example | None:
    """What the candidate sets of a photo teach beside the things that were kept of it, in the same pixels; None where
    no set holds just these.
    """
    right = np.array([_same(one.things, kept) for one in every], dtype=bool)
    if not right.any():
        return None
    score = np.array([models.weighted(one.features, models.COUNT) for one in every])
    likeliest = np.argsort(-score, kind="stable")[:SETS]
    chosen = np.union1d(likeliest, np.flatnonzero(right))
    return Example(_table([every[i].features for i in chosen]), right[chosen])


def _same(things: ThingSet, kept: ThingSet) -> bool:
    """Whether there are as many, nearly each on its own place: her dots lie on things, not at their very centres."""
    if len(things) != len(kept) or not len(kept):
        return False
    return len(set_matching.partners(things, kept, reach=1.0)[0]) >= SAME * len(kept)


def _table(rows: Sequence[Features]) -> Values:
    return np.array([[row.get(name, 0.0) for name in NAMES] for row in rows], dtype=np.float64).reshape(-1, len(NAMES))


def leans(every: Sequence[Measured], taught: Taught, first: int) -> Values:
    """(sets,) by how much the examples speak for each of a photo's sets over the one that is named without them, set
    `first`: in logits of COUNT, MOST at most either way.
    """
    scale = np.array([1 / SPREAD[name] if name in SPREAD else 0.0 for name in NAMES])
    lean = scale * _leaning([(one.measures * scale, one) for one in taught])
    gain = _table([one.features for one in every]) @ lean
    return np.asarray(np.clip(gain - gain[first], -MOST, MOST), np.float64)


def _leaning(examples: Sequence[tuple[Values, Example]]) -> Values:
    """(NAMES,) what is added to COUNT's weights, in deviations: the likeliest under the examples, drawn to 0."""
    from scipy.optimize import minimize

    known = [(rows, _scores(one), one.right.astype(np.float64)) for rows, one in examples]

    def loss(weights: Values) -> tuple[float, Values]:
        value, slope = RIDGE / 2 * float(weights @ weights), RIDGE * weights
        for rows, score, right in known:
            leaned = score.copy()
            leaned[:-1] += rows @ weights
            likely = np.exp(leaned - leaned.max())
            likely = likely[:-1] / likely.sum()
            hit = max(1e-12, float(likely @ right))
            value -= float(np.log(hit))
            slope = slope - rows.T @ (likely * right / hit - likely)
        return value, slope

    return np.asarray(minimize(loss, np.zeros(len(NAMES)), jac=True, method="L-BFGS-B").x, np.float64)


def _scores(one: Example) -> Values:
    """COUNT's scores of an example's sets, and last of nothing being there."""
    rows = [models.weighted(dict(zip(NAMES, row, strict=True)), models.COUNT) for row in one.measures.tolist()]
    return np.array([*rows, models.COUNT.get(models.NOTHING, -np.inf)])

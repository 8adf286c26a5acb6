"""The judge's two fitted models: which set of things is the one meant (COUNT, a conditional logit over the sets of
one photo),
and does a reading show the fact a person would name (FACT, logistic). Weights are data: `models/judge.json`.
"""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Features = dict[str, float]
CLEAR = 6.0  # a logit of the checker that leaves nothing open
UNSEEN = -0.7  # of CLEAR: what a set counts as that is not looked at
NOTHING = "nothing"  # what COUNT weighs a photo without anything to count by
_FITTED = json.loads((Path(__file__).parents[2] / "models" / "judge.json").read_text(encoding="utf-8"))
COUNT: Features = _FITTED["count"]
FACT: Features = _FITTED["fact"]
CHECK: Features = _FITTED.get("check", {})
FACT_SURE: float = _FITTED["sure"]
FACT_SURE_TWO: float = _FITTED["sure_two"]
FACT_SURE_FOUR: float = _FITTED["sure_four"]
OFFER: float = _FITTED["offer"]


@dataclasses.dataclass(frozen=True, slots=True)
class Belief:
    """How far one set is believed among the sets of its photo; they share one whole."""

    own: float  # that it is the set meant
    number: float  # that its number is: all sets of that number together
    ahead: float  # `number`, less that of the likeliest other number
    rival: int = 0  # that other number; 0 where there is none
    looked_once: float | None = None  # `number` by the first look alone; None where that was the only one

    checked: float | None = None  # the checker's logit that it is right; None where it was not asked

    @property
    def alone(self) -> float:
        """`number` by the first look alone."""
        return self.number if self.looked_once is None else self.looked_once

    @property
    def by_eye(self) -> float:
        """What the checker says, -1.3 to 1.3; as of a set that it is not asked about where it was not."""
        return UNSEEN if self.checked is None else told(self.checked)


def told(logit: float) -> float:
    """What the checker says, as the models weigh it: 1 where it leaves nothing open, 1.3 at most."""
    return max(-1.3, min(1.3, logit / CLEAR))


def beliefs(measured: list[Features], numbers: list[int], count: Features = COUNT) -> list[Belief]:
    """One photo's sets weighed against each other, and against nothing being there (a conditional logit), from their
    features and their numbers.
    """
    if not measured:
        return []
    score = np.array([*(weighted(f, count) for f in measured), count.get(NOTHING, -math.inf)])
    own = np.exp(score - score.max())
    return shared((own / own.sum())[:-1], numbers)


def shared(own: NDArray[np.float64], numbers: list[int]) -> list[Belief]:
    """What is believed of each set of a photo, from its own share of the whole, (sets,), and its number."""
    together = {n: float(own[np.array(numbers) == n].sum()) for n in set(numbers)}
    rival = {n: max((m for m in together if m != n), key=together.__getitem__, default=0) for n in together}
    return [
        Belief(float(o), together[n], together[n] - together.get(rival[n], 0.0), rival[n])
        for o, n in zip(own, numbers, strict=True)
    ]


def nothing(believed: list[Belief]) -> float:
    """How far it is believed that nothing repeats: what the sets leave of the whole."""
    return 1.0 - sum(b.own for b in believed)


def empty(believed: list[Belief]) -> bool:
    """Whether that nothing repeats is what is said first: no number is believed more."""
    return nothing(believed) > max((b.number for b in believed), default=0.0)


def weighted(features: Features, weights: Features) -> float:
    """The weighted sum; a feature without a weight counts nothing."""
    return sum(weights.get(name, 0.0) * value for name, value in features.items())


def weigh(features: Features, weights: Features) -> float:
    """Logistic of the weighted sum and the bias."""
    total = weights["bias"] + weighted(features, weights)
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, total))))


def surely(n: int) -> float:
    """The confidence from which a double of n things is tagged without asking: two are soon found, and four are often
    the parts of two, so these have thresholds of their own.
    """
    return FACT_SURE_TWO if n == 2 else FACT_SURE_FOUR if n == 4 else FACT_SURE

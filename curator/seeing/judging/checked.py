"""What the net that looks at answers says of a photo's likeliest sets, mixed into what is believed of them.

COUNT weighs measurements; the checker (`net/checker.py`) sees the photo with the set marked in it. CHECK, a second
conditional logit, weighs both (figures: `.docs/experiments.md`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from curator.seeing.judging import models
from curator.seeing.judging.models import CLEAR, UNSEEN, Belief, Features
from curator.seeing.net.checker import Checked

LEAST = 0.03  # of the belief: what is hardly believed is not looked at (`.docs/experiments.md`)
MOST = 6  # sets of one photo
Asked = Callable[[list[int]], list[Checked]]  # the checker's answers of the sets of these places in the list
NAMES = ("log", models.NOTHING, "right", "recall", "precision", "behind", "unasked", "nothing_right")


def rechecked(believed: list[Belief], numbers: list[int], ask: Asked, check: Features = models.CHECK) -> list[Belief]:
    """The beliefs once the likeliest sets have been looked at; as they were where the checker is missing."""
    asked = worth(believed) if check else []
    told = dict(zip(asked, ask(asked), strict=False)) if asked else {}
    if not told:
        return believed
    rows = measures(believed, told)
    score = rows @ np.array([check.get(name, 0.0) for name in NAMES])
    own = np.exp(score - score.max())
    together = models.shared((own / own.sum())[:-1], numbers)
    return [replace(b, checked=told[i].right if i in told else None) for i, b in enumerate(together)]


def worth(believed: list[Belief]) -> list[int]:
    """The sets that are looked at, the most believed first."""
    order = sorted(range(len(believed)), key=lambda i: -believed[i].own)[:MOST]
    return [i for i in order if believed[i].own >= LEAST]


def measures(believed: list[Belief], told: dict[int, Checked]) -> NDArray[np.float64]:
    """What CHECK weighs of each set, (sets + 1, NAMES); the last row is that nothing is there."""
    rows = np.zeros((len(believed) + 1, len(NAMES)))
    own = np.array([*(b.own for b in believed), models.nothing(believed)])
    rows[:, 0], rows[-1, 1] = np.log(own.clip(1e-12)), 1.0
    rows[:-1, 2:7] = (UNSEEN, UNSEEN, UNSEEN, -1.0, 1.0)
    best = max((one.right for one in told.values()), default=0.0)
    for i, one in told.items():
        rows[i, 2:7] = (*(models.told(v) for v in one), max(-1.0, (one.right - best) / CLEAR), 0.0)
    rows[-1, 7] = models.told(best)
    return rows

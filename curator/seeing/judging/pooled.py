"""What several looks at one photo believe of each number, shared.

One photo in ten changes its answer by being saved again. The mean over three looks is right more often than any one
of them, and tells better how far it can be believed (figures: `.docs/experiments.md`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from curator.seeing.judging import models
from curator.seeing.judging.checked import Asked, rechecked
from curator.seeing.judging.models import Belief, Features
from curator.seeing.net.checker import Checked

Weighed = tuple[list[Features], list[int]]  # what one look measures: the features of each set, and its number
DOUBT = 0.45  # where a number is believed as much, further looks change no total of 675 photos (`.docs/experiments.md`)


@dataclass(frozen=True)
class Judge:
    """The weights that beliefs come from."""

    count: Features = field(default_factory=lambda: models.COUNT)
    check: Features = field(default_factory=lambda: models.CHECK)


TODAY = Judge()


def _nobody(_: list[int]) -> list[Checked]:
    return []


def believed(
    first: Weighed, further: Callable[[], Iterable[Weighed]], ask: Asked = _nobody, judge: Judge = TODAY
) -> list[Belief]:
    """How far each set is believed of the first look, its number by all looks.

    `ask` gives what the checker says of sets of the first look. Each of the `further` looks is asked for only where no
    number is then believed DOUBT by all before it (or that nothing is there).
    """
    alone = rechecked(models.beliefs(*first, judge.count), first[1], ask, judge.check)
    one = _numbers(first, alone)
    if not alone or max(one.values()) >= DOUBT:
        return alone
    looks, mean = [one], one
    for look in further():
        looks.append(_numbers(look, models.beliefs(*look, judge.count)))
        mean = {n: sum(each.get(n, 0.0) for each in looks) / len(looks) for n in one}
        if max(mean.values()) >= DOUBT:
            break
    own = np.array([b.own * mean[n] / max(one[n], 1e-12) for b, n in zip(alone, first[1], strict=True)])
    together = models.shared(own / (own.sum() + mean[0]), first[1])
    return [
        replace(b, looked_once=one[n], checked=before.checked)
        for b, before, n in zip(together, alone, first[1], strict=True)
    ]


def _numbers(look: Weighed, beliefs: list[Belief]) -> dict[int, float]:
    """How far each number is believed; 0: that nothing is there."""
    found = {0: models.nothing(beliefs)}
    for belief, n in zip(beliefs, look[1], strict=True):
        found[n] = found.get(n, 0.0) + belief.own
    return found

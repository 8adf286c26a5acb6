"""What a photo's likeliest sets come to be asked, begun before it is known which they are: it is done beside all else.

Where this process has one core no net runs, and no pixels are looked at, before it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, NamedTuple

from curator.records import ThingSet
from curator.seeing.beside import beside
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.judging import models
from curator.seeing.judging.checked import worth
from curator.seeing.judging.feature_table import looks
from curator.seeing.judging.features import Measured, halved, weighed
from curator.seeing.judging.models import Features
from curator.seeing.net import checker
from curator.seeing.net.checker import Checked


class Ahead(NamedTuple):
    """What has been begun of some of a photo's sets; more is added."""

    picture: Picture
    seen: Callable[[], checker.Pictured]  # the same, for the checker
    checks: dict[ThingSet, Callable[[], Checked]]
    looks: dict[ThingSet, Callable[[], Features]]


def begun(picture: Picture) -> Ahead:
    """The picture is made ready."""
    works: list[Callable[[], Any]] = [partial(checker.pictured, picture.pixels), picture.prepare]
    return Ahead(picture, beside(works)[0], {}, {})


def likelier(ahead: Ahead, every: list[Measured]) -> None:
    """The checker looks at the sets that are likeliest before halves are fitted: nine in ten it is then asked about."""
    _begin(ahead, [every[i].things for i in worth(models.beliefs(*weighed(every)))])


def checked(ahead: Ahead, every: list[Measured], places: list[int]) -> list[Checked]:
    """The checker's answers of the sets of these places. What the pixels say of them, which comes to be asked of most,
    is gathered while it works.
    """
    own = [every[i].things for i in places if halved(every[i])]
    asked = [every[i].things for i in places]
    looked = _begin(ahead, asked, [partial(looks, ahead.picture, things) for things in own])
    ahead.looks.update(zip(own, looked, strict=True))
    return [ahead.checks[things]() for things in asked if things in ahead.checks]


def seen(ahead: Ahead, things: ThingSet) -> Features:
    """What the pixels say of a set."""
    return ahead.looks[things]() if things in ahead.looks else looks(ahead.picture, things)


def _begin(
    ahead: Ahead, sets: Sequence[ThingSet], more: Sequence[Callable[[], Any]] = ()
) -> tuple[Callable[[], Any], ...]:
    """Have the checker look at those sets at which it does not yet, and then do more; the answers of that."""
    new = [things for things in sets if things not in ahead.checks]
    checks = checker.each(ahead.seen(), new) if new else []
    answers: tuple[Callable[[], Any], ...] = beside([*checks, *more])
    ahead.checks.update(zip(new, answers[: len(checks)], strict=False))
    return answers[len(checks) :]

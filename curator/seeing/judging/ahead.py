"""What a photo's likeliest sets come to be asked, begun before it is known which they are: it is done beside all else.

Where this process has one core nothing is done before it is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, NamedTuple

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
    """What has been begun of some of a photo's sets, by their places in the list; more is added."""

    picture: Picture
    checks: dict[int, Callable[[], Checked]]
    looks: dict[int, Callable[[], Features]]


def begun(picture: Picture, every: list[Measured]) -> Ahead:
    """The checker looks at the sets that are likeliest before halves are fitted: nine in ten it is then asked about."""
    places = worth(models.beliefs(*weighed(every)))
    checks = checker.each(picture.pixels, [every[i].things for i in places])
    answers: tuple[Callable[[], Any], ...] = beside([*checks, picture.prepare])
    return Ahead(picture, dict(zip(places[: len(checks)], answers, strict=False)), {})


def checked(ahead: Ahead, every: list[Measured], places: list[int]) -> list[Checked]:
    """The checker's answers of the sets of these places. What the pixels say of them, which comes to be asked of most,
    is gathered while it works.
    """
    new = [i for i in places if i not in ahead.checks]
    own = [i for i in places if halved(every[i])]
    checks = checker.each(ahead.picture.pixels, [every[i].things for i in new])
    looked = [partial(looks, ahead.picture, every[i].things) for i in own]
    answers: tuple[Callable[[], Any], ...] = beside([*checks, *looked])
    ahead.checks.update(zip(new, answers[: len(checks)], strict=False))
    ahead.looks.update(zip(own, answers[len(checks) :], strict=True))
    return [ahead.checks[i]() for i in places if i in ahead.checks]


def seen(ahead: Ahead, i: int, every: list[Measured]) -> Features:
    """What the pixels say of set i."""
    return ahead.looks[i]() if i in ahead.looks else looks(ahead.picture, every[i].things)

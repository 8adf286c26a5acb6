"""What two looks of the net say of things that touch: told apart, or open; and cards that reach past their things."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from curator.classroom.marking import covers, outlines, seen
from curator.classroom.marking.extents import reaches
from curator.classroom.marking.outlines import SOFT
from curator.records import Dot, Fact, Prompt

SIZE = (240, 320)
NEVER, SURELY = -6.0, 6.0
Masks = NDArray[np.bool_]


def prompt_of(*places: tuple[float, float]) -> Prompt:
    """Two dots, one of each half, in things of a quarter of the width."""
    dots = tuple(Dot(x, y, side, 0.25, 0.33) for side, (x, y) in enumerate(places, 1))
    return Prompt("two", "Two", Fact(1), "slide", "two.jpg", dots)


def disc(x: float, y: float, radius: int = 40) -> Masks:
    found = np.zeros(SIZE, np.uint8)
    cv2.circle(found, (round(x * SIZE[1]), round(y * SIZE[0])), radius, 1, -1)
    return found.astype(bool)


def told(looks: list[tuple[Masks, Masks]], monkeypatch: pytest.MonkeyPatch, prompt: Prompt) -> NDArray[np.uint8]:
    """The outlines of a plain picture of two things where the net's looks have those masks."""
    monkeypatch.setattr(seen.runtime, "see", lambda _, longer: longer)
    monkeypatch.setattr(seen.outlines, "available", lambda _: True)
    order: list[Any] = []

    def logits(look: int, *_: Any) -> NDArray[np.float32]:
        order.append(look)
        masks = np.stack(looks[min(len(order), len(looks)) - 1])
        return np.where(masks, SURELY, NEVER).astype(np.float32)

    monkeypatch.setattr(seen.outlines, "logits", logits)
    photo = np.full((*SIZE, 3), 225, np.uint8)
    for dot, color in zip(prompt.dots, ((150, 40, 40), (40, 60, 150)), strict=True):
        photo[disc(dot.x, dot.y)] = color
    return outlines.outlines(photo, prompt)


def one_look(*masks: Masks) -> tuple[Masks, Masks]:
    return masks[0], masks[1]


def test_things_that_touch_are_told_where_two_looks_agree_about_each(monkeypatch: pytest.MonkeyPatch) -> None:
    prompt = prompt_of((0.37, 0.5), (0.62, 0.5))
    one, other = disc(0.37, 0.5), disc(0.62, 0.5)
    reaching = other | disc(0.47, 0.5, 14)  # one look has a bit of the neighbour's as well
    own = told(
        [one_look(one, other), one_look(one & ~reaching | one, other), one_look(one, other)], monkeypatch, prompt
    )
    assert not (own >= SOFT).any()
    assert all(covers.cover(np.zeros((*SIZE, 3), np.uint8), prompt, own, [i]).clean for i in (0, 1))


def test_what_is_seen_as_one_with_the_other_half_is_left_open(monkeypatch: pytest.MonkeyPatch) -> None:
    prompt = prompt_of((0.45, 0.5), (0.55, 0.5))
    both = disc(0.45, 0.5) | disc(0.55, 0.5)
    own = told([one_look(both, both)] * 3, monkeypatch, prompt)
    assert (own[own > 0] >= SOFT).all()
    assert not covers.cover(np.zeros((*SIZE, 3), np.uint8), prompt, own, [0]).clean


@pytest.mark.parametrize(("apart", "by_ground"), [(0.0, True), (0.2, False)])
def test_looks_that_hardly_agree_are_believed_only_of_halves_that_lie_apart(
    monkeypatch: pytest.MonkeyPatch, apart: float, by_ground: bool
) -> None:
    places = (0.38 - apart, 0.5), (0.62 + apart / 2, 0.5)
    prompt = prompt_of(*places)
    large = one_look(disc(*places[0]), disc(*places[1]))
    small = one_look(disc(*places[0], 32), disc(*places[1], 32))
    alone: list[bool] = []

    def softened(labels: NDArray[np.uint8], _: Any, core: Any = None) -> NDArray[np.uint8]:
        alone.append(core is None)
        return labels

    monkeypatch.setattr(outlines, "_softened", softened)
    told([large, small, large], monkeypatch, prompt)
    assert (True in alone) == by_ground


def test_a_card_reaches_past_a_tip_that_its_outline_lacks_and_hides_nothing_else() -> None:
    """A bolt whose outline ends at its head: a card is no smaller than it needs to be where nothing else lies."""
    photo = np.full((*SIZE, 3), 235, np.uint8)
    prompt = prompt_of((0.25, 0.6), (0.75, 0.6))
    own = np.zeros(SIZE, np.uint8)
    for n, dot in enumerate(prompt.dots, 1):
        own[disc(dot.x, dot.y)] = n
    tip = np.zeros(SIZE, np.bool_)
    x, y, _, _ = reaches(prompt, SIZE)[0].astype(int)
    tip[y - 80 : y - 40, x - 8 : x + 8] = True
    for side in (0, 1):
        card = covers.cover(photo, prompt, own, [side])
        assert card.clean
        assert card.straight
        assert card.mask[tip].all() == (side == 0)
        assert not card.mask[own == 2 - side].any()

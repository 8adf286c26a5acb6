"""Where a bar shows which cut is meant, that cut comes first: a 4-4 domino lies in two rows of four both ways."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from curator.records import Box, Thing, ThingSet
from curator.seeing import halves
from curator.seeing.features import bars
from curator.seeing.features.pixel_evidence import Picture

PIP, STEP = 11, 60


def domino(turn: float, bar: int | None, ground: int = 70) -> tuple[NDArray[np.uint8], ThingSet]:
    """Eight pips in even steps, two by four, and a bar of that grey across the middle; turned by so many degrees."""
    photo = np.full((420, 420, 3), ground, np.uint8)
    cv2.rectangle(photo, (210 - STEP, 210 - 2 * STEP), (210 + STEP, 210 + 2 * STEP), (235, 232, 220), -1)
    if bar is not None:
        cv2.line(photo, (210 - STEP + 6, 210), (210 + STEP - 6, 210), (bar,) * 3, 5)
    places = [(210 + (x - 0.5) * STEP, 210 + (y - 1.5) * STEP) for y in range(4) for x in range(2)]
    for x, y in places:
        cv2.circle(photo, (round(x), round(y)), PIP, (25, 25, 30), -1, cv2.LINE_AA)
    matrix = cv2.getRotationMatrix2D((210, 210), turn, 1.0)
    photo = cv2.warpAffine(photo, matrix, (420, 420), borderValue=(ground,) * 3)
    noise = np.random.default_rng(1).normal(0, 3, photo.shape)
    photo = np.clip(photo + noise, 0, 255).astype(np.uint8)
    at = np.array(places) @ matrix[:, :2].T + matrix[:, 2]
    boxes = [Box(round(y) - PIP, round(x) - PIP, round(y) + PIP, round(x) + PIP) for x, y in at]
    return photo, ThingSet(tuple(Thing(b, b.center) for b in boxes), (420, 420), "drawn")


def cut_at_the_bar(split: halves.Halves) -> bool:
    return {frozenset(split.one), frozenset(split.other)} == {frozenset(range(4)), frozenset(range(4, 8))}


@pytest.mark.parametrize("turn", [0, 8, 37, 90, 121])
@pytest.mark.parametrize("bar", [40, 150, 255])
def test_a_domino_is_cut_along_its_bar(turn: float, bar: int) -> None:
    if bar == 255:  # a light bar on a dark tile's ground is a bar, too
        photo, things = domino(turn, 0)
        photo = 255 - photo
    else:
        photo, things = domino(turn, bar)
    first = bars.barred_first(Picture(photo), things, halves.fit(things))[0]
    assert cut_at_the_bar(first)
    assert bars.on_a_bar(Picture(photo), things, first)


@pytest.mark.parametrize("turn", [0, 37, 90])
def test_without_a_bar_the_order_stays(turn: float) -> None:
    photo, things = domino(turn, None)
    fitted = halves.fit(things)
    assert bars.barred_first(Picture(photo), things, fitted) == fitted
    assert not any(bars.on_a_bar(Picture(photo), things, one) for one in fitted)


def test_a_row_of_marks_is_no_bar_and_few_things_have_none() -> None:
    photo, things = domino(0, None)
    for x in range(210 - STEP, 210 + STEP, 24):
        cv2.line(photo, (x, 210), (x + 8, 210), (40, 40, 40), 5)
    fitted = halves.fit(things)
    assert bars.barred_first(Picture(photo), things, fitted) == fitted
    two = ThingSet(things.things[:2], things.size, "drawn")
    assert not any(bars.on_a_bar(Picture(photo), two, one) for one in halves.fit(two))


def test_gaps_that_are_all_alike_are_no_bar() -> None:
    photo, things = domino(0, None)
    for y in (-1, 0, 1):
        cv2.line(photo, (210 - STEP, 210 + y * STEP), (210 + STEP, 210 + y * STEP), (60, 60, 60), 5)
    fitted = halves.fit(things)
    assert bars.barred_first(Picture(photo), things, fitted) == fitted

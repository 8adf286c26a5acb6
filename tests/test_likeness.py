"""One tap: the rest of the kind is found, corrections are always kept, and dots labelled on real photos fit their labels."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curator.records import Area, Box, Photo, Thing, ThingSet
from curator.seeing import likeness

SIZE = (400, 600)


def photo_of(picture: np.ndarray) -> Photo:
    return Photo(Path("drawn.png"), "0" * 64, picture, 1.0)


def two_kinds() -> np.ndarray:
    """Six large yellow discs and four small dark squares on a plain ground."""
    picture = np.full((*SIZE, 3), (150, 170, 160), np.uint8)
    for k in range(6):
        cv2.circle(picture, (90 + (k % 3) * 120, 100 + (k // 3) * 130), 40, (240, 200, 60), -1, cv2.LINE_AA)
    for k in range(4):
        cv2.rectangle(picture, (450 + (k % 2) * 70, 90 + (k // 2) * 130), (480 + (k % 2) * 70, 120 + (k // 2) * 130), (60, 40, 90), -1)
    return picture


@pytest.mark.parametrize(("at", "number"), [((90 / 600, 100 / 400), 6), ((465 / 600, 105 / 400), 4)])
def test_a_tap_says_which_kind(at: tuple[float, float], number: int) -> None:
    found = likeness.more_like(photo_of(two_kinds()), at)
    assert len(found) == number
    apart = np.hypot(*(found.centers - np.array([at[1] * 400, at[0] * 600])).T)
    assert apart.min() < 1  # the tapped place itself is on one


def test_only_the_area_is_looked_at() -> None:
    found = likeness.more_like(photo_of(two_kinds()), (90 / 600, 100 / 400), area=Area(0, 0, 0.7, 0.45))
    assert len(found) == 3
    assert found.size == SIZE


def by_hand(points: list[tuple[float, float]]) -> ThingSet:
    things = tuple(Thing(Box(int(r) - 8, int(c) - 8, int(r) + 8, int(c) + 8), (r, c)) for r, c in points)
    return ThingSet(things, SIZE, "person")


def test_a_tap_on_bare_ground_still_counts() -> None:
    found = likeness.meant(photo_of(np.full((*SIZE, 3), 128, np.uint8)), [(0.3, 0.3)])
    assert len(found) == 1
    assert np.allclose(found.centers, [(120, 180)], atol=2)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(20, 380), st.integers(20, 580)), min_size=1, max_size=5, unique=True), st.integers(0, 3))
def test_what_a_person_changed_is_changed(yes: list[tuple[int, int]], taken_off: int) -> None:
    grid = [(60.0 + 90 * (k // 4), 60.0 + 110 * (k % 4)) for k in range(12)]
    no = np.array(grid[:taken_off], dtype=np.float64).reshape(-1, 2)
    wanted = np.array([y for y in yes if not len(no) or np.hypot(*(no - y).T).min() > 30], dtype=np.float64).reshape(-1, 2)
    after = likeness.changed(by_hand(grid), wanted, no)
    assert all(np.hypot(*(after.centers - place).T).min() < 17 for place in wanted)
    assert all(len(after) == 0 or np.hypot(*(after.centers - place).T).min() > 7 for place in no)
    assert len(after) <= len(grid) - taken_off + len(wanted)


def test_dots_labelled_on_real_photos_are_whole() -> None:
    """Our own labels of published photos (fractions and file names only); `tests/bench/taps.py` counts taps with them."""
    dots = json.loads((Path(__file__).parent / "dots_of_photos.json").read_text())
    assert len(dots) >= 100
    for name, points in dots.items():
        assert 2 <= len(points) <= 25, name
        assert all(0 <= v <= 1 for point in points for v in point), name
        assert len({tuple(p) for p in points}) == len(points), name

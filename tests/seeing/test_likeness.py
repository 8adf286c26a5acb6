"""One tap: the rest of the kind is found, corrections are always kept, and dots labelled on real photos fit their
labels.
"""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curator.learning.fit import person, sessions
from curator.records import Area, Box, Photo, Thing, ThingSet
from curator.seeing.corrections import answer, ranking

SIZE = (400, 600)


def photo_of(picture: np.ndarray) -> Photo:
    return Photo(Path("drawn.png"), "0" * 64, picture, 1.0)


def two_kinds() -> np.ndarray:
    """Six large yellow discs and four small dark squares on a plain ground."""
    picture = np.full((*SIZE, 3), (150, 170, 160), np.uint8)
    for k in range(6):
        cv2.circle(picture, (90 + (k % 3) * 120, 100 + (k // 3) * 130), 40, (240, 200, 60), -1, cv2.LINE_AA)
    for k in range(4):
        cv2.rectangle(
            picture,
            (450 + (k % 2) * 70, 90 + (k // 2) * 130),
            (480 + (k % 2) * 70, 120 + (k // 2) * 130),
            (60, 40, 90),
            -1,
        )
    return picture


@pytest.mark.parametrize(("at", "number"), [((90 / 600, 100 / 400), 6), ((465 / 600, 105 / 400), 4)])
def test_a_tap_says_which_kind(at: tuple[float, float], number: int) -> None:
    found = answer.more_like(photo_of(two_kinds()), at)[0]
    assert len(found) == number
    apart = np.hypot(*(found.centers - np.array([at[1] * 400, at[0] * 600])).T)
    assert apart.min() < 1  # the tapped place itself is on one


def test_only_the_area_is_looked_at() -> None:
    found = answer.more_like(photo_of(two_kinds()), (90 / 600, 100 / 400), area=Area(0, 0, 0.7, 0.45))[0]
    assert len(found) == 3
    assert found.size == SIZE


def test_what_was_shown_is_not_answered_again() -> None:
    """All discs and squares were shown, and the squares: who points at a square then means something else."""
    seen, at = photo_of(two_kinds()), (465 / 600, 105 / 400)
    first = answer.more_like(seen, at)
    assert 1 < len(first) <= ranking.CHOICES
    assert len({len(one) for one in first}) == len(first)
    other = answer.more_like(seen, at, shown=first[:1])
    assert [len(one) for one in other[: len(first) - 1]] == [len(one) for one in first[1:]]
    with_place = [np.hypot(*(one.centers - np.array([at[1] * 400, at[0] * 600])).T).min() for one in other]
    assert max(with_place) < 1


def by_hand(points: list[tuple[float, float]]) -> ThingSet:
    things = tuple(Thing(Box(int(r) - 8, int(c) - 8, int(r) + 8, int(c) + 8), (r, c)) for r, c in points)
    return ThingSet(things, SIZE, "person")


SQUARES = [((465 + (k % 2) * 70) / 600, (105 + (k // 2) * 130) / 400) for k in range(4)]


def test_a_tap_on_bare_ground_still_counts() -> None:
    (found,) = answer.more_like(photo_of(np.full((*SIZE, 3), 128, np.uint8)), (0.3, 0.3))
    assert len(found) == 1
    assert np.allclose(found.centers, [(120, 180)], atol=2)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.integers(20, 380), st.integers(20, 580)), min_size=1, max_size=5, unique=True),
    st.integers(0, 3),
)
def test_what_a_person_changed_is_changed(yes: list[tuple[int, int]], taken_off: int) -> None:
    grid = [(60.0 + 90 * (k // 4), 60.0 + 110 * (k % 4)) for k in range(12)]
    no = np.array(grid[:taken_off], dtype=np.float64).reshape(-1, 2)
    wanted = np.array([y for y in yes if not len(no) or np.hypot(*(no - y).T).min() > 30], dtype=np.float64).reshape(
        -1, 2
    )
    after = ranking.changed(by_hand(grid), wanted, no)
    assert all(np.hypot(*(after.centers - place).T).min() < 17 for place in wanted)
    assert all(len(after) == 0 or np.hypot(*(after.centers - place).T).min() > 7 for place in no)
    assert len(after) <= len(grid) - taken_off + len(wanted)


def test_a_dot_beside_a_long_thing_is_one_more_and_the_neighbour_stays() -> None:
    """Crayons side by side: each is longer than the step to the next one."""
    crayons = ThingSet(
        tuple(Thing(Box(100, c - 8, 200, c + 8), (150.0, float(c))) for c in (100, 125, 175, 200)), SIZE, "person"
    )
    missing = np.array([(150.0, 150.0)])
    assert ranking.claimed(crayons, missing) == {}
    after = ranking.changed(crayons, missing, np.empty((0, 2)))
    assert sorted(after.centers[:, 1]) == [100, 125, 150, 175, 200]
    without = ranking.changed(after, np.empty((0, 2)), missing)
    assert sorted(without.centers[:, 1]) == [100, 125, 175, 200]


def test_a_place_taken_off_where_a_dot_still_lies_was_a_move() -> None:
    """One of two dots on a thing taken off, and one dragged a little: the dots that stay are not taken off too."""
    left = by_hand([(100.0, 100.0), (100.0, 160.0)])
    off = np.array([(104.0, 103.0), (100.0, 220.0)])
    assert ranking.still_wrong(left, off).tolist() == [[100.0, 220.0]]
    assert ranking.still_wrong(by_hand([]), off).tolist() == off.tolist()
    assert len(ranking.changed(left, np.empty((0, 2)), ranking.still_wrong(left, off))) == 2


def test_sessions_of_a_simulated_person_teach_which_set_is_meant() -> None:
    """Discs are shown; the person means the squares. The weights fitted on that name the right set."""
    touches = sessions.session(photo_of(two_kinds()), np.array([(y * 400, x * 600) for x, y in SQUARES]))
    assert 1 <= len(touches) <= len(SQUARES)
    for touch in touches:
        assert len(touch.measured) == len(touch.errors) > 1
        assert min(touch.errors) == 0 <= touch.by_hand
    weights = sessions.fitted(touches)
    score = [sum(weights.get(n, 0.0) * v for n, v in f.items()) for f in touches[0].measured]
    assert touches[0].errors[int(np.argmax(score))] == 0


def test_a_person_drags_what_lies_beside_adds_what_is_missing_and_takes_off_the_rest() -> None:
    truth = np.array([(100.0, 100.0), (100.0, 160.0), (100.0, 220.0)])
    shown, reach = by_hand([(100.0, 100.0), (100.0, 190.0), (300.0, 300.0)]), person.reach_of(truth, SIZE)
    assert (reach, person.errors(shown, truth, reach)) == (30, 1)
    shown = by_hand([(100.0, 100.0), (134.0, 160.0), (300.0, 300.0)])
    assert person.errors(shown, truth, reach) == 2
    moved, place, was = person.touched(shown, truth, reach) or (shown, None, None)
    assert (len(moved), np.allclose(place, truth[1]), np.allclose(was, (134, 160))) == (3, True, True)
    added, place, was = person.touched(moved, truth, reach) or (moved, None, None)
    assert (len(added), np.allclose(place, truth[2]), was is None) == (4, True, True)
    without, place, was = person.touched(added, truth, reach) or (added, None, None)
    assert (len(without), place, np.allclose(was, (300, 300))) == (3, None, True)
    assert person.touched(without, truth, reach) is None


def test_a_dot_anywhere_along_a_long_thing_is_on_it() -> None:
    """Two fingers; a dot on the tip of each is right, one between them is not."""
    truth = np.array([(100.0, 100.0), (100.0, 160.0)])
    lines = [np.array([(40.0, c - 20), (100.0, c), (160.0, c)]) for c in (100.0, 160.0)]
    reach, tips = person.reach_of(truth, SIZE), by_hand([(41.0, 80.0), (42.0, 141.0)])
    assert (person.errors(tips, truth, reach), person.errors(tips, truth, reach, lines)) == (2, 0)
    assert person.errors(by_hand([(100.0, 100.0), (100.0, 195.0)]), truth, reach, lines) == 1
    moved, place, _ = person.touched(by_hand([(100.0, 100.0)]), truth, reach, lines) or (tips, None, None)
    assert np.allclose(place, truth[1])
    assert person.errors(moved, truth, reach, lines) == 0


def test_dots_labelled_on_real_photos_are_whole() -> None:
    """Our own labels of photos (fractions, file names); `tests/bench/taps.py` counts taps with them."""
    dots = json.loads((Path(__file__).parents[1] / "dots_of_photos.json").read_text())
    assert len(dots) >= 100
    for name, points in dots.items():
        assert 2 <= len(points) <= 25, name
        assert all(0 <= v <= 1 for point in points for v in point), name
        assert len({tuple(p) for p in points}) == len(points), name
    lines = json.loads((Path(__file__).parents[1] / "long_things_of_photos.json").read_text())
    for name, each in lines.items():
        assert len(each) == len(dots[name]), name
        for line, dot in zip(each, dots[name], strict=True):
            assert len(line) >= 4, name
            assert len(line) % 2 == 0, name
            assert all(0 <= v <= 1 for v in line), name
            assert np.hypot(*(np.array(line).reshape(-1, 2) - dot).T).min() < 0.4, name


def test_the_mean_of_two_runs_adds_their_scores() -> None:
    assert sessions.mean({"a": 1.0, "b": 2.0}, {"b": 4.0, "c": -1.0}) == {"a": 0.5, "b": 3.0, "c": -0.5}

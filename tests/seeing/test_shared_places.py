"""What the other candidate sets have of a set's things and beside them, and how evenly its things lie."""

from __future__ import annotations

import pytest

from curator.records import Box, Thing, ThingSet
from curator.seeing.judging import features, shared_places
from curator.seeing.judging.shared_places import Places

ROW = [(60.0, 40.0 + 60 * k) for k in range(4)]


def things(places: list[tuple[float, float]], support: float = 0.5, found_by: str = "test", half: int = 15) -> ThingSet:
    boxes = (Box(int(r) - half, int(c) - half, int(r) + half, int(c) + half) for r, c in places)
    found = tuple(Thing(box, place) for box, place in zip(boxes, places, strict=True))
    return ThingSet(found, (200, 400), found_by, support=support)


def test_a_thing_that_the_others_have_not_and_one_that_only_they_have() -> None:
    """Four in a row; one set takes a stain for the fourth. Supports .5, .3, .2."""
    four, again = things(ROW), things([(r + 2, c - 2) for r, c in ROW], 0.3, "other")
    stain = things([*ROW[:3], (150.0, 330.0)], 0.2, "third")
    right, same, wrong = shared_places.of([four, again, stain])
    assert right == pytest.approx(Places(0.9, 0.6, 0.4, 0.1))
    assert same == pytest.approx(Places((3 + 5 / 7) / 4, 5 / 7, 2 / 7, 1 / 14))
    assert wrong == pytest.approx(Places(0.75, 0.0, 1.0, 0.25))


def test_parts_and_wholes_are_no_places_of_one_size() -> None:
    wholes, parts = things(ROW[:2], half=30), things([(r, c + d) for r, c in ROW[:2] for d in (-6, 6)], half=5)
    assert shared_places.of([wholes, parts]) == [Places(), Places()]


def test_one_set_has_no_others_and_no_sets_say_nothing() -> None:
    assert shared_places.of([things(ROW)]) == [Places()]
    assert shared_places.of([]) == []


@pytest.mark.parametrize(
    ("places", "least", "most", "even"),
    [
        (ROW, 1.0, 1.0, 1.0),
        ([*ROW, (64.0, 48.0)], 8.94 / 52.2, 52.2 / 60, None),  # one is counted twice
        ([*ROW[:3], (60.0, 340.0)], 1.0, 60 / 180, None),  # one lies far off
        (ROW[:2], 0.0, 0.0, 0.0),
    ],
)
def test_steps_tell_what_is_counted_twice_and_what_lies_far_off(
    places: list[tuple[float, float]], least: float, most: float, even: float | None
) -> None:
    found = features.measured([things(places)])[0].features
    assert found["step_least"] == pytest.approx(least, abs=0.02)
    assert found["step_most"] == pytest.approx(most, abs=0.02)
    assert found["step_even"] == pytest.approx(even) if even is not None else found["step_even"] < 0.6

"""What was kept of a thing speaks for how the next photos of it are counted, and never makes an answer surer."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from curator.records import Dot, Look, Photo, Reading, ThingSet
from curator.seeing import look, photo
from curator.seeing.finders import find_all
from curator.seeing.judging import feature_table, models, taught
from curator.seeing.judging.features import Measured, measured
from curator.seeing.judging.taught import Example

SAMPLES = Path(__file__).parents[2] / "sample_images"
SURE = ("oranges-nine-and-nine", "eggs-dozen", "leaf-eight")


@cache
def seen(name: str) -> tuple[Photo, Look]:
    loaded = photo.load(SAMPLES / f"{name}.jpg")
    return loaded, look.look_at(loaded)


@cache
def sets_of(name: str) -> tuple[Measured, ...]:
    return tuple(measured(find_all(look.viewed(seen(name)[0], None)[0])))


def dots(reading: Reading, off: float = 0.0) -> list[Dot]:
    """The reading's things as a prompt has them, `off` widths beside their middles."""
    height, width = reading.things.size
    return [
        Dot((col + off * box.width) / width, row / height, 0, box.width / width, box.height / height)
        for (row, col), box in ((t.center, t.box) for t in reading.things.things)
    ]


def counted(name: str, n: int) -> Reading:
    return next(r for r in seen(name)[1].readings if len(r.things) == n)


def told(found: Look) -> list[tuple[str, int, str, float]]:
    return [(str(r.fact), len(r.things), r.grade, r.confidence) for r in found.readings]


def test_dice_kept_as_two_are_two_on_the_next_photo_and_asked() -> None:
    example = look.example_of(seen("dice-fives")[0], dots(counted("dice-fives", 2), off=0.2))
    assert example is not None
    other, before = seen("dice-sixes")
    assert len(before.best.things) == 12
    best = look.look_at(other, taught=(example,)).best
    assert (str(best.fact), best.grade) == ("1+1=2", "check")
    assert (best.reasons[0].name, best.reasons[0].caps) == ("taught", True)
    assert "without them 12 would be counted" in best.reasons[0].note


def test_what_was_seen_alike_changes_nothing() -> None:
    example = look.example_of(seen("dice-fives")[0], dots(counted("dice-fives", 10)))
    assert example is not None
    other, before = seen("dice-sixes")
    assert told(look.look_at(other, taught=(example,))) == told(before)
    assert told(look.look_at(other, taught=())) == told(before)


def test_nothing_that_is_taught_makes_an_answer_surer() -> None:
    """Whatever was kept, an answer is sure only where it is sure without that, and then it is the same."""
    asked, stayed = 0, 0
    for name in SURE:
        loaded, before = seen(name)
        sets = sets_of(name)
        likeliest = sorted(sets, key=lambda one: -models.weighted(one.features, models.COUNT))
        others = [one.things for one in likeliest if len(one.things) != len(before.best.things)][
            :2
        ]  # all of them wrong
        for things in (before.best.things, *others):
            example = taught.example(sets, things)
            after = look.look_at(loaded, taught=(example,) * 10 if example else ())
            if after.best.grade == "sure":
                assert told(after) == told(before)
                stayed += 1
            elif before.best.grade == "sure":
                assert all(reading.grade != "sure" for reading in after.readings)
                asked += 1
    assert asked
    assert stayed


def test_examples_move_a_set_by_so_much_at_most_and_its_number_is_none() -> None:
    sets = sets_of("dice-fives")
    example = taught.example(sets, counted_set(sets, 2))
    assert example is not None
    first = next(i for i, one in enumerate(sets) if len(one.things) == 10)
    leans = taught.leans(sets, (example,) * 50, first)
    assert leans[first] == 0
    assert np.abs(leans).max() == pytest.approx(taught.MOST)
    number = [row.name for row in feature_table.OF_A_SET if row.group == "number"]
    assert not set(number) & set(taught.SPREAD)
    changed = [one._replace(features={**one.features, **dict.fromkeys(number, 0.7)}) for one in sets]
    assert taught.leans(changed, (example,) * 50, first) == pytest.approx(leans)


def counted_set(sets: tuple[Measured, ...], n: int) -> ThingSet:
    return next(one.things for one in sets if len(one.things) == n)


def test_each_measure_that_takes_part_is_measured() -> None:
    assert set(taught.SPREAD) <= set(taught.NAMES)
    assert min(taught.SPREAD.values()) > 0


def test_an_example_holds_the_likeliest_sets_and_the_right_ones() -> None:
    sets = sets_of("dice-fives")
    kept = sets[-1].things
    example = taught.example(sets, kept)
    assert isinstance(example, Example)
    assert example.right.any()
    assert taught.SETS <= len(example.right) <= taught.SETS + int(example.right.sum())


def test_dots_that_no_set_holds_teach_nothing() -> None:
    places = [Dot(0.02 + 0.03 * k, 0.02, 0, 0.01, 0.01) for k in range(7)]
    assert look.example_of(seen("dice-fives")[0], places) is None

"""Further looks at a photo whose number is in doubt, and what all looks believe together."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from curator.records import ThingSet
from curator.seeing import further_looks, look, photo
from curator.seeing.judging import pooled, readings
from curator.seeing.judging.models import NOTHING
from curator.seeing.net import hands
from curator.seeing.view import view_of
from tests.seeing.test_network import discs

JUDGE = pooled.Judge({"heat": 1.0, NOTHING: 0.0}, {})


def looked(**heats: float) -> pooled.Weighed:
    """A look whose sets of so many things, `n4=2.0`, are that hot."""
    return [{"heat": heat} for heat in heats.values()], [int(name[1:].split("_")[0]) for name in heats]


def never() -> list[pooled.Weighed]:
    raise AssertionError("it was looked at again")


def test_a_number_that_is_well_believed_is_not_looked_at_again() -> None:
    (belief,) = pooled.believed(looked(n6=9.0), never, judge=JUDGE)
    assert belief.number > pooled.DOUBT
    assert belief.alone == belief.number


def test_nothing_that_is_well_believed_is_not_looked_at_again() -> None:
    (belief,) = pooled.believed(looked(n6=-9.0), never, judge=JUDGE)
    assert belief.number < 1 - pooled.DOUBT


def test_two_looks_overrule_the_first() -> None:
    first, other = looked(n4=0.8, n5=0.7), looked(n4=0.0, n5=4.0)
    four, five = pooled.believed(first, lambda: [other, other], judge=JUDGE)
    assert four.own < five.own
    assert five.rival == 4
    assert five.alone < four.alone  # the first look took four to be likelier
    assert 0 < 1 - four.own - five.own < 0.2  # what is left is that nothing is there


@pytest.mark.parametrize(("heat", "wanted"), [(4.0, ["mirrored"]), (0.5, ["mirrored", "passed on"])])
def test_a_further_look_that_settles_it_is_the_last(heat: float, wanted: list[str]) -> None:
    taken: list[str] = []

    def further() -> Iterator[pooled.Weighed]:
        for name in ("mirrored", "passed on"):
            taken.append(name)
            yield looked(n4=0.0, n5=heat)

    pooled.believed(looked(n4=0.8, n5=0.7), further, judge=JUDGE)
    assert taken == wanted


def test_sets_of_one_number_keep_their_shares_and_a_number_of_other_looks_alone_brings_none() -> None:
    first, other = looked(n4=0.0, n4_too=-1.0, n9=0.5), looked(n4=1.0, n12=5.0)
    clear, faint, _ = pooled.believed(first, lambda: [other], judge=JUDGE)
    assert clear.own / faint.own == pytest.approx(np.e)
    assert clear.number == faint.number == pytest.approx(clear.own + faint.own)


def test_a_look_without_sets_believes_that_nothing_is_there() -> None:
    first = looked(n2=0.1, n3=0.0)
    alone, _ = pooled.believed(first, lambda: [first], judge=JUDGE)
    doubted, _ = pooled.believed(first, lambda: [([], [])], judge=JUDGE)
    assert doubted.own < alone.own


def test_the_pictures_looked_at_are_mirrored_and_passed_on() -> None:
    pixels = discs(6)
    assert np.array_equal(further_looks.mirrored(pixels)[:, 0], pixels[:, -1])
    small = further_looks.passed_on(pixels)
    assert small.shape == (361, 481, 3)
    assert np.array_equal(small, further_looks.passed_on(pixels))  # the same answer twice


def test_every_further_look_finds_the_discs() -> None:
    for found in further_looks.further(view_of(discs(6))):
        assert any(len(things) == 6 for things in found)


def test_hands_of_the_further_looks_are_where_a_search_anew_finds_them() -> None:
    """The rendered gloves of sample_images; a search anew may miss one."""
    view, _ = look.viewed(photo.load(Path("sample_images/hands-five-and-five.jpg")), None)
    assert len(view.hands) == 2
    mirrored = [further_looks._moved(hand, (1, -1), (0, view.size[1] - 1)) for hand in view.hands]
    smaller = [further_looks._moved(hand, (0.94, 0.94)) for hand in view.hands]
    for picture, known in (
        (further_looks.mirrored(view.pixels), mirrored),
        (further_looks.passed_on(view.pixels), smaller),
    ):
        anew = hands.hands(picture)
        assert anew
        for one in anew:
            apart = [np.median(np.linalg.norm(one.joints - other.joints, axis=1)) for other in known]
            assert min(apart) < 5


def test_a_doubtful_photo_is_looked_at_again(monkeypatch: pytest.MonkeyPatch) -> None:
    pixels, asked = discs(6), []

    def further() -> list[list[ThingSet]]:
        asked.append(1)
        return []

    candidates = list(view_candidates(pixels))
    monkeypatch.setattr(pooled, "DOUBT", 1.1)
    readings.readings(pixels, candidates, further=further)
    assert asked
    asked.clear()
    monkeypatch.setattr(pooled, "DOUBT", 0.0)
    readings.readings(pixels, candidates, further=further)
    assert not asked


def view_candidates(pixels: np.ndarray) -> list[ThingSet]:
    from curator.seeing.finders import find_all

    return find_all(view_of(pixels))

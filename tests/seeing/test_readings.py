"""Which readings of a photo are offered, and in which order; what is seen at any size of the picture."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from drawn import crab, insect, spider

from curator.records import Box, Fact, Reading, Thing, ThingSet
from curator.seeing import halves, look
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.finders import find_all, learned
from curator.seeing.judging import features, larger_sets, models, readings
from curator.seeing.net import merge_scales, outlines, runtime
from curator.seeing.view import view_of

SIZE = (340, 340)
SAMPLES = Path(__file__).parents[2] / "sample_images"


def things(places: list[tuple[int, int]]) -> ThingSet:
    return ThingSet(
        tuple(Thing(Box(r - 10, c - 10, r + 10, c + 10), (float(r), float(c))) for r, c in places), SIZE, "test"
    )


def reading(n: int, fact: int | None, likely: float = 0.5) -> Reading:
    return (
        Reading(dots(n), None, None, "no", likely, ())
        if fact is None
        else Reading(dots(n), halves.fit(dots(n), most=1)[0], Fact(fact), "check", 0.5, ())
    )


PLACES = [(40 + 60 * (i % 2), 20 + 25 * (i // 2)) for i in range(24)]


def dots(n: int) -> ThingSet:
    return things(PLACES[:n])


def test_the_next_readings_are_other_doubles() -> None:
    """A teacher who is shown nine things wants eight or ten next, not another way to see nine."""
    first, again, eight, other = reading(9, None), reading(9, None), reading(8, 4), reading(8, 4)
    eleven, ten, twelve = reading(11, None), reading(10, 5), reading(12, 6)
    found = [first, again, eleven, eight, other, ten, twelve]
    assert readings.ordered(found) == (first, eight, ten, again, eleven, other, twelve)


def test_other_halves_of_the_first_reading_come_last() -> None:
    first = reading(8, 4)
    halved = replace(first, confidence=0.1)
    found = [first, halved, reading(10, 5), reading(9, None)]
    assert readings.ordered(found) == (first, found[2], found[3], halved)


def alike_in_belief(own: list[float]) -> list[models.Belief]:
    return [models.Belief(one, one, 0.0) for one in own]


def test_the_likeliest_doubles_are_read_however_many_other_sets_are_likelier() -> None:
    sets = measured(9, *[11] * 9, 8, 10, 12)
    assert readings.listed(list(range(13)), sets, alike_in_belief([0.05] * 13))[:4] == [0, 10, 11, 1]
    many = readings.listed(list(range(20)), measured(*range(3, 23)), alike_in_belief([0.05] * 20))
    assert len(many) == readings.MOST_READINGS


def test_after_the_third_come_the_most_believed_whatever_their_number_and_none_hardly_believed() -> None:
    elsewhere = [features.Measured(things(PLACES[k : k + 8]), (), {}) for k in (1, 2, 3)]
    sets = [*measured(9, 10, 8, 7, 11), *elsewhere]
    own = alike_in_belief([0.4, 0.002, 0.002, 0.002, 0.03, 0.02, 0.002, 0.2])
    assert readings.listed(list(range(8)), sets, own) == [0, 1, 2, 7, 4, 5]


def test_the_same_things_are_read_once_and_one_other_thing_makes_another_set() -> None:
    again = [(r + 3, c - 2) for r, c in PLACES[:8]]  # a little aside: the same eight
    other = [*PLACES[:7], (300, 300)]
    sets = [features.Measured(things(places), (), {}) for places in (PLACES[:8], again, other, PLACES[:9])]
    own = alike_in_belief([0.25] * 4)
    assert readings.listed([0, 1, 2, 3], sets, own) == [0, 2, 3]
    assert readings.listed([1, 0, 2, 3], sets, own) == [1, 2, 3]


def measured(*numbers: int) -> list[features.Measured]:
    return [features.Measured(dots(n), tuple(halves.fit(dots(n), most=1)), {}) for n in numbers]


def peaks(*found: tuple[float, float, float, float]) -> runtime.Peaks:
    """Peaks at row, col, of a size and a score, all alike."""
    values = np.array(found, dtype=np.float64).reshape(-1, 4)
    embed = np.tile(np.eye(16)[0], (len(values), 1))
    return runtime.Peaks(values[:, :2], np.repeat(values[:, 2:3], 2, axis=1), values[:, 3], embed)


NEAR = [(300.0, 50.0, 60.0, 0.9), (300.0, 250.0, 60.0, 0.8)]
FAR = [(60.0, 120.0, 40.0, 0.7), (60.0, 180.0, 40.0, 0.6)]


@pytest.fixture
def sights(monkeypatch: pytest.MonkeyPatch) -> list[runtime.Sight]:
    """Near things are clear in the small picture, far ones in the large one; one near thing is seen, a little aside,
    in both.
    """
    seen = [peaks(*NEAR), peaks((302.0, 52.0, 55.0, 0.4), *FAR)]
    count, scale = np.full(27, 1 / 27), np.full(12, 1 / 12)
    dense = np.zeros((outlines.FIRST + 2 * outlines.SHAPES + 6, 96, 128), np.float32)
    dense[[runtime.CHANNELS["height"], runtime.CHANNELS["width"]]] = math.log(50 / 32)
    dense[outlines.FIRST + 2 * outlines.SHAPES :] = np.reshape([4.0, 0, 0, -4, -4, 0], (6, 1, 1))  # an ellipse
    looks = [runtime.Sight(dense, scale, count, 1.0, longer) for longer in (256, 512)]
    monkeypatch.setattr(runtime, "peaks", lambda sight, *_, **__: seen[looks.index(sight)])
    return looks


def test_one_thing_seen_at_two_sizes_is_one_place(sights: list[runtime.Sight]) -> None:
    found = merge_scales.joined(sights)
    assert found.peaks.centers.tolist() == [[300, 50], [300, 250], [60, 120], [60, 180]]
    assert found.heat.tolist() == [[0.9, 0.4], [0.8, 0.0], [0.0, 0.7], [0.0, 0.6]]
    assert found.peaks.scores == pytest.approx([0.65, 0.4, 0.35, 0.3])
    assert found.wide == pytest.approx([60, 60, 40, 40])


def test_near_and_far_things_come_together_in_a_set_of_its_own(sights: list[runtime.Sight]) -> None:
    first = next(iter(learned._at_any_size(sights, SIZE)))
    assert len(first) == 4
    assert first.clues.net is not None
    assert first.clues.net.joined == 1
    assert first.clues.net.sizes == pytest.approx(0.25)  # one of four is seen at both sizes
    assert not any(s.clues.net is not None and s.clues.net.joined for s in learned.main_sets(sights[0], SIZE))


def test_nothing_seen_gives_no_set(monkeypatch: pytest.MonkeyPatch, sights: list[runtime.Sight]) -> None:
    monkeypatch.setattr(runtime, "peaks", lambda *_, **__: peaks())
    assert list(learned._at_any_size(sights, SIZE)) == []


@pytest.mark.parametrize(
    ("picture", "half", "aside"), [(insect(True), 3, 2), (insect(False), 3, 0), (spider(), 4, 2), (crab(), 5, 0)]
)
def test_limbs_make_the_fact_that_the_trade_knows(picture: np.ndarray, half: int, aside: int) -> None:
    """An insect 3+3, a spider 4+4, a crab 5+5 with its claws; feelers are not counted (common practice), and are shown
    as left out.
    """
    best, *others = readings.readings(picture, find_all(view_of(picture)))
    assert best.fact == Fact(half)
    assert best.grade in ("sure", "check")
    assert len(best.things.aside) == aside
    assert not [r for r in others if r.grade == "sure" and r.fact != best.fact]


def test_what_one_finder_leaves_out_is_left_out_of_the_same_things_of_another() -> None:
    feelers = things([(300, 20), (300, 60)]).things
    same = [(r + 1, c) for r, c in PLACES[:6]]
    legs = ThingSet(things(same).things, SIZE, "limbs", aside=feelers)
    every = [features.Measured(one, (), {}) for one in (dots(6), legs, dots(8))]
    assert readings.with_aside(dots(6), every).aside == feelers
    assert readings.with_aside(dots(8), every).aside == ()
    assert readings.with_aside(legs, every) is legs
    counted = ThingSet((*legs.things[:5], feelers[0]), SIZE, "learned")  # one of the feelers is counted here
    assert readings.with_aside(counted, every).aside == feelers[1:]


@pytest.mark.parametrize(
    ("n", "belief", "said"),
    [
        (
            11,
            0.9,
            (
                "11 things were counted: 5 and 5, and one left over; one place in their pattern is empty, look "
                "whether one is missing there."
            ),
        ),
        (
            11,
            0.2,
            (
                "These may be 11 things: 5 and 5, and one left over; one place in their pattern is empty, look "
                "whether one is missing there."
            ),
        ),
        (3, 0.9, "3 things were counted: 1 and 1, and one left over."),
    ],
)
def test_an_odd_number_says_where_one_may_be_missing(n: int, belief: float, said: str) -> None:
    grid = [(40 + 60 * r, 40 + 60 * c) for r in range(3) for c in range(4)]
    assert readings.no_double(things([*grid[:5], *grid[6:]][:n]), belief).reasons[0].note == said


def test_an_odd_number_says_where_a_row_goes_on() -> None:
    columns = [(r, c) for r in (80, 200) for c in (50, 130, 210)]
    picture = np.full((*SIZE, 3), 200, np.uint8)
    for r, c in [*columns, (80, 290)]:
        picture[r - 12 : r + 13, c - 12 : c + 13] = 60
        picture[r - 4 : r + 5, c - 12 : c + 13] = 240
    three, said = things(columns[:3]), "; a row seems to go on, look whether one more stands at its end."
    assert readings.no_double(three, 0.9, Picture(picture)).reasons[0].note.endswith(said)
    picture[:, 250:] = 200
    assert readings.no_double(three, 0.9, Picture(picture)).reasons[0].note.endswith("one left over.")


def test_the_number_that_is_nearly_as_likely_is_named() -> None:
    believed = models.beliefs([{"support": 1.0}, {"support": 1.0}, {"support": -9.0}], [8, 9, 10], {"support": 1.0})
    assert [b.rival for b in believed] == [9, 8, 8]


def test_the_likeliest_number_is_read_first_and_by_its_likeliest_set() -> None:
    """Two sets of six are believed more than the one of nine; then each other number, then what repeats one."""
    sets = [one._replace(features={"parts": 0.0}) for one in measured(9, 6, 6, 9, 8)]
    own = [0.4, 0.22, 0.23, 0.01, 0.02]
    believed = models.shared(np.array(own), [len(one.things) for one in sets])
    assert readings.ranked(sets, believed) == [2, 0, 4, 1, 3]


@pytest.mark.parametrize(("own", "said"), [([0.2, 0.2, 0.1], True), ([0.3, 0.15, 0.15], False)])
def test_nothing_is_said_to_repeat_where_no_number_is_believed_more(own: list[float], said: bool) -> None:
    """Half or .4 that nothing does; .4 or .45 for the six of two sets together."""
    assert models.empty(models.shared(np.array(own), [6, 6, 9])) == said


def test_pips_are_read_before_their_dice_and_always_asked() -> None:
    dice = ThingSet(
        tuple(Thing(Box(50, left, 150, left + 100), (100.0, left + 50.0)) for left in (20, 200)), SIZE, "blobs"
    )
    pips = [(r, c + left) for left in (20, 200) for r, c in ((70, 20), (70, 80), (100, 50), (130, 20), (130, 80))]
    small = ThingSet(things(pips).things, SIZE, "marks", support=0.9)
    believed = [models.Belief(0.7, 0.7, 0.4), models.Belief(0.3, 0.3, -0.4)]
    for parts, order in (
        (small, [1, 0]),
        (ThingSet(small.things[:9], SIZE, "marks", support=0.9), [0, 1]),
    ):  # nine make no double
        every = features.measured([dice, parts])
        every.sort(key=lambda m: len(m.things))
        assert readings.ranked(every, believed) == order
    split = halves.fit(small, most=1)[0]
    asked = readings.asked(Reading(small, split, Fact(5), "sure", 0.9, ()), 2)
    assert asked.grade == "check"
    assert asked.reasons[0].note == "These are parts of 2 things, which may be what is meant."


def test_the_other_level_is_believed_as_much_as_its_likeliest_set() -> None:
    """Of shoes their openings and toes, of these the shoes; what lies elsewhere is no other level."""
    shoes = things([(100, 60), (100, 260)])
    halves_of = [(r, c) for c in (60, 260) for r in (80, 120)]
    every = features.measured([shoes, things(halves_of), things([(300, 40), (300, 100), (300, 160)])])
    own = {2: 0.5, 4: 0.1, 3: 0.4}
    believed = [models.Belief(own[len(m.things)], 0.5, 0.1) for m in every]
    found = {len(m.things): readings.other_level(i, every, believed) for i, m in enumerate(every)}
    assert found == {2: pytest.approx(0.2), 4: pytest.approx(5.0), 3: 0}


def test_one_more_at_the_edge_is_believed_as_its_likeliest_set() -> None:
    """What has all of a set's things and one that the edge cuts; not one inside, nor another lot at the edge."""
    six = [(r, c) for r in (100, 180) for c in (100, 200, 300)]
    cut, inside = things([*six, (SIZE[0] - 4, 200)]), things([*six, (260, 200)])
    other = things([*six[:5], (260, 100), (SIZE[0] - 4, 300)])
    every = features.measured([things(six), cut, inside, other])
    own = {id(cut): 0.06, id(inside): 0.2, id(other): 0.14}
    believed = [models.Belief(own.get(id(m.things), 0.6), 0.6, 0.4) for m in every]
    found = [larger_sets.more_at_edge(i, every, believed) for i in range(len(every))]
    assert sorted(found) == [0, 0, 0, pytest.approx(0.1)]
    assert [len(m.things) for m, share in zip(every, found, strict=True) if share] == [6]


def test_every_reading_of_the_pips_is_asked() -> None:
    """However the same twelve pips are halved: it is not tagged without asking, for the dice may be meant."""
    found = look.look(SAMPLES / "dice-sixes.jpg").readings
    pips = [r for r in found if r.fact == Fact(6)]
    assert pips
    assert all(r.grade == "check" and r.reasons[0].name == "wholes" for r in pips)

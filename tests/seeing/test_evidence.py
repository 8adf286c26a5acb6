"""What speaks against a reading: the odd one out, limbs that do not agree, and what turns on a second saving."""

from __future__ import annotations

import dataclasses
from typing import Any

import cv2
import numpy as np
import pytest

from curator.clues import Clues, LeftOut, Tips
from curator.records import Box, Thing, ThingSet
from curator.seeing import halves
from curator.seeing.features import heat_under, missed_peaks, net_agreement, pixel_evidence
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.features.side_by_side import side_by_side
from curator.seeing.finders import find_all
from curator.seeing.judging import feature_table, feature_values, features, models
from curator.seeing.judging import reasons as against
from curator.seeing.net import runtime
from curator.seeing.view import view_of

PLACES = [(60 + 70 * r, 60 + 70 * c) for r in range(2) for c in range(4)]


def things(places: list[tuple[int, int]] = PLACES, found_by: str = "test") -> ThingSet:
    return ThingSet(
        tuple(Thing(Box(r - 20, c - 20, r + 20, c + 20), (float(r), float(c))) for r, c in places), (200, 340), found_by
    )


def discs(colours: list[tuple[int, int, int]]) -> np.ndarray:
    picture = np.full((200, 340, 3), 120, np.uint8)
    for (r, c), colour in zip(PLACES, colours, strict=True):
        cv2.circle(picture, (c, r), 20, colour, -1, cv2.LINE_AA)
    noise = np.random.default_rng(1).normal(0, 3, picture.shape)
    return np.clip(picture + noise, 0, 255).astype(np.uint8)


def test_one_empty_place_stands_out_and_many_colours_do_not() -> None:
    egg, empty = (235, 225, 200), (90, 80, 70)
    assert pixel_evidence.oddest(Picture(discs([egg] * 7 + [empty])), things()) > 4 * against.ODD
    rng = np.random.default_rng(2)
    colourful = [tuple(int(v) for v in rng.integers(0, 256, 3)) for _ in PLACES]
    assert pixel_evidence.oddest(Picture(discs(colourful)), things()) < 4 * against.ODD  # type: ignore[arg-type]
    assert pixel_evidence.oddest(Picture(discs([egg] * 8)), things()) < 4 * against.ODD
    assert pixel_evidence.oddest(Picture(discs([egg] * 8)), things(PLACES[:2])) == 0


def long_things(*cols: int) -> ThingSet:
    """Upright things, 100 high and 12 wide, side by side."""
    return ThingSet(tuple(Thing(Box(40, c - 6, 140, c + 6), (90.0, float(c))) for c in cols), (200, 340), "test")


@pytest.mark.parametrize(("column", "runs_through"), [(150, False), (132, True)])
def test_a_line_between_long_things_runs_through_none_of_them(column: int, runs_through: bool) -> None:
    crayons = long_things(100, 130, 170, 200)
    split = halves.along_line(crayons, np.array([(20.0, column), (180.0, column)]))
    assert split is not None
    assert (pixel_evidence.line_clears(crayons, split) < against.THROUGH) == runs_through
    lying = ThingSet(tuple(Thing(Box(r - 6, 40, r + 6, 140), (float(r), 90.0)) for r in (60, 120)), (200, 200), "test")
    between = halves.along_line(lying, np.array([(90.0, 20.0), (90.0, 180.0)]))
    assert between is not None
    assert pixel_evidence.line_clears(lying, between) == 1


SOUND = {
    "witness": 1.0,
    "agree": 1.0,
    "row": 0.0,
    "hand_clear": 0.0,
    "oddest": 0.2,
    "kin": 1.0,
    "clears": 1.0,
    "cut": 0.0,
    "beyond": 0.0,
    "gap": 0.0,
    "parts": 0.0,
    "parts_many": 0.0,
    "holds": 0.0,
    "holds_few": 0.0,
    "holds_heat": 0.0,
    "alike": 1.0,
    "weak": 0.0,
    "next": 0.0,
    "second": 0.0,
    "partners": 0.9,
    "mirror": 0.8,
    "seen_main": 0.9,
    "seen_whole": 0.0,
    "seen_part": 0.0,
    "seen_below": 0.0,
    "seen_tips": 0.0,
    "net_joined": 0.0,
    "within": 0.0,
    "kind_between": 0.9,
    "kind_least": 1.0,
    "kinds_apart": 0.0,
}


def reasons(places: list[tuple[int, int]] = PLACES, *, kind: str = "flip", **more: float) -> set[str]:
    """What is told against a reading of eight things, in two rows or elsewhere, which is otherwise beyond doubt."""
    split = next(h for h in halves.fit(things(places), most=20) if h.kind == kind)
    f = {**SOUND, "seen_same": 0.0, "seen_bodies": 0.0, **more}
    beside = against.Beside(more.get("other_level", 1.0), more.get("more_at_edge", 0.0))
    doubted = against.Doubted(f, models.Belief(1.0, 1.0, 1.0), split, int(more.get("n", 8)), True, beside)
    return {r.name for r in against.reasons_against(doubted)} - {"few"}


@pytest.mark.parametrize(
    ("clues", "asked"),
    [
        ({}, False),  # no tips: no limbs
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 1.0}, False),
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 1.0, "seen_same": 0.0}, True),
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 0.0, "witness": 0.0, "seen_same": 1.0}, True),
        # leaves: another finder and two sizes agree
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 0.0, "seen_same": 2 / 3}, False),
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 0.0, "seen_same": 1 / 3}, True),
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 0.0, "seen_same": 1.0, "n": 4}, True),
        # four raised fingers mirror too
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 1.0, "n": 4}, True),
        # two raised fingers: the ends and the silhouette say two, or only one of them does
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 1.0, "n": 2}, False),
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 0.0, "n": 2}, True),
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 1.0, "n": 2}, True),
        # in two rows on one body
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 1.0, "kind": "slide"}, True),
        # two hands
        ({"seen_tips": 1.0, "seen_tips_same": 1.0, "seen_outline": 1.0, "seen_bodies": 1.0, "kind": "slide"}, False),
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 1.0, "seen_bodies": 1.0, "kind": "slide"}, True),
        ({"seen_tips": 0.2, "seen_tips_same": 0.0, "seen_outline": 0.0}, False),  # tips elsewhere in the picture
        # the joints of two hands say which fingers are up, clearly or not
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 0.0, "hand_clear": 0.9, "n": 4}, False),
        ({"seen_tips": 1.0, "seen_tips_same": 0.3, "seen_outline": 0.0, "hand_clear": 0.3, "n": 4}, True),
    ],
)
def test_limbs_are_tagged_only_where_all_agree(clues: dict[str, Any], asked: bool) -> None:
    assert ("limbs" in reasons(**clues)) is asked


def test_one_unlike_thing_is_asked() -> None:
    assert reasons() == set()
    assert reasons(oddest=against.ODD + 0.1) == {"odd"}


def test_what_the_net_does_not_see_is_asked() -> None:
    assert reasons(seen_main=0.02, seen_whole=0.03, seen_part=0.01) == {"unseen"}
    assert reasons(seen_main=0.02, seen_whole=0.8, seen_part=0.01) == set()


def test_halves_that_neither_looks_nor_places_show_are_asked() -> None:
    assert reasons(partners=0.55, mirror=0.52) == set()  # two rows of four are no chance
    four = things([(60, 60), (70, 150), (120, 90), (150, 170)])
    split = halves.fit(four, most=1)[0]
    for partners, mirror, asked in ((0.55, 0.52, True), (0.55, 0.8, False), (0.8, 0.52, False)):
        found = against.reasons_against(
            against.Doubted(
                {**SOUND, "partners": partners, "mirror": mirror}, models.Belief(1.0, 1.0, 1.0), split, 4, True
            )
        )
        assert ("differ" in {r.name for r in found}) is asked


def test_what_no_single_size_shows_is_asked() -> None:
    assert reasons(net_joined=1.0) == {"sizes"}


def test_one_more_that_the_edge_cuts_is_asked() -> None:
    assert reasons(more_at_edge=against.AT_EDGE) == {"cut"}
    assert reasons(more_at_edge=against.AT_EDGE / 2) == set()


def crossed(columns: list[int], size: tuple[int, int] = (200, 340)) -> np.ndarray:
    """Two rows of dark tiles with a light cross, in these columns; some may reach past the right edge."""
    picture = np.full((*size, 3), 200, np.uint8)
    for r in (60, 130):
        for c in columns:
            cv2.rectangle(picture, (c - 20, r - 20), (c + 20, r + 20), (90, 60, 40), -1)
            cv2.line(picture, (c - 20, r - 20), (c + 20, r + 20), (240, 240, 240), 3)
            cv2.line(picture, (c - 20, r + 20), (c + 20, r - 20), (240, 240, 240), 3)
    return picture


def test_a_row_that_runs_out_of_the_photo_is_asked() -> None:
    counted = things([(r, c) for r in (60, 130) for c in (50, 120, 190, 260)])
    ends, runs_on = crossed([50, 120, 190, 260]), crossed([50, 120, 190, 260, 330])
    assert pixel_evidence.goes_on(Picture(ends), counted)[0] < against.GOES_ON / 2
    assert pixel_evidence.goes_on(Picture(runs_on), counted)[0] > against.GOES_ON
    assert reasons(beyond=pixel_evidence.goes_on(Picture(runs_on), counted)[0]) == {"missing"}
    short = things([(r, c) for r in (60, 130) for c in (50, 120, 190)])  # the fourth column lies in the photo
    assert pixel_evidence.goes_on(Picture(ends), short) == (0, pytest.approx(1, abs=0.1))
    assert pixel_evidence.goes_on(Picture(crossed([50, 120, 190])), short) == (0, 0)
    assert pixel_evidence.goes_on_inside(Picture(ends), short, 0.8)
    assert not pixel_evidence.goes_on_inside(Picture(runs_on), counted, 0)  # the edge cuts that place
    assert reasons(next=against.AGAIN + 0.1) == {"missing"}
    assert reasons(next=against.AGAIN - 0.1) == set()
    two = things([(60, 50), (60, 120)])
    assert pixel_evidence.goes_on(Picture(runs_on), two)[0] == 0  # no row of three
    beside_a_door = things([(r, c) for r in (60, 130) for c in (50, 190, 260)])  # one place in the row is empty
    assert pixel_evidence.goes_on(Picture(crossed([50, 190, 260, 330])), beside_a_door)[0] > against.GOES_ON
    assert pixel_evidence.goes_on(Picture(crossed([50, 190, 260])), beside_a_door)[0] < against.GOES_ON / 2


def test_a_pattern_that_lacks_one_thing_is_asked() -> None:
    """Eight tiles of nine turn into two halves over the empty place; eight in two rows lack nothing, ten of twelve
    lack two.
    """
    nine = [(60 + 50 * r, 60 + 70 * c) for r in range(3) for c in range(3)]
    slanted = [(r + c // 8, c + r // 6) for r, c in nine]
    for places in (nine, slanted):
        for missing in (4, 0, 3):
            assert pixel_evidence.one_gap(things([p for i, p in enumerate(places) if i != missing]))
    twelve = [(40 + 50 * r, 60 + 70 * c) for r in range(3) for c in range(4)]
    for whole in (nine, PLACES, twelve, twelve[1:-1], [(60, 60), (60, 130)]):
        assert not pixel_evidence.one_gap(things(whole))
    assert reasons(gap=1.0) == {"missing"}


def test_a_plain_strip_beside_the_last_thing_is_no_next_thing() -> None:
    """Greys that run the same way correlate; the looks have to be repeated, not the run of the greys."""
    counted = things([(r, c) for r in (60, 130) for c in (50, 120, 190, 260)])
    shaded = crossed([50, 120, 190, 260])
    part = shaded[:, 240:250].astype(np.float32)
    shaded[:, 310:320] = (0.05 * part + 140).astype(np.uint8)  # what correlates with a part of a thing, nearly flat
    assert pixel_evidence.goes_on(Picture(shaded), counted)[0] < against.GOES_ON / 2


def test_two_things_that_the_net_tells_apart_are_asked() -> None:
    assert reasons(kind_between=against.HARDLY_ONE - 0.05, n=2) == {"kinds"}
    assert reasons(kind_between=against.HARDLY_ONE + 0.05, n=2) == set()
    assert reasons(kind_between=against.HARDLY_ONE - 0.05) == set()  # of eight things the groups say more
    two_lots = {"kinds_apart": against.TWO_KINDS + 0.1}
    assert reasons(**two_lots) == set()  # two rows of four light and dark buns are eight buns
    assert reasons(PLACES[:-1] + [(150, 300)], **two_lots) == {"kinds", "chance"}


def test_one_thing_against_many_is_asked_sooner_than_two_groups() -> None:
    """A door among thirteen windows; where two groups part, things of one kind may be red and green."""
    apart = {"kinds_apart": against.ONE_OTHER + 0.05, "kind_between": 0.6}
    assert reasons(**apart, kind_least=0.6) == {"kinds"}
    assert reasons(**apart, kind_least=0.5) == set()  # the odd one is not a group by itself
    assert reasons(**apart, kind_least=0.6, n=4) == set()  # too few to tell


def test_parts_of_likely_wholes_are_asked() -> None:
    """Two openings and two toes of a pair of shoes, pips of two dice; not where nothing is believed of the wholes."""
    assert reasons(within=0.4, other_level=against.OPEN_LEVEL) == {"wholes"}
    assert reasons(within=0.2, other_level=against.OPEN_LEVEL) == set()
    assert reasons(within=0.4, other_level=against.OPEN_LEVEL / 2) == set()


def test_the_least_clear_thing_is_measured_at_the_level_that_sees_it_best() -> None:
    pips = np.array([[0.05, 0.02, 0.05, 0.05], [0.8, 0.7, 0.8, 0.8]])  # two sizes; seen at the second
    four = side_by_side([things(PLACES[:4])])
    assert heat_under.faintest(four, pips.T) == pytest.approx(0.7 / 0.8)
    unseen = np.array([[0.02, 0.0, 0.02, 0.02]])
    assert heat_under.faintest(four, unseen.T) == 1  # nothing is seen, so nothing is said
    assert reasons(seen_below=against.FAINT + 0.1) == {"faint"}
    assert reasons(seen_below=against.FAINT - 0.1) == set()


def test_a_thing_is_faint_where_it_lies_below_the_spread_of_the_others() -> None:
    """Three deviations, as for any outlier; where all are equally clear that is half the usual heat."""
    alike, spread = [0.8, 0.78, 0.82, 0.8], [0.2, 0.25, 0.3, 0.35, 0.45, 0.5, 0.55, 0.7, 0.8, 0.85]
    for heat, faint in (
        ([*alike, 0.39], True),
        ([*alike, 0.41], False),
        ([*spread, 0.17], False),
        ([*spread, 0.01], True),
        (alike, False),
    ):
        as_many = side_by_side([things([(60, 60)] * len(heat))])
        assert (heat_under.below_usual(as_many, np.array([heat]).T) > 3) == faint, heat


def test_things_with_parts_that_can_be_counted_are_asked() -> None:
    """Two dice make 1+1, and their pips 5+5: only a person can say which is meant."""
    dice = ThingSet(
        tuple(Thing(Box(50, left, 150, left + 100), (100.0, left + 50.0)) for left in (20, 200)), (200, 340), "test"
    )
    pips = [(r, c + left) for left in (20, 200) for r, c in ((70, 20), (70, 80), (100, 50), (130, 20), (130, 80))]
    assert feature_values.parts_found(dice, [dice, things(pips)]) == things(pips).support
    assert feature_values.parts_found(dice, [dice, things(pips[:5])]) == 0  # all in one of the two
    assert feature_values.parts_found(dice, [dice, things([*pips, (10, 10)])]) == 0  # one lies elsewhere
    enough, few = feature_values.PARTS + 0.1, feature_values.PARTS - 0.1
    assert reasons(parts=enough, parts_many=enough) == {"parts"}
    assert reasons(parts=enough, parts_many=few) == set()  # two or three in each: a shoe's opening and toe
    assert reasons(parts=enough, parts_many=few, holds_heat=0.6) == {"parts"}  # the net takes them for it
    hardly = against.OPEN_LEVEL / 2  # of the belief in the shoes: that the opening and the toe are counted
    assert reasons(parts=enough, parts_many=few, holds_heat=0.6, other_level=hardly) == set()
    assert reasons(parts=enough, parts_many=enough, other_level=hardly) == {"parts"}  # pips are
    assert reasons(parts=few, parts_many=few) == set()
    assert reasons(parts=few, holds=0.8) == {"parts"}  # about the middle of each, if not inside boxes that are rough
    assert reasons(parts=few, holds=0.8, other_level=hardly) == set()
    assert reasons(parts=few, holds=0.8, holds_few=0.8) == set()


def test_kin_is_the_likeness_of_two_and_the_mean_likeness_of_more() -> None:
    dense = np.zeros((24, 50, 85), np.float32)
    dense[8, :, :40], dense[9, :, 40:] = 1, 1
    sight = runtime.Sight(dense, np.ones(12) / 12, np.ones(27) / 27, 1.0, 340)
    for columns, likeness in (((50, 120), 1), ((50, 260), 0), ((50, 120, 190, 260), 1 / 2**0.5)):
        side = side_by_side([things([(60, col) for col in columns])])
        assert net_agreement._kins(side, [runtime.embedding(sight, side.centers)]) == pytest.approx([likeness])


def test_a_thing_is_cut_where_its_middle_lies_nearer_to_the_edge_than_half_a_width() -> None:
    def at(col: int) -> ThingSet:
        whole = things([(60, 60), (60, 130), (130, 60), (130, 130)]).things
        return ThingSet((*whole, Thing(Box(40, col - 20, 80, 340), (60.0, float(col)))), (200, 340), "test")

    assert pixel_evidence.cut_off(at(320)) == 0  # a rough box that touches the edge, around a whole thing
    assert pixel_evidence.cut_off(at(330)) == pytest.approx(0.2)
    assert pixel_evidence.cut_off(things()) == 0
    few = ThingSet(
        (Thing(Box(0, 40, 40, 80), (20.0, 60.0)), Thing(Box(60, 40, 100, 80), (80.0, 60.0))), (200, 340), "test"
    )
    assert pixel_evidence.cut_off(few) == 0.5  # too few to know how wide they are


def test_tips_are_counted_at_every_size_and_told_of_the_things_they_lie_on(monkeypatch: pytest.MonkeyPatch) -> None:
    at = np.array(PLACES, dtype=np.float64)
    scores = np.array([0.9] * 7 + [0.25])
    tips = [runtime.Peaks(at, np.full((8, 2), 20.0), scores, np.ones((8, 16)))] * 3
    counts = net_agreement._tip_counts(tips)
    found = net_agreement._tips(things(), tips, counts, [things(found_by="limbs")])
    assert dataclasses.astuple(found) == (1.0, 0.5, pytest.approx(0.0625), 1.0, 0.0)
    bodies = dataclasses.replace(things(found_by="limbs"), clues=Clues(two_bodies=True))
    assert net_agreement._tips(things(), tips, counts, [bodies]).bodies == 1
    few = [runtime.Peaks(at[:1], np.full((1, 2), 20.0), scores[:1], np.ones((1, 16)))] * 3
    assert net_agreement._tips(things(), few, net_agreement._tip_counts(few), []) == Tips()


class Seen:
    """A picture's answers at one size, as far as `besides` asks."""

    def __init__(self, places: list[tuple[int, int]], scores: list[float], width: float = 40.0) -> None:
        self.peaks = runtime.Peaks(
            np.array(places, float),
            np.full((len(places), 2), width),
            np.array(scores),
            np.tile([1.0, 0.0], (len(places), 1)),
        )


def left_out(monkeypatch: pytest.MonkeyPatch, counted: ThingSet, *sizes: Seen) -> dict[str, LeftOut]:
    monkeypatch.setattr(runtime, "peaks", lambda sight, level, **_: sight.peaks)
    every, side = missed_peaks.others(list(sizes)), side_by_side([counted])  # type: ignore[arg-type]
    middles = np.array([side.mean(np.tile([0.6, 0.8], (len(counted), 1))) for _ in sizes])
    on = missed_peaks.within_half(every.peaks.centers, side)
    return missed_peaks.clues_of([counted], side, middles, every, on)[0]


def test_what_a_set_leaves_out_is_told_by_its_clearest_peak(monkeypatch: pytest.MonkeyPatch) -> None:
    nine, scores = [*PLACES, (150, 300)], [0.9] * 8 + [0.7]
    clues = left_out(monkeypatch, things(), Seen(nine, scores), Seen(PLACES, [0.9] * 8), Seen(PLACES, [0.9] * 8))
    for level in ("main", "whole", "part"):
        assert clues[level].any.most == clues[level].sized.most == pytest.approx(0.7)
        assert clues[level].like.most == pytest.approx(0.42)  # the product of the embeddings is 0.6
        assert clues[level].any.mid == clues[level].any.least == 0
    whole = left_out(monkeypatch, things(nine), Seen(nine, scores), Seen(nine, scores))
    assert set(whole.values()) == {LeftOut()}


def test_parts_of_the_things_and_what_holds_them_are_not_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    parts = [(r + 14, c + 14) for r, c in PLACES]
    assert set(left_out(monkeypatch, things(), Seen(parts, [0.9] * 8, 8.0)).values()) == {LeftOut()}
    tray = [(95, 165)]
    assert set(left_out(monkeypatch, things(), Seen(tray, [0.9], 300.0)).values()) == {LeftOut()}
    detail = left_out(monkeypatch, things(), Seen([(150, 300)], [0.9], 10.0))
    assert set(detail.values()) == {LeftOut()}
    large = left_out(monkeypatch, things(), Seen([(190, 330)], [0.9], 90.0))
    assert (large["main"].any.most, large["main"].sized.most) == (pytest.approx(0.9), 0.0)


@pytest.mark.parametrize(
    ("n", "number", "asked"), [(2, 0.55, True), (2, 0.65, False), (8, 0.55, False), (8, 0.4, True)]
)
def test_two_have_to_be_likelier_than_many(n: int, number: float, asked: bool) -> None:
    split = next(h for h in halves.fit(things(), most=20) if h.kind == "flip")
    found = against.reasons_against(against.Doubted(SOUND, models.Belief(number, number, 0.3), split, n, True))
    assert ("count" in {r.name for r in found}) == asked
    assert not against.capped(found)  # the confidence minds how likely the number is


def test_halves_of_many_things_are_shown_where_things_that_lie_about_have_none_so_good() -> None:
    def shown(places: list[tuple[int, int]]) -> float:
        return features.measured([things(places)])[0].features["shown"]

    rng = np.random.default_rng(0)
    about = [[(int(r), int(c)) for r, c in rng.uniform((30, 30), (170, 310), (8, 2))] for _ in range(30)]
    assert shown(PLACES) > 0.9
    assert max(map(shown, about)) < 0.7
    assert np.median(list(map(shown, about))) < 0.3
    jittered = [(r + int(a), c + int(b)) for (r, c), (a, b) in zip(PLACES, rng.normal(0, 3, (8, 2)), strict=True)]
    assert shown(jittered) > 0.7
    assert shown(PLACES[:4]) == shown(PLACES[:7]) == 0  # four soon lie so; seven make no halves


def test_every_feature_lies_in_its_declared_range_and_has_one_name() -> None:
    pixels = discs([(230, 220, 200)] * 8)
    picture = Picture(pixels)
    for one in features.measured(find_all(view_of(pixels))):
        for row in feature_table.OF_A_SET:
            assert row.span[0] - 1e-9 <= one.features[row.name] <= row.span[1] + 1e-9, row
        seen = feature_table.looks(picture, one.things)
        assert list(seen) == [row.name for row in feature_table.OF_LOOKS]
        for split in one.fitted:
            shown = feature_values.Shown(picture, one.things, split, models.Belief(0.5, 0.5, 0.0))
            told = feature_table.fact_features(one.features, seen, shown)
            for row in (*feature_table.OF_LOOKS, *feature_table.OF_HALVES):
                assert row.span[0] - 1e-9 <= told[row.name] <= row.span[1] + 1e-9, row
    for table in (feature_table.OF_A_SET, (*feature_table.OF_LOOKS, *feature_table.OF_HALVES)):
        assert len({row.name for row in table}) == len(table)


def test_only_declared_features_have_weights() -> None:
    of_a_set = {row.name for row in feature_table.OF_A_SET}
    of_facts = {row.name for row in feature_table.OF_A_FACT}
    assert set(models.COUNT) <= of_a_set | {models.NOTHING}
    assert set(models.FACT) <= {"bias"} | of_facts


def test_only_what_is_open_caps_the_grade() -> None:
    """Parts, wholes, two kinds, an even row, one more that may be there, halves that chance explains, limbs that do not
    agree, and no trained file; doubts are told.
    """
    never = {rule.name for rule in against.RULES if rule.gravity >= against.CAPS}
    assert never == {"parts", "wholes", "kinds", "row", "missing", "cut", "chance", "limbs", "untrained"}

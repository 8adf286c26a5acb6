"""What the judge is fitted on, its two models, and the gate that `sure` has to pass."""

from __future__ import annotations

import math
from pathlib import Path

import cv2
import numpy as np
import pytest

from curator.learning.fit import calibrate, cases, gate, logits
from curator.records import Box, Thing, ThingSet
from curator.seeing import further_looks, halves
from curator.seeing.evaluation.scoring import Label
from curator.seeing.judging import feature_table, models
from curator.seeing.judging.features import Measured


def answer(
    confidence: float, right: bool, *, passed_on: bool = False, things: int = 8, source: str = "", capped: bool = False
) -> gate.Answer:
    reasons = ("edge",) if capped else ()
    return gate.Answer("", "drawn", source, confidence, right, reasons, things, True, right, True, passed_on)


def drawn(slope: float, more: float, two: float, n: int = 4000) -> list[gate.Answer]:
    """Answers of eight things and of two whose chance of being right is known: logistic in the odds that are given."""
    rng = np.random.default_rng(5)
    made = []
    for things, own in ((8, more), (2, two)):
        odds = rng.uniform(0, 5, n)
        right = rng.random(n) < 1 / (1 + np.exp(-(own + slope * odds)))
        made += [answer(1 / (1 + np.exp(-o)), bool(r), things=things) for o, r in zip(odds, right, strict=True)]
    return made


@pytest.mark.parametrize("edge", [0.03, 0.1])
def test_an_answer_at_its_threshold_is_wrong_as_often_as_is_asked(edge: float) -> None:
    chosen = gate.thresholds(drawn(1.4, 0.3, -0.6), edge)
    wanted = math.log((1 - edge) / edge)
    for threshold, own in ((chosen.more, 0.3), (chosen.two, -0.6)):
        odds = math.log(threshold / (1 - threshold))
        assert odds == pytest.approx((wanted - own) / 1.4, abs=0.15)
    assert chosen.four == pytest.approx(chosen.more)  # of which nothing is known


def test_one_wrong_answer_moves_a_threshold_a_little_and_many_more() -> None:
    every = drawn(1.2, 0.5, 0.5, 300)
    before = gate.thresholds(every).more
    one = gate.thresholds([*every, answer(0.97, False)]).more
    ten = gate.thresholds([*every, *(answer(0.97, False) for _ in range(10))]).more
    assert before < one < ten
    assert one - before < 0.03


def test_nothing_is_sure_where_nothing_is_known_or_confidence_says_nothing() -> None:
    strictest = gate.Thresholds(gate.STRICTEST, gate.STRICTEST, gate.STRICTEST)
    assert gate.thresholds([]) == strictest
    assert gate.thresholds([answer(0.9, False)] * 50 + [answer(0.6, True)] * 50) == strictest


def test_what_a_reason_caps_or_is_no_double_has_no_say_and_a_photo_passed_on_has() -> None:
    every = drawn(1.2, 0.5, 0.5, 100)
    before = gate.thresholds(every)
    assert gate.thresholds([*every, answer(0.95, False, capped=True), *[answer(0.0, True)] * 1000]) == before
    assert gate.thresholds([*every, answer(0.95, False, passed_on=True)]).more > before.more


def test_two_things_have_a_threshold_of_their_own() -> None:
    chosen = gate.thresholds(drawn(1.2, 1.0, -1.0))
    assert chosen.two > chosen.more
    assert chosen.takes(answer(chosen.more, True))
    assert not chosen.takes(answer(chosen.more, True, things=2))
    assert models.surely(2) == models.FACT_SURE_TWO


def test_a_wrong_answer_above_what_other_sources_taught_is_counted() -> None:
    """Thresholds that mind every wrong answer have few above them; those of the other sources show what a new source
    may bring.
    """
    known = [a._replace(source=one) for one in "abc" for a in drawn(1.2, 0.5, 0.5, 100)]
    above = answer(0.99, False, source="d")
    found = gate.elsewhere([*known, above, answer(0.6, False, source="e")])
    assert above in found
    assert {a.source for a in found} == set("abcd")
    assert not any(a.passed_on for a in gate.elsewhere([*known, answer(0.99, True, passed_on=True, source="c")]))


def test_the_bound_is_that_of_clopper_and_pearson() -> None:
    """149 right answers show at most 2 % wrong with probability .95 (1 - .05 ** (1 / 149))."""
    assert gate.bound(0, 149) == pytest.approx(1 - 0.05 ** (1 / 149))
    assert gate.bound(3, 3) == 1


def test_a_choice_learns_which_row_of_a_group_is_right() -> None:
    lot = np.random.default_rng(3)
    rows = lot.normal(size=(1500, 3))
    right = np.zeros(1500)
    for k in range(0, 1500, 5):
        right[k + int(rows[k : k + 5, 1].argmax())] = 1
    choice = logits.Choice(rows, np.full(300, 5), right, np.ones(300), 0.5)
    w = choice.fitted(np.ones(300, bool))
    assert w[1] > 5 * max(abs(w[0]), abs(w[2]))
    half = choice.fitted(np.arange(300) < 150, w)
    found = [k + int((rows[k : k + 5] @ half).argmax()) for k in range(750, 1500, 5)]
    assert right[found].mean() > 0.9


def test_a_logistic_model_learns_its_weights() -> None:
    lot = np.random.default_rng(4)
    rows = lot.normal(size=(4000, 2))
    right = (lot.random(4000) < 1 / (1 + np.exp(-(1 + 2 * rows[:, 0])))).astype(float)
    assert logits.logistic(rows, right, np.ones(4000)) == pytest.approx([1, 2, 0], abs=0.2)


def test_photos_of_one_owner_are_one_source() -> None:
    assert cases.origin("owner/one", "photos-fac") == cases.origin("owner/two", "published-facades") == "owner"
    assert cases.origin("one/COCO_Tiny", "a") == cases.origin("two/coco128", "b") == "coco"
    assert cases.origin("", "rendered") == "rendered"


PLACES = [(60 + 70 * r, 60 + 70 * c) for r in range(2) for c in range(4)]


def discs() -> np.ndarray:
    picture = np.full((200, 340, 3), 120, np.uint8)
    for r, c in PLACES:
        cv2.circle(picture, (c, r), 20, (200, 60, 60), -1, cv2.LINE_AA)
    return np.clip(picture + np.random.default_rng(1).normal(0, 3, picture.shape), 0, 255).astype(np.uint8)


def test_a_photo_passed_on_is_a_little_smaller_and_the_same_picture() -> None:
    picture = cv2.GaussianBlur(discs(), (0, 0), 2)
    again = further_looks.passed_on(picture)
    assert again.shape == (188, 320, 3)
    assert np.abs(cv2.resize(again, (340, 200)).astype(int) - picture).mean() < 3


def test_a_case_keeps_what_was_measured_and_is_read_from_the_cache(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cases, "working", lambda folder, label: discs())
    label = Label("a.png", 8, 4, "flip", frozenset({4}), True, "easy", "drawn", None)
    case = cases._one((tmp_path / "drawn", label, True), tmp_path)
    assert case.passed_on
    assert case.double
    assert case.hits.tolist() == [len(found.things) == 8 for found in case.seen.sets]
    assert case.named == [len(found.things) in (8, 9) for found in case.seen.sets]
    assert case.hits.any()
    monkeypatch.setattr(cases, "working", None)  # nothing is looked at again
    again = cases.kept(tmp_path, "drawn-a.png-again", lambda: pytest.fail("measured again"))
    assert [m.features for m in again.sets] == [m.features for m in case.seen.sets]


def things(places: list[tuple[int, int]]) -> ThingSet:
    return ThingSet(
        tuple(Thing(Box(r - 20, c - 20, r + 20, c + 20), (float(r), float(c))) for r, c in places), (200, 340), "test"
    )


def case_of(total: int | None, clear: float, source: str) -> cases.Case:
    """Two candidate sets, of eight and of six things; the eight are clear in themselves."""
    sets, facts = [], {}
    for k, (n, support) in enumerate(((8, clear), (6, 0.3))):
        one = things(PLACES[:n])
        every = {row.name: 0.0 for row in (*feature_table.OF_A_SET, *feature_table.OF_LOOKS, *feature_table.OF_HALVES)}
        facts[k] = {**every, "witness": 1.0, "clears": 1.0, "partners": 1.0, "alike": 1.0, "seen_main": 0.9}
        sets.append(Measured(one, tuple(halves.fit(one, most=1)), {**every, "support": support}))
    numbers = [8, 6]
    named: list[bool | None] = [n == total for n in numbers]
    half = total // 2 if total else None
    hits = np.array([n == total for n in numbers])
    return cases.Case("", "drawn", source, cases.Seen(sets, facts), hits, named, named, half, total)


def test_judged_out_of_fold_and_bare_photos_are_told_apart() -> None:
    every = [case_of(8, 0.9, f"{k % 3}") for k in range(90)] + [case_of(None, 0.1, f"{k % 3}") for k in range(90)]
    found = calibrate.out_of_fold(every)
    assert [a.total for a in found if a.total is not None] == [True] * 90
    assert [a.first for a in found if a.double] == [True] * 90
    assert {a.things for a in found if not a.double} == {0}  # nothing is there

"""What the judge is fitted on, its two models, and the gate that `sure` has to pass."""

from __future__ import annotations

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


def beyond(confidence: float, margin: float = gate.MARGIN) -> float:
    """The threshold that answers down to this confidence set."""
    return confidence + margin * (1 - confidence)


def test_the_threshold_is_the_loosest_that_errs_so_seldom() -> None:
    found = [answer(0.5 + 0.004 * k, k != 20) for k in range(100)]  # one wrong answer, 79 above it
    assert gate.threshold_at(found, 0.02) == pytest.approx(beyond(0.5))  # one of a hundred
    assert gate.threshold_at(found, 0.0) == pytest.approx(beyond(0.5 + 0.004 * 20))
    assert gate.threshold_at([answer(0.9, False)], 0.02) == gate.STRICTEST
    assert gate.threshold_at([], 0.02) == gate.STRICTEST


def test_answers_without_a_double_do_not_thin_the_wrong_ones_out() -> None:
    doubles = [*(answer(0.9, True) for _ in range(20)), answer(0.6, False)]
    none = [answer(0.0, True) for _ in range(1000)]
    assert gate.threshold_at([*doubles, *none], 0.01) == gate.threshold_at(doubles, 0.01) == pytest.approx(beyond(0.6))


def test_what_a_reason_caps_has_no_say_and_a_photo_passed_on_has() -> None:
    found = [answer(0.9, True) for _ in range(10)]
    assert gate.threshold_at([*found, answer(0.95, False, capped=True)], 0.0) == pytest.approx(beyond(0.9))
    assert gate.threshold_at([*found, answer(0.95, False, passed_on=True)], 0.0) == gate.STRICTEST


def test_two_things_have_a_threshold_of_their_own() -> None:
    every = [answer(0.9, True), answer(0.8, False), answer(0.99, True, things=2), answer(0.96, False, things=2)]
    chosen = gate.thresholds(every, 0.0)
    assert chosen == (pytest.approx(beyond(0.8)), pytest.approx(beyond(0.96, gate.MARGIN_TWO)), gate.STRICTEST)
    assert not chosen.takes(answer(0.9, True, things=2))
    assert chosen.takes(answer(0.9, True))
    assert models.surely(2) == models.FACT_SURE_TWO


def test_a_wrong_answer_above_what_other_sources_taught_is_counted() -> None:
    """Thresholds that mind every wrong answer have few above them; those of the other sources show what a new source
    may bring.
    """
    every = [answer(0.9, True, source=one) for one in "abc"] + [
        answer(0.85, False, source="a"),
        answer(0.6, False, source="b"),
    ]
    found = gate.elsewhere(every, 0.0)
    assert [(a.source, a.right) for a in found] == [("a", True), ("a", False), ("b", True), ("c", True)]
    assert not any(a.passed_on for a in gate.elsewhere([*every, answer(0.95, True, passed_on=True, source="c")], 0.0))


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

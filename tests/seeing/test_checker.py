"""The net that looks at answers: its hash, its marks, and what it must say of sets that are right and wrong."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path

import numpy as np
import pytest
import yaml

from curator.records import Box, Thing, ThingSet
from curator.seeing import look, photo
from curator.seeing.judging import checked, models, pooled
from curator.seeing.net import checker

SAMPLES = Path("sample_images")


def set_of(centers: list[tuple[float, float]], size: tuple[int, int], reach: int = 20) -> ThingSet:
    boxes = [Box(round(r) - reach, round(c) - reach, round(r) + reach, round(c) + reach) for r, c in centers]
    return ThingSet(tuple(Thing(b, c) for b, c in zip(boxes, centers, strict=True)), size, "drawn")


def test_the_file_is_the_one_of_the_card_and_small_enough() -> None:
    stored = (checker.MODEL.parent / "checker.onnx.sha256").read_text().split()[0]
    assert hashlib.sha256(checker.MODEL.read_bytes()).hexdigest() == stored
    assert checker.MODEL.stat().st_size < 10e6


def test_marks_lie_on_the_things_and_are_as_large() -> None:
    things = set_of([(60, 100), (60, 300)], (240, 400), reach=30)
    blots, dots = checker._marked(things, 0.5, (64, 112))
    assert blots.shape == dots.shape == (64, 112)
    assert min(blots[15, 25], blots[15, 75]) > 0.95  # a quarter of the place: half for the input, half for the map
    assert dots[15, 25] > 0.9
    assert max(dots[15, 50], dots[15, 31]) < 0.01
    assert (blots > 0.5).sum() > 4 * (dots > 0.5).sum()


def test_a_set_with_one_too_few_or_too_many_is_told_from_the_right_one() -> None:
    """Rendered sample pictures, which it has not learned, with the true middles; an empty place is taken for a thing.

    Chance would tell a third of them.
    """
    told = asked = 0
    chance = np.random.default_rng(5)
    for one in yaml.safe_load((SAMPLES / "truth.yaml").read_text(encoding="utf-8"))["pictures"]:
        if not 4 <= len(one["dots"]) <= 16 or one["total"] != len(one["dots"]):
            continue
        pixels, _ = look.framed(photo.load(SAMPLES / one["file"]), None)
        size = (pixels.shape[0], pixels.shape[1])
        places = np.array(one["dots"])[:, ::-1] * size
        apart = np.linalg.norm(places[:, None] - places[None], axis=2) + 1e9 * np.eye(len(places))
        reach = max(6, round(0.35 * float(np.median(apart.min(1)))))
        room = chance.uniform(reach, np.array(size) - reach, (200, 2))
        more = room[np.argmax(np.linalg.norm(room[:, None] - places[None], axis=2).min(1))]
        sets = [places, places[1:], np.vstack([places, more])]
        answers = checker.check(pixels, [set_of([tuple(p) for p in some], size, reach) for some in sets])
        told += max(range(3), key=lambda k: answers[k].right) == 0
        asked += 1
    assert asked >= 20
    assert told / asked >= 0.8


BELIEVED = models.shared(np.array([0.5, 0.4, 0.01]), [4, 6, 9])
CHECK = {"log": 1.0, "right": 3.0, "unasked": 0.5}


def test_what_it_sees_moves_what_is_believed_and_only_of_the_likely_sets() -> None:
    answers = {0: checker.Checked(-5.0, 0.0, 0.0), 1: checker.Checked(5.0, 3.0, 3.0)}
    places: list[int] = []

    def ask(asked: list[int]) -> list[checker.Checked]:
        places.extend(asked)
        return [answers[i] for i in asked]

    now = checked.rechecked(BELIEVED, [4, 6, 9], ask, CHECK)
    assert places == [0, 1]  # what is hardly believed is not worth a look
    assert now[1].own > 0.9 > BELIEVED[1].own
    assert now[0].own < 0.1
    assert sum(b.own for b in now) + models.nothing(now) == pytest.approx(1)
    assert [b.checked for b in now] == [-5.0, 5.0, None]
    assert now[2].by_eye == models.UNSEEN
    assert now[1].by_eye == pytest.approx(5 / models.CLEAR)


def test_without_its_file_or_weights_all_stays_as_it_was() -> None:
    assert checked.rechecked(BELIEVED, [4, 6, 9], lambda _: [], CHECK) == BELIEVED
    assert (
        checked.rechecked(BELIEVED, [4, 6, 9], lambda asked: [checker.Checked(9, 9, 9) for _ in asked], {}) == BELIEVED
    )
    assert checked.rechecked([], [], lambda _: [], CHECK) == []


def test_it_is_asked_before_the_further_looks_and_may_spare_them() -> None:
    first = ([{"a": 1.0}, {"a": 0.9}, {"a": 0.8}], [4, 6, 9])
    looks: list[int] = []

    def further() -> list[pooled.Weighed]:
        looks.append(1)
        return []

    judge = pooled.Judge({"a": 1.0}, CHECK)
    sure = lambda asked: [checker.Checked(6.0 if i == 1 else -6.0, 0, 0) for i in asked]  # noqa: E731
    assert pooled.believed(first, further, sure, judge)[1].number > 0.9
    assert not looks
    doubtful = pooled.believed(first, further, lambda asked: [checker.Checked(0, 0, 0)] * len(asked), judge)
    assert looks
    assert max(b.number for b in doubtful) < pooled.DOUBT
    assert dataclasses.asdict(doubtful[0])["checked"] == 0

"""Hands, and the fingers that they hold up: the files, the rule, the sets."""

from __future__ import annotations

import dataclasses
import hashlib
from pathlib import Path

import cv2
import drawn
import numpy as np
import pytest
from numpy.typing import NDArray

from curator.seeing import look, photo
from curator.seeing.finders import hands as finder
from curator.seeing.judging.features import measured
from curator.seeing.net import hands
from curator.seeing.net.hands import FINGERS, Hand
from curator.seeing.view import View, view_of

SAMPLES = Path(__file__).parents[2] / "sample_images"


def sample(name: str) -> NDArray[np.uint8]:
    return look.framed(photo.load(SAMPLES / f"{name}.jpg"), None)[0]


def skeleton(raised: tuple[bool, ...], at: tuple[float, float] = (300, 200), palm: float = 80) -> NDArray[np.float64]:
    """A hand's joints, (21, 2) row, col, the wrist at `at`, fingers up; those that are not raised end at the palm."""
    wrist = np.array(at)
    joints = np.zeros((21, 2))
    joints[0] = wrist
    for k, finger in enumerate(FINGERS):
        turn = np.radians(-60 + 25 * k)
        way = np.array([-np.cos(turn), np.sin(turn)])
        far = (1.0, 1.4, 1.65, 1.85) if raised[k] else (1.0, 1.3, 1.1, 0.9)
        joints[list(finger)] = wrist + palm * np.array(far)[:, None] * way
    return joints


def hand(raised: tuple[bool, ...], clear: float = 1.0, at: tuple[float, float] = (300, 200)) -> Hand:
    return Hand(skeleton(raised, at), raised, (clear, *(1.0,) * 4), 0.99, 0.4)


def seeing(*seen: Hand) -> View:
    return dataclasses.replace(view_of(drawn.ground()), seeking=lambda: seen)


@pytest.mark.parametrize("name", ["palms", "hands"])
def test_the_files_are_those_of_the_card(name: str) -> None:
    file = {"palms": hands.PALMS, "hands": hands.JOINTS}[name]
    stored = file.with_name(f"{name}.onnx.sha256").read_text().split()[0]
    assert hashlib.sha256(file.read_bytes()).hexdigest() == stored
    assert file.stat().st_size < 6e6


@pytest.mark.parametrize("quarters", [0, 1, 2, 3])
def test_two_hands_with_all_fingers_however_they_are_turned(quarters: int) -> None:
    """The rendered gloves of sample_images: 5+5."""
    picture = np.ascontiguousarray(np.rot90(sample("hands-five-and-five"), quarters))
    seen = hands.hands(picture)
    assert [sum(one.raised) for one in seen] == [5, 5]
    inside = np.concatenate([one.joints for one in seen]) / np.array(picture.shape[:2])
    assert inside.min() > 0
    assert inside.max() < 1


def test_a_mirrored_cut_gives_the_same_joints() -> None:
    picture = sample("hands-five-and-five")
    for square in hands._palms(picture)[:2]:
        one, other = hands._look(picture, square), hands._look(picture, square, mirrored=True)
        assert np.median(np.linalg.norm(one.joints - other.joints, axis=1)) < 0.03 * square.side


@pytest.mark.parametrize("name", ["eggs-dozen", "three-mugs", "spoons-in-fours", "bulbs-fourteen", "one-vase"])
def test_where_no_hand_is_none_is_seen(name: str) -> None:
    assert hands.hands(sample(name)) == ()


def test_any_shape_of_picture() -> None:
    for shape in ((8, 8), (512, 20), (20, 512)):
        assert hands.hands(np.full((*shape, 3), 128, np.uint8)) == ()


def test_without_the_files_no_hands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hands, "PALMS", tmp_path / "none.onnx")
    assert hands.hands(sample("hands-five-and-five")) == ()


@pytest.mark.parametrize(
    "raised",
    [(False,) * 5, (False, True, False, False, False), (False, True, True, False, False), (False, *(True,) * 4)],
)
def test_a_finger_is_raised_where_its_tip_is_beyond_its_middle(raised: tuple[bool, ...]) -> None:
    joints = skeleton(raised)[:, ::-1]
    solid = np.column_stack([joints, np.zeros(21)])
    heights = hands._heights(hands._Look(0.99, joints, solid))
    assert [h > 0 for h in heights[1:]] == list(raised[1:])
    assert np.abs(heights[1:]).min() > 0.5


def test_a_thumb_is_raised_where_it_is_straight_and_away() -> None:
    joints = skeleton((True,) * 5)[:, ::-1]
    solid = np.column_stack([joints, np.zeros(21)])
    assert hands._heights(hands._Look(0.99, joints, solid))[0] > 0
    bent = solid.copy()
    bent[4] = bent[2]  # the tip back at its lower joint: bent by half a turn
    assert hands._heights(hands._Look(0.99, joints, bent))[0] < 0


def test_the_squares_turn_with_the_hand() -> None:
    """Upright, the square is not turned; a hand turned by a right angle gives a square turned by one."""
    joints = skeleton((True,) * 5)[:, ::-1]
    upright = hands._about_joints(joints)
    turned = hands._about_joints(np.column_stack([-joints[:, 1], joints[:, 0]]))  # clockwise: x, y to -y, x
    assert abs(np.degrees(turned.turn - upright.turn) % 360 - 90) < 1e-6
    assert turned.side == pytest.approx(upright.side)


def test_palms_that_overlap_are_one() -> None:
    place = np.zeros((3, 9, 2))
    place[:, 0], place[:, 1] = [(50, 50), (54, 50), (90, 90)], 20
    merged = hands._merged(place, np.array([0.6, 0.9, 0.5]))
    assert [tuple(np.round(one[0], 3)) for one in merged] == [(52.4, 50), (90, 90)]


def test_the_sets_are_fingers_those_without_thumbs_and_the_hands() -> None:
    five, four = (True,) * 5, (False, *(True,) * 4)
    found = finder.find(seeing(hand(five), hand(four, at=(300, 360))))
    assert [len(s) for s in found] == [9, 8, 2]
    kinds = [s.clues.hand for s in found]
    assert all(kinds)
    assert [(k.raised, k.thumbless, k.whole) for k in kinds if k] == [(1, 0, 0), (0, 1, 0), (0, 0, 1)]
    tips = np.concatenate([skeleton(five), skeleton(four, (300, 360))])[[4, 8, 12, 16, 20, 29, 33, 37, 41]]
    assert np.linalg.norm(found[0].centers - tips, axis=1).max() < 8
    assert found[0].support > max(found[1].support, found[2].support)


def test_an_unclear_thumb_is_counted_both_ways() -> None:
    found = finder.find(seeing(hand((False, True, True, False, False), clear=0.1)))
    assert [len(s) for s in found] == [2, 3, 1]
    assert found[1].clues.hand is not None
    assert found[1].clues.hand.other == 1


def test_fists_are_hands_without_fingers() -> None:
    assert [len(s) for s in finder.find(seeing(hand((False,) * 5), hand((False,) * 5, at=(300, 360))))] == [2]


@pytest.mark.parametrize(("row", "many"), [(130, 5), (100, 3)])
def test_a_finger_counts_where_its_middle_is_in_the_picture(row: int, many: int) -> None:
    """From 130 down only two tips are beyond the upper edge, from 100 two middle joints are too."""
    found = finder.find(seeing(hand((True,) * 5, at=(row, 200))))
    assert len(found[0]) == many
    assert all(0 <= t.box.top < t.box.bottom <= 384 and t.center[0] >= 0 for s in found for t in s.things)


def test_other_sets_of_as_many_are_told() -> None:
    """What the judge weighs: any set has the number of the raised fingers or not."""
    seen = hand((False, True, True, True, False))
    every = measured([*finder.find(seeing(seen)), *finder.find(seeing(hand((False, *(True,) * 4), at=(300, 300))))[:1]])
    by_number = {len(one.things): one.features for one in every}
    assert by_number[3]["hand_raised"] == by_number[3]["by_hands"] == 1
    assert by_number[3]["hand_number"] == pytest.approx(1.0)
    assert by_number[1]["hand_whole"] == 1
    assert by_number[1]["hand_number"] == 0


def test_the_line_offers_ten_fingers() -> None:
    """The rendered gloves of sample_images: ten fingers, 5+5, are among the first three readings."""
    readings = look.look(SAMPLES / "hands-five-and-five.jpg").readings[:3]
    assert 10 in [len(r.things) for r in readings]


def test_the_same_answer_twice_and_on_one_thread() -> None:
    picture = sample("hands-five-and-five")
    before = cv2.getNumThreads()
    try:
        cv2.setNumThreads(1)
        alone = view_of(picture).hands
    finally:
        cv2.setNumThreads(before)
    beside = view_of(picture).hands
    assert all(np.allclose(a.joints, b.joints, atol=0.1) for a, b in zip(alone, beside, strict=True))

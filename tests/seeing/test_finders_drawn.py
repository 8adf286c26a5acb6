"""The finders on drawn scenes whose answer is known."""

from __future__ import annotations

import cv2
import drawn
import numpy as np
import pytest
from drawn import Pixels

from curator.records import ThingSet
from curator.seeing.finders import FINDERS, blobs, cells, find_all, learned, limbs, marks
from curator.seeing.primitives import lattice
from curator.seeing.view import view_of

SCENES = {
    "discs": drawn.discs(2, 5),
    "pale discs": drawn.discs(3, 3, (250, 248, 240)),
    "touching discs": drawn.discs(2, 6, radius=33, step=66),
    "panes": drawn.panes(2, 3),
    "carton": drawn.carton(12),
    "dice": drawn.dice(5, 5),
    "hand": drawn.hand(),
    "insect": drawn.insect(True),
    "starfish": drawn.starfish(),
    "nothing": drawn.ground(),
}


def numbers(sets: list[ThingSet]) -> list[int]:
    return [len(s) for s in sets]


@pytest.mark.parametrize(("scene", "n"), [("discs", 10), ("pale discs", 9), ("panes", 6), ("carton", 12)])
def test_separate_things(scene: str, n: int) -> None:
    assert numbers(blobs.find(view_of(SCENES[scene])))[0] == n


def test_touching_things_are_the_net_s_to_tell_apart() -> None:
    assert numbers(learned.find(view_of(SCENES["touching discs"])))[0] == 12


def test_coloured_things_of_one_lightness() -> None:
    """Red and green discs on a grey as light as they are: only colour tells them."""
    picture = drawn.discs(2, 3, (150, 84, 84))
    assert numbers(blobs.find(view_of(picture)))[0] == 6


def test_discs_lie_where_they_were_drawn() -> None:
    best = blobs.find(view_of(SCENES["discs"]))[0]
    true = np.array([(156 + 72 * r, 112 + 72 * c) for r in range(2) for c in range(5)], dtype=float)
    apart = np.hypot(*(true[:, None] - best.centers[None]).transpose(2, 0, 1)).min(axis=1)
    assert apart.max() < 4
    assert 40 < float(np.median(best.widths)) < 60


@pytest.mark.parametrize(("scene", "n"), [("panes", 6), ("carton", 12)])
def test_openings_of_a_grid(scene: str, n: int) -> None:
    best = cells.find(view_of(SCENES[scene]))[0]
    assert len(best) == n
    grid = lattice.fit(best.centers)
    assert grid is not None
    assert grid.fill == pytest.approx(1.0)


def test_filled_and_empty_cups_are_told_apart() -> None:
    """Nine of twelve cups filled: the nine and the twelve are both candidates; nothing is only made up."""
    every = numbers(blobs.find(view_of(drawn.carton(9)))) + numbers(cells.find(view_of(drawn.carton(9))))
    assert 9 in every
    assert 12 in every
    assert 3 in every


def test_a_lattice_with_one_missing_is_reported_as_it_is() -> None:
    picture = drawn.discs(3, 4)
    picture[160:226, 330:400] = drawn.ground()[160:226, 330:400]  # the last disc of the middle row
    found = find_all(view_of(picture))
    assert len(max(found, key=lambda s: s.support)) == 11
    assert all(len(s) != 12 or s.support < 0.4 for s in found)


@pytest.mark.parametrize("pips", [(5, 5), (3, 6), (4, 4)])
def test_pips_of_dice(pips: tuple[int, int]) -> None:
    assert numbers(marks.find(view_of(drawn.dice(*pips))))[0] == sum(pips)


def test_dice_and_their_pips_are_both_candidates() -> None:
    every = numbers(find_all(view_of(SCENES["dice"])))
    assert 2 in every
    assert 10 in every


def test_five_fingers_and_no_wrist() -> None:
    """An open hand has five fingers (common practice); what leaves the picture is no finger."""
    assert numbers(limbs.find(view_of(SCENES["hand"])))[0] == 5


def test_insect_has_six_legs_and_its_feelers_are_left_out() -> None:
    """Three legs a side, feelers not counted (common practice)."""
    best = limbs.find(view_of(SCENES["insect"]))[0]
    assert len(best) == 6
    assert len(best.aside) == 2
    assert max(t.center[0] for t in best.aside) < 130  # both at the head
    assert numbers(limbs.find(view_of(drawn.insect(False))))[0] == 6


def test_body_axis_of_the_insect_is_upright() -> None:
    axis = limbs.find(view_of(SCENES["insect"]))[0].axis
    assert axis is not None
    along = axis[1] - axis[0]
    assert abs(along[1]) < 0.2 * abs(along[0])
    assert abs(axis[:, 1].mean() - 256) < 15


def test_arms_of_a_starfish() -> None:
    assert numbers(limbs.find(view_of(SCENES["starfish"])))[0] == 5


def test_arms_of_two_starfish_are_put_together() -> None:
    two = cv2.resize(np.hstack([SCENES["starfish"]] * 2), None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA)
    both = next(s for s in limbs.find(view_of(two)) if len(s) == 10)
    assert both.clues.two_bodies
    assert not limbs.find(view_of(SCENES["starfish"]))[0].clues.two_bodies


def test_an_empty_ground_has_nothing() -> None:
    assert find_all(view_of(SCENES["nothing"])) == []


@pytest.mark.parametrize("scene", sorted(SCENES))
def test_sets_are_well_formed(scene: str) -> None:
    """Best first, few, inside the picture, found by their finder, clues from 0 to 1."""
    picture = SCENES[scene]
    for name in ("blobs", "cells", "marks", "limbs"):
        found = {"blobs": blobs, "cells": cells, "marks": marks, "limbs": limbs}[name].find(view_of(picture))
        assert len(found) <= 7
        assert [s.support for s in found] == sorted((s.support for s in found), reverse=True)
        for s in found:
            assert s.found_by == name
            assert s.size == picture.shape[:2]
            assert len(s) >= 2
            assert all(v is None or 0 <= v <= 1 for v in (s.clues.stable, s.clues.votes)), s.clues
            for t in s.things + s.aside:
                assert 0 <= t.box.top < t.box.bottom <= picture.shape[0]
                assert 0 <= t.box.left < t.box.right <= picture.shape[1]


TURNS = {
    "left to right": lambda p: p[:, ::-1],
    "upside down": lambda p: p[::-1],
    "quarter turn": lambda p: np.rot90(p),
    "half turn": lambda p: p[::-1, ::-1],
}


@pytest.mark.parametrize("turn", sorted(TURNS))
@pytest.mark.parametrize(("scene", "n"), [("discs", 10), ("panes", 6), ("carton", 12), ("dice", 10), ("insect", 6)])
def test_flips_and_turns_keep_the_number_among_the_candidates(turn: str, scene: str, n: int) -> None:
    turned: Pixels = np.ascontiguousarray(TURNS[turn](SCENES[scene]))
    assert n in numbers(find_all(view_of(turned)))


def test_the_same_picture_gives_the_same_sets() -> None:
    once = [(s.found_by, len(s), round(s.support, 6)) for s in find_all(view_of(SCENES["carton"]))]
    find_all(view_of(SCENES["hand"]))  # nothing of another picture is left over
    assert [(s.found_by, len(s), round(s.support, 6)) for s in find_all(view_of(SCENES["carton"]))] == once


@pytest.mark.parametrize("shape", [(8, 8), (8, 512), (512, 8), (40, 60)])
def test_small_and_thin_pictures_do_no_harm(shape: tuple[int, int]) -> None:
    noise = np.random.default_rng(3).integers(0, 256, (*shape, 3), dtype=np.uint8)
    for picture in (noise, np.zeros((*shape, 3), np.uint8), np.full((*shape, 3), 255, np.uint8)):
        assert all(len(s) >= 1 for s in find_all(view_of(picture)))


def test_every_finder_is_named_once() -> None:
    assert len(set(FINDERS)) == len(FINDERS)
    assert {"blobs", "cells", "marks", "limbs"} <= set(FINDERS)

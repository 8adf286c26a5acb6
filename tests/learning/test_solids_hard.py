"""Fronts, hands, soft bodies and heaps: geometry with known answers, and truth that a person would agree with."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from test_solids import SIZE
from test_solids import mujoco as mujoco

from curator.learning.rendered import bays, bunches, crawlers, creatures, insects, lamps, parcels, seats, solids, wheels
from curator.learning.rendered.fronts import plan
from curator.learning.rendered.hands import Pose, hand
from curator.learning.rendered.heaps import volume
from curator.learning.rendered.kit import Kit, Shape
from curator.learning.rendered.masonry import arch, pierced
from curator.learning.rendered.panes import style, window
from curator.learning.rendered.soft import Cone, Limb, soft
from curator.learning.rendered.view import _pointed
from curator.learning.rendered.workshop import PIECES
from curator.learning.scene import PART


def _areas(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2


def test_a_wall_is_open_where_its_windows_are() -> None:
    holes = [(-2.0, -1.0, 1.0, 2.5), (1.0, 1.5, 1.0, 2.0), (-0.5, 0.5, 0.0, 2.0)]
    skin = pierced((-3, 3, 0, 4), holes, 0.2, 2.0)
    ahead = skin.normals[skin.faces[:, 0], 1] < -0.5
    areas = _areas(skin.vertices, skin.faces)
    assert areas[ahead].sum() == pytest.approx(6 * 4 - 1.5 - 0.5 - 2.0)
    assert areas[~ahead].sum() == pytest.approx(0.2 * 2 * (2.5 + 1.5 + 3.0))  # the sides of three openings
    for left, right, low, high in holes:
        middles = skin.vertices[skin.faces[ahead]].mean(1)
        inside = (middles[:, 0] > left) & (middles[:, 0] < right) & (middles[:, 2] > low) & (middles[:, 2] < high)
        assert not inside.any()


def test_a_wall_faces_the_way_its_normals_say() -> None:
    skin = pierced((-3, 3, 0, 4), [(-1.0, 1.0, 1.0, 2.0)], 0.2, 2.0)
    a, b, c = (skin.vertices[skin.faces[:, k]] for k in range(3))
    assert (np.einsum("ij,ij->i", np.cross(b - a, c - a), skin.normals[skin.faces[:, 0]]) > 0).all()


def test_an_arch_leaves_half_an_ellipse_open() -> None:
    skin = arch((-1.0, 1.0, 0.0, 3.0), 0.6, 2.0)
    areas = _areas(skin.vertices, skin.faces)
    assert areas.sum() == pytest.approx(2 * 0.6 - np.pi / 2 * 1.0 * 0.6, rel=0.1)  # seven points an arc
    a, b, c = (skin.vertices[skin.faces[:, k]] for k in range(3))
    assert (np.cross(b - a, c - a)[:, 1] <= 1e-12).all()  # seen from -y


def test_plans_have_two_windows_or_more_and_not_too_many() -> None:
    for seed in range(300):
        made = plan(np.random.default_rng(seed), 1.0, 22)
        assert 2 <= sum(made.counts) - (made.ground == "door") <= 22
        assert made.tall < made.rise


def test_a_soft_body_is_as_large_as_its_cones_and_each_part_has_its_mesh() -> None:
    skins = soft(
        [Cone((0, 0, 0), (0, 0, 1), 0.3, 0.3)], [Limb(0, [Cone((0.2, 0, 0.5), (0.9, 0, 0.5), 0.1, 0.1)], 0.001)], 0.03
    )
    assert set(skins) == {-1, 0}
    every = np.concatenate([s.vertices for s in skins.values()])
    np.testing.assert_allclose(every.max(0), (1.0, 0.3, 1.3), atol=0.02)
    np.testing.assert_allclose(every.min(0), (-0.3, -0.3, -0.3), atol=0.02)
    assert skins[0].vertices[:, 0].min() > 0.2
    for skin in skins.values():
        a, b, c = (skin.vertices[skin.faces[:, k]] for k in range(3))
        away = np.einsum("ij,ij->i", np.cross(b - a, c - a), skin.normals[skin.faces].sum(1))
        assert (away > 0).mean() > 0.99


@pytest.mark.parametrize("raised", [(False, True, True, False, False), (True,) * 5, (True, False, False, False, True)])
def test_raised_fingers_are_parts_and_folded_ones_are_left_out(raised: tuple[bool, ...]) -> None:
    shape = hand(Kit(np.random.default_rng(4)), Pose(raised, 0.0, 0.0, (0.8, 0.6, 0.5), 1.0))
    assert tuple(p.kind == "finger" for p in shape.parts) == raised
    assert tuple(not p.aside for p in shape.parts) == raised
    tips = np.array([p.tip for p in shape.parts])
    up = np.array(raised[1:])
    assert (tips[1:, 2][up] > 1.2).all()  # beyond the knuckles at 0.9
    assert (tips[1:, 2][~up] < 0.9).all()
    meshed = {g.part for g in shape.geoms if g.sort == "mesh"}
    assert meshed == {-1, 0, 1, 2, 3, 4}


def test_a_left_hand_is_a_right_one_mirrored() -> None:
    made = []
    for flip in (False, True):
        kit = Kit(np.random.default_rng(4))
        kit.flip = flip
        made.append(hand(kit, Pose((True,) * 5, 20.0, 10.0, (0.8, 0.6, 0.5), 1.0)))
    for one, other in zip(made[0].parts, made[1].parts, strict=True):
        assert one.tip is not None
        assert other.tip is not None
        np.testing.assert_allclose(np.array(one.tip) * [-1, 1, 1], other.tip, atol=1e-9)


def test_panes_are_parts_where_a_window_is_large_and_share_out_its_opening() -> None:
    for seed in range(12):
        kit = Kit(np.random.default_rng(seed))
        own = style(kit)
        shape = window(kit, own, 1.0, 1.4, fine=True)
        panes = own.panes[0] * own.panes[1]
        assert len(shape.parts) == (panes if panes > 1 else 0)
        assert {g.part for g in shape.geoms} == {-1, *range(len(shape.parts))}
        assert not window(kit, own, 1.0, 1.4).parts


def test_pieces_lie_on_the_table() -> None:
    for make in PIECES.values():
        shape = make(Kit(np.random.default_rng(5)))
        assert min(shape.reach) > 0
        assert max(shape.reach) <= 0.6
        assert all(np.isfinite(g.at).all() and np.isfinite(g.size).all() for g in shape.geoms)


def test_one_points_at_what_can_be_seen() -> None:
    mask = np.zeros((60, 60), bool)
    mask[10:50, 10:50] = True
    assert _pointed(mask, np.array([30.0, 30.0])) == (30.0, 30.0)
    mask[15:, :] = False  # all but the upper rim is hidden
    row, col = _pointed(mask, np.array([30.0, 30.0]))
    assert 12 <= row < 14
    assert col == pytest.approx(30, abs=3)


@pytest.mark.parametrize(("sort", "wings"), [("butterfly", {4}), ("moth", {2}), ("dragonfly", {4}), ("beetle", {2, 4})])
def test_an_insect_has_its_wings_in_two_halves_and_feelers_left_aside(sort: str, wings: set[int]) -> None:
    for seed in range(6):
        shape = insects.winged(Kit(np.random.default_rng(seed)), sort)
        own = [p for p in shape.parts if not p.aside]
        assert len(own) in wings
        assert all(p.kind == "wing" and (p.at[0] < 0) == (p.side == 1) for p in own)
        assert {p.kind for p in shape.parts if p.aside} <= {"feeler"}


@pytest.mark.parametrize("arms", [3, 5, 8])
def test_a_chandelier_has_a_light_on_each_arm(arms: int) -> None:
    for seed in range(4):
        shape = lamps.chandelier(Kit(np.random.default_rng(seed)), arms)
        kinds = [p.kind for p in shape.parts]
        assert kinds.count("light") == kinds.count("arm") == arms
        assert kinds.count("drop") in (0, arms)
        assert {g.part for g in shape.geoms} == {-1, *range(len(shape.parts))}
        stand = lamps.candelabrum(Kit(np.random.default_rng(seed)), arms)
        assert [p.kind for p in stand.parts].count("light") == arms


@pytest.mark.parametrize("make", [bunches.bunch, bunches.grapes, bunches.gate, bunches.bench, bunches.pallet])
def test_what_is_built_of_n_has_n_parts(make: Callable[[Kit, int], Shape]) -> None:
    for n in (3, 4, 6):
        shape = make(Kit(np.random.default_rng(n)), n)
        assert len(shape.parts) == n
        assert len({p.kind for p in shape.parts}) == 1
        assert set(range(n)) <= {g.part for g in shape.geoms}


@pytest.mark.parametrize(("backs", "below"), [(2, 2), (3, 3), (4, 2), (3, 1)])
def test_a_sofa_has_a_row_to_lean_on_over_a_row_to_sit_on(backs: int, below: int) -> None:
    shape = seats.sofa(Kit(np.random.default_rng(backs)), backs, below)
    upper, lower = ([p for p in shape.parts if p.side == side] for side in (1, 2))
    assert (len(upper), len(lower)) == (backs, below)
    assert min(p.at[2] for p in upper) > max(p.at[2] for p in lower)
    assert len({p.kind for p in shape.parts}) == (1 if backs == below else 2)
    assert {g.part for g in shape.geoms} == {-1, *range(backs + below)}


def test_chairs_stand_round_their_table_and_face_it() -> None:
    for seed in range(12):
        table, *chairs = seats.dining(Kit(np.random.default_rng(seed))).placed
        around = [one for one in chairs if one.shape.kind == "chair"]
        assert table.shape.kind == "table"
        assert 2 <= len(around) <= 8
        for one in around:
            back = np.array([-np.sin(np.radians(one.turn)), np.cos(np.radians(one.turn))])  # a chair's back is at +y
            assert back @ np.array(one.at[:2]) > 0
            assert max(abs(one.at[0]) - table.shape.reach[0], abs(one.at[1]) - table.shape.reach[1]) > -0.2


def test_parcels_stand_on_the_floor_or_on_a_larger_one() -> None:
    for seed in range(20):
        placed = parcels.parcels(Kit(np.random.default_rng(seed))).placed
        assert placed[0].at[2] == 0
        for under, one in itertools.pairwise(placed):
            assert one.at[2] == 0 or (
                one.at[2] == pytest.approx(under.at[2] + under.shape.reach[2])
                and one.shape.reach[0] * one.shape.reach[1] <= under.shape.reach[0] * under.shape.reach[1]
            )


def test_each_thing_on_wheels_stands_on_all_of_them() -> None:
    wanted = {"bicycle": {2}, "scooter": {2}, "tricycle": {3}, "barrow": {1}, "handcart": {2}, "wagon": {4}}
    for make, _, _ in wheels.SORTS:
        for seed in range(6):
            shape = make(Kit(np.random.default_rng(seed)))
            assert {p.kind for p in shape.parts} == {"wheel"}
            assert len(shape.parts) in wanted.get(shape.kind, {2, 3, 4})
            assert all(p.at[2] < 0.4 for p in shape.parts)


def test_a_cable_is_pointed_at_on_itself_and_a_battery_has_two_poles() -> None:
    for seed in range(6):
        stage = bays.cables(Kit(np.random.default_rng(seed)))
        for placed in stage.placed:
            if placed.shape.kind == "cable":
                assert min(np.hypot(*g.at[:2]) for g in placed.shape.geoms) < 0.1
                assert {p.kind for p in placed.shape.parts} == {"plug"}
    shape = bays.battery(Kit(np.random.default_rng(1)), (1, 1, 1), (0, 0, 0), 0.12)
    assert [p.kind for p in shape.parts] == ["pole", "pole"]


def test_books_stand() -> None:
    shape = volume(Kit(np.random.default_rng(1)), 1.0, 0.4)
    assert shape.reach[1] < shape.reach[0] < shape.reach[2]


@pytest.mark.parametrize("family", ["front", "front close", "doorway"])
def test_no_door_or_neighbour_is_a_window_of_the_front(mujoco: Any, family: str) -> None:
    for seed in (3, 4):
        scene = solids.make_clean(seed, 192, family)
        counted = (scene.kind == scene.main) & ~scene.aside
        assert scene.total() >= 2
        assert (scene.level[counted] == 0).all()
        # every other whole is left aside: wall, doors, shops, roofs, trees, the neighbour's windows
        assert scene.aside[~counted & (scene.level == 0)].all()


def test_a_window_beside_a_door_is_nothing_that_repeats_but_for_its_panes(mujoco: Any) -> None:
    for seed in range(8):
        scene = solids.make_clean(seed, 192, "single window")
        own = (scene.kind == scene.main) & ~scene.aside
        wholes = own & (scene.level == 0)
        assert scene.main < 0 or own.sum() >= 2
        assert not wholes.any() or wholes.sum() == 2  # two doors, never a window and a door


def test_a_hand_alone_shows_the_fingers_it_raises(mujoco: Any) -> None:
    for seed in range(4):
        scene = solids.make_clean(seed, 192, "hands")
        counted = (scene.kind == scene.main) & ~scene.aside
        assert (scene.level[counted] == 1).all()
        assert np.isfinite(scene.tips[counted]).all()


def test_a_crab_s_claws_are_counted_with_its_legs(mujoco: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """5+5 (common practice); an insect's feelers are left aside."""
    made: list[str] = []
    real = crawlers.crawler
    monkeypatch.setattr(crawlers, "crawler", lambda kit, sort: (made.append(sort), real(kit, sort))[1])
    seen = {}
    for seed in range(40):
        made.clear()
        try:
            scene = solids.make_clean(seed, SIZE, "crawler")
        except ValueError:
            continue
        own = (scene.kind == scene.main) & ~scene.aside
        if made and scene.level[scene.kind == scene.main][0] == PART:  # one body alone, its limbs meant
            seen[made[-1]] = (int((scene.side[own] == 1).sum()), int((scene.side[own] == 2).sum()))
        if {"crab", "insect"} <= seen.keys():
            break
    assert seen["crab"] == (5, 5)
    assert seen["insect"] == (3, 3)


def test_a_creature_has_the_legs_of_its_sort_and_stands_on_their_feet() -> None:
    """Spiders and ticks eight, insects six, crabs ten with their claws (common practice)."""
    for sort, legs in {"spider": 8, "tick": 8, "beetle": 6, "ant": 6, "crab": 10}.items():
        for seed in range(5):
            shape = creatures.creature(Kit(np.random.default_rng(seed)), sort)
            own = [p for p in shape.parts if not p.aside]
            assert [p.kind for p in own] == ["leg"] * legs
            assert [sum(p.side == side for p in own) for side in (1, 2)] == [legs // 2, legs // 2]
            assert all((p.at[0] < 0) == (p.side == 1) for p in own)
            feet = [p.tip[2] for p in own[: 2 * creatures.PLANS[sort].pairs] if p.tip is not None]
            assert max(feet) < 0.04  # on the ground


def test_a_creature_alone_is_seen_with_all_its_legs_or_those_in_the_picture(mujoco: Any) -> None:
    seen = []
    for seed in range(6):
        scene = solids.make_clean(seed, SIZE, "creature")
        own = (scene.kind == scene.main) & ~scene.aside
        if scene.level[own][0] == PART:
            assert scene.total() <= own.sum()
            seen.append(scene.total() == own.sum())
        assert scene.ids is not None
    assert any(seen)

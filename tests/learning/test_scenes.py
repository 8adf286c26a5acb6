"""Training scenes: the truth that comes with a drawn picture. Known answers by construction; no material is needed."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from curator.learning import material, sheet
from curator.learning.drawn import board, made, places, scenes, simple, truth
from curator.learning.rendered import solids
from curator.learning.scene import PART, WHOLE, Scene, check

SIZE = 192
SEEDS = range(60)


@pytest.fixture(scope="module", autouse=True)
def _bare(tmp_path_factory: pytest.TempPathFactory) -> object:
    """A folder without material: every family falls back to drawn things."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("CURATOR_MATERIAL", str(tmp_path_factory.mktemp("none")))
        yield


@pytest.fixture(scope="module")
def some(_bare: object) -> list[Scene]:
    return [scenes.make(seed, SIZE) for seed in SEEDS]


@pytest.mark.parametrize("family", sorted(scenes.FAMILIES))
def test_every_family_draws_without_material(family: str) -> None:
    for seed in (3, 4):
        scene = check(scenes.make(seed, SIZE, family))
        assert scene.image.std() > 1


@pytest.mark.parametrize("sort", ["sprite", "texture"])
def test_material_that_lacks_some_sorts_is_enough(sort: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    picture = np.full((40, 40, 4 if sort == "sprite" else 3), 200, np.uint8)
    material.write([(sort, "emoji-pear", picture)], tmp_path, "")
    monkeypatch.setenv("CURATOR_MATERIAL", str(tmp_path))
    for seed in range(4):
        assert callable(simple.sprite(np.random.default_rng(seed), real=True))


def test_a_folder_of_material_without_material_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        "sys.argv", ["material", "--stamps", str(tmp_path), "--emoji", str(tmp_path), "-o", str(tmp_path / "out")]
    )
    with pytest.raises(SystemExit, match=str(tmp_path)):
        material.main()
    assert not (tmp_path / "out").exists()


def test_same_seed_same_scene() -> None:
    for seed in (1, 5, 17):
        one, other = scenes.make(seed, SIZE), scenes.make(seed, SIZE)
        assert np.array_equal(one.image, other.image)
        assert np.array_equal(one.boxes, other.boxes)
        assert one.main == other.main
    assert not np.array_equal(scenes.make(1, SIZE).image, scenes.make(2, SIZE).image)


def test_truth_lies_inside_the_frame(some: list[Scene]) -> None:
    for scene in some:
        assert (scene.boxes >= 0).all()
        assert (scene.boxes <= SIZE).all()
        assert (scene.centers >= 0).all()
        assert (scene.centers < SIZE).all()
        assert (scene.visible > 0).all()
        assert (scene.visible <= 1).all()


def test_halves_are_equal_and_hold_everything(some: list[Scene]) -> None:
    for scene in some:
        for kind in np.unique(scene.kind):
            own = (scene.kind == kind) & (scene.visible >= truth.SEEN) & ~scene.aside
            ones, twos = int((scene.side[own] == 1).sum()), int((scene.side[own] == 2).sum())
            assert ones == twos
            assert ones == 0 or 2 * ones == int(own.sum())


def test_parts_belong_to_a_whole(some: list[Scene]) -> None:
    for scene in some:
        held = scene.parent[(scene.level == PART) & (scene.parent >= 0)]
        assert (scene.level[held] <= PART).all()
        assert (held < len(scene.kind)).all()


def _flat_board(seed: int = 0) -> board.Board:
    made_board = board.Board.new(np.random.default_rng(seed), 256, drawn=0.0)
    made_board.through = np.array([[256.0, 0, 0], [0, 256.0, 0], [0, 0, 1]])
    return made_board


def test_a_die_of_five_has_five_pips_and_no_double() -> None:
    flat = _flat_board()
    made.die(flat.rng, 5)(flat, board.Frame(0.5, 0.5, 0.3), flat.kind("die"))
    scene = flat.done("test")
    assert scene.total() == 5
    assert (scene.side == 0).all()
    assert (scene.parent[scene.level == PART] == int(np.nonzero(scene.level == WHOLE)[0][0])).all()


def test_two_dice_of_five_give_the_pips_the_sides_of_the_dice() -> None:
    flat = _flat_board()
    draw = made.die(flat.rng, 5)
    for side, col in ((1, 0.25), (2, 0.75)):
        draw(flat, board.Frame(0.5, col, 0.16), flat.kind("die"), side=side)
    scene = flat.done("test")
    pips = scene.level == PART
    assert int(pips.sum()) == 10
    assert int((scene.side[pips] == 1).sum()) == 5
    assert (scene.side[pips] == scene.side[scene.parent[pips]]).all()
    assert scene.total() == 2


def test_a_die_of_six_is_three_and_three() -> None:
    flat = _flat_board()
    made.die(flat.rng, 6)(flat, board.Frame(0.5, 0.5, 0.3), flat.kind("die"))
    scene = flat.done("test")
    left = scene.centers[scene.side == 1][:, 1]
    right = scene.centers[scene.side == 2][:, 1]
    assert len(left) == len(right) == 3


def test_one_missing_makes_no_double() -> None:
    layout = places.grid(np.random.default_rng(2), 2, 4, missing=1)
    assert len(layout.places) == 7
    assert all(side == 0 for *_, side in layout.places)
    assert [side for *_, side in places.rows(np.random.default_rng(2), (3, 4)).places] == [0] * 7


def test_what_fills_a_cup_hides_it() -> None:
    for seed in range(12):
        scene = scenes.make(seed, 256, "carton")
        cups = (scene.level == PART) & (scene.visible > 0.9)
        eggs = scene.centers[(scene.level == WHOLE) & (scene.parent >= 0)]
        for centre in scene.centers[cups]:
            assert all(np.hypot(*(centre - egg)) > 2 for egg in eggs)


def test_a_hidden_thing_is_seen_to_be_hidden() -> None:
    flat = _flat_board()
    from curator.learning.drawn import simple

    draw = simple.solid(flat.rng, simple.circle(40))
    draw(flat, board.Frame(0.5, 0.5, 0.2), flat.kind("under"))
    draw(flat, board.Frame(0.5, 0.6, 0.2), flat.kind("over"))
    scene = flat.done("test")
    # two equal circles whose middles lie half a radius apart share 0.685 of their area (2/pi (acos(1/4) - sqrt(15)/16))
    assert scene.visible[0] == pytest.approx(1 - 0.685, abs=0.04)
    assert scene.visible[1] == pytest.approx(1, abs=0.04)
    assert scene.centers[0] == pytest.approx([128, 128], abs=1)


def test_counts_and_doubles_are_spread(some: list[Scene]) -> None:
    more = [*some, *(scenes.make(seed, 96) for seed in range(100, 300))]
    totals = np.array([scene.total() for scene in more])
    doubles = np.mean([bool((scene.side[scene.kind == scene.main] > 0).any()) for scene in more])
    assert 0.04 < (totals == 0).mean() < 0.2
    assert (totals <= 40).all()
    assert ((totals >= 2) & (totals <= 14)).mean() > 0.6
    assert 0.35 < doubles < 0.7


def test_contact_sheet_shows_drawn_and_rendered_scenes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = [scenes.make(seed, 384) for seed in (3, 4, 5)]
    solids.pack(drawn, tmp_path / "shards" / "0.npz")
    for extra in ([], ["--solids", str(tmp_path / "shards")]):
        monkeypatch.setattr(
            "sys.argv", ["sheet", "-o", str(tmp_path / "sheet.png"), "--seed", "0", "--count", "2", *extra]
        )
        sheet.main()
        shown = cv2.imread(str(tmp_path / "sheet.png"))[..., ::-1]
        assert shown.shape == (256, 8 * 256, 3)
        assert shown[:, 256:512].std() > 5
        assert shown[:, 512:].max() == 0
    bare = cv2.resize(drawn[0].image, (256, 256), interpolation=cv2.INTER_AREA)
    assert (
        np.abs(shown[20:, :256].astype(int) - bare[20:]).mean() < 20
    )  # the first shard's first, with its truth over it

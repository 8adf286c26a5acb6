"""Rendered solids: truth with known answers, and shards that are read without the renderer."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from curator.errors import CuratorError
from curator.learning.rendered import families, mjcf, solids, view
from curator.learning.rendered.families import FAMILIES, choose
from curator.learning.rendered.kit import Kit, lathe, superquadric
from curator.learning.rendered.parts import domino, rod
from curator.learning.rendered.stage import Placed, Stage
from curator.learning.rendered.things import THINGS, ball
from curator.learning.scene import PART, Scene, check

SIZE = 192


def _made(number: int, things: int) -> Scene:
    """A scene of flat colour with a row of boxes, to be packed."""
    image = np.full((64, 64, 3), 40 * number + 30, np.uint8)
    boxes = np.array([(4, 8 * k, 10, 8 * k + 6) for k in range(things)], np.float32).reshape(-1, 4)
    zeros = np.zeros(things, np.int16)
    axis = np.zeros((number % 2, 6), np.float32)
    return Scene(
        image,
        boxes,
        (boxes[:, :2] + boxes[:, 2:]) / 2,
        np.full((things, 2), np.nan, np.float32),
        zeros,
        zeros.astype(np.int8),
        zeros - 1,
        np.ones(things, np.float32),
        zeros.astype(np.int8),
        axis,
        0 if things > 1 else -1,
        zeros.astype(bool),
        f"made {number}",
    )


def test_a_shard_gives_back_what_was_packed(tmp_path: Path) -> None:
    put = [_made(0, 3), _made(1, 0), _made(2, 5), _made(3, 1)]
    solids.pack(put, tmp_path / "one.npz")
    got = list(solids.load_solids(tmp_path, effects=None))
    assert [s.family for s in got] == [s.family for s in put]
    for one, other in zip(put, got, strict=True):
        check(other)
        for name in (*solids.COLUMNS, "axis"):
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
        assert one.main == other.main
        assert np.abs(one.image.astype(int) - other.image).max() <= 3


def test_outlines_come_back_where_a_scene_has_them(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    drawn = [rng.integers(0, 4, (2, SIZE // 2, SIZE // 2)).astype(np.uint8) for _ in range(2)]
    put = [replace(_made(k, 3), ids=ids) for k, ids in enumerate([drawn[0], None, drawn[1]])]
    solids.pack(put, tmp_path / "one.npz")
    first, second, third = solids.load_solids(tmp_path)  # the camera's effects leave them as they are
    np.testing.assert_array_equal(first.ids, drawn[0])
    assert second.ids is None
    np.testing.assert_array_equal(third.ids, drawn[1])
    solids.pack([_made(1, 2)], tmp_path / "none" / "one.npz")
    assert next(solids.load_solids(tmp_path / "none")).ids is None


def test_effects_change_the_picture_alone_and_repeat(tmp_path: Path) -> None:
    solids.pack([_made(1, 4)], tmp_path / "one.npz")
    first, again, other = (next(solids.load_solids(tmp_path, effects=e)) for e in (1, 1, 2))
    np.testing.assert_array_equal(first.image, again.image)
    assert (first.image != other.image).any()
    np.testing.assert_array_equal(first.boxes, other.boxes)


def test_a_broken_shard_is_named(tmp_path: Path) -> None:
    (tmp_path / "torn.npz").write_bytes(b"PK not a shard")
    with pytest.raises(CuratorError, match=r"torn\.npz"):
        list(solids.load_solids(tmp_path))


def test_a_shard_without_outlines_is_named(tmp_path: Path) -> None:
    solids.pack([_made(0, 2)], tmp_path / "now.npz")
    with np.load(tmp_path / "now.npz") as now:
        kept = {name: now[name] for name in now.files if name not in ("ids", "outlined")}
    (tmp_path / "old").mkdir()
    np.savez_compressed(tmp_path / "old" / "old.npz", **kept)
    with pytest.raises(CuratorError, match=r"old\.npz.*older than the outlines.*Render it again"):
        list(solids.load_solids(tmp_path / "old"))


def test_shards_are_read_where_no_renderer_is(tmp_path: Path) -> None:
    solids.pack([_made(0, 2), _made(2, 2)], tmp_path / "one.npz")
    code = (
        "import sys; sys.modules['mujoco'] = None\n"
        "from curator.learning.rendered.solids import load_solids\n"
        f"print(sum(s.total() for s in load_solids({str(tmp_path)!r})))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2]
    )
    assert done.stdout.strip() == "4"


def _volume(mesh: tuple[np.ndarray, np.ndarray]) -> float:
    a, b, c = (mesh[0][mesh[1][:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def test_meshes_face_outwards() -> None:
    cylinder = lathe([(0.001, 0), (1, 0), (1, 2), (0.001, 2)], 64)
    assert _volume(cylinder) == pytest.approx(2 * np.pi, rel=0.01)
    assert _volume(superquadric((1, 1, 1), 1, 1)) == pytest.approx(4 / 3 * np.pi, rel=0.03)


def test_a_mirrored_mesh_still_faces_outwards() -> None:
    kit = Kit(np.random.default_rng(0))
    kit.flip = True
    kit.mesh(superquadric((1, 0.5, 0.5), 1, 1))
    numbers = kit.assets[0].split('"')
    vertices, faces = (
        np.array(numbers[5].split(), float).reshape(-1, 3),
        np.array(numbers[7].split(), int).reshape(-1, 3),
    )
    assert _volume((vertices, faces)) > 0


@pytest.mark.parametrize("end", [(1.0, 0.0, 0.0), (0.0, -1.0, 0.0), (0.3, 0.4, -0.5), (-0.7, 0.1, 0.2)])
def test_a_rod_points_at_its_end(end: tuple[float, float, float]) -> None:
    made = rod(Kit(np.random.default_rng(0)), (0, 0, 0), end, 0.1, (1, 1, 1), "", -1)
    a, b = np.radians(made.angles[:2])
    along = np.array([np.sin(b), -np.sin(a) * np.cos(b), np.cos(a) * np.cos(b)])
    np.testing.assert_allclose(np.array(made.at) + along * made.size[1], end, atol=1e-6)


def test_every_solid_is_made_and_stands_on_the_floor() -> None:
    for make in THINGS.values():
        shape = make(Kit(np.random.default_rng(5)))
        assert shape.geoms
        assert min(shape.reach) > 0
        assert max(shape.reach) <= 1.3


def test_a_domino_has_its_pips_in_two_halves() -> None:
    shape = domino(Kit(np.random.default_rng(1)), (4, 6), (1, 1, 1), (0, 0, 0))
    assert [sum(p.side == s for p in shape.parts) for s in (1, 2)] == [4, 6]
    assert all((p.at[0] < 0) == (p.side == 1) for p in shape.parts)


# What follows needs MuJoCo and a software renderer.


@pytest.fixture(scope="module")
def mujoco() -> Any:
    try:
        from curator.learning.rendered import view  # noqa: F401  (names the software renderer before mujoco is imported)

        found = __import__("mujoco")
        found.Renderer(found.MjModel.from_xml_string("<mujoco/>"), 16, 16).close()
    except Exception as wrong:
        pytest.skip(f"no MuJoCo with a software renderer here: {wrong}")
    return found


def _measured(mujoco: Any, spots: list[tuple[float, float]]) -> tuple[Any, Any, list[dict[str, Any]]]:
    """Balls of radius 0.5 at (x, y) on the floor, seen level from -y, 4 units wide at the origin."""
    from curator.learning.rendered import view as seen

    kit = Kit(np.random.default_rng(3))
    one = ball(kit)
    stage = Stage("test", [Placed(one, (x, y, 0.0)) for x, y in spots])
    text, owners = seen.mjcf(kit, stage)
    model = mujoco.MjModel.from_xml_string(text, kit.files)
    data = seen._settled(mujoco, model, stage)
    ids = np.array([model.geom(f"g{k}").id for k in range(len(owners))], np.int64)
    eye = seen.Eye(np.array([0.0, 0.0, 0.5]), 20.0, 90.0, 0.0, 0.1)
    lens = seen.Lens(mujoco, model, data, eye, SIZE)
    rows = seen._listed(stage, data, eye, SIZE)
    boxes, visible, _ = seen._measure(rows, lens, owners, ids)
    lens.close()
    return boxes, visible, rows


def test_known_boxes_and_centres(mujoco: Any) -> None:
    boxes, visible, rows = _measured(mujoco, [(-1.0, 0.0), (1.0, 0.0)])
    quarter = SIZE / 4  # pixels a unit
    np.testing.assert_allclose(visible, 1, atol=0.02)
    np.testing.assert_allclose(rows[0]["at"], (2 * quarter, quarter), atol=0.5)
    np.testing.assert_allclose(boxes[1], (1.5 * quarter, 2.5 * quarter, 2.5 * quarter, 3.5 * quarter), atol=1.6)


def test_half_hidden_and_cut_by_the_frame(mujoco: Any) -> None:
    _, visible, _ = _measured(mujoco, [(0.0, 0.0), (0.5, 1.2), (-2.0, 0.0)])
    assert visible[0] == pytest.approx(1, abs=0.02)
    # two equal discs half a diameter apart: 1 - 0.391 of the rear one is free (a little less for perspective)
    assert visible[1] == pytest.approx(0.61, abs=0.06)
    assert visible[2] == pytest.approx(0.5, abs=0.03)


HARD = [
    "front",
    "front close",
    "room",
    "bloom",
    "crowd",
    "hands",
    "held",
    "nested",
    "unlike",
    "crawler",
    "creature",
    "fence",
    "pieces",
    "insects",
    "chandelier",
    "pendants",
    "wall lamps",
    "batteries",
    "strip",
    "cables",
    "doorway",
    "wheels",
    "bunch",
    "planks",
    "chair row",
]


@pytest.mark.parametrize("family", ["two rows", "dice", "pairs", "bug", "heap", "tray", *HARD])
def test_truth_of_a_family(mujoco: Any, family: str) -> None:
    scene = check(solids.make_clean(11, SIZE, family))
    assert (scene.visible > 0).all()
    assert (scene.visible <= 1).all()
    assert (scene.centers >= 0).all()
    assert (scene.centers < SIZE).all()
    assert (scene.boxes[:, 2:] > scene.boxes[:, :2]).all()
    for kind in np.unique(scene.kind):
        own = (scene.kind == kind) & ~scene.aside & (scene.visible >= 0.25)
        assert (scene.side[own] == 1).sum() == (scene.side[own] == 2).sum()
    parts = scene.level == PART
    assert (scene.parent[parts] >= 0).all()
    assert scene.total() >= 2


def test_a_scene_is_rendered_as_large_as_any_training_asks(mujoco: Any) -> None:
    assert solids.make_clean(11, mjcf.LARGEST, "two rows").image.shape == (512, 512, 3)


def test_same_seed_same_truth(mujoco: Any) -> None:
    one, two = solids.make_clean(21, SIZE), solids.make_clean(21, SIZE)
    for name in (*solids.COLUMNS, "axis"):
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))
    assert one.main == two.main
    assert one.family == two.family


def test_all_families_are_drawn_by_their_weight() -> None:
    drawn = [choose(np.random.default_rng(seed)) for seed in range(2000)]
    total = sum(weight for _, weight in FAMILIES.values())
    for name, (_, weight) in FAMILIES.items():
        assert drawn.count(name) / 2000 == pytest.approx(weight / total, abs=0.02)


def test_only_the_families_that_are_named_are_drawn() -> None:
    drawn = [choose(np.random.default_rng(seed), ("sofa", "shoes")) for seed in range(400)]
    share = FAMILIES["sofa"][1] / (FAMILIES["sofa"][1] + FAMILIES["shoes"][1])
    assert set(drawn) == {"sofa", "shoes"}
    assert drawn.count("sofa") / 400 == pytest.approx(share, abs=0.07)


def test_the_choice_of_a_family_says_nothing_of_what_is_staged() -> None:
    first = [solids.chances(seed, 0).random() for seed in range(3000) if choose(np.random.default_rng(seed)) == "heap"]
    assert len(first) > 50
    assert np.std(first) == pytest.approx(
        1 / np.sqrt(12), rel=0.15
    )  # spread over 0..1, not the narrow share of that family


def test_a_kind_that_there_is_not_is_named() -> None:
    assert families.named("") == ()
    assert families.named("sofa,dining") == ("sofa", "dining")
    with pytest.raises(CuratorError, match=r"No kind is called sofas\.") as wrong:
        families.named("dining,sofas")
    assert "sofa, dining" in str(wrong.value)


def test_geoms_are_named_by_one_sample_a_pixel(mujoco: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A GPU gives the mean of several: between the geoms 10 and 30 a leg of geom 20 was seen."""
    gl = pytest.importorskip("OpenGL.GL")
    seen = []

    def samples(lens: view.Lens) -> int:
        context = lens.renderer._mjr_context
        mujoco.mjr_setBuffer(mujoco.mjtFramebuffer.mjFB_OFFSCREEN, context)
        return int(gl.glGetIntegerv(gl.GL_SAMPLES))

    def watched(name: str) -> None:
        real = getattr(view.Lens, name)

        def called(lens: view.Lens, **how: Any) -> Any:
            seen.append((name, samples(lens) > 1))
            return real(lens, **how)

        monkeypatch.setattr(view.Lens, name, called)

    watched("_picture")
    watched("named")
    solids.make_clean(3, SIZE, "two rows")
    assert set(seen) == {("_picture", True), ("named", False)}

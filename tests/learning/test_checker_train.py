"""What the checker's training is fed, and what it is told is wrong."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")
pytest.importorskip("onnx", reason="onnx is not installed")

from curator.learning.network import checker, checker_export, checker_train  # noqa: E402
from curator.learning.network.checker import SIDE, Checker  # noqa: E402
from curator.learning.network.checker_cases import MOST, SETS, UNKNOWN, Taken, write  # noqa: E402
from curator.learning.network.checker_cases import SIDE as KEPT  # noqa: E402
from curator.learning.network.checker_store import Store, spoilt  # noqa: E402


def _taken(name: str, label: float = 1.0) -> Taken:
    """A right set of four things and a wrong one of three."""
    sets, count = np.zeros((SETS, MOST, 4), np.float16), np.zeros(SETS, np.uint8)
    sets[:2, :4] = [[60.0 + 80 * k, 100.0, 30.0, 20.0] for k in range(4)]
    count[:2] = 4, 3
    told = np.zeros((SETS, 4), np.float32)
    told[:2] = [[label, 1, 1, 0.6], [0, 0.75, 1, 0.2]]
    return Taken(np.full((KEPT, KEPT, 3), 80, np.uint8), sets, count, told, 2, name)


def test_shards_are_taken_in_as_they_come_and_what_is_held_is_not_drawn(tmp_path: Path) -> None:
    write([_taken("coin_001.jpg/mirrored"), _taken("kuih_001.jpg/turned")], tmp_path / "real-1-000000.npz")
    store = Store(tmp_path, "cpu", 5)
    store.take()
    store.take()
    assert store.n == 2
    write([_taken("drawn-7"), _taken("drawn-8")], tmp_path / "scenes-1-000000.npz")
    write([_taken("tin_001.jpg/cut 1"), _taken("tin_002.jpg/cut 1")], tmp_path / "held-1-000000.npz")
    store.take()
    assert store.n == 5  # there is no room for the sixth
    chance = np.random.default_rng(0)
    which, things, count, label = store.batch(64, 4, {"real": 0.5, "scenes": 0.5}, chance)
    assert set(which.tolist()) == set(store.places["real"] + store.places["scenes"])
    assert things.shape == (64, 4, MOST, 4)
    assert count.shape == (64, 4)
    assert label.shape == (64, 4, 3)
    assert (label[:, 0, 0] == 1).all()


def test_a_spoilt_set_is_wrong_and_says_how_much() -> None:
    chance = np.random.default_rng(1)
    things = np.zeros((MOST, 4), np.float32)
    things[:4] = [[60.0 + 80 * k, 100.0, 30.0, 20.0] for k in range(4)]
    seen = set()
    for _ in range(60):
        rows, n, label = spoilt(things, 4, chance)
        assert (rows[n:] == 0).all()
        assert label[0] == 0
        seen.add((n, round(float(label[1]), 3), round(float(label[2]), 3)))
    assert seen == {(3, 0.75, 1.0), (5, 1.0, 0.8), (5, 0.875, 0.8)}


def test_a_view_moves_the_marks_with_the_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(checker, "colour", lambda pictures: pictures)
    torch.manual_seed(3)
    image = torch.zeros(6, KEPT, KEPT, 3, dtype=torch.uint8)
    image[:, 150:180, 200:220] = 255
    things = torch.zeros(6, 1, MOST, 4)
    things[:, :, 0] = torch.tensor([164.5, 209.5, 30.0, 20.0])
    moved, placed = checker.viewed(image, things)
    for picture, at in zip(moved, placed[:, 0, 0], strict=True):
        rows, cols = torch.nonzero(picture.mean(0) > 220, as_tuple=True)  # what lies outside is filled with less
        assert abs(float(rows.float().mean()) - float(at[0])) < 6
        assert abs(float(cols.float().mean()) - float(at[1])) < 6


def test_what_nobody_knows_counts_as_right_only_among_its_picture_s_sets() -> None:
    known = torch.tensor([[[1.0, 1, 1], [0, 0.5, 1]]])
    open_ = torch.tensor([[[UNKNOWN, 1, UNKNOWN], [0, 0.5, UNKNOWN]]])
    good, bad = torch.tensor([[3.0, 3, 3], [-3, 0, 3]]), torch.tensor([[-3.0, 3, 3], [3, 0, 3]])
    for label in (known, open_):
        assert checker_train.loss(good, label) < checker_train.loss(bad, label) - 1
    sure, unsure = torch.tensor([[9.0, 3, 9], [-9, 0, -9]]), torch.tensor([[2.0, 3, -9], [-9, 0, 9]])
    assert checker_train.loss(sure, open_) == pytest.approx(float(checker_train.loss(unsure, open_)), abs=1e-3)


def test_held_pictures_are_told_by_what_comes_first(tmp_path: Path) -> None:
    write([_taken("tin_001.jpg/cut 1")], tmp_path / "held-1-000000.npz")
    store = Store(tmp_path, "cpu", 2)
    store.take()
    told = checker_train.held(Checker().eval(), store)
    assert told["pictures"] == 1
    assert told["first"] in (0.0, 1.0)
    assert SIDE % 32 == 0


def test_as_many_dots_count_as_many_in_a_smaller_picture(tmp_path: Path) -> None:
    things = torch.tensor([[[60.0 + 50 * k, 80.0 + 30 * k, 24.0, 24.0] for k in range(5)]])
    torch.save(Checker().state_dict(), tmp_path / "checker.pt")
    counted = []
    for side in (SIDE, 256):
        marks = checker.marked(things * (side / SIDE), torch.tensor([5]), side // 2)
        counted.append(float(marks[:, 1].mean()) * checker_export.load(tmp_path / "checker.pt", side).dots)
    assert counted[0] == pytest.approx(counted[1], rel=0.02)
    assert counted[0] == pytest.approx(5 * 2 * np.pi * 1.2**2 / (SIDE / 2) ** 2 * checker.DOTS, rel=0.02)

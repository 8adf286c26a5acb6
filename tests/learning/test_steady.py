"""A net taught to say the same of a picture, its mirror image and a worse copy: what it is shown, told, and learns."""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")
pytest.importorskip("onnx", reason="onnx is not installed")

from torch import nn  # noqa: E402

from curator.learning.network import batches, copies, export, learned, steady  # noqa: E402
from curator.learning.network.checker import SIDE, marked  # noqa: E402
from curator.learning.network.net import (  # noqa: E402
    COUNT_BINS,
    DENSE,
    MEAN,
    OUTLINE,
    SCALE_BINS,
    Finder,
    planes,
    split_dense,
)


class FakeFinder(nn.Module):
    """Answers of the right shapes that look to one side."""

    def __init__(self) -> None:
        super().__init__()
        self.maps = nn.Conv2d(4, sum(DENSE.values()) + OUTLINE, 5, 4, 1)
        self.whole = nn.Conv2d(4, SCALE_BINS + COUNT_BINS, 3, 32)

    def forward(self, given: torch.Tensor) -> list[torch.Tensor]:
        x = torch.cat([(given[:, :3] + MEAN) / 255, given[:, 3:]], 1)
        return [self.maps(x), self.whole(x).mean((2, 3))]


class FakeChecker(nn.Module):
    """Logits that look to one side."""

    def __init__(self) -> None:
        super().__init__()
        self.said = nn.Conv2d(5, 3, 5, 3)

    def forward(self, image: torch.Tensor, marks: torch.Tensor) -> list[torch.Tensor]:
        small = nn.functional.avg_pool2d(image / 255, 2)
        return [torch.relu(self.said(torch.cat([small, marks], 1))).mean((2, 3))]


def _things(rows: list[list[float]]) -> torch.Tensor:
    """Row, column, height, width and kind of each, in one picture."""
    made = torch.zeros(1, batches.MOST, batches.COLUMNS)
    for i, (*placed, kind) in enumerate(rows):
        made[0, i, :4], made[0, i, 6], made[0, i, 11] = torch.tensor(placed), kind, 1.0
    return made


def test_a_picture_that_is_its_own_mirror_image_has_heat_that_is() -> None:
    torch.manual_seed(3)
    taught, half = FakeFinder(), torch.rand(2, 3, 64, 32) * 255
    given = planes(torch.cat([half, half.flip(-1)], 3), torch.zeros(2, 1, 64, 64))
    assert not torch.allclose(taught(given)[0], taught(given)[0].flip(-1), atol=0.01)
    dense, whole, _ = steady.told_to_finder(taught, {"given": given})
    for name, value in split_dense(dense).items():  # of an embedding the direction
        alike = nn.functional.normalize(value) if name == "embed" else value
        torch.testing.assert_close(alike, alike.flip(-1), atol=1e-4, rtol=1e-4)
    for part in (whole[:, :SCALE_BINS], whole[:, SCALE_BINS:]):
        torch.testing.assert_close(part.exp().sum(1), torch.ones(2), atol=1e-4, rtol=0)


def test_a_picture_and_its_mirror_image_are_told_alike() -> None:
    torch.manual_seed(4)
    image = torch.rand(1, 3, 64, 64) * 255
    given = {"given": planes(image, (image[:, :1] > 250).float())}
    taught = FakeFinder()
    told, other = (steady.told_to_finder(taught, one) for one in (given, steady.mirrored(given)))
    heat, mirrored = (torch.sigmoid(split_dense(one[0])["main"]) for one in (told, other))
    torch.testing.assert_close(heat, mirrored.flip(-1))
    torch.testing.assert_close(told[1], other[1])
    torch.testing.assert_close(told[2], steady.answers(taught(**given))[2])  # outlines are the teacher's own
    sets = {"image": image, "marks": torch.rand(1, 2, 32, 32)}
    checks = FakeChecker()
    torch.testing.assert_close(
        steady.told_to_checker(checks, sets), steady.told_to_checker(checks, steady.mirrored(sets))
    )


def test_views_keep_boxes_on_their_things() -> None:
    torch.manual_seed(5)
    image = torch.full((24, 96, 96, 3), 20, dtype=torch.uint8)
    image[:, 20:40, 50:80] = 240
    shown = copies.seen(image, _things([[29.5, 64.5, 20, 30, 0]]).expand(24, -1, -1), 64)
    assert shown.image.shape == (24, 3, 64, 64)
    assert int(shown.fit[:, 0].sum()) > 8
    assert not shown.fit[:, 1:].any()
    for picture, at, extent in zip(*(part[shown.fit[:, 0]] for part in shown[:3]), strict=True):
        row, col = at[0].round().long().tolist()
        assert float(picture[:, row, col].mean()) > 200
        ends = torch.arange(64)
        inside = ((ends[:, None] - at[0, 0]).abs() < extent[0, 0] / 2 + 2) & (
            (ends[None] - at[0, 1]).abs() < extent[0, 1] / 2 + 2
        )
        bright = (picture.mean(0) > 232) & ~inside
        assert int(bright.sum()) == 0  # what lies outside a picture is 215 at most


def test_worse_copies_keep_size_and_range_and_differ() -> None:
    torch.manual_seed(6)
    image = torch.rand(40, 3, 32, 32) * 255
    worse = copies.worse(image)
    assert worse.shape == image.shape
    assert float(worse.min()) >= 0.0
    assert float(worse.max()) <= 255.0
    same = (worse == image).flatten(1).all(1)
    assert 0 < int(same.sum()) < 20


def test_a_tap_is_on_one_thing_or_on_none() -> None:
    torch.manual_seed(7)
    at = torch.tensor([[[20.0, 20.0], [70.0, 70.0], [20.0, 70.0]]]).expand(60, -1, -1)
    fit = torch.tensor([[True, True, False]]).expand(60, -1)
    tap = copies.taps(copies.Seen(torch.zeros(60, 3, 96, 96), at, torch.full_like(at, 16.0), fit))
    tapped = tap.amax((1, 2, 3)) > 0.5
    assert 8 < int(tapped.sum()) < 35
    for one in tap[tapped, 0]:
        place = torch.tensor(divmod(int(one.argmax()), 96), dtype=torch.float32)
        assert min(float((place - known).abs().max()) for known in at[0, :2]) < 6


def test_the_first_set_marks_all_of_one_kind_and_others_are_changed() -> None:
    torch.manual_seed(8)
    rows = [[40.0 + 60 * (k // 4), 40.0 + 70 * (k % 4), 30, 30, k >= 5] for k in range(8)]
    things = _things(rows).expand(12, -1, -1)
    fit = torch.zeros(12, batches.MOST, dtype=torch.bool)
    fit[:, :8] = True
    view = copies.Seen(torch.zeros(12, 3, SIDE, SIDE), things[..., :2], things[..., 2:4], fit)
    marks = marked(*copies.sets(view, things), SIDE // 2)
    assert marks.shape == (12 * copies.SETS, 2, SIDE // 2, SIDE // 2)
    assert float(marks.min()) >= 0
    assert float(marks.max()) <= 1
    many = (marks[:, 1].sum((1, 2)) / (2 * np.pi * 1.2**2)).view(12, copies.SETS)  # one dot and the next
    assert set(many[:, 0].round().tolist()) == {5.0, 3.0}
    assert int((many[:, 1:] - many[:, :1]).abs().gt(0.3).sum()) > 12


def test_each_kind_of_losses_is_small_for_the_teacher_itself_and_has_a_way_down() -> None:
    torch.manual_seed(9)
    image = (torch.rand(2, SIDE, SIDE, 3) * 255).byte()
    things = _things([[80, 80, 40, 40, 0], [160, 200, 40, 40, 0], [240, 90, 40, 40, 0]]).expand(2, -1, -1)
    for losses, fake, size in (
        (steady.finder_losses, FakeFinder, 96),
        (steady.checker_losses, FakeChecker, SIDE),
    ):
        taught, strange = fake(), fake()
        own = sum(float(one.detach()) for one in losses(taught, taught, image, things, size).values())
        parts = losses(strange, taught, image, things, size)
        whole = torch.stack(list(parts.values())).sum()
        assert 0 <= own < float(whole.detach())
        whole.backward()
        assert all(value.grad is not None and torch.isfinite(value.grad).all() for value in strange.parameters())


class Noting(FakeChecker):
    """Keeps what it is given."""

    def forward(self, image: torch.Tensor, marks: torch.Tensor) -> list[torch.Tensor]:
        self.given = (image, marks)
        return super().forward(image, marks)


def test_a_checker_of_smaller_pictures_is_told_of_the_same_ones_and_the_same_marks() -> None:
    torch.manual_seed(12)
    things = _things([[80, 80, 40, 40, 0], [160, 200, 40, 40, 0], [240, 90, 40, 40, 0]]).expand(2, -1, -1)
    small, large = Noting(), Noting()
    image = (torch.rand(2, SIDE, SIDE, 3) * 255).byte()
    steady.checker_losses(small, large, image, things, SIDE // 2, itself=True)
    (picture, marks), (told, told_marks) = small.given, large.given
    assert (picture.shape[2:], marks.shape[2:]) == ((SIDE // 2,) * 2, (SIDE // 4,) * 2)
    assert (told.shape[2:], told_marks.shape[2:]) == ((SIDE,) * 2, (SIDE // 2,) * 2)
    less = nn.functional.interpolate(told, picture.shape[2:], mode="bilinear", antialias=True)
    torch.testing.assert_close(picture, less)
    for across in (1, 2):  # the blots lie in the same places
        own, other = (one[:, 0].sum(across) for one in (marks, told_marks))
        middles = [(one * torch.linspace(0, 1, one.shape[1])).sum(1) / one.sum(1) for one in (own, other)]
        torch.testing.assert_close(*middles, atol=0.01, rtol=0, equal_nan=True)


def test_a_net_that_is_told_of_the_very_copy_it_sees_has_nothing_to_learn_from_itself() -> None:
    torch.manual_seed(11)
    image = (torch.rand(2, SIDE, SIDE, 3) * 255).byte()
    things = _things([[80, 80, 40, 40, 0], [160, 200, 40, 40, 0], [240, 90, 40, 40, 0]]).expand(2, -1, -1)
    for losses, fake, size in ((steady.finder_losses, FakeFinder, 96), (steady.checker_losses, FakeChecker, SIDE)):
        taught, strange = fake(), fake()
        own, other = (
            sum(float(one.detach()) for one in losses(net, taught, image, things, size, itself=True).values())
            for net in (taught, strange)
        )
        assert abs(own) < 1e-4 < other


def test_steps_cost_as_much_at_each_size() -> None:
    finder = iter(steady.counts("finder", 48))
    assert [next(finder) for _ in range(5)] == [48, 108, 48, 27, 48]
    assert next(iter(steady.counts("checker", 48))) == 48


def test_a_run_learns_is_saved_and_gone_on_from(tmp_path: Path) -> None:
    torch.manual_seed(10)
    export.write(Finder().eval(), tmp_path / "finder.onnx")
    chosen = argparse.Namespace(
        kind="finder",
        model=tmp_path / "finder.onnx",
        teacher=None,
        rounded=False,
        photos=tmp_path,
        rate=1e-3,
        resume=None,
    )
    run = steady.started(chosen, torch.device("cpu"))
    image = torch.rand(2, 3, 64, 64) * 255
    given = {"given": planes(image, torch.zeros(2, 1, 64, 64))}
    wanted = [part + 0.1 for part in run.taught(**given)]

    def losses(net: nn.Module, _: nn.Module) -> steady.Losses:
        return {
            str(i): (mine - theirs).square().mean()
            for i, (mine, theirs) in enumerate(zip(net(**given), wanted, strict=True))
        }

    said = [sum(float(v.detach()) for v in steady.learn(run, i, 1e-3, losses).values()) for i in range(4)]
    assert said[-1] < said[0]
    steady.save(run, tmp_path / "finder.npz")
    kept = learned.load(tmp_path / "finder.npz")
    assert kept.weights.keys() == run.net.learned().weights.keys()
    assert not kept.steps
    name = "net.dense.bias"
    assert np.abs(kept.weights[name] - run.taught.learned().weights[name]).max() > 1e-4
    chosen.resume = tmp_path / "finder.pt"
    again = steady.started(chosen, torch.device("cpu"))
    for mine, theirs in zip(again.net.parameters(), run.net.parameters(), strict=True):
        assert torch.equal(mine, theirs)
    before = again.average["weights." + name.replace(".", "|")].clone()
    steady.learn(again, 0, 1e-3, losses)  # the average goes on slowly, too
    moved = (again.average["weights." + name.replace(".", "|")] - before).abs().max()
    assert 0 < float(moved) < 1e-4

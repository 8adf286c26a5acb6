"""A net as the teacher of another: what differs costs, what is alike does not; norms go into their convolutions."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")

from curator.learning.network import export, teacher  # noqa: E402
from curator.learning.network.net import Finder, fold, folded  # noqa: E402


def _shaken(seed: int) -> Finder:
    """A net whose norms have seen something."""
    torch.manual_seed(seed)
    net = Finder()
    for _, norm in folded(net):
        norm.running_mean.normal_(0, 0.1)
        norm.running_var.uniform_(0.5, 2.0)
    return net.eval()


@torch.no_grad()
def _answers(net: Any, seed: int = 5) -> list[torch.Tensor]:
    torch.manual_seed(seed)
    image = torch.rand(1, 3, 64, 96) * 255
    return list(net(image, (image[:, :1] > 250).float()))


def test_a_teacher_goes_through_its_file_and_costs_nothing_to_itself(tmp_path: Path) -> None:
    net = _shaken(1)
    own = tuple(_answers(net))
    teacher.written(net, tmp_path / "teacher.ts")
    told = tuple(_answers(teacher.opened([tmp_path / "teacher.ts"], torch.device("cpu"))))
    for mine, theirs in zip(own, told, strict=True):
        scale = float(mine.abs().max())
        assert float((mine - theirs).abs().max()) < 0.02 * scale  # 16 bits
    assert all(abs(float(loss)) < 1e-4 for loss in teacher.total(own, own).values())


def test_several_teachers_say_their_mean_and_the_first_one_s_outlines(tmp_path: Path) -> None:
    files = [tmp_path / "one.ts", tmp_path / "two.ts"]
    for seed, file in enumerate(files, 1):
        teacher.written(_shaken(seed), file)
    one, two = (_answers(teacher.opened([file], torch.device("cpu"))) for file in files)
    both = _answers(teacher.opened(files, torch.device("cpu")))
    for k in (0, 1):
        assert torch.allclose(both[k], (one[k] + two[k]) / 2, atol=1e-4)
        assert not torch.allclose(both[k], one[k], atol=1e-2)
    assert torch.allclose(both[2], one[2], atol=1e-4)


def test_every_map_that_differs_costs_where_there_is_a_thing() -> None:
    torch.manual_seed(0)
    told = (torch.randn(1, 24, 16, 24), torch.randn(1, 39), torch.randn(1, 30, 16, 24))
    told[0][:, :8] -= 8.0
    told[0][0, 0, 5, 7] = 3.0
    said = tuple(torch.randn_like(part) for part in told)
    losses = teacher.total(said, told)
    assert set(losses) == {"like heat", "like size", "like kind", "like maps", "like mixes", "like whole"}
    assert all(float(loss) > 0.02 for loss in losses.values())
    far = said[0].clone()
    far[0, 4:6, 12:, :3] += 100.0  # sizes where nothing is are not asked for
    same = teacher.total((far, *said[1:]), told)["like size"]
    assert torch.isclose(same, losses["like size"], rtol=0.05)


def test_folding_norms_changes_no_answer() -> None:
    net = _shaken(3)
    before = _answers(net)
    fold(folded(net))
    for mine, theirs in zip(before, _answers(net), strict=True):
        np.testing.assert_allclose(mine, theirs, atol=1e-4)
    assert all(float(norm.running_mean.abs().max()) == 0 for _, norm in folded(net))


def test_one_file_s_mean_is_its_net_and_two_files_meet_halfway(tmp_path: Path) -> None:
    nets = [_shaken(7), _shaken(8)]
    paths = [tmp_path / "a.pt", tmp_path / "b.pt"]
    for net, path in zip(nets, paths, strict=True):
        torch.save(net.state_dict(), path)
    for mine, theirs in zip(_answers(nets[0]), _answers(export.load(paths[:1])), strict=True):
        np.testing.assert_allclose(mine, theirs, atol=1e-4)
    for net in nets:
        fold(folded(net))
    mean = export.load(paths)
    half = (nets[0].head[0][0].weight + nets[1].head[0][0].weight) / 2
    assert torch.allclose(mean.head[0][0].weight, half, atol=1e-6)

"""Averaged weights follow the net, and are saved in 16 bits."""

from __future__ import annotations

from pathlib import Path

import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")

from torch import nn  # noqa: E402

from curator.learning.network import averages  # noqa: E402


def test_they_follow_slowly_once_many_steps_are_done_and_take_counters_as_they_are(tmp_path: Path) -> None:
    net = nn.Sequential(nn.Linear(2, 1), nn.BatchNorm1d(1))
    average = averages.copied(net)
    with torch.no_grad():
        net[0].weight += 1.0
        net[1].num_batches_tracked += 7
    before = average["0.weight"].clone()
    averages.follow(average, net, 10_000, 0.9)
    assert torch.allclose(average["0.weight"] - before, torch.full((1, 2), 0.1), atol=1e-6)
    assert int(average["1.num_batches_tracked"]) == 7
    averages.follow(average, net, 0)  # at the beginning a tenth is kept
    assert torch.allclose(average["0.weight"], net[0].weight - 0.09, atol=1e-5)
    averages.save(average, tmp_path / "net.pt")
    kept = torch.load(tmp_path / "net.pt")
    assert kept["0.weight"].dtype == torch.float16
    assert kept["0.bias"].dtype == torch.float32
    wide = averages.load(tmp_path / "net.pt")
    assert wide["0.weight"].dtype == torch.float32
    assert torch.equal(wide["0.weight"], kept["0.weight"].float())
    assert int(wide["1.num_batches_tracked"]) == 7
    assert [file.name for file in tmp_path.iterdir()] == ["net.pt"]

"""Weights read back out of the shipped file, the norms that come back with them, and what outlines cost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")
pytest.importorskip("onnx", reason="onnx is not installed")

from curator.errors import CuratorError  # noqa: E402
from curator.learning.network import losses, recover  # noqa: E402
from curator.learning.network.checker import marked  # noqa: E402
from curator.learning.network.export import Shipped  # noqa: E402
from curator.learning.network.net import OUTLINE, SCALE_BINS, SHAPES, folded, planes  # noqa: E402
from curator.seeing.net.session import opened  # noqa: E402

MODELS = Path(__file__).parents[2] / "curator" / "models"


def test_the_shipped_weights_come_back_and_settling_changes_no_answer() -> None:
    probe = np.load(MODELS / "probe.npz")
    net = recover.recovered(MODELS / "finder.onnx")
    image = torch.from_numpy(probe["image"]).permute(2, 0, 1)[None].float()
    tap = torch.from_numpy(probe["tap"])[None, None]
    some = torch.rand(2, 3, 96, 96) * 255
    with torch.no_grad():
        before = Shipped(net).eval()(planes(image, tap))
        recover.settle([norm for _, norm in folded(net)], lambda: net(some, some[:, :1] * 0))
        after = Shipped(net).eval()(planes(image, tap))
    told = torch.from_numpy(probe["dense"])
    heat, wanted = (torch.sigmoid(one[:4]) for one in (before[0][0, :, ::4, ::4], told))
    np.testing.assert_allclose(heat, wanted, atol=0.08)  # the weights come out of bytes, and values are whole again
    assert before[1][0, SCALE_BINS:].argmax() == probe["whole"][SCALE_BINS:].argmax()
    for mine, settled in zip(before, after, strict=True):
        np.testing.assert_allclose(mine, settled, atol=2e-3)


def test_a_file_of_another_build_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(recover, "stored", lambda *_: ({}, []))
    with pytest.raises(CuratorError):
        recover.recovered(MODELS / "finder.onnx")


def test_the_checker_s_weights_come_back_out_of_bytes() -> None:
    net = recover.recovered_checker(MODELS / "checker.onnx")
    image = torch.from_numpy(np.load(MODELS / "probe.npz")["image"]).permute(2, 0, 1)[None].float()
    at = torch.tensor([[[24.0 + 44 * (k % 2), 24.0 + 36 * (k // 2), 22.0, 22.0] for k in range(8)]] * 2)
    marks = marked(at, torch.tensor([8, 5]), 80)[:, :, :48]
    (shipped,) = opened(MODELS / "checker.onnx").run(["answer"], {"image": image.numpy(), "marks": marks.numpy()})
    with torch.no_grad():
        before = net(image, marks).numpy()
        recover.settle([norm for _, norm in recover.folded_checker(net)], lambda: net(image, marks))
        after = net(image, marks).numpy()
    np.testing.assert_allclose(before, shipped, atol=0.5)  # values are whole again
    np.testing.assert_allclose(after, before, atol=2e-3)


def _batch(side: int = 24) -> dict[str, torch.Tensor]:
    """Two things in one picture: the left and the right half of a square."""
    ids = torch.zeros(1, 2, side, side, dtype=torch.long)
    ids[0, 0, 6:18, 4:11], ids[0, 0, 6:18, 13:20] = 1, 2
    return {
        "seen": torch.ones(1, 2, dtype=torch.bool),
        "extent": torch.tensor([[[48.0, 28.0], [48.0, 28.0]]]),
        "at": torch.tensor([[[11.5, 7.0], [11.5, 16.0]]]),
        "level": torch.zeros(1, 2),
        "ids": ids,
    }


def test_outlines_that_fit_cost_less_than_those_that_do_not() -> None:
    torch.manual_seed(0)
    batch = _batch()
    good = torch.zeros(1, OUTLINE, 24, 24)
    good[0, 0] = (batch["ids"][0, 0] > 0) * 16.0 - 8.0  # one map that shows both, wanted in full everywhere
    good[0, SHAPES] = 1.0
    bad = -good
    bad[0, SHAPES] = 1.0
    assert losses.outline_loss(good, batch) < 0.6 < losses.outline_loss(bad, batch)


def test_the_conic_alone_gives_an_ellipse_of_the_things_size() -> None:
    outline = torch.zeros(1, OUTLINE, 24, 24)
    outline[0, 2 * SHAPES], outline[0, 2 * SHAPES + 3], outline[0, 2 * SHAPES + 4] = 1.0, -1.0, -1.0
    place, extent = torch.tensor([[11.0, 11.0]]), torch.tensor([[48.0, 32.0]])
    logits, near = losses.mixed(outline, torch.tensor([0]), place, extent)
    inside = (logits[0] > 0) & near[0]
    rows, cols = torch.nonzero(inside, as_tuple=True)
    assert (int(rows.max() - rows.min()), int(cols.max() - cols.min())) == (10, 6)

"""An ONNX file's graph in torch: it answers as the file, learns, and goes back into a file that answers as it does."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")
onnx = pytest.importorskip("onnx", reason="onnx is not installed")

from torch import nn  # noqa: E402

from curator.errors import CuratorError  # noqa: E402
from curator.learning.network import checker, checker_export, export, graph, learned, net, rounded  # noqa: E402
from curator.seeing.net.session import opened  # noqa: E402
from tests.small_net import Small, exported, shown  # noqa: E402

NAMES = ("/first", "/second")


@pytest.fixture
def small(tmp_path: Path) -> Path:
    torch.manual_seed(2)
    return exported(Small(), tmp_path / "small.onnx")


def _in_bytes(path: Path) -> graph.Graph:
    plain = learned.plain(path)
    return graph.Graph(plain, NAMES, rounded.measured(plain, NAMES, shown(20)))


@torch.no_grad()
def _said(module: nn.Module, given: rounded.Given) -> list[np.ndarray]:
    return [part.numpy() for part in module(**{name: torch.from_numpy(value) for name, value in given.items()})]


def _shaken(module: nn.Module) -> nn.Module:
    """With norms that have seen something, and no weight that is nought everywhere."""
    for part in module.modules():
        if isinstance(part, nn.BatchNorm2d):
            part.running_mean.normal_(0, 0.1)
            part.running_var.uniform_(0.5, 2.0)
    for value in module.parameters():
        if value.requires_grad and not value.any():
            nn.init.normal_(value, 0, 0.05)
    return module.eval()


@pytest.mark.parametrize("kind", ["finder", "checker"])
def test_a_graph_answers_as_its_file(kind: str, tmp_path: Path) -> None:
    torch.manual_seed(4)
    path, chance = tmp_path / f"{kind}.onnx", np.random.default_rng(1)
    given = {"image": (chance.random((1, 3, 64, 96)) * 255).astype(np.float32)}
    if kind == "finder":
        export.write(_shaken(net.Finder()), path)
        tap = chance.random((1, 1, 64, 96)).astype(np.float32)
        given = {"given": np.concatenate([given["image"] - net.MEAN, tap], 1).astype(np.float32)}
    else:
        checker_export.write(_shaken(checker.Checker()), path)
        given["marks"] = chance.random((3, 2, 32, 48)).astype(np.float32)
    file = graph.opened(path, torch.device("cpu"))
    for mine, theirs in zip(_said(file, given), opened(path).run(None, given), strict=True):
        assert np.abs(mine - theirs).max() < 1e-4 * max(1.0, np.abs(theirs).max())
    copies = [one.name for one in learned.plain(path).initializer if graph.FIXED in one.name]
    assert copies == (["net.alike16.copy.weight"] if kind == "finder" else [])
    assert not copies or not file.learned().weights.keys() & set(copies)  # ones stay ones


def test_what_was_learned_in_bytes_goes_into_a_file_that_answers_alike(small: Path, tmp_path: Path) -> None:
    in_bytes, whole = _in_bytes(small), graph.opened(small, torch.device("cpu"))
    with torch.no_grad():  # as if something was learned
        for value in in_bytes.parameters():
            value *= 1 + 0.02 * torch.randn_like(value)
    learned.save(in_bytes.learned(), tmp_path / "small.npz")
    rounded.write(small, NAMES, [], tmp_path / "bytes.onnx", learned.load(tmp_path / "small.npz"))
    for given in shown(5, 6):
        (said,), (before,) = _said(in_bytes, given), _said(whole, given)
        (written,) = opened(tmp_path / "bytes.onnx").run(None, given)
        (back,) = _said(graph.gone_on(small, NAMES, learned.load(tmp_path / "small.npz")), given)
        np.testing.assert_allclose(back, said, atol=1e-6)
        assert np.abs(written - said).mean() < 0.1 * np.abs(said - before).mean()


def test_a_graph_in_bytes_learns_to_answer_as_it_did_before(small: Path) -> None:
    in_bytes, whole = _in_bytes(small), graph.opened(small, torch.device("cpu"))
    steps = {name: value.clone() for name, value in (in_bytes.steps | in_bytes.grains).items()}
    x = torch.from_numpy(np.concatenate([given["x"] for given in shown(16)]))
    optimiser, losses = torch.optim.Adam(in_bytes.parameters(), 1e-5), list[float]()
    for _ in range(40):
        loss = (in_bytes(x=x)[0] - whole(x=x)[0]).square().mean()
        optimiser.zero_grad()
        loss.backward()
        optimiser.step()
        losses.append(float(loss.detach()))
    assert np.mean(losses[-5:]) < 0.8 * losses[0]
    assert all(not torch.equal(value, steps[name]) for name, value in (in_bytes.steps | in_bytes.grains).items())


def test_a_step_is_drawn_towards_what_rounding_leaves() -> None:
    """By value: how far the whole number is from what it stands for; where values are cut off, by the last byte."""
    value = torch.tensor([[0.23, 0.5, 90.0, -1.0]], requires_grad=True)
    step = torch.tensor([0.1], requires_grad=True)
    made = graph.rounded_value(value, step, 0)
    np.testing.assert_allclose(made.detach().numpy(), [[0.2, 0.5, 25.5, 0.0]], atol=1e-5)
    made.sum().backward()
    assert value.grad.tolist() == [[1, 1, 0, 0]]
    share = 1 / (4 * graph.BYTE) ** 0.5
    assert float(step.grad) == pytest.approx(((2 - 2.3) + 0 + 255 + 0) * share, rel=1e-3)


def test_weights_have_seven_bits_of_a_step_for_each_channel() -> None:
    torch.manual_seed(1)
    weight = torch.randn(3, 4, 3, 3)
    steps = torch.tensor([0.01, 0.1, 1.0])
    whole = graph.rounded_weight(weight, steps) / steps.reshape(-1, 1, 1, 1)
    np.testing.assert_allclose(whole, whole.round(), atol=1e-3)
    assert whole.abs().amax((1, 2, 3)).round().tolist()[0] == rounded.MOST


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_a_file_takes_a_share_of_the_learned_weights(small: Path, tmp_path: Path, share: float) -> None:
    whole = graph.opened(small, torch.device("cpu"))
    other = whole.learned()
    moved = other._replace(weights={name: value + 1 for name, value in other.weights.items()})
    learned.write(small, moved, tmp_path / "moved.onnx", share)
    found = graph.opened(tmp_path / "moved.onnx", torch.device("cpu")).learned().weights
    assert found.keys() == other.weights.keys()
    for name, value in other.weights.items():
        np.testing.assert_allclose(found[name], value + share, atol=1e-6)


def test_weights_of_another_net_and_steps_of_other_layers_are_refused(small: Path, tmp_path: Path) -> None:
    own = _in_bytes(small).learned()
    name, value = next(iter(own.weights.items()))
    for wrong in (own.weights | {name: value[:1]}, {"other": np.zeros(3, np.float32)}):
        with pytest.raises(CuratorError, match="another net"):
            learned.write(small, own._replace(weights=wrong), tmp_path / "wrong.onnx")
    with pytest.raises(CuratorError, match="other layers"):
        rounded.write(small, ("/first",), [], tmp_path / "wrong.onnx", own)
    assert not (tmp_path / "wrong.onnx").exists()


def test_an_operator_that_is_not_known_is_named(tmp_path: Path) -> None:
    path = exported(nn.Sequential(nn.Conv2d(3, 2, 1), nn.ELU()), tmp_path / "other.onnx")
    with pytest.raises(CuratorError, match="Elu"):
        graph.opened(path, torch.device("cpu"))

"""Layers of a net in bytes: what rounding leaves of the answers, and what the file holds."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch", reason="torch is not installed")
onnx = pytest.importorskip("onnx", reason="onnx is not installed")

from torch import nn  # noqa: E402

from curator.learning.network import recover, rounded  # noqa: E402
from curator.seeing.net.session import opened  # noqa: E402
from tests.small_net import Small, exported, shown  # noqa: E402

MODELS = Path(__file__).parents[2] / "curator" / "models"


@pytest.fixture
def small(tmp_path: Path) -> Path:
    torch.manual_seed(2)
    return exported(Small(), tmp_path / "small.onnx")


def _of_type(path: Path, kind: int) -> list[np.ndarray]:
    stored = onnx.load(str(path)).graph.initializer
    return [onnx.numpy_helper.to_array(one) for one in stored if one.data_type == kind]


def test_a_net_with_layers_in_bytes_answers_nearly_as_before(small: Path, tmp_path: Path) -> None:
    digest = rounded.write(small, ("/first", "/second"), shown(20), tmp_path / "rounded.onnx")
    assert (tmp_path / "rounded.onnx.sha256").read_text().startswith(digest)
    for given in shown(5, 6):
        (before,), (after,) = (opened(path).run(None, given) for path in (small, tmp_path / "rounded.onnx"))
        assert 0 < np.abs(after - before).mean() < 0.03 * np.abs(before).mean()


def test_only_the_layers_named_are_rounded_and_to_7_bits(small: Path, tmp_path: Path) -> None:
    rounded.write(small, ("/first", "/second"), shown(4), tmp_path / "rounded.onnx")
    weights = _of_type(tmp_path / "rounded.onnx", onnx.TensorProto.INT8)
    assert sorted(one.shape for one in weights) == [(8, 8, 1, 1), (8, 8, 3, 3)]
    assert 50 < max(np.abs(one).max() for one in weights) <= rounded.MOST
    assert len(_of_type(tmp_path / "rounded.onnx", onnx.TensorProto.INT32)) == 2


def test_what_bytes_bend_by_themselves_is_left_out(small: Path, tmp_path: Path) -> None:
    """No value of the first layer's is above six or below nought, though the file does not say so any more."""
    rounded.write(small, ("/first",), shown(20), tmp_path / "rounded.onnx")
    graph = onnx.load(str(tmp_path / "rounded.onnx")).graph
    assert not [node.name for node in graph.node if node.op_type == "Clip"]
    ends = {one.name: onnx.numpy_helper.to_array(one) for one in graph.initializer}
    behind = next(node for node in graph.node if node.op_type == "QuantizeLinear" and "Clip" in node.input[0])
    step, nought = (ends[name] for name in behind.input[1:])
    assert (int(nought), float(step) * 255 <= 6.0 + 1e-6) == (0, True)


def test_steps_of_weights_leave_no_more_than_the_largest_weight_s() -> None:
    weight = np.random.default_rng(1).normal(size=(6, 64, 3, 3)).astype(np.float32)
    most = np.abs(weight).reshape(6, -1).max(1) / rounded.MOST
    left = []
    for steps in (rounded.grain(weight), most):
        each = steps.reshape(-1, 1, 1, 1)
        left.append(((np.clip(np.rint(weight / each), -rounded.MOST, rounded.MOST) * each - weight) ** 2).sum())
    assert left[0] <= left[1]


def test_a_channel_that_is_all_bias_keeps_it(tmp_path: Path) -> None:
    """Steps as small as its weights would make whole numbers of the bias that 32 bits do not hold."""
    torch.manual_seed(2)
    net = Small().eval()
    with torch.no_grad():
        net.first.weight[3] *= 1e-12
        net.first.bias[3] = 2.0
    path = exported(net, tmp_path / "small.onnx")
    rounded.write(path, ("/first",), shown(20), tmp_path / "rounded.onnx")
    (given,) = shown(1, 6)
    (before,), (after,) = (opened(one).run(None, given) for one in (path, tmp_path / "rounded.onnx"))
    assert np.abs(after - before).mean() < 0.03 * np.abs(before).mean()


@pytest.mark.parametrize("kind", sorted(rounded.ROUNDED))
def test_the_shipped_nets_have_the_layers_in_bytes_that_are_named(kind: str) -> None:
    path = MODELS / f"{kind}.onnx"
    graph = onnx.load(str(path)).graph
    small = {node.output[0] for node in graph.node if node.op_type == "DequantizeLinear"}
    in_bytes = [node.name for node in graph.node if node.op_type == "Conv" and node.input[1] in small]
    assert in_bytes
    assert in_bytes == [
        node.name for node in graph.node if node.op_type == "Conv" and node.name.startswith(rounded.ROUNDED[kind])
    ]


class Wrapped(nn.Module):
    """The same net inside another: its weights' names begin with `net.`."""

    def __init__(self) -> None:
        super().__init__()
        self.net = Small()

    def forward(self, x: torch.Tensor) -> torch.Tensor:
        return self.net(x)


def test_weights_of_a_wrapped_net_come_back_by_their_own_names(tmp_path: Path) -> None:
    torch.manual_seed(2)
    net = Wrapped()
    rounded.write(exported(net, tmp_path / "whole.onnx"), ("/net/first",), shown(2), tmp_path / "rounded.onnx")
    named, nameless = recover.stored(tmp_path / "rounded.onnx", frozenset(net.net.state_dict()))
    assert (named.keys(), nameless) == (net.net.state_dict().keys(), [])
    off = (named["first.weight"] - net.net.first.weight.detach()).abs()
    assert 0 < float(off.mean()) < 0.01
    assert torch.equal(named["second.weight"], net.net.second.weight)


@pytest.mark.parametrize("kind", sorted(rounded.WHOLE))
def test_no_layer_is_both_rounded_and_whole(kind: str) -> None:
    graph = onnx.load(str(MODELS / f"{kind}.onnx")).graph
    names = [node.name for node in graph.node if node.op_type == "Conv"]
    rounded_, whole = (
        {name for name in names if name.startswith(table[kind])} for table in (rounded.ROUNDED, rounded.WHOLE)
    )
    assert rounded_.isdisjoint(whole)
    assert rounded_ | whole == set(names)


def test_weights_come_back_out_of_bytes(small: Path, tmp_path: Path) -> None:
    rounded.write(small, ("/first",), shown(2), tmp_path / "rounded.onnx")
    (before, _), (after, _) = (
        recover.stored(path, frozenset(("first.weight",))) for path in (small, tmp_path / "rounded.onnx")
    )
    most = np.abs(before["first.weight"].numpy()).reshape(8, -1).max(1).reshape(-1, 1, 1, 1)
    off = np.abs(after["first.weight"] - before["first.weight"]).numpy()
    assert off.max() > 0
    assert (off <= 0.5 * most).all()
    assert off.mean() < 0.01 * most.mean()

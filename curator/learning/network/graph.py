"""An ONNX file's graph as a torch module that goes on learning, its convolutions rounded as `rounded` writes them.

Where it is rounded the steps learn beside the weights (Esser et al. 2020, Learned Step Size Quantization): the whole
numbers are taken as they are on the way in, and as if they were not rounded on the way back. Only the operators are
known that the finder's and the checker's files have.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import onnx
import torch
import torch.nn.functional as F  # noqa: N812
from numpy.typing import NDArray
from onnx import numpy_helper
from torch import Tensor, nn

from curator.errors import CuratorError
from curator.learning.network.learned import Learned, Step, plain, take_in
from curator.learning.network.rounded import MOST, grain, places

LEARN = ("Conv", "Gemm")  # whose weights and biases learn
FIXED = ".copy."  # in the name of a weight of ones that only copies
BY_NUMBERS = ("Clip", "Resize", "Split", "Slice", "ReduceSum")  # all but what they work on is constant
BYTE = 255
LEAST = 1e-9  # of a step
Settings = dict[str, Any]


class Node(NamedTuple):
    """One operator; `numbers` are the constants of those in BY_NUMBERS, None for one that is left out."""

    kind: str
    name: str
    given: list[str]
    made: list[str]
    settings: Settings
    numbers: list[Any]


class Graph(nn.Module):
    """The net of a graph (`learned.plain`), called with its inputs by name; its outputs in order.

    With `steps` (`rounded.measured`) the convolutions are rounded whose names begin with `names`. CuratorError where an
    operator is not known.
    """

    def __init__(self, graph: Any, names: tuple[str, ...] = (), steps: dict[str, Step] | None = None) -> None:
        super().__init__()
        constants = {one.name: _wide(numpy_helper.to_array(one)) for one in graph.initializer}
        self.nodes = [_node(node, constants) for node in graph.node]
        self.outputs = [one.name for one in graph.output]
        self.noughts = {name: int(nought) for name, (_, nought) in (steps or {}).items()}
        every = {name for node in self.nodes if node.kind in LEARN for name in node.given[1:] if FIXED not in name}
        self.weights = nn.ParameterDict({_key(name): _own(constants[name]) for name in constants if name in every})
        self.steps = nn.ParameterDict({_key(name): _own(np.array([step])) for name, (step, _) in (steps or {}).items()})
        rounded = places(graph, names)[0] if steps else []
        self.grains = nn.ParameterDict({_key(one.name): _own(grain(constants[one.input[1]])) for one in rounded})
        asked = {name for node in self.nodes for name in node.given} & constants.keys() - every
        for name in sorted(asked):
            self.register_buffer(_key(name), torch.from_numpy(constants[name].copy()))

    def forward(self, **values: Tensor) -> list[Tensor]:
        for node in self.nodes:
            given = [values[name] if name in values else self._stored(name) for name in node.given]
            if _key(node.name) in self.grains:
                given[1] = rounded_weight(given[1], self.grains[_key(node.name)])
            made = OPERATORS[node.kind](given, node.settings, node.numbers)
            for name, value in zip(node.made, made if isinstance(made, tuple) else (made,), strict=True):
                values[name] = self._rounded(name, value)
        return [values[name] for name in self.outputs]

    def learned(self) -> Learned:
        """What it has learned by now, by the names of the file."""
        weights, steps, grains = (
            {_name(key): np.array(value.detach().cpu(), order="C") for key, value in part.items()}
            for part in (self.weights, self.steps, self.grains)
        )
        told = {name: (np.float32(abs(step[0])), np.uint8(self.noughts[name])) for name, step in steps.items()}
        return Learned(weights, told, {name: np.abs(each) for name, each in grains.items()})

    def _stored(self, name: str) -> Tensor:
        key = _key(name)
        value: Tensor = self.weights[key] if key in self.weights else getattr(self, key)
        return value

    def _rounded(self, name: str, value: Tensor) -> Tensor:
        step = self.steps[_key(name)] if name in self.noughts else None
        return value if step is None else rounded_value(value, step, self.noughts[name])


def opened(model: Path, device: Any) -> Graph:
    """The net of an ONNX file as it is, ready to answer."""
    return Graph(plain(model)).to(device).to(memory_format=torch.channels_last).eval().requires_grad_(False)


@torch.no_grad()
def gone_on(model: Path, names: tuple[str, ...], learned: Learned) -> Graph:
    """The net of an ONNX file with what it learned since, ready to answer as the file that `rounded.write` makes."""
    graph = plain(model)
    take_in(graph, learned.weights)
    net = Graph(graph, names, learned.steps)
    for name, each in learned.grains.items():
        net.grains[_key(name)].copy_(torch.from_numpy(each))
    return net.eval()


def rounded_weight(weight: Tensor, steps: Tensor) -> Tensor:
    """A weight (out, in, h, w) in 7 bits, each channel that goes out by its step (out,)."""
    share = 1 / math.sqrt(weight[0].numel() * MOST)
    noughts = torch.zeros_like(steps)
    return torch._fake_quantize_learnable_per_channel_affine(
        weight, steps.abs() + LEAST, noughts, 0, -MOST, MOST, share
    )


def rounded_value(value: Tensor, step: Tensor, nought: int) -> Tensor:
    """A tensor (B, ...) in bytes of one step (1,), `nought` being the byte of 0."""
    share = 1 / math.sqrt(value[0].numel() * BYTE)
    if value.dim() == 4:  # laid out as convolutions leave it, or the way back is in another order
        value = value.contiguous(memory_format=torch.channels_last)
    noughts = torch.full_like(step, float(nought), requires_grad=False)
    return torch._fake_quantize_learnable_per_tensor_affine(value, step.abs() + LEAST, noughts, 0, BYTE, share)


def _node(node: Any, constants: dict[str, NDArray[Any]]) -> Node:
    if node.op_type not in OPERATORS:
        raise CuratorError(
            "Reading a net.", f"{node.op_type} is not known.", "Take the finder's or the checker's file."
        )
    settings = {one.name: onnx.helper.get_attribute_value(one) for one in node.attribute}
    given, numbers = list(node.input), list[Any]()
    if node.op_type in BY_NUMBERS:
        numbers = [constants[name].tolist() if name else None for name in given[1:]]
        given = given[:1]
    return Node(node.op_type, node.name, given, list(node.output), settings, numbers)


def _wide(values: NDArray[Any]) -> NDArray[Any]:
    return values.astype(np.float32) if values.dtype == np.float16 else values


def _own(values: NDArray[Any]) -> nn.Parameter:
    return nn.Parameter(torch.from_numpy(values.astype(np.float32)))


def _key(name: str) -> str:
    """As a module may call it."""
    return name.replace(".", "|")


def _name(key: str) -> str:
    return key.replace("|", ".")


def _conv(given: list[Tensor], s: Settings, _: list[Any]) -> Tensor:
    top, left, bottom, right = s["pads"]
    x, weight, *bias = given
    if (top, left) != (bottom, right):
        x, top, left = F.pad(x, (left, right, top, bottom)), 0, 0
    return F.conv2d(x, weight, bias[0] if bias else None, s["strides"], (top, left), groups=s.get("group", 1))


def _resize(given: list[Tensor], s: Settings, numbers: list[Any]) -> Tensor:
    larger = numbers[1][2:]
    if s["mode"] == b"nearest":
        return F.interpolate(given[0], scale_factor=larger, mode="nearest")
    return F.interpolate(given[0], scale_factor=larger, mode="bilinear", align_corners=False)


def _slice(given: list[Tensor], _: Settings, numbers: list[Any]) -> Tensor:
    value = given[0]
    for start, end, axis in zip(*numbers[:3], strict=True):
        value = value.narrow(axis, start, min(end, value.shape[axis]) - start)
    return value


def _mean(given: list[Tensor], s: Settings, _: list[Any]) -> Tensor:
    return given[0].mean(tuple(s["axes"]), keepdim=bool(s["keepdims"]))


def _largest(given: list[Tensor], s: Settings, _: list[Any]) -> Tensor:
    return given[0].amax(tuple(s["axes"]), keepdim=bool(s["keepdims"]))


def _sum(given: list[Tensor], s: Settings, numbers: list[Any]) -> Tensor:
    return given[0].sum(tuple(numbers[0]), keepdim=bool(s.get("keepdims", 1)))


OPERATORS: dict[str, Callable[[list[Tensor], Settings, list[Any]], Tensor | tuple[Tensor, ...]]] = {
    "Conv": _conv,
    "Gemm": lambda given, *_: F.linear(*given),
    "Clip": lambda given, _, ends: given[0].clamp(*ends),
    "Relu": lambda given, *_: F.relu(given[0]),
    "Sigmoid": lambda given, *_: torch.sigmoid(given[0]),
    "Log": lambda given, *_: torch.log(given[0]),
    "Sqrt": lambda given, *_: torch.sqrt(given[0]),
    "Add": lambda given, *_: given[0] + given[1],
    "Sub": lambda given, *_: given[0] - given[1],
    "Mul": lambda given, *_: given[0] * given[1],
    "Div": lambda given, *_: given[0] / given[1],
    "MaxPool": lambda given, s, _: F.max_pool2d(given[0], s["kernel_shape"], s["strides"]),
    "AveragePool": lambda given, s, _: F.avg_pool2d(given[0], s["kernel_shape"], s["strides"]),
    "ReduceMean": _mean,
    "ReduceMax": _largest,
    "ReduceSum": _sum,
    "Resize": _resize,
    "Slice": _slice,
    "Split": lambda given, s, numbers: torch.split(given[0], numbers[0], s["axis"]),
    "Concat": lambda given, s, _: torch.cat(given, s["axis"]),
}

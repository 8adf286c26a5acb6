"""Make `models/palms.onnx` and `models/hands.onnx` of the nets as published (models/README.md):
`python -m curator.learning.hands_files palm_detection_full.tflite hand_landmark_full.tflite -o curator/models`.

The files as published are of another format, with weights of 16 bits. They are written out anew, layer by layer, in the
format that onnxruntime reads; no weight is changed. Palms may then be sought in a square of any size.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import onnx
import tflite
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper

from curator.learning.sums import write_sum

Array = NDArray[Any]


class Made(NamedTuple):
    """One file: its name, and the names of its outputs in the order of the published one ("" is left out)."""

    name: str
    outputs: tuple[str, ...]
    any_size: bool


PALMS = Made("palms.onnx", ("places", "scores"), True)
HANDS = Made("hands.onnx", ("joints", "present", "", "solid"), False)
_TYPES = {"FLOAT32": np.float32, "FLOAT16": np.float16, "INT32": np.int32}


def _names(of: type) -> dict[int, str]:
    return {value: name for name, value in vars(of).items() if isinstance(value, int)}


class _Writer:
    """The graph as it grows: a picture's channels come before its rows and columns in it, as published after them."""

    def __init__(self, data: bytes) -> None:
        self.net = tflite.Model.GetRootAsModel(data, 0)
        self.graph = self.net.Subgraphs(0)
        self.tensors = [self.graph.Tensors(i) for i in range(self.graph.TensorsLength())]
        kinds = _names(tflite.TensorType)
        self.known: dict[int, Array] = {}
        for i, tensor in enumerate(self.tensors):
            raw = self.net.Buffers(tensor.Buffer()).DataAsNumpy()
            if not isinstance(raw, int) and raw is not None and len(raw):
                values = np.frombuffer(raw.tobytes(), _TYPES[kinds[tensor.Type()]])
                self.known[i] = values.reshape(self.shape(i))
        self.nodes: list[onnx.NodeProto] = []
        self.weights: list[onnx.TensorProto] = []

    def shape(self, i: int) -> list[int]:
        """A tensor's shape as published."""
        return [int(n) for n in self.tensors[i].ShapeAsNumpy()] if self.tensors[i].ShapeLength() else []

    def add(self, kind: str, inputs: Sequence[str], output: str, **more: Any) -> str:
        """One node; its output."""
        self.nodes.append(helper.make_node(kind, inputs, [output], **more))
        return output

    def weight(self, values: Array) -> str:
        """A constant; weights stay as short as they were published and are lengthened when the file is opened."""
        name = f"w{len(self.weights)}"
        short = values.dtype == np.float32 and np.array_equal(values.astype(np.float16).astype(np.float32), values)
        kept = values.astype(np.float16) if short and values.ndim else values
        self.weights.append(numpy_helper.from_array(np.ascontiguousarray(kept), name))
        return self.add("Cast", [name], f"{name}_long", to=TensorProto.FLOAT) if kept is not values else name

    def options(self, operator: Any, kind: type) -> Any:
        """The operator's own settings."""
        found, table = kind(), operator.BuiltinOptions()
        found.Init(table.Bytes, table.Pos)
        return found

    def then(self, activation: int, kind: str, inputs: Sequence[str], output: str, **more: Any) -> None:
        """One node and what follows it in the same published layer."""
        names = _names(tflite.ActivationFunctionType)
        if names[activation] == "NONE":
            self.add(kind, inputs, output, **more)
            return
        before = self.add(kind, inputs, f"{output}_before", **more)
        if names[activation] == "RELU6":
            self.add("Clip", [before, self.weight(np.float32(0)), self.weight(np.float32(6))], output)
        else:
            self.add({"RELU": "Relu"}[names[activation]], [before], output)


def _pads(padding: int, sides: Sequence[int], kernel: Sequence[int], strides: Sequence[int]) -> list[int]:
    """What SAME adds before and after rows and columns: what is odd comes after."""
    if padding == tflite.Padding.VALID:
        return [0, 0, 0, 0]
    more = [max(0, (-(-n // s) - 1) * s + k - n) for n, k, s in zip(sides, kernel, strides, strict=True)]
    return [m // 2 for m in more] + [m - m // 2 for m in more]


def _convolution(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    deep = net.known[inputs[1]].shape[0] == 1 and net.known[inputs[1]].shape[3] == net.shape(inputs[0])[3]
    kind = tflite.DepthwiseConv2DOptions if deep else tflite.Conv2DOptions
    chosen = net.options(operator, kind)
    weights = net.known[inputs[1]].transpose((3, 0, 1, 2) if deep else (0, 3, 1, 2))
    strides = [chosen.StrideH(), chosen.StrideW()]
    sides = net.shape(inputs[0])[1:3]
    net.then(
        chosen.FusedActivationFunction(),
        "Conv",
        [f"t{inputs[0]}", net.weight(weights), net.weight(net.known[inputs[2]])],
        f"t{output}",
        strides=strides,
        group=weights.shape[0] if deep else 1,
        pads=_pads(chosen.Padding(), sides, weights.shape[2:], strides),
    )


def _pool(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    chosen = net.options(operator, tflite.Pool2DOptions)
    kernel, strides = [chosen.FilterHeight(), chosen.FilterWidth()], [chosen.StrideH(), chosen.StrideW()]
    pads = _pads(chosen.Padding(), net.shape(inputs[0])[1:3], kernel, strides)
    more: dict[str, Any] = {"kernel_shape": kernel, "strides": strides, "pads": pads}
    net.then(chosen.FusedActivationFunction(), "MaxPool", [f"t{inputs[0]}"], f"t{output}", **more)


def _sum(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    chosen = net.options(operator, tflite.AddOptions)
    net.then(chosen.FusedActivationFunction(), "Add", [f"t{i}" for i in inputs], f"t{output}")


def _full(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    chosen = net.options(operator, tflite.FullyConnectedOptions)
    given = [f"t{inputs[0]}", net.weight(net.known[inputs[1]]), net.weight(net.known[inputs[2]])]
    net.then(chosen.FusedActivationFunction(), "Gemm", given, f"t{output}", transB=1)


def _pad(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    around = net.known[inputs[1]][[0, 3, 1, 2]]
    net.add("Pad", [f"t{inputs[0]}", net.weight(around.T.ravel().astype(np.int64))], f"t{output}")


def _resize(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    chosen = net.options(operator, tflite.ResizeBilinearOptions)
    times = [new / old for new, old in zip(net.shape(output)[1:3], net.shape(inputs[0])[1:3], strict=True)]
    scales = net.weight(np.array([1, 1, *times], np.float64).astype(np.float32))
    way = "half_pixel" if chosen.HalfPixelCenters() else "asymmetric"
    net.add("Resize", [f"t{inputs[0]}", "", scales], f"t{output}", mode="linear", coordinate_transformation_mode=way)


def _reshape(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    last = net.add("Transpose", [f"t{inputs[0]}"], f"t{output}_last", perm=[0, 2, 3, 1])
    shape = net.weight(np.array([1, -1, net.shape(output)[-1]], np.int64))
    net.add("Reshape", [last, shape], f"t{output}")


def _joined(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    axis = net.options(operator, tflite.ConcatenationOptions).Axis()
    net.add("Concat", [f"t{i}" for i in inputs], f"t{output}", axis=axis)


def _mean(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    net.add("ReduceMean", [f"t{inputs[0]}"], f"t{output}", axes=[2, 3], keepdims=0)


def _slopes(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    net.add("PRelu", [f"t{inputs[0]}", net.weight(net.known[inputs[1]].reshape(-1, 1, 1))], f"t{output}")


def _likely(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    net.add("Sigmoid", [f"t{inputs[0]}"], f"t{output}")


def _longer(net: _Writer, operator: Any, inputs: list[int], output: int) -> None:
    net.known[output] = net.known[inputs[0]].astype(np.float32)


_LAYERS: dict[str, Callable[[_Writer, Any, list[int], int], None]] = {
    "DEQUANTIZE": _longer,
    "CONV_2D": _convolution,
    "DEPTHWISE_CONV_2D": _convolution,
    "PRELU": _slopes,
    "ADD": _sum,
    "MAX_POOL_2D": _pool,
    "PAD": _pad,
    "RESIZE_BILINEAR": _resize,
    "RESHAPE": _reshape,
    "CONCATENATION": _joined,
    "MEAN": _mean,
    "FULLY_CONNECTED": _full,
    "LOGISTIC": _likely,
}


def written(data: bytes, made: Made) -> onnx.ModelProto:
    """The published net `data` as `made`; KeyError where it has a layer that these nets have not."""
    net = _Writer(data)
    kinds = _names(tflite.BuiltinOperator)
    for k in range(net.graph.OperatorsLength()):
        operator = net.graph.Operators(k)
        code = net.net.OperatorCodes(operator.OpcodeIndex())
        kind = kinds[max(code.BuiltinCode(), code.DeprecatedBuiltinCode())]
        inputs = [int(i) for i in operator.InputsAsNumpy()]
        _LAYERS[kind](net, operator, inputs, int(operator.OutputsAsNumpy()[0]))
    (given,) = (int(i) for i in net.graph.InputsAsNumpy())
    named = {f"t{given}": "picture"}
    shapes = []
    for i, name in zip((int(i) for i in net.graph.OutputsAsNumpy()), made.outputs, strict=True):
        if name:
            named[f"t{i}"] = name
            sides = [*net.shape(i)]
            shapes.append((name, [sides[0], "anchors", *sides[2:]] if made.any_size else sides))
    for node in net.nodes:
        for names in (node.input, node.output):
            names[:] = [named.get(name, name) for name in names]
    needed = _needed(net.nodes, {name for name, _ in shapes})
    side: list[int | str] = ["height", "width"] if made.any_size else [*net.shape(given)[1:3]]
    used = {name for node in needed for name in node.input}
    graph = helper.make_graph(
        needed,
        made.name,
        [helper.make_tensor_value_info("picture", TensorProto.FLOAT, [1, 3, *side])],
        [helper.make_tensor_value_info(name, TensorProto.FLOAT, shape) for name, shape in shapes],
        [weight for weight in net.weights if weight.name in used],
    )
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    onnx.checker.check_model(model)
    return model


def _needed(nodes: list[onnx.NodeProto], outputs: set[str]) -> list[onnx.NodeProto]:
    """The nodes that these outputs go by, in their order."""
    wanted, kept = set(outputs), []
    for node in reversed(nodes):
        if wanted.intersection(node.output):
            wanted.update(node.input)
            kept.append(node)
    return kept[::-1]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("palms", type=Path)
    options.add_argument("hands", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path("curator/models"))
    chosen = options.parse_args()
    for file, made in ((chosen.palms, PALMS), (chosen.hands, HANDS)):
        data = written(file.read_bytes(), made).SerializeToString()
        (chosen.output / made.name).write_bytes(data)
        write_sum(chosen.output / made.name)


if __name__ == "__main__":
    main()

"""Layers of a net made to work on bytes: a third of their time on processors that multiply bytes.

    python -m curator.learning.network.rounded finder FINDER.onnx --learned FINDER.npz -o curator/models
    python -m curator.learning.network.rounded checker CHECKER.onnx --learned CHECKER.npz -o curator/models

Values are rounded to 8 bits and weights, channel by channel, to 7 (after Jacob et al. 2018, Quantization and Training
of Neural Networks): products of bytes then add up within 16 bits on every processor, and the answers are the same on
all. Which layers: nearly all but those that take the picture and those that answer (`.docs/experiments.md`). Steps come
of the values on some photos, or, as so many layers need it, were learned together with the weights (`steady`).
onnxruntime's own tool takes a channel's largest weight for its step, which leaves twice the difference, and keeps what
bends.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
from numpy.typing import NDArray
from onnx import helper, numpy_helper

from curator.errors import CuratorError
from curator.learning.network.learned import Learned, Step, load, model_of, plain, take_in
from curator.learning.photos import real
from curator.learning.sums import write_sum
from curator.records import Box, Thing, ThingSet
from curator.seeing.net import checker, runtime

ROUNDED = {
    "finder": tuple(f"/_blocks.{i}/" for i in range(1, 16))
    + ("/from", "/wide", "/join", "/down/", "/head/")
    + tuple(f"/alike{stride}/{part}/" for stride in (8, 16) for part in ("key", "out")),
    "checker": tuple(f"/trunk/_blocks.{i}/" for i in range(1, 16)) + ("/more/",),
}
"""Names of the layers that are rounded begin so."""
WHOLE = {
    "finder": ("/stem/", "/_blocks.0/", "/alike16/copy/", "/alike8/copy/", "/dense/", "/shapes/", "/mixes/", "/globe/"),
    "checker": ("/trunk/_conv_stem", "/stem", "/trunk/_blocks.0/"),
}
"""Names of the convolutions that are not."""
PHOTOS = 24
MOST = 63  # weights: of two bytes times two such weights the sum is below 2 ** 15
LARGEST = 2.0**30  # of a whole bias: where a channel's weights are next to nothing its step is no smaller
CUT_OFF = 1e-5  # of a map's values lie beyond what its bytes reach
BENT = ("Clip", "Relu")
Given = dict[str, NDArray[np.float32]]


def shown_to_finder(photos: Path) -> Iterator[Given]:
    """Some packed photos as the tool shows them to the finder, without taps and with one: some values are nought
    without.
    """
    for scene in _some(photos):
        for size in runtime.SIZES:
            for taps in ((), scene.centers[:1].tolist()):
                yield {"given": runtime.given(scene.image, size, taps)[0]}


def shown_to_checker(photos: Path) -> Iterator[Given]:
    """Some packed photos as the tool shows them to the checker, each with all that is boxed and with all but one."""
    for scene in _some(photos):
        things = [
            Thing(Box(*(round(v) for v in box)), (float(at[0]), float(at[1])))
            for box, at in zip(scene.boxes.tolist(), scene.centers, strict=True)
        ]
        sets = [ThingSet(tuple(some), scene.image.shape[:2], "boxed") for some in (things, things[1:])]
        yield checker.given(scene.image, sets)


SHOWN = {"finder": shown_to_finder, "checker": shown_to_checker}


def _some(photos: Path) -> list[Any]:
    every = [scene for scene, _ in real.scenes(photos) if len(scene.boxes) > 1]
    return every[:: max(1, len(every) // PHOTOS)]


def write(
    model: Path, names: tuple[str, ...], shown: Iterable[Given], path: Path, learned: Learned | None = None
) -> str:
    """The net of an ONNX file with the convolutions in bytes whose names begin so; the SHA-256, which goes beside.

    Each takes and makes bytes. What bends behind it (nothing below nought, nothing above six) is what rounding from
    nought on does by itself, and is left out; steps that were learned may let a value be a hundredth above six. Weights
    are those `learned`, and so are steps if it has any: then nothing is shown. CuratorError where it is of another net
    or of other layers.
    """
    graph = plain(model)
    if learned:
        take_in(graph, learned.weights)
    constants = _constants(graph)
    maker = {name: node for node in graph.node for name in node.output}
    rounded, values = places(graph, names)
    if learned and learned.steps:
        _check_same(learned, rounded, values)
        writer = _Writer(learned.steps, learned.grains)
    else:
        writer = _Writer(measured(graph, names, shown), {})
    bent = _bent(graph)
    dropped = [bent[name] for name in values if name in bent and len(_users(graph, bent[name].input[0])) == 1]
    for node in graph.node:
        if node in dropped:
            maker[node.input[0]].output[0] = node.output[0]
    for node in [node for node in graph.node if node not in dropped]:
        writer.add(node, constants, in_bytes=node in rounded)
    whole = helper.make_graph(writer.nodes, path.stem, graph.input, graph.output, writer.kept(constants))
    written = model_of(whole)
    onnx.checker.check_model(written)
    onnx.save(written, str(path))
    return write_sum(path)


def places(graph: Any, names: tuple[str, ...]) -> tuple[list[Any], list[str]]:
    """The convolutions whose names begin so, and the tensors that are bytes: what each takes and what it makes."""
    rounded = [node for node in graph.node if node.op_type == "Conv" and node.name.startswith(names)]
    return rounded, list(dict.fromkeys(name for node in rounded for name in (node.input[0], _behind(node, graph))))


def measured(graph: Any, names: tuple[str, ...], shown: Iterable[Given]) -> dict[str, Step]:
    """The steps of the tensors that are bytes (`places`), by what they hold when the net is shown something."""
    bent, constants = _bent(graph), _constants(graph)
    ends = _ends(graph, places(graph, names)[1], shown)
    return {name: _step(*both, bent.get(name), constants) for name, both in ends.items()}


def _check_same(learned: Learned, rounded: list[Any], values: list[str]) -> None:
    if learned.grains.keys() != {node.name for node in rounded} or learned.steps.keys() != set(values):
        raise CuratorError("Taking learned steps.", "They are of other layers.", "Learn these layers' steps.")


def _constants(graph: Any) -> dict[str, NDArray[Any]]:
    return {one.name: numpy_helper.to_array(one) for one in graph.initializer}


def _bent(graph: Any) -> dict[str, Any]:
    """What bends, by the tensor that it makes."""
    return {made: node for node in graph.node if node.op_type in BENT for made in node.output}


def _users(graph: Any, name: str) -> list[Any]:
    """The operators that take this tensor."""
    return [node for node in graph.node if name in node.input]


def _behind(node: Any, graph: Any) -> str:
    """The tensor that is rounded behind a convolution: what it makes, or what is bent of it at once."""
    users = _users(graph, node.output[0])
    alone = len(users) == 1 and users[0].op_type in BENT
    return str(users[0].output[0] if alone else node.output[0])


def _ends(graph: Any, values: list[str], shown: Iterable[Given]) -> dict[str, tuple[float, float]]:
    """The least and the largest value of these tensors on what the net is shown, but for CUT_OFF at each end."""
    model = model_of(graph)
    model.graph.output.extend(onnx.ValueInfoProto(name=name) for name in values)
    session = onnxruntime.InferenceSession(model.SerializeToString(), providers=["CPUExecutionProvider"])
    found = dict.fromkeys(values, (0.0, 0.0))
    for given in shown:
        for name, value in zip(values, session.run(values, given), strict=True):
            low, high = np.quantile(value, [CUT_OFF, 1 - CUT_OFF])
            found[name] = min(found[name][0], float(low)), max(found[name][1], float(high))
    return found


def _step(low: float, high: float, bent: Any, constants: dict[str, Any]) -> Step:
    """How far two bytes are apart, and which is nought; no further up than where the values are bent."""
    if bent is not None and bent.op_type == "Clip":
        high = min(high, float(constants[bent.input[2]]))
    step = max(high - low, 1e-6) / 255
    return np.float32(step), np.uint8(round(-low / step))


def grain(weight: NDArray[np.float32]) -> NDArray[np.float32]:
    """For each channel that goes out (out, in, h, w) the step that leaves the least squared error in 7 bits."""
    flat = weight.reshape(len(weight), -1)
    most = np.maximum(np.abs(flat).max(1), 1e-8) / MOST
    steps = most * np.linspace(0.5, 1.0, 26)[:, None]
    kept = np.clip(np.rint(flat / steps[..., None]), -MOST, MOST) * steps[..., None]
    best = ((kept - flat) ** 2).sum(2).argmin(0)
    return np.asarray(steps[best, np.arange(len(flat))], np.float32)


class _Writer:
    """The operators of a file that is written, with those that round and widen between them, and its new constants."""

    def __init__(self, steps: dict[str, Step], grains: dict[str, NDArray[np.float32]]) -> None:
        self.steps, self.grains = steps, grains
        self.nodes, self.new = list[Any](), dict[str, NDArray[Any]]()

    def add(self, node: Any, constants: dict[str, Any], *, in_bytes: bool) -> None:
        """One operator; where it works in bytes, its weight and bias are widened from whole numbers before."""
        if in_bytes:
            weight = constants[node.input[1]]
            least = np.abs(constants[node.input[2]]) / self.steps[node.input[0]][0] / LARGEST
            own = self.grains[node.name] if node.name in self.grains else grain(weight)
            each = np.maximum(own, least.astype(np.float32))
            whole = np.clip(np.rint(weight / each.reshape(-1, 1, 1, 1)), -MOST, MOST).astype(np.int8)
            self._widened(node.input[1], whole, each)
            each = (each * self.steps[node.input[0]][0]).astype(np.float32)
            self._widened(node.input[2], np.rint(constants[node.input[2]] / each).astype(np.int32), each)
        self.nodes.append(node)
        for i, name in enumerate(node.output):
            if name in self.steps:
                node.output[i] = f"{name}/whole"
                self._rounded(name)

    def _widened(self, name: str, whole: NDArray[Any], each: NDArray[np.float32]) -> None:
        self.new |= {f"{name}/small": whole, f"{name}/step": each}
        self._node("DequantizeLinear", [f"{name}/small", f"{name}/step"], name, axis=0)

    def _rounded(self, name: str) -> None:
        """A tensor made bytes and widened again: a runtime has the convolutions work on the bytes."""
        step, nought = self.steps[name]
        self.new |= {f"{name}/step": np.array(step), f"{name}/nought": np.array(nought)}
        by = [f"{name}/step", f"{name}/nought"]
        self._node("QuantizeLinear", [f"{name}/whole", *by], f"{name}/byte")
        self._node("DequantizeLinear", [f"{name}/byte", *by], name)

    def _node(self, kind: str, given: list[str], made: str, **settings: int) -> None:
        self.nodes.append(helper.make_node(kind, given, [made], f"{made}/{kind}", **settings))

    def kept(self, constants: dict[str, Any]) -> list[Any]:
        """The constants that the operators still ask for, and the new ones."""
        asked = {name for node in self.nodes for name in node.input}
        made = {name for node in self.nodes for name in node.output}
        every = {name: value for name, value in constants.items() if name in asked - made} | self.new
        return [numpy_helper.from_array(value, name) for name, value in every.items()]


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("kind", choices=sorted(ROUNDED))
    options.add_argument("model", type=Path, help="the ONNX file in 32 bits")
    options.add_argument("--photos", type=Path, default=Path(".learn/real"), help="packed photos to measure on")
    options.add_argument("--learned", type=Path, help="weights, and steps if any, that `steady` learned")
    options.add_argument("-o", "--output", type=Path, default=Path("curator/models"))
    chosen = options.parse_args()
    chosen.output.mkdir(parents=True, exist_ok=True)
    path = chosen.output / f"{chosen.kind}.onnx"
    learned = load(chosen.learned) if chosen.learned else None
    digest = write(chosen.model, ROUNDED[chosen.kind], SHOWN[chosen.kind](chosen.photos), path, learned)
    print(digest, f"{path.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()

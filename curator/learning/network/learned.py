"""What an exported net learned since, and the ONNX file with it in 32 bits:
`python -m curator.learning.network.learned MODEL.onnx LEARNED.npz [--share 0.5] -o FILE.onnx`.

`steady` writes such a file of weights by the names that the ONNX file has for them, with the steps of bytes where these
were learned too. With --share 0.5 the weights written are the mean of these and of MODEL's own.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import onnx
import onnxruntime
from numpy.typing import NDArray
from onnx import helper, numpy_helper

from curator.errors import CuratorError
from curator.learning.sums import write_sum

Step = tuple[np.float32, np.uint8]  # how far two bytes of a tensor are apart, and which is nought
KINDS = ("weight", "step", "grain")


class Learned(NamedTuple):
    """Arrays by the names of an ONNX file as `plain` gives it; `steps` and `grains` are empty where nothing is rounded.

    A grain is the step of a convolution's weights, for each channel that goes out; its key is the convolution's name.
    """

    weights: dict[str, NDArray[np.float32]]
    steps: dict[str, Step]
    grains: dict[str, NDArray[np.float32]]


def save(learned: Learned, path: Path) -> None:
    """Write it, whole or not at all."""
    steps = {name: np.array(step, np.float64) for name, step in learned.steps.items()}
    parts = zip(KINDS, (learned.weights, steps, learned.grains), strict=True)
    arrays: dict[str, Any] = {f"{kind} {name}": value for kind, part in parts for name, value in part.items()}
    part = path.with_suffix(".part")
    with part.open("wb") as file:
        np.savez(file, **arrays)
    part.replace(path)


def load(path: Path) -> Learned:
    """What `save` wrote."""
    found: dict[str, dict[str, Any]] = {kind: {} for kind in KINDS}
    with np.load(path) as stored:
        for key in stored.files:
            kind, name = key.split(" ", 1)
            found[kind][name] = stored[key]
    steps = {name: (np.float32(step), np.uint8(nought)) for name, (step, nought) in found["step"].items()}
    return Learned(found["weight"], steps, found["grain"])


def plain(model: Path) -> Any:
    """The file's graph once what does not depend on the input is worked out."""
    with tempfile.TemporaryDirectory() as folder:
        options = onnxruntime.SessionOptions()
        options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_ENABLE_BASIC
        options.optimized_model_filepath = f"{folder}/plain.onnx"
        onnxruntime.InferenceSession(str(model), options, providers=["CPUExecutionProvider"])
        return onnx.load(options.optimized_model_filepath).graph


def model_of(graph: Any) -> onnx.ModelProto:
    """A model of this graph, as this project's files are."""
    return helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)


def take_in(graph: Any, weights: dict[str, NDArray[np.float32]], share: float = 1.0) -> None:
    """Move the graph's weights towards those learned, at `share` 1 all the way; CuratorError where they are of another
    net.
    """
    stored = {one.name: one for one in graph.initializer}
    for name, value in weights.items():
        own = numpy_helper.to_array(stored[name]) if name in stored else np.zeros(0)
        if own.shape != value.shape:
            raise CuratorError("Taking learned weights.", "They are of another net.", "Take those of this file.")
        stored[name].CopyFrom(numpy_helper.from_array((share * value + (1 - share) * own).astype(np.float32), name))


def write(model: Path, learned: Learned, path: Path, share: float = 1.0) -> str:
    """The net of an ONNX file in 32 bits with its weights moved (`take_in`); the SHA-256, which goes beside."""
    graph = plain(model)
    take_in(graph, learned.weights, share)
    onnx.save(model_of(graph), str(path))
    return write_sum(path)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("model", type=Path, help="the ONNX file in 32 bits that the learning began with")
    options.add_argument("learned", type=Path)
    options.add_argument("--share", type=float, default=1.0, help="of the learned weights, the rest being the model's")
    options.add_argument("-o", "--output", type=Path, required=True)
    chosen = options.parse_args()
    print(write(chosen.model, load(chosen.learned), chosen.output, chosen.share))


if __name__ == "__main__":
    main()

"""Write the checker's trained weights as an ONNX file, for pictures as large as it was trained with, or of --side:
`python -m curator.learning.network.checker_export CHECKER.pt [--side 256] -o FOLDER`.

What ships is made of both by `steady` and `rounded`. The weights are stored in 16 bits and widened when the file is
opened: half the size, answers within a hundredth.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper

from curator.learning.network import averages
from curator.learning.network.checker import SIDE, Checker
from curator.learning.sums import write_sum

NAME = "checker.onnx"
SMALL = 64  # numbers; shorter tensors stay as they are


def load(weights: Path, side: int = SIDE) -> Checker:
    """The net with these weights, ready to answer of pictures whose longer side is so many pixels."""
    net = Checker(side)
    net.load_state_dict(averages.load(weights))
    return net.eval()


def write(net: Checker, path: Path) -> str:
    """Export for any number of sets of one picture, its sides multiples of 32, and its SHA-256 beside, which it
    returns.
    """
    free = {2: "height", 3: "width"}
    torch.onnx.export(
        net,
        (torch.zeros(1, 3, SIDE, SIDE), torch.zeros(2, 2, SIDE // 2, SIDE // 2)),
        str(path),
        dynamo=False,
        opset_version=17,
        input_names=["image", "marks"],
        output_names=["answer"],
        dynamic_axes={"image": free, "marks": {0: "sets", **free}, "answer": {0: "sets"}},
    )
    onnx.save(narrowed(onnx.load(str(path))), str(path))
    return write_sum(path)


def narrowed(model: onnx.ModelProto) -> onnx.ModelProto:
    """The same net with its weights in 16 bits, each widened by a cast, which runtimes do once."""
    graph, casts = model.graph, []
    for stored in list(graph.initializer):
        values = numpy_helper.to_array(stored)
        if stored.data_type != TensorProto.FLOAT or values.size < SMALL:
            continue
        narrow = numpy_helper.from_array(values.astype(np.float16), f"{stored.name}_16")
        casts.append(helper.make_node("Cast", [narrow.name], [stored.name], to=TensorProto.FLOAT))
        graph.initializer.remove(stored)
        graph.initializer.append(narrow)
    nodes = [*casts, *graph.node]
    del graph.node[:]
    graph.node.extend(nodes)
    onnx.checker.check_model(model)
    return model


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("weights", type=Path)
    options.add_argument("--side", type=int, default=SIDE, help="pixels of the longer side of a picture")
    options.add_argument("-o", "--output", type=Path, default=Path("curator/models"))
    chosen = options.parse_args()
    digest = write(load(chosen.weights, chosen.side), chosen.output / NAME)
    print(digest, f"{(chosen.output / NAME).stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()

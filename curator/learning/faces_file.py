"""Make `models/faces.onnx` of the net as published (models/README.md):
`python -m curator.learning.faces_file CENTERFACE.onnx -o curator/models`.

The file as published fixes the size of its input and lists all weights as inputs, and onnxruntime takes it at its word.
Here they become weights again and any size may be asked; no weight is changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import onnx

from curator.learning.sums import write_sum

NAME = "faces.onnx"


def freed(path: Path) -> onnx.ModelProto:
    """The net with one input, the picture, of any size."""
    net = onnx.load(path)
    used = {name for node in net.graph.node for name in node.input}
    weights = [one for one in net.graph.initializer if one.name in used]
    names = {one.name for one in net.graph.initializer}
    inputs = [one for one in net.graph.input if one.name not in names]
    for values, of in ((net.graph.initializer, weights), (net.graph.input, inputs), (net.graph.value_info, [])):
        del values[:]
        values.extend(of)
    for kind, values in (("in", net.graph.input), ("out", net.graph.output)):
        for value in values:
            sides = value.type.tensor_type.shape.dim
            for at, name in ((0, "pictures"), (2, f"height_{kind}"), (3, f"width_{kind}")):
                sides[at].dim_param = name
    onnx.checker.check_model(net)
    return net


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("file", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path("curator/models"))
    chosen = options.parse_args()
    written = freed(chosen.file).SerializeToString()
    (chosen.output / NAME).write_bytes(written)
    write_sum(chosen.output / NAME)


if __name__ == "__main__":
    main()

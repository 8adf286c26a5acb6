"""Bare floors, tables, walls and cloth beside what is boxed: `python -m curator.learning.photos.bare PHOTOS -o FOLDER`.

The judge learns on them that nothing repeats. Look at them and throw away those that show something: a box can be
missing.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning.photos.real import ALSO, COMPLETE, source_of

LEAST = 150  # pixels of a square's side
MARGIN = 8  # pixels kept free round every box
MOST = 4  # squares of one source, one of a photo


def free_square(size: tuple[int, int], boxes: NDArray[np.float64]) -> tuple[int, int, int] | None:
    """Top, left and side of the largest square of a picture (height, width) that no box (n, 4: left, top, right, bottom
    in fractions) touches; None where it would be smaller than LEAST.
    """
    high, wide = size
    taken = np.zeros((high + 2, wide + 2), np.uint8)
    taken[0], taken[-1], taken[:, 0], taken[:, -1] = 1, 1, 1, 1
    for left, top, right, bottom in boxes * (wide, high, wide, high):
        rows = slice(max(0, int(top) - MARGIN) + 1, int(bottom) + MARGIN + 2)
        taken[rows, max(0, int(left) - MARGIN) + 1 : int(right) + MARGIN + 2] = 1
    away = cv2.distanceTransform(1 - taken, cv2.DIST_C, 3)
    row, col = np.unravel_index(int(away.argmax()), away.shape)
    half = int(away[row, col]) - 1
    return (int(row) - 1 - half, int(col) - 1 - half, 2 * half + 1) if 2 * half + 1 >= LEAST else None


def write(photos: Path, output: Path) -> int:
    """Write the squares of sources whose boxes are all there, as SOURCE_NAME.png; how many."""
    output.mkdir(parents=True, exist_ok=True)
    done: Counter[str] = Counter()
    for name, entry in sorted(json.loads((photos / "boxes.json").read_text()).items()):
        source = source_of(name)
        if source not in (*COMPLETE, *ALSO) or done[source] >= MOST:
            continue
        raw = cv2.imread(str(photos / "images" / name))
        square = free_square(raw.shape[:2], np.array([b["box"] for b in entry["boxes"]], np.float64).reshape(-1, 4))
        if square is not None:
            top, left, side = square
            cv2.imwrite(str(output / f"{source}_{Path(name).stem}.png"), raw[top : top + side, left : left + side])
            done[source] += 1
    return done.total()


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("photos", type=Path, help="a folder with boxes.json and images/")
    options.add_argument("-o", "--output", type=Path, required=True)
    chosen = options.parse_args()
    print(write(chosen.photos, chosen.output), "squares")


if __name__ == "__main__":
    main()

"""Two plain recipes beside the finders, over a labelled folder: how often each count is exact.

    python tests/bench/plain_recipes.py FOLDER...

FOLDER holds images/ and labels.csv with the columns file, total, clear, difficulty, box (left, top, right, bottom as
fractions; may be blank). Each photo is cut to its box with a margin of 2 %, as a teacher would frame it, and shrunk to
the finders' size. Photos without a countable total of 2 or more, and debatable labels, are left out.

  otsu       the grey picture parted by Otsu's threshold, the smaller part taken; contours of a fair size counted
  watershed  the same mask, touching things parted by the peaks of the distance transform and a watershed
  first      the finders' best supported set;  among: any of their candidate sets (what a perfect judge could reach)
"""

from __future__ import annotations

import argparse
import csv
import time
from collections import defaultdict
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing import photo
from curator.seeing.finders import find_all
from curator.seeing.look import WORKING
from curator.seeing.view import view_of

Pixels = NDArray[np.uint8]
LEAST = 0.001  # of the picture: smaller parts are noise


def things_mask(pixels: Pixels) -> Pixels:
    """Otsu's threshold on the softened grey picture; the smaller side is taken for the things."""
    grey = cv2.GaussianBlur(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), (5, 5), 0)
    _, mask = cv2.threshold(grey, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    mask = mask if mask.mean() <= 0.5 else 1 - mask
    opened: Pixels = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8), iterations=2)
    return opened


def otsu(pixels: Pixels) -> int:
    """Outer contours of the mask that enclose a fair area."""
    contours, _ = cv2.findContours(things_mask(pixels), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    return sum(cv2.contourArea(c) > LEAST * pixels.shape[0] * pixels.shape[1] for c in contours)


def watershed(pixels: Pixels) -> int:
    """Basins grown from the cores of the distance transform (half of its maximum), of a fair area."""
    mask = things_mask(pixels)
    distance = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
    core = (distance > 0.5 * distance.max()).astype(np.uint8)
    count, markers = cv2.connectedComponents(core)
    unknown = cv2.dilate(mask, np.ones((3, 3), np.uint8), iterations=3) - core
    markers = markers + 1
    markers[unknown == 1] = 0
    basins = cv2.watershed(np.ascontiguousarray(pixels[..., ::-1]), markers)
    areas = np.bincount(basins[basins > 1], minlength=count + 1)
    return int((areas > LEAST * mask.size).sum())


def cut(path: Path, box: str) -> Pixels:
    """The working picture of what lies inside the box."""
    pixels = photo.load(path).pixels
    if box:
        left, top, right, bottom = (float(v) for v in box.split(","))
        h, w = pixels.shape[:2]
        rows = slice(int(max(0, top - 0.02) * h), int(min(1, bottom + 0.02) * h))
        pixels = pixels[rows, int(max(0, left - 0.02) * w) : int(min(1, right + 0.02) * w)]
    scale = min(1.0, WORKING / max(pixels.shape[:2]))
    size = (max(8, round(pixels.shape[1] * scale)), max(8, round(pixels.shape[0] * scale)))
    small: Pixels = np.ascontiguousarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA))
    return small


def exact(pixels: Pixels, total: int) -> dict[str, bool]:
    """Which recipe counts this picture exactly."""
    sets = sorted(find_all(view_of(pixels)), key=lambda s: -s.support)
    return {
        "otsu": otsu(pixels) == total,
        "watershed": watershed(pixels) == total,
        "first": bool(sets) and len(sets[0]) == total,
        "among": any(len(s) == total for s in sets),
    }


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folders", nargs="+", type=Path)
    for folder in options.parse_args().folders:
        start, by = time.perf_counter(), defaultdict(list)
        for row in csv.DictReader((folder / "labels.csv").open(newline="")):
            if row["clear"] in ("1", "2") and row["total"] and int(row["total"]) >= 2:
                verdict = exact(cut(folder / "images" / row["file"], row["box"]), int(row["total"]))
                for key in ("all", row["difficulty"]):
                    by[key].append(verdict)
        print(
            f"\n{folder.name:<20}{'photos':>8}"
            + "".join(f"{name:>11}" for name in ("otsu", "watershed", "first", "among"))
        )
        for key, verdicts in sorted(by.items()):
            shares = "".join(f"{np.mean([v[name] for v in verdicts]):>11.2f}" for name in verdicts[0])
            print(f"{key:<20}{len(verdicts):>8}{shares}")
        print(f"{time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()

"""Taps to truth: how many dots a person must touch until the answer is right.

    python tests/bench/taps.py FOLDER DOTS.json [--edit]

FOLDER has images/ and labels.csv, DOTS.json the true places (fractions). A simulated person
(`curator/learning/fit/person.py`) adds the first missing thing or drags a wrong dot that lies beside it there, or where
none is missing takes the first wrong dot off, until all fit (within half the usual spacing) or as many touches as
things are spent. As on the page, nothing is applied unasked: for one touch the person takes a reading that leaves fewer
touches to do than it costs. With --edit dots alone are touched.
"""

from __future__ import annotations

import argparse
import json
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import cv2
import numpy as np

from curator.learning.fit import person
from curator.seeing import look, photo
from curator.seeing.evaluation import scoring


def touches(
    label: scoring.Label, folder: Path, dots: dict[str, list[list[float]]], edit: bool
) -> tuple[int, bool, bool, int]:
    """Touches, right at once, right number after the first touch, number of things."""
    cv2.setNumThreads(1)
    seen = photo.load(scoring.picture_of(folder, label))
    truth = np.array(dots[label.file])[:, ::-1] * np.array(seen.size, dtype=np.float64)
    reach = person.reach_of(truth, seen.size)
    looked = look.look_at(seen, label.area)
    found, listed = looked.best.things, [] if edit else [reading.things for reading in looked.readings]
    count, at_once, after_one = 0, person.errors(found, truth, reach) == 0, True
    while (left := person.errors(found, truth, reach)) and count <= len(truth):
        best = min(listed, key=lambda one: person.errors(one, truth, reach), default=found)
        if person.errors(best, truth, reach) + 1 < left:
            found = best
        else:
            touch = person.touched(found, truth, reach)
            assert touch is not None
            found = touch[0]
        count += 1
        after_one = len(found) == len(truth) if count == 1 else after_one
    return count, at_once, after_one, len(truth)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path)
    options.add_argument("dots", type=Path)
    options.add_argument("--edit", action="store_true")
    chosen = options.parse_args()
    dots = json.loads(chosen.dots.read_text())
    rows = [
        row for row in scoring.labels(chosen.folder) if row.clear and row.total and row.total > 1 and row.file in dots
    ]
    run = partial(touches, folder=chosen.folder, dots=dots, edit=chosen.edit)
    with Pool(2) as pool:
        count, at_once, after_one, things = np.array(pool.map(run, rows)).T
    shares = f"{at_once.mean():.2f} right at once, number right after one {after_one.mean():.2f}"
    wrong = count[at_once == 0]
    shares += f", {wrong.mean():.2f} touches on the {len(wrong)} wrong"
    print(f"{len(rows)} photos: {count.mean():.2f} touches, {shares}; by hand {things.mean():.1f}")


if __name__ == "__main__":
    main()

"""Taps to truth: how many dots a person must touch until the answer is right.

    python tests/bench/taps.py FOLDER DOTS.json [--edit]

FOLDER has images/ and labels.csv, DOTS.json the true places (fractions). A simulated person taps the first missing thing,
or where none is missing the first wrong dot, until all fit (within half the usual spacing) or as many taps as things are spent.
With --edit a tap changes only that dot; otherwise `likeness.answer_again` does what the page's "Look again with my dots" does.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import cv2
import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import ThingSet
from curator.seeing import likeness, look, photo, scoring
from curator.seeing.halves import spacing

Place = tuple[float, float]


def fitted(found: ThingSet, truth: np.ndarray, reach: float) -> tuple[list[int], list[int]]:
    """True things that no dot is on, and dots that are on none."""
    if not len(found):
        return list(range(len(truth))), []
    apart = cdist(truth, found.centers)
    a, b = linear_sum_assignment(apart)
    good = apart[a, b] <= reach
    return sorted(set(range(len(truth))) - set(a[good])), sorted(set(range(len(found))) - set(b[good]))


def touched(found: ThingSet, truth: np.ndarray, missing: list[int], wrong: list[int]) -> tuple[ThingSet, np.ndarray | None, np.ndarray | None]:
    """One touch, as on the page: the dots after it, the place where one is now, the place where one was.

    A missing thing gets a new dot, or a wrong one that lies nearer than the next thing is dragged there; where none is missing a wrong one is taken off.
    """
    place = truth[missing[0]] if missing else None
    gone = None if missing else wrong[0]
    if missing and wrong:
        nearest = min(wrong, key=lambda i: float(np.hypot(*(found.centers[i] - place))))
        gone = nearest if np.hypot(*(found.centers[nearest] - place)) <= spacing(truth) else None
    kept = [t for i, t in enumerate(found.things) if i != gone]
    added = [] if place is None else [likeness.thing_at(place, float(np.median(found.widths)) if len(found) else 20.0, found.size)]
    return dataclasses.replace(found, things=(*kept, *added)), place, None if gone is None else found.centers[gone]


def person(label: scoring.Label, folder: Path, dots: dict[str, list[list[float]]], edit: bool) -> tuple[int, bool, bool, int]:
    """Taps, right at once, right number after the first tap, number of things."""
    cv2.setNumThreads(1)
    seen = photo.load(scoring.picture_of(folder, label))
    shape = np.array(seen.size, dtype=np.float64)
    truth = np.array(dots[label.file])[:, ::-1] * shape
    reach = 0.5 * min(spacing(truth), 0.3 * shape.max())
    looked = look.look_at(seen, label.area)
    found = looked.best.things
    yes: list[tuple[float, float]] = []
    no: list[tuple[float, float]] = []
    taps, after_one = 0, True
    while taps <= len(truth):
        missing, wrong = fitted(found, truth, reach)
        if not missing and not wrong:
            break
        found, place, was = touched(found, truth, missing, wrong)
        yes += [] if place is None else [(place[1] / shape[1], place[0] / shape[0])]
        no += [] if was is None else [(was[1] / shape[1], was[0] / shape[0])]
        if not edit:
            found = likeness.answer_again(looked, [(c / shape[1], r / shape[0]) for r, c in found.centers], yes, no).things
        taps += 1
        after_one = len(found) == len(truth) if taps == 1 else after_one
    return taps, taps == 0, after_one, len(truth)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path)
    options.add_argument("dots", type=Path)
    options.add_argument("--edit", action="store_true")
    chosen = options.parse_args()
    dots = json.loads(chosen.dots.read_text())
    rows = [row for row in scoring.labels(chosen.folder) if row.clear and row.total and row.total > 1 and row.file in dots]
    with Pool(2) as pool:
        taps, at_once, after_one, things = np.array(pool.map(partial(person, folder=chosen.folder, dots=dots, edit=chosen.edit), rows)).T
    print(f"{len(rows)} photos: {taps.mean():.2f} taps, {at_once.mean():.2f} right at once, number right after one {after_one.mean():.2f}; by hand {things.mean():.1f}")


if __name__ == "__main__":
    main()

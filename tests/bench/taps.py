"""Taps to truth: how many dots a person must touch until the answer is right.

    python tests/bench/taps.py FOLDER DOTS.json [--edit | --choose | --readings | --offer]

FOLDER has images/ and labels.csv, DOTS.json the true places (fractions). A simulated person
(`curator/learning/fit/person.py`) adds
the first missing thing or drags a wrong dot that lies beside it there, or where none is missing takes the first wrong
dot off,
until all fit (within half the usual spacing) or as many touches as things are spent. With --edit a touch changes only
that dot;
otherwise `likeness.answer_again` does what the page's "Count again from my dots" does. With --choose the person also
picks, for one
touch, a set that the page lists beside what it shows, where that one is wholly right.

--readings is the page as it is: nothing is applied unasked, and for one touch the person takes a reading that leaves
fewer touches to do than it costs. With --offer the sets of `answer_again` are listed beside the readings after each
change of a dot, and taken in the same way: the difference is what an offer to count again would save.
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
from curator.seeing.corrections import answer
from curator.seeing.evaluation import scoring


def touches(
    label: scoring.Label, folder: Path, dots: dict[str, list[list[float]]], edit: bool, choose: bool
) -> tuple[int, bool, bool, int]:
    """Touches, right at once, right number after the first touch, number of things."""
    cv2.setNumThreads(1)
    seen = photo.load(scoring.picture_of(folder, label))
    shape = np.array(seen.size, dtype=np.float64)
    truth = np.array(dots[label.file])[:, ::-1] * shape
    reach = person.reach_of(truth, seen.size)
    looked = look.look_at(seen, label.area)
    found = looked.best.things
    yes: list[tuple[float, float]] = []
    no: list[tuple[float, float]] = []
    count, after_one = 0, True
    listed = [reading.things for reading in looked.readings]
    while count <= len(truth) and (touch := person.touched(found, truth, reach)):
        if choose and any(person.errors(one, truth, reach) == 0 for one in listed):
            return count + 1, False, after_one, len(truth)
        found, place, was = touch
        yes += [] if place is None else [(place[1] / shape[1], place[0] / shape[0])]
        no += [] if was is None else [(was[1] / shape[1], was[0] / shape[0])]
        if not edit:
            again = answer.answer_again(looked, [(c / shape[1], r / shape[0]) for r, c in found.centers], yes, no)
            found, listed = again.things, list(again.others)
        count += 1
        after_one = len(found) == len(truth) if count == 1 else after_one
    return count, count == 0, after_one, len(truth)


def offered(
    label: scoring.Label, folder: Path, dots: dict[str, list[list[float]]], suggest: bool
) -> tuple[int, bool, bool, int]:
    """As `touches`, where sets are listed and never applied unasked; `suggest`: those of `answer_again` too."""
    cv2.setNumThreads(1)
    seen = photo.load(scoring.picture_of(folder, label))
    shape = np.array(seen.size, dtype=np.float64)
    truth = np.array(dots[label.file])[:, ::-1] * shape
    reach = person.reach_of(truth, seen.size)
    looked = look.look_at(seen, label.area)
    found, listed = looked.best.things, [reading.things for reading in looked.readings]
    yes: list[tuple[float, float]] = []
    no: list[tuple[float, float]] = []
    count, at_once, after_one = 0, person.errors(found, truth, reach) == 0, True
    while left := person.errors(found, truth, reach):
        best = min(listed, key=lambda one: person.errors(one, truth, reach), default=found)
        if person.errors(best, truth, reach) + 1 < left:
            found, yes, no = best, [], []
        else:
            touch = person.touched(found, truth, reach)
            assert touch is not None
            found, place, was = touch
            yes += [] if place is None else [(place[1] / shape[1], place[0] / shape[0])]
            no += [] if was is None else [(was[1] / shape[1], was[0] / shape[0])]
            if suggest:
                shown = [(c / shape[1], r / shape[0]) for r, c in found.centers]
                again = answer.answer_again(looked, shown, yes, no)
                listed = [*(reading.things for reading in looked.readings), again.things, *again.others]
        count += 1
        after_one = len(found) == len(truth) if count == 1 else after_one
    return count, at_once, after_one, len(truth)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path)
    options.add_argument("dots", type=Path)
    options.add_argument("--edit", action="store_true")
    options.add_argument("--choose", action="store_true")
    options.add_argument("--readings", action="store_true")
    options.add_argument("--offer", action="store_true")
    chosen = options.parse_args()
    dots = json.loads(chosen.dots.read_text())
    rows = [
        row for row in scoring.labels(chosen.folder) if row.clear and row.total and row.total > 1 and row.file in dots
    ]
    if chosen.readings or chosen.offer:
        run = partial(offered, folder=chosen.folder, dots=dots, suggest=chosen.offer)
    else:
        run = partial(touches, folder=chosen.folder, dots=dots, edit=chosen.edit, choose=chosen.choose)
    with Pool(2) as pool:
        count, at_once, after_one, things = np.array(pool.map(run, rows)).T
    shares = f"{at_once.mean():.2f} right at once, number right after one {after_one.mean():.2f}"
    wrong = count[at_once == 0]
    shares += f", {wrong.mean():.2f} touches on the {len(wrong)} wrong"
    print(f"{len(rows)} photos: {count.mean():.2f} touches, {shares}; by hand {things.mean():.1f}")


if __name__ == "__main__":
    main()

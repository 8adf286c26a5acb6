"""Taps to truth: how many dots a person must touch until the answer is right.

    python tests/bench/taps.py FOLDER DOTS.json [--framed] [--edit | --no-pointing] [--closed] [--each]

FOLDER has images/ and labels.csv, DOTS.json the true places (fractions; of the labelled frame with --framed). Of long
things (legs, fingers, candles) `long_things_of_photos.json` has the middle lines: a dot anywhere along is on one. A
simulated person (`curator/learning/fit/person.py`) adds the first missing thing or drags a wrong dot that lies beside
it there, or where none is missing takes the first wrong dot off, until all fit (within half the usual spacing) or as
many touches as things are spent. As on the page, nothing is applied unasked: for one touch the person takes a reading
that leaves fewer touches to do than it costs: two where it lies behind the FIRST that are shown and the list is closed,
as it is where the answer is sure (--closed: always).

Where every reading leaves MOSTLY of the things without a dot, she asks for more like the first one that is missing (one
touch: a finger held, or the right button). What comes is seen only then, and taken back for one more touch where it is
no better; --no-pointing: she never does. With --edit dots alone are touched. --each: a line for each photo not right.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from curator.learning.fit import person
from curator.records import Area, Photo, ThingSet
from curator.seeing import look, photo, set_matching
from curator.seeing.corrections.answer import more_like
from curator.seeing.evaluation import scoring

LONG = json.loads((Path(__file__).parents[1] / "long_things_of_photos.json").read_text(encoding="utf-8"))
MOSTLY = 0.5  # of the things
FIRST = 3  # readings that are always in sight
Fractions = Sequence[Sequence[float]]


class Meant(NamedTuple):
    """What the person means; places (n, 2) row, col in the photo's pixels."""

    truth: person.Places
    reach: float
    lines: person.Lines

    def left(self, found: ThingSet) -> int:
        """Touches that would set these dots right."""
        return person.errors(found, self.truth, self.reach, self.lines)


def meant(label: scoring.Label, size: tuple[int, int], dots: Fractions, framed: bool) -> Meant:
    """The true places of one photo of that size."""
    box = set_matching.area_box(size, label.area if framed else None)
    places = np.array(dots, np.float64)[:, ::-1] * (box.height, box.width) + (box.top, box.left)
    lines = [np.array(line).reshape(-1, 2)[:, ::-1] * np.array(size) for line in LONG.get(label.file, ())]
    return Meant(places, person.reach_of(places, size), lines)


def by_dots(found: ThingSet, listed: Sequence[ThingSet], one: Meant, closed: bool) -> tuple[int, bool]:
    """Touches by dots and listed readings; and if the number is right after the first."""
    count, after_one = 0, True
    while (left := one.left(found)) and count <= len(one.truth):
        costs = [one.left(other) + 1 + (closed and k >= FIRST) for k, other in enumerate(listed)]
        best = int(np.argmin(costs)) if costs else -1
        if costs and costs[best] < left:
            found, count = listed[best], count + 1 + (closed and best >= FIRST)
        else:
            touch = person.touched(found, one.truth, one.reach, one.lines)
            assert touch is not None
            found, count = touch[0], count + 1
        if count == 1:
            after_one = len(found) == len(one.truth)
    return count, after_one


def by_pointing(
    seen: Photo, area: Area | None, listed: Sequence[ThingSet], one: Meant, closed: bool
) -> tuple[int, bool] | None:
    """The same where one thing that the first reading lacks is pointed at first; None where readings have most."""
    lacking = [person.fitted(found, one.truth, one.reach, one.lines)[0] for found in listed]
    if min(len(each) for each in lacking) < MOSTLY * len(one.truth):
        return None
    at = (one.truth[lacking[0][0]] / np.array(seen.size))[::-1]
    answers = more_like(seen, (float(at[0]), float(at[1])), area=area, shown=listed)
    after = by_dots(answers[0], [*answers, *listed], one, closed)
    back = by_dots(listed[0], [*answers, *listed], one, closed)
    return min((1 + after[0], len(answers[0]) == len(one.truth)), (2 + back[0], False))


class Person(NamedTuple):
    """How she goes about it."""

    edit: bool
    no_pointing: bool
    closed: bool


def touches(
    label: scoring.Label, folder: Path, dots: dict[str, Fractions], framed: bool, she: Person
) -> tuple[int, bool, bool, int]:
    """Touches, right at once, right number after the first touch, number of things."""
    cv2.setNumThreads(1)
    seen = photo.load(scoring.picture_of(folder, label))
    one = meant(label, seen.size, dots[label.file], framed)
    looked = look.look_at(seen, label.area)
    listed, closed = [reading.things for reading in looked.readings], she.closed or looked.best.grade == "sure"
    pointed = None if she.edit or she.no_pointing else by_pointing(seen, label.area, listed, one, closed)
    count, after_one = pointed or by_dots(listed[0], [] if she.edit else listed, one, closed)
    return count, one.left(listed[0]) == 0, after_one, len(one.truth)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path)
    options.add_argument("dots", type=Path)
    for name in ("framed", "edit", "no-pointing", "closed", "each"):
        options.add_argument(f"--{name}", action="store_true")
    chosen = options.parse_args()
    dots = json.loads(chosen.dots.read_text())
    rows = [
        row for row in scoring.labels(chosen.folder) if row.clear and row.total and row.total > 1 and row.file in dots
    ]
    she = Person(chosen.edit, chosen.no_pointing, chosen.closed)
    run = partial(touches, folder=chosen.folder, dots=dots, framed=chosen.framed, she=she)
    with Pool(2) as pool:
        found = pool.map(run, rows, chunksize=4)
    count, at_once, after_one, things = np.array(found).T
    for row, one in zip(rows, found, strict=True):
        if chosen.each and one[0]:
            print(row.file, one[0])
    shares = f"{at_once.mean():.2f} right at once, number right after one {after_one.mean():.2f}"
    wrong = count[at_once == 0]
    shares += f", {wrong.mean():.2f} touches on the {len(wrong)} wrong"
    print(f"{len(rows)} photos: {count.mean():.2f} touches, {shares}; by hand {things.mean():.1f}")


if __name__ == "__main__":
    main()

"""Fit what one tap weighs: `python -m curator.learning.fit.sessions TRAIN_FOLDER [--nets FOLDER] [-o taps.json]`.

A simulated person (`person.py`) sets answers right on photos with boxes (one of the kinds in each, drawn by lot, is
meant) and
on drawn scenes. After each touch every candidate set is measured; those that leave the fewest errors are right. No
photo of a
benchmark is used. With `--nets` each photo is looked at by a net that has not seen its source (`folds.py`): one that
knows it by heart is seldom wrong, and
not as it is wrong with a stranger's photo.
"""

from __future__ import annotations

import argparse
import json
import random
from collections import Counter
from datetime import date
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

from curator.learning.drawn import scenes
from curator.learning.fit import calibrate, logits, person
from curator.learning.fit.cases import PROCESSES
from curator.learning.photos import folds, real
from curator.records import Photo, ThingSet
from curator.seeing import look, photo, set_matching
from curator.seeing.corrections import ranking
from curator.seeing.corrections.ranking import TAPS
from curator.seeing.judging import models
from curator.seeing.net import runtime
from curator.seeing.view import View

FIRST_SEED = 7_000_000  # of drawn scenes: not one of training
MOST_TOUCHES = 8
RIDGE = 3.0
Features = dict[str, float]


class Touch(NamedTuple):
    """The candidates after one touch: their measurements, and how many errors each would leave; and how many the dots
    alone.
    """

    measured: list[Features]
    errors: list[int]
    by_hand: int


def session(seen: Photo, truth: person.Places, model: Path = runtime.MODEL) -> list[Touch]:
    """Touches until all is right or MOST_TOUCHES; the person goes on from what the weights of today answer. `truth` in
    pixels of the photo; `model` is the net that looks.
    """
    looked, view = look.look_at(seen, None, model), look.viewed(seen, None, model)[0]
    found, reach = looked.best.things, person.reach_of(truth, seen.size)
    scale = (view.size[0] / seen.size[0], view.size[1] / seen.size[1])
    yes: list[person.Places] = []
    no: list[person.Places] = []
    touches: list[Touch] = []
    while len(touches) < MOST_TOUCHES and (touch := person.touched(found, truth, reach)):
        shown, place, was = touch
        yes += [] if place is None else [place * scale]
        no += [] if was is None else [was * scale]
        wrong = ranking.still_wrong(shown, np.array(no).reshape(-1, 2) / scale) * scale
        if not yes and not len(wrong):
            break
        found = _answered(touches, view, seen, shown, np.array(yes).reshape(-1, 2), wrong, truth, reach)
    return touches


def _answered(
    touches: list[Touch],
    view: View,
    seen: Photo,
    shown: ThingSet,
    yes: person.Places,
    no: person.Places,
    truth: person.Places,
    reach: float,
) -> ThingSet:
    """What is answered after one touch; notes the candidates."""
    scale = (view.size[0] / seen.size[0], view.size[1] / seen.size[1])
    every, measured = ranking.candidates(view, yes, no, set_matching.moved(shown, scale, (0, 0), view.size))
    after = [
        set_matching.moved(ranking.changed(s, yes, no), (1 / scale[0], 1 / scale[1]), (0, 0), seen.size) for s in every
    ]
    touches.append(Touch(measured, [person.errors(s, truth, reach) for s in after], person.errors(shown, truth, reach)))
    return after[int(np.argmax([models.weighted(f, TAPS) for f in measured]))]


def _on_photo(job: tuple[str, list[dict[str, object]]], folder: Path, nets: dict[str, Path]) -> list[Touch]:
    """A session on a photo with boxes: one kind that there are 2 to 24 of is meant."""
    cv2.setNumThreads(1)
    name, boxes = job
    many = Counter(str(b["kind"]) for b in boxes)
    kinds = sorted(kind for kind, n in many.items() if 2 <= n <= 24)
    if not kinds:
        return []
    kind = random.Random(name).choice(kinds)
    seen = photo.load(folder / "images" / name)
    own = np.array([b["box"] for b in boxes if b["kind"] == kind], dtype=np.float64)
    return session(
        seen,
        np.column_stack([(own[:, 1] + own[:, 3]) / 2, (own[:, 0] + own[:, 2]) / 2]) * seen.size,
        nets.get(name, runtime.MODEL),
    )


def _on_drawn(seed: int) -> list[Touch]:
    """A session on a drawn scene: its main kind, or any other, is meant."""
    cv2.setNumThreads(1)
    scene, lot = scenes.make(seed, look.WORKING), random.Random(seed)
    alike = [
        (scene.kind == k) & (scene.level == level) & (scene.visible > 0.3) & ~scene.aside
        for k in np.unique(scene.kind)
        for level in np.unique(scene.level)
    ]
    alike = [
        own
        for own in alike
        if 2 <= own.sum() <= 24 and (scene.centers[own] >= 0).all() and (scene.centers[own] < look.WORKING).all()
    ]
    if not alike:
        return []
    main = [own for own in alike if (scene.kind[own] == scene.main).all()]
    own = lot.choice(main if main and lot.random() < 0.6 else alike)
    return session(Photo(Path(f"{seed}.png"), "0" * 64, scene.image, 1.0), scene.centers[own].astype(np.float64))


def fitted(touches: list[Touch]) -> Features:
    """Weights of TAPS."""
    names = sorted({name for touch in touches for f in touch.measured for name in f})
    rows = np.concatenate([logits.table(touch.measured, names) for touch in touches])
    best = np.concatenate([(np.array(touch.errors) == min(touch.errors)).astype(float) for touch in touches])
    sizes = np.array([len(touch.measured) for touch in touches])
    choice = logits.Choice(rows, sizes, best, np.ones(len(touches)), RIDGE)
    return {n: float(v) for n, v in zip(names, choice.fitted(np.ones(len(touches), bool)), strict=True)}


def mean(one: Features, other: Features) -> Features:
    """The mean of two runs' weights: the scores of both, added."""
    return {name: (one.get(name, 0.0) + other.get(name, 0.0)) / 2 for name in sorted({*one, *other})}


def report(touches: list[Touch], weights: Features) -> None:
    """Print what is left to set right after a touch: by the dots alone, by the weights, by the best candidate."""
    chosen = [t.errors[int(np.argmax([models.weighted(f, weights) for f in t.measured]))] for t in touches]
    for name, left in (
        ("dots alone", [t.by_hand for t in touches]),
        ("chosen", chosen),
        ("best of all", [min(t.errors) for t in touches]),
    ):
        print(f"{name}: {np.mean(left):.2f} errors left, none in {np.mean(np.array(left) == 0):.2f}")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path, help="boxes.json and images/")
    options.add_argument("--photos", type=int, default=700)
    options.add_argument("--drawn", type=int, default=500)
    options.add_argument("--nets", type=Path, help="a.onnx and b.onnx, each a stranger to half of the photos")
    options.add_argument(
        "--mean-with", type=Path, help="the weights file of an earlier run; what is written is the mean of both"
    )
    options.add_argument("-o", "--output", type=Path)
    chosen = options.parse_args()
    boxes = json.loads((chosen.folder / "boxes.json").read_text())
    jobs = [(name, entry["boxes"]) for name, entry in boxes.items() if real.source_of(name) in real.COMPLETE]
    random.Random(5).shuffle(jobs)
    nets = folds.strangers(list(boxes), chosen.nets) if chosen.nets else {}
    with Pool(PROCESSES) as pool:
        found = pool.map(partial(_on_photo, folder=chosen.folder, nets=nets), jobs[: chosen.photos], chunksize=8)
    with Pool(PROCESSES) as pool:  # others, which look with the net that is shipped
        found += pool.map(_on_drawn, range(FIRST_SEED, FIRST_SEED + chosen.drawn), chunksize=8)
    touches = [touch for one in found for touch in one]
    weights = fitted(touches)
    print(f"{len(touches)} touches in {sum(bool(one) for one in found)} of {len(found)} pictures; in sample:")
    report(touches, weights)
    if chosen.mean_with:
        weights = mean(weights, json.loads(chosen.mean_with.read_text())["taps"])
    if chosen.output:
        about = {
            "fitted_by": "curator/learning/fit/sessions.py",
            "date": f"{date.today()}",
            "photos": len(jobs[: chosen.photos]),
            "drawn": chosen.drawn,
        }
        chosen.output.write_text(json.dumps({**about, "taps": calibrate.rounded(weights)}, indent=1) + "\n")


if __name__ == "__main__":
    main()

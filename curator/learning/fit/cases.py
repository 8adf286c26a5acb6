"""Photos with labels, measured: what the judge is fitted on (`calibrate.py`).

Measuring a photo takes a second, a fit on all of them takes seconds: so what was measured is kept in a folder outside
the project (`--cache`) and used again until that folder is thrown away. It holds no pixels.
"""

from __future__ import annotations

import dataclasses
import pickle
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import Pool
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing import look, photo
from curator.seeing.evaluation.scoring import Label, labels, working
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.finders import find_all
from curator.seeing.further_looks import further, passed_on
from curator.seeing.judging import feature_table, features, models, pooled, readings
from curator.seeing.judging.feature_values import Shown
from curator.seeing.judging.models import Features
from curator.seeing.judging.pooled import TODAY, Judge, Weighed
from curator.seeing.net import runtime
from curator.seeing.net.checker import Checked, check
from curator.seeing.view import view_of

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]
PROCESSES = 2
TOLD = 12  # likeliest sets that the checker is asked about; other weights find others likely
UNTOLD = Checked(*3 * (models.UNSEEN * models.CLEAR,))  # of any other
BARE = 0.5  # of a photo's weight: a picture in which nothing repeats
FACTS = 8  # of the likeliest sets in two halves what FACT weighs is measured too; no other is ever chosen


@dataclass(frozen=True)
class Seen:
    """What the line measures of one photo, without its pixels."""

    sets: list[features.Measured]
    facts: dict[int, Features]  # of the likeliest sets in two halves (index into the sets), by the weights of today
    again: list[Weighed] = field(default_factory=list)  # what further looks measure
    told: dict[int, Checked] = field(default_factory=dict)  # what the checker says of the likeliest sets

    def believed(self, judge: Judge = TODAY) -> list[models.Belief]:
        """How far each set is believed, by all looks."""
        return pooled.believed(features.weighed(self.sets), lambda: self.again, self.asked, judge)

    def asked(self, places: list[int]) -> list[Checked]:
        """What the checker says of these sets."""
        return [self.told.get(i, UNTOLD) for i in places]


@dataclass(frozen=True)
class Case:
    """One photo: its candidate sets with their measurements, and what a person would say of each."""

    name: str
    folder: str
    source: str  # whose photos it is one of: none of them takes part in what it is judged by
    seen: Seen
    hits: NDArray[np.bool_]  # which sets hold all and only the things meant
    named: list[bool | None]  # whether a careful person would defend the fact of the set; None: nobody knows
    strict: list[bool | None]  # the same, where it is tagged without asking
    half: int | None  # of the double that is meant, where there is one
    total: int | None  # None where nothing countable repeats
    passed_on: bool = False
    boxed: bool = False  # known by boxes, not by a label
    share: float = 1.0  # of a photo's weight in the fits

    @property
    def double(self) -> bool:
        return self.half is not None


def measure(pixels: Pixels, model: Path = runtime.MODEL) -> Seen:
    """Measure every candidate set of one picture as `model` sees it."""
    view = view_of(pixels, model)
    found = find_all(view)
    again = [features.weighed(features.measured(sets)) for sets in further(view)]
    return measured(pixels, found, again)


def measured(pixels: Pixels, found: list[ThingSet], again: list[Weighed]) -> Seen:
    """Measure the candidate sets `found` in a picture; `again` is what further looks at it measure."""
    every, picture = features.measured(found), Picture(pixels)
    alone = models.beliefs(*features.weighed(every))
    places = sorted(range(len(every)), key=lambda i: -alone[i].own)[:TOLD]
    told = dict(zip(places, check(pixels, [every[i].things for i in places]), strict=False))
    seen = Seen([m._replace(things=dataclasses.replace(m.things, aside=())) for m in every], {}, again, told)
    believed = seen.believed()
    halved = [i for i in range(len(every)) if features.halved(every[i])]
    facts = {}
    for i in sorted(halved, key=lambda i: -believed[i].own)[:FACTS]:
        things = readings.with_aside(every[i].things, every)
        looks = feature_table.looks(picture, things)
        shown = Shown(picture, things, every[i].fitted[0], believed[i])
        facts[i] = feature_table.fact_features(every[i].features, looks, shown)
    return dataclasses.replace(seen, facts=facts)


def labelled(seen: Seen, folder: Path, label: Label, *, passed_on: bool = False) -> Case:
    """A measured photo beside its label."""
    numbers = [len(m.things) for m in seen.sets]
    return Case(
        label.file,
        folder.name,
        origin(label.repo, f"{folder.name}-{label.source}"),
        seen,
        np.array([n == (label.total or 1) for n in numbers], dtype=bool),
        [n // 2 in label.allowed for n in numbers],
        [_defensible(label, n) for n in numbers],
        label.half,
        label.total,
        passed_on,
    )


def origin(repo: str, otherwise: str) -> str:
    """Whose photos these are: one owner's collections hang together, and so do the many samples of COCO."""
    return "coco" if "coco" in repo.lower() else repo.split("/")[0] or otherwise


def kept(cache: Path | None, key: str, measure_it: Callable[[], Seen]) -> Seen:
    """What was measured before under that key, or else measured now and kept."""
    file = None if cache is None else cache / f"{key}.pickle"
    if file is not None and file.exists():
        found: Seen = pickle.loads(file.read_bytes())
        return found
    seen = measure_it()
    if file is not None:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.with_suffix(".part").write_bytes(pickle.dumps(seen, 5))
        file.with_suffix(".part").replace(file)
    return seen


def _one(job: tuple[Path, Label, bool], cache: Path | None) -> Case:
    cv2.setNumThreads(1)
    folder, label, again = job

    def look() -> Seen:
        pixels = working(folder, label)
        return measure(passed_on(pixels) if again else pixels)

    seen = kept(cache, f"{folder.name}-{label.file}{'-again' if again else ''}", look)
    return labelled(seen, folder, label, passed_on=again)


def gather(folders: list[Path], cache: Path | None = None, *, again: bool = False) -> list[Case]:
    """Every photo of the folders with a clear label, measured as it is and, with `again`, as passed on too:

    what turns on so little must not be believed.
    """
    jobs = [
        (folder, label, passed_on)
        for folder in folders
        for label in labels(folder)
        if label.clear
        for passed_on in ((False, True) if again else (False,))
    ]
    with Pool(PROCESSES) as pool:
        return pool.map(partial(_one, cache=cache), jobs, chunksize=4)


def bare(folder: Path, cache: Path | None = None) -> list[Case]:
    """Every picture of a folder in which nothing repeats: tables, walls, cloth. The name begins with its source."""
    found = []
    for file in sorted(folder.iterdir()):
        pixels, _ = look.framed(photo.load(file), None)
        seen = kept(cache, f"bare-{file.name}", partial(measure, pixels))
        n = len(seen.sets)
        one = np.array([len(m.things) == 1 for m in seen.sets], dtype=bool)
        source = f"bare-{file.stem.split('_')[0]}"
        found.append(Case(file.name, "bare", source, seen, one, [False] * n, [False] * n, None, None, share=BARE))
    return found


def _defensible(label: Label, n: int) -> bool:
    """Whether n things in two halves may be tagged without asking:

    where the labels see no double, only if n is the labelled total.
    """
    return n // 2 in label.allowed and (label.half is not None or label.total == n)

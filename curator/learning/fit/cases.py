"""Photos with labels, measured: what the judge is fitted on (`calibrate.py`)."""

from __future__ import annotations

from dataclasses import dataclass, field
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing.evaluation.scoring import Label, labels, working
from curator.seeing.finders import find_all
from curator.seeing.judging import features
from curator.seeing.view import view_of

Array = NDArray[np.float64]
SMALLER, QUALITY = 0.94, 85  # of a photo passed on: its longer side, and its JPEG quality
PROCESSES = 2


@dataclass
class Case:
    """One photo: its candidate sets with their measurements, and what a person would say of each."""

    source: str  # whose photos it is one of: none of them takes part in what it is judged by
    sets: list[features.Measured]
    hits: NDArray[np.bool_]  # which sets hold all and only the things meant
    named: list[bool | None]  # whether a careful person would defend the fact of the set; None: nobody knows
    strict: list[bool | None]  # the same, where it is tagged without asking
    double: bool  # whether a double is there
    counted: bool  # whether there is a total above one
    pixels: Any = None
    passed_on: bool = False
    boxed: bool = False  # one of the net's training photos, seen by a net that is a stranger to it
    share: float = 1.0  # of a photo's weight in the fits
    looks: dict[int, dict[str, float]] = field(default_factory=dict)  # of a set with halves, what FACT weighs of it


def case_of(folder: Path, label: Label, *, passed_on: bool = False) -> Case:
    """Measure every candidate set of one photo; `passed_on` as a message service hands it on, a little smaller and
    saved again.
    """
    pixels = working(folder, label)
    if passed_on:
        pixels = _passed_on(pixels)
    every = features.measured(find_all(view_of(pixels)))
    numbers = [len(m.things) for m in every]
    named: list[bool | None] = [n // 2 in label.allowed for n in numbers]
    strict: list[bool | None] = [_defensible(label, n) for n in numbers]
    hits = np.array([n == label.total for n in numbers], dtype=bool)
    counted = bool(label.total and label.total > 1)
    return Case(
        origin(label.repo, f"{folder.name}-{label.source}"),
        every,
        hits,
        named,
        strict,
        label.half is not None,
        counted,
        pixels,
        passed_on,
    )


def origin(repo: str, otherwise: str) -> str:
    """Whose photos these are: one owner's collections hang together, and so do the many samples of COCO."""
    return "coco" if "coco" in repo.lower() else repo.split("/")[0] or otherwise


def _passed_on(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    size = (round(pixels.shape[1] * SMALLER), round(pixels.shape[0] * SMALLER))
    _, data = cv2.imencode(
        ".jpg",
        cv2.cvtColor(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2BGR),
        [cv2.IMWRITE_JPEG_QUALITY, QUALITY],
    )
    return np.asarray(cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB), np.uint8)


def _one(job: tuple[Path, Label, bool]) -> Case:
    cv2.setNumThreads(1)
    return case_of(job[0], job[1], passed_on=job[2])


def gather(folders: list[Path]) -> list[Case]:
    """Every photo of the folders with a clear label, measured as it is and as passed on: what turns on so little must
    not be believed.
    """
    jobs = [
        (folder, label, again)
        for folder in folders
        for label in labels(folder)
        if label.clear
        for again in (False, True)
    ]
    with Pool(PROCESSES) as pool:
        return pool.map(_one, jobs, chunksize=4)


def _defensible(label: Label, n: int) -> bool:
    """Whether n things in two halves may be tagged without asking: where the labels see no double, only if n is the
    labelled total.
    """
    return n // 2 in label.allowed and (label.half is not None or label.total == n)

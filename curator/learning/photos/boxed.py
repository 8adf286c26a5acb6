"""The net's own training photos as cases for the judge, each seen by a net that has not seen its source.

A net that has learned a photo by heart says nothing of how far it can be believed on others. So two nets are trained,
each on one
half of the photos (`folds.py`), and look at the other half: `a.onnx` and `b.onnx` in one folder, by the letter of the
half they know.
"""

from __future__ import annotations

import dataclasses
import json
import zlib
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from curator.learning.fit.cases import PROCESSES, Case, kept, measure, origin
from curator.learning.photos import folds, real
from curator.records import ThingSet
from curator.seeing import look, photo
from curator.seeing.net import runtime

DOUBTFUL = frozenset(("bolt", "chess", "tomato"))  # boxes that are not what a person would count, by a look at them
SHARE = 0.5  # of a benchmark photo's weight: another sort of photo, and a weaker net
PAIR_FOLDS = 10  # the pairs of shoes come from many households: a photo each, so each photo may stand for itself
SAME = 0.85  # of the things in boxes of their own, and of the boxes: the set that is boxed
Boxes = NDArray[np.float64]  # (n, 4) top, left, bottom, right in pixels


def gather(folder: Path, nets: list[Path], cache: Path | None = None) -> list[Case]:
    """Every photo whose boxes are all there, as its stranger of each folder of nets sees it; what others than the
    first see is no witness of its own.
    """
    boxes: dict[str, Any] = json.loads((folder / "boxes.json").read_text())
    certain = set(real.COMPLETE) - DOUBTFUL
    jobs = [(name, entry) for name, entry in boxes.items() if real.source_of(name) in certain]
    found = []
    for k, pair in enumerate(nets):
        with Pool(PROCESSES) as pool:
            case = partial(_case, folder=folder, nets=folds.strangers(list(boxes), pair), cache=cache, pair=pair.name)
            seen = pool.map(case, jobs, chunksize=8)
        found += [
            dataclasses.replace(case, passed_on=k > 0, share=SHARE / len(nets)) for case in seen if case is not None
        ]
    return found


def _case(
    job: tuple[str, dict[str, Any]], folder: Path, nets: dict[str, Path], cache: Path | None, pair: str
) -> Case | None:
    cv2.setNumThreads(1)
    name, entry = job
    pixels, _ = look.framed(photo.load(folder / "images" / name), None)
    seen = kept(cache, f"{folder.name}-{name}-{pair}", partial(measure, pixels, nets[name]))
    truths = meant(entry["boxes"], (pixels.shape[0], pixels.shape[1]))
    if not seen.sets or not truths:
        return None
    hits = np.array([any(_is(m.things, one) for one in truths) for m in seen.sets])
    parts = [_parts(m.things, truths[-1]) for m in seen.sets]
    known: list[bool | None] = [None if part and not hit else bool(hit) for hit, part in zip(hits, parts, strict=True)]
    half = next((len(one) // 2 for one in truths if len(one) % 2 == 0), None)
    source = origin(entry.get("repo", ""), f"boxed-{real.source_of(name)}")
    return Case(name, folder.name, source, seen, hits, known, known, half, len(truths[0]), boxed=True)


def held(folder: Path, cache: Path | None = None) -> list[Case]:
    """The photos that the shipped net was kept from (`folds.held_out`), as it sees them: those of one pair of shoes
    each (`pair_*`), 1+1, and sources with boxes.
    """
    boxes: dict[str, Any] = json.loads((folder / "boxes.json").read_text())
    names = [name for name in boxes if folds.held_out(name)]
    two = [name for name in names if real.source_of(name) == "pair"]
    other = [(name, boxes[name]) for name in names if real.source_of(name) != "pair"]
    case = partial(_case, folder=folder, nets=dict.fromkeys(names, runtime.MODEL), cache=cache, pair="held")
    with Pool(PROCESSES) as pool:
        seen = pool.map(case, other, chunksize=4)
        shoes = pool.map(partial(_pair, folder=folder, cache=cache), two, chunksize=4)
    return [*shoes, *(dataclasses.replace(one, share=SHARE) for one in seen if one is not None)]


def _pair(name: str, folder: Path, cache: Path | None) -> Case:
    cv2.setNumThreads(1)
    pixels, _ = look.framed(photo.load(folder / "images" / name), None)
    seen = kept(cache, f"{folder.name}-{name}", partial(measure, pixels))
    two = [len(m.things) == 2 for m in seen.sets]
    fold = f"pair-{zlib.crc32(name.encode()) % PAIR_FOLDS}"
    return Case(name, "pairs", fold, seen, np.array(two, bool), list(two), list(two), 1, 2)


def meant(boxes: list[dict[str, Any]], size: tuple[int, int]) -> list[Boxes]:
    """What a person may count, each at least two: the kind that there is most of to see, and all that is boxed."""
    every = np.array([b["box"] for b in boxes], dtype=np.float64).reshape(-1, 4)[:, [1, 0, 3, 2]] * [
        size[0],
        size[1],
        size[0],
        size[1],
    ]
    kinds = np.unique([b["kind"] for b in boxes], return_inverse=True)[1]
    main = real.main_kind(kinds, (every[:, 2] - every[:, 0]) * (every[:, 3] - every[:, 1])) if len(every) else -1
    return [one for one in (every[kinds == main], every) if len(one) >= 2]


def _is(things: ThingSet, boxes: Boxes) -> bool:
    """Whether the set has as many things as there are boxes, and nearly each lies in a box of its own."""
    if len(things) != len(boxes):
        return False
    middle, half = (boxes[:, :2] + boxes[:, 2:]) / 2, np.maximum(1.0, (boxes[:, 2:] - boxes[:, :2]) / 2)
    away = np.max(np.abs(things.centers[:, None] - middle[None]) / half[None], axis=2)
    mine, theirs = linear_sum_assignment(away)
    return bool((away[mine, theirs] <= 1).mean() >= SAME)


def _parts(things: ThingSet, boxes: Boxes) -> bool:
    """Whether these are parts of the boxed things (pips on a card): another level, of which the boxes say nothing."""
    at = things.centers[:, None]
    inside = np.all((at >= boxes[None, :, :2]) & (at <= boxes[None, :, 2:]), axis=2)
    return (
        len(things) >= 4 and bool(inside.any(1).mean() > 0.8) and len(things) >= 1.8 * max(1, int(inside.any(0).sum()))
    )

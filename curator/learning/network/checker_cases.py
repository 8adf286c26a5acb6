"""Photos with boxes and scenes, each with its candidate sets and how right each of these is: what the checker learns.

`python -m curator.learning.network.checker_cases --real .learn/real -o .learn/cases` and `--scenes 3000 9000` (drawn,
rendered); both write shards, which a training that is under way takes in. The shipped finders look, so the sets are
those that the judge meets; photos are also looked at mirrored, turned, in cut-outs, and as poor copies, where the
finders go wrong more often. `--net` names an older finder, a stranger to photos gathered since.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from collections.abc import Iterator
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from curator.learning.network import checker_photos
from curator.learning.network.checker_photos import TOO_MANY
from curator.learning.photos.boxed import SAME, Boxes
from curator.seeing.finders import find_all
from curator.seeing.judging import features, models
from curator.seeing.net import runtime
from curator.seeing.view import view_of

Pixels = NDArray[np.uint8]
SIDE = 384  # of the pictures that are kept
MOST, SETS = 64, 20  # things a set, sets a picture
GOOD = 4  # right sets kept of one picture
SHARD = 128  # pictures
UNKNOWN = -1.0  # of a label: nobody knows
LIKELY = 0.7  # share of the marks from which a set that has all boxed things may be right where some have no box
WEAK = {
    False: ("facade", "one window", "insect", "butterfly", "leaflets", "hands"),
    True: ("windows", "front", "front close", "room", "crawler", "bug", "stools", "chairs", "hands"),
}
"""Families of drawn and of rendered scenes that two of five seeds are of: what is counted least well."""


class Taken(NamedTuple):
    """One picture and its sets, the right ones first, then by belief; the truth itself last, where there is one."""

    image: Pixels  # (SIDE, SIDE, 3), grey below and beside the picture
    sets: NDArray[np.float16]  # (SETS, MOST, 4) row, column, height, width in pixels of `image`
    count: NDArray[np.uint8]  # (SETS,)
    label: NDArray[np.float32]  # (SETS, 4) right, recall, precision (or UNKNOWN), what the judge believes (-1: truth)
    used: int
    name: str


def matched(at: NDArray[np.float64], boxes: Boxes) -> int:
    """How many places (n, 2) lie each in a box of its own."""
    middle, half = (boxes[:, :2] + boxes[:, 2:]) / 2, np.maximum(1.0, (boxes[:, 2:] - boxes[:, :2]) / 2)
    away = np.max(np.abs(at[:, None] - middle[None]) / half[None], axis=2)
    mine, theirs = linear_sum_assignment(np.minimum(away, 4))
    return int((away[mine, theirs] <= 1).sum())


def rightness(at: NDArray[np.float64], truths: list[Boxes], complete: bool = True) -> tuple[float, float, float]:
    """Right, recall and precision of a set by the truth that it fits best. Where some things may have no box, a set
    with all boxed ones and few more may be right, and its precision is UNKNOWN.
    """
    best = (0.0, 0.0, 0.0)
    for truth in truths:
        hit = matched(at, truth)
        right = float(len(at) == len(truth) and hit >= SAME * len(at))
        best = max(best, (right, hit / len(truth), hit / len(at)), key=lambda v: (v[0], v[1] * v[2]))
    if complete:
        return best
    _, recall, precision = best
    return UNKNOWN if recall == 1 and precision >= LIKELY else 0.0, recall, UNKNOWN


def _square(pixels: Pixels) -> tuple[Pixels, float]:
    scale = SIDE / max(pixels.shape[:2])
    size = (max(1, round(pixels.shape[1] * scale)), max(1, round(pixels.shape[0] * scale)))
    square = np.full((SIDE, SIDE, 3), 127, np.uint8)
    square[: size[1], : size[0]] = cv2.resize(
        pixels, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    )
    return square, scale


def _boxed(boxes: Boxes, scale: float) -> NDArray[np.float64]:
    return np.asarray(
        np.column_stack([(boxes[:, :2] + boxes[:, 2:]) / 2, boxes[:, 2:] - boxes[:, :2]]) * scale, np.float64
    )


def take(picture: checker_photos.Shown, name: str, model: Path = runtime.MODEL) -> Taken | None:
    """What the finders find in the picture that is looked at, told on the good one; None where they find nothing."""
    every = [m for m in features.measured(find_all(view_of(picture.seen, model))) if len(m.things) <= MOST]
    if not every:
        return None
    image, scale = _square(picture.shown)
    rows = []
    for m, belief in zip(every, models.beliefs(*features.weighed(every)), strict=True):
        boxes = np.array([t.box for t in m.things.things], np.float64)
        placed = np.column_stack([m.things.centers, boxes[:, 2:] - boxes[:, :2]]) * scale
        rows.append((rightness(m.things.centers, picture.truths, picture.complete), belief.own, placed))
    rows.sort(key=lambda row: -row[1])
    right = [row for row in rows if row[0][0]][:GOOD]
    wrong = [row for row in rows if not row[0][0]][: SETS - 1 - len(right)]
    known = (1.0, 1.0, 1.0) if picture.complete else (UNKNOWN, 1.0, UNKNOWN)
    truth = [(known, -1.0, _boxed(picture.truths[0], scale))] if picture.truths else []
    chosen = [*right, *wrong, *truth]
    sets, count = np.zeros((SETS, MOST, 4), np.float16), np.zeros(SETS, np.uint8)
    label = np.zeros((SETS, 4), np.float32)
    for i, (how, own, placed) in enumerate(chosen):
        sets[i, : len(placed)], count[i], label[i] = placed, len(placed), (*how, own)
    return Taken(image, sets, count, label, len(chosen), name)


def _photo(job: tuple[str, dict[str, Any], str], folder: Path, model: Path) -> Taken | None:
    """One photo in one of the ways."""
    cv2.setNumThreads(1)
    name, entry, way = job
    raw = cv2.imread(str(folder / "images" / f"{Path(name).stem}.webp"))
    if raw is None:
        return None
    picture = checker_photos.shown(np.asarray(raw[..., ::-1], np.uint8), name, entry["boxes"], way)
    return None if picture is None else take(picture, f"{name}/{way}", model)


def _scene(job: tuple[bool, int]) -> Taken | None:
    cv2.setNumThreads(1)
    rendered, seed = job
    from curator.learning.drawn import scenes
    from curator.learning.rendered import solids

    family = random.Random(seed).choice(WEAK[rendered]) if seed % 5 < 2 else None
    try:
        scene = solids.make_solid(seed, SIDE, family) if rendered else scenes.make(seed, SIDE, family)
    except (ValueError, IndexError, RuntimeError) as error:  # one bad seed must not end the run
        print("seed", seed, repr(error)[:100], flush=True)
        return None
    counted = (scene.kind == scene.main) & ~scene.aside & (scene.visible >= 0.25)
    n = int(counted.sum()) if scene.main >= 0 else 0
    if n > TOO_MANY or (scene.main >= 0 and n == 0):
        return None
    image = np.ascontiguousarray(scene.image)
    truths = [scene.boxes[counted].astype(np.float64)] if n else []
    picture = checker_photos.Shown(image, image, truths, True)
    return take(picture, f"{'rendered' if rendered else 'drawn'}-{seed}")


def write(found: list[Taken], path: Path) -> None:
    """One shard, whole or not at all."""
    arrays: dict[str, Any] = {name: np.array([getattr(t, name) for t in found]) for name in Taken._fields}
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    with part.open("wb") as file:
        np.savez(file, **arrays)
    part.replace(path)


def _gathered(make: Any, jobs: list[Any], processes: int, until: float) -> Iterator[Taken]:
    with Pool(processes) as pool:
        for one in pool.imap_unordered(make, jobs, chunksize=2):
            if one is not None:
                yield one
            if time.time() > until:
                break
        pool.terminate()


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--real", type=Path, help="a folder as `photos.prepare` packs it")
    options.add_argument("--net", type=Path, help="an older finder, for the photos as a stranger sees them")
    options.add_argument("--scenes", type=int, nargs=2, default=[3000, 9000], help="drawn, rendered")
    options.add_argument("--seed", type=int, default=7_000_000)
    options.add_argument("--processes", type=int, default=16)
    options.add_argument("--minutes", type=float, default=3.0, help="after which no more is looked at")
    options.add_argument("--kind", help="what its shards are called, real or scenes; what is `held` is not learned")
    options.add_argument("-o", "--output", type=Path, required=True)
    chosen = options.parse_args()
    jobs: list[Any]
    make: Any
    if chosen.real:
        boxes = json.loads((chosen.real / "boxes.json").read_text())
        names = [n for n in boxes if checker_photos.complete(n) is not None]
        ways = checker_photos.STRANGER if chosen.net else checker_photos.WAYS
        jobs = [(n, boxes[n], way) for way in ways for n in names]
        make, kind = partial(_photo, folder=chosen.real, model=chosen.net or runtime.MODEL), "real"
    else:
        jobs = [(bool(k), chosen.seed + i) for k in (0, 1) for i in range(chosen.scenes[k])]
        random.Random(0).shuffle(jobs)
        make, kind = _scene, "scenes"
    name = f"{chosen.kind or kind}-{chosen.net.stem if chosen.net else chosen.seed}"
    start, many, found = time.time(), 0, list[Taken]()
    for one in _gathered(make, jobs, chosen.processes, start + chosen.minutes * 60):
        found.append(one)
        if len(found) == SHARD:
            write(found, chosen.output / f"{name}-{many:06d}.npz")
            many, found = many + len(found), []
            print(f"{time.time() - start:.0f} s: {many} pictures", flush=True)
    if found:
        write(found, chosen.output / f"{name}-{many:06d}.npz")
    print(many + len(found), "pictures in", f"{time.time() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()

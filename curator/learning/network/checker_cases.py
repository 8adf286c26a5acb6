"""Photos with boxes and scenes, each with its candidate sets and how right each of these is: what the checker learns.

`python -m curator.learning.network.checker_cases --real .learn/real -o .learn/cases/real.npz` and `--scenes 3000 9000`
(drawn, rendered) `-o .learn/cases/scenes.npz`. The shipped finders look, so the sets are those that the judge meets;
photos are also looked at mirrored, turned, and as poor copies, where the finders go wrong more often.
"""

from __future__ import annotations

import argparse
import json
import random
import time
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from curator.learning.photos import real
from curator.learning.photos.boxed import SAME, Boxes, _meant
from curator.seeing.finders import find_all
from curator.seeing.judging import features, models
from curator.seeing.view import view_of

Pixels = NDArray[np.uint8]
SIDE = 384  # of the pictures that are kept
MOST, SETS = 64, 20  # things a set, sets a picture
TOO_MANY = 40  # things of a truth
GOOD = 4  # right sets kept of one picture
WAYS = ("as it is", "mirrored", "passed on", "a poor copy", "turned")


class Taken(NamedTuple):
    """One picture and its sets, the right ones first, then by belief; the truth itself last, where there is one."""

    image: Pixels  # (SIDE, SIDE, 3), grey below and beside the picture
    sets: NDArray[np.float16]  # (SETS, MOST, 4) row, column, height, width in pixels of `image`
    count: NDArray[np.uint8]  # (SETS,)
    label: NDArray[np.float32]  # (SETS, 4) right, recall, precision, what the judge believes (-1: the truth)
    used: int
    name: str


def matched(at: NDArray[np.float64], boxes: Boxes) -> int:
    """How many places (n, 2) lie each in a box of its own."""
    middle, half = (boxes[:, :2] + boxes[:, 2:]) / 2, np.maximum(1.0, (boxes[:, 2:] - boxes[:, :2]) / 2)
    away = np.max(np.abs(at[:, None] - middle[None]) / half[None], axis=2)
    mine, theirs = linear_sum_assignment(np.minimum(away, 4))
    return int((away[mine, theirs] <= 1).sum())


def rightness(at: NDArray[np.float64], truths: list[Boxes]) -> tuple[float, float, float]:
    """Right, recall and precision of a set by the truth that it fits best."""
    best = (0.0, 0.0, 0.0)
    for truth in truths:
        hit = matched(at, truth)
        right = float(len(at) == len(truth) and hit >= SAME * len(at))
        best = max(best, (right, hit / len(truth), hit / len(at)), key=lambda v: (v[0], v[1] * v[2]))
    return best


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


def take(seen: Pixels, shown: Pixels, truths: list[Boxes], name: str) -> Taken | None:
    """What the finders find in `seen`, told on `shown`, the same picture; None where they find nothing."""
    every = [m for m in features.measured(find_all(view_of(seen))) if len(m.things) <= MOST]
    if not every:
        return None
    image, scale = _square(shown)
    rows = []
    for m, belief in zip(every, models.beliefs(*features.weighed(every)), strict=True):
        boxes = np.array([t.box for t in m.things.things], np.float64)
        placed = np.column_stack([m.things.centers, boxes[:, 2:] - boxes[:, :2]]) * scale
        rows.append((rightness(m.things.centers, truths), belief.own, placed))
    rows.sort(key=lambda row: -row[1])
    right = [row for row in rows if row[0][0]][:GOOD]
    wrong = [row for row in rows if not row[0][0]][: SETS - 1 - len(right)]
    truth = [((1.0, 1.0, 1.0), -1.0, _boxed(truths[0], scale))] if truths else []
    chosen = [*right, *wrong, *truth]
    sets, count = np.zeros((SETS, MOST, 4), np.float16), np.zeros(SETS, np.uint8)
    label = np.zeros((SETS, 4), np.float32)
    for i, (how, own, placed) in enumerate(chosen):
        sets[i, : len(placed)], count[i], label[i] = placed, len(placed), (*how, own)
    return Taken(image, sets, count, label, len(chosen), name)


def _photo(job: tuple[str, dict[str, Any], str], folder: Path) -> Taken | None:
    """One photo in one of the WAYS, its truths the kind there is most of to see, and all that is boxed."""
    cv2.setNumThreads(1)
    name, entry, way = job
    raw = cv2.imread(str(folder / "images" / f"{Path(name).stem}.webp"))
    if raw is None:
        return None
    shown = cv2.cvtColor(raw, cv2.COLOR_BGR2RGB)
    high, wide = shown.shape[:2]
    truths = [one for one in _meant(entry["boxes"], (high, wide)) if len(one) <= TOO_MANY]
    truths = truths[:1] if len({len(one) for one in truths}) == 1 else truths
    if not truths:
        return None
    if way == "mirrored":
        shown = shown[:, ::-1]
        truths = [np.column_stack([t[:, 0], wide - t[:, 3], t[:, 2], wide - t[:, 1]]) for t in truths]
    if way == "turned":
        shown = shown[::-1].transpose(1, 0, 2)
        truths = [np.column_stack([t[:, 1], high - t[:, 2], t[:, 3], high - t[:, 0]]) for t in truths]
    seen = shown = np.ascontiguousarray(shown)
    if way in ("passed on", "a poor copy"):
        seen = _copied(shown, *((0.94, 80) if way == "passed on" else (0.55, 40)))
    return take(seen, shown, truths, f"{name}/{way}")


def _copied(pixels: Pixels, smaller: float, quality: int) -> Pixels:
    """The picture as large as it was after it was made smaller and saved."""
    size = (round(pixels.shape[1] * smaller), round(pixels.shape[0] * smaller))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    _, data = cv2.imencode(".jpg", small[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    back = cv2.imdecode(data, cv2.IMREAD_COLOR)[..., ::-1]
    return np.asarray(cv2.resize(back, (pixels.shape[1], pixels.shape[0]), interpolation=cv2.INTER_LINEAR), np.uint8)


def _scene(job: tuple[bool, int]) -> Taken | None:
    cv2.setNumThreads(1)
    rendered, seed = job
    from curator.learning.drawn import scenes
    from curator.learning.rendered import solids

    try:
        scene = solids.make_solid(seed, SIDE) if rendered else scenes.make(seed, SIDE)
    except (ValueError, IndexError) as error:  # one bad seed must not end the run
        print("seed", seed, repr(error)[:100], flush=True)
        return None
    counted = (scene.kind == scene.main) & ~scene.aside & (scene.visible >= 0.25)
    n = int(counted.sum()) if scene.main >= 0 else 0
    if n > TOO_MANY or (scene.main >= 0 and n == 0):
        return None
    image = np.ascontiguousarray(scene.image)
    truths = [scene.boxes[counted].astype(np.float64)] if n else []
    return take(image, image, truths, f"{'rendered' if rendered else 'drawn'}-{seed}")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--real", type=Path, help="a folder as `photos.prepare` packs it")
    options.add_argument("--scenes", type=int, nargs=2, default=[3000, 9000], help="drawn, rendered")
    options.add_argument("--seed", type=int, default=7_000_000)
    options.add_argument("--processes", type=int, default=16)
    options.add_argument("--minutes", type=float, default=3.0, help="after which what there is is written")
    options.add_argument("-o", "--output", type=Path, required=True)
    chosen = options.parse_args()
    start, found = time.time(), []
    jobs: list[Any]
    make: Any
    if chosen.real:
        boxes = json.loads((chosen.real / "boxes.json").read_text())
        complete = set(real.COMPLETE) | set(real.ALSO)
        jobs = [(n, e, way) for way in WAYS for n, e in boxes.items() if real.source_of(n) in complete]
        make = partial(_photo, folder=chosen.real)
    else:
        jobs = [(bool(k), chosen.seed + i) for k in (0, 1) for i in range(chosen.scenes[k])]
        random.Random(0).shuffle(jobs)
        make = _scene
    with Pool(chosen.processes) as pool:
        for one in pool.imap_unordered(make, jobs, chunksize=4):
            if one is not None:
                found.append(one)
            if time.time() - start > chosen.minutes * 60:
                break
        pool.terminate()
    chosen.output.parent.mkdir(parents=True, exist_ok=True)
    arrays: dict[str, Any] = {name: np.array([getattr(t, name) for t in found]) for name in Taken._fields}
    np.savez(chosen.output, **arrays)
    print(len(found), "pictures with", sum(t.used for t in found), "sets")


if __name__ == "__main__":
    main()

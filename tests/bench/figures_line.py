"""Figures of the whole line: a photo in, its readings out; beside plain recipes, and in batches."""

from __future__ import annotations

import csv
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from curator.seeing import look, photo
from tests.bench.plain_recipes import Pixels, otsu, watershed
from tests.bench.rows import Row, Took, by_turns, middle, timed

SAMPLES = Path(__file__).parents[2] / "sample_images"
BATCH = 36  # of 12 the last line would differ by a third from run to run
NINE = 9  # different photos in turn, so that nothing is answered from memory


def _labels() -> list[dict[str, str]]:
    return list(csv.DictReader((SAMPLES / "labels.csv").open(newline="")))


def _enlarged(folder: Path, megapixels: float, suffix: str = ".jpg", count: int = NINE) -> list[Path]:
    """Samples at the size of a phone's photo, with a camera's noise, saved as a phone would."""
    made, every = [], _labels()
    for k, row in enumerate(every[:: max(1, len(every) // count)][:count]):
        pixels = cv2.imread(str(SAMPLES / row["file"]))
        scale = (megapixels * 1e6 / (pixels.shape[0] * pixels.shape[1])) ** 0.5
        pixels = cv2.resize(pixels, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
        noise = np.random.default_rng(k).standard_normal(pixels.shape, np.float32)
        pixels = np.clip(pixels + 5 * noise, 0, 255).astype(np.uint8)
        path = folder / f"{k}{suffix}"
        if suffix == ".jpg":
            cv2.imwrite(str(path), pixels, [cv2.IMWRITE_JPEG_QUALITY, 88])
        else:
            import pillow_heif
            from PIL import Image

            pillow_heif.from_pillow(Image.fromarray(pixels[..., ::-1])).save(path, quality=60)
        made.append(path)
    return made


def _decode(path: Path) -> object:
    return cv2.imdecode(np.fromfile(path, np.uint8), cv2.IMREAD_REDUCED_COLOR_4)


def line(photos: int = NINE) -> list[Row]:
    """The line on so many different photos in turn, against the reduced decode of the same file."""
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for title, size, suffix, count in (
            ("JPEG, 12 MP", 12, ".jpg", photos),
            ("JPEG, 3 MP", 3, ".jpg", photos),
            ("HEIC, 12 MP", 12, ".heic", min(photos, 3)),  # each takes some seconds to be saved
        ):
            paths = _enlarged(folder, size, suffix, count)
            reads = _decode if suffix == ".jpg" else photo.load
            for path in paths[:2]:
                look.look(path)
            took = [
                by_turns({"line": lambda p=path: look.look(p), "read": lambda p=path, reads=reads: reads(p)}, 1)
                for path in paths
            ]  # type: ignore[misc]
            whole, least = (middle([one[key] for one in took]) for key in ("line", "read"))
            floor = "reduced decode" if suffix == ".jpg" else "decode"
            rows.append(Row(f"{floor}, {title}", least.cpu, None, "", "", least.clock, own=False))
            clock = f"{count} photos; {whole.clock / least.clock:.1f} times by the clock"
            rows.append(Row(f"whole line, {title}", whole.cpu, whole.cpu / least.cpu, floor, clock, whole.clock))
    return rows


def blobs(pixels: Pixels) -> int:
    """OpenCV's blob detector with its defaults, dark and light."""
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    detector = cv2.SimpleBlobDetector.create()
    return max(len(detector.detect(grey)), len(detector.detect(255 - grey)))


def mirror(pixels: Pixels) -> int:
    """A mirror search by features: pairs of keypoints that match their mirror images over the middle of the picture."""
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    finder = cv2.ORB.create(400)
    own, one = finder.detectAndCompute(grey, None)
    _, other = finder.detectAndCompute(np.ascontiguousarray(grey[:, ::-1]), None)
    if one is None or other is None:
        return 0
    pairs = cv2.BFMatcher(cv2.NORM_HAMMING, crossCheck=True).match(one, other)
    return len({(int(own[m.queryIdx].pt[0]) // 40, int(own[m.queryIdx].pt[1]) // 40) for m in pairs if m.distance < 30})


def _count(pixels: Pixels) -> int:
    from curator.seeing.finders import find_all
    from curator.seeing.judging.readings import readings
    from curator.seeing.view import view_of

    return readings(pixels, find_all(view_of(pixels)))[0].total or 0


def recipes() -> list[Row]:
    """What a person would otherwise write with the same libraries: time and exact counts on the samples."""
    kept = [(row, look.framed(photo.load(SAMPLES / row["file"]), None)[0]) for row in _labels() if row["total"]]
    ways: dict[str, Callable[[Pixels], int]] = {
        "threshold and contours": otsu, "blob detection": blobs, "watershed": watershed, "mirror search": mirror,
        "curator": _count,
    }  # fmt: skip
    rows = []
    for name, way in ways.items():
        way(kept[0][1])
        right: list[bool] = []
        took = timed(lambda way=way, right=right: right.extend(way(p) == int(row["total"]) for row, p in kept))  # type: ignore[misc]
        told = f"exact in {np.mean(right):.2f} of {len(right)} samples"
        each = took.cpu / len(kept), took.clock / len(kept)
        rows.append(Row(f"count by {name}", each[0], None, "", told, each[1], own=name == "curator"))
    return rows


def batch(photos: int = BATCH) -> list[Row]:
    """`curator tag` on so many photos of 12 megapixels, on one core and on all; and on a quarter of them, for what one
    more photo takes when all has started, and whether memory grows with their number.
    """
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as name:
        paths = _enlarged(Path(name), 12, count=photos)
        every, took = sorted(os.sched_getaffinity(0)), {}
        few = paths[: len(paths) // 4]
        first = _tagged(few, every)
        memory = [_largest()]
        for cores in sorted({1, len(every)}):
            took[cores] = _tagged(paths, every[:cores])
            cpu, clock = (ms / len(paths) for ms in took[cores])
            memory.append(_largest())
            told = f"{1000 / clock:.1f} photos a second by the clock; largest process {memory[-1]:.0f} MB"
            rows.append(Row(f"tag, a photo in a batch of {len(paths)}, {cores} cores", cpu, None, "", told, clock))
        if len(took) > 1:
            speed = took[1].clock / took[len(every)].clock / len(every)
            rows[-1] = rows[-1]._replace(beside=f"{rows[-1].beside}; efficiency {speed:.2f}")
        cpu, clock = (
            (all_of - part) / (len(paths) - len(few)) for all_of, part in zip(took[len(every)], first, strict=True)
        )
        told = f"{1000 / clock:.1f} photos a second by the clock, once all has started"
        told += f"; largest process of {len(few)} photos {memory[0]:.0f} MB, of {len(paths)} {memory[-1]:.0f} MB"
        rows.append(Row(f"tag, one more photo in a batch, {len(every)} cores", cpu, None, "", told, clock))
    return rows


def _largest() -> float:
    """Megabytes of the largest process that ended so far."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def _tagged(paths: list[Path], cores: list[int]) -> Took:
    command = [sys.executable, "-m", "curator", "tag", "--json", *map(str, paths)]

    def run() -> None:
        subprocess.run(
            command, preexec_fn=lambda: os.sched_setaffinity(0, cores), check=False, stdout=subprocess.DEVNULL
        )

    return timed(run)

"""The outlines of a kept prompt's things: found once, noted beside the catalog's index (`catalog/measured.py`).

Both shells have them found when prompts are kept (`prepare`), so that the first lesson or site does not wait for them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from pathlib import Path

import numpy as np

from curator.catalog import measured, reading
from curator.classroom.marking import extents, fingers, outlines, seen
from curator.classroom.marking.extents import Pixels
from curator.classroom.marking.outlines import SOFT, Labels
from curator.errors import CuratorError
from curator.parallel import Progress, watched
from curator.records import Prompt
from curator.seeing.net import hands, runtime
from curator.seeing.net import outlines as by_net

KIND = "outlines"


def prepare(folder: Path, slugs: Collection[str], progress: Progress | None = None) -> None:
    """Find the outlines of these prompts, in processes with limits; Ctrl-C leaves the rest for later."""
    jobs = [(folder, slug) for slug in slugs]
    for _ in watched(prepare_one, jobs, progress, aside=_left_alone):
        pass


def prepare_one(folder: Path, slug: str) -> None:
    """Find the outlines of a kept prompt, if they are not noted; not of one that is gone or cannot be read."""
    from curator.seeing.photo import large_of, read_bytes

    with suppress(CuratorError, OSError):
        prompt = reading.load(folder, slug)
        data = read_bytes(reading.picture_path(folder, prompt))
        outlines_of(folder, prompt, data, large_of(data, prompt.picture))


def _left_alone(_folder: Path, _slug: str) -> None:
    """The answer for a picture that took more memory or time than one may."""


def outlines_of(folder: Path, prompt: Prompt, data: bytes, photo: Pixels) -> Labels:
    """As `outlines.outlines`; `data`: the bytes of the prompt's picture, `photo`: the same decoded (H, W, 3)."""
    if not prompt.dots:
        return outlines.outlines(photo, prompt)
    stamp = _stamp(prompt, data)
    known = (measured.read(folder, KIND, prompt.slug, stamp) or {}).get("labels")
    if isinstance(known, np.ndarray) and _is_sound(known, photo, len(prompt.dots)):
        return known
    found = outlines.outlines(photo, prompt)
    if reading.has(folder, prompt.slug):
        picture = reading.picture_path(folder, prompt)
        measured.note(folder, KIND, prompt.slug, stamp, {"labels": found}, lambda: _is_there(picture, data))
    return found


def _is_sound(labels: Labels, photo: Pixels, count: int) -> bool:
    """Whether they fit the picture and its things, whoever wrote them."""
    fits = labels.dtype == np.uint8 and labels.shape == outlines.size_of(photo)
    return fits and bool((labels % SOFT <= count).all())


def _is_there(picture: Path, data: bytes) -> bool:
    return picture.is_file() and picture.read_bytes() == data


def _stamp(prompt: Prompt, data: bytes) -> str:
    """What changes whenever other outlines would be found: the picture, the dots, the net, the way they are found."""
    net = runtime.MODEL.stat() if runtime.MODEL.exists() else None
    half = prompt.fact.half if prompt.fact else 0
    said = [prompt.dots, half, net and (net.st_size, net.st_mtime_ns), _program()]
    return hashlib.sha256(json.dumps(said).encode() + hashlib.sha256(data).digest()).hexdigest()


@cache
def _program() -> str:
    """A digest of what finds them."""
    import cv2

    parts = [
        Path(str(module.__file__)).read_bytes() for module in (extents, fingers, outlines, seen, by_net, runtime, hands)
    ]
    parts += [one.encode() for one in (cv2.__version__, version("scikit-image"), version("onnxruntime"))]
    return hashlib.sha256(b"\0".join(parts)).hexdigest()

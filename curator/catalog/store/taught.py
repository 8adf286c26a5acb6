"""What the kept pictures of a thing teach (`seeing/judging/taught.py`), noted beside the index (`catalog/measured.py`).

It is made when somebody asks about that thing, made anew on any doubt, and gone with the picture.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from curator.catalog import measured, reading
from curator.catalog.search import index
from curator.parallel import watched
from curator.records import Dot, Prompt

if TYPE_CHECKING:
    from curator.parallel import Progress
    from curator.seeing.judging.taught import Example, Taught

KIND = "taught"
MOST = 10  # newest kept pictures of a thing: what was measured goes no further (`.docs/experiments.md`)
LOOKED_AT = 200  # prompts found by the word, of which those with that very name are taken
VERSION = 1  # another number throws all away


def known(folder: Path, names: Collection[str], progress: Progress | None = None) -> Taught:
    """What the newest kept pictures of the thing teach that one of `names` (one, or many of it) names; () where none is
    kept. Pictures that were not looked at for it are now, in processes with limits; `progress` is told of each.
    """
    held, jobs = _held(folder, names)
    if jobs:
        held |= dict(watched(learned, jobs, progress, aside=nothing_learned))
    return tuple(one for found in held.values() for one in found or ())


def noted(folder: Path, names: Collection[str]) -> Taught:
    """The same of those pictures that were looked at before: nobody waits for the others."""
    return tuple(one for found in _held(folder, names)[0].values() for one in found or ())


def one_more(folder: Path, names: Collection[str]) -> bool:
    """Look at one more of these pictures, in this process; whether another one waits. One that ends the process is not
    looked at again.
    """
    jobs = _held(folder, names)[1]
    if not jobs:
        return False
    nothing_learned(*jobs[0])
    learned(*jobs[0])
    _, prompt, stamp = jobs[0]
    return len(jobs) > 1 and _read(folder, prompt.slug, stamp) is not None  # else nothing can be noted there


def _held(folder: Path, names: Collection[str]) -> tuple[dict[str, Taught | None], list[tuple[Path, Prompt, str]]]:
    """What each of these pictures teaches as far as it is noted, newest first; and those to be looked at."""
    wanted = {name.casefold().strip() for name in names} - {""}
    if not wanted or not folder.is_dir():
        return {}, []
    measured.clear(folder, KIND)
    prompts = list(_of(folder, wanted))
    stamps = {prompt.slug: _stamp(folder, prompt) for prompt in prompts}
    held = {slug: _read(folder, slug, stamp) for slug, stamp in stamps.items()}
    return held, [(folder, prompt, stamps[prompt.slug]) for prompt in prompts if held[prompt.slug] is None]


def learned(folder: Path, prompt: Prompt, stamp: str) -> tuple[str, Taught]:
    """Look at a kept picture, and note what it teaches, if anything; nothing is noted where the drive refuses."""
    from curator.seeing import look, photo

    found: Example | None = None
    with suppress(Exception):  # a picture that cannot be looked at teaches nothing, and stops nobody who adds another
        found = look.example_of(photo.load(reading.picture_path(folder, prompt)), _counted(prompt), prompt.area)
    return _noted(folder, prompt, stamp, () if found is None else (found,))


def nothing_learned(folder: Path, prompt: Prompt, stamp: str) -> tuple[str, Taught]:
    """The answer for a picture that took more memory or time than one may; it is not looked at again."""
    return _noted(folder, prompt, stamp, ())


def _noted(folder: Path, prompt: Prompt, stamp: str, taught: Taught) -> tuple[str, Taught]:
    arrays = {"measures": taught[0].measures.astype(np.float32), "right": taught[0].right} if taught else {}
    measured.note(folder, KIND, prompt.slug, stamp, arrays, lambda: _stamp(folder, prompt) == stamp)
    return prompt.slug, taught


def _of(folder: Path, wanted: set[str]) -> Iterator[Prompt]:
    """The newest prompts of that thing that a person checked or that were sure, at most MOST."""
    found: dict[str, Prompt] = {}
    for name in sorted(wanted):
        for prompt in index.find(folder, name, limit=LOOKED_AT).prompts:
            own = {prompt.thing.casefold().strip(), prompt.things.casefold().strip()}
            if wanted & own and _counted(prompt) and (prompt.checked_by or prompt.touched or prompt.grade == "sure"):
                found.setdefault(prompt.slug, prompt)
    yield from sorted(found.values(), key=lambda prompt: (prompt.added, prompt.slug), reverse=True)[:MOST]


def _counted(prompt: Prompt) -> list[Dot]:
    """The dots of what is counted, without what was left out on purpose."""
    return [dot for dot in prompt.dots if dot.side or prompt.fact is None]


def _stamp(folder: Path, prompt: Prompt) -> str:
    """What changes whenever something else would be learned: the picture, her dots, the finder, what is measured."""
    from curator.seeing.judging import taught
    from curator.seeing.net.runtime import MODEL

    try:
        picture = reading.picture_path(folder, prompt).stat()
    except OSError:
        return ""
    area = None if prompt.area is None else (prompt.area.left, prompt.area.top, prompt.area.right, prompt.area.bottom)
    net = MODEL.stat() if MODEL.exists() else None
    said = [
        VERSION, prompt.picture, picture.st_size, picture.st_mtime_ns, _counted(prompt), area,
        taught.NAMES, net and (net.st_size, net.st_mtime_ns),
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def _read(folder: Path, slug: str, stamp: str) -> Taught | None:
    """What is noted of a picture under that stamp; None on any doubt."""
    from curator.seeing.judging import taught

    noted = measured.read(folder, KIND, slug, stamp)
    if not noted:
        return None if noted is None else ()
    try:
        measures, right = noted["measures"].astype(np.float64), noted["right"].astype(bool)
        sound = measures.shape == (len(right), len(taught.NAMES)) and np.isfinite(measures).all() and right.any()
    except Exception:  # other arrays than ours
        return None
    return (taught.Example(measures, right),) if sound else None

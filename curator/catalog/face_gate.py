"""Whether a picture may show a face that nobody has answered for: asked by every door, of the same record.

What the search found is written into the prompt once, with the picture it was found in. Where that is missing, or of
another picture or detector, the picture is searched anew.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from curator.catalog import files, reading
from curator.catalog.face_words import is_answered
from curator.errors import CatalogError, PhotoError
from curator.parallel import Progress, watched
from curator.records import Area, FacesSeen, Prompt

WIDER = 0.15  # of a face's width and height: how much is blurred round it


def record(boxes: Sequence[Area], picture: bytes) -> FacesSeen:
    """What was found, to be written into the prompt of a picture (the bytes of its file)."""
    from curator.seeing.faces import DETECTOR

    return FacesSeen(tuple(boxes), date.today().isoformat(), DETECTOR, hashlib.sha256(picture).hexdigest()[:16])


def recorded(prompt: Prompt, picture: bytes) -> FacesSeen | None:
    """The prompt's own record where it is of this picture and of today's detector."""
    from curator.seeing.faces import DETECTOR

    seen = prompt.seen
    if seen is None or seen.detector != DETECTOR or seen.picture != hashlib.sha256(picture).hexdigest()[:16]:
        return None
    return seen


def seen_in(folder: Path, prompt: Prompt, pixels: NDArray[np.uint8] | None = None) -> FacesSeen:
    """The record, or a search now. `pixels`: the picture, where it is decoded already. PhotoError: it is not read."""
    from curator.seeing import photo
    from curator.seeing.faces import faces

    path = reading.picture_path(folder, prompt)
    data = photo.read_bytes(path)
    known = recorded(prompt, data)
    if known is not None:
        return known
    return record(faces(photo.large_of(data, path.name) if pixels is None else pixels), data)


def unanswered(prompt: Prompt, seen: FacesSeen) -> int:
    """How many likely faces nobody has answered for."""
    return 0 if is_answered(prompt) else len(seen.boxes)


def open_in(folder: Path, prompt: Prompt) -> int:
    """How many likely faces of its picture nobody has answered for; 0 where the picture cannot be read."""
    try:
        return unanswered(prompt, seen_in(folder, prompt))
    except PhotoError:
        return 0


def faces_text(faces: int) -> str:
    """What to say about faces that were seen: May show 2 faces."""
    return f"May show {'a face' if faces == 1 else f'{faces} faces'}"


def to_blur(boxes: Sequence[Area]) -> list[list[float]]:
    """Boxes a little wider than the faces: left, top, right, bottom in fractions."""
    grown = []
    for left, top, right, bottom in boxes:
        wide, tall = WIDER * (right - left), WIDER * (bottom - top)
        grown.append([max(0.0, left - wide), max(0.0, top - tall), min(1.0, right + wide), min(1.0, bottom + tall)])
    return grown


def left_after(boxes: Sequence[Area], blurred: Sequence[Sequence[float]]) -> tuple[Area, ...]:
    """The faces whose middle no blurred box covers."""

    def covered(face: Area) -> bool:
        x, y = (face.left + face.right) / 2, (face.top + face.bottom) / 2
        return any(left <= x <= right and top <= y <= bottom for left, top, right, bottom in blurred)

    return tuple(face for face in boxes if not covered(face))


def search_all(folder: Path, progress: Progress | None = None) -> tuple[int, list[str]]:
    """Search every picture without a record and write what was found into its prompt.

    How many were searched, and the names of those with a face nobody has answered for. Pictures that cannot be read
    are left to `check`.
    """
    jobs = [(folder, prompt) for prompt in reading.every(folder) if not _has_record(folder, prompt)]
    for slug, seen in watched(_searched, jobs, progress):
        if seen is not None:
            note(folder, slug, seen)
    return len(jobs), [p.slug for p in reading.every(folder) if p.seen is not None and unanswered(p, p.seen)]


def _has_record(folder: Path, prompt: Prompt) -> bool:
    try:
        return recorded(prompt, reading.picture_path(folder, prompt).read_bytes()) is not None
    except OSError:
        return True


def _searched(folder: Path, prompt: Prompt) -> tuple[str, FacesSeen | None]:
    try:
        return prompt.slug, seen_in(folder, prompt)
    except PhotoError:
        return prompt.slug, None


def note(folder: Path, slug: str, seen: FacesSeen) -> None:
    """Write a record into the prompt where it is of the picture that it has now; no earlier version is kept of that."""
    from curator.catalog.search import index
    from curator.catalog.yaml_edit import rewritten

    doing = f"Noting what was found in {slug}."
    with files.locked(folder, doing):
        try:
            path = reading.yaml_path(folder, slug)
            prompt = reading.load(folder, slug)
            if recorded(replace(prompt, seen=seen), reading.picture_path(folder, prompt).read_bytes()) is not None:
                files.write(path, rewritten(path.read_text("utf-8-sig"), replace(prompt, seen=seen)).encode())
                index.note(folder, slug)
        except CatalogError:
            return  # removed or damaged in the meantime
        except OSError as error:
            raise files.unwritable(doing, error) from error

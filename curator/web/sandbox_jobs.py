"""What is done with pictures in the worker process: nothing of a teacher's file is decoded anywhere else."""

from __future__ import annotations

import os
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from curator.records import Area, FacesSeen, Look, Photo, Prompt, Reading

if TYPE_CHECKING:
    from curator.seeing.view import View

Point = tuple[float, float]
Line = tuple[Point, Point]
REMOVED = {
    "GPS": "where it was taken",
    "camera": "the camera's data",
    "thumbnail": "a small hidden copy of the picture",
}
FROM_HERS = "These dots were found from yours: look at each before you keep it."


@lru_cache(maxsize=6)
def _look(source: str, area: Area | None) -> Look:
    from curator.seeing.look import look

    return look(Path(source), area)


@lru_cache(maxsize=6)
def _seen(source: str) -> Photo:
    """The photo alone: a teacher's dots need no look at it."""
    from curator.seeing import photo

    return photo.load(Path(source))


def warm(source: str) -> None:
    """Be ready for what is asked of this photo next."""
    from curator.seeing import look  # noqa: F401

    _seen(source)


@lru_cache(maxsize=2)
def _view(source: str, area: Area | None) -> View:
    """What the finders see of it: a teacher asks again and again about one photo."""
    from curator.seeing.look import viewed

    return viewed(_seen(source), area)[0]


def first(source: str, folder: str) -> dict[str, Any]:
    """The first answer for an uploaded file; a thumbnail is written into the folder. What can wait is in `second`."""
    from curator.seeing import photo
    from curator.seeing.answer_json import look_as_json

    looked = _look(source, None)
    _webp(looked.photo.pixels, Path(folder) / "thumb.webp", 320)
    height, width = looked.photo.size
    return {
        "answer": look_as_json(looked),
        "size": [width, height],
        "sha256": looked.photo.sha256,
        "phash": photo.phash(looked.photo.pixels),
        "removed": removed(Path(source)),
    }


def second(source: str, folder: str) -> dict[str, Any]:
    """Likely faces in an uploaded file as boxes; the picture for the look page is written into the folder."""
    from curator.seeing import photo
    from curator.seeing.faces import faces

    pixels = photo.load_large(Path(source))
    part = Path(folder) / f"view.{os.getpid()}.part"
    _webp(pixels, part, 1280)
    part.replace(Path(folder) / "view.webp")
    return {"faces": faces(pixels)}


def people(folder: str, prompt: Prompt) -> dict[str, Any]:
    """Likely faces in a kept picture as boxes (left, top, right, bottom in fractions), and its size (width, height)."""
    from curator.catalog import face_gate, reading
    from curator.seeing import photo

    pixels = photo.load_large(reading.picture_path(Path(folder), prompt))
    seen = face_gate.seen_in(Path(folder), prompt, pixels)
    return {"faces": seen.boxes, "size": [pixels.shape[1], pixels.shape[0]]}


def seen(folder: str, prompt: Prompt) -> FacesSeen:
    """What the search for faces finds in a kept picture, or its record of that."""
    from curator.catalog import face_gate

    return face_gate.seen_in(Path(folder), prompt)


def removed(path: Path) -> list[str]:
    """What the file carried beside its pixels, in plain words; the kept copy has none of it."""
    from PIL import Image

    said = []
    try:
        with Image.open(path) as picture:
            exif = picture.getexif()
            if exif.get_ifd(0x8825):
                said.append(REMOVED["GPS"])
            if any(tag in exif for tag in (0x010F, 0x0110, 0x8769, 0x013B)):
                said.append(REMOVED["camera"])
            if exif.get_ifd(1):
                said.append(REMOVED["thumbnail"])
            if any(key in picture.info for key in ("xmp", "XML:com.adobe.xmp", "comment", "photoshop")):
                said.append("notes written into the file")
    except Exception:  # only a remark: damaged data beside good pixels
        return []
    return said


def _webp(pixels: Any, path: Path, longer: int) -> None:
    import cv2
    from PIL import Image

    shrink = min(1.0, longer / max(pixels.shape[:2]))
    size = (max(1, round(pixels.shape[1] * shrink)), max(1, round(pixels.shape[0] * shrink)))
    small = pixels if shrink == 1 else cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    Image.fromarray(small).save(path, "WEBP", quality=80, method=2)


def again(
    source: str, dots: Sequence[Point], line: Line | None, area: Area | None, own: bool = True
) -> list[dict[str, Any]]:
    """Readings of a teacher's own dots; those not her own, found from what she pointed at, are hers to check."""
    from curator.seeing.answer_json import reading_as_json

    readings = [reading_as_json(one) for one in _by_hand(source, tuple(dots), line, area)]
    if own:
        return readings
    return [
        r if r["fact"] is None else {**r, "grade": "check", "reasons": [*r["reasons"], FROM_HERS]} for r in readings
    ]


def _by_hand(source: str, dots: Sequence[Point], line: Line | None, area: Area | None) -> tuple[Reading, ...]:
    from curator.seeing.look import look_again

    return look_again(_seen(source), dots, line=line, view=_view(source, None))


def within(source: str, area: Area | None) -> dict[str, Any]:
    """The answer for a part of the photo."""
    from curator.seeing.answer_json import look_as_json

    return look_as_json(_look(source, area))


def named(source: str, folder: str, names: Sequence[str], area: Area | None) -> dict[str, Any]:
    """Which of the photo's readings the kept pictures of these things speak for, as far as they were looked at for it
    (`learned`), as its number `at`, and why; {} where that is the first, or none of them.
    """
    from curator.catalog.store import taught
    from curator.seeing.look import look_at
    from curator.seeing.set_matching import same_set

    known = taught.noted(Path(folder), names)
    best = look_at(_seen(source), area, taught=known).best if known else None
    note = next((reason.note for reason in best.reasons if reason.name == "taught"), "") if best else ""
    for k, one in enumerate(_look(source, area).counted if best and note else ()):
        if best and one.fact == best.fact and len(one.things) == len(best.things) and same_set(one.things, best.things):
            return {"at": k, "note": note}
    return {}


def learned(folder: str, names: Sequence[str]) -> bool:
    """Note what one more kept picture of these things teaches; whether another one waits."""
    from curator.catalog.store import taught

    return taught.one_more(Path(folder), names)


def outlined(folder: str, slug: str) -> None:
    """Note the outlines of a kept prompt's things."""
    from curator.classroom.marking import kept

    kept.prepare_one(Path(folder), slug)


def like(source: str, at: Point, area: Area | None, shown: Sequence[Sequence[Point]]) -> list[dict[str, Any]]:
    """Readings of all that look like the thing at that place, x, y, the likeliest first: of sets that have other dots
    than those `shown`, then other halves of the first.
    """
    from curator.seeing.corrections.answer import more_like
    from curator.seeing.look import by_hand

    seen = _seen(source)
    height, width = seen.size
    known = [by_hand(seen, dots) for dots in shown]
    sets = more_like(seen, at, area=area, view=_view(source, area), shown=known)
    places = [[(t.center[1] / width, t.center[0] / height) for t in one.things] for one in sets]
    readings = [again(source, dots, None, area, own=False) for dots in places]
    return [*(each[0] for each in readings), *readings[0][1:]]


def make(
    source: str,
    dots: Sequence[Point] | None,
    line: Line | None,
    area: Area | None,
    reading: int | None,
    words: dict[str, Any],
) -> Prompt:
    """The prompt of the chosen reading (None: the best one), or of the teacher's own dots."""
    from curator.catalog import prompt

    if dots is None:
        looked = _look(source, area)
    else:
        looked = Look(_seen(source), _by_hand(source, tuple(dots), line, area), area, 0)
    last = len(looked.counted) - 1
    return prompt.make(looked, reading=None if reading is None or last < 0 else min(reading, last), **words)


def picture(path: str, blur: Sequence[Sequence[float]]) -> bytes:
    """The clean picture with boxes (left, top, right, bottom as fractions) made unrecognisable."""
    import cv2

    from curator.seeing import photo

    pixels = photo.load_large(Path(path)).copy()
    height, width = pixels.shape[:2]
    for left, top, right, bottom in blur:
        part = pixels[int(top * height) : int(bottom * height) + 1, int(left * width) : int(right * width) + 1]
        if part.size:  # coarse blocks, not a soft blur: a soft one can be undone
            small = cv2.resize(part, (5, 5), interpolation=cv2.INTER_AREA)
            part[:] = cv2.GaussianBlur(cv2.resize(small, part.shape[1::-1], interpolation=cv2.INTER_LINEAR), (0, 0), 5)
    return photo.encode_clean(pixels)


def small(path: str, output: str, longer: int) -> None:
    """A WebP copy for the screen."""
    from curator.seeing import photo

    _webp(photo.load_large(Path(path), longer=longer), Path(output), longer)


def scene(here: str, step: Any, prompt: Prompt | None, output: str) -> None:
    """The pictures of a lesson's scene, into one file."""
    from curator.web.scenes import make

    make(here, step, prompt, output)


_ALL = (first, warm, again, within, named, learned, outlined, like, make, people, seen, picture, second, small, scene)
JOBS = {f.__name__: f for f in _ALL}

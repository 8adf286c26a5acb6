"""A stranger's prompt and picture made our own: words bounded and printable, pictures decoded and saved clean again."""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

from curator.catalog import face_gate
from curator.catalog.bundles import jpeg_metadata
from curator.catalog.prompt import alts, clean
from curator.catalog.store.check import UNLIKE
from curator.errors import CuratorError, PhotoError
from curator.records import FacesSeen, Prompt

LONGEST_WORD, LONGEST_LINE, LONGEST_NOTES, MOST_TAGS = 120, 500, 5000, 40  # characters, and how many
MOST_SCANS = 40  # of one JPEG; ten are usual, thousands keep a decoder busy for hours
MOST_PIXELS = 30_000_000  # packed ones have at most 2560 by 2560; an empty PNG of any size weighs nearly nothing
_LINES = ("title", "alt_before", "alt_after", "credit")
_WORDS = ("thing", "things", "place", "license")
_TURNING = dict.fromkeys([0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])  # they turn text around
_FORMATS = ("JPEG", "PNG", "WEBP")
# What two people may say differently about one photo; the rest is each catalog's own.
COMPARED = (
    "title",
    "fact",
    "kind",
    "dots",
    "line",
    "thing",
    "things",
    "place",
    "tags",
    "alt_before",
    "alt_after",
    "credit",
    "license",
    "people",
    "faces",
)
assert set(COMPARED) <= {field.name for field in fields(Prompt)}


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture saved again, what was seen in it, or why it was not taken."""

    name: str
    data: bytes = b""
    phash: str = ""
    seen: FacesSeen | None = None
    error: CuratorError | None = None


def own(prompt: Prompt) -> Prompt:
    """The prompt with a stranger's words made printable; nobody here has looked at it yet. ValueError: what is too
    long.
    """
    said: dict[str, Any] = {name: _line(getattr(prompt, name)) for name in (*_LINES, *_WORDS)}
    notes = "\n".join(map(_line, prompt.notes.splitlines()))
    tags = tuple(dict.fromkeys(filter(None, map(_line, prompt.tags))))
    too_long = [name for name in _LINES if len(said[name]) > LONGEST_LINE]
    too_long += [name for name in _WORDS if len(said[name]) > LONGEST_WORD]
    too_long += ["notes"] if len(notes) > LONGEST_NOTES else []
    too_long += ["tags"] if len(tags) > MOST_TAGS or any(len(tag) > LONGEST_WORD for tag in tags) else []
    if too_long:
        raise ValueError(", ".join(too_long))
    faces = prompt.faces if prompt.faces in ("blurred", "consented") else ""
    grade = "check" if prompt.grade == "sure" else prompt.grade
    return replace(
        prompt,
        **said,
        notes=notes,
        tags=tags,
        faces=faces,
        seen=None,
        grade=grade,
        checked_by="",
        added=date.today().isoformat(),
    )


def _line(text: str) -> str:
    return clean(text.translate(_TURNING))


def unlike(one: Prompt, other: Prompt) -> tuple[str, ...]:
    """The fields that say something different; texts that both were made from the other words are none of them."""
    made = {name for name in ("alt_before", "alt_after") if _is_made(one, name) and _is_made(other, name)}
    return tuple(name for name in COMPARED if name not in made and getattr(one, name) != getattr(other, name))


def _is_made(prompt: Prompt, name: str) -> bool:
    return bool(getattr(prompt, name) == alts(prompt)[("alt_before", "alt_after").index(name)])


def another(prompt: Prompt, picture: Picture) -> bool:
    """Whether the picture looks unlike the one that the prompt's dots were set on (by its perceptual hash, if told)."""
    told = re.fullmatch(r"[0-9a-f]{16}", prompt.phash)
    return told is not None and (int(told[0], 16) ^ int(picture.phash, 16)).bit_count() > UNLIKE


def saved_again(name: str, data: bytes) -> Picture:
    """Decode a stranger's JPEG, PNG or WebP, and save the pixels alone. `name` is its prompt's."""
    from curator.seeing import photo
    from curator.seeing.faces import faces

    try:
        if not 0 < _pixels(data) <= MOST_PIXELS or jpeg_metadata.scans(data) > MOST_SCANS:
            raise PhotoError(f"Reading the photo {name}.", "It is not a picture as bundles hold them.", "Leave it out.")
        pixels = photo.large_of(data, name)
        kept = photo.encode_clean(pixels)
        again = photo.large_of(
            kept, name, longer=photo.LONGER_SIDE
        )  # as check sees it: in a flat picture noise decides
        return Picture(name, kept, photo.phash(again), face_gate.record(faces(pixels), kept))
    except CuratorError as error:
        return Picture(name, error=error)
    except MemoryError:
        return Picture(
            name, error=PhotoError(f"Reading the photo {name}.", "There is not enough memory.", "Leave it out.")
        )


def stopped(name: str, data: bytes) -> Picture:
    """The answer for a picture that took more memory or time than one may."""
    wrong = "It takes more memory or time than a picture may."
    return Picture(name, error=PhotoError(f"Reading the photo {name}.", wrong, "Leave it out."))


def _pixels(data: bytes) -> int:
    """How many a picture says it has; 0 for what is none of the formats that bundles hold."""
    from PIL import Image

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            width, height = Image.open(io.BytesIO(data), formats=_FORMATS).size
        except Exception:  # a hostile header may raise nearly anything
            return 0
    return width * height

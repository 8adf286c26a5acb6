"""One prompt's files: its picture at two sizes and its page for the class, under names that give nothing away."""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from curator.catalog import face_gate, reading
from curator.catalog.bundles.rights import Refused
from curator.catalog.prompt import LICENSES
from curator.errors import CuratorError
from curator.records import Prompt

SMALL, LARGE = 320, 960  # pixels: a card; a prompt's own page
SHOWN = 1280  # pixels of the classroom picture's longer side: 400 kB a page, 540 at 1600
QUALITY, METHOD = 78, 1  # WebP: with method 2 a seventh fewer bytes (1.2 % of a site) for half as much time again
_LETTERS = str.maketrans("0123456789abcdef", "bcdfghjklmnpqrst")  # no digit and no vowel: no number can be read
_OURS = re.compile(r"(pictures/[a-z]{16}\.webp|show/[a-z]{16}\.html)")


@dataclass(frozen=True, slots=True)
class Wish:
    """What was asked for, the same for every prompt."""

    inside: bool = False  # for the same school only
    faces_ok: bool = False
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Picture:
    """A file below the site's folder, and its size in pixels."""

    name: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Part:
    """What was written for one prompt, or why nothing was."""

    slug: str
    key: str
    stamp: str = ""  # the same as long as nothing that is shown changes
    small: Picture | None = None
    large: Picture | None = None
    show: str = ""  # the classroom page; "" where the licence forbids marks
    before: str = ""  # alt texts
    after: str = ""
    digest: str = ""  # of the files
    refused: Refused | None = None

    @property
    def files(self) -> tuple[str, ...]:
        return tuple(
            name for name in (self.small and self.small.name, self.large and self.large.name, self.show) if name
        )


def is_ours(part: Part) -> bool:
    """Whether the names are such as we give: a site's own list may have been changed by anybody."""
    return all(isinstance(name, str) and _OURS.fullmatch(name) for name in part.files) and part.key == key_of(part.slug)


def digest_of(target: Path, files: Sequence[str]) -> str:
    """SHA-256 of the files one after the other: OSError."""
    return hashlib.sha256(b"".join(hashlib.sha256((target / name).read_bytes()).digest() for name in files)).hexdigest()


def key_of(slug: str) -> str:
    """A name for a prompt's pages that stays the same and tells nothing."""
    return letters(slug.encode())


def letters(data: bytes) -> str:
    """16 consonants made of the SHA-256."""
    return hashlib.sha256(data).hexdigest()[:16].translate(_LETTERS)


def stamp_of(folder: Path, slug: str, picture: str, wish: Wish) -> str:
    """What changes whenever the prompt, its picture, the wish or this program does; OSError where a file is missing."""
    found = hashlib.sha256(repr((wish, _program())).encode())
    for path in (reading.yaml_path(folder, slug), folder / picture):
        found.update(hashlib.sha256(path.read_bytes()).digest())
    return found.hexdigest()


@cache
def _program() -> str:
    """A digest of the files that shape a site."""
    root = Path(__file__).parent.parent
    files = sorted(
        p for name in ("site", "classroom") for p in (root / name).rglob("*") if p.is_file() and p.suffix != ".pyc"
    )
    return hashlib.sha256(b"\0".join(p.read_bytes() for p in files)).hexdigest()


def make(folder: Path, target: Path, prompt: Prompt, wish: Wish) -> Part:
    """Write the prompt's files into target. What stops it is part of the answer."""
    key = key_of(prompt.slug)
    try:
        return _make(folder, target, prompt, wish, key)
    except CuratorError as error:
        return Part(prompt.slug, key, refused=Refused(prompt.slug, error.wrong, error.try_this, error.code))


def _make(folder: Path, target: Path, prompt: Prompt, wish: Wish, key: str) -> Part:
    from curator.classroom import lesson as lessons
    from curator.classroom import pictures, shrinking, views
    from curator.classroom.plan import Plan, Step
    from curator.classroom.writers import page

    read = pictures.whole(folder, prompt, "Making the site.")
    stamp = stamp_of(folder, prompt.slug, prompt.picture, wish)
    against = _faces(folder, prompt, wish, read.pixels)
    if against:
        return Part(prompt.slug, key, refused=against)
    pixels = shrinking.within(read.pixels, LARGE, LARGE)
    small, large = (_webp(target, one) for one in (shrinking.within(pixels, SMALL, SMALL), pixels))
    step = Step(1, prompt.slug, stages=("see", "cover") if prompt.fact else ("is_it",))
    wanted = [((*step.stages, "dots"), step.side, step.hide)]
    shown = views.photo_views(folder, prompt, wanted, SHOWN, lessons.layered(".html"), read)[0]
    made = lessons.lesson(folder, Plan(wish.language, (step,)), made=lambda *_: (shown, ()))
    (scene,) = made.scenes
    show = f"show/{key}.html" if may_be_marked(prompt) else ""
    if show:
        (target / show).write_text(page.html(made, close=f"../prompts/{key}.html"), encoding="utf-8")
    part = Part(prompt.slug, key, stamp, small, large, show, scene.alt_before, scene.alt_after)
    return replace(part, digest=digest_of(target, part.files))


def may_be_marked(prompt: Prompt) -> bool:
    """Whether rings and covers may go with the picture."""
    license = LICENSES.get(prompt.license)
    return license is None or license.change


def _faces(folder: Path, prompt: Prompt, wish: Wish, pixels: Any) -> Refused | None:
    seen = 0 if wish.faces_ok else face_gate.unanswered(prompt, face_gate.seen_in(folder, prompt, pixels))
    if not seen:
        return None
    look = f"Look at {prompt.picture}, then say that it may be shown."
    return Refused(prompt.slug, f"{face_gate.faces_text(seen)}.", look, "faces")


def _webp(target: Path, pixels: Any) -> Picture:
    """The pixels alone: no location, no camera data."""
    from PIL import Image

    image = Image.fromarray(pixels)
    buffer = io.BytesIO()
    image.save(buffer, "WEBP", quality=QUALITY, method=METHOD)
    name = f"pictures/{letters(buffer.getvalue())}.webp"
    (target / name).write_bytes(buffer.getvalue())
    return Picture(name, *image.size)

"""A chosen reading and a teacher's words -> Prompt."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from curator.catalog.yamls import from_yaml, to_yaml
from curator.numbers_in_text import names_number, without_numbers
from curator.records import Dot, Look, People, Prompt, PromptKind, Reading

__all__ = ["LICENSES", "License", "alts", "from_yaml", "make", "slug_of", "to_yaml"]

LONGEST_SLUG = 60


@dataclass(frozen=True, slots=True)
class License:
    """What may be done with a picture, in one line, and the same as yes and no."""

    name: str
    url: str
    allows: str
    share: bool = True  # may leave the school
    change: bool = True  # may be shared with dots and lines drawn on it
    same: bool = False  # what is made from it carries the same licence
    sell: bool = True  # may be sold


_CC = "https://creativecommons.org/licenses"
_PD = "https://creativecommons.org/publicdomain"
LICENSES: dict[str, License] = {
    "CC0-1.0": License("CC0 1.0", f"{_PD}/zero/1.0/", "Anyone may do anything with it."),
    "public-domain": License("Public domain", f"{_PD}/mark/1.0/", "No rights are known."),
    "CC-BY-4.0": License("CC BY 4.0", f"{_CC}/by/4.0/", "Share and change it; keep the credit."),
    "CC-BY-SA-4.0": License(
        "CC BY-SA 4.0", f"{_CC}/by-sa/4.0/", "Share and change it; keep the credit and this licence.", same=True
    ),
    "CC-BY-NC-4.0": License(
        "CC BY-NC 4.0", f"{_CC}/by-nc/4.0/", "Share and change it, not for money; keep the credit.", sell=False
    ),
    "CC-BY-NC-SA-4.0": License(
        "CC BY-NC-SA 4.0",
        f"{_CC}/by-nc-sa/4.0/",
        "Share and change it, not for money; keep credit and licence.",
        same=True,
        sell=False,
    ),
    "CC-BY-ND-4.0": License(
        "CC BY-ND 4.0", f"{_CC}/by-nd/4.0/", "Share it as it is, nothing drawn on it; keep the credit.", change=False
    ),
    "CC-BY-NC-ND-4.0": License(
        "CC BY-NC-ND 4.0",
        f"{_CC}/by-nc-nd/4.0/",
        "Share it as it is, not for money; keep the credit.",
        change=False,
        sell=False,
    ),
    "school-only": License("For this school only", "", "Show it in this school; not shared further.", share=False),
}

# fmt: off
_CAMERA_WORDS = frozenset({
    "img", "dsc", "dscn", "dscf", "pxl", "mvimg", "photo", "image", "picture", "foto", "imagen", "wp", "mp", "at", "am",
    "pm", "hdr", "burst", "scan", "copy", "edited",
})
# fmt: on
_DAY = re.compile(r"(?<!\d)(20\d\d)[-_.]?(\d\d)[-_.]?(\d\d)(?!\d)")
_LYING: dict[PromptKind, str] = {
    "flip": "one half mirrors the other over a line",
    "slide": "one half is the other moved along",
    "turn": "one half is the other turned half way round",
    "split": "two equal groups apart",
    "none": "",
}


_UNSTORABLE = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\ufdd0-\ufdef]")  # XML 1.0, 2.2


def storable(text: str) -> str:
    """Text without the signs that XML refuses, which slides, pictures and pages are written in."""
    return _UNSTORABLE.sub(" ", text)


def clean(text: str) -> str:
    """One line of printable text; what cannot be stored as UTF-8 becomes a question mark."""
    text = storable(text.encode("utf-8", "replace").decode("utf-8"))
    return " ".join("".join(c if unicodedata.category(c) not in ("Cc", "Cs") else " " for c in text).split())


def slug_of(title: str) -> str:
    """Words with dashes, made of a title; "prompt" where no Latin letter or digit is left."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    words = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:LONGEST_SLUG].strip("-")
    return words or "prompt"


def is_camera_name(path: Path) -> bool:
    """Whether a camera or phone gave the file its name: numbers, and no word that says what is in the picture."""
    words = re.findall(r"[^\W\d_]+", path.stem.lower())
    return all(len(word) <= 2 or word in _CAMERA_WORDS for word in words)


def title_of(path: Path, things: str = "", place: str = "") -> str:
    """The teacher's words, or the file's name unless a camera gave it, less numbers that would give the answer away."""
    if things:
        return clean(f"{things[:1].upper()}{things[1:]}, {place}" if place else f"{things[:1].upper()}{things[1:]}")
    stem = re.sub(r"[_-]+", " ", path.stem)
    stem = clean(re.sub(r"\band(?=\s*$)|^\s*and\b", " ", without_numbers(stem)))
    if not stem or is_camera_name(path):
        return clean(place[:1].upper() + place[1:]) or "Photo"
    return stem[:1].upper() + stem[1:]


def day_of(path: Path) -> str:
    """The day in a name that a phone or camera gave, as 2026-03-01; "" where there is none that can be."""
    if not is_camera_name(path):
        return ""
    for year, month, day in _DAY.findall(path.stem):
        with suppress(ValueError):
            return date(int(year), int(month), int(day)).isoformat()
    return ""


def alts(prompt: Prompt) -> tuple[str, str]:
    """Alt text before the reveal (it gives no number away), and after it."""
    things = "" if names_number(prompt.things, doubling=True) else prompt.things
    place = "" if names_number(prompt.place, doubling=True) else prompt.place
    before = f"A photo of {things}" if things else "A photo with things to count"
    before += f" ({place})." if place else "."
    named = prompt.things or "things"
    if prompt.fact is None:
        after = f"{len(prompt.dots)} {named}: no double." if prompt.dots else f"No double of {named}."
    else:
        n = prompt.fact.half
        after = f"{n} and {n} {named} make {prompt.fact.total}: {_LYING[prompt.kind]}."
    return before, after


def _fraction(value: float, of: int) -> float:
    return round(min(max(value / of, 0.0), 1.0), 4)


def _dots(reading: Reading, double: bool) -> tuple[Dot, ...]:
    """Counted things first; look-alikes left out on purpose follow as side 0, but only beside a double."""
    height, width = reading.things.size
    sides = reading.sides
    if not double and sides.count(0) == 0 and sides.count(1) == sides.count(2):
        sides = (0,) * len(sides)  # an even number that is no double: nothing is in a half
    counted = list(zip(reading.things.things, sides, strict=True))
    if double:
        counted += [(thing, 0) for thing in reading.things.aside]
    return tuple(
        Dot(
            _fraction(thing.center[1], width),
            _fraction(thing.center[0], height),
            side,
            _fraction(thing.box.width, width),
            _fraction(thing.box.height, height),
        )
        for thing, side in counted
    )


def _line(reading: Reading) -> tuple[tuple[float, float], tuple[float, float]] | None:
    if reading.halves is None:
        return None
    height, width = reading.things.size
    (r0, c0), (r1, c1) = reading.halves.line.tolist()
    return (_fraction(c0, width), _fraction(r0, height)), (_fraction(c1, width), _fraction(r1, height))


def make(
    look: Look,
    *,
    reading: int | None = None,
    slug: str = "",
    title: str = "",
    thing: str = "",
    things: str = "",
    place: str = "",
    credit: str = "",
    license: str = "",
    people: People = "unknown",
    tags: Sequence[str] = (),
    notes: str = "",
    touched: int = 0,
    checked_by: str = "",
    no_double: bool = False,
) -> Prompt:
    """A prompt of a reading (its place in `look.counted`; None: the best one) and the teacher's words; with `no_double`
    it is kept to ask "is it a double?". The picture's name is the slug's; both change in `folder.add` when the slug is
    taken. Nothing is written.
    """
    from dataclasses import replace

    from curator.seeing.photo import phash

    chosen = look.best if reading is None else look.counted[reading]
    fact = None if no_double else chosen.fact
    things, place = clean(things), clean(place)
    given = clean(title) or things
    title = clean(title) or title_of(look.photo.path, things, place)
    slug = slug or slug_of(f"{title} {'' if given else day_of(look.photo.path)}")
    halves = chosen.halves if fact is not None else None
    prompt = Prompt(
        slug=slug,
        title=title,
        fact=fact,
        kind=halves.kind if halves else "none",
        picture=f"{slug}.jpg",
        dots=_dots(chosen, fact is not None),
        line=_line(chosen) if halves else None,
        tags=tuple(dict.fromkeys(t for t in map(clean, tags) if t)),
        thing=clean(thing),
        things=things,
        place=place,
        grade=chosen.grade if fact is not None else "no",
        confidence=round(chosen.confidence, 4),
        checked_by=clean(checked_by),
        touched=touched,
        credit=clean(credit),
        license=license,
        people=people,
        area=look.area,
        source_sha256=look.photo.sha256,
        phash=phash(look.photo.pixels),
        added=date.today().isoformat(),
        notes=notes,
    )
    before, after = alts(prompt)
    return replace(prompt, alt_before=before, alt_after=after)


def lacks(prompt: Prompt) -> tuple[str, ...]:
    """What is missing before a prompt may be shared: credit, license, people."""
    said = {"credit": prompt.credit, "license": prompt.license}
    missing = [field for field, value in said.items() if not value]
    return (*missing, *(["people"] if prompt.people == "unknown" else []))

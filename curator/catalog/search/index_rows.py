"""What stands of one prompt in the index: made of a prompt, or straight of its file where that is as we write it."""

from __future__ import annotations

import json
import zlib
from dataclasses import fields
from functools import lru_cache
from typing import Any, NamedTuple

from curator.catalog import face_words, quick_yaml, reading
from curator.catalog.face_words import is_quiet
from curator.catalog.search import days
from curator.catalog.search.query import tokens, words_apart
from curator.catalog.yamls import is_far_too_long
from curator.nouns import elsewhere
from curator.records import Area, Dot, FacesSeen, Fact, Prompt


class Row(NamedTuple):
    """The columns of a prompt in the index's two tables; `key` is its number in both, see order_key."""

    key: int
    slug: str
    half: int  # 0: no double
    kind: str
    source: str
    phash: str
    record: str  # all fields as JSON, the dots' numbers in one text
    anybody: str  # words that anybody finds it by
    ours: str  # those for the school alone
    theirs: str  # those for others on the network alone
    facts: str


def row_of_text(text: str, slug: str) -> Row:
    """The row of the file of that name. CatalogError where it is damaged."""
    return _quick(text, slug) or row_of(reading.parse(text, slug))


def row_of(prompt: Prompt) -> Row:
    """The row of a prompt."""
    half = prompt.fact.half if prompt.fact else 0
    facts = _facts(half, prompt.total, prompt.kind, is_quiet(prompt))
    key, kind, source = order_key(prompt.slug, prompt.added, half), prompt.kind, prompt.source_sha256
    anybody, ours, theirs = map(" ".join, words_apart(prompt))
    record = as_record(prompt)
    return Row(key, prompt.slug, half, kind, source, prompt.phash, record, anybody, ours, theirs, facts)


def _facts(half: int, total: int, kind: str, quiet: bool) -> str:
    return f"half{half} total{total} kind{kind} {'quiet' if quiet else 'open'}"


def _quick(text: str, slug: str) -> Row | None:
    """The same row without making the prompt: each of the prompt's own checks is made here, or in the pattern. None
    where one fails, so that the reader tells what is wrong.
    """
    p = None if is_far_too_long(text) else quick_yaml.parts(text)
    if p is None or quick_yaml.words(p.slug) != slug or len(slug) > reading.LONGEST:
        return None
    half = 0 if p.fact == "null" else int(p.fact.partition("+")[0])
    one, other = p.dots.count("side: 1"), p.dots.count("side: 2")
    total = p.dots.count("\n")
    fits = one == other == half != 0 if half else one != other or one + other < total
    try:
        fits = fits and (half == 0) == (p.kind == "none") and len(p.picture) <= 120
        quick_yaml.area(p.area)
    except ValueError:
        return None
    if not fits:
        return None
    thing, things = quick_yaml.words(p.thing), quick_yaml.words(p.things)
    faces, seen = face_words.read(quick_yaml.words(p.faces))
    quiet = p.people == "consented" or faces in face_words.ANSWERED or (seen is not None and not seen.boxes)
    return Row(
        order_key(slug, quick_yaml.words(p.added), half),
        slug,
        half,
        p.kind,
        quick_yaml.words(p.source_sha256),
        quick_yaml.words(p.phash),
        _record(p, half, faces, seen),
        _plain(f"{p.title} {p.kind} {slug}"),
        _plain(f"{p.thing} {p.things} {p.place} {p.tags} {p.notes} {p.credit} {_elsewhere(thing, things)}"),
        _plain(f"{p.alt_before} {p.license}"),
        _facts(half, 2 * half or total, p.kind, quiet),
    )


def _plain(text: str) -> str:
    """Words for the tokenizer, which takes ASCII apart just as `tokens` does; quotes and backslashes divide."""
    return text if text.isascii() else " ".join(tokens(text))


@lru_cache(maxsize=4096)
def _elsewhere(thing: str, things: str) -> str:
    return " ".join(elsewhere(thing, things))


def order_key(slug: str, added: str, half: int) -> int:
    """A number that puts newer days first and small facts first within a day, whatever order they are read in."""
    return days.number(added) << DAY | (15 - (half or 13)) << 42 | (zlib.crc32(slug.encode()) << 10)


DAY = 46  # bits of the number that stand below the day
_NAMES = tuple(field.name for field in fields(Prompt))


def as_record(prompt: Prompt) -> str:
    """All fields in order, as JSON."""
    values = {name: getattr(prompt, name) for name in _NAMES}
    values |= {"fact": prompt.fact and prompt.fact.half, "seen": face_words.written("", prompt.seen)}
    values["dots"] = ",".join(str(number) for dot in prompt.dots for number in dot)
    return json.dumps(list(values.values()), separators=(",", ":"))


def _record(p: quick_yaml.Parts, half: int, faces: str, seen: FacesSeen | None) -> str:
    """The same of a file's parts, which are JSON nearly as they stand."""
    q = quick_yaml.in_quotes
    found = '""' if seen is None else p.faces if not faces else json.dumps(face_words.written("", seen))
    return (
        f"[{q(p.slug)},{q(p.title)},{half or 'null'},{q(p.kind)},{q(p.picture)},{q(quick_yaml.dots_in_short(p.dots))}"
        f",{p.line},{quick_yaml.tags_as_json(p.tags)},{q(p.thing)},{q(p.things)},{q(p.place)},{q(p.grade)}"
        f",{p.confidence},{q(p.checked_by)},{p.touched},{q(p.credit)},{q(p.license)},{q(p.people)},{json.dumps(faces)}"
        f",{found},{q(p.alt_before)},{q(p.alt_after)},{p.area},{q(p.source_sha256)},{q(p.phash)},{q(p.added)}"
        f",{q(p.notes)}]"
    )


@lru_cache(maxsize=2048)
def from_record(record: str) -> Prompt:
    """The inverse of as_record. Prompts cannot be changed, so those shown lately are kept."""
    got: dict[str, Any] = dict(zip(_NAMES, json.loads(record), strict=True))
    got["fact"] = None if got["fact"] is None else Fact(got["fact"])
    got["confidence"] = float(got["confidence"])
    five = [iter(map(float, got["dots"].split(",") if got["dots"] else ()))] * 5
    got["dots"] = tuple([Dot(x, y, int(side), w, h) for x, y, side, w, h in zip(*five, strict=True)])
    got["tags"] = tuple(got["tags"])
    got["line"] = None if got["line"] is None else tuple(tuple(map(float, end)) for end in got["line"])
    got["seen"] = face_words.read(got["seen"])[1]
    got["area"] = None if got["area"] is None else Area(*map(float, got["area"]))
    return Prompt(**got)

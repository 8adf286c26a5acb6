"""One rule for changing what is said about a prompt; every shell calls it."""

from __future__ import annotations

import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import replace
from pathlib import Path

from curator.catalog.face_words import ANSWERED
from curator.catalog.prompt import LICENSES, alts, clean
from curator.catalog.store import folder as catalog
from curator.errors import CatalogError
from curator.records import KINDS, PEOPLE, People, Prompt, PromptKind

WORDS = ("title", "thing", "things", "place", "credit", "alt_before", "alt_after", "checked_by")
FIELDS = (*WORDS, "notes", "license", "people", "faces", "kind")
DOING = "Changing a prompt."


def edited(
    old: Prompt, said: Mapping[str, str | None], *, tags: Collection[str] = (), untag: Collection[str] = ()
) -> Prompt:
    """The prompt with what was said; a field that is None or left out stays. CatalogError for what a field cannot be.

    Every field is one line of printable text but the notes, which keep their lines. Each of the two alt texts follows
    the new words unless somebody wrote it by hand. An empty title stays as it was.
    """
    given = {field: _value(old, field, text) for field, text in said.items() if text is not None}
    if not given.get("title", old.title):
        del given["title"]
    off = {clean(tag) for tag in untag}
    kept = dict.fromkeys(tag for tag in (*old.tags, *map(clean, tags)) if tag and tag not in off)
    new = replace(old, **given, tags=tuple(kept))  # type: ignore[arg-type]
    follows = {
        field: text
        for field, was, text in zip(("alt_before", "alt_after"), alts(old), alts(new), strict=True)
        if getattr(old, field) == was and field not in given
    }
    return replace(new, **follows)  # type: ignore[arg-type]


def edit(
    folder: Path,
    slug: str,
    said: Mapping[str, str | None],
    *,
    tags: Collection[str] = (),
    untag: Collection[str] = (),
    expected: str | None = None,
) -> tuple[Prompt, Prompt]:
    """Change a prompt and save it: as it was and as it is. The version before is kept.

    ChangedError when the prompt is not the `expected` version (of `folder.version`) any more; without it, when somebody
    saves it in this moment.
    """
    expected = catalog.version(folder, slug) if expected is None else expected
    old = catalog.load(folder, slug)
    new = edited(old, said, tags=tags, untag=untag)
    if new != old or expected != catalog.version(folder, slug):
        catalog.replace(folder, new, expected=expected)
    return old, new


def _value(old: Prompt, field: str, text: str) -> str:
    if field == "notes":
        return lines_of(text)
    if field == "license":
        return license_of(text)
    if field == "people":
        return people_of(text)
    if field == "faces":
        return faces_of(text)
    return kind_of(old, text) if field == "kind" else clean(text)


def lines_of(text: str) -> str:
    """Printable text whose lines stay; spaces at their ends and empty lines round it go."""
    text = text.encode("utf-8", "replace").decode("utf-8").replace("\r\n", "\n").replace("\r", "\n").expandtabs(4)
    kept = "".join(c if c == "\n" or unicodedata.category(c) not in ("Cc", "Cs") else " " for c in text)
    return "\n".join(line.rstrip() for line in kept.split("\n")).strip()


def license_of(text: str) -> str:
    """The licence's short name, however its letters are written; "" for none. CatalogError for an unknown one."""
    plain = text.strip().lower().replace(" ", "-")
    for short, known in LICENSES.items():
        if plain in (short.lower(), known.name.lower().replace(" ", "-"), short.lower().removesuffix("-4.0")):
            return short
    if plain:
        wrong = f'"{text[:60]}" is not a licence that curator knows.'
        raise CatalogError(DOING, wrong, f"Say {' or '.join(LICENSES)}.", code="input")
    return ""


def people_of(text: str) -> People:
    """Who can be recognised in the picture. CatalogError for any other word."""
    if text not in PEOPLE:
        wrong = f'"{text[:60]}" says nothing about the people in the picture.'
        try_this = "Say none (nobody can be recognised), consented, or unknown."
        raise CatalogError(DOING, wrong, try_this, code="input")
    return text


def faces_of(text: str) -> str:
    """What a person found who looked at the faces pointed out. CatalogError for any other word."""
    if text not in ("", *ANSWERED):
        wrong = f'"{text[:60]}" says nothing about the faces in the picture.'
        raise CatalogError(DOING, wrong, "Say consented (all agreed) or none (it is no face).", code="input")
    return text


def kind_of(old: Prompt, text: str) -> PromptKind:
    """How the halves lie, where there are halves. CatalogError otherwise."""
    if text != old.kind and (old.fact is None or text not in KINDS):
        wrong = "It shows no double." if old.fact is None else f'"{text[:60]}" is not a way that halves lie.'
        raise CatalogError(DOING, wrong, "A double is one of flip, slide, turn, split.", code="input", slug=old.slug)
    return text

"""What `curator add` asks and shows."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from curator.commands import hints
from curator.commands.words import WIDTH, cut, fact_text, is_terminal, joined, many, wrapped
from curator.records import Area

if TYPE_CHECKING:
    from curator.catalog.store.add_photos import Seen, Tally

NAMES = {"credit": "a credit", "license": "a licence", "people": "who is in it"}


def add_one(
    folder: Path,
    path: Path,
    area: Area | None,
    words: dict[str, Any],
    *,
    take: frozenset[str],
    yes: bool,
    faces_ok: bool,
) -> Tally:
    """One photo: what is not sure is asked about, where somebody can answer."""
    from curator.catalog.store import add_photos

    seen = add_photos.see(path, area, words)
    tally = add_photos.Tally()
    asking = is_terminal() and seen.prompt is not None
    if seen.faces and not faces_ok and asking:
        faces_ok = typer.confirm(f"{add_photos.faces_text(seen.faces)}. Keep it all the same?")
    if seen.prompt is not None and seen.prompt.grade == "check" and "check" not in take:
        question = f"{seen.note or 'It is not sure.'} Keep it as {seen.prompt.fact} ({seen.prompt.kind})?"
        if yes or (asking and typer.confirm(question)):
            take |= {"check"}
    add_photos.keep(folder, seen, tally, take=take, faces_ok=faces_ok)
    return tally


def show_tally(tally: Tally, folder: Path, *, several: bool) -> None:
    """What was added, what was not and why, and what is missing before the new ones may be shared."""
    from curator.catalog.store.add_photos import faces_text

    for prompt in tally.added:
        print(cut(f"{fact_text(prompt):<10}{prompt.kind:<7}{cut(prompt.slug, 30):<31}{prompt.title}", WIDTH))
    for slug, other in tally.near:
        print(f"  {slug} looks much like {other}.")
    for slug, faces in tally.faces:
        print(f"  {slug}: {faces_text(faces).lower()}.")
    _show_refused(tally)
    if several:
        print()
    wrapped(_sum(tally))
    _show_missing(tally, folder)


def _show_refused(tally: Tally) -> None:
    if tally.look:
        print("\nLook at these (add one by itself with --yes, or all with --take-check):")
        for seen in tally.look:
            _show_seen(seen)
    if tally.none:
        print('\nNo double found (to keep one for "is it a double?": --no-double):')
        for seen in tally.none:
            _show_seen(seen)
    if tally.twins:
        print("\nThere already:")
        for seen, slug in tally.twins:
            print(f"  {cut(seen.path.name, 36):<37}is {slug}")
    if tally.errors:
        print("\nNot read:")
        for seen in tally.errors:
            error = seen.error
            print(f"  {cut(seen.path.name, 70)}")
            wrapped(f"{error.wrong} {error.try_this}" if error else "", 4)


def _show_seen(seen: Seen) -> None:
    assert seen.prompt is not None
    print(f"  {cut(seen.path.name, 36):<37}{fact_text(seen.prompt):<10}{seen.prompt.kind}")
    if seen.note:
        wrapped(seen.note, 4)


def _sum(tally: Tally) -> str:
    because = [
        f"{count} {_be(count, word)}"
        for count, word in (
            (len(tally.look), "should be looked at"),
            (len(tally.none), "show no double"),
            (len(tally.twins), "were there already"),
            (len(tally.errors), "could not be read"),
        )
        if count
    ]
    text = f"{len(tally.added)} added"
    if because:
        text += f", {tally.refused} not, because {joined(because)}"
    if not tally.cut:
        return f"{text}."
    unseen = f"{many(tally.unseen, 'photo')} {'was' if tally.unseen == 1 else 'were'} not looked at"
    return f"{text}. Stopped: {unseen}; what was added is kept."


def _be(count: int, words: str) -> str:
    return words.replace("show ", "shows ").replace("were ", "was ") if count == 1 else words


def _show_missing(tally: Tally, folder: Path) -> None:
    from curator.catalog.store.add_photos import lacks

    missing = {field: None for prompt in tally.added for field in lacks(prompt)}
    if missing:
        which = "it still needs" if len(tally.added) == 1 else "they still need"
        wrapped(f"Before sharing {which} {joined([NAMES[field] for field in missing])}:")
        hints.lines([hints.command("edit", *(prompt.slug for prompt in tally.added), "--ask", catalog=folder)])

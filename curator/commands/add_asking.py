"""What `curator add` asks on a terminal: what the things are, which reading is right, whether a face may be shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from curator.commands import terminal_pictures
from curator.commands.add_output import Batch, show_seen
from curator.commands.words import joined, many, wrapped

if TYPE_CHECKING:
    from curator.catalog.store.add_photos import Seen, Tally

OFFERED = 6  # things that the catalog knows, to choose from


def ask_things(catalog: Path, words: dict[str, Any]) -> dict[str, Any]:
    """The words with what is counted, asked for where it was not said; what the catalog knows is offered first."""
    if words.get("things") or words.get("thing"):
        return words
    known = _known(catalog)
    if known:
        wrapped(f"Known here: {joined([f'{n} {many_}' for n, (_, many_) in enumerate(known, 1)], 'or')}.")
    answer = str(typer.prompt("What are these (a number or a word; Enter leaves it open)", "", show_default=False))
    answer = answer.strip()
    if answer.isdigit() and 1 <= int(answer) <= len(known):
        one, several = known[int(answer) - 1]
        return words | {"thing": one, "things": several}
    if not answer or answer.isdigit():
        return words
    return words | dict(zip(("thing", "things"), _both(answer, known), strict=True))


def _known(catalog: Path) -> list[tuple[str, str]]:
    """(one, many) of the things in the catalog, the commonest first."""
    from curator.catalog import reading

    if not catalog.is_dir():
        return []
    counts = Counter((p.thing, p.things) for p in reading.every(catalog) if p.things)
    return [pair for pair, _ in counts.most_common(OFFERED)]


def _both(answer: str, known: Sequence[tuple[str, str]]) -> tuple[str, str]:
    """One and many of what was typed: as the catalog has it, else as the word lists have it, else many alone."""
    from curator.nouns import both

    low = answer.casefold()
    for pair in known:
        if low in (pair[0].casefold(), pair[1].casefold()):
            return pair
    return both("", answer)


def draw_sheet(looks: Sequence[Seen], batch: Batch, file: Path | None) -> Path:
    """One picture of all doubtful photos with numbered readings; without `file` in the catalog's hidden folder.

    That folder is emptied by `forget`. CatalogError where it cannot be written.
    """
    from curator.catalog import files
    from curator.catalog.store.reading_sheet import Row, sheet

    rows = [
        Row(batch.name(s), s.picture, s.choices if s.prompt and s.prompt.grade == "check" else (s.prompt,))
        for s in looks
        if s.prompt is not None
    ]
    place = file or batch.catalog / ".inbox" / "screen" / "look-at-these.jpg"
    try:
        if file is None:
            files.make_folder(place.parent)
        files.write(place, sheet(rows))
    except OSError as error:
        raise files.unwritable(f"Writing {place.name}.", error) from error
    return place


def decide(looks: Sequence[Seen], tally: Tally, batch: Batch, sheet: Path) -> None:
    """Ask about each doubtful photo, and keep what was chosen."""
    from curator.catalog.store import add_photos

    if not terminal_pictures.show(sheet, 900):
        print(f"They are drawn in {sheet}.")
        terminal_pictures.open_with_viewer(sheet)
    for number, seen in enumerate(looks, 1):
        if len(looks) > 1:
            print(f"\n{number} of {len(looks)}")
        show_seen(seen, batch)
        chosen = _chosen(seen)
        if chosen is None:
            tally.declined.append(seen)
        else:
            add_photos.keep(batch.catalog, chosen, tally, take=frozenset({"sure", "check"}), faces_ok=True)


def _chosen(seen: Seen) -> Seen | None:
    """The photo with the reading that was chosen, or None."""
    from curator.catalog.face_gate import faces_text

    assert seen.prompt is not None
    if seen.prompt.grade == "check" and seen.choices:
        number = _number(f"Which one is right, 1 to {len(seen.choices)}, or 0 for none of them", len(seen.choices))
        if number == 0:
            return None
        seen = replace(seen, prompt=replace(seen.choices[number - 1], checked_by="teacher"))
        if seen.prompt is not None and seen.prompt.grade == "no":
            print("That reading shows no double.")
            return None
    if seen.faces and not typer.confirm(f"{faces_text(seen.faces)}. Was everybody asked, and may it be kept?"):
        return None
    return seen


def _number(question: str, most: int) -> int:
    """A number from 0 to most; asked again for anything else."""
    while True:
        answer = str(typer.prompt(question, "0")).strip()
        if answer.isdigit() and int(answer) <= most:
            return int(answer)
        print(f"Type a number from 0 to {most}.")


def ask_about(tally: Tally, batch: Batch, sheet: Path) -> None:
    """On a terminal: look at the doubtful photos of a batch one by one, if she wants to now."""
    if len(tally.look) > 1 and not typer.confirm(f"Look at {many(len(tally.look), 'photo')} one by one now?", True):
        return
    looks, tally.look = list(tally.look), []
    decide(looks, tally, batch, sheet)

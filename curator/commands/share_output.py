"""What the sharing commands show."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from curator.commands import hints
from curator.commands.words import WIDTH, fact_text, many, wrapped

if TYPE_CHECKING:
    from pathlib import Path

    from curator.catalog.bundle import Offer, Packed, Received, Refused


def show_packed(made: Packed, folder: Path) -> None:
    """What is in the bundle, what is not and why, and what to know."""
    show_refused("Not packed:", made.refused, hints.of_refused(made.refused, folder))
    for sentence in made.warned:
        wrapped(sentence, 0, 2)
    wrapped(f"{made.path}: {many(len(made.packed), 'prompt')}.", 0, 2)


def show_received(got: Received, folder: Path, file: Path) -> None:
    """What came in under which name, what was here, what differs side by side, and what was left out."""
    names = {new: was for was, new in got.renamed}
    for prompt in got.added:
        was = f" (called {names[prompt.slug]} there)" if prompt.slug in names else ""
        print(f"{fact_text(prompt):<10}{prompt.kind:<7}{prompt.slug}{was}"[:WIDTH])
    for one in got.taken:
        wrapped(f"{one.slug} is as in the bundle; yours lies in the bin.")
    if got.skipped:
        print("Here already: " + many(len(got.skipped), "prompt") + ".")
    for one in got.offered:
        _show_offer(one)
    if got.offered:
        print("None of these was changed. To take one as it is in the bundle:")
        hints.lines([hints.command("receive", file, "--take", one.slug, catalog=folder) for one in got.offered])
    show_refused("Not taken:", got.refused)
    faces = [word for one in got.refused if one.code == "faces" for word in ("--faces-ok", one.slug)]
    if faces:
        print("If these faces may be shown here:")
        hints.lines([hints.command("receive", file, *faces, catalog=folder)])
    for sentence in got.warned:
        wrapped(sentence, 0, 2)
    wrapped(f"{many(len(got.added) + len(got.taken), 'prompt')} came in.")


def _show_offer(one: Offer) -> None:
    print(f"\n{one.slug} is here already and differs:"[:WIDTH])
    print(f"  {'':<11}{'here':<32}  in the bundle")
    for name, ours, theirs in one.side_by_side():
        left, right = textwrap.wrap(ours, 32) or [""], textwrap.wrap(theirs, 32) or [""]
        for row in range(max(len(left), len(right))):
            cells = [part[row] if row < len(part) else "" for part in (left, right)]
            print(f"  {name if row == 0 else '':<11}{cells[0]:<32}  {cells[1]}".rstrip())


def show_refused(title: str, refused: Sequence[Refused], commands: Sequence[str] = ()) -> None:
    """Each that was left out, why, what to try, and the commands for all of them."""
    if refused:
        print(title)
    for one in refused:
        print(f"  {one.slug}"[:WIDTH])
        wrapped(one.wrong, 4, 2)
        wrapped(f"> {one.try_this}", 4, 2)
    hints.lines(commands, "    ")

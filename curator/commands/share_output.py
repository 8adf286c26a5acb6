"""What the sharing commands show."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from curator.catalog.bundle import Offer, Packed, Received, Refused

WIDTH = 79


def show_packed(made: Packed) -> None:
    """What is in the bundle, what is not and why, and what to know."""
    show_refused("Not packed:", made.refused)
    for sentence in made.warned:
        _wrapped(f"Beware: {sentence}")
    _wrapped(f"{made.path}: {many(len(made.packed), 'prompt')}.", 0)


def show_received(got: Received, folder: Path, file: Path) -> None:
    """What came in under which name, what was here, what differs side by side, and what was left out."""
    from curator.commands.keep_output import fact_text

    names = {new: was for was, new in got.renamed}
    for prompt in got.added:
        was = f" (called {names[prompt.slug]} there)" if prompt.slug in names else ""
        print(f"{fact_text(prompt):<10}{prompt.kind:<7}{prompt.slug}{was}"[:WIDTH])
    for one in got.taken:
        _wrapped(f"{one.slug} is as in the bundle; yours lies in the bin.")
    if got.skipped:
        print("Here already: " + many(len(got.skipped), "prompt") + ".")
    for one in got.offered:
        _show_offer(one)
    if got.offered:
        place = "" if str(folder) == "catalog" else f" -c {folder}"
        print("None of these was changed. To take one as it is in the bundle:")
        print(f"  curator receive {file} --take {got.offered[0].slug}{place}")
    show_refused("Not taken:", got.refused)
    for sentence in got.warned:
        _wrapped(sentence)
    _wrapped(f"{many(len(got.added) + len(got.taken), 'prompt')} came in.", 0)


def _show_offer(one: Offer) -> None:
    print(f"\n{one.slug} is here already and differs:"[:WIDTH])
    print(f"  {'':<11}{'here':<32}  in the bundle")
    for name, ours, theirs in one.side_by_side():
        left, right = textwrap.wrap(ours, 32) or [""], textwrap.wrap(theirs, 32) or [""]
        for row in range(max(len(left), len(right))):
            cells = [part[row] if row < len(part) else "" for part in (left, right)]
            print(f"  {name if row == 0 else '':<11}{cells[0]:<32}  {cells[1]}".rstrip())


def show_refused(title: str, refused: Iterable[Refused]) -> None:
    """Each that was left out, why, and what to try."""
    for number, one in enumerate(refused):
        if number == 0:
            print(title)
        print(f"  {one.slug}"[:WIDTH])
        _wrapped(one.wrong, 4)
        _wrapped(f"> {one.try_this}", 4)


def many(count: int, word: str) -> str:
    """1 prompt, 2 prompts."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def _wrapped(text: str, indent: int = 0) -> None:
    print(textwrap.fill(text, WIDTH, initial_indent=" " * indent, subsequent_indent=" " * (indent + 2)))

"""What the sharing commands show."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curator.catalog.bundle import Packed, Refused

WIDTH = 79


def show_packed(made: Packed) -> None:
    """What is in the bundle, what is not and why, and what to know."""
    show_refused("Not packed:", made.refused)
    for sentence in made.warned:
        _wrapped(f"Beware: {sentence}")
    _wrapped(f"{made.path}: {many(len(made.packed), 'prompt')}.", 0)


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

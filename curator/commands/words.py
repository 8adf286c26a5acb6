"""Words on a terminal: wrapped, cut, counted, and questions."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Sequence

from curator.errors import CuratorError
from curator.records import Prompt

WIDTH = 79


def cut(text: str, width: int) -> str:
    """At most so many signs, the last one … where some are left out."""
    return text if len(text) <= width else text[: width - 1] + "…"


def wrapped(text: str, indent: int = 0, hang: int = 0) -> None:
    """Print a text at most WIDTH wide; further lines stand `hang` deeper."""
    pad = " " * indent
    lines = textwrap.wrap(text, WIDTH, initial_indent=pad, subsequent_indent=pad + " " * hang, break_on_hyphens=False)
    print("\n".join(lines))


def many(count: int, one: str) -> str:
    """1 prompt, 2 prompts."""
    return f"{count} {one}" if count == 1 else f"{count} {one}s"


def joined(words: Sequence[str], last: str = "and") -> str:
    """a, b and c."""
    return f" {last} ".join(", ".join(words).rsplit(", ", 1))


def fact_text(prompt: Prompt) -> str:
    """The fact, or how many things make no double."""
    return str(prompt.fact) if prompt.fact else many(len(prompt.dots), "thing") if prompt.dots else "no double"


def is_terminal() -> bool:
    """Whether somebody can answer a question."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def sure(question: str, yes: bool) -> None:
    """Ask before what cannot be taken back; CuratorError where nobody can answer or the answer is no."""
    import typer

    if yes:
        return
    doing = "Asking before deleting."
    if not is_terminal():
        raise CuratorError(doing, "There is no interactive terminal.", "Add --yes if it is meant.")
    if not typer.confirm(question):
        raise CuratorError(doing, "The answer was no; nothing was deleted.", "Do it again if it is meant.")

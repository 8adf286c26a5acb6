"""Words on a terminal: wrapped, cut, counted, and questions."""

from __future__ import annotations

import re
import sys
import textwrap
import unicodedata
from collections.abc import Sequence

from curator.errors import CuratorError
from curator.records import Prompt

WIDTH = 79


_COLOUR = re.compile(r"(\x1b\[[0-9;]*m)")


def plain(text: str) -> str:
    """Text that moves no cursor and sets no title: what is no sign of a line becomes a question mark; colours stay."""

    def shown(sign: str) -> bool:  # every blank is one, that at which no line is broken too
        return sign.isprintable() or sign == "\n" or unicodedata.category(sign) == "Zs"

    parts = _COLOUR.split(text)
    parts[::2] = ["".join(sign if shown(sign) else "?" for sign in part) for part in parts[::2]]
    return "".join(parts)


def cut(text: str, width: int) -> str:
    """At most so many signs, the last one … where some are left out; nothing of it drives the terminal."""
    text = plain(text)
    return text if len(text) <= width else text[: width - 1] + "…"


def wrapped(text: str, indent: int = 0, hang: int = 0) -> None:
    """Print a text at most WIDTH wide; further lines stand `hang` deeper."""
    print(wrapping(text, indent, hang))


def wrapping(text: str, indent: int = 0, hang: int = 0) -> str:
    """The lines that `wrapped` prints."""
    text = plain(text.replace("\t", " "))
    pad = " " * indent
    deeper = pad + " " * hang
    return "\n".join(textwrap.wrap(text, WIDTH, initial_indent=pad, subsequent_indent=deeper, break_on_hyphens=False))


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


LACKS = {"credit": "a credit", "license": "a licence", "people": "who is in it"}
_COLOURS = {"sure": "green", "check": "yellow", "no": "bright_black", "unread": "red"}
GRADES = {"sure": "tagged without asking", "check": "look at it", "no": "no double shown"}


def colour(text: str, grade: str) -> str:
    """The text in its grade's colour on a terminal that has colours (NO_COLOR says no); the word stands there too."""
    import os

    import typer

    if not sys.stdout.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    return typer.style(text, fg=_COLOURS.get(grade))


def graded(grade: str) -> str:
    """The grade with what it means."""
    return f"{grade} ({GRADES[grade]})" if grade in GRADES else grade

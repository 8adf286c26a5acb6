"""What was typed and cannot be read, as three short sentences; the library's own words are for programmers."""

from __future__ import annotations

import re
from typing import Any

import typer

from curator.commands import hints
from curator.errors import CuratorError

UsageError: type[Exception] = typer.BadParameter.__mro__[1]  # the library says where it lives otherwise each year
NUMBER = re.compile(r"valid integer|not a valid (int|integer)|greater than|less than|in the range", re.IGNORECASE)


def asks_for_help(error: Exception) -> bool:
    """Whether nothing was typed behind the name, which is answered by the help."""
    return type(error).__name__ == "NoArgsIsHelpError"


def told(error: Any) -> CuratorError:
    """The same as an error of ours."""
    typed = error.ctx.command_path.split()[1:] if error.ctx else []
    doing = f"Reading the command {' '.join(typed)}." if typed else "Reading the command."
    return CuratorError(doing, _wrong(error), f"See what it takes: {hints.command(*typed, '-h')}", code="input")


def _wrong(error: Any) -> str:
    """What is wrong, in a teacher's words."""
    name, said = _name(error), str(getattr(error, "message", "")).rstrip(".")
    kind = type(error).__name__
    if kind == "MissingParameter":
        return f"{name} is missing."
    if name and NUMBER.search(said):
        return f"{name} takes a whole number{_between(error.param)}."
    if kind == "NoSuchOption":
        near = sorted(getattr(error, "possibilities", None) or [])
        return f"There is no {error.option_name} here." + (f" Near it: {', '.join(near)}." if near else "")
    if said.startswith("No such command"):
        return said.replace("No such command", "There is no command", 1).replace("'", '"') + "."
    if said.startswith("Got unexpected extra"):
        return "There is a word too many: " + said.rsplit("(", 1)[-1].rstrip(")") + "."
    if kind == "BadOptionUsage":
        return f"{error.option_name} wants a word after it."
    return f"{name}: {said}." if name else f"{said}."


def _name(error: Any) -> str:
    """As it is typed: --days, -o/--output, PHOTO; empty where the error names none."""
    param = getattr(error, "param", None)
    if param is None:
        return ""
    if getattr(param, "param_type_name", "") == "argument":
        return str(param.metavar or param.name).upper().strip("[].{}")
    return "/".join(sorted(param.opts, key=len))


def _between(param: Any) -> str:
    """The bounds of an option's number: " from 1 to 20", or nothing."""
    kind = getattr(param, "type", None)  # older versions of the library keep them there
    low, high = (getattr(param, end, getattr(kind, end, None)) for end in ("min", "max"))
    if low is not None and high is not None:
        return f" from {low} to {high}"
    return f" from {low} on" if low is not None else f" up to {high}" if high is not None else ""

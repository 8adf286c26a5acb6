"""A run's journal: one JSON line for each file that was answered, so that a stopped run goes on where it was."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import Any

from curator.errors import CuratorError

DOING = "Going on with an earlier run."


def key_of(path: Path) -> str:
    """What tells one state of a file from another: its place, size and time."""
    with suppress(OSError):
        status = path.stat()
        return f"{path.resolve()}|{status.st_size}|{status.st_mtime_ns}"
    return f"{path.resolve()}|-"


def read(journal: Path) -> dict[str, Any]:
    """What was answered for each key; {} for no such file. Lines that were cut off are left out. CuratorError where
    the file is something else.
    """
    if not journal.exists():
        return {}
    try:
        lines = journal.read_text(encoding="utf-8").split("\n")
    except (OSError, UnicodeDecodeError) as error:
        raise CuratorError(DOING, f"{journal} cannot be read.", "Name another file for the journal.") from error
    found: dict[str, Any] = {}
    for number, line in enumerate(lines, 1):
        try:
            if line:
                one = json.loads(line)
                found[one["file"]] = one["answer"]
        except (ValueError, KeyError, TypeError) as error:
            if not line.startswith('{"file"'[: len(line)]):
                wrong = f"Line {number} of {journal} is no line of a journal."
                raise CuratorError(DOING, wrong, "Name another file for the journal.") from error
    return found


def note(journal: Path, key: str, answer: Any) -> None:
    """Append one answer. CuratorError where it cannot be written."""
    line = json.dumps({"file": key, "answer": answer}, ensure_ascii=False) + "\n"
    try:
        with journal.open("ab+") as file:
            if file.tell() and not _ends_whole(file):
                file.write(b"\n")  # after a line that was cut off
            file.write(line.encode())
    except OSError as error:
        wrong = f"{journal} cannot be written ({error.strerror})."
        raise CuratorError(
            "Noting what was answered.", wrong, "Name a file in a folder that you may write to."
        ) from error


def _ends_whole(file: Any) -> bool:
    file.seek(-1, 2)
    return bool(file.read(1) == b"\n")

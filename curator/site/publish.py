"""Where a site is written: beside its place under another name, then moved there as a whole."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import random
import re
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from curator.catalog.files import boot, is_alive, sync_folder, unwritable
from curator.errors import CuratorError

MANIFEST = "site.json"  # what we wrote, so that nothing else is ever deleted, and what can be used again
DOING = "Making the site."
OLD_PART = 24 * 3600.0  # seconds after which an unfinished folder of another machine is nobody's any more
_JUNK = frozenset({"thumbs.db", "desktop.ini", ".ds_store"})  # what file managers leave


def read_manifest(output: Path) -> dict[str, Any]:
    """What the site there says of itself; {} where there is none. CuratorError for a folder that is no site of ours."""
    if not output.exists():
        return {}
    if not output.is_dir():
        raise CuratorError(DOING, f"{output} is a file.", "Name a folder for the site.")
    try:
        said = json.loads((output / MANIFEST).read_bytes())
    except (OSError, ValueError):
        said = None
    sound = isinstance(said, dict) and isinstance(said.get("files"), list) and isinstance(said.get("prompts"), dict)
    others = _others(output, set(said["files"]) if sound else set())
    if others:
        wrong = f"{output} holds a file that is not of a site ({others[0]})."
        raise CuratorError(DOING, wrong, "Name a new folder, or move that away first.", code="exists")
    return said if sound else {}


def _others(output: Path, ours: set[str]) -> list[str]:
    there = (path.relative_to(output).as_posix() for path in output.rglob("*") if not path.is_dir())
    known = ours | {MANIFEST}
    return sorted(name for name in there if name not in known and name.rpartition("/")[2].lower() not in _JUNK)


@contextmanager
def placed(output: Path) -> Iterator[Path]:
    """An empty folder to write into; it takes output's place when all went well, and is gone when not."""
    if not output.parent.is_dir():
        raise CuratorError(DOING, f"There is no folder {output.parent}.", "Make it first, or choose another.")
    part = _beside(output, "part")
    try:
        _mend(output)
        part.mkdir()
        yield part
        if hasattr(os, "sync"):
            os.sync()  # once: thousands of small files
        _exchange(part, output)
    except OSError as error:
        refused = unwritable(DOING, error)
        raise CuratorError(DOING, refused.wrong, refused.try_this) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _beside(output: Path, kind: str) -> Path:
    return output.with_name(f".{output.name}.{_machine()}-{os.getpid()}-{random.randrange(16**6):06x}.{kind}")


def _machine() -> str:
    return hashlib.sha256(boot().encode()).hexdigest()[:8]


def _exchange(part: Path, output: Path) -> None:
    before = _beside(output, "before")
    with contextlib.suppress(FileNotFoundError):
        os.rename(output, before)
    try:
        os.rename(part, output)
    except BaseException:
        if before.exists():
            os.rename(before, output)
        raise
    sync_folder(output.parent)
    _discard(before, output)


def _discard(before: Path, output: Path) -> None:
    """Deleted under another name: who is stopped in the middle must not leave half a site that could be put back."""
    part = _beside(output, "part")
    with contextlib.suppress(OSError):  # nothing to delete, or held by another program: the next run tries again
        os.rename(before, part)
    shutil.rmtree(part, ignore_errors=True)


def _mend(output: Path) -> None:
    """What a run that was killed left: the site before it is put back, its unfinished folders are deleted."""
    for before in sorted(output.parent.glob(f".{output.name}.*.before")):
        if output.exists():
            _discard(before, output)
        else:
            os.rename(before, output)
    for part in output.parent.glob(f".{output.name}.*.part"):
        if _is_left_over(part):
            shutil.rmtree(part, ignore_errors=True)


def _is_left_over(part: Path) -> bool:
    """On this machine when its process is gone, on another after a day."""
    said = re.search(r"\.([0-9a-f]{8})-(\d+)-[0-9a-f]{6}\.part$", part.name)
    if said and said[1] == _machine():
        return not is_alive(int(said[2]))
    return time.time() - part.stat().st_mtime > OLD_PART

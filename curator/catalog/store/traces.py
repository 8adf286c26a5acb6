"""Every place under a catalog where a picture, or a copy of one, may lie; used by all that deletes for good.

| place | what lies there | goes with |
|---|---|---|
| `NAME.jpg`, `NAME.2.jpg` | a prompt's picture; the one before, where a change was cut off | forget |
| `.bin/DAY/NAME/` | what was removed or replaced | forget, empty bin, blur (of the same photo) |
| `.before/NAME/` | earlier texts | forget, empty bin (of prompts that are gone) |
| `.receiving/*/` | a bundle on its way in | forget, tidy |
| `.inbox/ID/` | a photo that waits, its copies for the screen | forget, blur, empty bin (of the same photo), 30 days |
| `.inbox/screen/` | copies for the screen | all |
| `.inbox/*.zip`, `.inbox/lesson-*`, `.inbox/pack-*` | bundles and lessons made for a download | all |
| `.*.part`, `.unfinished-*` | half-written files | all |
| `.index/` | texts, for finding | forget |
| `.index/taught/NAME.npz`, `.index/outlines/NAME.npz` | measures of a kept picture, no pixels | forget, remove, blur |

Copies are made anew when they are asked for. A new place belongs in this table, in `copies`, and in the test of it.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from curator.catalog import files
from curator.catalog.store import bin as bins

INBOX, SCREEN, LESSON, ITEM, SOURCE = ".inbox", "screen", "lesson.json", "item.json", "source"
ID = re.compile(r"[0-9a-f]{16}")
_MADE = ("*.zip", "lesson-*.*", "pack-*", ".set.zip.*", ".received-*", ".unfinished-*", f"{SCREEN}/*")


@dataclass(frozen=True, slots=True)
class Waiting:
    """A photo that waits in the inbox, whole or half written."""

    place: Path
    sha256: str  # of the teacher's file; "" where it is not there
    since: float  # seconds, as time.time gives them
    slug: str = ""  # of the prompt that it is or was kept as


def waiting(folder: Path) -> Iterator[Waiting]:
    """All that waits, damaged items too."""
    for place in sorted((folder / INBOX).glob("*")):
        if ID.fullmatch(place.name) and place.is_dir():
            with suppress(OSError):  # dropped in this moment
                said = _said(place)
                slug = str(said.get("kept_as") or said.get("slug") or "")
                yield Waiting(place, _sha(place, str(said.get("digest", ""))), place.stat().st_mtime, slug)


def _said(place: Path) -> dict[str, Any]:
    with suppress(OSError, ValueError, RecursionError):
        said = json.loads((place / ITEM).read_bytes())
        return said if isinstance(said, dict) else {}
    return {}


def _sha(place: Path, said: str) -> str:
    """From the item's own note where it has one: the file may be large."""
    if re.fullmatch(r"[0-9a-f]{64}", said):
        return said
    with suppress(OSError):
        return hashlib.sha256((place / SOURCE).read_bytes()).hexdigest()
    return ""


def copies(folder: Path) -> Iterator[Path]:
    """Files and folders made of pictures that are kept elsewhere, and half-written ones."""
    home = folder / INBOX
    for pattern in _MADE:
        yield from sorted(home.glob(pattern))
    for place in (home, *(one.place for one in waiting(folder))):
        yield from sorted(
            path for path in place.glob(f"*{files.PART}") if not path.name.startswith((".item.", ".lesson."))
        )
    for root in (folder, folder / bins.BIN, folder / bins.BEFORE):
        pattern = f".*{files.PART}"
        yield from sorted(root.glob(pattern) if root == folder else root.rglob(pattern))
    yield from sorted(folder.glob(".unfinished-*"))


def drop_copies(folder: Path) -> int:
    """Delete them; how many. The caller holds the lock."""
    gone = sum(remove(path) for path in list(copies(folder)))
    with suppress(OSError):
        (folder / INBOX / SCREEN).rmdir()
    return gone


def drop_waiting(
    folder: Path, shas: Collection[str], slugs: Collection[str] = (), *, before: float = float("inf")
) -> int:
    """Delete what waits of these photos, or is open as one of these prompts, and came before then; how many files."""
    gone = 0
    for one in list(waiting(folder)):
        if (one.sha256 in shas or one.slug in slugs) and one.since <= before:
            gone += remove(one.place)
    return gone


def unpick(folder: Path, slugs: Collection[str]) -> None:
    """Take prompts out of the lesson that is being put together."""
    path = folder / INBOX / LESSON
    with suppress(OSError, ValueError):
        before = json.loads(path.read_bytes())
        after = [one for one in before if one not in slugs]
        if after != before:
            files.write(path, json.dumps(after).encode())


def remove(path: Path) -> int:
    """Delete a file or folder that may be gone already; how many files went."""
    if path.is_dir() and not path.is_symlink():
        count = sum(1 for one in path.rglob("*") if not one.is_dir())
        shutil.rmtree(path, ignore_errors=True)
        return count
    with suppress(OSError):
        path.unlink()
        return 1
    return 0

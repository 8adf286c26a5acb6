"""What was removed or changed, kept aside: a dated bin, and each prompt's earlier versions."""

from __future__ import annotations

import contextlib
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from curator.catalog import files, reading
from curator.errors import CatalogError
from curator.records import Prompt

BIN = ".bin"
BEFORE = ".before"
REDO = "redo"  # under a prompt's earlier versions: those it came back from


@dataclass(frozen=True, slots=True)
class Binned:
    """One prompt in the bin: when it was removed and where its two files lie."""

    slug: str
    day: str
    place: Path


def binned(folder: Path) -> Iterator[Binned]:
    """All that lies in the bin, newest day first."""
    root = folder / BIN
    if not root.is_dir():
        return
    for day in sorted(root.iterdir(), reverse=True):
        for place in sorted(day.iterdir(), reverse=True) if day.is_dir() else ():
            slug = place.name.partition("~")[0]
            if (place / f"{slug}{reading.SUFFIX}").is_file():
                yield Binned(slug, day.name, place)


def _room(root: Path, name: str) -> Path:
    """A new folder called name, or name~2 and so on where that is taken."""
    files.make_folder(root)
    for number in range(1, 10_000):
        place = root / (name if number == 1 else f"{name}~{number}")
        with contextlib.suppress(FileExistsError):
            place.mkdir()
            files.sync_folder(root)
            return place
    raise CatalogError(f"Removing {name}.", "The bin is full of it.", "Empty the bin.", code="bin-full")


def put_in_bin(folder: Path, slug: str, picture: str) -> Path:
    """Move a prompt's two files into today's bin. The YAML moves in one step between two safe states: OSError."""
    place = _room(folder / BIN / date.today().isoformat(), slug)
    kept = folder / picture
    with _nothing_left(place):
        if kept.is_file():
            files.copy(kept, place / picture)
        files.move(folder / f"{slug}{reading.SUFFIX}", place / f"{slug}{reading.SUFFIX}")
    with contextlib.suppress(FileNotFoundError):
        kept.unlink()
    files.sync_folder(folder)
    return place


def copy_to_bin(folder: Path, slug: str, picture: str) -> Path:
    """A copy of a prompt's two files into today's bin, the YAML last: OSError."""
    place = _room(folder / BIN / date.today().isoformat(), slug)
    with _nothing_left(place):
        if (folder / picture).is_file():
            files.copy(folder / picture, place / picture)
        files.copy(folder / f"{slug}{reading.SUFFIX}", place / f"{slug}{reading.SUFFIX}")
    return place


@contextlib.contextmanager
def _nothing_left(place: Path) -> Iterator[None]:
    """A copy of a picture in the bin goes again where the change that made it does not come about."""
    try:
        yield
    except BaseException:
        if not any(place.glob(f"*{reading.SUFFIX}")):
            shutil.rmtree(place, ignore_errors=True)
        raise


def strays(folder: Path, *, seconds: float = 0) -> Iterator[Path]:
    """Pictures in the bin without a prompt, for so long at least: second copies that a cut-off change left."""
    now = time.time()
    for place in sorted((folder / BIN).glob("*/*")):
        with contextlib.suppress(OSError):  # brought back in this moment
            there = sorted(place.iterdir()) if now - place.stat().st_mtime >= seconds else []
            if not any(path.suffix == reading.SUFFIX for path in there):
                yield from (path for path in there if path.suffix != files.PART)


def keep_before(folder: Path, slug: str, *, redo: bool = False) -> None:
    """Keep the prompt's file as it is now among its earlier versions, or among those to go forward to: OSError."""
    place = folder / BEFORE / slug / (REDO if redo else "")
    files.make_folder(place)
    stamp = datetime.now().strftime("%Y-%m-%d_%H%M%S_%f")
    files.write(place / f"{stamp}{reading.SUFFIX}", (folder / f"{slug}{reading.SUFFIX}").read_bytes())


def versions(folder: Path, slug: str, *, redo: bool = False) -> list[Path]:
    """Earlier versions of a prompt's file, newest first; or those it came back from, the next one first."""
    return sorted((folder / BEFORE / slug / (REDO if redo else "")).glob(f"*{reading.SUFFIX}"), reverse=True)


def bring_back(folder: Path, slug: str) -> Prompt:
    """Put the prompt removed last under this name back into the catalog."""
    doing = f"Bringing back {slug}."
    reading.there(folder, doing)
    with files.locked(folder, doing):
        found = next((one for one in binned(folder) if one.slug == slug), None)
        if found is None:
            raise CatalogError(doing, "It is not in the bin.", "See what is there.", code="not-in-bin", slug=slug)
        if reading.yaml_path(folder, slug).exists():
            wrong = "There is a prompt of that name in the catalog again."
            raise CatalogError(doing, wrong, "Remove that one first.", code="name-taken", slug=slug)
        try:
            return _put_back(folder, found)
        except OSError as error:
            raise files.unwritable(doing, error) from error


def _put_back(folder: Path, found: Binned) -> Prompt:
    source = found.place / f"{found.slug}{reading.SUFFIX}"
    prompt = reading.parse(reading.read_text(source, source.name), found.slug)
    kept, there = found.place / prompt.picture, (folder / prompt.picture).exists()
    try:
        if kept.is_file():
            files.copy(kept, folder / prompt.picture)
        files.move(source, folder / source.name)
    except BaseException:
        if not there and not (folder / source.name).exists():
            with contextlib.suppress(OSError):
                (folder / prompt.picture).unlink()
        raise
    shutil.rmtree(found.place, ignore_errors=True)
    return prompt

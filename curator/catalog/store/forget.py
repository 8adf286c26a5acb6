"""forget: take out all that came from one photo, for good, the bin and earlier versions and the index included."""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from curator.catalog import files, reading
from curator.catalog.search import index
from curator.catalog.store import bin as bins
from curator.catalog.store import check, staging
from curator.errors import CatalogError

_SHA = re.compile(rb"^source_sha256:\s*[\"']?([0-9a-f]{64})\b", re.M)
_PICTURE = re.compile(rb"^picture:\s*[\"']?([^\"'\r\n/\\]+?)[\"']?\s*$", re.M)


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What went: prompts by slug (as they were called), and how many files in all."""

    slugs: tuple[str, ...]
    files: int


def forget(folder: Path, source: str) -> Forgotten:
    """Delete what came from one photo. `source` is the photo's file, its SHA-256, or the name of a prompt made of it.

    CatalogError where nothing came from it. Cut off half way, the same call does the rest.
    """
    doing = "Forgetting a photo."
    reading.there(folder, doing)
    sha = _sha_of(folder, source)
    with files.locked(folder, doing):
        try:
            staging.clear(folder)
            for place in staging.left_over(folder):  # of another machine: what it moved in is kept, or found below
                shutil.rmtree(place)
            found = [path for path in _texts(folder) if sha is not None and sha in _shas(path)]
            if sha is None:
                found = [path for path in _texts(folder) if _slug(folder, path) == source]
            if not found:
                wrong = "Nothing in the catalog, its bin or its earlier versions came from it."
                raise CatalogError(doing, wrong, "Check the name; check lists pictures that no prompt uses.")
            shutil.rmtree(
                folder / ".inbox" / "screen", ignore_errors=True
            )  # copies the page made for screens; made anew when asked for
            for bundle in folder.glob(".inbox/*.zip"):  # packed there for a download
                bundle.unlink(missing_ok=True)
            return _delete(folder, found)
        except OSError as error:
            raise files.unwritable(doing, error) from error


def _sha_of(folder: Path, source: str) -> str | None:
    """The photo's SHA-256; None where only a prompt of that name is known, made of no known photo."""
    if re.fullmatch(r"[0-9a-fA-F]{64}", source):
        return source.lower()
    with suppress(OSError, ValueError):
        if Path(source).is_file():
            data = Path(source).read_bytes()
            known = _picture_source(folder, Path(source))
            return known or hashlib.sha256(data).hexdigest()
    shas = [sha for path in _texts(folder) if _slug(folder, path) == source for sha in _shas(path)]
    if not shas and not any(_slug(folder, path) == source for path in _texts(folder)):
        wrong = f'There is no photo and no prompt called "{source[:60]}".'
        try_this = "Give the photo's file, or the name of a prompt made of it."
        raise CatalogError("Forgetting a photo.", wrong, try_this, code="no-prompt", slug=source)
    return shas[0] if shas else None


def _picture_source(folder: Path, path: Path) -> str | None:
    """The source of one of the catalog's own pictures."""
    if path.resolve().parent != folder.resolve():
        return None
    for text in _texts(folder):
        if text.parent == folder and _pictures(text) == [path.name]:
            return next(iter(_shas(text)), None)
    return None


def _texts(folder: Path) -> Iterator[Path]:
    """Every YAML file: prompts, damaged ones, copies, the bin, earlier versions."""
    yield from sorted(p for p in folder.iterdir() if p.suffix.lower() in (".yaml", ".yml") and p.is_file())
    for root in (folder / bins.BIN, folder / bins.BEFORE):
        yield from sorted(root.rglob(f"*{reading.SUFFIX}"))


def _slug(folder: Path, path: Path) -> str:
    if path.parent.parent == folder / bins.BEFORE:
        return path.parent.name
    if path.parent.name == bins.REDO and path.parent.parent.parent == folder / bins.BEFORE:
        return path.parent.parent.name
    return path.stem


def _shas(path: Path) -> list[str]:
    return [match.decode() for match in _SHA.findall(path.read_bytes())]


def _pictures(path: Path) -> list[str]:
    return [match.decode("utf-8", "replace") for match in _PICTURE.findall(path.read_bytes())]


def _delete(folder: Path, found: list[Path]) -> Forgotten:
    """Pictures first, the YAML that leads to them last, so that a second try finds the rest."""
    slugs = tuple(dict.fromkeys(_slug(folder, path) for path in found))
    pictures = {path.parent / name for path in found for name in _pictures(path)}
    pictures |= set(_same_bytes(folder, pictures)) | {
        p for p in bins.strays(folder) if p.parent.name.partition("~")[0] in slugs
    }
    gone = 0
    for path in (*sorted(pictures), *check.parts(folder), *found):
        with suppress(FileNotFoundError):
            path.unlink()
            gone += 1
    for path in found:
        if path.parent != folder:
            for place in (path.parent, *([path.parent.parent] if path.parent.name == bins.REDO else [])):
                with suppress(OSError):
                    place.rmdir()
        files.sync_folder(path.parent if path.parent.exists() else folder)
    index.forget_index(folder)
    shutil.rmtree(folder / ".index", ignore_errors=True)
    return Forgotten(slugs, gone)


def _same_bytes(folder: Path, pictures: set[Path]) -> Iterator[Path]:
    """Pictures that no prompt uses and that equal one to be deleted: left by a change that was cut off."""
    digests = {hashlib.sha256(path.read_bytes()).digest() for path in pictures if path.is_file()}
    sizes = {path.stat().st_size for path in pictures if path.is_file()}
    used = {name for text in _texts(folder) for name in _pictures(text)}
    stray = [path for path in folder.glob("*.jpg") if path.name not in used] + list(bins.strays(folder))
    for path in stray:
        if path.stat().st_size in sizes and hashlib.sha256(path.read_bytes()).digest() in digests:
            yield path

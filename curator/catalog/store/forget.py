"""What is deleted for good: all that came from one photo; all that lies in the bin. `traces` says where to look."""

from __future__ import annotations

import hashlib
import re
import shutil
from collections.abc import Collection, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from curator.catalog import files, reading
from curator.catalog.search import index
from curator.catalog.store import bin as bins
from curator.catalog.store import check, staging, traces
from curator.errors import CatalogError

_SHA = re.compile(rb"^source_sha256:\s*[\"']?([0-9a-f]{64})\b", re.M)
ALIKE = 6  # of 64 bits of the perceptual hash: one picture saved again, or another shot of one scene
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
            photos = {sha for path in found for sha in _shas(path)} | ({sha} if sha else set())
            if not found and not any(one.sha256 in photos for one in traces.waiting(folder)):
                wrong = "Nothing in the catalog, its bin or its earlier versions came from it."
                raise CatalogError(doing, wrong, "Check the name; check lists pictures that no prompt uses.")
            slugs = {_slug(folder, path) for path in found}
            gone = traces.drop_waiting(folder, photos, slugs) + traces.drop_copies(folder)
            return _delete(folder, found, gone)
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


def _delete(folder: Path, found: list[Path], gone: int) -> Forgotten:
    """Pictures first, the YAML that leads to them last, so that a second try finds the rest."""
    slugs = tuple(dict.fromkeys(_slug(folder, path) for path in found))
    pictures = {path.parent / name for path in found for name in _pictures(path)}
    pictures |= set(_left_behind(folder, pictures, slugs))
    traces.unpick(folder, slugs)
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


def _left_behind(folder: Path, pictures: set[Path], slugs: Collection[str]) -> Iterator[Path]:
    """Pictures that no prompt uses, left by a cut-off change: of the same names or bytes, or that look alike."""
    sound = [path for path in pictures if path.is_file()]
    digests = {_digest(path) for path in sound}
    used = {name for text in _texts(folder) if text.parent == folder for name in _pictures(text)}
    loose = [
        path for path in sorted(folder.iterdir()) if path.suffix.lower() in check.PICTURES and path.name not in used
    ]
    looks = {look for path in sound if (look := _look(path))} if loose else set()
    for path in loose:
        named = path.name.partition(".")[0] in slugs
        if named or _digest(path) in digests or any(_apart(_look(path), look) <= ALIKE for look in looks):
            yield path
    for path in bins.strays(folder):
        if path.parent.name.partition("~")[0] in slugs or _digest(path) in digests:
            yield path


def _digest(path: Path) -> bytes:
    return hashlib.sha256(path.read_bytes()).digest()


def _look(path: Path) -> str:
    """The picture's perceptual hash; "" where it cannot be read."""
    from curator.errors import PhotoError
    from curator.seeing import photo

    try:
        return photo.phash(photo.load(path).pixels)
    except PhotoError:
        return ""


def _apart(one: str, other: str) -> int:
    return (int(one, 16) ^ int(other, 16)).bit_count() if one and other else 64


def out_of_bin(folder: Path, photos: Collection[str], slugs: Collection[str]) -> int:
    """Delete what lies in the bin of these photos or under these names; how many files. The caller holds the lock."""
    gone = 0
    for place in sorted((folder / bins.BIN).glob("*/*")):
        text = [sha for path in place.glob(f"*{reading.SUFFIX}") for sha in _shas(path)]
        if place.name.partition("~")[0] in slugs or any(sha in photos for sha in text):
            gone += sum(1 for _ in place.iterdir())
            shutil.rmtree(place)
    return gone


def empty_bin(folder: Path) -> int:
    """Delete all that was removed, for good, with every copy of it; how many prompts that were.

    Of the same photos go what waited in the inbox when they were removed, and the earlier texts of prompts that are
    gone.
    """
    doing = "Emptying the bin."
    reading.there(folder, doing)
    with files.locked(folder, doing):
        lying = list(bins.binned(folder))
        try:
            for one in lying:
                photos = {sha for path in one.place.glob(f"*{reading.SUFFIX}") for sha in _shas(path)}
                before = one.place.stat().st_mtime
                traces.drop_waiting(folder, photos, before=before)
            traces.drop_copies(folder)
            if (folder / bins.BIN).exists():
                shutil.rmtree(folder / bins.BIN)
                files.sync_folder(folder)
            live = {slug for slug, _ in reading.slugs(folder)}
            for place in (folder / bins.BEFORE).glob("*"):
                if place.name not in live:
                    shutil.rmtree(place)
            index.forget_index(folder)
        except OSError as error:
            raise files.unwritable(doing, error) from error
    return len(lying)

"""The index's comparison with the folder: which files are new, gone or changed, and their rows brought up to them."""

from __future__ import annotations

import hashlib
import logging
import os
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from curator.catalog import reading
from curator.catalog.search import index_db
from curator.catalog.search.index_rows import Row, row_of_text
from curator.errors import CatalogError

LOG = logging.getLogger("curator")
MANY = 4_000  # prompts: reading that many takes a moment, which is said
CHUNK = 20_000  # rows written at once into an empty index, in the order of their numbers
YOUNG_NS = 2_500_000_000  # a file changed this shortly before it was read may change again with the same time stamp

Stamped = tuple[str, str]  # slug and stamp of a file
Progress = Callable[[int, int], None]  # told how many are done, of how many


def _stamp(status: os.stat_result) -> str:
    """What tells one state of a file from another, unless the two are too close in time."""
    return f"{status.st_mtime_ns}.{status.st_size}.{status.st_ino}"


def _marked(status: os.stat_result, now_ns: int) -> str:
    """The stamp, with a ? where the file may change again under the same stamp.

    In the index a checksum of the file stands behind the ?, so that reading it again costs little.
    """
    return _stamp(status) + ("?" if status.st_mtime_ns > now_ns - YOUNG_NS else "")


def compare(folder: Path, connection: sqlite3.Connection, progress: Progress | None = None) -> int:
    """Bring the rows up to the folder; returns how many files it holds. OSError where the folder cannot be read.

    Files that were read while they were young are read again, for they may have changed under the same stamp.
    """
    now = time.time_ns()
    there = dict(_there(folder, now))
    known = dict(connection.execute("SELECT slug, stamp FROM files").fetchall())
    changed = [(slug, stamp) for slug, stamp in there.items() if known.get(slug) != stamp or stamp[-1] == "?"]
    gone = [slug for slug in known if slug not in there] if len(known) + len(changed) > len(there) else []
    if changed or gone:
        _bring_up(folder, connection, gone, changed, progress)
    return len(there)


def _there(folder: Path, now_ns: int) -> Iterator[Stamped]:
    """Slug and stamp of each file; what somebody takes away while the folder is read is not there."""
    for slug, entry in reading.slugs(folder):
        try:
            yield slug, _marked(entry.stat(), now_ns)
        except FileNotFoundError:
            continue


def compare_names(folder: Path, connection: sqlite3.Connection) -> None:
    """Only add files that are new and drop those gone: enough to find a twin, for a prompt's photo does not change."""
    there = {slug for slug, _ in reading.slugs(folder)}
    known = {slug for (slug,) in connection.execute("SELECT slug FROM files").fetchall()}
    if there != known:
        now = time.time_ns()
        _bring_up(
            folder, connection, sorted(known - there), [(slug, _look_at(folder, slug, now)) for slug in there - known]
        )


def renew(folder: Path, connection: sqlite3.Connection, slug: str) -> None:
    """Bring one row up to its file."""
    stamp = _look_at(folder, slug, time.time_ns())
    _bring_up(folder, connection, [] if stamp else [slug], [(slug, stamp)] if stamp else [])


def _look_at(folder: Path, slug: str, now_ns: int) -> str:
    try:
        return _marked(os.stat(_path(folder, slug)), now_ns)
    except OSError:
        return ""


def _path(folder: Path, slug: str) -> str:
    return f"{folder}/{slug}{reading.SUFFIX}"


def _bring_up(
    folder: Path,
    connection: sqlite3.Connection,
    gone: list[str],
    changed: list[Stamped],
    progress: Progress | None = None,
) -> None:
    if len(changed) > MANY:
        LOG.warning("Reading %s prompts for finding; next time only those that changed.", f"{len(changed):,}")
    connection.execute("BEGIN IMMEDIATE")
    try:
        if index_db.is_empty(connection):
            _fill(folder, connection, changed, progress)
            changed = []
        for slug in gone:
            index_db.drop(connection, slug)
        for slug, stamp in changed:
            _bring_one_up(folder, connection, slug, stamp)
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def _fill(
    folder: Path, connection: sqlite3.Connection, changed: Sequence[Stamped], progress: Progress | None = None
) -> None:
    """Rows for an empty index: nothing has to be looked for, and they go in by the ten thousand, sorted.

    FTS5 writes out what it holds whenever a row has a smaller number than the one before, so in any order but this
    every other row would be a segment of its own.
    """
    used: set[int] = set()
    with index_db.filling(connection):
        for start in range(0, len(changed), CHUNK):
            rows, stamps = read_rows(str(folder), changed[start : start + CHUNK])
            index_db.put_in(connection, sorted(_numbered(rows, used)), stamps)
            if progress:
                progress(min(start + CHUNK, len(changed)), len(changed))


def _numbered(rows: Sequence[Row], used: set[int]) -> Iterator[Row]:
    """The rows, none with a number that another has."""
    for row in rows:
        key = row.key
        while key in used:
            key += 1
        used.add(key)
        yield row if key == row.key else row._replace(key=key)


def read_rows(folder: str, files: Sequence[Stamped]) -> tuple[list[Row], list[Stamped]]:
    """Rows of those files, a damaged one having none, and all stamps, a young one with its file's checksum."""
    rows, stamps = [], []
    for slug, stamp in files:
        try:
            data = _read(f"{folder}/{slug}{reading.SUFFIX}")
        except OSError:
            stamps.append((slug, stamp))
            continue
        stamps.append((slug, stamp + _checksum(data)) if stamp[-1] == "?" else (slug, stamp))
        try:
            rows.append(row_of_text(data.decode().removeprefix("\ufeff"), slug))
        except (CatalogError, UnicodeDecodeError):
            continue
    return rows, stamps


def _read(path: str) -> bytes:
    """The whole file. A large buffer at the first call would cost more than the reading."""
    handle = os.open(path, _READ)
    try:
        data = os.read(handle, _MOST_TIMES)
        while more := os.read(handle, 1 << 20) if len(data) >= _MOST_TIMES else b"":
            data += more
        return data
    finally:
        os.close(handle)


_READ = os.O_RDONLY | getattr(os, "O_BINARY", 0)
_MOST_TIMES = 1 << 14  # bytes that a prompt's file seldom has


def _checksum(data: bytes) -> str:
    """16 hex digits of the SHA-256."""
    return hashlib.sha256(data).hexdigest()[:16]


def _bring_one_up(folder: Path, connection: sqlite3.Connection, slug: str, stamp: str) -> None:
    """Read one file again and put its row in place of the old one; a damaged file has no row.

    Nothing is to be done where the file was read while it was young, has still the same stamp, and holds the same.
    """
    row = connection.execute("SELECT stamp FROM files WHERE slug = ?", (slug,)).fetchone()
    before, young, checksum = (row[0] if row else "").partition("?")
    rows, ((_, stamp_now),) = read_rows(str(folder), [(slug, f"{stamp.removesuffix('?')}?")])
    now, _, same = stamp_now.partition("?")
    if not (young and checksum and before == now and checksum == same):
        if rows:
            index_db.renew(connection, rows[0])
        else:
            index_db.drop(connection, slug)
    connection.execute("INSERT OR REPLACE INTO files VALUES (?, ?)", (slug, stamp_now if stamp[-1] == "?" else stamp))

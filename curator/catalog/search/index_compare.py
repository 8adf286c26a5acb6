"""The index's comparison with the folder: which files are new, gone or changed, and their rows brought up to them."""

from __future__ import annotations

import hashlib
import logging
import os
import sqlite3
import time
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import NamedTuple

from curator.catalog import measured, reading
from curator.catalog.search import index_db
from curator.catalog.search.index_db import AnyRow
from curator.catalog.search.index_rows import Row, row_of_text
from curator.errors import CatalogError
from curator.limited import works_here
from curator.parallel import spread

LOG = logging.getLogger("curator")
MANY = 4_000  # prompts: reading that many takes a moment, which is said
CHUNK = 50_000  # rows written at once into an empty index, in the order of their numbers
PART = 2_000  # files read in one go
WORTH = 30_000  # files from which other processes read too: fewer are read as quickly without them
YOUNG_NS = 2_500_000_000  # a file changed this shortly before it was read may change again with the same time stamp

Stamped = tuple[str, str]  # slug and stamp of a file
Progress = Callable[[int, int], None]  # told how many are done, of how many


def _stamp(status: os.stat_result) -> str:
    """What tells one state of a file from another, unless the two are too close in time."""
    number = 0 if os.name == "nt" else status.st_ino  # which Windows gives for an open file alone
    return f"{status.st_mtime_ns}.{status.st_size}.{number}"


def _marked(status: os.stat_result, now_ns: int) -> str:
    """The stamp, with a ? where the file may change again under the same stamp.

    In the index a checksum of the file stands behind the ?, so that reading it again costs little.
    """
    return _stamp(status) + ("?" if status.st_mtime_ns > now_ns - YOUNG_NS else "")


class Compared(NamedTuple):
    """How many files the folder holds, and whether any row was not as its file."""

    files: int
    changed: bool


def compare(folder: Path, connection: sqlite3.Connection, progress: Progress | None = None) -> Compared:
    """Bring the rows up to the folder. OSError where the folder cannot be read.

    Files that were read while they were young are read again, for they may have changed under the same stamp.
    """
    now = time.time_ns()
    own = _folder_stamp(folder, now)
    if index_db.is_empty(connection):  # the files are opened anyway, and stamped then
        there = dict.fromkeys((slug for slug, _ in reading.slugs(folder)), "")
    else:
        there = dict(_there(folder, now))
    known = dict(connection.execute("SELECT slug, stamp FROM files").fetchall())
    changed = [(slug, stamp) for slug, stamp in there.items() if known.get(slug) != stamp or stamp[-1:] == "?"]
    gone = [slug for slug in known if slug not in there] if len(known) + len(changed) > len(there) else []
    behind = _bring_up(folder, connection, gone, changed, progress) if changed or gone else False
    if index_db.compared_last(connection) != (own, len(there)):
        index_db.note_comparison(connection, own, len(there))
    return Compared(len(there), behind)


def compared(folder: Path, connection: sqlite3.Connection) -> int:
    """How many files the folder held when it was compared last; 0 where something has come, gone or been saved anew
    since, all of which the folder's own date tells. A file written over in its place it does not tell.
    """
    own, files = index_db.compared_last(connection)
    with suppress(OSError):
        if own and own == _folder_stamp(folder, time.time_ns()):
            return files
    return 0


def _folder_stamp(folder: Path, now_ns: int) -> str:
    """The folder's own stamp; "" while it is young, for more may come under the same one."""
    status = os.stat(folder)
    return "" if status.st_mtime_ns > now_ns - YOUNG_NS else f"{status.st_mtime_ns}.{status.st_ino}"


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
) -> bool:
    """Whether any row was not as its file."""
    if len(changed) > MANY:
        LOG.warning("Reading %s prompts for finding; next time only those that changed.", f"{len(changed):,}")
    behind, filled = bool(gone), False
    connection.execute("BEGIN IMMEDIATE")
    try:
        if index_db.is_empty(connection):
            _fill(folder, connection, changed, progress)
            behind, filled, changed = True, True, []
        elif len(changed) > MANY or not all(stamp for _, stamp in changed):  # somebody else read them meanwhile
            there = dict(_there(folder, time.time_ns()))
            known = dict(connection.execute("SELECT slug, stamp FROM files").fetchall())
            changed = [(slug, there[slug]) for slug, _ in changed if slug in there and known.get(slug) != there[slug]]
        for slug in gone:
            index_db.drop(connection, slug)
        for slug, stamp in changed:
            behind |= _bring_one_up(folder, connection, slug, stamp)
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise
    for slug in gone:
        measured.drop(folder, slug)
    if filled:
        index_db.share(connection)
    return behind


def _fill(
    folder: Path, connection: sqlite3.Connection, changed: Sequence[Stamped], progress: Progress | None = None
) -> None:
    """Rows for an empty index: nothing has to be looked for, and they go in by the ten thousand, sorted.

    FTS5 writes out what it holds whenever a row has a smaller number than the one before, so in any order but this
    every other row would be a segment of its own.
    """
    used: set[int] = set()
    rows: list[AnyRow] = []
    stamps: list[Stamped] = []
    steps = [0, 0]  # files read, and written

    def step(kind: int, more: int) -> None:
        steps[kind] += more
        if progress:
            progress(sum(steps) // 2, len(changed))

    def put_in() -> None:
        ordered = sorted(_numbered(rows, used))
        for start in range(0, len(ordered), PART):
            index_db.put_in(connection, part := ordered[start : start + PART])
            step(1, len(part))
        index_db.note_files(connection, sorted(stamps), {row[1]: row[0] for row in ordered})
        rows.clear()
        stamps.clear()

    with index_db.filling(connection), closing(_all_rows(folder, changed)) as parts:
        for more in parts:
            rows += more[0]
            stamps += more[1]
            step(0, len(more[1]))
            if len(stamps) >= CHUNK:
                put_in()
        put_in()


def _all_rows(folder: Path, files: Sequence[Stamped]) -> Generator[tuple[list[AnyRow], list[Stamped]], None, None]:
    """Rows and stamps of all files, a part at a time; of very many on every core, while rows are put in."""
    jobs = ((str(folder), files[start : start + PART]) for start in range(0, len(files), PART))
    if len(files) < WORTH or works_here(read_plainly):
        yield from (read_plainly(*job) for job in jobs)
    else:
        yield from spread(read_plainly, jobs, -(-len(files) // PART), aside=read_plainly, ahead=CHUNK // PART)


def read_plainly(folder: str, files: Sequence[Stamped]) -> tuple[list[AnyRow], list[Stamped]]:
    """The same as read_rows, in plain tuples, which go from process to process in half the time."""
    rows, stamps = read_rows(folder, files)
    return [tuple(row) for row in rows], stamps


def _numbered(rows: Sequence[AnyRow], used: set[int]) -> Iterator[AnyRow]:
    """The rows, none with a number that another has."""
    for row in rows:
        key = row[0]
        while key in used:
            key += 1
        used.add(key)
        yield row if key == row[0] else (key, *row[1:])


def read_rows(folder: str, files: Sequence[Stamped]) -> tuple[list[Row], list[Stamped]]:
    """Rows of those files, a damaged one having none, and all stamps, a young one with its file's checksum.

    A file without a stamp gets one; where it is gone by now, it has neither.
    """
    rows, stamps = [], []
    for slug, given in files:
        try:
            data, stamp = _read(f"{folder}/{slug}{reading.SUFFIX}", given)
        except OSError as error:
            if given or not isinstance(error, FileNotFoundError):
                stamps.append((slug, given or "?"))
            continue
        stamps.append((slug, stamp + _checksum(data)) if stamp[-1] == "?" else (slug, stamp))
        try:
            rows.append(row_of_text(data.decode().removeprefix("\ufeff"), slug))
        except (CatalogError, UnicodeDecodeError):
            continue
    return rows, stamps


def _read(path: str, stamp: str = "") -> tuple[bytes, str]:
    """The whole file and its stamp, if none is given. A large buffer at once would cost more than the reading."""
    handle = os.open(path, _READ)
    try:
        stamp = stamp or _marked(os.fstat(handle), time.time_ns())
        data = os.read(handle, _MOST_TIMES)
        while more := os.read(handle, 1 << 20) if len(data) >= _MOST_TIMES else b"":
            data += more
        return data, stamp
    finally:
        os.close(handle)


_READ = os.O_RDONLY | getattr(os, "O_BINARY", 0)
_MOST_TIMES = 1 << 14  # bytes that a prompt's file seldom has


def _checksum(data: bytes) -> str:
    """16 hex digits of the SHA-256."""
    return hashlib.sha256(data).hexdigest()[:16]


def _bring_one_up(folder: Path, connection: sqlite3.Connection, slug: str, stamp: str) -> bool:
    """Read one file again and put its row in place of the old one; a damaged file has no row. Whether that was needed.

    Nothing is to be done where the file was read while it was young, has still the same stamp, and holds the same.
    """
    row = connection.execute("SELECT stamp FROM files WHERE slug = ?", (slug,)).fetchone()
    before, young, checksum = (row[0] if row else "").partition("?")
    rows, ((_, stamp_now),) = read_rows(str(folder), [(slug, f"{stamp.removesuffix('?')}?")])
    now, _, same = stamp_now.partition("?")
    behind = not (young and checksum and before == now and checksum == same)
    if behind and rows:
        behind = index_db.renew(connection, rows[0])
    elif behind:
        index_db.drop(connection, slug)
    index_db.note_file(connection, slug, stamp_now if stamp[-1] == "?" else stamp, readable=bool(rows))
    return behind

"""find: a throw-away SQLite file that makes the catalog quick to search. Compared with the folder, never a source."""

from __future__ import annotations

import json
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from curator.catalog import reading
from curator.catalog.search import index_compare, index_db
from curator.catalog.search.index_rows import from_record
from curator.catalog.search.query import Asked, mended, parse
from curator.errors import CatalogError
from curator.records import Kind, Prompt

Answer = TypeVar("Answer")
SMALL = 2_000  # files: comparing that many with the index takes some milliseconds, so it is done for every question
REST = 3.0  # seconds between two comparisons of a larger folder within one process, more where they take long
GLANCE = 0.25  # seconds for which a larger catalog's index file is taken to be in its place


@dataclass(frozen=True, slots=True)
class Found:
    """How many prompts pass, and the ones asked for, newest day first."""

    total: int
    prompts: tuple[Prompt, ...]
    damaged: int = 0  # files named like prompts that cannot be read, whatever was asked
    instead: tuple[tuple[str, str], ...] = ()  # a word that nothing has, and the one that was taken for it


@dataclass(slots=True)
class _Mine:
    """One thread's connection to one index file."""

    connection: sqlite3.Connection
    path: Path
    inode: int
    seen: float = float("-inf")  # when the file was last known to be in its place


@dataclass(slots=True)
class _Open:
    """One index, as this process knows it."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    local: threading.local = field(default_factory=threading.local)
    files: int = 0
    read: tuple[int, int] = (0, 0)  # how many files are read of how many, while an index is filled
    changed: bool = False  # whether the last comparison found that the rows had fallen behind
    again: float = float("-inf")  # when to compare again
    failed: bool = False  # the last comparison aside: the next question tells why
    inode: int = 0  # of the index file that was compared
    aside: threading.Thread | None = None  # what compares while questions are answered
    memory: sqlite3.Connection | None = None  # where no index file can be kept


_OPEN: dict[Path, _Open] = {}
_OPEN_LOCK = threading.Lock()


def _open(folder: Path) -> _Open:
    key = folder.absolute()
    with _OPEN_LOCK:
        return _OPEN.setdefault(key, _Open())


def _connection(folder: Path, state: _Open) -> tuple[sqlite3.Connection, int]:
    """This thread's connection and its file's inode; a new one where the index file was taken away."""
    if state.memory is not None:
        return state.memory, -1
    mine: _Mine | None = getattr(state.local, "mine", None)
    now = time.monotonic()
    if mine is not None:
        if state.files > SMALL and now - mine.seen < GLANCE:
            return mine.connection, mine.inode
        with suppress(OSError):
            if mine.path.stat().st_ino == mine.inode:
                mine.seen = now
                return mine.connection, mine.inode
        mine.connection.close()
        state.local.mine = None
    reading.there(folder, "Looking in the catalog.")
    for path in index_db.places(folder):
        with suppress(OSError, sqlite3.Error):
            mine = _Mine(index_db.connect(path), path, path.stat().st_ino)
            state.local.mine = mine
            return mine.connection, mine.inode
    state.memory = index_db.connect(None)
    return state.memory, -1


@contextmanager
def _fresh(folder: Path, *, twins: bool = False, at_once: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection whose rows equal the folder, or lag some seconds behind others' changes to a large one.

    For `twins` no prompt may be missing, though hand edits of the last moment may be. With `at_once` a process's first
    question to a large catalog is answered from the rows as they were compared last, if nothing has come, gone or been
    saved anew since; files changed in their place are found by the comparison that begins aside.
    """
    state = _open(folder)
    connection, inode = _connection(folder, state)
    if inode != state.inode and at_once:
        _trust(folder, state, connection, inode)
    if inode != state.inode or state.files <= SMALL:
        with state.lock:
            _compare(folder, state, connection, inode)
    elif twins:
        with state.lock:
            index_compare.compare_names(folder, connection)
    elif time.monotonic() > state.again:
        _begin_aside(folder, state)
    if state.memory is None:
        yield connection
    else:
        with state.lock:
            yield connection


def _trust(folder: Path, state: _Open, connection: sqlite3.Connection, inode: int) -> None:
    files = index_compare.compared(folder, connection)
    if files > SMALL:
        state.inode, state.files, state.again = inode, files, float("-inf")


def _compare(folder: Path, state: _Open, connection: sqlite3.Connection, inode: int) -> None:
    start = time.monotonic()

    def progress(done: int, count: int) -> None:
        state.read = (done, count)

    try:
        state.files, state.changed = index_compare.compare(folder, connection, progress)
    except OSError as error:
        reading.there(folder, "Looking in the catalog.")
        wrong = f"The folder cannot be read ({error.strerror})."
        raise CatalogError("Looking in the catalog.", wrong, "Check that the drive is there.") from error
    state.inode = inode
    end = time.monotonic()
    state.again = end + max(REST, 20 * (end - start))


def _begin_aside(folder: Path, state: _Open) -> None:
    """Compare in a thread of its own, unless one is at it."""
    with _OPEN_LOCK:
        if not _is_at_it(state):
            state.aside = threading.Thread(target=_compare_aside, args=(folder, state), daemon=True)
            state.aside.start()


def _is_at_it(state: _Open) -> bool:
    return state.aside is not None and state.aside.is_alive()


def _compare_aside(folder: Path, state: _Open) -> None:
    state.failed = True
    try:
        with suppress(CatalogError, sqlite3.Error), state.lock:
            _compare(folder, state, *_connection(folder, state))
            state.failed = False
    finally:
        _close(state)


def was_behind(folder: Path) -> bool:
    """Whether the comparison that began aside, once it is done, found rows that were not as their files; False where
    none was begun.
    """
    state = _open(folder)
    if state.aside is None:
        return False
    state.aside.join()
    state.aside = None
    return state.changed


def being_read(folder: Path) -> tuple[int, int] | None:
    """How many prompts are read, of how many, for a large catalog that has no index yet: the reading is begun aside.

    None for a catalog that can be asked, and for one that cannot be read: the question tells why.
    """
    state = _open(folder)
    if state.inode or (state.failed and not _is_at_it(state)):
        return None
    if _is_at_it(state) and state.read[1]:
        return state.read
    try:
        count = sum(1 for _ in reading.slugs(folder)) if _is_unread(folder, state) else 0
    except (OSError, sqlite3.Error):
        return None
    if count <= index_compare.MANY:
        return None
    _begin_aside(folder, state)
    return state.read if state.read[1] else (0, count)


def _is_unread(folder: Path, state: _Open) -> bool:
    """Whether the index is empty yet, or somebody else fills it just now."""
    return any(map(index_db.is_in_use, index_db.places(folder))) or index_db.is_empty(_connection(folder, state)[0])


def _close(state: _Open) -> None:
    mine: _Mine | None = getattr(state.local, "mine", None)
    if mine is not None:
        mine.connection.close()
        state.local.mine = None


def note(folder: Path, slug: str) -> None:
    """This process changed a prompt: a large catalog's index learns it at once, a small one's does anyway."""
    state = _OPEN.get(folder.absolute())
    if state is not None and state.files > SMALL:
        with suppress(sqlite3.Error, OSError), state.lock:
            index_compare.renew(folder, _connection(folder, state)[0], slug)


def _answer(folder: Path, question: index_db.Question, *, twins: bool = False) -> list[tuple[object, ...]]:
    return _ask(folder, lambda connection: connection.execute(question.sql, question.values).fetchall(), twins=twins)


def _ask(
    folder: Path, ask: Callable[[sqlite3.Connection], Answer], *, twins: bool = False, at_once: bool = False
) -> Answer:
    """Ask the index; on any doubt throw it away and build it again, the last time in memory (a full disk)."""
    for attempt in range(3):
        try:
            with _fresh(folder, twins=twins, at_once=at_once) as connection:
                return ask(connection)
        except sqlite3.Error as error:
            if attempt == 2:
                wrong, try_this = f"The index cannot be used ({error}).", "Delete the folder .index and look again."
                raise CatalogError("Looking in the catalog.", wrong, try_this) from error
            forget_index(folder)
            if attempt == 1:
                _open(folder).memory = index_db.connect(None)
    raise AssertionError


def forget_index(folder: Path) -> None:
    """Take the index away; the next question builds a new one."""
    with _OPEN_LOCK:
        state = _OPEN.pop(folder.absolute(), None)
    if state is not None:
        _close(state)
    for path in index_db.places(folder):
        for name in (path, Path(f"{path}-wal"), Path(f"{path}-shm"), Path(f"{path}-journal")):
            with suppress(OSError):
                name.unlink()


def find(
    folder: Path,
    words: str = "",
    *,
    limit: int = 20,
    offset: int = 0,
    since: str = "",
    until: str = "",
    outside: bool = False,
    at_once: bool = False,
) -> Found:
    """The prompts that the words ask for, newest day first. Never fails on what is typed.

    since, until: the first and the last day that they may have been kept on, like 2025-09-01; "" leaves it open.

    outside: for others on the network, who find nothing by words that they are not shown, and no picture in which a
    face is open. at_once: for somebody who waits; a file changed by hand in its place may be found a moment later (see
    was_behind).
    """
    asked = replace(parse(words), since=since, until=until, outside=outside)
    return select(folder, asked, limit=limit, offset=offset, at_once=at_once)


def select(folder: Path, asked: Asked, *, limit: int = 20, offset: int = 0, at_once: bool = False) -> Found:
    """As find, for what was asked already; a word that nothing has stands for the nearest one."""
    limit, offset = max(0, min(limit, 10**9)), max(0, min(offset, 10**9))

    def ask(connection: sqlite3.Connection) -> Found:
        if asked.outside:  # the nearest word may be one that they are not shown
            question = index_db.picking(asked, limit, offset)
            ((total, page),) = connection.execute(question.sql, question.values).fetchall()
            return Found(int(str(total)), tuple(map(from_record, json.loads(str(page)))))
        meant = mended(asked, lambda word: index_db.has_word(connection, word), lambda: index_db.vocabulary(connection))
        question = index_db.picking(meant, limit, offset)
        ((total, page),) = connection.execute(question.sql, question.values).fetchall()
        prompts = tuple(map(from_record, json.loads(str(page))))
        return Found(int(str(total)), prompts, index_db.damaged(connection), meant.instead)

    return _ask(folder, ask, at_once=at_once)


def board(folder: Path) -> dict[tuple[int, Kind], int]:
    """How many prompts each half and kind has; pictures without a double are left out."""
    got = _answer(
        folder, index_db.Question("SELECT half, kind, count(*) FROM prompts WHERE half > 0 GROUP BY half, kind")
    )
    return {(half, kind): count for half, kind, count in got}  # type: ignore[misc]


def by_source(folder: Path, sha256: str) -> list[Prompt]:
    """All prompts made of that photo."""
    if not sha256:
        return []
    sql = "SELECT record FROM prompts WHERE source = ? ORDER BY slug"
    got = _answer(folder, index_db.Question(sql, (sha256,)), twins=True)
    return [from_record(str(record)) for (record,) in got]


def hashes(folder: Path) -> tuple[list[str], bytes]:
    """Slugs of all prompts that have a perceptual hash, and the hashes one after the other, 8 bytes each."""
    sound = "length(phash) = 16 AND phash NOT GLOB '*[^0-9a-f]*'"
    sql = f"SELECT json_group_array(slug), coalesce(group_concat(phash, ''), '') FROM prompts WHERE {sound}"
    ((slugs, together),) = _answer(folder, index_db.Question(sql))
    return json.loads(str(slugs)), bytes.fromhex(str(together))

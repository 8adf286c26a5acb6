"""find: a throw-away SQLite file that makes the catalog quick to search. Compared with the folder, never a source."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from curator.catalog import rows, shelf
from curator.catalog.search_words import Asked, parse
from curator.errors import CatalogError
from curator.records import Kind, Prompt

SMALL = 2_000  # files: comparing that many with the index takes about 5 ms, so it is done for every question
REST = 3.0  # seconds between two comparisons of a larger folder within one process


@dataclass(frozen=True, slots=True)
class Found:
    """How many prompts pass, and the ones asked for, newest day first."""

    total: int
    prompts: tuple[Prompt, ...]


@dataclass(slots=True)
class _Open:
    """One index file, as this process knows it."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    local: threading.local = field(default_factory=threading.local)
    files: int = 0
    compared: float = float("-inf")
    running: bool = False
    memory: sqlite3.Connection | None = None  # where no index file can be kept


_OPEN: dict[Path, _Open] = {}
_OPEN_LOCK = threading.Lock()


def _open(folder: Path) -> _Open:
    key = folder.absolute()
    with _OPEN_LOCK:
        return _OPEN.setdefault(key, _Open())


def _connection(folder: Path, state: _Open) -> sqlite3.Connection:
    """This thread's connection; a new one where the index file was taken away."""
    if state.memory is not None:
        return state.memory
    known = getattr(state.local, "connection", None)
    if known is not None:
        path, inode, connection = known
        with suppress(OSError):
            if path.stat().st_ino == inode:
                return connection  # type: ignore[no-any-return]
        connection.close()
        state.local.connection = None
    for path in rows.places(folder):
        with suppress(OSError, sqlite3.Error):
            connection = rows.connect(path)
            state.local.connection = (path, path.stat().st_ino, connection)
            return connection
    state.memory = rows.connect(None)
    return state.memory


@contextmanager
def _fresh(folder: Path, *, twins: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection whose rows equal the folder, or lag REST seconds behind others' changes to a large one.

    For `twins` no prompt may be missing, though hand edits of the last moment may be.
    """
    shelf.there(folder, "Looking in the catalog.")
    state = _open(folder)
    connection = _connection(folder, state)
    if twins or rows.is_empty(connection) or state.files <= SMALL or state.compared == float("-inf"):
        with state.lock:
            _compare(folder, state, connection, careful=not twins)
    elif time.monotonic() - state.compared > REST and not state.running:
        state.running = True
        threading.Thread(target=_compare_aside, args=(folder, state), daemon=True).start()
    if state.memory is None:
        yield connection
    else:
        with state.lock:
            yield connection


def _compare(folder: Path, state: _Open, connection: sqlite3.Connection, *, careful: bool = True) -> None:
    try:
        state.files = rows.compare(folder, connection, careful=careful)
    except OSError as error:
        wrong = f"The folder cannot be read ({error.strerror})."
        raise CatalogError("Looking in the catalog.", wrong, "Check that the drive is there.") from error
    state.compared = time.monotonic()


def _compare_aside(folder: Path, state: _Open) -> None:
    try:
        with suppress(CatalogError, sqlite3.Error), state.lock:
            _compare(folder, state, _connection(folder, state))
    finally:
        known = getattr(state.local, "connection", None)
        if known is not None:
            known[2].close()
        state.running = False


def _answer(folder: Path, question: rows.Question, *, twins: bool = False) -> list[tuple[object, ...]]:
    """Ask the index; on any doubt throw it away and build it again, the last time in memory (a full disk)."""
    for attempt in range(3):
        try:
            with _fresh(folder, twins=twins) as connection:
                return connection.execute(question.sql, question.values).fetchall()
        except sqlite3.Error as error:
            if attempt == 2:
                wrong, try_this = f"The index cannot be used ({error}).", "Delete the folder .index and look again."
                raise CatalogError("Looking in the catalog.", wrong, try_this) from error
            forget_index(folder)
            if attempt == 1:
                _open(folder).memory = rows.connect(None)
    raise AssertionError


def forget_index(folder: Path) -> None:
    """Take the index away; the next question builds a new one."""
    with _OPEN_LOCK:
        state = _OPEN.pop(folder.absolute(), None)
    known = getattr(state.local, "connection", None) if state else None
    if known is not None:
        known[2].close()
    for path in rows.places(folder):
        for name in (path, Path(f"{path}-wal"), Path(f"{path}-shm"), Path(f"{path}-journal")):
            with suppress(OSError):
                name.unlink()


def find(folder: Path, words: str = "", *, limit: int = 20, offset: int = 0) -> Found:
    """The prompts that the words ask for, newest day first. Never fails on what is typed."""
    return select(folder, parse(words), limit=limit, offset=offset)


def select(folder: Path, asked: Asked, *, limit: int = 20, offset: int = 0) -> Found:
    """As find, for what was asked already."""
    limit, offset = max(0, min(limit, 10**9)), max(0, min(offset, 10**9))
    total = _answer(folder, rows.counting(asked))[0][0]
    assert isinstance(total, int)
    if limit == 0 or offset >= total:
        return Found(total, ())
    got = _answer(folder, rows.picking(asked, limit, offset))
    prompts = (rows.prompt_of(folder, row) for row in got)
    return Found(total, tuple(prompt for prompt in prompts if prompt is not None))


def board(folder: Path) -> dict[tuple[int, Kind], int]:
    """How many prompts each half and kind has; pictures without a double are left out."""
    got = _answer(folder, rows.Question("SELECT half, kind, count(*) FROM prompts WHERE half > 0 GROUP BY half, kind"))
    return {(half, kind): count for half, kind, count in got}  # type: ignore[misc]


def by_source(folder: Path, sha256: str) -> list[Prompt]:
    """All prompts made of that photo."""
    if not sha256:
        return []
    sql = f"SELECT {rows.COLUMNS} FROM prompts WHERE source = ? ORDER BY slug"
    got = _answer(folder, rows.Question(sql, (sha256,)), twins=True)
    return [prompt for row in got if (prompt := rows.prompt_of(folder, row)) is not None]


def hashes(folder: Path) -> list[tuple[str, str]]:
    """(slug, perceptual hash) of all prompts that have one."""
    return _answer(folder, rows.Question("SELECT slug, phash FROM prompts WHERE phash != ''"))  # type: ignore[return-value]

"""The index file itself: its tables, its comparison with the folder, and the questions put to it."""

from __future__ import annotations

import hashlib
import json
import logging
import os
import re
import socket
import sqlite3
import time
import zlib
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import fields
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from curator.catalog import face_words, reading
from curator.catalog.face_words import is_quiet
from curator.catalog.search.query import Asked, Numbers, shown_words, words_of
from curator.errors import CatalogError
from curator.records import LARGEST_HALF, Area, Dot, Fact, Prompt

LOG = logging.getLogger("curator")
MANY = 4_000  # prompts: reading that many takes some seconds, which is said
CHUNK = 2_000  # rows written at once into an empty index
VERSION = 4  # another number throws every index away
YOUNG_NS = 2_500_000_000  # a file changed this shortly before it was read may change again with the same time stamp

_SCHEMA = """
CREATE TABLE prompts (
    id INTEGER PRIMARY KEY,   -- see order_key: larger comes first
    slug TEXT UNIQUE NOT NULL,
    half INTEGER NOT NULL,    -- 0: no double
    kind TEXT NOT NULL,
    source TEXT NOT NULL,
    phash TEXT NOT NULL,
    record TEXT NOT NULL      -- all fields as JSON
);
CREATE INDEX by_source ON prompts (source);
CREATE INDEX by_half ON prompts (half, kind);
CREATE TABLE files (          -- what the folder held when it was last compared, damaged files too
    slug TEXT PRIMARY KEY, stamp TEXT NOT NULL
) WITHOUT ROWID;
CREATE VIRTUAL TABLE words USING fts5 (   -- words come folded, so that blanks and ASCII signs alone divide them
    said, facts, shown, content='', contentless_delete=1, tokenize='ascii', detail='column', prefix='1 2 3'
);
"""
_OLD_SCHEMA = _SCHEMA.replace("content='', contentless_delete=1, ", "")  # SQLite before 3.43


class Question(NamedTuple):
    """SQL and its values."""

    sql: str
    values: tuple[object, ...] = ()


def places(folder: Path) -> Iterable[Path]:
    """Where the index may lie, best first: in the catalog, one a machine; else in the user's cache."""
    host = re.sub(r"[^A-Za-z0-9-]+", "-", socket.gethostname())[:40] or "here"
    yield folder / ".index" / f"{host}.sqlite"
    yield _cache() / f"{hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:24]}.sqlite"


def _cache() -> Path:
    """Where this system keeps what can be thrown away."""
    named = os.environ.get("XDG_CACHE_HOME")
    if named:
        return Path(named) / "curator"
    from platformdirs import user_cache_path

    return user_cache_path("curator", appauthor=False)


def connect(path: Path | None) -> sqlite3.Connection:
    """An index file with our tables, or one in memory; an older or foreign one is emptied. OSError, sqlite3.Error."""
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
    connection = sqlite3.connect(str(path or ":memory:"), timeout=60, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = OFF")  # it is thrown away on any doubt
        connection.execute("PRAGMA secure_delete = ON")  # what was forgotten is gone
        _prepare(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection) -> None:
    if connection.execute("PRAGMA user_version").fetchone()[0] == VERSION:
        return
    connection.execute("BEGIN IMMEDIATE")
    if connection.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        for name in ("words", "prompts", "files"):
            connection.execute(f"DROP TABLE IF EXISTS {name}")
        schema = _SCHEMA if sqlite3.sqlite_version_info >= (3, 43) else _OLD_SCHEMA
        for statement in re.sub(r"--.*", "", schema).split(";"):
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {VERSION}")
    connection.execute("COMMIT")


def is_empty(connection: sqlite3.Connection) -> bool:
    """Whether nothing has been compared yet."""
    return connection.execute("SELECT 1 FROM files LIMIT 1").fetchone() is None


def _stamp(status: os.stat_result) -> str:
    """What tells one state of a file from another, unless the two are too close in time."""
    return f"{status.st_mtime_ns}.{status.st_size}.{status.st_ino}"


def _marked(status: os.stat_result, now_ns: int) -> str:
    """The stamp, with a ? where the file may change again under the same stamp.

    In the index a checksum of the file stands behind the ?, so that reading it again costs little.
    """
    return _stamp(status) + ("?" if status.st_mtime_ns > now_ns - YOUNG_NS else "")


def compare(folder: Path, connection: sqlite3.Connection) -> int:
    """Bring the rows up to the folder; returns how many files it holds. OSError where the folder cannot be read.

    Files that were read while they were young are read again, for they may have changed under the same stamp.
    """
    now = time.time_ns()
    there = dict(_there(folder, now))
    known = dict(connection.execute("SELECT slug, stamp FROM files").fetchall())
    changed = [slug for slug, stamp in there.items() if known.get(slug) != stamp or stamp.endswith("?")]
    gone = [slug for slug in known if slug not in there]
    if changed or gone:
        _bring_up(folder, connection, gone, [(slug, there[slug]) for slug in changed])
    return len(there)


def _there(folder: Path, now_ns: int) -> Iterator[tuple[str, str]]:
    """Slug and stamp of each file; what somebody takes away while the folder is read is not there."""
    for slug, entry in reading.slugs(folder):
        with suppress(FileNotFoundError):
            yield slug, _marked(entry.stat(), now_ns)


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
        return _marked(os.stat(folder / f"{slug}{reading.SUFFIX}"), now_ns)
    except OSError:
        return ""


def _bring_up(folder: Path, connection: sqlite3.Connection, gone: list[str], changed: list[tuple[str, str]]) -> None:
    if len(changed) > MANY:
        LOG.warning("Reading %s prompts for finding; next time only those that changed.", f"{len(changed):,}")
    connection.execute("BEGIN IMMEDIATE")
    try:
        if is_empty(connection):
            _fill(folder, connection, changed)
            changed = []
        for slug in gone:
            _drop(connection, slug)
        for slug, stamp in changed:
            stamp = _with_checksum(folder, slug, stamp)
            if not _only_older(folder, connection, slug, stamp):
                _renew(folder, connection, slug)
            connection.execute("INSERT OR REPLACE INTO files VALUES (?, ?)", (slug, stamp))
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def _fill(folder: Path, connection: sqlite3.Connection, changed: list[tuple[str, str]]) -> None:
    """Rows for an empty index: nothing has to be looked for, so they go in by the thousand."""
    used: set[int] = set()
    for start in range(0, len(changed), CHUNK):
        rows, stamps = [], []
        for slug, stamp in changed[start : start + CHUNK]:
            stamps.append((slug, _with_checksum(folder, slug, stamp)))
            path = folder / f"{slug}{reading.SUFFIX}"
            with suppress(CatalogError):  # a damaged file has no row
                prompt = reading.parse(reading.read_text(path, path.name), slug)
                key = order_key(prompt)
                while key in used:
                    key += 1
                used.add(key)
                rows.append(_row(prompt, as_record(prompt), key))
        connection.executemany(_INTO_PROMPTS, [row for row, _ in rows])
        connection.executemany(_INTO_WORDS, [words for _, words in rows])
        connection.executemany("INSERT OR REPLACE INTO files VALUES (?, ?)", stamps)


def _with_checksum(folder: Path, slug: str, stamp: str) -> str:
    """A young file's stamp with the checksum of what it holds now, taken before it is read."""
    return f"{stamp}{_checksum(folder, slug)}" if stamp.endswith("?") else stamp


def _checksum(folder: Path, slug: str) -> str:
    """16 hex digits of the file's SHA-256; "" where it cannot be read."""
    try:
        return hashlib.sha256((folder / f"{slug}{reading.SUFFIX}").read_bytes()).hexdigest()[:16]
    except OSError:
        return ""


def _only_older(folder: Path, connection: sqlite3.Connection, slug: str, stamp: str) -> bool:
    """True where the file was read while it was young, has still the same stamp, and holds the same."""
    row = connection.execute("SELECT stamp FROM files WHERE slug = ?", (slug,)).fetchone()
    before, young, checksum = (row[0] if row else "").partition("?")
    now, still, same = stamp.partition("?")
    if not (young and checksum) or before != now:
        return False
    return checksum == (same if still else _checksum(folder, slug))


def _drop(connection: sqlite3.Connection, slug: str) -> None:
    row = connection.execute("SELECT id FROM prompts WHERE slug = ?", (slug,)).fetchone()
    if row is not None:
        connection.execute("DELETE FROM prompts WHERE id = ?", row)
        connection.execute("DELETE FROM words WHERE rowid = ?", row)
    connection.execute("DELETE FROM files WHERE slug = ?", (slug,))


def _renew(folder: Path, connection: sqlite3.Connection, slug: str) -> None:
    """Read one file again and put its row in place of the old one; a damaged file has no row."""
    try:
        prompt = reading.load(folder, slug)
    except CatalogError:
        _drop(connection, slug)
    else:
        record = as_record(prompt)
        old = connection.execute("SELECT record FROM prompts WHERE slug = ?", (slug,)).fetchone()
        if old is None or old[0] != record:
            _drop(connection, slug)
            _insert(connection, prompt, record)


def _insert(connection: sqlite3.Connection, prompt: Prompt, record: str) -> None:
    key = order_key(prompt)
    while connection.execute("SELECT 1 FROM prompts WHERE id = ?", (key,)).fetchone():
        key += 1
    row, words = _row(prompt, record, key)
    connection.execute(_INTO_PROMPTS, row)
    connection.execute(_INTO_WORDS, words)


_INTO_PROMPTS = "INSERT INTO prompts VALUES (?, ?, ?, ?, ?, ?, ?)"
_INTO_WORDS = "INSERT INTO words (rowid, said, facts, shown) VALUES (?, ?, ?, ?)"


def _row(prompt: Prompt, record: str, key: int) -> tuple[tuple[object, ...], tuple[object, ...]]:
    """What stands of one prompt in the two tables."""
    half = prompt.fact.half if prompt.fact else 0
    facts = f"half{half} total{prompt.total} kind{prompt.kind} {'quiet' if is_quiet(prompt) else 'open'}"
    row = (key, prompt.slug, half, prompt.kind, prompt.source_sha256, prompt.phash, record)
    return row, (key, " ".join(words_of(prompt)), facts, " ".join(shown_words(prompt)))


def order_key(prompt: Prompt) -> int:
    """A number that puts newer days first and small facts first within a day, whatever order they are read in."""
    try:
        day = max(0, min(2**16 - 1, (date.fromisoformat(prompt.added) - date(1970, 1, 1)).days))
    except ValueError:
        day = 0
    half = prompt.fact.half if prompt.fact else 13
    return day << 46 | (15 - half) << 42 | (zlib.crc32(prompt.slug.encode()) << 10)


_NAMES = tuple(field.name for field in fields(Prompt))


def as_record(prompt: Prompt) -> str:
    """All fields in order, as JSON."""
    values = {name: getattr(prompt, name) for name in _NAMES}
    values |= {"fact": prompt.fact and prompt.fact.half, "seen": face_words.written("", prompt.seen)}
    return json.dumps(list(values.values()), separators=(",", ":"))


@lru_cache(maxsize=2048)
def from_record(record: str) -> Prompt:
    """The inverse of as_record. Prompts cannot be changed, so those shown lately are kept."""
    got: dict[str, Any] = dict(zip(_NAMES, json.loads(record), strict=True))
    got["fact"] = None if got["fact"] is None else Fact(got["fact"])
    got["dots"] = tuple(Dot(*dot) for dot in got["dots"])
    got["tags"] = tuple(got["tags"])
    got["line"] = None if got["line"] is None else tuple(tuple(end) for end in got["line"])
    got["seen"] = face_words.read(got["seen"])[1]
    got["area"] = None if got["area"] is None else Area(*got["area"])
    return Prompt(**got)


def _any(terms: Iterable[str]) -> str:
    return "(" + (" OR ".join(terms) or '"nothing"') + ")"


def _fact_term(term: str) -> str:
    return f'facts : "{term}"'


def _numbers_match(n: Numbers) -> str:
    parts = []
    if n.half is not None:
        parts.append(_fact_term(f"half{n.half}"))
    if n.total is not None:
        parts.append(_fact_term(f"total{n.total}"))
    if n.either is not None:
        parts.append(_any([_fact_term(f"half{n.either or 'x'}"), _fact_term(f"total{n.either}")]))
    if n.most is not None:
        parts.append(_any(_fact_term(f"half{h}") for h in range(1, min(LARGEST_HALF, n.most // 2) + 1)))
    if n.double:
        parts.append(_any(_fact_term(f"half{h}") for h in range(1, LARGEST_HALF + 1)))
    return "(" + " AND ".join(parts) + ")"


def match_of(asked: Asked) -> str:
    """What was asked as an FTS5 expression, every word in quotes (letters and digits alone); "" for everything."""
    parts = []
    if asked.nothing:
        return _any([])
    if asked.numbers:
        parts.append(_any(map(_numbers_match, asked.numbers)))
    if asked.kinds:
        parts.append(_any(_fact_term(f"kind{kind}") for kind in asked.kinds))
    parts += [_fact_term("quiet")] if asked.outside else []
    parts += [f'{"shown" if asked.outside else "said"} : "{word}" *' for word in asked.words]
    return " AND ".join(parts)


def has_word(connection: sqlite3.Connection, word: str) -> bool:
    """Whether any prompt has a word that begins so (letters and digits alone)."""
    match = f'said : "{word}" *'
    return connection.execute("SELECT 1 FROM words WHERE words MATCH ? LIMIT 1", (match,)).fetchone() is not None


def vocabulary(connection: sqlite3.Connection) -> list[str]:
    """All words of all prompts."""
    connection.execute("CREATE VIRTUAL TABLE IF NOT EXISTS temp.terms USING fts5vocab(main, words, col)")
    return [term for (term,) in connection.execute("SELECT term FROM temp.terms WHERE col = 'said'").fetchall()]


def damaged(connection: sqlite3.Connection) -> int:
    """How many files named like prompts cannot be read."""
    (count,) = connection.execute("SELECT (SELECT count(*) FROM files) - (SELECT count(*) FROM prompts)").fetchone()
    return max(0, int(count))


def picking(asked: Asked, limit: int, offset: int) -> Question:
    """One row: how many prompts pass, and a page of their records as a JSON list.

    One row, because Python hands over to other threads at every row.
    """
    match = match_of(asked)
    values: tuple[object, ...]
    if match:
        where, values = "FROM words WHERE words MATCH ?", (match,)
        page = f"SELECT record FROM prompts WHERE id IN (SELECT rowid {where} ORDER BY rowid DESC LIMIT ? OFFSET ?)"
        page += " ORDER BY id DESC"
    else:
        where, values = "FROM prompts", ()
        page = "SELECT record FROM prompts ORDER BY id DESC LIMIT ? OFFSET ?"
    sql = f"SELECT (SELECT count(*) {where}), (SELECT json_group_array(record) FROM ({page}))"
    return Question(sql, (*values, *values, limit, offset))

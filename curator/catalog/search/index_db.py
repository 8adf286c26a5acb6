"""The index file itself: its tables, what goes in and out of them, and the questions put to it."""

from __future__ import annotations

import hashlib
import re
import socket
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple

from curator import systems
from curator.catalog.search.index_rows import DAY, Row
from curator.catalog.search.query import Asked, Numbers
from curator.records import LARGEST_HALF

VERSION = 7  # another number throws every index away
_PATIENCE = 600  # seconds: another process may be reading very many prompts
_WORDS_HELD, _WORDS_USUAL = 1 << 26, 1 << 20  # bytes of words in memory while an index is filled; SQLite's own number

_SCHEMA = """
CREATE TABLE prompts (
    id INTEGER PRIMARY KEY,   -- Row.key: larger comes first
    slug TEXT NOT NULL,
    half INTEGER NOT NULL,    -- 0: no double
    kind TEXT NOT NULL,
    source TEXT NOT NULL,
    phash TEXT NOT NULL,
    record TEXT NOT NULL      -- all fields as JSON
);
CREATE TABLE files (          -- what the folder held when it was last compared
    slug TEXT PRIMARY KEY, stamp TEXT NOT NULL,
    id INTEGER                -- the prompt's number, NULL for a file that cannot be read
) WITHOUT ROWID;
CREATE TABLE folder (         -- one row: its own stamp when it was compared last, "" while it was young
    stamp TEXT NOT NULL, files INTEGER NOT NULL
);
CREATE VIRTUAL TABLE words USING fts5 (   -- words come folded, so that blanks and ASCII signs alone divide them
    anybody, ours, theirs, facts,
    content='', contentless_delete=1, tokenize='ascii', detail='column', prefix='1 2 3'
);
"""
_LATER = {
    "by_source": "CREATE INDEX by_source ON prompts (source)",
    "by_half": "CREATE INDEX by_half ON prompts (half, kind)",
    "unread": "CREATE INDEX unread ON files (slug) WHERE id IS NULL",  # counted with every question
}
_OLD_SCHEMA = _SCHEMA.replace("content='', contentless_delete=1", "columnsize=0")  # SQLite before 3.43


AnyRow = tuple[Any, ...]  # a Row, or its values as another process gives them


class Question(NamedTuple):
    """SQL and its values."""

    sql: str
    values: tuple[object, ...] = ()


def places(folder: Path) -> Iterable[Path]:
    """Where the index may lie, best first: in the catalog, one a machine; else in the user's cache."""
    host = re.sub(r"[^A-Za-z0-9-]+", "-", socket.gethostname())[:40] or "here"
    yield folder / ".index" / f"{host}.sqlite"
    yield systems.cache() / f"{hashlib.sha256(str(folder.resolve()).encode()).hexdigest()[:24]}.sqlite"


def connect(path: Path | None) -> sqlite3.Connection:
    """An index file with our tables, or one in memory; an older or foreign one is emptied. OSError, sqlite3.Error."""
    if path is not None:
        path.parent.mkdir(parents=True, exist_ok=True)
    connection = sqlite3.connect(
        str(path or ":memory:"), timeout=_PATIENCE, isolation_level=None, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA page_size = 8192")  # of a new file: a sixth less work to fill
        connection.execute("PRAGMA synchronous = OFF")  # it is thrown away on any doubt
        connection.execute("PRAGMA secure_delete = ON")  # what was forgotten is gone
        _prepare(connection)
        if not is_empty(connection):
            share(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _prepare(connection: sqlite3.Connection) -> None:
    if connection.execute("PRAGMA user_version").fetchone()[0] == VERSION:
        return
    connection.execute("BEGIN IMMEDIATE")
    if connection.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        for name in ("words", "prompts", "files", "damaged", "folder"):
            connection.execute(f"DROP TABLE IF EXISTS {name}")
        schema = _SCHEMA if sqlite3.sqlite_version_info >= (3, 43) else _OLD_SCHEMA
        for statement in (*re.sub(r"--.*", "", schema).split(";"), *_LATER.values()):
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {VERSION}")
    connection.execute("COMMIT")


def share(connection: sqlite3.Connection) -> None:
    """From now on others read while somebody writes. Not before the index is filled: each page would be written twice,
    and a kill undoes a first filling either way.
    """
    connection.execute("PRAGMA journal_mode = WAL")


def is_in_use(path: Path) -> bool:
    """Whether somebody fills that file just now, so that nobody else can read it."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", timeout=0, uri=True)) as connection:
            connection.execute("PRAGMA user_version").fetchone()
    except sqlite3.OperationalError as error:
        return "locked" in str(error)
    except sqlite3.Error:
        return False
    return False


def is_empty(connection: sqlite3.Connection) -> bool:
    """Whether nothing has been compared yet."""
    return connection.execute("SELECT 1 FROM files LIMIT 1").fetchone() is None


def compared_last(connection: sqlite3.Connection) -> tuple[str, int]:
    """The folder's stamp when it was compared last and how many files it held; "" and 0 before."""
    stamp, files = connection.execute("SELECT stamp, files FROM folder").fetchone() or ("", 0)
    return str(stamp), int(files)


def note_comparison(connection: sqlite3.Connection, stamp: str, files: int) -> None:
    """Remember the folder's stamp as it was before a comparison."""
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("DELETE FROM folder")
    connection.execute("INSERT INTO folder VALUES (?, ?)", (stamp, files))
    connection.execute("COMMIT")


@contextmanager
def filling(connection: sqlite3.Connection) -> Iterator[None]:
    """While many rows go into an empty index: what orders them is made at the end, in one go."""
    for name in _LATER:
        connection.execute(f"DROP INDEX IF EXISTS {name}")
    connection.execute("INSERT INTO words (words, rank) VALUES ('hashsize', ?)", (_WORDS_HELD,))
    connection.execute("PRAGMA secure_delete = OFF")  # nothing is forgotten here
    connection.execute("PRAGMA cache_size = -65536")  # KiB
    try:
        yield
    finally:  # of this connection, which may go on where the filling failed
        connection.execute("PRAGMA cache_size = -2000")  # SQLite's own number
        connection.execute("PRAGMA secure_delete = ON")
    connection.execute("INSERT INTO words (words, rank) VALUES ('hashsize', ?)", (_WORDS_USUAL,))
    for statement in _LATER.values():
        connection.execute(statement)


def put_in(connection: sqlite3.Connection, rows: Sequence[AnyRow]) -> None:
    """Rows of prompts that have none, in the order of their numbers; their files are noted apart."""
    connection.executemany(_INTO_PROMPTS, [row[:7] for row in rows])
    connection.executemany(_INTO_WORDS, [row[:1] + row[7:] for row in rows])


def note_files(connection: sqlite3.Connection, stamps: Sequence[tuple[str, str]], numbers: dict[str, int]) -> None:
    """Remember files as they were read: slugs with their stamps, and the prompts' numbers; one without is damaged."""
    connection.executemany(_INTO_FILES, [(slug, stamp, numbers.get(slug)) for slug, stamp in stamps])


def note_file(connection: sqlite3.Connection, slug: str, stamp: str, *, readable: bool) -> None:
    """Remember a file as it was read."""
    known = connection.execute("SELECT id FROM files WHERE slug = ?", (slug,)).fetchone() if readable else None
    note_files(connection, [(slug, stamp)], {slug: known[0]} if known else {})


def drop(connection: sqlite3.Connection, slug: str) -> None:
    """Take a prompt out."""
    _drop_row(connection, slug)
    connection.execute("DELETE FROM files WHERE slug = ?", (slug,))


def renew(connection: sqlite3.Connection, row: Row) -> bool:
    """Put a row in place of the one that its prompt had; whether the two differ."""
    asked = "SELECT record FROM prompts JOIN files USING (id) WHERE files.slug = ?"
    if connection.execute(asked, (row.slug,)).fetchone() == (row.record,):
        return False
    _drop_row(connection, row.slug)
    key = row.key
    while connection.execute("SELECT 1 FROM prompts WHERE id = ?", (key,)).fetchone():
        key += 1
    put_in(connection, [row._replace(key=key)])
    note_files(connection, [(row.slug, "")], {row.slug: key})
    return True


def _drop_row(connection: sqlite3.Connection, slug: str) -> None:
    (number,) = connection.execute("SELECT id FROM files WHERE slug = ?", (slug,)).fetchone() or (None,)
    if number is not None:
        connection.execute("DELETE FROM prompts WHERE id = ?", (number,))
        connection.execute("DELETE FROM words WHERE rowid = ?", (number,))


_INTO_PROMPTS = "INSERT INTO prompts VALUES (?, ?, ?, ?, ?, ?, ?)"
_INTO_WORDS = "INSERT INTO words (rowid, anybody, ours, theirs, facts) VALUES (?, ?, ?, ?, ?)"
_INTO_FILES = "INSERT OR REPLACE INTO files VALUES (?, ?, ?)"


_SAID, _SHOWN = "{anybody ours}", "{anybody theirs}"  # the columns of words that are looked in


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
    where = _SHOWN if asked.outside else _SAID
    parts += [f'{where} : "{word}" *' for word in asked.words]
    return " AND ".join(parts)


def has_word(connection: sqlite3.Connection, word: str) -> bool:
    """Whether any prompt has a word that begins so (letters and digits alone)."""
    match = f'{_SAID} : "{word}" *'
    return connection.execute("SELECT 1 FROM words WHERE words MATCH ? LIMIT 1", (match,)).fetchone() is not None


def vocabulary(connection: sqlite3.Connection) -> list[str]:
    """All words of all prompts, those apart that only others on the network find something by."""
    connection.execute("CREATE VIRTUAL TABLE IF NOT EXISTS temp.terms USING fts5vocab(main, words, col)")
    asked = "SELECT DISTINCT term FROM temp.terms WHERE col IN ('anybody', 'ours')"
    return [term for (term,) in connection.execute(asked).fetchall()]


def damaged(connection: sqlite3.Connection) -> int:
    """How many files named like prompts cannot be read."""
    (count,) = connection.execute("SELECT count(*) FROM files WHERE id IS NULL").fetchone()
    return int(count)


def picking(asked: Asked, limit: int, offset: int) -> Question:
    """One row: how many prompts pass, and a page of their records as a JSON list.

    One row, because Python hands over to other threads at every row.
    """
    match = match_of(asked)
    first, last = asked.kept
    dated = bool(asked.since or asked.until)  # the number of a prompt begins with its day
    values: tuple[object, ...] = (first << DAY, (last + 1 << DAY) - 1) if dated else ()
    if match:
        where = "FROM words WHERE words MATCH ?" + " AND rowid BETWEEN ? AND ?" * dated
        values = (match, *values)
        page = f"SELECT record FROM prompts WHERE id IN (SELECT rowid {where} ORDER BY rowid DESC LIMIT ? OFFSET ?)"
        page += " ORDER BY id DESC"
    else:
        where = "FROM prompts" + " WHERE id BETWEEN ? AND ?" * dated
        page = f"SELECT record {where} ORDER BY id DESC LIMIT ? OFFSET ?"
    sql = f"SELECT (SELECT count(*) {where}), (SELECT json_group_array(record) FROM ({page}))"
    return Question(sql, (*values, *values, limit, offset))

"""Figures of the catalog: the index filled beside its floors, opened, and asked beside SQLite asked the same."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from curator import limited
from curator.catalog.search import index, index_compare, index_db
from curator.catalog.search.query import parse
from tests.bench.catalog_bench import TYPED, fill, straight_in
from tests.bench.rows import Row, Took, grows, middle, timed

MOST_FILES = 100_000  # beyond it rows go straight into the index: writing a million files takes longer than the rest


@contextmanager
def catalog(size: int, made: Path | None) -> Iterator[Path]:
    """A folder of that many prompts, or beyond MOST_FILES only their index; `made` keeps it for the next run."""
    with tempfile.TemporaryDirectory(prefix="catalog-bench-") as name:
        place = made / f"{size}" if made else Path(name)
        if not place.is_dir() or not any(place.iterdir()):
            place.mkdir(parents=True, exist_ok=True)
            (fill if size <= MOST_FILES else straight_in)(place, size)
            time.sleep(3)  # so that no file is young any more
        yield place


def build(sizes: list[int], made: Path | None = None) -> list[Row]:
    """The index filled, beside reading the bytes of those files alone and SQLite taking the same rows alone; opened."""
    rows, built = [], []
    sizes = [size for size in sizes if size <= MOST_FILES]
    for size in sizes:
        with catalog(size, made) as place:
            rows += _filled(place, size)
            built.append(rows[-1].ms)
            rows += _opened(place, size)
    if len(sizes) > 1:
        rows[-3] = rows[-3]._replace(beside=f"{rows[-3].beside}; {grows(sizes, built)}")
    return rows


def _filled(place: Path, size: int) -> list[Row]:
    def ours() -> None:
        index.find(place, "7+7")
        limited._end_all()  # so that what the other processes did is counted

    index.forget_index(place)
    took = timed(ours)
    names = [entry.path for entry in os.scandir(place) if entry.name.endswith(".yaml")]
    bytes_alone = timed(lambda: [index_compare._read(name) for name in names])
    rows, stamps = index_compare.read_rows(str(place), [(Path(name).stem, "1.1.1") for name in names])
    rows.sort()
    with tempfile.TemporaryDirectory() as other:
        connection = index_db.connect(Path(other) / "alone.sqlite")

        def sqlite_alone() -> None:
            connection.execute("BEGIN")
            with index_db.filling(connection):
                index_db.put_in(connection, rows)
                index_db.note_files(connection, sorted(stamps), {row.slug: row.key for row in rows})
            connection.execute("COMMIT")

        rows_alone = timed(sqlite_alone)
        connection.close()
    floor = bytes_alone.cpu + rows_alone.cpu
    told = f"{1000 * size / took.cpu:,.0f} prompts a second of one core, {1000 * size / took.clock:,.0f} by the clock"
    return [
        Row(f"the bytes of {size:,} files alone", bytes_alone.cpu, None, "", "", bytes_alone.clock, own=False),
        Row(f"SQLite FTS5 taking {size:,} rows alone", rows_alone.cpu, None, "", "", rows_alone.clock, own=False),
        Row(f"index build, {size:,} prompts", took.cpu, took.cpu / floor, "the two together", told, took.clock),
    ]


def _opened(place: Path, size: int) -> list[Row]:
    """The first question of a process whose index is there and right, its start left out; and comparing every file."""
    code = (
        "import sys; from pathlib import Path; from curator.catalog.search import index\n"
        "from tests.bench.rows import timed\n"
        "for once in (True, False):\n"
        "    index._OPEN.clear()\n"
        "    print(*timed(lambda: index.find(Path(sys.argv[1]), '7+7', at_once=once)))\n"
        "    index.was_behind(Path(sys.argv[1]))"
    )
    index.find(place, "")
    time.sleep(3)  # the folder's own date is young until then
    index._OPEN.clear()
    index.find(place, "")
    told: list[list[Took]] = [[], []]
    for _ in range(3):
        done = subprocess.run([sys.executable, "-c", code, str(place)], capture_output=True, text=True, check=True)
        for kind, line in zip(told, done.stdout.splitlines(), strict=True):
            kind.append(Took(*map(float, line.split())))
    once, every = map(middle, told)
    return [
        Row(f"opened again unchanged, {size:,} prompts", once.cpu, None, "", "compared aside", once.clock),
        Row(f"every file compared, {size:,} prompts", every.cpu, None, "", "", every.clock),
    ]


def find(sizes: list[int], made: Path | None = None) -> list[Row]:
    """p50 and p95 of questions, beside the same ones put straight to SQLite."""
    rows: list[Row] = []
    middles = []
    compare = index_compare.compare
    for size in sizes:
        with catalog(size, made) as place:
            if size > MOST_FILES:  # there are no files to compare with
                index_compare.compare = lambda *_, size=size: index_compare.Compared(size, False)  # type: ignore[assignment,misc]
            try:
                own, straight = _questions(place, 20 if size <= MOST_FILES else 4)
            finally:
                index_compare.compare = compare
            files = "every file compared first" if size <= index.SMALL else ""
            files = files if size <= MOST_FILES else "rows without files"
            for name, part in (("p50", 0.5), ("p95", 0.95)):
                ours, floor = (took[int(part * len(took))] for took in (own, straight))
                ratio = ours.cpu / floor.cpu
                rows.append(
                    Row(f"find {name}, {size:,} prompts", ours.cpu, ratio, "SQLite, same question", files, ours.clock)
                )
            middles.append(rows[-2].ms)
    if len(sizes) > 1:
        rows[-2] = rows[-2]._replace(beside=", ".join(filter(None, (rows[-2].beside, grows(sizes, middles)))))
    return rows


def _questions(place: Path, turns: int) -> tuple[list[Took], list[Took]]:
    """Our questions and the same SQL, by turns, on a warm index; sorted by their time."""
    index.find(place, "")
    straight = sqlite3.connect(str(next(iter(index_db.places(place)))))
    own, plain = [], []
    for number, words in enumerate(TYPED * (turns + 1)):
        question = index_db.picking(parse(words), 20, 0)
        floor = _asked(lambda q=question: straight.execute(q.sql, q.values).fetchall())  # type: ignore[misc]
        ours = _asked(lambda w=words: index.find(place, w))  # type: ignore[misc]
        if number >= len(TYPED):
            plain.append(floor)
            own.append(ours)
    straight.close()
    return sorted(own), sorted(plain)


def _asked(work: Callable[[], object]) -> Took:
    """One call in this thread alone, for the comparison aside goes on in another."""
    start, used = time.perf_counter(), time.thread_time()
    work()
    return Took((time.thread_time() - used) * 1000, (time.perf_counter() - start) * 1000)

"""Figures of finding: against the same question put straight to SQLite's FTS5, at several sizes."""

from __future__ import annotations

import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from curator.catalog.search import index, index_db
from curator.catalog.search.query import parse
from tests.bench.catalog_bench import TYPED, fill
from tests.bench.rows import Row, grows, timed


def find(sizes: list[int]) -> list[Row]:
    """Index build, opening again, and p50 and p95 of questions."""
    rows: list[Row] = []
    built, middles = [], []
    for size in sizes:
        with tempfile.TemporaryDirectory(prefix="catalog-bench-") as name:
            place = Path(name)
            fill(place, size)
            time.sleep(3)  # so that no file is young any more
            ms = timed(lambda place=place: index.find(place, "7+7"))  # type: ignore[misc]
            built.append(ms)
            rows.append(
                Row(f"index build, {size:,} prompts", ms, None, "", f"{size / ms * 1000:,.0f} prompts a second")
            )
            own, straight = _questions(place)
            middle, late = statistics.median(own), own[int(0.95 * len(own))]
            floor = straight[int(0.95 * len(straight))]
            middles.append(middle)
            rows.append(
                Row(
                    f"find p50, {size:,} prompts", middle, middle / statistics.median(straight), "SQLite, same question"
                )
            )
            rows.append(Row(f"find p95, {size:,} prompts", late, late / floor, "SQLite, same question"))
            rows.append(Row(f"opened again unchanged, {size:,} prompts", _opened(place)))
    if len(sizes) > 1:
        rows[-4] = rows[-4]._replace(beside=f"{rows[-4].beside}; {grows(sizes, built)}")
        rows[-3] = rows[-3]._replace(beside=grows(sizes, middles))
    return rows


def _questions(place: Path) -> tuple[list[float], list[float]]:
    """Sorted milliseconds of our questions and of the same SQL, by turns, on a warm index."""
    straight = sqlite3.connect(str(next(iter(index_db.places(place)))))
    own, plain = [], []
    for words in TYPED * 20:
        question = index_db.picking(parse(words), 20, 0)
        plain.append(timed(lambda q=question: straight.execute(q.sql, q.values).fetchall()))  # type: ignore[misc]
        own.append(timed(lambda w=words: index.find(place, w)))  # type: ignore[misc]
    straight.close()
    return sorted(own), sorted(plain)


def _opened(place: Path) -> float:
    """Milliseconds of the first question of a process whose index is there and right, its start left out."""
    code = (
        "import sys, time; from pathlib import Path; from curator.catalog.search import index\n"
        "start = time.perf_counter(); index.find(Path(sys.argv[1]), '7+7'); print((time.perf_counter() - start) * 1000)"
    )
    done = [
        float(
            subprocess.run([sys.executable, "-c", code, str(place)], capture_output=True, text=True, check=True).stdout
        )
        for _ in range(3)
    ]
    return min(done)

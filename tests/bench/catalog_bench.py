"""How quick a large catalog is: building the index, opening it, and finding while typing, with several readers at once.

    python tests/bench/catalog_bench.py --prompts 100000 --readers 8

Figures are for the machine that runs it; the file writes are not synced, to get there sooner.
"""

from __future__ import annotations

import argparse
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent), str(HERE.parent.parent)]

from catalog_made import prompt_of, sha_of  # noqa: E402

from curator.catalog.search import index, index_db, index_rows  # noqa: E402
from curator.catalog.store import folder  # noqa: E402
from curator.catalog.yamls import to_yaml  # noqa: E402
from curator.records import FacesSeen, Prompt  # noqa: E402

THINGS = ["eggs", "buttons", "panes", "shoes", "mugs", "hooks", "spoons", "tiles", "leaves", "bricks", "jars", "pegs"]
PLACES = ["kitchen", "porch", "garden", "workshop", "hall", "shed", "landing", "cellar"]
TYPED = [
    "7+7",
    "half of 14",
    "eggs",
    "kitchen 7+7",
    "doubles to 10",
    "flip buttons",
    "garden",
    "14",
    "",
    "double 6 jars porch",
]


def fill(place: Path, count: int) -> None:
    """Prompts as a school might have them, files only."""
    for number, made in enumerate(made_up(count)):
        (place / f"{made.slug}.yaml").write_text(to_yaml(made))
        if number % 10_000 == 0:
            print(f"{number:,} of {count:,} files", end="\r", file=sys.stderr)


def made_up(count: int) -> Iterator[Prompt]:
    """Prompts with all that stands in one that was kept: words, rights, faces searched for, sizes."""
    rng = random.Random(5)
    for number in range(count):
        things, where, half = rng.choice(THINGS), rng.choice(PLACES), rng.randrange(0, 13)
        day = f"20{rng.randrange(20, 26)}-{rng.randrange(1, 13):02}-{rng.randrange(1, 29):02}"
        plain = prompt_of(half, f"{things}-{where}-{number}")
        sized = [
            dot._replace(x=round(rng.uniform(0.1, 0.9), 4), w=round(rng.uniform(0.03, 0.1), 4), h=0.0712)
            for dot in plain.dots
        ]
        yield replace(
            plain,
            title=f"{things.title()}, {where}",
            thing=things[:-1],
            things=things,
            place=where,
            tags=(rng.choice(PLACES), rng.choice(THINGS)),
            alt_before=f"A photo of {things} ({where}).",
            alt_after=f"{half} and {half} {things} make {2 * half}: one half is the other moved along.",
            credit=f"Porch Lane School, class {rng.randrange(1, 40)}",
            license="CC0-1.0",
            people="none",
            seen=FacesSeen((), day, "centerface-1", f"{rng.getrandbits(64):016x}"),
            dots=tuple(sized),
            line=((round(rng.random(), 4), 0.0), (round(rng.random(), 4), 1.0)),
            source_sha256=sha_of(str(number)),
            added=day,
            phash=f"{rng.getrandbits(64):016x}",
        )


def straight_in(place: Path, count: int, different: int = 20_000) -> None:
    """An index of that many prompts without their files: so many made up, each again under other names and hashes.

    A million files of a kilobyte take longer to write than everything else here; the index is the same.
    """
    rows = [index_rows.row_of_text(to_yaml(made), made.slug) for made in made_up(min(count, different))]
    connection = index_db.connect(next(iter(index_db.places(place))))
    connection.execute("BEGIN IMMEDIATE")
    with index_db.filling(connection):
        for turn in range(-(-count // len(rows))):
            part = [_renamed(row, turn) for row in rows[: count - turn * len(rows)]]
            index_db.put_in(connection, sorted(part))
            index_db.note_files(connection, [(row.slug, "1.1.1") for row in part], {row.slug: row.key for row in part})
    connection.execute("COMMIT")
    connection.close()


def _renamed(row: index_rows.Row, turn: int) -> index_rows.Row:
    slug = f"{row.slug}-{turn}"
    anybody = row.anybody.replace(row.slug, slug)
    record = row.record.replace(row.slug, slug).replace(row.phash, f"{turn:04x}{row.phash[4:]}")
    return row._replace(
        key=row.key + turn, slug=slug, source=f"{turn:04x}{row.source[4:]}", phash=f"{turn:04x}{row.phash[4:]}",
        record=record, anybody=anybody,
    )  # fmt: skip


def timed(work: Callable[[], object]) -> float:
    """Milliseconds."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def typing(place: Path, readers: int, seconds: float, pause: float) -> list[float]:
    """Milliseconds of each question while `readers` threads type words letter by letter, with a pause after each."""
    took: list[float] = []
    until = time.monotonic() + seconds

    def read(seed: int) -> None:
        rng = random.Random(seed)
        while time.monotonic() < until:
            words = rng.choice(TYPED)
            for end in range(1, len(words) + 1):
                took.append(timed(lambda typed=words[:end]: index.find(place, typed)))  # type: ignore[misc]
                time.sleep(pause)

    threads = [threading.Thread(target=read, args=(seed,)) for seed in range(readers)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took


def show(name: str, took: list[float]) -> None:
    took = sorted(took)
    p95 = took[int(len(took) * 0.95)]
    print(f"{name:<44}{statistics.median(took):9.1f}{p95:9.1f}{took[-1]:9.1f}   {len(took)} questions")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--prompts", type=int, default=100_000)
    parser.add_argument("--readers", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=20)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="catalog-bench-") as where:
        place = Path(where)
        print(f"{asked.prompts} prompts; milliseconds")
        print(f"{'writing the files':<44}{timed(lambda: fill(place, asked.prompts)):9.0f}")
        time.sleep(3)
        print(f"{'first find (the index is built)':<44}{timed(lambda: index.find(place, '7+7')):9.0f}")
        size = sum(path.stat().st_size for path in (place / ".index").iterdir())
        print(f"{'index, MB':<44}{size / 1e6:9.1f}")
        command = [sys.executable, "-m", "curator", "find", "7+7 eggs", "-c", where]
        runs = [
            timed(lambda: subprocess.run(command, cwd=HERE.parent.parent, capture_output=True, check=True))
            for _ in range(3)
        ]
        print(f"{'curator find, a process of its own':<44}{min(runs):9.0f}")
        print(f"{'':<44}{'median':>9}{'p95':>9}{'most':>9}")
        show("find, one reader", [timed(lambda w=w: index.find(place, w)) for w in TYPED * 5])  # type: ignore[misc]
        for pause in (0.15, 0.0):
            name = f"typing, {asked.readers} readers, {pause:.2f} s a letter"
            show(name, typing(place, asked.readers, asked.seconds, pause))
        show("board", [timed(lambda: index.board(place)) for _ in range(5)])
        show("near twins", [timed(lambda: folder.near_twins(place, "0123456789abcdef")) for _ in range(5)])
        show("twin of a photo", [timed(lambda: index.by_source(place, sha_of("77"))) for _ in range(5)])


if __name__ == "__main__":
    main()

"""Figures of what a person waits for: starts, a lesson of twelve pictures, a site."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from tests.bench.rows import Row, by_turns, grows, timed

ROOT = Path(__file__).parents[2]


def _run(*words: str) -> None:
    subprocess.run(
        [sys.executable, *words], cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False
    )


def starts() -> list[Row]:
    """Whole processes, against one that does nothing."""
    took = by_turns(
        {
            "python, nothing": lambda: _run("-c", ""),
            "--help": lambda: _run("-m", "curator", "--help"),
            "find 7+7": lambda: _run("-m", "curator", "find", "7+7", "-c", "catalog"),
            "first tag": lambda: _run("-m", "curator", "tag", "sample_images/kitchen-mugs.jpg"),
        },
        5,
    )
    nothing = took["python, nothing"].cpu
    return [
        Row(f"start: {name}", one.cpu, one.cpu / nothing, "python, nothing", "", one.clock)
        if name != "python, nothing"
        else Row(f"start: {name}", one.cpu, None, "", "", one.clock, own=False)
        for name, one in took.items()
    ]


def lesson() -> list[Row]:
    """A lesson of twelve pictures of 2560 px: drawn where no picture's outlines are kept yet, and again; each form."""
    from curator.classroom import lesson as lessons
    from tests.bench.lesson_bench import large_pictures

    with tempfile.TemporaryDirectory() as name:
        folder = large_pictures(Path(name) / "catalog")
        plan = lessons.plan(folder, seed=1)
        plan = replace(plan, steps=plan.steps[:12])
        made = lessons.lesson(folder, plan, room=lessons.Room())

        def drawn(*, first: bool, suffix: str = "") -> None:
            if first:
                shutil.rmtree(folder / ".index" / "outlines")
            lessons.lesson(folder, plan, room=lessons.Room(), layers=lessons.layered(suffix) if suffix else ())

        works: dict[str, Callable[[], object]] = {
            "12 pictures drawn for the first time": lambda: drawn(first=True),
            "12 pictures drawn, outlines kept": lambda: drawn(first=False),
            "the same for slides alone": lambda: drawn(first=False, suffix=".pptx"),
        }
        for suffix in (".pptx", ".html", ".pdf"):
            path = Path(name) / f"lesson{suffix}"
            works[f"written as {suffix}"] = lambda path=path: lessons.write(made, path)  # type: ignore[misc]
        took = by_turns(works, 2, warm=False)
        rows = [Row(f"lesson: {key}", one.cpu, None, "", "", one.clock) for key, one in took.items()]
        sums = {
            "slides for the first time": (rows[0], rows[3]), "slides, outlines kept": rows[2:4],
            "all three, outlines kept": (rows[1], *rows[3:]),
        }  # fmt: skip
        return rows + [
            Row(f"lesson: {key}", sum(r.ms for r in parts), None, "", "drawn and written", sum(r.clock for r in parts))
            for key, parts in sums.items()
        ]


def _outlined(place: Path) -> None:
    """What is done for each prompt when it is kept."""
    from curator import limited
    from curator.catalog.reading import every
    from curator.classroom.marking import kept

    kept.prepare(place, [prompt.slug for prompt in every(place)])
    limited._end_all()  # so that what the other processes did is counted


def _site(place: Path, output: Path) -> None:
    from curator.site.build import build
    from curator.site.prompt_files import Wish

    build(place, "", output, Wish())


def site(sizes: list[int]) -> list[Row]:
    """The pages of a catalog, made new and updated; what was done before, when its prompts were kept, apart."""
    from tests.bench.site_bench import fill

    rows, times = [], []
    for count in sizes:
        with tempfile.TemporaryDirectory() as name:
            place, output = Path(name) / "catalog", Path(name) / "site"
            place.mkdir()
            fill(ROOT / "catalog", place, count, 1600)
            works: dict[str, Callable[[], None]] = {
                "outlines, when they are kept,": lambda place=place: _outlined(place),  # type: ignore[misc]
                "site": lambda place=place, output=output: _site(place, output),  # type: ignore[misc]
                "site again, nothing changed,": lambda place=place, output=output: _site(place, output),  # type: ignore[misc]
            }
            for what, work in works.items():
                one = timed(work)
                told = f"{one.cpu / count:.0f} ms a prompt"
                rows.append(Row(f"{what} {count} prompts", one.cpu, None, "", told, one.clock))
                if what == "site":
                    times.append(one.cpu)
    if len(sizes) > 1:
        rows[-2] = rows[-2]._replace(beside=f"{rows[-2].beside}; {grows(sizes, times)}")
    return rows

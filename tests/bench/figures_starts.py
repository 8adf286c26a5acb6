"""Figures of what a person waits for: starts, a lesson of twelve pictures, a site."""

from __future__ import annotations

import subprocess
import sys
import tempfile
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
    """A lesson of twelve pictures of 2560 px, in each form."""
    from curator.classroom import lesson as lessons
    from tests.bench.lesson_bench import large_pictures

    with tempfile.TemporaryDirectory() as name:
        folder = large_pictures(Path(name) / "catalog")
        plan = lessons.plan(folder, seed=1)
        plan = replace(plan, steps=plan.steps[:12])
        made = lessons.lesson(folder, plan, room=lessons.Room())
        works = {"12 pictures drawn": lambda: lessons.lesson(folder, plan, room=lessons.Room())}
        for suffix in (".pptx", ".html", ".pdf"):
            path = Path(name) / f"lesson{suffix}"
            works[f"written as {suffix}"] = lambda path=path: lessons.write(made, path)  # type: ignore[misc]
        took = by_turns(works, 2, warm=False)
        rows = [Row(f"lesson: {key}", one.cpu, None, "", "", one.clock) for key, one in took.items()]
        both = [sum(row.ms for row in rows), sum(row.clock for row in rows)]
        return [*rows, Row("lesson: drawn and written in all three", both[0], None, "", "", both[1])]


def _site(place: Path, output: Path) -> None:
    from curator import limited
    from curator.site.build import build
    from curator.site.prompt_files import Wish

    build(place, "", output, Wish())
    limited._end_all()  # so that what the other processes did is counted


def site(sizes: list[int]) -> list[Row]:
    """The pages of a catalog, made new and updated."""
    from tests.bench.site_bench import fill

    rows, times = [], []
    for count in sizes:
        with tempfile.TemporaryDirectory() as name:
            place, output = Path(name) / "catalog", Path(name) / "site"
            place.mkdir()
            fill(ROOT / "catalog", place, count, 1600)
            for what in ("site", "site again, nothing changed,"):
                one = timed(lambda place=place, output=output: _site(place, output))  # type: ignore[misc]
                told = f"{one.cpu / count:.0f} ms a prompt"
                rows.append(Row(f"{what} {count} prompts", one.cpu, None, "", told, one.clock))
                if what == "site":
                    times.append(one.cpu)
    if len(sizes) > 1:
        rows[-2] = rows[-2]._replace(beside=f"{rows[-2].beside}; {grows(sizes, times)}")
    return rows

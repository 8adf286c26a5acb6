"""How long a lesson takes: 12 pictures of 2560 px to slides and page, memory, and a plan out of 10,000 prompts.

Run: python tests/bench/lesson_bench.py [number of prompts]
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

import drawn_catalog as drawn  # noqa: E402

from curator.catalog.yamls import to_yaml  # noqa: E402
from curator.classroom import lesson as lessons  # noqa: E402
from curator.errors import LessonError  # noqa: E402


def timed(name: str, work: Callable[[], object]) -> object:
    start = time.perf_counter()
    result = work()
    print(f"{name:34} {time.perf_counter() - start:6.2f} s")
    return result


def large_pictures(folder: Path) -> Path:
    """The drawn catalog with its pictures at 2560 px and the noise of a camera."""
    drawn.build(folder)
    noise = np.random.default_rng(1).integers(-12, 13, (1920, 2560, 3), dtype=np.int16)
    for path in folder.glob("*.jpg"):
        picture = cv2.resize(cv2.imread(str(path)), (2560, 1920), interpolation=cv2.INTER_CUBIC)
        cv2.imwrite(str(path), np.clip(picture + noise, 0, 255).astype(np.uint8))
    return folder


def twelve(folder: Path, out: Path) -> None:
    plan = lessons.plan(folder, seed=1)
    plan = replace(plan, steps=plan.steps[:12])
    for turn in ("cold", "warm"):
        start = time.perf_counter()
        made = timed(f"{turn}: 12 pictures drawn", lambda: lessons.lesson(folder, plan))
        assert isinstance(made, lessons.Lesson)
        for suffix in (".pptx", ".html", ".pdf"):
            path = out / f"lesson{suffix}"
            try:
                timed(f"{turn}: {suffix}", lambda made=made, path=path: lessons.write(made, path))  # type: ignore[misc]
            except LessonError as error:
                print(f"{turn}: {suffix}: {error.wrong}")
                continue
            print(f"{'':34} {path.stat().st_size / 1e6:6.1f} MB")
        print(f"{turn}: all {time.perf_counter() - start:.2f} s")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


def many(folder: Path, count: int) -> None:
    folder.mkdir()
    for i in range(count):
        n = i % 12 + 1
        one = drawn.prompt("x", drawn.two_rows(n) if i % 2 else drawn.two_blocks(n), "slide", "egg", "eggs")
        if i % 40 == 0:
            one = drawn.prompt("x", drawn.parts(4, 5 + i % 3), "none", "leaf", "leaves")
        slug = f"picture-{i}"
        text = to_yaml(replace(one, slug=slug, picture=f"{slug}.jpg", title=f"Picture {i}"))
        (folder / f"{slug}.yaml").write_text(text, encoding="utf-8")
    timed(f"{count} prompts: index and plan", lambda: lessons.plan(folder))
    for days in (1, 3):
        timed(f"{count} prompts: plan, {days} days", lambda days=days: lessons.plan(folder, days=days, seed=days))  # type: ignore[misc]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        twelve(large_pictures(Path(name) / "catalog"), Path(name))
        many(Path(name) / "many", int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)

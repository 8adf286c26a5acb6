"""How long a lesson takes: 12 pictures of 2560 px to slides, page and cards, memory, and a plan out of 10,000 prompts.

Run: python tests/bench/lesson_bench.py [number of prompts]; exit code 1 where a limit is passed. Limits are for two
idle
cores; where others work on the machine, processor time says more than the clock.
"""

from __future__ import annotations

import resource
import subprocess
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

from curator.catalog import face_gate  # noqa: E402
from curator.catalog.yamls import to_yaml  # noqa: E402
from curator.classroom import lesson as lessons  # noqa: E402

ALL_S, MEMORY_MB, PLAN_S = 6.0, 500, 1.0  # a lesson to three files, outlines kept; memory; a plan in a new process
_PLAN = """
import sys, time
from pathlib import Path
from curator.classroom import lesson
start = time.perf_counter()
lesson.plan(Path(sys.argv[1]))
print(time.perf_counter() - start)
"""


def timed(name: str, work: Callable[[], object]) -> object:
    start, used = time.perf_counter(), time.process_time()
    result = work()
    print(f"{name:34} {time.perf_counter() - start:6.2f} s  {time.process_time() - used:6.2f} s of processor")
    return result


def large_pictures(folder: Path) -> Path:
    """The drawn catalog with its pictures at 2560 px and the noise of a camera."""
    drawn.build(folder)
    noise = np.random.default_rng(1).integers(-12, 13, (1920, 2560, 3), dtype=np.int16)
    for path in folder.glob("*.jpg"):
        picture = cv2.resize(cv2.imread(str(path)), (2560, 1920), interpolation=cv2.INTER_CUBIC)
        cv2.imwrite(str(path), np.clip(picture + noise, 0, 255).astype(np.uint8))
        seen = face_gate.record([], path.read_bytes())  # as a prompt that was kept has it: no face is searched anew
        face_gate.note(folder, path.stem, seen)
    return folder


def twelve(folder: Path, out: Path) -> bool:
    """True where the second turn and the memory keep their limits."""
    plan = lessons.plan(folder, facts=range(1, 11), seed=1)
    plan = replace(plan, steps=plan.steps[:12])
    for turn in ("first", "outlines kept"):
        start = time.perf_counter()
        made = timed(f"{turn}: 12 pictures drawn", lambda: lessons.lesson(folder, plan, room=lessons.Room()))
        assert isinstance(made, lessons.Lesson)
        for suffix in (".pptx", ".html", ".pdf"):
            path = out / f"lesson{suffix}"
            timed(f"{turn}: {suffix}", lambda made=made, path=path: lessons.write(made, path))  # type: ignore[misc]
            print(f"{'':34} {path.stat().st_size / 1e6:6.1f} MB")
        whole = time.perf_counter() - start
        print(f"{turn}: all {whole:.2f} s")
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"limits: {ALL_S:g} s, {MEMORY_MB} MB; peak memory {memory:.0f} MB")
    return whole < ALL_S and memory < MEMORY_MB


def many(folder: Path, count: int) -> bool:
    """True where a process just started plans in time, the index being there."""
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
    times = []
    for _ in range(3):
        done = subprocess.run([sys.executable, "-c", _PLAN, str(folder)], capture_output=True, text=True, check=True)
        times.append(float(done.stdout))
    print(
        f"{count} prompts: a plan in a process just started {', '.join(f'{t:.2f}' for t in times)} s "
        f"(limit {PLAN_S:g} s)"
    )
    return min(times) < PLAN_S


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        kept = [twelve(large_pictures(Path(name) / "catalog"), Path(name))]
        kept.append(many(Path(name) / "many", int(sys.argv[1]) if len(sys.argv) > 1 else 10_000))
    sys.exit(0 if all(kept) else 1)

"""What ends every lesson: standards with the pictures that may claim them, credits and licences, notices."""

from __future__ import annotations

import re

from curator.classroom.scene import Lesson
from curator.classroom.text.questions import clean, label, section


def source_lines(lesson: Lesson) -> tuple[list[str], list[str], list[str]]:
    """Standards by their source, pictures (credit and licence of each) and notices, as lines."""
    by_source: dict[str, list[str]] = {}
    for standard, numbers in lesson.standards():
        claim = label(lesson.language, "claimed", which=ranges(numbers))
        asks = section(lesson.language, "standards")[standard.key]
        by_source.setdefault(standard.source, []).append(f"{standard.code}  {asks} ({claim})")
    standards = [line for source, lines in by_source.items() for line in (f"{source}:", *lines)]
    credited: dict[str, list[int]] = {}
    for scene in lesson.scenes:
        name = scene.prompt.title if scene.prompt else ""
        parts = (clean(name, 90), clean(scene.credit, 120), scene.license, scene.license_url)
        credited.setdefault(" · ".join(p for p in parts if p), []).append(scene.number)
    lines = [f"{line} ({label(lesson.language, 'claimed', which=ranges(n))})" for line, n in credited.items()]
    return standards, lines, lesson.notices()


def ranges(numbers: list[int]) -> str:
    """ "1-3, 5" of 1, 2, 3, 5."""
    runs: list[list[int]] = []
    for n in sorted(numbers):
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in runs)


def by_sentence(words: str) -> list[str]:
    """A question one sentence a line, as a class reads it."""
    return re.split(r"(?<=[.?!]) (?=[^ ])", words)

"""What ends every lesson: standards with the pictures that may claim them, credits and licences, notices."""

from __future__ import annotations

import re

from curator.classroom.scene import Lesson
from curator.classroom.text.questions import clean, label, section
from curator.classroom.text.titles import titled


def source_lines(lesson: Lesson) -> tuple[list[str], list[str], list[str]]:
    """Standards by their source, pictures (credit and licence of each) and notices, as lines."""
    by_source: dict[str, list[str]] = {}
    for standard, numbers in lesson.standards():
        claim = _which(lesson.language, numbers)
        asks = section(lesson.language, "standards")[standard.key]
        by_source.setdefault(standard.source, []).append(f"{standard.code}  {asks} ({claim})")
    standards = [line for source, lines in by_source.items() for line in (f"{source}:", *lines)]
    return standards, _credited(lesson), lesson.notices()


def _credited(lesson: Lesson) -> list[str]:
    """A line for each credit and licence, with the pictures under it and where they come."""
    found: dict[str, dict[str, list[int]]] = {}
    for scene in lesson.scenes:
        rights = " · ".join(p for p in (clean(scene.credit, 120), scene.license, scene.license_url) if p)
        name = clean(titled(lesson.language, scene.prompt), 90) if scene.prompt else ""
        found.setdefault(rights, {}).setdefault(name, []).append(scene.number)
    lines = []
    for rights, names in found.items():
        own = [f"{name} ({_which(lesson.language, n)})".strip() for name, n in names.items()]
        lines.append(f"{', '.join(own)} · {rights}")
    return lines


def _which(language: str, numbers: list[int]) -> str:
    """ "pictures 1-3, 5"; "picture 4"."""
    return label(language, "claimed" if len(set(numbers)) > 1 else "claimed_one", which=ranges(numbers))


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

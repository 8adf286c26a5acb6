"""A lesson as its pictures alone:

PNGs in a zip, with an index page and the credits; no name tells what a picture shows, hides or answers.
"""

from __future__ import annotations

import json
import zipfile
from collections.abc import Iterator
from html import escape
from pathlib import Path
from string import ascii_lowercase

from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.questions import label
from curator.classroom.writers.properties import now
from curator.classroom.writers.sources import source_lines

VIEWS = ("plain", "cover", "other_cover", "some", "other_some", "rings", "hidden", "pairs", "one_more")


def write(lesson: Lesson, path: Path) -> None:
    """Write the zip. The same lesson gives the same bytes on one day."""
    with zipfile.ZipFile(path, "w") as file:
        file.comment = lesson.title.encode()
        rows = []
        for scene in lesson.scenes:
            for name, alt, data in _pictures(scene):
                _put(file, name, _png(data), zipfile.ZIP_STORED)
                rows.append((name, alt))
        _put(file, "index.html", _index(lesson, rows).encode())
        _put(file, "credits.txt", _credits(lesson).encode())
        _put(file, "alt.json", json.dumps(dict(rows), ensure_ascii=False, indent=1).encode())


def _put(file: zipfile.ZipFile, name: str, data: bytes, way: int = zipfile.ZIP_DEFLATED) -> None:
    entry = zipfile.ZipInfo(name, (*now().timetuple()[:3], 0, 0, 0))
    entry.external_attr = 0o644 << 16
    entry.compress_type = way
    file.writestr(entry, data)


def _pictures(scene: Scene) -> Iterator[tuple[str, str, bytes]]:
    """Name, alt text and data of each of its pictures: "03-a.png", whatever it shows."""
    views = [view for view in VIEWS if scene.view(view)]
    for letter, view in zip(ascii_lowercase, views, strict=False):
        yield f"{scene.number:02d}-{letter}.png", scene.alt(view), scene.view(view)


def _png(data: bytes) -> bytes:
    import cv2
    import numpy as np

    pixels = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert pixels is not None
    ok, made = cv2.imencode(".png", pixels, [cv2.IMWRITE_PNG_COMPRESSION, 3])
    assert ok
    return bytes(made.tobytes())


def _index(lesson: Lesson, rows: list[tuple[str, str]]) -> str:
    """A page that shows them all, in order, and works without network."""
    figures = "\n".join(
        f'<figure><img src="{name}" alt="{escape(alt)}"><figcaption>{escape(name)}</figcaption></figure>'
        for name, alt in rows
    )
    said = "\n".join(f"<li>{escape(line)}</li>" for line in _lines(lesson))
    title = escape(lesson.title)
    return f"""<!doctype html>
<html lang="{lesson.language}"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>{title}</title>
<style>body {{ font-family: system-ui, sans-serif; margin: 1.5rem; color: #12161c }}
figure {{ display: inline-block; margin: .5rem; width: 20rem }}
img {{ width: 100% }}</style>
<main><h1>{title}</h1>
{figures}
<h2>{escape(label(lesson.language, "sources"))}</h2>
<ul>
{said}
</ul></main></html>
"""


def _lines(lesson: Lesson) -> list[str]:
    standards, credited, notices = source_lines(lesson)
    return [*credited, *standards, *notices]


def _credits(lesson: Lesson) -> str:
    return "\n".join(_lines(lesson)) + "\n"

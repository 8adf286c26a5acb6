"""The pictures of a lesson's scenes: made in two processes of their own, before they are asked for, and kept.

A scene's pictures are one zip in .inbox/screen, named by all that they are made of, so that a changed prompt gets new
ones. The class view, the downloads and the teacher's notes read the same file: each picture is made once.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import zipfile
from pathlib import Path
from typing import Any

from curator.catalog.reading import picture_path
from curator.classroom.flaps import Flap
from curator.classroom.lesson import LONGER
from curator.classroom.photo_checks import Note
from curator.classroom.plan import Step
from curator.classroom.views import Layer, Views
from curator.classroom.writers.page import VIEWS
from curator.errors import LessonError
from curator.records import Prompt
from curator.seeing import print_reader

VERSION = 4  # goes up when the same prompt gives other pictures
WHOLE = ("plain", *VIEWS)
TYPES = {b"\xff\xd8": "image/jpeg", b"\x89P": "image/png", b"<s": "image/svg+xml"}


def key(here: Path, step: Step, prompt: Prompt | None) -> str:
    """The name of a scene's file: 32 hex digits of all that its pictures are made of."""
    source = ""
    if prompt is not None:
        path = picture_path(here, prompt)
        source = f"{prompt.picture} {path.stat().st_mtime_ns if path.is_file() else 0}"
    made_of = (step.frame, step.stages, step.hide, step.side, prompt and _drawn(prompt))
    parts = (VERSION, LONGER, source, *made_of, print_reader.installed())  # it says more once that is installed
    return hashlib.sha256(repr(parts).encode()).hexdigest()[:32]


def _drawn(prompt: Prompt) -> tuple[Any, ...]:
    return (prompt.dots, prompt.line, prompt.fact, prompt.kind, prompt.area)


def file(here: Path, one: str) -> Path:
    """Where a scene's pictures lie, made or not."""
    return here / ".inbox" / "screen" / f"{one}.zip"


def write(path: Path, views: Views, notes: list[Note], frame: bytes = b"") -> None:
    """Views, what was measured and the fact's ten frame, as a zip of plain files."""
    said = [(n.name, n.value, n.limit, n.words) for n in notes]
    places = {name: layer.place for name, layer in views.overlays.items()}
    head = {"size": views.size, "places": places, "flaps": views.flaps, "unclean": views.unclean, "notes": said}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as out:
        out.writestr("scene.json", json.dumps(head))
        for name in WHOLE:
            if data := getattr(views, name):
                out.writestr(name, data)
        for name, layer in views.overlays.items():
            out.writestr(f"over-{name}", layer.data)
        if frame:
            out.writestr("frame", frame)


def read(path: Path) -> tuple[Views, list[Note]]:
    """The same back. LessonError where it is not there or damaged."""
    try:
        with zipfile.ZipFile(path) as found:
            told = json.loads(found.read("scene.json"))
            inside = set(found.namelist())
            whole: dict[str, Any] = {name: found.read(name) for name in WHOLE if name in inside}
            whole["flaps"] = {name: Flap(*one) for name, one in told["flaps"].items()}
            whole["unclean"] = tuple(told["unclean"])
            layers = {name: Layer(found.read(f"over-{name}"), tuple(place)) for name, place in told["places"].items()}
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        raise LessonError("Making the pictures.", "They are not made, or damaged.", "Reload the page.") from error
    notes = [Note(n, value, limit, tuple((a, b) for a, b in words)) for n, value, limit, words in told["notes"]]
    return Views((told["size"][0], told["size"][1]), **whole, overlays=layers), notes


def has(path: Path, name: str) -> bool:
    """Whether a scene has that picture."""
    with zipfile.ZipFile(path) as found:
        return name in found.namelist()


def part(path: Path, name: str) -> bytes:
    """One picture of a scene."""
    try:
        with zipfile.ZipFile(path) as found:
            return found.read(name)
    except (OSError, KeyError, zipfile.BadZipFile) as error:
        raise LessonError("Showing a picture.", "There is no such picture.", "Reload the page.", code="gone") from error


def make(here: str, step: Step, prompt: Prompt | None, output: str) -> None:
    """The worker's job: a scene's pictures and what was measured in it, into its file."""
    from curator.classroom import frames, pictures
    from curator.classroom.photo_checks import look_again
    from curator.classroom.views import frame_views, photo_views
    from curator.records import Fact

    path = Path(output)
    path.parent.mkdir(parents=True, exist_ok=True)
    drawn = b""
    if prompt is None:
        views, notes = frame_views(Fact(step.frame), step.stages, step.side, step.hide, LONGER), []
    else:
        stages = (*step.stages, "dots")
        read = pictures.whole(Path(here), prompt)
        (views,) = photo_views(Path(here), prompt, [(stages, step.side, step.hide)], LONGER, read=read)
        notes = look_again(Path(here), prompt, read=read.pixels)
        drawn = frames.svg(prompt.fact, total_shown=False)[0].encode() if prompt.fact else b""
    part = path.with_suffix(f".{secrets.token_hex(4)}.part")
    write(part, views, notes, drawn)
    part.replace(path)

"""A lesson as one self-contained page: it works from a memory stick, without network, by keyboard, clicker or touch.

Pictures are embedded; a content security policy lets nothing in from outside. What is covered or ringed is a
transparent layer over the one photo, so the file stays small.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Collection, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

from curator.classroom import frames
from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.language import text
from curator.classroom.text.questions import label
from curator.classroom.views import Views
from curator.classroom.writers.notes import notes
from curator.classroom.writers.page_steps import showings, steps_of, uri
from curator.classroom.writers.sources import by_sentence, source_lines
from curator.records import Prompt

VIEWS = ("rings", "cover", "other_cover", "some", "other_some", "hidden", "pairs", "one_more", "dots")
FILES = Path(__file__).parent / "page_files"
SAY = (
    "start",
    "next",
    "back",
    "look",
    "ready",
    "show_again",
    "keep_on",
    "cover",
    "other_side",
    "reveal",
    "dots",
    "dots_key",
    "close",
    "notes",
    "more",
    "full_screen",
    "print",
    "seconds",
    "keys",
    "teacher",
    "sources",
    "controls",
    "way",
    "no_script",
    "rings",
    "counters",
    "more_keys",
    "notes_window",
    "blocked",
    "wait_picture",
    "no_picture",
    "now",
    "then",
    "since",
    "step",
)
SCRIPTS = ("page-pictures.js", "page-words.js", "page.js", "page-teacher.js")


def html(lesson: Lesson, *, close: str = "", linked: Sequence[str] | None = None) -> str:
    """The whole page; `close` is the address of where it was opened from, for a link back.

    `linked`: for a server of ours, the address of each scene's pictures instead of the pictures themselves (JSON of
    the shape that `pictures` gives, made when asked for); style and scripts are then linked too.
    """
    from markupsafe import Markup

    language = lesson.language
    say = {key: text(language, f"label.{key}") for key in SAY}
    say["ready"] = "\n".join(by_sentence(say["ready"]))
    style, script = ("", "") if linked else (_style(bool(close)), "".join(map(_file, SCRIPTS)))
    body = json.dumps(_told(lesson, say, linked), ensure_ascii=False, separators=(",", ":"))
    return str(
        _template().render(
            language=language,
            title=lesson.title,
            say=say,
            close=close,
            dots=any(scene.views.has("dots") for scene in lesson.scenes),
            linked=linked is not None,
            style=Markup(style),
            script=Markup(script),
            scripts=SCRIPTS,
            style_hash=_hash(style),
            script_hash=_hash(script),
            lesson=Markup(body.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")),
            choices=_choices(language, lesson.plan.show_seconds),
            chosen="plan",
        )
    )


def _style(small: bool) -> str:
    """A small page goes without the typeface."""
    return ("" if small else face()) + _file("page.css")


def face() -> str:
    """The typeface as a style, whole: from a drive, some browsers fetch none."""
    data = base64.b64encode((FILES / "rubik.woff2").read_bytes()).decode("ascii")
    return f'@font-face {{ font-family: Rubik; src: url("data:font/woff2;base64,{data}"); font-weight: 400 700; }}\n'


@lru_cache(maxsize=1)
def _template() -> Any:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(loader=FileSystemLoader(FILES), autoescape=True, undefined=StrictUndefined).get_template(
        "page.html"
    )


def _file(name: str) -> str:
    return (FILES / name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _choices(language: str, chosen: float) -> list[tuple[str, str]]:
    """How long a picture can show: as planned (more things, longer), 1 to 5 seconds, the plan's own time, or on."""
    times = sorted({1.0, 2.0, 3.0, 4.0, 5.0} | ({chosen} if chosen else set()))
    return [
        ("plan", label(language, "as_planned")),
        *((f"{t:g}", label(language, "second", seconds=f"{t:g}")) for t in times),
        ("0", label(language, "stay_on")),
    ]


def _told(lesson: Lesson, say: dict[str, str], linked: Sequence[str] | None) -> dict[str, Any]:
    """All that the page's script needs."""
    standards, credited, notices = source_lines(lesson)
    language = lesson.language
    return {
        "say": say,
        "scenes": [_scene(s, language, linked[n] if linked else "") for n, s in enumerate(lesson.scenes)],
        "steps": steps_of(lesson, made=linked is None),
        "notes": [
            _note(lesson, one, stage)
            for scene in lesson.scenes
            for one in showings(scene, made=linked is None)
            for stage in one.stages
        ],
        "sources": [
            (label(language, "standards"), standards),
            (label(language, "notice"), notices),
            (label(language, "pictures"), credited),
        ],
    }


def _scene(scene: Scene, language: str, at: str) -> dict[str, Any]:
    used = {scene.answer_view(stage) for stage in scene.stages}
    keep = {*used, *(v for s in scene.stages for v in (scene.asking_view(s), scene.other_view(s))), "rings", "dots"}
    blank = {"at": at, "size": [4, 3], "plain": "", "unclean": [], "over": {}, "whole": {}}
    return {
        **(blank if at else pictures(scene.views, scene.prompt, keep)),
        "alt": {**scene.alts, "dots": text(language, "alt.dots"), "frame": text(language, "alt.before_twin")},
        "printed": [scene.asked[stage].question for stage in scene.stages if stage not in ("cover", "not_half")],
    }


def pictures(
    views: Views,
    prompt: Prompt | None,
    keep: Collection[str] = VIEWS,
    address: Callable[[str, bytes], str] | None = None,
) -> dict[str, Any]:
    """The pictures of a scene as the page's script takes them: layers over the one photo, and whole ones."""
    at = address or (lambda _, data: uri(data))
    whole = {name: getattr(views, name) for name in VIEWS if name in keep and views.has(name)}
    layers = {name: one for name, one in views.overlays.items() if name in whole}
    if prompt is not None and prompt.fact is not None:
        whole["frame"] = frames.svg(prompt.fact, total_shown=False)[0].encode()
    return {
        "size": views.size,
        "plain": at("plain", views.plain),
        "unclean": views.unclean,
        "over": {name: {"src": at(f"over-{name}", one.data), "place": one.place} for name, one in layers.items()},
        "whole": {name: at(name, view) for name, view in whole.items() if name not in layers},
    }


def _note(lesson: Lesson, scene: Scene, stage: str) -> dict[str, Any]:
    """What the teacher reads on demand: the moment's lines first."""
    found = notes(lesson, scene, stage)
    seen = [(text(lesson.language, "room.heading"), [("", line) for line in found.look_again])]
    return {
        "question": scene.asked[stage].question,
        "first": list(found.moment),
        "lists": [
            (label(lesson.language, "answers"), list(found.answers)),
            (label(lesson.language, "listen"), [("", heard) for heard in found.listen]),
            *(seen if found.look_again else []),
        ],
        "pairs": list(found.pairs),
    }


def write(lesson: Lesson, path: Path) -> None:
    """Write the page."""
    path.write_text(html(lesson), encoding="utf-8")

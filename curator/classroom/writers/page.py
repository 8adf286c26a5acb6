"""A lesson as one self-contained page: it works from a memory stick, without network, by keyboard, clicker or touch.

Pictures are embedded; a content security policy lets nothing in from outside. What is covered or ringed is a
transparent layer over the one photo, so the file stays small.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.language import text
from curator.classroom.text.questions import Questions, label, typeset
from curator.classroom.writers.slides import by_sentence, source_lines

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
)


def html(lesson: Lesson, *, close: str = "") -> str:
    """The whole page; `close` is the address of where it was opened from, for a link back."""
    from markupsafe import Markup

    language = lesson.language
    say = {key: label(language, key) for key in SAY}
    style, script = _file("page.css"), _file("page.js")
    body = json.dumps(_told(lesson, say), ensure_ascii=False, separators=(",", ":"))
    return str(
        _template().render(
            language=language,
            title=lesson.title,
            say=say,
            close=close,
            dots=any(scene.views.dots for scene in lesson.scenes),
            style=Markup(style),
            script=Markup(script),
            style_hash=_hash(style),
            script_hash=_hash(script),
            lesson=Markup(body.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")),
            choices=_choices(language, lesson.plan.show_seconds),
            chosen=f"{lesson.plan.show_seconds:g}",
        )
    )


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
    """How long a picture can show: 1 to 5 seconds, the plan's own time, or on."""
    times = sorted({1.0, 2.0, 3.0, 4.0, 5.0} | ({chosen} if chosen else set()))
    return [(f"{t:g}", label(language, "second", seconds=f"{t:g}")) for t in times] + [
        ("0", label(language, "stay_on"))
    ]


def _told(lesson: Lesson, say: dict[str, str]) -> dict[str, Any]:
    """All that the page's script needs."""
    notes = [_note(lesson, scene, scene.asked[stage]) for scene in lesson.scenes for stage in scene.stages]
    standards, credited, notices = source_lines(lesson)
    language = lesson.language
    sources = [
        (label(language, "standards"), standards),
        (label(language, "notice"), notices),
        (label(language, "pictures"), credited),
    ]
    return {
        "say": say,
        "scenes": [_scene(s, text(language, "alt.dots")) for s in lesson.scenes],
        "steps": _steps(lesson),
        "notes": notes,
        "sources": sources,
    }


def _scene(scene: Scene, dots: str) -> dict[str, Any]:
    views = {name: getattr(scene.views, name) for name in ("rings", "cover", "other_cover", "some", "dots")}
    layers = scene.views.overlays
    return {
        "size": scene.size,
        "plain": _uri(scene.picture),
        "over": {name: {"src": _uri(layer.data), "place": layer.place} for name, layer in layers.items()},
        "whole": {name: _uri(view) for name, view in views.items() if view and name not in layers},
        "alt": {
            "plain": scene.alt_before,
            "rings": scene.alt_rings,
            "cover": scene.alt_cover,
            "dots": dots,
            "after": scene.alt_after,
        },
        "printed": [scene.asked[stage].question for stage in scene.stages if stage not in ("cover", "not_half")],
    }


def _uri(data: bytes) -> str:
    kind = "png" if data.startswith(b"\x89PNG") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"


def _step(ask: str, **more: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {
        "scene": -1,
        "view": "plain",
        "alt": "plain",
        "timed": False,
        "small": "",
        "sums": [],
        "said": "",
        "note": -1,
        "last": False,
        "sources": False,
    }
    return {"ask": "\n".join(by_sentence(ask)), **empty, **more}


def _steps(lesson: Lesson) -> list[dict[str, Any]]:
    """Every screen in order."""
    language = lesson.language
    steps = [_step(lesson.title, small=label(language, "subtitle"))]
    day = note = 0
    for number, scene in enumerate(lesson.scenes):
        if scene.day != day and lesson.plan.days > 1:
            steps.append(_step(label(language, "day", day=str(scene.day))))
        day = scene.day
        steps += _scene_steps(number, scene, note)
        note += len(scene.stages)
    return [*steps, _step(label(language, "sources"), sources=True)]


def _scene_steps(number: int, scene: Scene, note: int) -> list[dict[str, Any]]:
    """Each stage asks; the first reveal is the rings; equations with their blank, then solved, come last."""
    steps: list[dict[str, Any]] = []
    for offset, stage in enumerate(scene.stages):
        asked, here = scene.asked[stage], {"scene": number, "note": note + offset}
        if stage in ("cover", "not_half"):
            steps.append(_step(asked.question, view="cover" if stage == "cover" else "some", alt="cover", **here))
            continue
        first = not steps
        steps.append(_step(asked.question, timed=first, **here))
        if first and scene.rings:
            steps.append(_step(asked.follow_up, view="rings", alt="rings", small=asked.frame, **here))
    asked_all = [scene.asked[stage] for stage in scene.stages]
    last = {"scene": number, "note": note + len(scene.stages) - 1, "view": "rings" if scene.rings else "plain"}
    blanks = [typeset(a.equation) for a in asked_all if a.equation]
    if blanks:
        steps.append(_step("", alt="rings", sums=list(dict.fromkeys(blanks)), small=asked_all[-1].frame, **last))
    solved = list(dict.fromkeys(typeset(a.solved) for a in asked_all if a.solved))
    said = " ".join(dict.fromkeys(a.reveal for a in asked_all))
    steps.append(_step("", alt="after", sums=solved, said=said, **{**last, "last": True}))
    return steps


def _note(lesson: Lesson, scene: Scene, asked: Questions) -> dict[str, Any]:
    """What the teacher reads on demand."""

    def say(key: str, **strings: str) -> str:
        return label(lesson.language, key, **strings)

    equations = " · ".join(typeset(e) for e in (asked.equation, *asked.more) if e)
    return {
        "question": asked.question,
        "first": [say("wait", seconds=f"{asked.wait_s:g}")],
        "lists": [
            (say("answers"), [(a.says, a.shows) for a in asked.answers]),
            (say("listen"), [("", heard) for heard in asked.listen]),
            *(
                [(text(lesson.language, "room.heading"), [("", seen) for seen in scene.look_again])]
                if scene.look_again
                else []
            ),
        ],
        "pairs": [
            (say("follow_up"), asked.follow_up),
            (say("frame"), asked.frame),
            *([(say("equation"), f"{equations} ({typeset(asked.solved)})")] if equations else []),
        ],
    }


def write(lesson: Lesson, path: Path) -> None:
    """Write the page."""
    path.write_text(html(lesson), encoding="utf-8")

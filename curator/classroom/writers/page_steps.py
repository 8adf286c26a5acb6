"""The screens of a lesson's page, in order: each stage of each picture asks, then answers."""

from __future__ import annotations

import base64
from dataclasses import replace
from functools import lru_cache
from io import BytesIO
from typing import Any

from curator.classroom.scene import COVERS, Lesson, Scene
from curator.classroom.text.language import fill, text
from curator.classroom.text.questions import label, typeset
from curator.classroom.writers.notes import timed
from curator.classroom.writers.sources import by_sentence


def uri(data: bytes) -> str:
    kind = "png" if data.startswith(b"\x89PNG") else "svg+xml" if data.startswith(b"<svg") else "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(data).decode('ascii')}"


def _step(ask: str, **more: Any) -> dict[str, Any]:
    empty: dict[str, Any] = {
        "scene": -1,
        "view": "plain",
        "alt": "plain",
        "timed": False,
        "seconds": 0,
        "cover": False,  # whether it asks about a cover; `other` is the view with the cover on the other side
        "other": "",
        "needs": "",  # the cover without which the step is left out
        "instead": [],  # of covers: it comes only where none of them can be laid
        "small": "",
        "sums": [],
        "said": "",
        "family": [],
        "story": "",
        "bond": "",
        "frame": "",
        "note": -1,
        "answer": False,  # the answer of one stage
        "last": False,  # the last answer of the picture
        "sources": False,
    }
    return {"ask": "\n".join(by_sentence(ask)), **empty, **more}


def showings(scene: Scene, *, made: bool) -> list[Scene]:
    """The scene as it is shown; and as it is seen once more, for one whose pictures are not made yet: all of its covers
    may prove unclean (`make_scene` does the same where that is known).
    """
    if made or not set(scene.stages) <= set(COVERS):
        return [scene]
    return [scene, replace(scene, stages=("see",), hide=0)]


def steps_of(lesson: Lesson, *, made: bool = True) -> list[dict[str, Any]]:
    """Every screen in order; `made`: the pictures are there, and with them what cannot be covered."""
    language = lesson.language
    steps = [_step(lesson.title, small=label(language, "subtitle"))]
    day = note = 0
    for number, scene in enumerate(lesson.scenes):
        if scene.day != day and lesson.plan.days > 1:
            steps.append(_step(label(language, "day", day=str(scene.day))))
        day = scene.day
        for one in showings(scene, made=made):
            instead = [] if one is scene else [COVERS[stage] for stage in scene.stages]
            steps += _scene_steps(language, number, one, note, instead)
            note += len(one.stages)
    return [*steps, _step(label(language, "sources"), sources=True)]


def _scene_steps(language: str, number: int, scene: Scene, note: int, instead: list[str]) -> list[dict[str, Any]]:
    """Each stage asks, then answers; nothing is ringed before its answer."""
    steps: list[dict[str, Any]] = []
    for offset, stage in enumerate(scene.stages):
        asked, view = scene.asked[stage], scene.asking_view(stage)
        covered = stage in COVERS
        here = {"scene": number, "note": note + offset, "needs": view if covered else "", "instead": instead}
        alt = "cover" if covered else view
        if covered:
            other = scene.other_view(stage)
            steps.append(_step(asked.question, view=view, alt=alt, cover=True, other=other, **here))
        else:
            quick = timed(scene, stage)
            steps.append(_step(asked.question, view=view, alt=alt, timed=quick, seconds=scene.seconds, **here))
            then = asked.partners or (asked.follow_up if stage == "see" else "")
            if then:
                steps.append(_step(then, view=view, alt=alt, small=asked.frame, **here))
        last = offset == len(scene.stages) - 1
        steps.append(_answer(language, scene, stage, {**here, "last": last}))
        if not offset and scene.why[0]:
            steps.append(_step(scene.why[0], view=scene.answer_view(stage), alt="after", **here))
            steps[-2]["last"], steps[-1]["last"] = False, last
    return steps


def _answer(language: str, scene: Scene, stage: str, here: dict[str, Any]) -> dict[str, Any]:
    """The answer: the equation, the ten frame, the number bond, the other ways to write it."""
    from curator.classroom.frames import bond_of

    asked, counters = scene.asked[stage], scene.counters(stage)
    ways = {}
    if counters:
        one, other, rows, hollow = counters
        svg = bond_of(str(one + other), str(one), str(other), size=400)[0]
        ways = {
            "bond": f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode('ascii')}",
            "frame": _frame(*rows, hollow),
        }
        for name in ("bond", "frame"):
            said = text(language, f"alt.{name}")
            ways[f"{name}_alt"] = fill(language, said, {}, scene.noun, equation=typeset(asked.solved))
    return _step(
        "",
        view=scene.answer_view(stage),
        alt="not_half_after" if stage == "not_half" else "after",
        sums=[typeset(asked.solved)] if asked.solved else [],
        said=asked.reveal,
        answer=True,
        family=[typeset(e) for e in asked.family],
        story=asked.story,
        **ways,
        **here,
    )


@lru_cache(maxsize=64)
def _frame(one: int, other: int, hollow: int) -> str:
    """The ten frame of an answer, drawn once: a PNG of few colours, a fifth of one with all."""
    from PIL import Image

    from curator.classroom.frames import counters

    out = BytesIO()
    Image.fromarray(counters(one, other, hollow, longer=600)).quantize(16).save(out, "PNG", optimize=True)
    return uri(out.getvalue())

"""What a teacher reads beside a picture: three lines for the moment, the rest below."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.language import Noun, fill, text
from curator.classroom.text.questions import Questions, label, typeset


class Notes(NamedTuple):
    """The notes of one stage of one picture."""

    moment: tuple[str, ...]  # at most three lines
    answers: tuple[tuple[str, str], ...]  # what a child may say, and what it shows
    listen: tuple[str, ...]
    look_again: tuple[str, ...]
    pairs: tuple[tuple[str, str], ...]  # heading and line


def timed(scene: Scene, stage: str) -> bool:
    """Whether the picture leaves by itself at this stage: at its first, where nothing is covered."""
    return stage == scene.stages[0] and stage in ("see", "is_it", "near") and scene.seconds > 0


def notes(lesson: Lesson, scene: Scene, stage: str) -> Notes:
    """All a teacher may want to read at that stage."""
    asked = scene.asked[stage]
    first = stage == scene.stages[0]
    return Notes(
        tuple(_moment(lesson.language, scene, stage, asked)),
        tuple((a.says, a.shows) for a in asked.answers),
        asked.listen,
        scene.look_again if first else (),
        tuple(_pairs(lesson, scene, stage, asked)),
    )


def _moment(language: str, scene: Scene, stage: str, asked: Questions) -> Iterator[str]:
    def say(key: str, **strings: str) -> str:
        return fill(language, text(language, f"note.{key}"), {}, Noun("", "", ""), **strings)

    wait = f"{asked.wait_s:g}"
    if timed(scene, stage):
        yield say("flash", seconds=f"{scene.seconds:g}", wait=wait)
    else:
        yield say("stay", wait=wait)
    yield say("right", says=asked.answers[0].says)
    if asked.family_note:
        yield asked.family_note
    elif asked.listen:
        yield f"{label(language, 'listen')}: {asked.listen[0]}"


def _pairs(lesson: Lesson, scene: Scene, stage: str, asked: Questions) -> Iterator[tuple[str, str]]:
    def say(key: str) -> str:
        return label(lesson.language, key)

    yield say("follow_up"), asked.follow_up
    yield say("frame"), asked.frame
    written = [typeset(e) for e in (asked.equation, *asked.more) if e]
    if written:
        yield say("equation"), f"{'  ·  '.join(written)}  ({typeset(asked.solved)})"
    if asked.family:
        yield say("family"), "  ·  ".join(map(typeset, asked.family))
    if asked.story:
        yield say("story"), asked.story
    if scene.why[0] and stage == scene.stages[0]:
        yield say("why"), f"{scene.why[0]} {scene.why[1]}"


def as_text(lesson: Lesson, scene: Scene, stage: str) -> str:
    """The notes of a slide."""
    language, found = lesson.language, notes(lesson, scene, stage)
    rest = [label(language, "answers"), *(f"•  {says}  {shows}" for says, shows in found.answers), ""]
    rest += [label(language, "listen"), *(f"•  {heard}" for heard in found.listen), ""]
    if found.look_again:
        rest += [text(language, "room.heading"), *(f"•  {seen}" for seen in found.look_again), ""]
    rest += [f"{heading}: {line}" for heading, line in found.pairs]
    return "\n".join([*found.moment, "", f"— {text(language, 'note.rest')} —", *rest])

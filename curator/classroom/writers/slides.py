"""A lesson as real slides. A picture leaves by itself after its seconds, then comes the question; a cover is a shape of
its own that a click takes away; the answer stands on a slide of its own: picture, ten frame, number bond, equation.

Speaker notes hold three lines for the moment and the rest below. The answer is never on a slide that asks, nor in its
title, its alt text or the name of a shape.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, NamedTuple

from curator.classroom.scene import Counters, Lesson, Scene
from curator.classroom.text.language import Noun, fill, text
from curator.classroom.text.questions import label, typeset
from curator.classroom.writers import properties, slide_file, slide_motion
from curator.classroom.writers.notes import as_text, timed
from curator.classroom.writers.slide_parts import (
    HEIGHT,
    MARGIN,
    SOFT,
    WIDTH,
    Place,
    arrange,
    blank,
    bond,
    fit,
    picture,
    title,
    within,
    words,
)
from curator.classroom.writers.sources import source_lines

WHOLE = Place(0.9, 0.8, WIDTH - 1.8, HEIGHT - 1.6)
WIDE = 4.6  # inches: room for titles of 40 points; below it all panels keep to 28
FLAT = 2.2  # width over height from which a picture lies above all that belongs to its answer


class Answer(NamedTuple):
    """Where the parts of an answer lie."""

    picture: Place
    said: Place
    story: Place
    head: Place  # the equation
    frame: Place
    bond: Place
    family: Place


COLUMN = Place(8.6, MARGIN, WIDTH - 8.6 - MARGIN, 0)
ANSWER = Answer(
    picture=Place(MARGIN, MARGIN, 8.0, 5.25),
    said=Place(MARGIN, 5.65, 8.0, 0.95),
    story=Place(MARGIN, 6.62, 8.0, 0.7),
    head=COLUMN._replace(height=1.1),
    frame=COLUMN._replace(top=1.4, height=2.2),
    bond=COLUMN._replace(top=3.75, height=1.65),
    family=COLUMN._replace(top=5.5, height=HEIGHT - 5.5 - MARGIN),
)
WIDE_ANSWER = Answer(
    picture=Place(MARGIN, MARGIN, WIDTH - 2 * MARGIN, 3.4),
    said=Place(MARGIN, 4.65, 5.3, 1.45),
    story=Place(MARGIN, 6.2, 5.3, 1.1),
    head=Place(MARGIN, 3.8, 5.3, 0.85),
    frame=Place(5.9, 4.0, 3.9, 3.2),
    bond=Place(9.9, 3.95, WIDTH - 9.9 - MARGIN, 1.65),
    family=Place(10.1, 5.75, WIDTH - 10.1 - MARGIN, HEIGHT - 5.75 - MARGIN),
)


def write(lesson: Lesson, path: Path) -> None:
    """Write the slides of a lesson as PPTX."""
    from pptx.util import Inches

    deck = slide_file.new()
    deck.slide_width, deck.slide_height = Inches(WIDTH), Inches(HEIGHT)
    properties.of_slides(deck, lesson.title, lesson.language)
    _opening(deck, lesson)
    day = 0
    for scene in lesson.scenes:
        if scene.day != day and lesson.plan.days > 1:
            title(blank(deck), label(lesson.language, "day", day=str(scene.day)), WHOLE, 72)
        day = scene.day
        for stage in scene.stages:
            _stage(deck, lesson, scene, stage)
    _sources(deck, lesson)
    deck.save(str(path))


def _stage(deck: Any, lesson: Lesson, scene: Scene, stage: str) -> None:
    """A stage asks, on as many slides as it takes, and then answers."""
    if stage in ("cover", "not_half"):
        _covers(deck, lesson, scene, stage)
    else:
        if timed(scene, stage):
            _quick_look(deck, lesson, scene, stage)
        _ask(deck, lesson, scene, stage)
    _answer(deck, lesson, scene, stage)


def _quick_look(deck: Any, lesson: Lesson, scene: Scene, stage: str) -> None:
    """Ready; the picture as large as it goes, which leaves by itself; the question on an empty slide."""
    notes = as_text(lesson, scene, stage)
    title(blank(deck, notes), label(lesson.language, "ready"), WHOLE, 72)
    slide = blank(deck, notes)
    photo = within(scene.size, Place(0, 0, WIDTH, HEIGHT))
    beside = WIDTH - photo.width > HEIGHT - photo.height
    if not beside or WIDTH - photo.width < 1.4:
        photo = within(scene.size, Place(0, 0, WIDTH, HEIGHT - 0.5))
        name = Place(MARGIN, HEIGHT - 0.45, WIDTH - 2 * MARGIN, 0.4)
    else:
        photo = photo._replace(left=0)
        name = Place(photo.width + 0.2, HEIGHT - 0.7, WIDTH - photo.width - 0.3, 0.4)
    picture(slide, scene.picture, scene.alt_before, photo)
    title(slide, label(lesson.language, "look"), name, 20, SOFT)
    slide_motion.leaves_after(slide, scene.seconds)
    title(blank(deck, notes), scene.asked[stage].question, WHOLE, 54)


def _ask(deck: Any, lesson: Lesson, scene: Scene, stage: str) -> None:
    """The picture with its question, what to ask next and the sentence to finish; nothing is ringed yet."""
    asked, view = scene.asked[stage], scene.asking_view(stage)
    slide = blank(deck, as_text(lesson, scene, stage))
    photo, beside = arrange(scene.size_of(view))
    picture(slide, scene.view(view), scene.alt(view), photo)
    _beside(
        slide,
        asked.question,
        [asked.partners or asked.follow_up, asked.frame] if stage != "near" else [asked.frame],
        beside,
    )


def _beside(slide: Any, question: str, below: list[str], place: Place) -> None:
    """A question and, smaller, what belongs to it: below it, or beside it in a strip."""
    if place.width > 2 * place.height:
        part = 0.6 * place.width
        upper, lower = (
            place._replace(width=part - MARGIN),
            place._replace(left=place.left + part, width=place.width - part),
        )
    else:
        upper = place._replace(height=place.height * 0.55)
        lower = place._replace(top=place.top + place.height * 0.58, height=place.height * 0.42)
    asked = title(slide, question, upper, 40 if upper.width > WIDE else 28)
    words(slide, below, lower, 28 if asked > 28 else 20, SOFT, top=lower.top > upper.top, apart=True)


def _covers(deck: Any, lesson: Lesson, scene: Scene, stage: str) -> None:
    """The cover on one side, then on the other; a click takes it away."""
    asked = scene.asked[stage]
    for view, question, below in (
        (scene.asking_view(stage), asked.question, asked.frame),
        (scene.other_view(stage), asked.other_side, asked.frame),
    ):
        if not view:
            continue
        slide = blank(deck, as_text(lesson, scene, stage))
        photo, beside = arrange(scene.size)
        picture(slide, scene.picture, scene.alt_before, photo)
        cover = _lay_over(slide, scene, view, photo)
        _beside(slide, question, [below], beside)
        slide_motion.click_takes_away(slide, cover)


def _lay_over(slide: Any, scene: Scene, view: str, photo: Place) -> Any:
    """What a view adds to the picture, as a shape of its own over it."""
    layer = scene.views.overlays.get(view)
    if layer is None:
        return picture(slide, scene.view(view), scene.alt(view), photo, "cover")
    left, top, wide, high = layer.place
    place = Place(
        photo.left + left * photo.width, photo.top + top * photo.height, wide * photo.width, high * photo.height
    )
    return picture(slide, layer.data, scene.alt(view), place, "cover")


# ---- the answer


def _answer(deck: Any, lesson: Lesson, scene: Scene, stage: str) -> None:
    """Picture, ten frame, number bond and equation side by side; below them what is said, and a story."""
    asked, language = scene.asked[stage], lesson.language
    first = stage == scene.stages[0]
    notes = [asked.reveal, asked.family_note]
    if stage != "see" or scene.kind != "flip":  # the rings tell where it folds
        notes.append(f"{label(language, 'follow_up')}: {asked.follow_up}")
    slide = blank(deck, "\n".join(line for line in notes if line))
    view = scene.answer_view(stage)
    size = scene.size_of(view)
    lie = WIDE_ANSWER if size[0] > FLAT * size[1] else ANSWER
    picture(slide, scene.view(view), scene.alt_answer(stage), within(size, lie.picture))
    words(slide, [asked.reveal], lie.said, 28, top=True)
    if asked.story:
        words(slide, [asked.story], lie.story, 20, SOFT, top=True)
    counters = scene.counters(stage)
    title(slide, typeset(asked.solved) or asked.reveal, lie.head, 54 if asked.solved else 28)
    if counters:
        _two_ways(slide, language, scene, counters, asked.solved, lie)
    if asked.family:
        words(slide, map(typeset, asked.family), lie.family, 28)
    if first and scene.why[0]:
        _why(deck, scene)


def _two_ways(slide: Any, language: str, scene: Scene, counters: Counters, equation: str, lie: Answer) -> None:
    """The ten frame and the number bond of an answer."""
    from curator.classroom.frames import counters as drawn
    from curator.classroom.pictures import png

    def alt(key: str) -> str:
        return fill(language, text(language, f"alt.{key}"), {}, Noun("", "", ""), equation=equation)

    one, other, rows, hollow = counters
    frame = png("frame", drawn(*rows, hollow))
    place = within((frame.width, frame.height), lie.frame)
    picture(slide, frame.data, alt("frame"), place, "ten frame")
    bond(slide, str(one + other), (str(one), str(other)), alt("bond"), lie.bond)


def _why(deck: Any, scene: Scene) -> None:
    """Once a day: why this number suits."""
    question, hear = scene.why
    slide = blank(deck, hear)
    photo, beside = arrange(scene.size)
    picture(slide, scene.rings, scene.alt_after, photo)
    title(slide, question, beside, 40 if beside.width > WIDE else 28)


# ---- the opening, the sources


def _opening(deck: Any, lesson: Lesson) -> None:
    slide = blank(deck, "\n".join(lesson.remarks))
    title(slide, lesson.title, Place(0.9, 2.2, 11.5, 1.6), 72)
    words(slide, [label(lesson.language, "subtitle")], Place(0.9, 3.9, 11.5, 1.0), 28, SOFT)


def _sources(deck: Any, lesson: Lesson) -> None:
    """The last slide, and as many more as the lines need to stay readable."""
    standards, credited, notices = source_lines(lesson)
    lines = [*standards, *notices, *credited]
    heading = label(lesson.language, "sources")
    place = Place(0.6, 1.2, WIDTH - 1.2, HEIGHT - 1.7)
    while lines:
        count = len(lines)
        while count > 1 and fit("\n".join(lines[:count]), place, 20) < 20:
            count -= 1
        slide = blank(deck)
        title(slide, heading, Place(0.6, 0.25, WIDTH - 1.2, 0.9), 28)
        words(slide, lines[:count], place, 20, top=True)
        lines = lines[count:]

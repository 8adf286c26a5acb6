"""A lesson as real slides: the picture and its question, then the rings, then the cover, the equation last.

Speaker notes hold the answers and what to listen for. The answer is never on the slide that asks, nor in its title,
its alt text or the name of a shape.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.questions import Questions, clean, label, text, typeset

WIDTH, HEIGHT = 13.333, 7.5  # inches, 16:9
PANEL, STRIP, MARGIN = 3.6, 1.45, 0.3
INK, PAPER, SOFT = "12161C", "FFFFFF", "C9D3DF"  # PAPER on INK 18:1, SOFT on INK 12:1


class Place(NamedTuple):
    """A rectangle on a slide, in inches."""

    left: float
    top: float
    width: float
    height: float


def write(lesson: Lesson, path: Path) -> None:
    """Write the slides of a lesson as PPTX."""
    from pptx import Presentation
    from pptx.util import Inches

    deck = Presentation()
    deck.slide_width, deck.slide_height = Inches(WIDTH), Inches(HEIGHT)
    deck.core_properties.title = lesson.title
    deck.core_properties.author = ""
    deck.core_properties.language = lesson.language
    _opening(deck, lesson)
    day = 0
    for scene in lesson.scenes:
        if scene.day != day and lesson.plan.days > 1:
            _divider(deck, lesson, scene.day)
        day = scene.day
        _scene(deck, lesson, scene)
    _sources(deck, lesson)
    deck.save(str(path))


def _scene(deck: Any, lesson: Lesson, scene: Scene) -> None:
    """Every stage asks on its picture; the first reveal is the rings; the equations come last."""
    ringed = False
    for stage in scene.stages:
        asked = scene.asked[stage]
        alt_text = scene.alt_cover if stage in ("cover", "not_half") else scene.alt_before
        notes = _notes(lesson, scene, asked)
        _picture_slide(deck, scene, scene.covered(stage), alt_text, asked.question, notes)
        if not ringed and stage in ("see", "is_it", "near") and scene.rings:
            told = f"{asked.reveal}\n{label(lesson.language, 'follow_up')}: {asked.follow_up}"
            _picture_slide(deck, scene, scene.rings, scene.alt_rings, asked.follow_up, told, asked.frame)
            ringed = True
    _equation_slide(deck, lesson, scene)


def _notes(lesson: Lesson, scene: Scene, asked: Questions) -> str:
    """What the teacher reads: times, answers, what to listen for, what to ask and write next."""

    def say(key: str, **strings: str) -> str:
        return label(lesson.language, key, **strings)

    timed = asked.stage in ("see", "near", "is_it") and asked.show_s
    lines = [
        say("show", seconds=f"{asked.show_s:g}") if timed else say("stay"),
        say("wait", seconds=f"{asked.wait_s:g}"),
        "",
    ]
    lines += [say("answers"), *(f"•  {a.says}  {a.shows}" for a in asked.answers), ""]
    lines += [say("listen"), *(f"•  {heard}" for heard in asked.listen), ""]
    if scene.look_again and asked.stage == scene.stages[0]:
        lines += [text(lesson.language, "room.heading"), *(f"•  {seen}" for seen in scene.look_again), ""]
    lines += [f"{say('follow_up')}: {asked.follow_up}", f"{say('frame')}: {asked.frame}"]
    if asked.equation:
        written = "    ".join(typeset(e) for e in (asked.equation, *asked.more))
        lines += [f"{say('equation')}: {written}    ({typeset(asked.solved)})"]
    return "\n".join([*lines, asked.reveal])


# ---- one slide


def _blank(deck: Any, notes: str = "") -> Any:
    """A dark slide with only a title."""
    from pptx.dml.color import RGBColor

    slide = deck.slides.add_slide(deck.slide_layouts[5])
    slide.background.fill.solid()
    slide.background.fill.fore_color.rgb = RGBColor.from_string(INK)
    if notes:
        slide.notes_slide.notes_text_frame.text = notes
    return slide


def _picture_slide(
    deck: Any, scene: Scene, picture: bytes, alt_text: str, title: str, notes: str, below: str = ""
) -> None:
    slide = _blank(deck, notes)
    photo, words = _arrange(scene.size)
    _picture(slide, picture, alt_text, photo)
    if below:
        upper, lower = _halves(words)
        _title(slide, title, upper)
        _words(slide, [below], lower, 26, SOFT)
    else:
        _title(slide, title, words)


def _arrange(size: tuple[int, int]) -> tuple[Place, Place]:
    """Where picture and words go so that the picture is largest: words beside it, or in a strip below it."""
    ratio = size[0] / size[1]
    beside = min((WIDTH - PANEL) / ratio, HEIGHT)
    below = min(WIDTH / ratio, HEIGHT - STRIP)
    if beside >= below:
        width = beside * ratio
        top = (HEIGHT - beside) / 2
        return Place(0, top, width, beside), Place(
            width + MARGIN, MARGIN, WIDTH - width - 2 * MARGIN, HEIGHT - 2 * MARGIN
        )
    width = below * ratio
    strip = Place(MARGIN, below + 0.1, WIDTH - 2 * MARGIN, HEIGHT - below - 0.2)
    return Place((WIDTH - width) / 2, 0, width, below), strip


def _halves(place: Place) -> tuple[Place, Place]:
    if place.width > place.height * 2:
        half = place.width / 2
        return place._replace(width=half - MARGIN), place._replace(left=place.left + half, width=half)
    half = place.height / 2
    return place._replace(height=half), place._replace(top=place.top + half, height=half)


def _picture(slide: Any, data: bytes, alt_text: str, place: Place) -> None:
    from pptx.util import Inches

    shape = slide.shapes.add_picture(BytesIO(data), *(Inches(v) for v in place))
    shape.name = "picture"
    properties = shape._element.nvPicPr.cNvPr
    properties.set("descr", alt_text)


def _title(slide: Any, words: str, place: Place, largest: int = 36, color: str = PAPER) -> None:
    from pptx.enum.text import MSO_ANCHOR
    from pptx.util import Inches

    shape = slide.shapes.title
    shape.name = "question"
    shape.left, shape.top, shape.width, shape.height = (Inches(v) for v in place)
    frame = shape.text_frame
    frame.word_wrap, frame.vertical_anchor = True, MSO_ANCHOR.MIDDLE
    lines = "\v".join(by_sentence(words))
    _paragraph(frame.paragraphs[0], lines, fit(lines, place, largest), color, bold=True)


def _words(
    slide: Any, lines: Iterable[str], place: Place, largest: int, color: str, *, smallest: int = 12, top: bool = False
) -> None:
    from pptx.enum.text import MSO_ANCHOR
    from pptx.util import Inches

    lines = list(lines)
    box = slide.shapes.add_textbox(*(Inches(v) for v in place))
    box.name = "words"
    frame = box.text_frame
    frame.word_wrap, frame.vertical_anchor = True, MSO_ANCHOR.TOP if top else MSO_ANCHOR.MIDDLE
    size = fit("\n".join(lines), place, largest, smallest)
    for n, line in enumerate(lines):
        paragraph = frame.paragraphs[0] if n == 0 else frame.add_paragraph()
        _paragraph(paragraph, line, size, color)


def _paragraph(paragraph: Any, words: str, points: int, color: str, *, bold: bool = False) -> None:
    from pptx.dml.color import RGBColor
    from pptx.enum.text import PP_ALIGN
    from pptx.util import Pt

    paragraph.alignment = PP_ALIGN.LEFT
    for n, line in enumerate(words.split("\v")):
        if n:
            paragraph.add_line_break()
        run = paragraph.add_run()
        run.text = line
        run.font.size, run.font.bold, run.font.name = Pt(points), bold, "Arial"
        run.font.color.rgb = RGBColor.from_string(color)


def fit(words: str, place: Place, largest: int, smallest: int = 14) -> int:
    """The largest type in points at which the words fit the place (a letter of Arial is about 0.55 of that wide)."""
    for points in range(largest, smallest, -1):
        per_line = max(1, int((place.width - 0.2) * 72 / (0.55 * points)))
        longest = max((len(word) for word in words.split()), default=1)
        lines = sum(-(-max(1, len(line)) * 115 // (100 * per_line)) for line in words.splitlines())
        if longest <= per_line and lines * points * 1.22 <= (place.height - 0.1) * 72:
            return points
    return smallest


# ---- the equation, the opening, the sources


def _equation_slide(deck: Any, lesson: Lesson, scene: Scene) -> None:
    """The ringed picture small beside every equation that is now known, and the sentence that says it."""
    asked = [scene.asked[stage] for stage in scene.stages]
    solved = list(dict.fromkeys(typeset(a.solved) for a in asked if a.solved))
    said = list(dict.fromkeys(a.reveal for a in asked))
    slide = _blank(deck, "\n".join(said))
    ratio = scene.size[0] / scene.size[1]
    width = min(6.4, (HEIGHT - 1) * ratio)
    photo = Place(MARGIN, (HEIGHT - width / ratio) / 2, width, width / ratio)
    _picture(slide, scene.rings or scene.picture, scene.alt_after, photo)
    right = Place(width + 2 * MARGIN + 0.2, 0.5, WIDTH - width - 3 * MARGIN - 0.2, HEIGHT - 1)
    title, rest = (solved[0], solved[1:]) if solved else (said[0], [])
    _title(slide, title, right._replace(height=1.5), 66 if solved else 40)
    if rest:
        _words(slide, rest, right._replace(top=2.0, height=1.4 * len(rest)), 60, PAPER)
    below = 2.1 + 1.4 * len(rest)
    if solved:
        _words(slide, said, right._replace(top=below, height=HEIGHT - below - 0.4), 28, SOFT, top=True)


def _opening(deck: Any, lesson: Lesson) -> None:
    slide = _blank(deck, "\n".join(lesson.remarks))
    _title(slide, lesson.title, Place(0.9, 2.2, 11.5, 1.6), 72)
    _words(slide, [label(lesson.language, "subtitle")], Place(0.9, 3.9, 11.5, 1.0), 32, SOFT)


def _divider(deck: Any, lesson: Lesson, day: int) -> None:
    slide = _blank(deck)
    _title(slide, label(lesson.language, "day", day=str(day)), Place(0.9, 2.8, 11.5, 1.6), 72)


def source_lines(lesson: Lesson) -> tuple[list[str], list[str], list[str]]:
    """Standards by their source, pictures (credit and licence of each) and notices, as lines."""
    by_source: dict[str, list[str]] = {}
    for standard, _ in lesson.standards():
        by_source.setdefault(standard.source, []).append(f"{standard.code}  {standard.asks}")
    standards = [line for source, lines in by_source.items() for line in (f"{source}:", *lines)]
    credited = []
    for scene in lesson.scenes:
        name = scene.prompt.title if scene.prompt else ""
        parts = (clean(name, 90), clean(scene.credit, 120), scene.license, scene.license_url)
        credited.append(" · ".join(p for p in parts if p))
    return standards, list(dict.fromkeys(credited)), lesson.notices()


def by_sentence(words: str) -> list[str]:
    """A question one sentence a line, as a class reads it."""
    return re.split(r"(?<=[.?!]) (?=[^ ])", words)


def _sources(deck: Any, lesson: Lesson) -> None:
    """The last slide, and as many more as the lines need to stay readable."""
    standards, credited, notices = source_lines(lesson)
    lines = [*standards, *notices, *credited]
    heading = label(lesson.language, "sources")
    place = Place(0.6, 1.2, WIDTH - 1.2, HEIGHT - 1.5)
    while lines:
        count = len(lines)
        while count > 1 and fit("\n".join(lines[:count]), place, 18, 13) < 14:
            count -= 1
        slide = _blank(deck)
        _title(slide, heading, Place(0.6, 0.25, WIDTH - 1.2, 0.9), 32)
        _words(slide, lines[:count], place, 18, PAPER, smallest=13, top=True)
        lines = lines[count:]

"""The parts of a slide: a dark ground, a title, words of one type scale, a picture, a number bond."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache
from io import BytesIO
from typing import Any, NamedTuple

from curator.classroom.writers.sources import by_sentence

WIDTH, HEIGHT = 13.333, 7.5  # inches, 16:9
PANEL, STRIP, MARGIN = 4.1, 1.65, 0.3
INK, PAPER, SOFT = "12161C", "FFFFFF", "C9D3DF"  # PAPER on INK 18:1, SOFT on INK 12:1
SCALE = (72, 54, 40, 28, 20, 14)  # points; nothing is set in a size between them
LARGE = 54  # from here on no word stands alone that need not: a slide has nothing else to look at
SMALLEST = 28  # for what a class reads: titles are not made smaller to look better
LINE = 1.2  # of the type size


class Place(NamedTuple):
    """A rectangle on a slide, in inches."""

    left: float
    top: float
    width: float
    height: float


def blank(deck: Any, notes: str = "") -> Any:
    """A dark slide with only a title."""
    from pptx.dml.color import RGBColor

    slide = deck.slides.add_slide(deck.slide_layouts[5])
    slide.background.fill.solid()
    slide.background.fill.fore_color.rgb = RGBColor.from_string(INK)
    if notes:
        slide.notes_slide.notes_text_frame.text = notes
    return slide


def arrange(size: tuple[int, int]) -> tuple[Place, Place]:
    """Where picture and words go so that the picture is largest: words beside it, or in a strip below it."""
    ratio = size[0] / size[1]
    beside = min((WIDTH - PANEL) / ratio, HEIGHT)
    below = min(WIDTH / ratio, HEIGHT - STRIP)
    if beside >= below:
        width = beside * ratio
        top = (HEIGHT - beside) / 2
        words = Place(width + MARGIN, MARGIN, WIDTH - width - 2 * MARGIN, HEIGHT - 2 * MARGIN)
        return Place(0, top, width, beside), words
    width = below * ratio
    strip = Place(MARGIN, below + 0.1, WIDTH - 2 * MARGIN, HEIGHT - below - 0.2)
    return Place((WIDTH - width) / 2, 0, width, below), strip


def within(size: tuple[int, int], place: Place) -> Place:
    """The largest place for a picture of that size, in the middle of another."""
    ratio = size[0] / size[1]
    width = min(place.width, place.height * ratio)
    height = width / ratio
    return Place(place.left + (place.width - width) / 2, place.top + (place.height - height) / 2, width, height)


def picture(slide: Any, data: bytes, alt_text: str, place: Place, name: str = "picture") -> Any:
    """A picture with its alt text."""
    from pptx.util import Inches

    shape = slide.shapes.add_picture(BytesIO(data), *(Inches(v) for v in place))
    shape.name = name
    shape._element.nvPicPr.cNvPr.set("descr", alt_text)
    return shape


def title(slide: Any, words: str, place: Place, largest: int = 40, color: str = PAPER) -> int:
    """The slide's title, a sentence a line; returns its size in points."""
    from pptx.enum.text import MSO_ANCHOR

    shape = slide.shapes.title
    shape.name = "question"
    _lay(shape, place)
    frame = _frame(shape, MSO_ANCHOR.MIDDLE)
    lines = "\v".join(by_sentence(words))
    points = fit(lines.replace("\v", "\n"), place, largest, bold=True)
    _paragraph(frame.paragraphs[0], lines, points, color, bold=True)
    return points


def words(
    slide: Any,
    lines: Iterable[str],
    place: Place,
    largest: int,
    color: str = PAPER,
    *,
    top: bool = False,
    apart: bool = False,
) -> None:
    """Lines of text, all in one size; apart: with room between them."""
    from pptx.enum.text import MSO_ANCHOR
    from pptx.util import Inches, Pt

    lines = list(lines)
    box = slide.shapes.add_textbox(*(Inches(v) for v in place))
    box.name = "words"
    frame = _frame(box, MSO_ANCHOR.TOP if top else MSO_ANCHOR.MIDDLE)
    size = fit(("\n \n" if apart else "\n").join(lines), place, largest)
    for n, line in enumerate(lines):
        paragraph = frame.paragraphs[0] if n == 0 else frame.add_paragraph()
        _paragraph(paragraph, line, size, color)
        if n and apart:
            paragraph.space_before = Pt(size * 0.6)


def _lay(shape: Any, place: Place) -> None:
    from pptx.util import Inches

    shape.left, shape.top, shape.width, shape.height = (Inches(v) for v in place)


def _frame(shape: Any, anchor: Any) -> Any:
    frame = shape.text_frame
    frame.word_wrap, frame.vertical_anchor = True, anchor
    frame.margin_left = frame.margin_right = frame.margin_top = frame.margin_bottom = 0
    return frame


def _paragraph(paragraph: Any, said: str, points: int, color: str, *, bold: bool = False, middle: bool = False) -> None:
    from pptx.dml.color import RGBColor
    from pptx.enum.text import PP_ALIGN
    from pptx.util import Pt

    paragraph.alignment = PP_ALIGN.CENTER if middle else PP_ALIGN.LEFT
    for n, line in enumerate(said.split("\v")):
        if n:
            paragraph.add_line_break()
        run = paragraph.add_run()
        run.text = line
        run.font.size, run.font.bold, run.font.name = Pt(points), bold, "Arial"
        run.font.color.rgb = RGBColor.from_string(color)


def bond(slide: Any, whole: str, parts: tuple[str, str], alt_text: str, place: Place) -> None:
    """A number bond of shapes: the whole above, its two parts below, each in a circle, joined by lines."""
    from pptx.dml.color import RGBColor
    from pptx.enum.shapes import MSO_CONNECTOR, MSO_SHAPE
    from pptx.enum.text import MSO_ANCHOR
    from pptx.util import Inches, Pt

    group = slide.shapes.add_group_shape()
    group.name = "bond"
    group._element.nvGrpSpPr.cNvPr.set("descr", alt_text)
    across = min(0.42 * place.height, 0.3 * place.width)
    up = place.top + across / 2
    down = place.top + place.height - across / 2
    middles = [(place.left + place.width * x, y) for x, y in ((0.5, up), (0.2, down), (0.8, down))]
    for x, y in middles[1:]:
        line = group.shapes.add_connector(
            MSO_CONNECTOR.STRAIGHT, Inches(middles[0][0]), Inches(middles[0][1]), Inches(x), Inches(y)
        )
        line.line.color.rgb, line.line.width = RGBColor.from_string(SOFT), Pt(3)
    for (x, y), said in zip(middles, (whole, *parts), strict=True):
        circle = group.shapes.add_shape(
            MSO_SHAPE.OVAL, *(Inches(v) for v in (x - across / 2, y - across / 2)), Inches(across), Inches(across)
        )
        circle.fill.solid()
        circle.fill.fore_color.rgb = RGBColor.from_string(INK)
        circle.line.color.rgb, circle.line.width = RGBColor.from_string(PAPER), Pt(3)
        circle.shadow.inherit = False
        frame = _frame(circle, MSO_ANCHOR.MIDDLE)
        frame.word_wrap = False  # a circle leaves its words less room than it has: "12" would take two lines
        _paragraph(frame.paragraphs[0], said, 28, PAPER, bold=True, middle=True)


# ---- one type scale


def fit(said: str, place: Place, largest: int, *, bold: bool = False) -> int:
    """The largest size of the scale at which the words fit the place, no word broken; the next smaller where that
    saves more than one word from being alone on a line, or any word of a LARGE one.
    """
    fitting = [points for points in SCALE if points <= largest and _fits(said, place, points, bold)]
    if not fitting:
        return SCALE[-1]
    best, *smaller = fitting
    if smaller and smaller[0] >= SMALLEST:
        now, then = (_lonely(said, place, points, bold) for points in (best, smaller[0]))
        return best if now <= then + (best < LARGE) else smaller[0]
    return best


def _fits(said: str, place: Place, points: int, bold: bool) -> bool:
    lines = [line for words in said.splitlines() for line in wrapped(words, place.width, points, bold=bold)]
    widest = max((_long(word, points, bold=bold) for word in re.split("[ \n]", said)), default=0.0)
    return widest <= place.width and len(lines) * points * LINE <= place.height * 72


def _lonely(said: str, place: Place, points: int, bold: bool) -> int:
    """How many lines hold a single word of a longer sentence."""
    every = [wrapped(words, place.width, points, bold=bold) for words in said.splitlines()]
    return sum(" " not in line for lines in every if len(lines) > 1 for line in lines)


def wrapped(said: str, width: float, points: int, *, bold: bool = False) -> list[str]:
    """The lines that a text takes at that size in so many inches."""
    lines: list[str] = [""]
    for word in said.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and _long(longer, points, bold=bold) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _long(said: str, points: int, *, bold: bool) -> float:
    """Inches: by the widths of Helvetica, which Arial shares; a sign it lacks counts as a wide one."""
    return _units(said, bold) * points / 1000 / 72


@lru_cache(maxsize=1 << 14)
def _units(said: str, bold: bool) -> int:
    """Thousandths of the size: each text is asked for in many sizes."""
    widths = _widths(bold)
    return sum([widths.get(c, 667) for c in said])


@lru_cache(maxsize=2)
def _widths(bold: bool) -> dict[str, int]:
    from fpdf.fonts import CORE_FONTS_CHARWIDTHS

    found: dict[str, int] = CORE_FONTS_CHARWIDTHS["helveticaB" if bold else "helvetica"]
    return {**found, "\u00a0": found[" "], "−": found["+"]}

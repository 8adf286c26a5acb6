"""The sheets that cards are printed on: fronts, backs, the teacher's answers, the sources."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.language import section, text
from curator.classroom.text.questions import Questions, label, typeset
from curator.classroom.writers import fonts, properties
from curator.classroom.writers.sources import by_sentence, source_lines

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # millimetres (ISO 216; ANSI/ASME Y14.1)
COLUMNS, ROWS = 2, 3
MARGIN, INSET = 9.0, 4.0  # most printers leave 4 to 6 mm white [common practice]
SHARP = 300  # pixels an inch that print shows
INK, SOFT = 20, 90  # grey levels: 90 on white is 7:1
LINE = 1.3  # of the type size


class Card(NamedTuple):
    """One picture and the stages that are asked on it."""

    letter: str
    scene: Scene
    stages: tuple[str, ...]
    asked: tuple[Questions, ...]  # one a stage
    title: str
    picture: bytes
    alt: str


def blank(equation: str) -> str:
    """The equation with every number left out, for the side that asks."""
    return re.sub(r"\d+|\?", "____", typeset(equation))


def _every_word(lesson: Lesson, cards: Sequence[Card]) -> Iterator[str]:
    """Every text that is printed: the font is cut to their signs."""
    yield from (str(words) for words in section(lesson.language, "label").values())
    for words in source_lines(lesson):
        yield from words
    for card in cards:
        name = card.scene.noun
        yield " ".join(card.scene.look_again)
        yield f"{card.title} {name.one} {name.many} {card.scene.prompt.title if card.scene.prompt else ''}"
        for asked in card.asked:
            yield f"{asked.question} {asked.follow_up} {asked.frame} {asked.reveal} {typeset(asked.solved)} ·•"
            yield f"{asked.partners} {asked.story} {asked.family_note} {' '.join(map(typeset, asked.family))}"
            yield " ".join((*asked.listen, *(f"{a.says} {a.shows}" for a in asked.answers)))


class Sheets:
    """The document while it is drawn, lengths in millimetres."""

    def __init__(self, lesson: Lesson, cards: Sequence[Card], size: tuple[float, float], folder: Path) -> None:
        from fpdf import FPDF, ViewerPreferences

        self.lesson, self.width, self.height = lesson, *size
        self.cell = ((self.width - 2 * MARGIN) / COLUMNS, (self.height - 2 * MARGIN) / ROWS)
        self.measured: dict[tuple[str, str, float, float], float] = {}
        self.pdf: Any = FPDF(unit="mm", format=size)
        properties.of_pdf(self.pdf, lesson.title, lesson.language)
        self.pdf.viewer_preferences = ViewerPreferences(
            display_doc_title=True, duplex="DuplexFlipLongEdge", print_scaling="None"
        )
        self.pdf.set_margin(MARGIN + INSET)
        self.pdf.set_auto_page_break(False)
        self._fonts(folder, " ".join(_every_word(lesson, cards)))

    def say(self, key: str, **strings: str) -> str:
        return label(self.lesson.language, key, **strings)

    def _fonts(self, folder: Path, every: str) -> None:
        """A font cut to the signs that are printed."""
        self.left_out = fonts.lacking(every)
        signs = frozenset(fonts.printable(every + "".join(unicodedata.name(c, "") for c in self.left_out)))
        for style, weight in (("", fonts.REGULAR), ("B", fonts.BOLD)):
            file = folder / f"cards{weight}.ttf"
            file.write_bytes(fonts.cut(signs, weight))
            self.pdf.add_font("cards", style, file)
        if fonts.runs_leftwards("".join(signs)):
            self.pdf.set_text_shaping(True)  # joins letters; plain text goes faster without

    # ---- fronts and backs

    def fronts(self, sheet: Sequence[Card]) -> None:
        self.pdf.add_page()
        self._cuts()
        for n, card in enumerate(sheet):
            left, top = self._corner(n % COLUMNS, n // COLUMNS)
            self._picture(
                card.picture, card.alt, left + INSET, top + INSET, self.cell[0] - 2 * INSET, self.cell[1] - 2 * INSET
            )
        self._margin_note(self.say("cards_print"))

    def backs(self, sheet: Sequence[Card]) -> None:
        self.pdf.add_page()
        for n, card in enumerate(sheet):
            self._back(card, *self._corner(COLUMNS - 1 - n % COLUMNS, n // COLUMNS))

    def _corner(self, column: int, row: int) -> tuple[float, float]:
        return MARGIN + column * self.cell[0], MARGIN + row * self.cell[1]

    def _cuts(self) -> None:
        """Dashed lines to cut along, round each card."""
        pdf = self.pdf
        pdf.set_draw_color(SOFT)
        pdf.set_line_width(0.25)
        pdf.set_dash_pattern(dash=2, gap=1.5)
        for column in range(COLUMNS + 1):
            x = MARGIN + column * self.cell[0]
            pdf.line(x, MARGIN, x, self.height - MARGIN)
        for row in range(ROWS + 1):
            y = MARGIN + row * self.cell[1]
            pdf.line(MARGIN, y, self.width - MARGIN, y)
        pdf.set_dash_pattern()

    def _picture(self, data: bytes, alt: str, left: float, top: float, wide: float, high: float) -> float:
        """The picture as large as the place allows, in its middle; returns its height."""
        small, ratio = _for_print(data, max(wide, high))
        width, height = (wide, wide / ratio) if wide / ratio <= high else (high * ratio, high)
        x, y = left + (wide - width) / 2, top + (high - height) / 2
        self.pdf.image(BytesIO(small), x, y, width, height, alt_text=fonts.printable(alt))
        return float(height)

    def _margin_note(self, text: str) -> None:
        self.pdf.set_font("cards", "", 7)
        self.pdf.set_text_color(SOFT)
        self.pdf.set_xy(MARGIN, MARGIN / 2 - 1)
        self.pdf.cell(self.width - 2 * MARGIN, 3, fonts.printable(text), align="C")

    def _back(self, card: Card, left: float, top: float) -> None:
        """Questions large, then what to ask next, the sentence to finish and the equation to write."""
        asked = card.asked
        wide = self.cell[0] - 2 * INSET
        follow, frame = asked[-1].partners or asked[-1].follow_up, asked[-1].frame
        lines = [(line, "B", 15.0) for one in asked for line in by_sentence(one.question)]
        lines += [(f"{self.say('follow_up')}: {follow}", "", 10.5), (f"{self.say('frame')}: {frame}", "", 10.5)]
        lines += [(blank(one.equation), "", 13.0) for one in asked[:1] if one.equation]
        self._letter_of(card, left, top)
        self._column(
            [(fonts.printable(line), style, size) for line, style, size in lines],
            left + INSET,
            top + INSET + 7,
            wide,
            self.cell[1] - 2 * INSET - 7,
        )

    def _letter_of(self, card: Card, left: float, top: float) -> None:
        self.pdf.set_font("cards", "B", 11)
        self.pdf.set_text_color(SOFT)
        self.pdf.set_xy(left + INSET, top + INSET - 1)
        self.pdf.cell(self.cell[0] - 2 * INSET, 6, self._name(card))

    def _name(self, card: Card) -> str:
        return self.say("card") + f" {card.letter}"

    def _column(
        self, lines: Sequence[tuple[str, str, float]], left: float, top: float, wide: float, high: float
    ) -> None:
        """The lines one below the other, all smaller by the same share until they fit."""
        share = 1.0
        while share > 0.5 and sum(self._high(*line, wide, share) for line in lines) > high:
            share -= 0.04
        for line, style, size in lines:
            tall = self._high(line, style, size, wide, share)
            self._put(line, style, size * share, left, top, wide)
            top += tall

    def _high(self, text: str, style: str, size: float, wide: float, share: float = 1.0) -> float:
        """How high a text becomes, with the room below it, in millimetres; measured once."""
        asked = (text, style, size * share, wide)
        if asked not in self.measured:
            self.pdf.set_font("cards", style, size * share)
            step = size * share * LINE * 0.3528
            tall = self.pdf.multi_cell(wide, step, text, dry_run=True, output="HEIGHT", align="L")
            self.measured[asked] = float(tall) + 0.35 * step
        return self.measured[asked]

    def _put(self, text: str, style: str, size: float, left: float, top: float, wide: float, grey: int = INK) -> None:
        self.pdf.set_font("cards", style, size)
        self.pdf.set_text_color(grey)
        self.pdf.set_xy(left, top)
        self.pdf.multi_cell(wide, size * LINE * 0.3528, text, align="L")

    # ---- for the teacher

    def answers(self, cards: Sequence[Card]) -> None:
        """The answers of each card, its picture with the halves ringed beside them."""
        self._heading(self.say("cards_answers"))
        for card in cards:
            self._answer(card)

    def _heading(self, text: str) -> None:
        self.pdf.add_page()
        self._put(fonts.printable(text), "B", 18, MARGIN + INSET, MARGIN + INSET, self.width - 2 * (MARGIN + INSET))
        self.y = MARGIN + INSET + 13

    def _answer(self, card: Card) -> None:
        left, photo = MARGIN + INSET, 42.0
        wide = self.width - 2 * left - photo - 5
        lines = list(self._answer_lines(card))
        high = max(36.0, sum(self._high(*line, wide) for line in lines))
        if self.y + high > self.height - MARGIN - INSET:
            self._heading(self.say("cards_answers"))
        scene = card.scene
        shown = scene.view(scene.answer_view(card.stages[0]))
        self._picture(shown, scene.alt_answer(card.stages[0]), left, self.y, photo, 34.0)
        top = self.y
        for line, style, size in lines:
            tall = self._high(line, style, size, wide)
            self._put(line, style, size, left + photo + 5, top, wide)
            top += tall
        self.y += high + 5

    def _answer_lines(self, card: Card) -> Iterator[tuple[str, str, float]]:
        day = f" · {self.say('day', day=str(card.scene.day))}" if self.lesson.plan.days > 1 else ""
        found = [(f"{self._name(card)} · {card.title}{day}", "B", 11.0)]
        for asked in card.asked:
            written = [typeset(e) for e in (asked.equation, *asked.more, asked.solved) if e]
            found.append((asked.reveal, "B", 9.5))
            if written:
                found.append((f"{self.say('equation')}: {'  ·  '.join(written)}", "", 9.5))
            if asked.family:
                family = "  ·  ".join(map(typeset, asked.family))
                found.append((f"{self.say('family')}: {family}. {asked.family_note}".strip(), "", 9.5))
            if asked.story:
                found.append((f"{self.say('story')}: {asked.story}", "", 9.5))
            found += [(f"• {answer.says} {answer.shows}", "", 8.5) for answer in asked.answers]
            if asked.listen:
                found.append((f"{self.say('listen')}: {' '.join(asked.listen)}", "", 8.5))
        if card.scene.look_again and card.stages[0] == card.scene.stages[0]:
            seen = f"{text(self.lesson.language, 'room.heading')}: {' '.join(card.scene.look_again)}"
            found.append((seen, "", 8.5))
        yield from ((fonts.printable(line), style, size) for line, style, size in found)

    def sources(self) -> None:
        """Standards, notices, credits and licences; what the font could not print."""
        standards, credited, notices = source_lines(self.lesson)
        lines = [*standards, "", *notices, "", *credited]
        if self.left_out:
            names = ", ".join(f"U+{ord(c):04X} {unicodedata.name(c, '')}".strip() for c in self.left_out)
            lines += ["", self.say("left_out", signs=names)]
        left = MARGIN + INSET
        self._heading(self.say("sources"))
        for line in map(fonts.printable, lines):
            tall = self._high(line, "", 9.5, self.width - 2 * left) if line else 3.0
            if self.y + tall > self.height - left:
                self._heading(self.say("sources"))
            if line:
                self._put(line, "", 9.5, left, self.y, self.width - 2 * left)
            self.y += tall


def _for_print(data: bytes, longest_mm: float) -> tuple[bytes, float]:
    """The picture with no more pixels than print shows, and its width over its height."""
    from PIL import Image

    with Image.open(BytesIO(data)) as picture:
        ratio = picture.width / picture.height
        most = round(longest_mm / 25.4 * SHARP)
        if max(picture.size) <= most * 2:  # making it a little smaller would cost more time than it saves room
            return data, ratio
        picture.draft("RGB", (most, most))
        picture.thumbnail((most, most), Image.Resampling.LANCZOS)
        out = BytesIO()
        picture.convert("RGB").save(out, "JPEG", quality=88)
    return out.getvalue(), ratio

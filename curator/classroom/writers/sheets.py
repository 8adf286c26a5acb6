"""The sheets that cards are printed on: fronts, backs, the teacher's answers, the sources."""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

from curator.classroom.flaps import Flap
from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.language import section
from curator.classroom.text.questions import Questions, label, typeset
from curator.classroom.writers import fonts, properties
from curator.classroom.writers.sources import by_sentence, source_lines

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # millimetres (ISO 216; ANSI/ASME Y14.1)
COLUMNS, ROWS = 2, 3
MARGIN, INSET = 9.0, 4.0  # most printers leave 4 to 6 mm white [common practice]
SHARP = 300  # pixels an inch that print shows
INK, SOFT = 20, 90  # grey levels: 90 on white is 7:1
LINE = 1.3  # of the type size
ROOMY = 0.75  # of their size: smaller letters are hard to read for a child, 8 points and less for a teacher


class Card(NamedTuple):
    """One picture and the stages that are asked on it."""

    letter: str
    scene: Scene
    stages: tuple[str, ...]
    asked: tuple[Questions, ...]  # one a stage
    title: str
    picture: bytes
    alt: str
    flap: Flap | None = None


class Folded(NamedTuple):
    """A picture with its flap in a cell, in millimetres from the cell's top left."""

    picture: tuple[float, float, float, float]  # left, top, width, height
    flap: tuple[float, float, float, float]
    fold: tuple[float, float, float, float]  # from x, y to x, y


def folded(flap: Flap, ratio: float, wide: float, high: float) -> Folded:
    """The largest picture of that width over height that fits with the flap beside it."""
    along = flap.edge in ("top", "bottom")
    need = (ratio, 1 + flap.depth) if along else (ratio * (1 + flap.depth), 1.0)  # in picture heights
    height = min(wide / need[0], high / need[1])
    width = height * ratio
    deep = flap.depth * (height if along else width)
    left = (wide - need[0] * height) / 2 + (deep if flap.edge == "left" else 0)
    top = (high - need[1] * height) / 2 + (deep if flap.edge == "top" else 0)
    x = {"left": left - deep, "right": left + width}.get(flap.edge, left)
    y = {"top": top - deep, "bottom": top + height}.get(flap.edge, top)
    at = {"left": (left, top, left, top + height), "right": (left + width, top, left + width, top + height)}.get(
        flap.edge,
        (left, top if flap.edge == "top" else top + height, left + width, top if flap.edge == "top" else top + height),
    )
    size = (width, deep) if along else (deep, height)
    return Folded((left, top, width, height), (x, y, *size), at)


def blank(equation: str) -> str:
    """The equation with every number left out, for the side that asks."""
    return re.sub(r"\d+|\?", "____", typeset(equation))


def to_fill(asked: Questions) -> str:
    """What a child fills in; after "is it a double?" it is the same whether or not it is one."""
    return blank("? + ? = ?" if asked.stage == "is_it" else asked.equation)


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


SHARES = tuple(1 - 0.04 * step for step in range(14))  # of the usual sizes, for words that need more room


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
        self.cuts()
        for n, card in enumerate(sheet):
            left, top = self._corner(n % COLUMNS, n // COLUMNS)
            wide, high = self.cell[0] - 2 * INSET, self.cell[1] - 2 * INSET
            if card.flap:
                self._with_flap(card, left + INSET, top + INSET, wide, high)
            else:
                self.picture(card.picture, card.alt, left + INSET, top + INSET, wide, high)
        flaps = f" {self.say('flap')}" if any(card.flap for card in sheet) else ""
        self._margin_note(f"{self.say('cards_print')}{flaps}")

    def _with_flap(self, card: Card, left: float, top: float, wide: float, high: float) -> None:
        """The picture with a flap to cut round and fold over: it is the cover."""
        assert card.flap is not None
        place = folded(card.flap, card.scene.size[0] / card.scene.size[1], wide, high)
        x, y, w, h = place.picture
        self.picture(card.picture, card.alt, left + x, top + y, w, h)
        self.pdf.set_draw_color(SOFT)
        self.pdf.set_line_width(0.25)
        x, y, w, h = place.flap
        self.pdf.set_dash_pattern(dash=2, gap=1.5)
        self.pdf.rect(left + x, top + y, w, h)
        self.pdf.set_dash_pattern(dash=0.4, gap=1)
        a, b, c, d = place.fold
        self.pdf.line(left + a, top + b, left + c, top + d)
        self.pdf.set_dash_pattern()

    def backs(self, sheet: Sequence[Card]) -> None:
        self.pdf.add_page()
        for n, card in enumerate(sheet):
            self._back(card, *self._corner(COLUMNS - 1 - n % COLUMNS, n // COLUMNS))

    def _corner(self, column: int, row: int) -> tuple[float, float]:
        return MARGIN + column * self.cell[0], MARGIN + row * self.cell[1]

    def cuts(self, columns: int = COLUMNS, rows: int = ROWS) -> None:
        """Dashed lines to cut along, round each card."""
        pdf = self.pdf
        wide, high = (self.width - 2 * MARGIN) / columns, (self.height - 2 * MARGIN) / rows
        pdf.set_draw_color(SOFT)
        pdf.set_line_width(0.25)
        pdf.set_dash_pattern(dash=2, gap=1.5)
        for column in range(columns + 1):
            x = MARGIN + column * wide
            pdf.line(x, MARGIN, x, self.height - MARGIN)
        for row in range(rows + 1):
            y = MARGIN + row * high
            pdf.line(MARGIN, y, self.width - MARGIN, y)
        pdf.set_dash_pattern()

    def picture(self, data: bytes, alt: str, left: float, top: float, wide: float, high: float) -> float:
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
        """Questions large, then what to ask next, the sentence to finish and the equation to write; on a small back the
        questions and the equation alone, for the answer sheet has the rest.
        """
        asked = card.asked
        follow, frame = asked[-1].partners or asked[-1].follow_up, asked[-1].frame
        questions = [(line, "B", 15.0) for one in asked for line in by_sentence(one.question)]
        more = [(f"{self.say('follow_up')}: {follow}", "", 10.5), (f"{self.say('frame')}: {frame}", "", 10.5)]
        written = [(line, "", 13.0) for one in asked[:1] if (line := to_fill(one))]
        left, top, wide, high = self._behind(card, left + INSET, top + INSET)
        self._letter_of(card, left, top, wide)
        kept = [[*questions, *more, *written], [*questions, more[1], *written], [*questions, *written]]
        ways = [[(fonts.printable(line), style, size) for line, style, size in lines] for lines in kept]
        self._column(
            next((w for w in ways if self._share(w, wide, high - 7) >= ROOMY), ways[-1]), left, top + 7, wide, high - 7
        )

    def _behind(self, card: Card, left: float, top: float) -> tuple[float, float, float, float]:
        """Where words go on a back: all of it, or what lies behind the picture beside a flap (left and right swap)."""
        wide, high = self.cell[0] - 2 * INSET, self.cell[1] - 2 * INSET
        if not card.flap:
            return left, top, wide, high
        x, y, w, h = folded(card.flap, card.scene.size[0] / card.scene.size[1], wide, high).picture
        return left + wide - x - w, top + y, w, h

    def _letter_of(self, card: Card, left: float, top: float, wide: float) -> None:
        self.pdf.set_font("cards", "B", 11)
        self.pdf.set_text_color(SOFT)
        self.pdf.set_xy(left, top - 1)
        self.pdf.cell(wide, 6, self.name(card))

    def name(self, card: Card) -> str:
        return self.say("card") + f" {card.letter}"

    def _column(
        self, lines: Sequence[tuple[str, str, float]], left: float, top: float, wide: float, high: float
    ) -> None:
        """The lines one below the other, all smaller by the same share until they fit."""
        share = self._share(lines, wide, high)
        for line, style, size in lines:
            tall = self.high(line, style, size, wide, share)
            self.put(line, style, size * share, left, top, wide)
            top += tall

    def _share(self, lines: Sequence[tuple[str, str, float]], wide: float, high: float) -> float:
        """By how much the lines are made smaller to fit."""

        def fits(share: float) -> bool:
            whole = all(self._unbroken(*line, wide, share) for line in lines)
            return whole and sum(self.high(*line, wide, share) for line in lines) <= high

        # what is smaller is never higher, so not every size has to be measured
        first = 0 if fits(SHARES[0]) else bisect_left(SHARES, True, 1, key=fits)
        return SHARES[min(first, len(SHARES) - 1)]

    def _unbroken(self, text: str, style: str, size: float, wide: float, share: float) -> bool:
        """Whether no word, and no equation, has to be broken."""
        self.pdf.set_font("cards", style, size * share)
        return bool(max(map(self.pdf.get_string_width, text.split(" "))) + 2 * self.pdf.c_margin <= wide)

    def high(self, text: str, style: str, size: float, wide: float, share: float = 1.0) -> float:
        """How high a text becomes, with the room below it, in millimetres; measured once."""
        asked = (text, style, size * share, wide)
        if asked not in self.measured:
            self.pdf.set_font("cards", style, size * share)
            step = size * share * LINE * 0.3528
            tall = self.pdf.multi_cell(wide, step, text, dry_run=True, output="HEIGHT", align="L")
            self.measured[asked] = float(tall) + 0.35 * step
        return self.measured[asked]

    def put(self, text: str, style: str, size: float, left: float, top: float, wide: float, grey: int = INK) -> None:
        self.pdf.set_font("cards", style, size)
        self.pdf.set_text_color(grey)
        self.pdf.set_xy(left, top)
        self.pdf.multi_cell(wide, size * LINE * 0.3528, text, align="L")

    def heading(self, text: str) -> None:
        """A new page with that title."""
        self.pdf.add_page()
        self.put(fonts.printable(text), "B", 18, MARGIN + INSET, MARGIN + INSET, self.width - 2 * (MARGIN + INSET))
        self.y = MARGIN + INSET + 13


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

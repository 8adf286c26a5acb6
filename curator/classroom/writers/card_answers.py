"""For the teacher, behind the cards: the answers of each card, its picture ringed beside them; the sources."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Sequence

from curator.classroom.text.language import text
from curator.classroom.text.questions import typeset
from curator.classroom.writers import fonts
from curator.classroom.writers.sheets import INSET, MARGIN, Card, Sheets
from curator.classroom.writers.sources import source_lines


def answers(sheets: Sheets, cards: Sequence[Card]) -> None:
    """The answers of each card, its picture with the halves ringed beside them."""
    sheets.heading(sheets.say("cards_answers"))
    for card in cards:
        _answer(sheets, card)


def _answer(sheets: Sheets, card: Card) -> None:
    left, photo = MARGIN + INSET, 42.0
    wide = sheets.width - 2 * left - photo - 5
    lines = list(_answer_lines(sheets, card))
    high = max(36.0, sum(sheets.high(*line, wide) for line in lines))
    if sheets.y + high > sheets.height - MARGIN - INSET:
        sheets.heading(sheets.say("cards_answers"))
    scene = card.scene
    shown = scene.view(scene.answer_view(card.stages[0]))
    sheets.picture(shown, scene.alt_answer(card.stages[0]), left, sheets.y, photo, 34.0)
    top = sheets.y
    for line, style, size in lines:
        tall = sheets.high(line, style, size, wide)
        sheets.put(line, style, size, left + photo + 5, top, wide)
        top += tall
    sheets.y += high + 5


def _answer_lines(sheets: Sheets, card: Card) -> Iterator[tuple[str, str, float]]:
    day = f" · {sheets.say('day', day=str(card.scene.day))}" if sheets.lesson.plan.days > 1 else ""
    found = [(f"{sheets.name(card)} · {card.title}{day}", "B", 11.0)]
    for asked in card.asked:
        written = [typeset(e) for e in (asked.equation, *asked.more, asked.solved) if e]
        found.append((asked.reveal, "B", 9.5))
        if written:
            found.append((f"{sheets.say('equation')}: {'  ·  '.join(written)}", "", 9.5))
        if asked.family:
            family = "  ·  ".join(map(typeset, asked.family))
            found.append((f"{sheets.say('family')}: {family}. {asked.family_note}".strip(), "", 9.5))
        if asked.story:
            found.append((f"{sheets.say('story')}: {asked.story}", "", 9.5))
        found += [(f"• {answer.says} {answer.shows}", "", 8.5) for answer in asked.answers]
        if asked.listen:
            found.append((f"{sheets.say('listen')}: {' '.join(asked.listen)}", "", 8.5))
    if card.scene.look_again and card.stages[0] == card.scene.stages[0]:
        seen = f"{text(sheets.lesson.language, 'room.heading')}: {' '.join(card.scene.look_again)}"
        found.append((seen, "", 8.5))
    yield from ((fonts.printable(line), style, size) for line, style, size in found)


def sources(sheets: Sheets) -> None:
    """Standards, notices, credits and licences; what the font could not print."""
    standards, credited, notices = source_lines(sheets.lesson)
    lines = [*standards, "", *notices, "", *credited]
    if sheets.left_out:
        names = ", ".join(f"U+{ord(c):04X} {unicodedata.name(c, '')}".strip() for c in sheets.left_out)
        lines += ["", sheets.say("left_out", signs=names)]
    left = MARGIN + INSET
    sheets.heading(sheets.say("sources"))
    for line in map(fonts.printable, lines):
        tall = sheets.high(line, "", 9.5, sheets.width - 2 * left) if line else 3.0
        if sheets.y + tall > sheets.height - left:
            sheets.heading(sheets.say("sources"))
        if line:
            sheets.put(line, "", 9.5, left, sheets.y, sheets.width - 2 * left)
        sheets.y += tall

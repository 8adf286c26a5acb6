"""A lesson as cards to cut out: the picture on the front, its questions on the back, the answers on sheets of their
own; a cover is a flap to fold over, where the picture allows one. Sheets for the children follow.

Backs lie in the order that turning the paper over its long edge needs: the columns of each row mirrored. No colour
carries a meaning: the halves on the answer sheets have a solid and a dashed ring. Cards are named by letters, for a
digit on a card could be taken for an answer.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path

from curator.classroom.scene import Lesson, Scene
from curator.classroom.text.language import noun
from curator.classroom.text.questions import Questions, label, questions
from curator.classroom.text.titles import titled
from curator.classroom.writers import card_answers, fonts, handouts
from curator.classroom.writers.sheets import COLUMNS, INSET, MARGIN, PAPERS, ROWS, Card, Sheets, folded
from curator.errors import LessonError

BEHIND = 30.0  # millimetres: the back of a lower picture beside a flap has no room for words that can be read


def write(lesson: Lesson, path: Path, *, paper: str = "a4") -> None:
    """Write the cards as PDF on A4 or US Letter; LessonError for another paper."""
    if paper not in PAPERS:
        raise LessonError("Making the cards.", f'"{paper[:40]}" is no paper that is known.', "Choose a4 or letter.")
    cards = _cards(lesson, paper)
    with tempfile.TemporaryDirectory() as folder:  # the font's files have to last until the end
        sheets = Sheets(lesson, cards, PAPERS[paper], Path(folder))
        for sheet in _in_sixes(cards):
            sheets.fronts(sheet)
            sheets.backs(sheet)
        handouts.responses(sheets)
        handouts.exit_slips(sheets)
        card_answers.answers(sheets, cards)
        card_answers.sources(sheets)
        sheets.pdf.output(str(path))


def _cards(lesson: Lesson, paper: str = "a4") -> list[Card]:
    """One card for each picture that is asked about; stages that share a picture share the card."""
    width, height = PAPERS[paper]
    place = (width - 2 * MARGIN) / COLUMNS - 2 * INSET, (height - 2 * MARGIN) / ROWS - 2 * INSET
    found: list[Card] = []
    for scene in lesson.scenes:
        plain = tuple(s for s in scene.stages if s not in ("cover", "not_half"))
        covered = [(s,) for s in scene.stages if s in ("cover", "not_half")]
        for stages in (*((plain,) if plain else ()), *covered):
            view = scene.asking_view(stages[0])
            flap = scene.views.flaps.get(view)
            if flap and folded(flap, scene.size[0] / scene.size[1], *place).picture[3] < BEHIND:
                flap = None  # the cover is printed
            view = "plain" if flap else view
            asked = tuple(_asked(lesson, scene, stage) for stage in stages)
            picture, text = scene.view(view), scene.alt(view)
            found.append(Card(_letter(len(found)), scene, stages, asked, _title(lesson, scene), picture, text, flap))
    return found


def _asked(lesson: Lesson, scene: Scene, stage: str) -> Questions:
    """What is asked; of a thing whose name cannot be printed in plain words ("How many things?")."""
    asked = scene.asked[stage]
    if _readable(scene.noun.one) and _readable(scene.noun.many):
        return asked
    n = asked.numbers
    sides = (0, 0) if scene.fact else (n["one"], n["other"])
    return questions(
        lesson.language,
        stage,
        scene.fact,
        scene.kind,
        shown=n["shown"],
        hidden=n["hidden"],
        sides=sides,
        left_over=n["left"],
        show_s=asked.show_s,
    )


def _title(lesson: Lesson, scene: Scene) -> str:
    if scene.prompt is None:
        return label(lesson.language, "ten_frame")
    title = titled(lesson.language, scene.prompt)
    return title if _readable(title) else noun(lesson.language).many


def _readable(words: str) -> bool:
    """True where something is left to read when printed."""
    return any(c.isalnum() for c in fonts.printable(words))


def _letter(n: int) -> str:
    """A to Z, AA to AZ and so on."""
    return (_letter(n // 26 - 1) if n >= 26 else "") + chr(ord("A") + n % 26)


def _in_sixes(cards: Sequence[Card]) -> Iterator[list[Card]]:
    every = iter(cards)
    while sheet := list(islice(every, COLUMNS * ROWS)):
        yield sheet

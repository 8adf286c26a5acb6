"""Sheets for the children, from the lesson's own pictures: what I saw, one a day, and a slip before they go."""

from __future__ import annotations

from itertools import groupby

from curator.classroom.scene import COVERS, Scene
from curator.classroom.writers import fonts
from curator.classroom.writers.sheets import INSET, MARGIN, SOFT, Sheets, to_fill

COLUMNS, ROWS = 2, 4  # of a response sheet
FEW = 3  # pictures that go one below the other, and larger
BROAD = 1.5  # width over height of the place of one of them
TITLE, BODY = 16.0, 12.0


def responses(sheets: Sheets) -> None:
    """A sheet for each day: its pictures, an equation to fill in, a line to write on. No number is printed."""
    for day, scenes in groupby(sheets.lesson.scenes, key=lambda scene: scene.day):
        asked = [(scene, scene.stages[0]) for scene in scenes]
        for first in range(0, len(asked), COLUMNS * ROWS):
            _sheet(sheets, day, asked[first : first + COLUMNS * ROWS])


def _sheet(sheets: Sheets, day: int, asked: list[tuple[Scene, str]]) -> None:
    sheets.pdf.add_page()
    left = MARGIN + INSET
    _name_line(sheets, _title(sheets, "responses", day), left, left, sheets.width - 2 * left)
    columns = 1 if len(asked) <= FEW else COLUMNS
    wide, high = (
        (sheets.width - 2 * left) / columns,
        (sheets.height - 2 * left - 14) / max(2, -(-len(asked) // columns)),
    )
    own = min(wide, BROAD * high)
    for n, (scene, stage) in enumerate(asked):
        x, y = left + (n % columns) * wide + (wide - own) / 2, left + 14 + (n // columns) * high
        _question(sheets, scene, stage, x, y, own - 6, high - 4)


def _title(sheets: Sheets, key: str, day: int) -> str:
    more = f" · {sheets.say('day', day=str(day))}" if sheets.lesson.plan.days > 1 else ""
    return f"{sheets.say(key)}{more}"


def _name_line(sheets: Sheets, title: str, x: float, y: float, wide: float) -> None:
    """The title, and a line for the child's name beside it."""
    sheets.put(fonts.printable(title), "B", TITLE, x, y, 0.6 * wide)
    sheets.put(fonts.printable(sheets.say("child")), "", BODY, x + 0.6 * wide, y + 1.5, 0.15 * wide, SOFT)
    _line(sheets, x + 0.72 * wide, x + wide, y + 7)


def _question(sheets: Sheets, scene: Scene, stage: str, x: float, y: float, wide: float, high: float) -> None:
    """The picture as it is asked about, the equation without its numbers, a line."""
    asked = scene.asked[stage]
    equation = to_fill(asked)
    below = 18.0 if equation else 9.0
    view = scene.asking_view(stage)
    tall = sheets.picture(scene.view(view), scene.alt(view), x, y, wide, high - below)
    top = y + (high - below + tall) / 2 + 3
    if equation:
        sheets.put(fonts.printable(equation), "", BODY + 2, x, top, wide)
        top += 8
    _line(sheets, x, x + wide, top + 5)


def _line(sheets: Sheets, start: float, end: float, y: float) -> None:
    sheets.pdf.set_draw_color(SOFT)
    sheets.pdf.set_line_width(0.25)
    sheets.pdf.line(start, y, end, y)


def exit_slips(sheets: Sheets) -> None:
    """For each day the same slip four times on a page to cut: its last picture, preferably covered."""
    for day, scenes in groupby(sheets.lesson.scenes, key=lambda scene: scene.day):
        scene, stage = _last(list(scenes))
        sheets.pdf.add_page()
        sheets.cuts(2, 2)
        for n in range(4):
            wide, high = (sheets.width - 2 * MARGIN) / 2, (sheets.height - 2 * MARGIN) / 2
            _slip(sheets, day, scene, stage, MARGIN + n % 2 * wide + INSET, MARGIN + n // 2 * high + INSET)


def _last(scenes: list[Scene]) -> tuple[Scene, str]:
    """What the day ends with: a cover where there is one."""
    covers = [(s, stage) for s in scenes for stage in s.stages if stage in COVERS]
    return covers[-1] if covers else (scenes[-1], scenes[-1].stages[0])


def _slip(sheets: Sheets, day: int, scene: Scene, stage: str, x: float, y: float) -> None:
    wide, high = (sheets.width - 2 * MARGIN) / 2 - 2 * INSET, (sheets.height - 2 * MARGIN) / 2 - 2 * INSET
    sheets.put(fonts.printable(_title(sheets, "exit", day)), "B", TITLE - 2, x, y, wide)
    sheets.put(fonts.printable(sheets.say("child")), "", BODY, x, y + 8, 0.25 * wide, SOFT)
    _line(sheets, x + 0.25 * wide, x + wide, y + 13)
    asked = scene.asked[stage]
    said = fonts.printable(asked.question)
    tall = sheets.high(said, "", BODY, wide)
    sheets.put(said, "", BODY, x, y + 17, wide)
    _question(sheets, scene, stage, x, y + 18 + tall, wide, high - 20 - tall)

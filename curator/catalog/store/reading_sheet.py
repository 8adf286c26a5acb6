"""A contact sheet of photos not kept yet: each photo's likely readings side by side, numbered, to choose from."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from curator.records import Prompt

TILE, GAP, BAND = 380, 12, 30  # pixels: a picture's longer side, the room about it, the height of a line of words
BLUE, ORANGE, WHITE, INK = (0, 84, 166), (230, 120, 0), (255, 255, 255), (20, 26, 34)


@dataclass(frozen=True, slots=True)
class Row:
    """One photo: its name, its picture (JPEG) and its readings as prompts, best first."""

    name: str
    picture: bytes
    readings: tuple[Prompt, ...]


def reading_words(number: int, reading: Prompt) -> str:
    """2: 6+6=12 flip, or how many things make no double."""
    if reading.fact is not None:
        return f"{number}: {reading.fact} {reading.kind}"
    count = len(reading.dots)
    return f"{number}: {count} thing{'' if count == 1 else 's'}, no double"


def sheet(rows: Sequence[Row]) -> bytes:
    """A JPEG: a row a photo, under each small picture the number of the reading and what it says."""
    from PIL import Image

    drawn = [_row(row) for row in rows]
    width = max(one.width for one in drawn)
    whole = Image.new("RGB", (width, sum(one.height for one in drawn)), WHITE)
    top = 0
    for one in drawn:
        whole.paste(one, (0, top))
        top += one.height
    buffer = io.BytesIO()
    whole.save(buffer, "JPEG", quality=85)
    return buffer.getvalue()


def _row(row: Row) -> Any:
    from PIL import Image, ImageDraw

    with Image.open(io.BytesIO(row.picture)) as opened:
        opened.draft("RGB", (2 * TILE, 2 * TILE))
        small = opened.convert("RGB")
    small.thumbnail((TILE, TILE))
    count = max(1, len(row.readings))
    band = Image.new("RGB", (GAP + count * (TILE + GAP), GAP + 2 * BAND + small.height + GAP), WHITE)
    pen = ImageDraw.Draw(band)
    pen.text((GAP, GAP), row.name, INK, font=_font())
    for number, reading in enumerate(row.readings, 1):
        left = GAP + (number - 1) * (TILE + GAP)
        band.paste(_dotted(small, reading), (left, GAP + BAND))
        pen.text((left, GAP + BAND + small.height + 4), reading_words(number, reading), INK, font=_font())
    return band


def _font() -> Any:
    from PIL import ImageFont

    return ImageFont.load_default(20)


def _dotted(small: Any, reading: Prompt) -> Any:
    """The picture with the line dashed and each thing marked: a disc, a square, or a ring where it is in no half."""
    from PIL import ImageDraw

    picture = small.copy()
    wide, high = picture.size
    pen = ImageDraw.Draw(picture)
    if reading.line is not None:
        _dashed(pen, *(((x * wide, y * high)) for x, y in reading.line))
    widths = sorted(dot.w * wide for dot in reading.dots if dot.w) or [24.0]
    size = min(max(0.2 * widths[len(widths) // 2], 4.0), 12.0)
    for dot in reading.dots:
        x, y = dot.x * wide, dot.y * high
        box = (x - size, y - size, x + size, y + size)
        if dot.side == 2:
            pen.rectangle(box, fill=ORANGE, outline=WHITE, width=2)
        elif dot.side == 1:
            pen.ellipse(box, fill=BLUE, outline=WHITE, width=2)
        else:
            pen.ellipse(box, outline=INK, width=4)
            pen.ellipse(box, outline=WHITE, width=2)
    return picture


def _dashed(pen: Any, start: tuple[float, float], end: tuple[float, float]) -> None:
    length = ((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2) ** 0.5
    steps = max(1, round(length / 8))
    for step in range(0, steps, 2):
        ends = [tuple(a + (b - a) * at / steps for a, b in zip(start, end, strict=True)) for at in (step, step + 1)]
        pen.line(ends, fill=INK, width=5)
        pen.line(ends, fill=WHITE, width=3)

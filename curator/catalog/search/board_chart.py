"""The board as a picture: how many pictures each fact has, by the way its halves lie."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from curator.catalog.search.gaps import Gap
from curator.errors import CatalogError
from curator.records import KINDS

CELL, HEIGHT, LEFT, TOP = 120, 44, 150, 60  # pixels
INK, PAPER, FULL, LINE = (20, 26, 34), (255, 255, 255), (0, 84, 166), (150, 160, 172)
DOING = "Drawing the board."


def suffix_of(path: Path) -> str:
    """PNG or JPEG by the file's name; CatalogError for another."""
    found = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG"}.get(path.suffix.lower())
    if found is None:
        raise CatalogError(DOING, f"{path.name} is not a picture's name.", "Name it like board.png.", code="input")
    return found


def chart(rows: Sequence[Gap], form: str) -> bytes:
    """A picture file of the board: the more pictures, the darker; a ring where there is none yet."""
    from PIL import Image, ImageDraw, ImageFont

    size = (LEFT + (len(KINDS) + 1) * CELL + 20, TOP + len(rows) * HEIGHT + 70)
    image = Image.new("RGB", size, PAPER)
    pen, font = ImageDraw.Draw(image), ImageFont.load_default(22)
    for column, kind in enumerate((*KINDS, "all")):
        pen.text((LEFT + (column + 0.5) * CELL, TOP - 26), kind, INK, font=font, anchor="mm")
    most = max((count for row in rows for count in row.counts.values()), default=0)
    for number, row in enumerate(rows):
        middle = TOP + (number + 0.5) * HEIGHT
        pen.text((LEFT - 20, middle), str(row.fact), INK, font=font, anchor="rm")
        for column, kind in enumerate(KINDS):
            _cell(pen, (LEFT + column * CELL, middle), row.counts[kind], most, font)
        pen.text((LEFT + (len(KINDS) + 0.5) * CELL, middle), str(row.total or "–"), INK, font=font, anchor="mm")
    empty = sum(not row.total for row in rows)
    told = f"{sum(row.total for row in rows)} pictures. " + (
        f"{empty} of {len(rows)} facts have none yet." if empty else "Every fact has one."
    )
    pen.text((20, size[1] - 36), told, INK, font=font, anchor="lm")
    buffer = io.BytesIO()
    image.save(buffer, form)
    return buffer.getvalue()


def _cell(pen: Any, place: tuple[float, float], count: int, most: int, font: Any) -> None:
    left, middle = place
    box = (left + 8, middle - HEIGHT / 2 + 4, left + CELL - 8, middle + HEIGHT / 2 - 4)
    if not count:
        pen.rounded_rectangle(box, 8, outline=LINE, width=2)
        return
    part = 0.25 + 0.75 * count / max(1, most)
    fill = tuple(round(255 + (one - 255) * part) for one in FULL)
    pen.rounded_rectangle(box, 8, fill=fill)
    pen.text((left + CELL / 2, middle), str(count), PAPER if part > 0.5 else INK, font=font, anchor="mm")

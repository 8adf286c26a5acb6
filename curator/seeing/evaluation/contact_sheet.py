"""A contact sheet: small photos with their dots under headings, as the tool sees them."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from curator.errors import PhotoError
from curator.records import Area, Look

Pixels = NDArray[np.uint8]
TILE, GAP, ACROSS = 212, 8, 6  # a photo's longer side on the sheet, what is left free about it, photos in a row; pixels
LINE = 16  # height of a line of words under a photo
INK, PAPER, BAND = (20, 26, 34), (255, 255, 255), (225, 232, 240)


@dataclass(frozen=True, slots=True)
class Tile:
    """One photo of the sheet; the words stand under it, a line each."""

    path: Path
    area: Area | None
    words: tuple[str, ...]


def save(groups: Mapping[str, Sequence[Tile]], output: Path) -> None:
    """Draw every group under its heading with its number, and write a PNG or a JPEG, by the name;

    PhotoError where it cannot be written.
    """
    from curator.seeing import photo

    parts = [_group(f"{heading}: {len(tiles)}", tiles) for heading, tiles in groups.items() if tiles]
    whole = np.vstack(parts) if parts else _band("Nothing went wrong.")
    if output.suffix.lower() != ".png":
        photo.save_clean(whole, output)
        return
    buffer = io.BytesIO()
    Image.fromarray(whole).save(buffer, "PNG")
    photo.save(buffer.getvalue(), output)


def _group(heading: str, tiles: Sequence[Tile]) -> Pixels:
    made = [_tile(one) for one in tiles]
    made += [np.full_like(made[0], 255)] * (-len(made) % ACROSS)
    rows = [_row(made[i : i + ACROSS]) for i in range(0, len(made), ACROSS)]
    return np.vstack([_band(heading), *rows])


def _row(tiles: list[Pixels]) -> Pixels:
    """Tiles side by side, as low as the lowest photo among them lets them be."""
    used = max(int(np.flatnonzero((t != 255).any((1, 2)))[-1]) + 1 if (t != 255).any() else 0 for t in tiles)
    return np.hstack([t[: used + GAP] for t in tiles])


def _band(words: str) -> Pixels:
    strip = Image.new("RGB", (ACROSS * (TILE + GAP), 34), BAND)
    ImageDraw.Draw(strip).text((GAP, 7), words, INK, ImageFont.load_default(18))
    return np.asarray(strip)


def _tile(one: Tile) -> Pixels:
    """(TILE and the words high, TILE + GAP wide, 3): the photo or, where it cannot be read, an empty frame."""
    from curator.seeing import look

    try:
        picture = Image.fromarray(_dotted(look.look(one.path, one.area)))
    except PhotoError:
        picture = Image.new("RGB", (TILE, TILE // 4), BAND)
    tile = Image.new("RGB", (TILE + GAP, TILE + GAP + LINE * len(one.words)), PAPER)
    tile.paste(picture, (GAP // 2, GAP // 2))
    pen, font = ImageDraw.Draw(tile), ImageFont.load_default(12)
    for number, words in enumerate(one.words):
        pen.text((GAP // 2, GAP // 2 + picture.height + 1 + LINE * number), _fitted(words, font), INK, font)
    return np.asarray(tile)


def _fitted(words: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont) -> str:
    """The words, their end cut off where they are wider than a tile."""
    short = words
    while font.getlength(short) > TILE:
        words = words[:-1]
        short = words + "..."
    return short


def _dotted(seen: Look) -> Pixels:
    """What lies in the area, at most TILE on the longer side, with the dots of the chosen reading."""
    from curator.seeing import look, overlay
    from curator.seeing.judging import readings

    pixels, box = look.framed(seen.photo, seen.area)
    small = Image.fromarray(pixels)
    small.thumbnail((TILE, TILE), Image.Resampling.BOX)
    scale = (small.height / box.height, small.width / box.width)
    offset = (-round(box.top * scale[0]), -round(box.left * scale[1]))
    return overlay.dotted(
        np.array(small), readings.placed(seen.best, scale, offset, (small.height, small.width)), fine=True
    )

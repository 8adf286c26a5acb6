"""A reading drawn over its photo: halves told apart by shape and colour, never by colour alone."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Area, Reading

Pixels = NDArray[np.uint8]
BLUE, ORANGE, WHITE, BLACK = (0, 84, 166), (230, 120, 0), (255, 255, 255), (0, 0, 0)


def _dot(picture: Pixels, center: tuple[int, int], side: int, size: int) -> None:
    """A blue disc, an orange square, or a hollow ring; light and dark rims hold on any photo."""
    x, y = center
    if side == 1:
        cv2.circle(picture, (x, y), size + 3, BLACK, -1, cv2.LINE_AA)
        cv2.circle(picture, (x, y), size + 2, WHITE, -1, cv2.LINE_AA)
        cv2.circle(picture, (x, y), size, BLUE, -1, cv2.LINE_AA)
    elif side == 2:
        for grow, colour in ((3, BLACK), (2, WHITE), (0, ORANGE)):
            cv2.rectangle(picture, (x - size - grow, y - size - grow), (x + size + grow, y + size + grow), colour, -1)
    else:
        cv2.circle(picture, (x, y), size + 2, BLACK, 4, cv2.LINE_AA)
        cv2.circle(picture, (x, y), size + 2, WHITE, 2, cv2.LINE_AA)


def _line(picture: Pixels, ends: NDArray[np.float64]) -> None:
    """A dashed light line on a dark one."""
    (r0, c0), (r1, c1) = ends
    cv2.line(picture, (round(c0), round(r0)), (round(c1), round(r1)), BLACK, 5, cv2.LINE_AA)
    length = float(np.hypot(r1 - r0, c1 - c0))
    for start in np.arange(0, length, 18):
        a, b = start / max(length, 1), min(1.0, (start + 10) / max(length, 1))
        p, q = ends[0] + (ends[1] - ends[0]) * a, ends[0] + (ends[1] - ends[0]) * b
        cv2.line(picture, (round(p[1]), round(p[0])), (round(q[1]), round(q[0])), WHITE, 3, cv2.LINE_AA)


def draw(pixels: Pixels, reading: Reading) -> Pixels:
    """The photo with its dots and dividing line, and the fact with its grade in a band below; a new array."""
    picture = pixels.copy()
    width = float(np.median(reading.things.widths)) if len(reading.things) else 20.0
    size = int(np.clip(width * 0.16, 4, 14))
    if reading.halves is not None and reading.fact is not None:
        _line(picture, reading.halves.line)
    for thing, side in [*zip(reading.things.things, reading.sides, strict=True), *((t, 0) for t in reading.things.aside)]:
        _dot(picture, (round(thing.center[1]), round(thing.center[0])), side if reading.fact else 0, size)
    words = f"{reading.fact}  {reading.grade}" if reading.fact else f"no double  ({reading.total or 0} counted)"
    band = np.full((34, picture.shape[1], 3), 255, np.uint8)
    cv2.putText(band, words, (8, 24), cv2.FONT_HERSHEY_SIMPLEX, 0.7, BLACK, 2, cv2.LINE_AA)
    return np.vstack([picture, band])


def sheet(entries: list[tuple[Path, Area | None, str]], output: Path, *, tile: int = 300) -> None:
    """A contact sheet of photos as the tool sees them, each with a line of text; PhotoError where it cannot be written."""
    from curator.seeing import look
    from curator.seeing.photo import save_clean

    tiles = []
    for path, area, words in entries:
        seen = look.look(path, area)
        picture = draw(seen.photo.pixels, seen.best)
        scale = tile / max(picture.shape[:2])
        picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        square = np.full((tile + 24, tile + 6, 3), 255, np.uint8)
        square[: picture.shape[0], : picture.shape[1]] = picture
        cv2.putText(square, f"{path.stem[:18]} {words}", (2, tile + 16), cv2.FONT_HERSHEY_SIMPLEX, 0.36, BLACK, 1, cv2.LINE_AA)
        tiles.append(square)
    columns = 6
    while not tiles or len(tiles) % columns:
        tiles.append(np.full((tile + 24, tile + 6, 3), 255, np.uint8))
    whole = np.vstack([np.hstack(tiles[i : i + columns]) for i in range(0, len(tiles), columns)])
    if output.suffix.lower() == ".png":
        from PIL import Image

        Image.fromarray(whole).save(output)
    else:
        save_clean(whole, output)

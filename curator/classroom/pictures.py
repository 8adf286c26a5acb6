"""The pictures of one prompt as files: plain, dotted, ringed, covered, its drawn twin and its number bond.

All are cut to what counts and never enlarged past the photo's own pixels. No file name tells a number.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np

from curator.classroom import frames, shrinking
from curator.classroom.frames import Blank, frame
from curator.classroom.marking import covers, extents, kept, overlays
from curator.classroom.marking.extents import Pixels
from curator.classroom.marking.outlines import Labels
from curator.errors import LessonError, PhotoError
from curator.records import Area, Fact, Prompt

Media = Literal["image/png", "image/jpeg", "image/svg+xml"]
WIDE = 1920  # pixels: a full-HD screen
QUALITY = 88


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """One picture as a file in memory; its name gives no number away."""

    name: str
    media: Media
    data: bytes
    width: int  # pixels; of an SVG its own units
    height: int

    @property
    def suffix(self) -> str:
        return {"image/png": ".png", "image/jpeg": ".jpg", "image/svg+xml": ".svg"}[self.media]


class Opened(NamedTuple):
    """A picture ready to be drawn on: its pixels, the prompt in fractions of them, and which pixels are which thing."""

    photo: Pixels
    prompt: Prompt
    own: Labels


class Whole(NamedTuple):
    """A prompt's picture as the catalog has it: its file's bytes, and the same decoded (H, W, 3)."""

    data: bytes
    pixels: Pixels


def whole(folder: Path, prompt: Prompt, doing: str = "Making the pictures.") -> Whole:
    """A prompt's picture; LessonError where it is missing or damaged."""
    from curator.catalog.reading import picture_path
    from curator.seeing.photo import large_of, read_bytes

    try:
        data = read_bytes(picture_path(folder, prompt))
        return Whole(data, large_of(data, prompt.picture))
    except (PhotoError, OSError) as error:
        wrong = f"The picture of {prompt.slug} ({prompt.picture}) is missing or damaged."
        raise LessonError(doing, wrong, "Put the picture back, or leave that prompt out.") from error


def opened(
    folder: Path, prompt: Prompt, *, wide: int = WIDE, tall: int = 2 * WIDE, read: Whole | None = None
) -> Opened:
    """A prompt's picture cut to what counts, at most so wide and tall; LessonError where it is missing or damaged.

    read: the picture where it is read already.
    """
    data, pixels = read or whole(folder, prompt)
    return ready(pixels, prompt, kept.outlines_of(folder, prompt, data, pixels), wide=wide, tall=tall)


def ready(whole: Pixels, prompt: Prompt, own: Labels, *, wide: int = WIDE, tall: int = 2 * WIDE) -> Opened:
    """The same from the whole picture and its outlines."""
    photo, there, own = cropped(whole, prompt, own)
    return Opened(shrinking.within(photo, wide, tall), there, own)


def cropped(photo: Pixels, prompt: Prompt, own: Labels) -> Opened:
    """The picture cut to what counts, along the pixels of `own` so that both are cut alike."""
    rows, columns = own.shape
    if not prompt.dots:
        return Opened(photo, prompt, own)
    area = extents.crop(prompt, (rows, columns), own)
    left, right = int(area.left * columns + 1e-6), int(np.ceil(area.right * columns - 1e-6))
    top, bottom = int(area.top * rows + 1e-6), int(np.ceil(area.bottom * rows - 1e-6))
    height, width = photo.shape[:2]
    across = [round(v * width / columns) for v in (left, right)]
    down = [round(v * height / rows) for v in (top, bottom)]
    exact = Area(across[0] / width, down[0] / height, across[1] / width, down[1] / height)
    part = np.ascontiguousarray(photo[down[0] : down[1], across[0] : across[1]])
    return Opened(part, extents.moved(prompt, exact), np.ascontiguousarray(own[top:bottom, left:right]))


def ringed(folder: Path, prompt: Prompt) -> tuple[Picture, int]:
    """Each half ringed; nothing is hidden."""
    return _jpeg("rings", overlays.ringed(*opened(folder, prompt))), 0


def covered(folder: Path, prompt: Prompt, side: int = 2) -> tuple[Picture, int] | None:
    """One half covered, the other where only that cover is clean, and how many things that hides; None for neither."""
    there = opened(folder, prompt)
    card, side = covers.half(*there, side)
    return (_jpeg("cover", covers.lay(there.photo, card)), prompt.count(side)) if card.clean else None


def twin(fact: Fact) -> Picture:
    """The ten-frame twin of n + n, drawn, as SVG, without a number."""
    text, width, height = frames.svg(fact, total_shown=False)
    return Picture("frame", "image/svg+xml", text.encode(), width, height)


def twin_png(fact: Fact, *, wide: int = WIDE) -> Picture:
    """The ten-frame twin as PNG, without a number."""
    return png("frame", frame(fact, wide)[0])


def bond(fact: Fact, blank: Blank = "none") -> Picture:
    """The fact's number bond as SVG, with its whole or one part left open."""
    text, width, height = frames.bond(fact, blank)
    name = "bond" if blank == "none" else f"bond-{blank}-open"
    return Picture(name, "image/svg+xml", text.encode(), width, height)


def every(folder: Path, prompt: Prompt, *, k: int = 0) -> list[Picture]:
    """All pictures of a prompt; without a double those that still make sense, without covers that cannot be clean.

    k things are covered in "cover-some"; 0: one fewer than half. ValueError where k is half, none or all of the things.
    """
    fact = prompt.fact
    if k and (fact is None or k == fact.half or not 0 < k < prompt.total):
        raise ValueError(f"k: expected 1 to {prompt.total - 1} and not half, got {k}")
    there = opened(folder, prompt)
    made = {"plain": there.photo}
    if prompt.dots:
        made |= {"dots": overlays.dotted(there.photo, there.prompt), "rings": overlays.ringed(*there)}
    if fact is not None:
        cards = {"cover-one": overlays.half_cover(*there, 1), "cover-other": overlays.half_cover(*there, 2)}
        if hide := k or fact.half - 1:  # one fewer than half is told from half only by one who counts
            cards["cover-some"] = overlays.some_cover(*there, hide)
        made |= {name: covers.lay(there.photo, card) for name, card in cards.items() if card.clean}
    found = [png(name, pixels) for name, pixels in made.items()]
    if fact is None:
        return found
    blanks: tuple[Blank, ...] = ("whole", "part", "none")
    return [*found, twin(fact), twin_png(fact), *(bond(fact, blank) for blank in blanks)]


def _jpeg(name: str, pixels: Pixels) -> Picture:
    from curator.seeing.photo import encode_clean

    return Picture(name, "image/jpeg", encode_clean(pixels, quality=QUALITY), pixels.shape[1], pixels.shape[0])


def png(name: str, pixels: Pixels) -> Picture:
    """Pixels as a PNG."""
    import cv2

    ok, data = cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))
    assert ok
    return Picture(name, "image/png", data.tobytes(), pixels.shape[1], pixels.shape[0])

"""What a class sees of one prompt: plain, dotted, ringed, covered, its drawn twin and its number bond.

Two layers: pixels in, pixels out (`rings`, `cover`, ...), which lessons and the web page use; and `Picture` records made
from a catalog's folder (`plain`, `dotted`, ...), cropped to what counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from curator.classroom import covers, extents, frames
from curator.classroom.frames import Blank, frame
from curator.classroom.rings import BLUE, DARK, LIGHT, ORANGE, ring
from curator.errors import LessonError, PhotoError
from curator.records import Area, Fact, Prompt

__all__ = [
    "Picture", "bond", "cover", "cover_some", "covered", "covered_k", "crop", "cropped", "dots", "dotted", "every",
    "frame", "opened", "plain", "ringed", "rings", "twin", "twin_png",
]  # fmt: skip

Pixels = NDArray[np.uint8]
Media = Literal["image/png", "image/jpeg", "image/svg+xml"]
WIDE = 1920  # pixels: a full-HD screen
ENLARGED = 2.0  # a small photo is enlarged at most so much: more would only show its grain
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


# ---- pixels in, pixels out


def rings(photo: Pixels, prompt: Prompt) -> Pixels:
    """Each half ringed: one ring about it where that crosses no other thing, else one about each thing."""
    return ring(photo, prompt)


def cover(photo: Pixels, prompt: Prompt, side: int = 1) -> Pixels:
    """One half under a cover. ValueError for a picture that is no double."""
    return _hide(photo, prompt, _half(prompt, side))


def cover_some(photo: Pixels, prompt: Prompt, k: int) -> Pixels:
    """k things under a cover, neighbours of each other."""
    return _hide(photo, prompt, covers.some(prompt, k, _size(photo)))


def dots(photo: Pixels, prompt: Prompt) -> Pixels:
    """A mark on each thing that counts: a disc on one half, a square on the other, a small ring on what is left over."""
    import cv2

    out = photo.copy()
    size = _size(photo)
    reach = extents.reaches(prompt, size)
    width = max(2, round(size[1] / 480))
    for dot, (x, y, w, h) in zip(prompt.dots, reach, strict=True):
        if prompt.fact is not None and not dot.side:
            continue
        radius = round(float(np.clip(0.34 * min(w, h), 4 * width, 9 * width)))
        for grow, color in ((2 * width, DARK), (width, LIGHT), (0, {1: BLUE, 2: ORANGE}.get(dot.side, DARK))):
            far = radius + grow
            if dot.side == 2:
                cv2.rectangle(out, (round(x) - far, round(y) - far), (round(x) + far, round(y) + far), color, -1)
            else:
                cv2.circle(out, (round(x), round(y)), far, color, -1, cv2.LINE_AA)
        if not dot.side:
            cv2.circle(out, (round(x), round(y)), radius // 2, LIGHT, -1, cv2.LINE_AA)
    return out


def _hide(photo: Pixels, prompt: Prompt, members: list[int]) -> Pixels:
    return covers.lay(photo, covers.sheet(prompt, members, _size(photo)).mask)


def _half(prompt: Prompt, side: int) -> list[int]:
    if prompt.fact is None or side not in (1, 2):
        raise ValueError(f"side: expected 1 or 2 of a picture that shows a double, got {side} of {prompt.slug}")
    return [i for i, dot in enumerate(prompt.dots) if dot.side == side]


def _size(photo: Pixels) -> tuple[int, int]:
    return int(photo.shape[0]), int(photo.shape[1])


# ---- a prompt of a catalog


def crop(prompt: Prompt, size: tuple[int, int] = (3, 4)) -> Area:
    """The part that counts of a picture of that height and width, in fractions; it cuts no thing."""
    return extents.crop(prompt, size)


def cropped(photo: Pixels, prompt: Prompt) -> tuple[Pixels, Prompt]:
    """The picture cut to what counts, and the prompt in fractions of that."""
    height, width = _size(photo)
    area = extents.crop(prompt, (height, width))
    left, right = int(area.left * width), int(np.ceil(area.right * width))
    top, bottom = int(area.top * height), int(np.ceil(area.bottom * height))
    exact = Area(left / width, top / height, right / width, bottom / height)
    return np.ascontiguousarray(photo[top:bottom, left:right]), extents.moved(prompt, exact)


def opened(folder: Path, prompt: Prompt, *, wide: int = WIDE) -> tuple[Pixels, Prompt]:
    """A prompt's picture cut to what counts, `wide` pixels across where the photo allows, and the prompt to go with it."""
    import cv2

    from curator.catalog.folder import picture_path
    from curator.seeing.photo import load_large

    try:
        whole = load_large(picture_path(folder, prompt))
    except (PhotoError, OSError) as error:
        wrong = f"The picture of {prompt.slug} ({prompt.picture}) is missing or damaged."
        raise LessonError("Making the pictures.", wrong, "Put the picture back, or add the photo again.") from error
    photo, there = cropped(whole, prompt)
    scale = min(wide / photo.shape[1], ENLARGED)
    if scale == 1:
        return photo, there
    size = (round(photo.shape[1] * scale), round(photo.shape[0] * scale))
    way = cv2.INTER_CUBIC if scale > 1 else cv2.INTER_AREA
    return np.asarray(cv2.resize(photo, size, interpolation=way), dtype=np.uint8), there


def plain(folder: Path, prompt: Prompt) -> tuple[Picture, int]:
    """The photo, cropped; nothing is hidden."""
    return _jpeg("plain", opened(folder, prompt)[0]), 0


def dotted(folder: Path, prompt: Prompt) -> tuple[Picture, int]:
    """A mark on each thing; nothing is hidden."""
    return _jpeg("dots", dots(*opened(folder, prompt))), 0


def ringed(folder: Path, prompt: Prompt) -> tuple[Picture, int]:
    """Each half ringed; nothing is hidden."""
    return _jpeg("rings", rings(*opened(folder, prompt))), 0


def covered(folder: Path, prompt: Prompt, side: int = 2) -> tuple[Picture, int]:
    """One half covered, and how many things that hides."""
    photo, there = opened(folder, prompt)
    return _jpeg("covered", cover(photo, there, side)), prompt.count(side)


def covered_k(folder: Path, prompt: Prompt, k: int) -> tuple[Picture, int]:
    """k neighbouring things covered, where k is not half. ValueError for half, none or all of them."""
    if prompt.fact is not None and k == prompt.fact.half:
        raise ValueError(f"k: expected a number that is not half, got {k} of {prompt.total}")
    photo, there = opened(folder, prompt)
    return _jpeg("covered-some", cover_some(photo, there, k)), k


def twin(half: int, *, total_shown: bool = True) -> Picture:
    """The ten-frame twin of n + n, drawn, as SVG."""
    text, width, height = frames.svg(Fact(half), total_shown=total_shown)
    return Picture("frame", "image/svg+xml", text.encode(), width, height)


def twin_png(half: int, *, wide: int = WIDE) -> Picture:
    """The ten-frame twin as PNG, without a number."""
    return _png("frame", frame(Fact(half), wide)[0])


def bond(fact: Fact, blank: Blank = "none") -> Picture:
    """The fact's number bond as SVG, with its whole or one part left open."""
    text, width, height = frames.bond(fact, blank)
    name = "bond" if blank == "none" else f"bond-{blank}-open"
    return Picture(name, "image/svg+xml", text.encode(), width, height)


def every(folder: Path, prompt: Prompt, *, side: int = 2, k: int = 0) -> dict[str, Picture]:
    """All pictures of a prompt by name; without a double those that still make sense. k 0: one fewer than half is hidden."""
    photo, there = opened(folder, prompt)
    made = {"plain": photo}
    if prompt.dots:
        made |= {"dots": dots(photo, there), "rings": rings(photo, there)}
    if prompt.fact is None:
        return {name: _jpeg(name, pixels) for name, pixels in made.items()}
    made |= {"covered": cover(photo, there, side), "covered-other": cover(photo, there, 3 - side)}
    hide = k or not_half(prompt.fact)
    if 0 < hide < prompt.total and hide != prompt.fact.half:
        made["covered-some"] = cover_some(photo, there, hide)
    found = {name: _jpeg(name, pixels) for name, pixels in made.items()}
    drawn = (twin(prompt.fact.half, total_shown=False), *(bond(prompt.fact, blank) for blank in ("whole", "part", "none")))
    found["frame-png"] = twin_png(prompt.fact.half)
    return found | {one.name: one for one in drawn}


def not_half(fact: Fact) -> int:
    """A number to cover that is not half: one fewer, so that it is seen to differ only by one who counts; 0 for 1 + 1."""
    return fact.half - 1


def _jpeg(name: str, pixels: Pixels) -> Picture:
    from curator.seeing.photo import encode_clean

    return Picture(name, "image/jpeg", encode_clean(pixels, quality=QUALITY), pixels.shape[1], pixels.shape[0])


def _png(name: str, pixels: Pixels) -> Picture:
    import cv2

    ok, data = cv2.imencode(".png", np.ascontiguousarray(pixels[..., ::-1]))
    assert ok
    return Picture(name, "image/png", data.tobytes(), pixels.shape[1], pixels.shape[0])

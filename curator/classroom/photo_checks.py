"""Is the photo fit for the room? Measured checks for the back seat; "look again" notes, never a block.

Limits with a source name it; those marked own rule are this project's. Printed numbers are read where the optional
extra `print` is installed; some are missed, so a person looks too.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, degrees, radians, tan
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from curator.classroom import lookalikes, shrinking
from curator.classroom.marking import extents
from curator.classroom.text.language import Noun, fill, text
from curator.errors import CuratorError
from curator.numbers_in_text import says
from curator.records import Area, Prompt
from curator.seeing import print_reader

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]
SEAT_M = 8.0  # the back seat of a usual classroom [common practice]
SCREEN_M = 0.93  # the height of a 75 inch 16:9 panel
ARC = tan(radians(16 / 60))  # least height of what is read: 16 minutes of arc (ISO 9241-3, text heights), 1 to 215
CONTRAST = 3.0  # thing against ground (WCAG 2.2, 1.4.11), not rounded up
COLOR = 15.0  # CIE 1976 distance from which two colours part clearly without a difference in lightness (own rule)
CLIPPED = 0.02  # share of a thing's pixels without any drawing left, at either end (own rule)
DIM, PALE = 0.25, 0.75  # the middle lightness of the things, as a share of the whole range (own rule)
LEAN = 10.0  # degrees (own rule)
FOLDED = 0.4  # spacings: things folded over their line that miss their partners by more show no lean (own rule)
BLUR = 0.70  # see `blur`: our samples lie at 0.34 to 0.55, softened by 3 pixels at 0.73 to 0.89 (own rule)
LONGER = 1024  # pixels: one size for all, for blur depends on it
PLACES = 4  # printed numbers that are named one by one


@dataclass(frozen=True, slots=True)
class Room:
    """Where a class sits."""

    seat_m: float = SEAT_M  # from the screen to the back seat
    screen_m: float = SCREEN_M  # height of the shown picture's screen, 16:9


@dataclass(frozen=True, slots=True)
class Note:
    """What to look at again: what was measured, the limit it passed, and the words for its sentence."""

    name: str  # a key of the wordings' "room": small, pale, blurred, edge, tilt, printed, print and so on
    value: float
    limit: float
    words: tuple[tuple[str, str], ...] = ()

    def say(self, language: str) -> str:
        """The note with its number and a remedy."""
        words = {key: text(language, f"room.at.{w}") if key == "where" else w for key, w in self.words}
        return fill(language, text(language, f"room.{self.name}"), {}, Noun("", "", ""), **words)


def look_again(folder: Path, prompt: Prompt, room: Room | None = None, read: Pixels | None = None) -> list[Note]:
    """All notes on a prompt of a catalog; `read`: its picture (H, W, 3) where it is read already.

    PhotoError, OSError where its picture cannot be read.
    """
    from curator.catalog.reading import picture_path
    from curator.seeing.photo import load_large

    photo = load_large(picture_path(folder, prompt)) if read is None else read
    return [*notes(photo, prompt, room or Room()), *printed(photo, prompt)]


def notes(photo: Pixels, prompt: Prompt, room: Room) -> list[Note]:
    """All notes on a photo (H, W, 3) sRGB; those on the things need dots with sizes."""
    if not prompt.dots:
        return []
    area = extents.crop(prompt, photo.shape[:2])
    shown, inside = _cut(photo, area), extents.moved(prompt, area)
    things = extents.reaches(inside, shown.shape[:2])
    found = [*_tilt(prompt, photo.shape[:2]), *_left_out(prompt), *_blur(shown)]
    if all(d.w > 0 and d.h > 0 for d in prompt.dots):
        counted = things[[d.side > 0 or prompt.fact is None for d in inside.dots]]
        found += [
            *_small(counted, shown.shape[:2], room),
            *_edge(prompt),
            *_light(shown, counted),
            *_extra(shown, things),
        ]
    return found


def printed(photo: Pixels, prompt: Prompt) -> list[Note]:
    """Notes on the print in a photo (H, W, 3) sRGB: each number that gives the answer away, or one note on any print.

    None where no reader is installed. A reader that fails is a note: it stops no lesson.
    """
    if not print_reader.installed():
        return []
    try:
        seen = print_reader.words(_cut(photo, extents.crop(prompt, photo.shape[:2])))
    except CuratorError:
        return [Note("unread", 0, 0)]
    given = (prompt.fact.half, prompt.fact.total) if prompt.fact else (len(prompt.dots),)
    told = dict.fromkeys((n, _where(word)) for word in seen for n in given if word.text in (str(n), *says(n)))
    if told:
        return [Note("printed", n, 0, (("value", str(n)), ("where", at))) for n, at in list(told)[:PLACES]]
    more = [word for word in seen if word.text.isdigit() or len(word.text) > 1]  # a lone letter tells nothing
    if more:
        return [Note("print", len(more), 0, (("value", str(len(more))), ("where", _where(more[0]))))]
    return []


def _where(word: print_reader.Word) -> str:
    """Which ninth of the photo it is in: top_left, top, ..., middle, ..., bottom_right."""
    down, across = (min(2, int(3 * at)) for at in (word.y, word.x))
    named = [name for name in (("top", "", "bottom")[down], ("left", "", "right")[across]) if name]
    return "_".join(named) or "middle"


def _cut(photo: Pixels, area: Area) -> Pixels:
    """That part of the photo, its longer side LONGER pixels: larger or smaller, what a class sees is one size."""
    import cv2

    height, width = photo.shape[:2]
    part = photo[
        round(area.top * height) : round(area.bottom * height), round(area.left * width) : round(area.right * width)
    ]
    scale = LONGER / max(part.shape[:2])
    high, wide = max(8, round(part.shape[0] * scale)), max(8, round(part.shape[1] * scale))
    if scale < 1:
        return shrinking.shrunk(part, (high, wide))
    return np.asarray(cv2.resize(part, (wide, high), interpolation=cv2.INTER_CUBIC), dtype=np.uint8)


def _number(value: float, places: int = 0) -> str:
    return f"{value:.{places}f}"


# ---- size, edges, tilt


def _small(things: NDArray[np.float64], size: tuple[int, int], room: Room) -> Iterator[Note]:
    """The smallest thing's longer side on the screen, in millimetres."""
    high, wide = size
    tall = 1000 * room.screen_m * min(1.0, 16 / 9 * high / wide)  # the shown picture's height
    value = float(2 * things[:, 2:].max(axis=1).min() / high * tall)
    limit = 1000 * room.seat_m * ARC
    if value < limit:
        near = 0.1 * int(value / 1000 / ARC * 10)
        yield Note(
            "small",
            value,
            limit,
            (
                ("value", _number(value)),
                ("limit", _number(np.ceil(limit))),
                ("seat", f"{room.seat_m:g}"),
                ("screen", f"{room.screen_m:g}"),
                ("near", _number(near, 1)),
            ),
        )


def _edge(prompt: Prompt) -> Iterator[Note]:
    """Things that reach into the outermost 2 % of the photo."""
    clear = extents.CLEAR

    def near(at: float, reach: float) -> bool:
        return at - reach / 2 < clear or at + reach / 2 > 1 - clear

    count = sum(near(d.x, d.w) or near(d.y, d.h) for d in prompt.dots)
    if count:
        yield Note("edge", count, 0, (("value", str(count)),))


def _left_out(prompt: Prompt) -> Iterator[Note]:
    """What looks like the things and was left out on purpose."""
    count = prompt.count(0) if prompt.fact else 0
    if count:
        yield Note("left_out", count, 0, (("value", str(count)),))


def _tilt(prompt: Prompt, size: tuple[int, int]) -> Iterator[Note]:
    """How far the line that is drawn is from upright or level, where the things bear it out."""
    if prompt.line is None or prompt.fact is None or prompt.fact.half <= 2:
        return
    scale = np.array([size[1], size[0]], dtype=np.float64)
    line = np.array(prompt.line) * scale
    one, other = (np.array([(d.x, d.y) for d in prompt.dots if d.side == side]) * scale for side in (1, 2))
    angle = _angle(line[1] - line[0])
    value = min(angle, 90 - angle)
    borne = {"flip": _folds, "slide": _along}.get(prompt.kind)
    if value > LEAN and borne is not None and borne(one, other, line):
        yield Note("tilt", value, LEAN, (("value", _number(value)), ("limit", _number(LEAN))))


def _angle(way: NDArray[np.float64]) -> float:
    """Degrees from level, 0 to 90; what is upright is level too."""
    return degrees(atan2(way[1], way[0])) % 90


def _along(one: NDArray[np.float64], other: NDArray[np.float64], line: NDArray[np.float64]) -> bool:
    """Whether each side is a row that leans as the line does, along it or across. One row alone may lean otherwise:
    it runs into the distance, or it is none.
    """
    angle = _angle(line[1] - line[0])
    for row in (one, other):
        _, spread, ways = np.linalg.svd(row - row.mean(axis=0))
        off = abs(_angle(ways[0]) - angle)
        if spread[0] <= 4 * spread[1] or min(off, 90 - off) > LEAN / 2:
            return False
    return True


def _folds(one: NDArray[np.float64], other: NDArray[np.float64], line: NDArray[np.float64]) -> bool:
    """Whether the things of one side, folded over the line, come to lie on those of the other."""
    from scipy.optimize import linear_sum_assignment
    from scipy.spatial.distance import cdist

    from curator.seeing.cuts import spacing

    along = (line[1] - line[0]) / max(1e-9, float(np.linalg.norm(line[1] - line[0])))
    away = one - line[0]
    folded = line[0] + 2 * (away @ along)[:, None] * along - away
    apart = cdist(folded, other)
    mine, theirs = linear_sum_assignment(apart**2)
    misfit = float(np.sqrt((apart[mine, theirs] ** 2).mean()))
    return misfit <= FOLDED * spacing(np.vstack([one, other]))


def _extra(shown: Pixels, things: NDArray[np.float64]) -> Iterator[Note]:
    """Look-alikes that were not counted."""
    found = lookalikes.places(shown, things)
    if len(found):
        x, y = (_number(100 * float(v)) for v in found[0])
        yield Note("extra", len(found), 0, (("value", str(len(found))), ("x", x), ("y", y)))


# ---- blur


def _blur(shown: Pixels) -> Iterator[Note]:
    import cv2

    value = blur(cv2.cvtColor(shown, cv2.COLOR_RGB2GRAY).astype(np.float32) / 255)
    if value > BLUR:
        yield Note("blurred", value, BLUR, (("value", _number(100 * value)), ("limit", _number(100 * BLUR))))


def blur(grey: NDArray[np.float32]) -> float:
    """0 sharp to 1 blurred, of a grey picture 0 to 1: how little changes when it is blurred once more.

    F. Crete, T. Dolmiere, P. Ladret, M. Nicolas, "The blur effect", SPIE 6492, 2007.
    """
    import cv2

    worst = 0.0
    for axis, kernel in ((0, (1, 11)), (1, (11, 1))):
        softened = cv2.blur(grey, kernel, borderType=cv2.BORDER_REFLECT)
        steps = np.abs(np.diff(grey, axis=axis))
        lost = np.maximum(0.0, steps - np.abs(np.diff(softened, axis=axis)))
        whole = float(steps.sum())
        worst = max(worst, (whole - float(lost.sum())) / whole if whole else 0.0)
    return worst


# ---- light


def _light(shown: Pixels, things: NDArray[np.float64]) -> Iterator[Note]:
    yield from _contrast(shown, things)
    yield from _exposure(shown, _ellipses(things, 0.8, shown.shape[:2]))


def _contrast(shown: Pixels, things: NDArray[np.float64]) -> Iterator[Note]:
    """Things that neither lightness nor colour tells from what lies round them."""
    import cv2

    lab = cv2.cvtColor(shown.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    ground = ~_ellipses(things, 1.1, shown.shape[:2])
    ratios = [r for one in things if (r := _apart(lab, one, ground)) is not None]
    low = [r for r in ratios if r < CONTRAST]
    if low:
        yield Note("pale", min(low), CONTRAST, (("value", f"{int(min(low) * 10) / 10:.1f}"), ("count", str(len(low)))))


def _apart(lab: NDArray[np.float32], thing: NDArray[np.float64], ground: Mask) -> float | None:
    """Contrast of one thing with the ground round it (WCAG);

    CONTRAST where its colour parts them; None without ground.
    """
    x, y, w, h = thing
    rows = slice(max(0, int(y - 1.5 * h)), int(y + 1.5 * h) + 1)
    columns = slice(max(0, int(x - 1.5 * w)), int(x + 1.5 * w) + 1)
    part, free = lab[rows, columns], ground[rows, columns]
    local = np.array([[x - columns.start, y - rows.start, w, h]])
    inside = _ellipses(local, 0.7, part.shape[:2])
    if free.sum() < 20 or inside.sum() < 20:
        return None
    one, other = np.median(part[inside], axis=0), np.median(part[free], axis=0)
    if float(np.linalg.norm(one - other)) >= COLOR:
        return CONTRAST
    bright, dim = sorted((_luminance(float(one[0])), _luminance(float(other[0]))), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def _ellipses(things: NDArray[np.float64], grown: float, size: tuple[int, int]) -> Mask:
    """(H, W) the ellipses in the boxes of the things, grown by that factor."""
    import cv2

    out = np.zeros(size, np.uint8)
    for x, y, w, h in things:
        cv2.ellipse(
            out, (round(x), round(y)), (max(1, round(grown * w)), max(1, round(grown * h))), 0, 0, 360, (1,), -1
        )
    return out.astype(bool)


def _luminance(lightness: float) -> float:
    """Relative luminance 0 to 1 of CIE lightness 0 to 100."""
    return ((lightness + 16) / 116) ** 3 if lightness > 8 else lightness / 903.3


def _exposure(shown: Pixels, inside: Mask) -> Iterator[Note]:
    """Things burnt out or drowned in black; things too bright or too dark as a whole."""
    pixels = shown[inside].astype(np.int16)
    if not len(pixels):
        return
    bright = float((pixels.min(axis=1) >= 254).mean())
    dark = float((pixels.max(axis=1) <= 2).mean())
    for name, value in (("bright", bright), ("dark", dark)):
        if value > CLIPPED:
            yield Note(name, value, CLIPPED, (("value", _number(100 * value)), ("limit", _number(100 * CLIPPED))))
    middle = float(np.median(pixels @ np.array([0.299, 0.587, 0.114]))) / 255  # Rec. 601 luma
    ground = float(np.median(shown @ np.array([0.299, 0.587, 0.114]))) / 255
    for name, limit, passed in (
        ("too_dark", DIM, max(middle, ground) < DIM),
        ("too_bright", PALE, min(middle, ground) > PALE),
    ):
        if passed:  # white eggs on a dark table and black boots on snow are as they should be
            yield Note(name, middle, limit, (("value", _number(100 * middle)), ("limit", _number(100 * limit))))

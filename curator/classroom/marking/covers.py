"""Covers: opaque cards; nothing of a covered thing shows and nothing of an uncovered one is hidden.

A plain card with straight edges where a straight line parts the things from the others, else a shape that keeps to the
middle between them. A cover that is not clean says so, and `half` offers the other half instead.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Literal

import numpy as np

from curator.classroom.marking import card_colors, shapes
from curator.classroom.marking.card_colors import DARK, DARK_CARD, LIGHT, Color
from curator.classroom.marking.extents import Floats, Mask, Pixels, around, points, reaches
from curator.classroom.marking.outlines import Labels
from curator.records import Prompt

Polygon = tuple[tuple[float, float], ...]
Witness = Literal["outlines", "boxes", "none"]
Note = Literal["", "shows", "hides", "touch"]
ROOMS = (0.6, 0.3)  # of a thing: how far a card reaches past its things, as far as that hides nothing else: a tip, or
# where a finger begins, is easily left out of an outline
PLAIN = 0.03  # of a thing: a plain card is kinder than a shape, though so much of one is wrong
EXACT, PEEPS = 0.004, 0.04  # of a thing: so much may show, or be hidden, as if nothing were; with more it is seen
GUESSED = 0.1  # of a thing: so much of what is only guessed to be its may be on the wrong side
NEAR, TOUCHING = 3.0, 0.5  # pixels at the working size; sizes of a thing along which the groups lie so near
WAYS = 4  # to choose things for a cover that is not half, each tried until one makes a plain clean card
FINE = (0.03, 0.02, 0.012, 0.006, 0.003)  # of the longer side: corners nearer to a curve than this are left out


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """Opaque cards over some of a picture's things."""

    pieces: tuple[Polygon, ...]  # corners x, y in fractions of the picture's width and height
    mask: Mask  # (H, W) the same as pixels
    color: Color  # of the card, and of the line along its edge
    edge: Color
    members: tuple[int, ...]  # the dots whose things it covers
    straight: bool  # a plain card with straight edges
    clean: bool  # by the outlines: all of every covered thing is hidden, and nothing of the others
    note: Note = ""  # why it is not clean: a covered thing shows, another is hidden; the things touch too much to tell

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, width, height in fractions."""
        at = np.array([corner for piece in self.pieces for corner in piece]).reshape(-1, 2)
        if not len(at):
            return 0.0, 0.0, 0.0, 0.0
        (left, top), (right, bottom) = at.min(axis=0).tolist(), at.max(axis=0).tolist()
        return left, top, right - left, bottom - top


def cover(
    photo: Pixels,
    prompt: Prompt,
    own: Labels,
    members: Collection[int],
    *,
    drawn: bool = False,
    small: Pixels | None = None,
) -> Cover:
    """The cover over these dots' things; drawn: a ten frame, whose cells are covered whole (`frames.cells`).

    small: `card_colors.glanced` of the photo, where it is made already.
    """
    size = (photo.shape[0], photo.shape[1])
    worked = shapes.working(size)
    groups = shapes.parted(own, prompt, members, worked)
    pieces, straight, told_by = _shaped(groups, drawn=drawn)
    told = _fractions(pieces, worked)
    mask = _filled(told, size)
    note = "" if told_by == "boxes" else "touch" if told_by == "none" else _note(groups, _filled(told, worked))
    color = card_colors.beside(card_colors.glanced(photo) if small is None else small, mask)
    return Cover(told, mask, color, LIGHT if color == DARK_CARD else DARK, tuple(members), straight, not note, note)


def _shaped(groups: shapes.Parted, *, drawn: bool) -> tuple[list[Floats], bool, Witness]:
    """The corners of the cover's pieces in pixels; whether they are plain cards; what vouches for them.

    The first card that hides and shows what it should, else a shape that follows the things, else the card that comes
    nearest to it. Where things touch, the line between their boxes tells more than outlines that run into each other.
    """
    if not groups.inside.any():
        return [], False, "outlines"
    if drawn:
        return _corners(groups.inside, 0.0), True, "outlines"
    known = not groups.unsure or (groups.own.any() and not _touching(groups))
    vouched: Witness = "outlines" if known else "none"
    cards: list[Floats] = []
    wrong: list[float] = []
    for cut, card in _plain(groups):
        off = _wrong(groups, [card])
        if off <= EXACT or (cut is not None and cut is groups.between):
            return [card], True, "boxes" if off > EXACT and vouched == "outlines" else vouched
        cards.append(card)
        wrong.append(off)
    shape = _smooth(shapes.about(groups), groups)
    told = "none" if groups.unsure and _touching(groups, whole=True) else vouched
    if cards and min(wrong) <= max(PLAIN if told == vouched else PEEPS, _wrong(groups, shape)):
        return [cards[wrong.index(min(wrong))]], True, vouched
    return shape, False, told


def _plain(groups: shapes.Parted) -> Iterator[tuple[shapes.Cut | None, Floats]]:
    """Cards to try, one after the other: along each line that parts the groups, then boxes about what they hide."""
    for cut in shapes.straights(groups):
        yield cut, _card(groups, cut)
    for own in _held(groups):
        for turn, room in product(_turns(own), ROOMS):
            yield None, _box(groups, turn, own, room)


def _touching(groups: shapes.Parted, *, whole: bool = False) -> bool:
    """Whether the two groups lie against each other for so long that a guess does not tell where each one ends.

    For a straight card what is surely theirs tells, for a shape along their edges all that may be (`whole`).
    """
    one, other = (groups.inside, groups.outside) if whole else (groups.own, groups.other)
    part = around(one, NEAR + 1)
    return bool((shapes.distance(other[part])[one[part]] <= NEAR).sum() / NEAR > TOUCHING * groups.thing)


def half(photo: Pixels, prompt: Prompt, own: Labels, side: int, *, drawn: bool = False) -> tuple[Cover, int]:
    """A clean cover over that side, or over the other one where only that is clean; and the side it covers.

    `clean` is False where neither is: the things overlap, and the lesson does better without a cover.
    """
    small = card_colors.glanced(photo)
    asked = cover(photo, prompt, own, _of(prompt, side), drawn=drawn, small=small)
    if asked.clean:
        return asked, side
    other = cover(photo, prompt, own, _of(prompt, 3 - side), drawn=drawn, small=small)
    return (other, 3 - side) if other.clean else (asked, side)


def _of(prompt: Prompt, side: int) -> list[int]:
    return [i for i, dot in enumerate(prompt.dots) if dot.side == side]


def _card(groups: shapes.Parted, cut: shapes.Cut) -> Floats:
    """The corners (n, 2) x, y of a card along the line, as far as the things reach and a little farther."""
    held = groups.inside if cut.gap >= 0 else groups.own | (groups.inside & ~shapes.beyond(cut, groups.inside.shape))
    at = np.vstack([shapes.ends(held) + 0.5, _box_corners(groups)])
    across, along = np.array([cut.across, cut.down]), np.array([-cut.down, cut.across])
    free = ROOMS[0] * max(groups.thing, _longer(groups))
    near, far = float((at @ across).min()) - free, min(cut.at + 0.5, float((at @ across).max()) + free)
    low, high = float((at @ along).min()) - free, float((at @ along).max()) + free
    corners = np.array([near * across + low * along, near * across + high * along, far * across + high * along,
                        far * across + low * along])  # fmt: skip
    return _framed(corners, groups.inside)


def _box_corners(groups: shapes.Parted) -> Floats:
    """(4 n, 2) x, y of the corners of the boxes of the things: a thing may reach on where its outline ends."""
    x, y, w, h = groups.boxed.T
    return np.concatenate([np.stack([x + i * w, y + j * h], axis=1) for i in (-1, 1) for j in (-1, 1)])


def _longer(groups: shapes.Parted) -> float:
    """The middle length of the things, in pixels."""
    return 2 * float(np.median(groups.boxed[:, 2:].max(axis=1))) if len(groups.boxed) else 0.0


def _held(groups: shapes.Parted) -> list[Mask]:
    """What a box has to hide: what is surely a covered thing's, or all that may be."""
    own = groups.own if groups.own.any() else groups.inside
    return [own, groups.inside] if groups.unsure else [own]


def _turns(own: Mask) -> list[float]:
    """Level, and as the group itself lies: the turns of a box, in radians."""
    import cv2

    angle = float(cv2.minAreaRect(cv2.convexHull(np.asarray(cv2.findNonZero(own.view(np.uint8)))))[2])
    return [0.0, float(np.radians(angle))]


def _box(groups: shapes.Parted, turn: float, own: Mask, room: float) -> Floats:
    """The corners of the box about a group, on each side grown no farther than half way to what lies there."""
    other = groups.outside
    frame = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    at, away = shapes.ends(own) @ frame, points(other) @ frame
    low, high = at.min(axis=0), at.max(axis=0) + 1
    boxed = np.vstack([at, _box_corners(groups) @ frame])
    free = room * max(groups.thing, _longer(groups))
    more, past = low - boxed.min(axis=0) + free, boxed.max(axis=0) - high + free
    grown = []
    for k in (0, 1):
        strip = away[(away[:, 1 - k] > low[1 - k]) & (away[:, 1 - k] < high[1 - k]), k]
        below, above = strip[strip < low[k]], strip[strip > high[k]]
        near = min(more[k], (low[k] - below.max()) / 2) if len(below) else more[k]
        far = min(past[k], (above.min() - high[k]) / 2) if len(above) else past[k]
        grown.append((low[k] - near, high[k] + far))
    (left, right), (top, bottom) = grown
    return _framed(np.array([(left, top), (right, top), (right, bottom), (left, bottom)]) @ frame.T, groups.inside)


def _framed(corners: Floats, picture: Mask) -> Floats:
    """As much of a card as lies in the picture."""
    import cv2

    height, width = picture.shape
    frame = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=np.float32)
    _, part = cv2.intersectConvexConvex(corners.astype(np.float32), frame)
    return np.asarray(part, dtype=np.float64).reshape(-1, 2) if part is not None else corners


def _corners(shape: Mask, fine: float) -> list[Floats]:
    """The corners of a shape's pieces, in pixels; what lies nearer to an edge than `fine` of the longer side is not."""
    import cv2

    found, _ = cv2.findContours(shape.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    eps = max(0.7, fine * max(shape.shape))
    pieces = [cv2.approxPolyDP(line, eps, True).reshape(-1, 2).astype(np.float64) + 0.5 for line in found]
    return [piece for piece in pieces if len(piece) >= 3]


def _filled(pieces: tuple[Polygon, ...], size: tuple[int, int]) -> Mask:
    """(H, W) the pixels of polygons in fractions."""
    import cv2

    out: Pixels = np.zeros(size, np.uint8)
    for piece in pieces:
        at = np.array(piece) * [size[1], size[0]] - 0.5
        cv2.fillPoly(out, [np.round(at * 16).astype(np.int32)], (1,), shift=4)
    return out.astype(bool)


def _smooth(shape: Mask, groups: shapes.Parted) -> list[Floats]:
    """The corners of a shape with as few of them as leave it clean."""
    for fine in FINE:
        pieces = _corners(shape, fine)
        if _wrong(groups, pieces) <= PEEPS / 2:
            break
    return pieces


def _fractions(pieces: list[Floats], size: tuple[int, int]) -> tuple[Polygon, ...]:
    scale = np.array([size[1], size[0]], dtype=np.float64)
    return tuple(tuple((float(x), float(y)) for x, y in (piece / scale).clip(0, 1)) for piece in pieces)


def _wrong(groups: shapes.Parted, pieces: list[Floats]) -> float:
    """Of the thing that is worst off the share that shows though it is covered, or is hidden though it is not."""
    size = (groups.inside.shape[0], groups.inside.shape[1])
    mask = _filled(_fractions(pieces, size), size)
    return max(_shows(groups, mask), _hides(groups, mask))


def _shows(groups: shapes.Parted, mask: Mask) -> float:
    """The largest share of a covered thing that shows; of what is only a guess what goes beyond GUESSED."""
    sure, whole = _sizes(groups)
    guessed = _worst(groups.whole, whole, groups.inside & ~mask) - GUESSED if groups.unsure else 0.0
    return max(_worst(groups.labels, sure, groups.own & ~mask), guessed)


def _hides(groups: shapes.Parted, mask: Mask) -> float:
    """The largest share of another thing that is hidden, likewise."""
    sure, whole = _sizes(groups)
    guessed = _worst(groups.whole, whole, groups.outside & mask) - GUESSED if groups.unsure else 0.0
    return max(_worst(groups.labels, sure, groups.other & mask), guessed)


@lru_cache(maxsize=2)
def _sizes(groups: shapes.Parted) -> tuple[Floats, Floats]:
    """(255,) pixels of what is surely each thing's, and of all that may be; at least 1."""
    sure = np.maximum(_areas(groups.labels), 1)
    return sure, np.maximum(_areas(groups.whole), 1) if groups.unsure else sure


def _worst(labels: Labels, sizes: Floats, part: Mask) -> float:
    """The largest share of any thing that lies in that part."""
    return float((_areas(labels, part) / sizes).max()) if part.any() else 0.0


def _areas(labels: Labels, part: Mask | None = None) -> Floats:
    """(255,) pixels of each thing, in that part; whole numbers. OpenCV takes a fifth of the time of bincount."""
    import cv2

    inside = None if part is None else part.view(np.uint8)
    return np.asarray(cv2.calcHist([labels], [0], inside, [256], [0, 256]), np.float64).ravel()[1:]


def _note(groups: shapes.Parted, mask: Mask) -> Note:
    """What is not clean."""
    if _shows(groups, mask) > PEEPS:
        return "shows"
    return "hides" if _hides(groups, mask) > PEEPS else ""


def stroke(size: tuple[int, int]) -> float:
    """Pixels of a line's edge in a picture of that height and width: on a screen as wide in a small photo as in a large
    one, and in an upright one as in a flat one.
    """
    return max(size[1] / 480, size[0] / 360)


def lay(photo: Pixels, card: Cover) -> Pixels:
    """The picture with the card laid on it, its edge a line of each lightness, all within the mask."""
    import cv2

    out, mask = photo.copy(), card.mask
    line = max(1, round(stroke((mask.shape[0], mask.shape[1]))))
    left, top, width, height = cv2.boundingRect(mask.astype(np.uint8))
    part = out[top : top + height, left : left + width]
    deep = cv2.copyMakeBorder(mask.view(np.uint8), 1, 1, 1, 1, cv2.BORDER_REPLICATE)[
        top : top + height + 2, left : left + width + 2
    ]
    outer = DARK if card.edge == LIGHT else LIGHT
    flat = np.empty_like(part)
    for color, beyond in ((outer, 0), (card.edge, line), (card.color, 2 * line)):
        cv2.rectangle(flat, (0, 0), (width, height), color, -1)
        cv2.copyTo(flat, cv2.erode(deep, _ball(beyond))[1:-1, 1:-1], part)
    return out


@lru_cache(maxsize=8)
def _ball(reach: int) -> Pixels:
    """What lies no farther than that from its middle, as OpenCV's distance transform has it: to take that much off the
    edge of a card needs a fourth of the time.
    """
    import cv2

    place = np.ones((2 * reach + 3,) * 2, np.uint8)
    place[reach + 1, reach + 1] = 0
    return np.asarray(cv2.distanceTransform(place, cv2.DIST_L2, 5) <= reach, np.uint8)


def some(prompt: Prompt, k: int, size: tuple[int, int]) -> list[int]:
    """k neighbouring things, chosen so that a card over them keeps farthest from the others."""
    return neighbours(prompt, k, size)[0]


def neighbours(prompt: Prompt, k: int, size: tuple[int, int]) -> list[list[int]]:
    """Ways to choose k neighbouring things, those that keep farthest from the others first. ValueError for none or
    all.
    """
    counted = [i for i, d in enumerate(prompt.dots) if d.side]
    if not 0 < k < len(counted):
        raise ValueError(f"k: expected 1 to {len(counted) - 1}, got {k}")
    at = reaches(prompt, size)[counted]
    found: dict[tuple[int, ...], float] = {}
    for turn in np.radians(np.arange(0, 360, 30)):
        along = at[:, :2] @ np.array([np.cos(turn), np.sin(turn)]) + 1e-4 * at[:, :2] @ np.array(
            [-np.sin(turn), np.cos(turn)]
        )
        order = np.argsort(along, kind="stable")
        members = tuple(sorted(counted[i] for i in order[:k]))
        found[members] = max(found.get(members, -np.inf), float(along[order[k]] - along[order[k - 1]]))
    return [list(members) for members in sorted(found, key=lambda m: -round(found[m]))]


def over_some(photo: Pixels, prompt: Prompt, own: Labels, k: int, small: Pixels | None = None) -> Cover:
    """A cover over k neighbouring things: of the few ways that keep farthest from the others the first plain clean
    card, else the first clean cover.
    """
    tried: list[Cover] = []
    small = card_colors.glanced(photo) if small is None else small
    for members in neighbours(prompt, k, (photo.shape[0], photo.shape[1]))[:WAYS]:
        tried.append(cover(photo, prompt, own, members, small=small))
        if tried[-1].straight and tried[-1].clean:
            return tried[-1]
    return next((card for card in tried if card.clean), tried[0])

"""What the pixels say for or against a reading: is one half the mirror, or the copy, of the other?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from statistics import median

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from curator.records import Box, Halves, ThingSet
from curator.seeing import set_matching
from curator.seeing.primitives import lattice

PATCH = 24  # side in pixels of the squares compared
WHOLE = 0.95  # of half the usual width: a thing at the edge whose middle is nearer to it is cut
LEAST_LEFT = 0.2  # of a thing inside the photo: less is not compared
SHADE = 10.0  # in L*a*b* (0..255): things of one colour differ by as much through light and noise
PLAIN = 3.0  # deviation of L*a*b* (0..255): a patch with less says nothing
SOFT = 1.2  # deviation, in pixels, of the blur under which looks are compared
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Picture:
    """One picture, uint8 (H, W, 3), and what several readings ask of its pixels, each made once."""

    pixels: Pixels

    def prepare(self) -> None:
        """All of it at once, ahead of who asks."""
        _ = self.soft_lab, self.soft_grey, self.lab

    @cached_property
    def lab(self) -> Pixels:
        """L*a*b* (0..255 each)."""
        import cv2

        return np.asarray(cv2.cvtColor(self.pixels, cv2.COLOR_RGB2LAB), np.uint8)

    @cached_property
    def soft_lab(self) -> NDArray[np.float32]:
        """L*a*b* of the blurred picture, -128..127 each: sums of squares near the middle of the range stay exact."""
        import cv2

        lab = cv2.cvtColor(cv2.GaussianBlur(self.pixels, (0, 0), SOFT), cv2.COLOR_RGB2LAB)
        return np.asarray(lab, np.float32) - np.float32(128)

    @cached_property
    def grey(self) -> Pixels:
        """Lightness, uint8 (H, W)."""
        import cv2

        return np.asarray(cv2.cvtColor(self.pixels, cv2.COLOR_RGB2GRAY), np.uint8)

    @cached_property
    def soft_grey(self) -> NDArray[np.float32]:
        """Blurred lightness, 0..255."""
        import cv2

        return np.asarray(cv2.GaussianBlur(self.grey, (0, 0), SOFT), np.float32)


def _patches(grey: NDArray[np.float32], things: ThingSet, members: tuple[int, ...]) -> list[NDArray[np.float32]]:
    """A square of PATCH pixels around each thing, 1.3 times its larger side."""
    import cv2

    found = []
    for i in members:
        box, (row, col) = things.things[i].box, things.things[i].center
        side = max(4, int(1.3 * max(box.height, box.width)))
        patch = cv2.getRectSubPix(grey, (side, side), (float(col), float(row)))
        found.append(cv2.resize(patch, (PATCH, PATCH), interpolation=cv2.INTER_AREA))
    return found


def _turned(patch: NDArray[np.float32], halves: Halves) -> NDArray[np.float32]:
    """The patch as its partner should look: mirrored over the line, turned by half, or as it is."""
    import cv2

    if halves.kind == "turn":
        return np.ascontiguousarray(patch[::-1, ::-1])
    if halves.kind != "flip":
        return patch
    along = halves.line[1] - halves.line[0]
    angle = float(np.arctan2(along[0], along[1]))  # of the axis against the columns' direction
    c, s = np.cos(2 * angle), np.sin(2 * angle)
    half = (PATCH - 1) / 2
    matrix = np.array([[c, s, half - c * half - s * half], [s, -c, half - s * half + c * half]])
    return np.asarray(cv2.warpAffine(patch, matrix, (PATCH, PATCH), borderMode=cv2.BORDER_REPLICATE))


def _correlation(a: NDArray[np.float32], b: NDArray[np.float32]) -> float:
    a, b = (a - a.mean()).ravel(), (b - b.mean()).ravel()
    size = math.sqrt(float(a @ a) * float(b @ b))
    return float(a @ b) / size if size > 1e-3 else 0.0


def partners_alike(picture: Picture, things: ThingSet, halves: Halves) -> float:
    """Mean correlation of partners' gradients after the motion, 0 to 1 (0.5 is unrelated)."""
    one, other = (_patches(picture.soft_grey, things, members) for members in (halves.one, halves.other))
    scores = [_correlation(_turned(a, halves), b) for a, b in zip(one, other, strict=True)]
    return float(np.clip(0.5 + 0.5 * np.mean(scores), 0, 1)) if scores else 0.5


def mirror_on_pixels(picture: Picture, halves: Halves, things: ThingSet) -> float:
    """How well the region of the things mirrors over the line: correlation of gradient sizes, 0 to 1 (0.5 is
    unrelated).

    After the published finding that gradient histograms rank a given axis nearly as well as deep features
    (0.80 against 0.83 in one comparison of thirteen scorers).
    """
    import cv2

    boxes = things.boxes
    centre = (boxes[:, :2].min(axis=0) + boxes[:, 2:].max(axis=0)) / 2
    reach = float((boxes[:, 2:].max(axis=0) - boxes[:, :2].min(axis=0)).max()) / 2 * 1.1 + 4
    along = halves.line[1] - halves.line[0]
    along = along / (np.linalg.norm(along) or 1.0)
    normal = np.array([along[1], -along[0]])
    middle = centre + normal * ((halves.line[0] - centre) @ normal)
    size = 64
    step = 2 * reach / size
    # rows of the new picture run along the axis, columns across it, the axis in the middle
    matrix = np.array([[step * normal[1], step * along[1], 0.0], [step * normal[0], step * along[0], 0.0]])
    matrix[0, 2] = middle[1] - matrix[0, :2].sum() * (size - 1) / 2
    matrix[1, 2] = middle[0] - matrix[1, :2].sum() * (size - 1) / 2
    grey, corner = _softened(picture.grey, middle, reach * (np.abs(along) + np.abs(normal)), max(0.8, step / 2))
    matrix[:, 2] -= corner[::-1]
    view = cv2.warpAffine(
        grey, matrix, (size, size), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    )
    dx, dy = cv2.Sobel(view, cv2.CV_32F, 1, 0), cv2.Sobel(view, cv2.CV_32F, 0, 1)
    mirrored = np.stack([-dx[:, ::-1], dy[:, ::-1]])
    return float(np.clip(0.5 + 0.5 * _correlation(np.stack([dx, dy]), mirrored), 0, 1))


def _softened(
    grey: Pixels, middle: NDArray[np.float64], reach: NDArray[np.float64], deviation: float
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """What lies within `reach` (rows, columns) of the middle, blurred; and its corner."""
    import cv2

    room = reach + 4 * deviation + 3  # the blur looks four deviations far
    limits = np.array(grey.shape)
    low = np.clip(np.floor(middle - room), 0, limits - 1).astype(int)
    high = np.clip(np.ceil(middle + room), low + 1, limits).astype(int)
    part = grey[low[0] : high[0], low[1] : high[1]].astype(np.float32)
    return np.asarray(cv2.GaussianBlur(part, (0, 0), deviation), np.float32), low.astype(np.float64)


def line_clears(things: ThingSet, split: Halves) -> float:
    """How far the dividing line keeps from the nearest thing's centre, in half widths of that thing, at most 1; below
    about a half it runs through one.

    A thing's width is that of its box across the line, for a long thing may lie along it, and at most the mean of its
    sides.
    """
    start, end = split.line
    along = (end - start) / max(1e-9, float(np.linalg.norm(end - start)))
    across = np.array([along[1], -along[0]])
    away = np.abs((things.centers - start) @ across)
    sides = things.boxes[:, 2:] - things.boxes[:, :2]
    half = 0.5 * np.minimum(sides @ np.abs(across), things.widths)
    own = sorted((*split.one, *split.other))
    return float(min(1.0, (away[own] / half[own]).min())) if own else 1.0


def oddest(picture: Picture, things: ThingSet) -> float:
    """How much further the most different thing's colour lies from the usual one than the next one's: about 1 where
    none stands out.

    Colour: mean L*a*b* (0..255 each) in the middle of the thing's box. An empty cup among eggs stands out alone;
    things of many
    colours differ all together. 0 for fewer than three things.
    """
    if len(things) < 3:
        return 0.0
    looks = np.array([_colour(picture.lab, t.box, t.center) for t in things.things], dtype=np.float64)
    away = np.sort(np.linalg.norm(looks - np.median(looks, axis=0), axis=1))
    return float(away[-1] / (away[-2] + SHADE))


def _colour(lab: Pixels, box: Box, center: tuple[float, float]) -> tuple[float, ...]:
    import cv2

    row, col, high, wide = (
        round(center[0]),
        round(center[1]),
        max(1, round(0.3 * box.height)),
        max(1, round(0.3 * box.width)),
    )
    return tuple(cv2.mean(lab[max(0, row - high) : row + high + 1, max(0, col - wide) : col + wide + 1])[:3])


def one_gap(things: ThingSet) -> bool:
    """Whether the things fill a lattice of rows and columns but for one place: the one that is missing may be there
    after all.

    An even number that lacks one has an odd number of rows and of columns (an empty middle would still leave two
    halves); an
    odd number may lack one of an even one.
    """
    grid = lattice.fit(things.centers, crossings=len(things) + 1)
    return grid is not None and bool(grid.good.all()) and len(grid.gaps) == 1


def cut_off(things: ThingSet) -> float:
    """Share of the things that the photo's edge cuts: they touch it, and their middle lies nearer to it than half the
    others' width.

    Boxes are rough, so a thing as wide as the others is whole though its box touches the edge; where fewer than four
    things, or
    most of them, touch it there is no such measure and all that touch count.
    """
    boxes, limits = things.boxes, np.array(things.size, dtype=np.float64)
    touching = set_matching.touching(things)
    free = ~touching.any(1)
    if len(things) < 4 or free.mean() < 0.5:
        return float(1 - free.mean())
    usual = np.median((boxes[:, 2:] - boxes[:, :2])[free], axis=0) / 2
    room = np.column_stack([things.centers / usual, (limits - things.centers) / usual])
    return float((touching & (room < WHOLE)).any(1).mean())


def goes_on(picture: Picture, things: ThingSet) -> tuple[float, float]:
    """Whether a row of three or more goes on: how much of the looks of its last thing its next place repeats, where
    the edge cuts that place, and where it does not.

    The largest coefficient of determination of each sort, 0 to 1: 1 is the same in L*a*b*, 0 no nearer to it than a
    plain patch of
    its mean colour; 0 where there is no such place.
    """
    looks = [(_as_last(picture.soft_lab, own, next_one), whole) for own, next_one, whole in _nexts(things)]
    return max((look for look, whole in looks if not whole), default=0.0), max(
        (look for look, whole in looks if whole), default=0.0
    )


def goes_on_inside(picture: Picture, things: ThingSet, least: float) -> bool:
    """Whether `goes_on` has more than `least` where the edge does not cut the next place."""
    return any(whole and _as_last(picture.soft_lab, own, next_one) > least for own, next_one, whole in _nexts(things))


def _nexts(things: ThingSet) -> list[tuple[Box, Box, bool]]:
    """What `_left_of` says of each place where a row's next thing would be."""
    found = (
        _left_of(things.things[last].box, place - things.centers[last], things.size)
        for place, last in _next_places(things.centers)
    )
    return [one for one in found if one]


def _next_places(centers: NDArray[np.float64]) -> Iterator[tuple[NDArray[np.float64], int]]:
    """Where a row's next thing would be, and which thing is its last: one step on from each three in a line, if
    nothing is there.

    One place in the line may be empty, as where a door stands among windows.
    """
    n = len(centers)
    if n < 3:
        return
    apart = cdist(centers, centers) + np.diag(np.full(n, np.inf))
    nearest = apart.min(1)
    last = np.repeat(np.arange(n), min(4, n - 1))
    before = np.argsort(apart, axis=1)[:, : min(4, n - 1)].ravel()
    step, length = centers[last] - centers[before], apart[last, before]
    ahead, behind, further = (
        cdist(places, centers).min(1)
        for places in (centers[last] + step, centers[before] - step, centers[before] - 2 * step)
    )
    ends = (
        (length <= 1.6 * np.maximum(nearest[last], median(nearest.tolist())))
        & (ahead >= 0.5 * length)
        & (np.minimum(behind, further) <= 0.35 * length)
    )
    yield from zip(centers[last[ends]] + step[ends], last[ends].tolist(), strict=True)


def _left_of(box: Box, step: NDArray[np.float64], size: tuple[int, int]) -> tuple[Box, Box, bool] | None:
    """What a photo of `size` leaves of the box moved by `step`, after the same part of the box where it is, and
    whether that is all; None where too little is left.
    """
    down, right = (round(float(v)) for v in step)
    top, left = max(0, box.top + down), max(0, box.left + right)
    bottom, far = min(size[0], box.bottom + down), min(size[1], box.right + right)
    inside = max(0, bottom - top) * max(0, far - left) / (box.height * box.width)
    if inside < LEAST_LEFT or min(bottom - top, far - left) < 4:
        return None
    return Box(top - down, left - right, bottom - down, far - right), Box(top, left, bottom, far), inside >= 0.98


def _as_last(lab: NDArray[np.float32], own: Box, next_one: Box) -> float:
    """How much of the looks of one box lies in the other, give or take a seventh of its size."""
    import cv2

    part = lab[own.top : own.bottom, own.left : own.right]
    spread = float((cv2.meanStdDev(part)[1] ** 2).sum())
    if spread < PLAIN**2:
        return 0.0
    down, right = max(2, own.height // 7), max(2, own.width // 7)
    around = lab[
        max(0, next_one.top - down) : next_one.bottom + down, max(0, next_one.left - right) : next_one.right + right
    ]
    apart = float(cv2.matchTemplate(around, part, cv2.TM_SQDIFF).min()) / (own.height * own.width)
    return max(0.0, 1 - apart / spread)

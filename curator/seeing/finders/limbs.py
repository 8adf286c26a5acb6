"""What sticks out of one body: fingers, legs, petals; the body's own axis; thin feelers left out."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.clues import Clues
from curator.records import Thing, ThingSet
from curator.seeing.primitives import stable_regions as rg
from curator.seeing.view import View

SHARES = (0.2, 0.28, 0.36, 0.45, 0.54, 0.63)  # of the body's radius: limbs narrower than twice this are cut off
LEAST = 6  # pixels: a smaller piece is no limb
Mask = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
    """A silhouette cut to its box, where its corner lies, and how large the picture is."""

    mask: Mask
    corner: tuple[int, int]
    frame: tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class _Limb:
    """A piece that sticks out: far end, distance of that from the body, half-width, the body's radius, its box."""

    tip: tuple[float, float]
    middle: tuple[float, float]
    length: float
    half: float
    radius: float
    box: tuple[int, int, int, int]


def find(view: View) -> list[ThingSet]:
    """Candidate sets of limbs of one body, or of several like bodies, best first.

    Limbs are what falls off when the silhouette is opened with discs of growing size; the number that stays the same
    over many sizes is the most believed, more so where the outline's peaks and its convexity defects agree. What
    reaches the picture's edge (a wrist) is no limb.
    """
    found: list[ThingSet] = []
    for mask in silhouettes(view.small):
        whole = _bodies(mask)
        if whole:
            found += _of_bodies(whole, view.back, view.size)
    kept: list[ThingSet] = []
    for things in sorted(found, key=lambda s: -s.support):
        if all(len(k) != len(things) for k in kept):
            kept.append(things)
    return kept[:5]


def silhouettes(small: NDArray[np.uint8]) -> list[Mask]:
    """What is unlike the picture's rim, cut at Otsu's level and, where that gives another picture, further out."""
    lab = cv2.cvtColor(cv2.bilateralFilter(small, 5, 40, 5), cv2.COLOR_RGB2LAB).astype(np.float32)
    ground = cv2.GaussianBlur(rg.ground_distance(lab), (0, 0), 0.8)
    level, _ = cv2.threshold(ground, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    tight, wide = ((ground > cut).astype(np.uint8) for cut in (level, 0.6 * level))
    return [tight, wide] if cv2.countNonZero(wide) > 1.02 * cv2.countNonZero(tight) else [tight]


def _bodies(mask: Mask) -> list[_Body]:
    """The largest piece and those of at least half its size, small holes filled; none where it fills the picture."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8, ltype=cv2.CV_16U)
    areas = stats[1:, 4]
    if not len(areas) or not 0.03 < areas.max() / mask.size < 0.7:
        return []
    found = []
    for i in 1 + np.flatnonzero(areas > 0.5 * areas.max())[:4]:
        left, top, width, height, _ = (int(v) for v in stats[i])
        rows, cols = slice(max(0, top - 2), top + height + 2), slice(max(0, left - 2), left + width + 2)
        found.append(
            _Body(
                _filled((labels[rows, cols] == i).astype(np.uint8)),
                (rows.start, cols.start),
                (mask.shape[0], mask.shape[1]),
            )
        )
    return found


def _filled(body: Mask) -> Mask:
    """Holes smaller than a hundredth of the body closed; larger ones (a loop of two legs) stay open."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(1 - body, connectivity=4, ltype=cv2.CV_16U)
    little = stats[:, 4] < 0.01 * cv2.countNonZero(body)
    little[0] = False
    if not little.any():
        return body
    closed: Mask = body | little.astype(np.uint8)[labels]
    return closed


def _of_bodies(bodies: list[_Body], back: float, size: tuple[int, int]) -> list[ThingSet]:
    """Sets for every number of limbs that more than one opening gives; of several bodies the limbs are put together."""
    counts = [_counts(body) for body in bodies]
    found: list[ThingSet] = []
    together = _together(counts) if len(bodies) > 1 else []
    if together:
        alike = _alike(together)
        clues = Clues(votes=0.8, two_bodies=len(bodies) == 2)
        found.append(_as_set(together, alike, 0.45 + 0.3 * alike, back, size, clues))
    offered = [(votes, limbs) for n, (votes, limbs) in counts[0].items() if votes >= 2 and 2 <= n <= 24]
    if not offered:
        return found
    look = _outline(bodies[0].mask)
    trust = min(1.0, max(0.35, (0.95 - look[2]) / 0.2)) * (0.6 if together else 1.0)  # a box with bumps fills its hull
    axis = mirror_axis(bodies[0])
    for votes, limbs in offered:
        found += _offers(limbs, votes, look, axis, trust, back, size)
    return found


def _together(counts: list[dict[int, tuple[int, list[_Limb]]]]) -> list[_Limb]:
    """The limbs of several bodies, where each body has the same number of them by most openings; else none."""
    every = [max(c.values(), key=lambda v: v[0])[1] for c in counts if c]
    if len(every) < len(counts) or len({len(limbs) for limbs in every}) > 1:
        return []
    limbs = list(itertools.chain.from_iterable(every))
    return limbs if 2 * len(counts) <= len(limbs) <= 24 else []


def _counts(body: _Body) -> dict[int, tuple[int, list[_Limb]]]:
    """For each number of limbs: how many openings give it, and the limbs of the middle one of them."""
    distance = cv2.distanceTransform(body.mask, cv2.DIST_L2, 3)
    radius = float(distance.max())
    seen: dict[int, list[list[_Limb]]] = {}
    for share in SHARES:
        if share * radius >= 1.0:
            limbs = _cut_off(body, distance, share * radius, radius)
            seen.setdefault(len(limbs), []).append(limbs)
    return {n: (len(lists), lists[len(lists) // 2]) for n, lists in seen.items() if n}


def _cut_off(body: _Body, distance: NDArray[np.float32], reach: float, radius: float) -> list[_Limb]:
    """The pieces that an opening with a disc of radius `reach` takes off, long enough to be limbs."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(
        (distance > reach).astype(np.uint8), connectivity=8, ltype=cv2.CV_16U
    )
    if len(stats) < 2:
        return []
    other = (labels != 1 + int(stats[1:, 4].argmax())).astype(np.uint8)
    away = cv2.distanceTransform(other, cv2.DIST_L2, 3)
    rest = cv2.bitwise_and((away > reach + 1.2).astype(np.uint8), body.mask)
    _, labels, stats, centres = cv2.connectedComponentsWithStats(rest, connectivity=8, ltype=cv2.CV_16U)
    limbs = (
        _limb(body, labels, i, stats[i], centres[i], (away, distance), reach, radius)
        for i in (1 + np.flatnonzero(stats[1:, 4] >= LEAST)).tolist()
    )
    return [limb for limb in limbs if limb is not None]


def _limb(
    body: _Body,
    labels: NDArray[np.uint16],
    i: int,
    stats: NDArray[np.int32],
    centre: NDArray[np.float64],
    fields: tuple[NDArray[np.float32], NDArray[np.float32]],
    reach: float,
    radius: float,
) -> _Limb | None:
    """Piece i as a limb; None where it is a bump, or reaches the picture's edge."""
    left, top, width, height, _ = stats.tolist()
    row, col = top + body.corner[0], left + body.corner[1]
    if min(row, col) <= 1 or row + height >= body.frame[0] - 1 or col + width >= body.frame[1] - 1:
        return None
    part = (slice(top, top + height), slice(left, left + width))
    mask = labels[part] == i
    reached = np.where(mask, fields[0][part], 0)
    far = int(reached.argmax())
    length, half = float(reached.flat[far]) - reach, float(np.where(mask, fields[1][part], 0).max())
    if length <= max(0.4 * radius, 1.1 * half):
        return None
    tip = (float(row + far // width), float(col + far % width))
    middle = (float(centre[1]) + body.corner[0], float(centre[0]) + body.corner[1])
    return _Limb(tip, middle, length, half, radius, (row, col, row + height, col + width))


def _alike(limbs: list[_Limb]) -> float:
    lengths = np.array([limb.length for limb in limbs])
    return float(np.exp(-1.2 * lengths.std() / lengths.mean()))


def _offers(
    limbs: list[_Limb],
    votes: int,
    outline: tuple[int, int, float],
    mirror: tuple[NDArray[np.float64], float],
    trust: float,
    back: float,
    size: tuple[int, int],
) -> list[ThingSet]:
    """All limbs; the same without the short ones; the same without those at the ends of the body's axis."""
    axis, mirrored = mirror
    n = len(limbs)
    agree = (int(outline[0] in (n, n + 1)) + int(outline[1] in (n - 1, n, n + 1))) / 2
    few = {2: 0.6, 3: 0.85}  # two or three bumps are found on most outlines

    def offer(chosen: list[_Limb], off: list[_Limb], more: float) -> ThingSet:
        alike = _alike(chosen)
        long = min(1.0, float(np.median([limb.length / limb.radius for limb in chosen])) / 0.9)
        support = (0.14 + 0.06 * votes + 0.18 * agree + 0.15 * alike + more) * few.get(len(chosen), 1.0) * trust * long
        clues = Clues(votes=min(1.0, votes / 5))
        return _as_set(chosen, alike, support, back, size, clues, axis=axis, aside=off)

    found = [offer(limbs, [], 0.0)]
    for rest, off, unlike in (_without_small(limbs), _without_ends(limbs, axis)):
        if off and len(rest) >= 2:
            found.append(offer(rest, off, 0.08 if unlike and mirrored > 0.75 and len(rest) % 2 == 0 else -0.16))
    return found


def _without_small(limbs: list[_Limb]) -> tuple[list[_Limb], list[_Limb], bool]:
    """Parted at the widest step in length, where the next is at most 0.62 as long; plainly so at 0.5."""
    order = sorted(limbs, key=lambda limb: -limb.length)
    steps = [order[i + 1].length / order[i].length for i in range(len(order) - 1)]
    if not steps or min(steps) > 0.62:
        return limbs, [], False
    at = int(np.argmin(steps)) + 1
    return order[:at], order[at:], min(steps) < 0.5 and at > len(limbs) // 2


def _without_ends(limbs: list[_Limb], axis: NDArray[np.float64]) -> tuple[list[_Limb], list[_Limb], bool]:
    """Without the one or two at the axis' ends (feelers, a head, a tail); whether they are unlike the rest."""
    along = (axis[1] - axis[0]) / (np.linalg.norm(axis[1] - axis[0]) or 1.0)
    middle = axis.mean(axis=0)
    away = [np.array(limb.middle) - middle for limb in limbs]
    off = [limb for limb, d in zip(limbs, away, strict=True) if abs(float(d @ along)) > 0.9 * float(np.hypot(*d))]
    rest = [limb for limb in limbs if limb not in off]
    if not 1 <= len(off) <= 2 or len(rest) < 2:
        return limbs, [], False
    sizes = [float(np.median([getattr(limb, what) for limb in rest])) for what in ("length", "half")]
    ratios = [min(limb.length / sizes[0], limb.half / sizes[1]) for limb in off]
    return rest, off, max(ratios) < 0.75


def mirror_axis(body: _Body) -> tuple[NDArray[np.float64], float]:
    """The line over which the silhouette mirrors best, (2, 2) row, col ends, and the share that coincides (0 to 1)."""
    rows, cols = np.nonzero(body.mask)
    centre = (float(cols.mean()), float(rows.mean()))
    reach = float(np.hypot(rows - centre[1], cols - centre[0]).max())
    side = 96
    scale = side / 2 / (reach + 1)
    to = np.array([[scale, 0, side / 2 - scale * centre[0]], [0, scale, side / 2 - scale * centre[1]]])
    patch = cv2.warpAffine(body.mask * 255, to, (side, side))
    best, score = 0.0, -1.0
    for angle in np.arange(0, 180, 6.0):
        turned = cv2.warpAffine(patch, cv2.getRotationMatrix2D((side / 2, side / 2), angle, 1), (side, side)) > 127
        same = turned[:, 1:] & turned[:, :0:-1]
        both, of_all = int(np.count_nonzero(same)), int(np.count_nonzero(turned))
        share = 2 * both / max(1, of_all + both)
        if share > score:
            best, score = float(angle), float(share)
    turn = np.radians(best)  # the axis is upright in the turned patch
    direction = np.array([np.cos(turn), -np.sin(turn)])
    middle = np.array([centre[1] + body.corner[0], centre[0] + body.corner[1]])
    return np.stack([middle - reach * direction, middle + reach * direction]), min(1.0, score)


def _outline(body: Mask) -> tuple[int, int, float]:
    """Two other counts from the outline (peaks away from the middle, deep convexity defects) and its solidity."""
    contours, _ = cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    contour = max(contours, key=len)
    distance = cv2.distanceTransform(body, cv2.DIST_L2, 3)
    radius = float(distance.max())
    row, col = np.unravel_index(int(distance.argmax()), distance.shape)
    away = np.hypot(contour[:, 0, 1] - float(row), contour[:, 0, 0] - float(col))
    hull = cv2.contourArea(cv2.convexHull(contour))
    return _peaks(away, radius), _defects(contour, radius), cv2.contourArea(contour) / max(1.0, hull)


def _peaks(away: NDArray[np.float64], radius: float) -> int:
    """Maxima of a closed profile that rise by 0.45 of the body's radius."""
    return risen(np.roll(away, -int(away.argmin())), 0.45 * radius)


def risen(profile: NDArray[np.float64], least: float) -> int:
    """How many inner maxima of a profile, level ones too, are at least so prominent: as high above the higher of the
    lowest places on both sides, each sought as far as the next higher maximum.

    What scipy's `find_peaks` counts, whose import takes longer than looking at a photo.
    """
    values = profile[np.append(True, profile[1:] != profile[:-1])]
    up = values[1:] > values[:-1]
    peaks = np.flatnonzero(up[:-1] & ~up[1:]) + 1
    if not len(peaks):
        return 0
    lows = np.minimum.reduceat(values, np.append(0, peaks))  # before, between and after the peaks
    heights = values[peaks].tolist()
    before, after = _lowest(heights, lows[:-1].tolist()), _lowest(heights[::-1], lows[:0:-1].tolist())[::-1]
    return sum(h - max(low, other) >= least for h, low, other in zip(heights, before, after, strict=True))


def _lowest(heights: list[float], lows: list[float]) -> list[float]:
    """The lowest place between each peak and the last higher one before it; `lows` are those between neighbours."""
    higher: list[tuple[float, float]] = []  # peaks that hide none behind them, and the lowest place before each
    found = []
    for height, low in zip(heights, lows, strict=True):
        while higher and higher[-1][0] <= height:
            low = min(low, higher.pop()[1])
        higher.append((height, low))
        found.append(low)
    return found


def _defects(contour: NDArray[np.int32], radius: float) -> int:
    """Convexity defects deeper than half a body radius."""
    try:
        hull = cv2.convexHull(contour, returnPoints=False)
        hull[::-1].sort(axis=0)
        defects = cv2.convexityDefects(contour, hull)
    except cv2.error:  # an outline that crosses itself
        return 0
    return 0 if defects is None else int((defects.reshape(-1, 4)[:, 3] / 256 > 0.5 * radius).sum())


def _as_set(
    limbs: list[_Limb],
    alike: float,
    support: float,
    back: float,
    size: tuple[int, int],
    clues: Clues,
    *,
    axis: NDArray[np.float64] | None = None,
    aside: list[_Limb] | None = None,
) -> ThingSet:
    far = None if axis is None else axis * back
    things = tuple(_as_thing(limb, back, size, alike) for limb in limbs)
    left_out = tuple(_as_thing(limb, back, size, alike) for limb in aside or ())
    return ThingSet(things, size, "limbs", alike, left_out, far, float(np.clip(support, 0, 1)), clues)


def _as_thing(limb: _Limb, back: float, size: tuple[int, int], alike: float) -> Thing:
    return Thing(rg.enlarged(limb.box, back, size), (limb.middle[0] * back, limb.middle[1] * back), alike)

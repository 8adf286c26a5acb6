"""Things -> candidate halves, from the points alone; never looks at pixels.

A straight line cuts the things into two groups of the same number; each such cut is tried as a flip (mirror, also one
seen at a slant), a slide (two rows, also one further back), a turn (half turn) and a split (two groups apart).
Partners are found by optimal assignment and the motion is refitted to them by least squares.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import Halves, Kind, ThingSet

Array = NDArray[np.float64]
Motion = Callable[[Array], Array]
MOST = 64  # more things than this are never cut: no class counts them
ANGLES = np.linspace(0, np.pi, 24, endpoint=False)
RANDOM_MISFIT = {"flip": 0.36, "slide": 0.40, "turn": 0.38, "split": 1.0}
"""Root mean square misfit, in spacings, of the best fit to as many random dots (own simulation, tests/test_halves.py)."""


class _Cut(NamedTuple):
    one: tuple[int, ...]
    other: tuple[int, ...]
    line: Array
    apart: float


def spacing(points: Array) -> float:
    """Median distance to the nearest neighbour; 1 for fewer than two points."""
    if len(points) < 2:
        return 1.0
    apart = cdist(points, points)
    np.fill_diagonal(apart, np.inf)
    return max(1e-6, float(np.median(apart.min(axis=1))))


def _directions(points: Array) -> Array:
    """Angles worth cutting across: an even fan, the principal axes, and the directions to nearest neighbours."""
    centred = points - points.mean(axis=0)
    axes = np.linalg.svd(centred, full_matrices=False)[2]
    own = [math.atan2(v[0], v[1]) for v in axes]
    apart = cdist(points, points)
    np.fill_diagonal(apart, np.inf)
    step = points[apart.argmin(axis=1)] - points
    near = math.atan2(*_mean_direction(step))
    return np.concatenate([ANGLES, own, [near, near + np.pi / 2]])


def _mean_direction(steps: Array) -> tuple[float, float]:
    """Mean axis (row, col) of vectors whose sign and quarter turns do not matter."""
    angle = np.arctan2(steps[:, 0], steps[:, 1]) * 4
    mean = math.atan2(float(np.sin(angle).mean()), float(np.cos(angle).mean())) / 4
    return math.sin(mean), math.cos(mean)


def _cuts(points: Array) -> list[_Cut]:
    """Every different way to cut the points into equal groups by a straight line, widest gap first."""
    n = len(points)
    found: dict[tuple[int, ...], tuple[float, Array]] = {}
    for angle in _directions(points):
        normal = np.array([math.sin(angle), math.cos(angle)])
        along = points @ normal
        order = np.argsort(along, kind="stable")
        low, high = along[order[n // 2 - 1]], along[order[n // 2]]
        if high - low <= 1e-9:
            continue
        one = tuple(sorted(int(i) for i in order[: n // 2]))
        key = one if 0 in one else tuple(sorted(set(range(n)) - set(one)))
        gap = float(high - low)
        if key in found and found[key][0] >= gap:
            continue
        middle = points.mean(axis=0)
        middle = middle + normal * ((low + high) / 2 - middle @ normal)
        reach = float(np.abs((points - middle) @ np.array([normal[1], -normal[0]])).max()) + gap / 2
        ends = np.stack([middle + reach * np.array([normal[1], -normal[0]]), middle - reach * np.array([normal[1], -normal[0]])])
        found[key] = (gap, ends)
    cuts = []
    for key, (_, ends) in found.items():
        other = tuple(sorted(set(range(n)) - set(key)))
        cuts.append(_Cut(key, other, ends, _apart(points, key, other)))
    return sorted(cuts, key=lambda cut: -cut.apart)


def _longest_link(points: Array) -> float:
    """Longest edge of the minimum spanning tree: the largest step inside a group; 0 for a single point."""
    if len(points) < 2:
        return 0.0
    apart = cdist(points, points)
    reached, longest = {0}, 0.0
    best = apart[0].copy()
    while len(reached) < len(points):
        best[list(reached)] = np.inf
        nearest = int(best.argmin())
        longest = max(longest, float(best[nearest]))
        reached.add(nearest)
        best = np.minimum(np.where(np.isinf(best), np.inf, best), apart[nearest])
    return longest


def _apart(points: Array, one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """Smallest distance between the groups over the largest step within either; 0 where a group is one point."""
    between = float(cdist(points[list(one)], points[list(other)]).min())
    within = max(_longest_link(points[list(one)]), _longest_link(points[list(other)]))
    return between / within if within > 0 else 0.0


# Motions: each fits to partners p -> q and returns the motion with how many numbers it was free to choose.


def _slide(p: Array, q: Array) -> tuple[Motion, int]:
    step = (q - p).mean(axis=0)
    return (lambda x: x + step), 2


def _slide_back(p: Array, q: Array) -> tuple[Motion, int]:
    """A row further back is shorter: its steps along and across are scaled, never turned far (affine, bounded)."""
    mean_p, mean_q = p.mean(axis=0), q.mean(axis=0)
    step = mean_q - mean_p
    across = step / (np.linalg.norm(step) or 1.0)
    along = np.array([across[1], -across[0]])
    a, b = (p - mean_p) @ along, (q - mean_q) @ along
    scale = float(np.clip((a @ b) / max(a @ a, 1e-9), 0.6, 1.7))
    lean = float(np.clip(((q - mean_q) @ across - (p - mean_p) @ across) @ a / max(a @ a, 1e-9), -0.35, 0.35))

    def motion(x: Array) -> Array:
        u, v = (x - mean_p) @ along, (x - mean_p) @ across
        moved: Array = mean_q + np.outer(u * scale, along) + np.outer(v + lean * u, across)
        return moved

    return motion, 4


def _flip(p: Array, q: Array) -> tuple[Motion, int]:
    """Mirror: the axis is fitted to the midpoints and the partners' common direction."""
    steps = q - p
    across = steps.sum(axis=0)
    across = across / (np.linalg.norm(across) or 1.0)
    middle = float((((p + q) / 2) @ across).mean())

    def motion(x: Array) -> Array:
        moved: Array = x + np.outer(2 * (middle - x @ across), across)
        return moved

    return motion, 2


def _flip_slant(p: Array, q: Array) -> tuple[Motion, int]:
    """A mirror seen at a slant: partners step in one direction, midpoints lie on a line that need not be square to it."""
    across = (q - p).sum(axis=0)
    across = across / (np.linalg.norm(across) or 1.0)
    along = np.array([across[1], -across[0]])
    mids = (p + q) / 2
    u, v = mids @ along, mids @ across
    slope = 0.0
    if len(p) >= 3 and np.ptp(u) > 1e-6:
        slope = float(np.clip(np.polyfit(u, v, 1)[0], -0.5, 0.5))
    base = float((v - slope * u).mean())

    def motion(x: Array) -> Array:
        moved: Array = x + np.outer(2 * (slope * (x @ along) + base - x @ across), across)
        return moved

    return motion, 3


def _turn(p: Array, q: Array) -> tuple[Motion, int]:
    centre = (p.mean(axis=0) + q.mean(axis=0)) / 2
    return (lambda x: 2 * centre - x), 2


MOTIONS: tuple[tuple[Kind, Callable[[Array, Array], tuple[Motion, int]]], ...] = (
    ("slide", _slide), ("slide", _slide_back), ("flip", _flip), ("flip", _flip_slant), ("turn", _turn),
)  # fmt: skip


def _first_partners(points: Array, cut: _Cut, kind: Kind) -> tuple[Array, Array]:
    """Partners to begin from: the cut's own mirror, the step between the groups' means, or the half turn."""
    p, q = points[list(cut.one)], points[list(cut.other)]
    if kind == "slide":
        guess = p + (q.mean(axis=0) - p.mean(axis=0))
    elif kind == "turn":
        guess = (p.mean(axis=0) + q.mean(axis=0)) - p
    else:
        along = cut.line[1] - cut.line[0]
        normal = np.array([along[1], -along[0]]) / (np.linalg.norm(along) or 1.0)
        guess = p - np.outer(2 * ((p - cut.line[0]) @ normal), normal)
    mine, theirs = linear_sum_assignment(cdist(guess, q, "sqeuclidean"))
    return mine, theirs


def _refit(points: Array, cut: _Cut, kind: Kind, fitter: Callable[[Array, Array], tuple[Motion, int]]) -> Halves:
    p, q = points[list(cut.one)], points[list(cut.other)]
    mine, theirs = _first_partners(points, cut, kind)
    for _ in range(3):
        motion, free = fitter(p[mine], q[theirs])
        again, partner = linear_sum_assignment(cdist(motion(p), q, "sqeuclidean"))
        if np.array_equal(partner, theirs) and np.array_equal(again, mine):
            break
        mine, theirs = again, partner
    motion, free = fitter(p[mine], q[theirs])
    misfit = float(np.sqrt(((motion(p[mine]) - q[theirs]) ** 2).sum(axis=1).mean() / 2))
    one = tuple(cut.one[i] for i in mine)
    other = tuple(cut.other[j] for j in theirs)
    return Halves(kind, one, other, (), cut.line, misfit, _chance(points, misfit, free, kind), cut.apart)


def _chance(points: Array, misfit: float, free: int, kind: Kind) -> float:
    """Expected number of fits as good among as many random dots (a contrario, number of false alarms).

    Every pair adds two numbers that must agree, every number the motion was free to choose takes one away.
    """
    n = len(points)
    constraints = n - free
    if constraints <= 0:
        return 1.0
    share = misfit / (RANDOM_MISFIT[kind] * spacing(points))
    return float(min(1.0, max(share, 1e-3) ** min(constraints, 20)))


def _split(points: Array, cut: _Cut) -> Halves:
    p, q = points[list(cut.one)], points[list(cut.other)]
    mine, theirs = linear_sum_assignment(cdist(p - p.mean(axis=0), q - q.mean(axis=0), "sqeuclidean"))
    one, other = tuple(cut.one[i] for i in mine), tuple(cut.other[j] for j in theirs)
    # two clusters leak most (about one random set in forty at a ratio of 1.6): the gap has to be plainly larger
    chance = float(np.clip(3.0 * math.exp(-2.6 * cut.apart), 0.0, 1.0)) if len(points) > 2 else 1.0
    return Halves("split", one, other, (), cut.line, 0.0, chance, cut.apart)


def plain_row(points: Array) -> bool:
    """True where more than two things stand in one even row: nothing in the picture shows where to cut it."""
    if len(points) < 3:
        return False
    centred = points - points.mean(axis=0)
    along = np.linalg.svd(centred, full_matrices=False)[2][0]
    at = np.sort(centred @ along)
    off = np.abs(centred @ np.array([along[1], -along[0]])).max()
    steps = np.diff(at)
    middle = steps[len(points) // 2 - 1]
    return bool(off < 0.45 * np.median(steps) and middle < 1.35 * np.median(steps))


def fit(things: ThingSet, *, most: int = 6) -> tuple[Halves, ...]:
    """Candidate halves of an even number of things, least chance first; () for an odd number or fewer than two.

    `gap` is the root mean square misfit of partners in thing widths; the same things in another order give the same halves.
    """
    n = len(things)
    if n < 2 or n % 2 or n > MOST:
        return ()
    order = sorted(range(n), key=lambda i: things.things[i].center)
    points = things.centers[order]
    points = points + 1e-7 * np.arange(n)[:, None]  # equal projections are told apart the same way each time
    width = max(1e-6, float(np.median(things.widths)))
    found: dict[tuple[Kind, tuple[int, ...]], Halves] = {}
    for cut in _cuts(points):
        tried = [_refit(points, cut, kind, fitter) for kind, fitter in MOTIONS if n > 2 or fitter in (_slide, _flip)]
        if cut.apart >= 1.25:
            tried.append(_split(points, cut))
        for halves in tried:
            key = (halves.kind, tuple(sorted(halves.one)))
            if key not in found or _order(halves) < _order(found[key]):
                found[key] = halves
    best = sorted(found.values(), key=_order)[:most]
    return tuple(_renamed(halves, order, width) for halves in best)


def _order(halves: Halves) -> tuple[float, float, int]:
    length = float(np.linalg.norm(halves.line[1] - halves.line[0]))
    return (round(math.log10(max(halves.chance, 1e-9)), 1), -round(halves.apart, 2), -round(length))


def _renamed(halves: Halves, order: list[int], width: float) -> Halves:
    pairs = [(order[a], order[b]) for a, b in zip(halves.one, halves.other, strict=True)]
    return Halves(
        halves.kind, tuple(a for a, _ in pairs), tuple(b for _, b in pairs), (), halves.line,
        halves.gap / width, halves.chance, halves.apart,
    )  # fmt: skip


def along_line(things: ThingSet, line: Array, *, axis: bool = False) -> Halves | None:
    """The split that a given line makes (a teacher's own, or a body's axis), or None where its sides are not equal."""
    points = things.centers
    along = line[1] - line[0]
    side = (points - line[0]) @ np.array([along[1], -along[0]])
    one = tuple(int(i) for i in np.flatnonzero(side > 0))
    other = tuple(int(i) for i in np.flatnonzero(side <= 0))
    if len(one) != len(other) or not one:
        return None
    cut = _Cut(one, other, np.asarray(line, dtype=np.float64), _apart(points, one, other))
    width = max(1e-6, float(np.median(things.widths)))
    motions = [(k, f) for k, f in MOTIONS if not axis or k == "flip"]
    tried = [_refit(points, cut, kind, fitter) for kind, fitter in motions if len(points) > 2 or fitter in (_slide, _flip)]
    tried += [] if axis else [_split(points, cut)]
    return _renamed(min(tried, key=_order), list(range(len(points))), width)

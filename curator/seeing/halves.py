"""Things -> candidate halves, from the points alone; never looks at pixels.

A straight line cuts the things into two groups of the same number; each such cut is tried as a flip (mirror, also one
seen at a slant), a slide (two rows, also one further back), a turn (half turn) and a split (two groups apart).
Partners are found by optimal assignment and the motion is refitted to them by least squares.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import Halves, Kind, ThingSet

Array = NDArray[np.float64]
Motion = Callable[[Array], Array]
Fitter = Callable[[Array, Array], tuple[Motion, int]]
MOST = 64  # more things than this are never cut: no class counts them
ANGLES = np.linspace(0, np.pi, 24, endpoint=False)
RANDOM_MISFIT = {"flip": 0.36, "slide": 0.40, "turn": 0.38, "split": 1.0}
"""Root mean square misfit, in spacings, of the best fit to as many random dots (own simulation,
tests/seeing/test_halves.py).
"""


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
    return float(max(1e-6, median(apart.min(axis=1).tolist())))


def _mean(points: Array) -> Array:
    mean: Array = points.sum(axis=0) / len(
        points
    )  # what `mean` gives, in a third of its time: this is asked thousands of times a photo
    return mean


def _unit(vector: Array) -> Array:
    return vector / (math.hypot(*vector.tolist()) or 1.0)


def _bounded(value: float, low: float, high: float) -> float:
    return min(high, max(low, float(value)))


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
    n, everything = len(points), frozenset(range(len(points)))
    normals = np.array([(math.sin(angle), math.cos(angle)) for angle in _directions(points)])
    along = points @ normals.T
    order = np.argsort(along, axis=0, kind="stable")
    ordered = np.take_along_axis(along, order, axis=0)
    low, high = ordered[n // 2 - 1], ordered[n // 2]
    gaps = (high - low).tolist()
    found: dict[tuple[int, ...], int] = {}  # the first side of a cut, and the direction in which its gap is widest
    for k in np.flatnonzero(high - low > 1e-9).tolist():
        one = frozenset(order[: n // 2, k].tolist())
        key = tuple(sorted(one if 0 in one else everything - one))
        if (
            key not in found or gaps[found[key]] < gaps[k] - 1e-9
        ):  # of equally wide ones the first, whatever the rounding
            found[key] = k
    cuts = []
    for key, k in found.items():
        other = tuple(sorted(everything.difference(key)))
        cuts.append(
            _Cut(key, other, _line(points, normals[k], float(low[k]), float(high[k])), _apart(points, key, other))
        )
    return sorted(cuts, key=lambda cut: -cut.apart)


def _line(points: Array, normal: Array, low: float, high: float) -> Array:
    """The line between `low` and `high` along the normal, as long as the points reach: (2, 2) ends, row, col."""
    middle = _mean(points)
    middle = middle + normal * ((low + high) / 2 - middle @ normal)
    along = np.array([normal[1], -normal[0]])
    reach = float(np.abs((points - middle) @ along).max()) + (high - low) / 2
    return np.stack([middle + reach * along, middle - reach * along])


def _longest_link(points: Array) -> float:
    """Longest edge of the minimum spanning tree (Prim): the largest step inside a group; 0 for a single point."""
    apart = cdist(points, points).tolist()
    left, best, longest = set(range(1, len(points))), apart[0], 0.0
    while left:
        nearest = min(left, key=best.__getitem__)
        left.remove(nearest)
        longest = max(longest, best[nearest])
        best = list(map(min, best, apart[nearest]))
    return longest


def _apart(points: Array, one: tuple[int, ...], other: tuple[int, ...]) -> float:
    """Smallest distance between the groups over the largest step within either; 0 where a group is one point."""
    between = float(cdist(points[list(one)], points[list(other)]).min())
    within = max(_longest_link(points[list(one)]), _longest_link(points[list(other)]))
    return between / within if within > 0 else 0.0


# Motions: each fits to partners p -> q and returns the motion with how many numbers it was free to choose.


def _slide(p: Array, q: Array) -> tuple[Motion, int]:
    step = _mean(q - p)
    return (lambda x: x + step), 2


def _slide_back(p: Array, q: Array) -> tuple[Motion, int]:
    """A row further back is shorter: its steps along and across are scaled, never turned far (affine, bounded)."""
    mean_p, mean_q = _mean(p), _mean(q)
    across = _unit(mean_q - mean_p)
    along = np.array([across[1], -across[0]])
    a, b = (p - mean_p) @ along, (q - mean_q) @ along
    scale = _bounded((a @ b) / max(a @ a, 1e-9), 0.6, 1.7)
    lean = _bounded(((q - mean_q) @ across - (p - mean_p) @ across) @ a / max(a @ a, 1e-9), -0.35, 0.35)

    def motion(x: Array) -> Array:
        u, v = (x - mean_p) @ along, (x - mean_p) @ across
        moved: Array = mean_q + (u * scale)[:, None] * along + (v + lean * u)[:, None] * across
        return moved

    return motion, 4


def _flip(p: Array, q: Array) -> tuple[Motion, int]:
    """Mirror: the axis is fitted to the midpoints and the partners' common direction."""
    across = _unit((q - p).sum(axis=0))
    middle = float((((p + q) / 2) @ across).sum()) / len(p)

    def motion(x: Array) -> Array:
        moved: Array = x + (2 * (middle - x @ across))[:, None] * across
        return moved

    return motion, 2


def _flip_slant(p: Array, q: Array) -> tuple[Motion, int]:
    """A mirror seen at a slant: partners step in one direction, midpoints lie on a line that need not be square to
    it.
    """
    across = _unit((q - p).sum(axis=0))
    along = np.array([across[1], -across[0]])
    mids = (p + q) / 2
    u, v = mids @ along, mids @ across
    slope = 0.0
    if len(p) >= 3 and u.max() - u.min() > 1e-6:
        off = u - _mean(u)
        slope = _bounded((off @ v) / (off @ off), -0.5, 0.5)
    base = float(_mean(v - slope * u))

    def motion(x: Array) -> Array:
        moved: Array = x + (2 * (slope * (x @ along) + base - x @ across))[:, None] * across
        return moved

    return motion, 3


def _turn(p: Array, q: Array) -> tuple[Motion, int]:
    centre = (_mean(p) + _mean(q)) / 2
    return (lambda x: 2 * centre - x), 2


MOTIONS: tuple[tuple[Kind, Fitter], ...] = (
    ("slide", _slide),
    ("slide", _slide_back),
    ("flip", _flip),
    ("flip", _flip_slant),
    ("turn", _turn),
)


def _first_partners(p: Array, q: Array, kind: Kind, line: Array) -> tuple[Array, Array]:
    """Partners to begin from: the cut's own mirror, the step between the groups' means, or the half turn."""
    if kind == "slide":
        guess = p + (_mean(q) - _mean(p))
    elif kind == "turn":
        guess = (_mean(p) + _mean(q)) - p
    else:
        along = line[1] - line[0]
        normal = _unit(np.array([along[1], -along[0]]))
        guess = p - (2 * ((p - line[0]) @ normal))[:, None] * normal
    mine, theirs = linear_sum_assignment(cdist(guess, q, "sqeuclidean"))
    return mine, theirs


def _refits(points: Array, cut: _Cut, usual: float) -> list[Halves]:
    """The best fit of every motion to one cut; `usual` is the spacing of the points."""
    p, q = points[list(cut.one)], points[list(cut.other)]
    motions = [(kind, fitter) for kind, fitter in MOTIONS if len(points) > 2 or fitter in (_slide, _flip)]
    first = {kind: _first_partners(p, q, kind, cut.line) for kind in dict(motions)}
    return [_refit(cut, p, q, first[kind], kind, fitter, usual) for kind, fitter in motions]


def _refit(
    cut: _Cut, p: Array, q: Array, first: tuple[Array, Array], kind: Kind, fitter: Fitter, usual: float
) -> Halves:
    mine, theirs = first
    motion, free = fitter(p[mine], q[theirs])
    for _ in range(3):
        again, partner = linear_sum_assignment(cdist(motion(p), q, "sqeuclidean"))
        if (partner == theirs).all() and (again == mine).all():
            break
        mine, theirs = again, partner
        motion, free = fitter(p[mine], q[theirs])
    misfit = math.sqrt(float(((motion(p[mine]) - q[theirs]) ** 2).sum()) / len(p) / 2)
    one = tuple(cut.one[i] for i in mine)
    other = tuple(cut.other[j] for j in theirs)
    return Halves(kind, one, other, (), cut.line, misfit, _chance(2 * len(p), misfit / usual, free, kind), cut.apart)


def _chance(n: int, misfit: float, free: int, kind: Kind) -> float:
    """Expected number of fits as good (misfit in spacings) among as many random dots (a contrario, number of false
    alarms).

    Every pair adds two numbers that must agree, every number the motion was free to choose takes one away.
    """
    constraints = n - free
    if constraints <= 0:
        return 1.0
    return float(min(1.0, max(misfit / RANDOM_MISFIT[kind], 1e-3) ** min(constraints, 20)))


def _split(points: Array, cut: _Cut) -> Halves:
    p, q = points[list(cut.one)], points[list(cut.other)]
    mine, theirs = linear_sum_assignment(cdist(p - _mean(p), q - _mean(q), "sqeuclidean"))
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
    usual = median(steps.tolist())
    return bool(off < 0.45 * usual and middle < 1.35 * usual)


def fit(things: ThingSet, *, most: int = 6) -> tuple[Halves, ...]:
    """Candidate halves of an even number of things, least chance first; () for an odd number or fewer than two.

    `gap` is the root mean square misfit of partners in thing widths; the same things in another order give the same
    halves.
    """
    n = len(things)
    if n < 2 or n % 2 or n > MOST:
        return ()
    order = sorted(range(n), key=lambda i: things.things[i].center)
    points = things.centers[order]
    points = points + 1e-7 * np.arange(n)[:, None]  # equal projections are told apart the same way each time
    width = max(1e-6, median(things.widths.tolist()))
    usual = spacing(points)
    found: dict[tuple[Kind, tuple[int, ...]], Halves] = {}
    for cut in _cuts(points):
        tried = _refits(points, cut, usual)
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
        halves.kind,
        tuple(a for a, _ in pairs),
        tuple(b for _, b in pairs),
        (),
        halves.line,
        halves.gap / width,
        halves.chance,
        halves.apart,
    )


def along_line(things: ThingSet, line: Array) -> Halves | None:
    """The split that a teacher's own line makes, or None where its sides are not equal."""
    points = things.centers
    along = line[1] - line[0]
    side = (points - line[0]) @ np.array([along[1], -along[0]])
    one = tuple(int(i) for i in np.flatnonzero(side > 0))
    other = tuple(int(i) for i in np.flatnonzero(side <= 0))
    if len(one) != len(other) or not one:
        return None
    cut = _Cut(one, other, np.asarray(line, dtype=np.float64), _apart(points, one, other))
    width = max(1e-6, median(things.widths.tolist()))
    tried = [*_refits(points, cut, spacing(points)), _split(points, cut)]
    return _renamed(min(tried, key=_order), list(range(len(points))), width)

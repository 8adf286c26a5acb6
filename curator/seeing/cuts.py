"""Lines that part things into two groups of the same number: along rows, columns, a bar or a spine where there are any.

From places and sizes alone; never looks at pixels.
"""

from __future__ import annotations

import math
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

Array = NDArray[np.float64]
FAN = np.radians(np.arange(0.0, 180.0, 1.5))  # directions across which a line is tried
COARSE = 5  # each fifth is worth a cut of its own: a mirror's line may be no wide gap
WIDEST = 4  # so many of the widest gaps of the whole fan are, too
BREAK = 1.5  # times the widest other step: a gap so much wider is a break
STEP = 0.3  # of a gap: less is no step, but a row that is not quite even
ROW = 0.35  # of their spread: midpoints of partners lie no farther from the middle line between two rows
SLACK = 0.25  # of the widest room: a line that runs along the rows, or level, or upright, may have so much less
LEVEL = math.cos(math.radians(5))  # rows this near to level or upright are drawn so
LEVEL_FEW = math.cos(math.radians(10))  # two pairs tell their direction less exactly
FREE = 0.4  # of the widest room: with so much a line is level or upright where no rows tell its direction


def _normals(angles: Array) -> Array:
    return np.stack([np.sin(angles), np.cos(angles)], axis=1)


NORMALS = _normals(FAN)


class Cut(NamedTuple):
    """Two groups of as many points, and the widest straight gap between them."""

    one: tuple[int, ...]
    other: tuple[int, ...]
    line: Array  # (2, 2) ends, row, col
    apart: float  # smallest distance between the groups over the largest step within either
    wide: float  # the gap over the widest of any cut, 0 to 1
    broken: bool = False  # whether the steps across it are even but for it: a bar, a spine, two trays side by side


def spacing(points: Array) -> float:
    """Median distance to the nearest neighbour; 1 for fewer than two points."""
    if len(points) < 2:
        return 1.0
    apart = cdist(points, points)
    np.fill_diagonal(apart, np.inf)
    return float(max(1e-6, median(apart.min(axis=1).tolist())))


def _directions(points: Array, steps: Array) -> Array:
    """Angles worth cutting across: those of the points' own axes, and of the steps to nearest neighbours; `steps` are
    the distances between all points.
    """
    centred = points - points.mean(axis=0)
    axes = np.linalg.svd(centred, full_matrices=False)[2]
    own = [math.atan2(v[0], v[1]) for v in axes.tolist()]
    others = steps.copy()
    np.fill_diagonal(others, np.inf)
    near = math.atan2(*_mean_direction(points[others.argmin(axis=1)] - points))
    return np.array([*own, near, near + np.pi / 2])


def _mean_direction(steps: Array) -> tuple[float, float]:
    """Mean axis (row, col) of vectors whose sign and quarter turns do not matter."""
    angle = np.arctan2(steps[:, 0], steps[:, 1]) * 4
    mean = math.atan2(float(np.sin(angle).mean()), float(np.cos(angle).mean())) / 4
    return math.sin(mean), math.cos(mean)


def equal_cuts(points: Array) -> list[Cut]:
    """Ways to cut an even number of points (n, 2), n at most 64, into equal groups by a straight line, widest first."""
    n, steps = len(points), cdist(points, points)
    normals = np.concatenate([NORMALS, _normals(_directions(points, steps))])
    along = points @ normals.T
    ordered = np.sort(along, axis=0)
    low, high = ordered[n // 2 - 1], ordered[n // 2]
    gaps = (high - low).tolist()
    first = (along <= low).T  # where there is a gap, half of them
    first = np.where(first[:, :1], first, ~first)  # the group that holds the first point
    names = (first.astype(np.uint64) << np.arange(n, dtype=np.uint64)).sum(axis=1, dtype=np.uint64).tolist()
    best: dict[int, int] = {}  # each way to part them, and the direction in which its gap is widest
    for k, (name, gap) in enumerate(zip(names, gaps, strict=True)):
        if gap > 1e-9 and (name not in best or gap > gaps[best[name]] + 1e-9):
            best[name] = k
    coarse = [*range(0, len(FAN), COARSE), *range(len(FAN), len(normals))]
    wanted = {names[k] for k in coarse if gaps[k] > 1e-9} | set(sorted(best, key=lambda m: -gaps[best[m]])[:WIDEST])
    chosen = [k for name, k in best.items() if name in wanted]
    if not chosen:
        return []
    groups = np.argsort(~first[chosen], axis=1, kind="stable").reshape(len(chosen), 2, n // 2)
    rows = zip(
        groups.tolist(),
        _lines(points, normals[chosen], low[chosen], high[chosen]),
        apart(steps, groups).tolist(),
        chosen,
        _broken(ordered[:, chosen]).tolist(),
        strict=True,
    )
    widest = max(gaps)
    cuts = [
        Cut(tuple(one), tuple(other), line, between, gaps[k] / widest, broken)
        for (one, other), line, between, k, broken in rows
    ]
    return sorted(cuts, key=lambda cut: -cut.apart)


def _broken(at: Array) -> NDArray[np.bool_]:
    """(cuts,) whether sorted places (n, cuts) have a gap in their middle plainly wider than every other step, and steps
    beside it.
    """
    steps, middle = at[1:] - at[:-1], len(at) // 2 - 1
    gap = steps[middle].copy()
    steps[middle] = 0.0
    most = steps.max(axis=0)
    return np.asarray((BREAK * most <= gap) & (gap <= most / STEP), np.bool_)


def _lines(points: Array, normals: Array, low: Array, high: Array) -> Array:
    """(cuts, 2, 2): the lines between `low` and `high` along the normals, as long as the points reach along each."""
    middle = points.sum(axis=0) / len(points)
    middles = middle + normals * ((low + high) / 2 - normals @ middle)[:, None]
    along = np.stack([normals[:, 1], -normals[:, 0]], axis=1)
    away = np.abs(((points - middles[:, None]) * along[:, None]).sum(axis=2))
    reach = (away.max(axis=1) + np.abs(high - low) / 2)[:, None]
    return np.stack([middles + reach * along, middles - reach * along], axis=1)


def _longest_links(steps: Array) -> Array:
    """(groups,) longest edge of the minimum spanning tree (Prim) of each group of points whose distances are
    (groups, n, n): the largest step inside it; 0 for one point.
    """
    every, longest, left = np.arange(len(steps)), np.zeros(len(steps)), steps.copy()
    left[:, :, 0] = np.inf  # nothing steps to what is reached
    best = left[:, 0].copy()
    for _ in range(steps.shape[1] - 1):
        nearest = best.argmin(axis=1)
        np.maximum(longest, best[every, nearest], out=longest)
        left[every, :, nearest] = np.inf
        np.minimum(best, left[every, nearest], out=best)
        best[every, nearest] = np.inf
    return longest


def apart(steps: Array, groups: NDArray[np.intp]) -> Array:
    """(cuts,) smallest distance between the two groups of each cut (cuts, 2, n) over the largest step within either; 0
    where a group is one point. `steps` are the distances between all points.
    """
    one, other = groups[:, 0], groups[:, 1]
    between = steps[one[:, :, None], other[:, None]].min(axis=(1, 2))
    own = groups.reshape(-1, groups.shape[2])
    within = _longest_links(steps[own[:, :, None], own[:, None]]).reshape(-1, 2).max(axis=1)
    return np.where(within > 0, between / np.where(within > 0, within, 1.0), 0.0)


def line_between(
    points: Array, sizes: Array, one: tuple[int, ...], other: tuple[int, ...], line: Array, usual: float
) -> Array:
    """The line to draw between two groups: level or upright if that serves, else along the rows, else where there is
    most room.

    sizes: (n, 2) heights and widths; one[i] and other[i] are partners; line: one that parts them; usual: the spacing.
    """
    p, q = points[list(one)], points[list(other)]
    normals, rows = ways(p, q, line, usual)
    room, at = _room(p, q, sizes[list(one)], sizes[list(other)], normals)
    chosen = straightest(normals, room, rows=rows, few=len(p) < 3, size=median(sizes.ravel().tolist()))
    if chosen is None:
        return line
    reached = np.vstack([p, q]), np.vstack([sizes[list(one)], sizes[list(other)]])
    return _along(*reached, normals[chosen], float(at[chosen]))


def _along(points: Array, sizes: Array, normal: Array, at: float) -> Array:
    """The line at a place along the normal, as long as ellipses about the points reach along it."""
    way = np.array([normal[1], -normal[0]])
    middle, own = points @ way, np.sqrt(sizes**2 @ way**2) / 2
    ends = np.array([[float((middle + own).max())], [float((middle - own).min())]])
    return np.asarray(at * normal + ends * way, np.float64)


def ways(p: Array, q: Array, line: Array, usual: float) -> tuple[Array, bool]:
    """(m, 2) normals of the lines worth trying between partners p and q: a fan, that of a known line, and last that of
    the middle between two rows, where there are any; and whether there are.
    """
    known, middle = line[1] - line[0], _middle(p, q, usual)
    own = np.array([math.atan2(known[1], -known[0]), *([] if middle is None else [middle])])
    return np.concatenate([NORMALS, _normals(own)]), middle is not None


def straightest(normals: Array, room: Array, *, rows: bool, few: bool, size: float) -> int | None:
    """Which of the `ways` to draw: level or upright if that serves, else along the rows, else where there is most room;
    None where none parts the middles.

    room: (m,) pixels along each normal, less than 0 where things overlap, minus infinity where middles do; few: two
    pairs, or one; size: of a thing.
    """
    best = int(room.argmax())
    if not np.isfinite(room[best]):
        return None
    slack = SLACK * room[best] if room[best] > 0 else 0.05 * size
    rows = rows and room[-1] >= room[best] - slack
    chosen = len(room) - 1 if rows else best
    straight = max((0, len(FAN) // 2), key=lambda k: float(room[k]))
    cosine = abs(float(normals[chosen] @ normals[straight]))
    near = cosine >= (LEVEL_FEW if few else LEVEL) and room[straight] >= room[best] - slack
    if near or (not rows and room[straight] >= max(FREE * room[best], 0.1 * size)):
        chosen = straight
    return chosen


def _middle(p: Array, q: Array, usual: float) -> float | None:
    """The angle across the line that the partners' midpoints lie on: the middle between two rows, a body's axis."""
    if len(p) < 2:
        return None
    mids = (p + q) / 2
    centred = mids - mids.sum(axis=0) / len(mids)
    _, spread, axes = np.linalg.svd(centred, full_matrices=False)
    if spread[1] > ROW * spread[0] or spread[0] < 0.35 * usual:
        return None
    step = (q - p).sum(axis=0)
    along = abs(float(step @ axes[0])) / (math.hypot(*step.tolist()) or 1.0)
    return math.atan2(axes[0][1], -axes[0][0]) if along < 0.7 else None


def _room(p: Array, q: Array, own: Array, others: Array, normals: Array) -> tuple[Array, Array]:
    """Room between two groups of ellipses along each normal, less than 0 where they overlap, minus infinity where the
    middles do; and where its middle lies along that normal.
    """
    step = q.sum(axis=0) / len(q) - p.sum(axis=0) / len(p)
    turned = np.where(normals @ step < 0, -1.0, 1.0)
    ways = (normals * turned[:, None]).T
    square = ways**2 / 4
    mine, theirs = p @ ways, q @ ways
    low, high = mine.max(axis=0), theirs.min(axis=0)
    near = (mine + np.sqrt(own**2 @ square)).max(axis=0)
    far = (theirs - np.sqrt(others**2 @ square)).min(axis=0)
    middle = np.minimum(np.maximum((near + far) / 2, low), high)
    return np.where(high > low, far - near, -np.inf), middle * turned

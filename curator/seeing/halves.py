"""Things -> candidate halves, from the points alone; never looks at pixels.

A straight line cuts the things into two groups of the same number; each such cut is tried as a flip (mirror, also one
seen at a slant), a slide (two rows, also one further back), a turn (half turn) and a split (two groups apart).
Partners are found by optimal assignment and the motion is refitted to them by least squares.
"""

from __future__ import annotations

import math
from statistics import median

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import Halves, Kind, ThingSet
from curator.seeing.cuts import Cut, apart, equal_cuts, line_between, spacing
from curator.seeing.motions import MOTIONS, Fitter, chance, flip, mean, slide, unit

Array = NDArray[np.float64]
STRAIGHT = 0.8  # of the widest gap that any cut into equal groups has: less is a staircase between rows
CHANCE, NEAR = 1e-4, 0.12  # a straight cut serves with so small a chance, or misfit (spacings) above the least of any
SEEN = 1.2  # a gap less wide than that, over those within the halves, is none to a child
BAR = 1.5  # what a break in even steps counts as
MOST = 64  # more things than this are never cut: no class counts them


def _first_partners(p: Array, q: Array, kind: Kind, line: Array) -> tuple[Array, Array]:
    """Partners to begin from: the cut's own mirror, the step between the groups' means, or the half turn."""
    if kind == "slide":
        guess = p + (mean(q) - mean(p))
    elif kind == "turn":
        guess = (mean(p) + mean(q)) - p
    else:
        along = line[1] - line[0]
        normal = unit(np.array([along[1], -along[0]]))
        guess = p - (2 * ((p - line[0]) @ normal))[:, None] * normal
    mine, theirs = linear_sum_assignment(cdist(guess, q, "sqeuclidean"))
    return mine, theirs


def _refits(points: Array, cut: Cut, usual: float) -> list[Halves]:
    """The best fit of every motion to one cut; `usual` is the spacing of the points."""
    p, q = points[list(cut.one)], points[list(cut.other)]
    motions = [(kind, fitter) for kind, fitter in MOTIONS if len(points) > 2 or fitter in (slide, flip)]
    first = {kind: _first_partners(p, q, kind, cut.line) for kind in dict(motions)}
    return [_refit(cut, p, q, first[kind], kind, fitter, usual) for kind, fitter in motions]


def _refit(
    cut: Cut, p: Array, q: Array, first: tuple[Array, Array], kind: Kind, fitter: Fitter, usual: float
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
    return Halves(kind, one, other, cut.line, misfit, chance(2 * len(p), misfit / usual, free, kind), cut.apart)


def _split(points: Array, cut: Cut) -> Halves:
    p, q = points[list(cut.one)], points[list(cut.other)]
    mine, theirs = linear_sum_assignment(cdist(p - mean(p), q - mean(q), "sqeuclidean"))
    one, other = tuple(cut.one[i] for i in mine), tuple(cut.other[j] for j in theirs)
    # two clusters leak most (about one random set in forty at a ratio of 1.6): the gap has to be plainly larger
    chance = float(np.clip(3.0 * math.exp(-2.6 * cut.apart), 0.0, 1.0)) if len(points) > 2 else 1.0
    return Halves("split", one, other, cut.line, 0.0, chance, cut.apart)


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
    tried = [(cut, halves) for cut in equal_cuts(points) for halves in _kinds(points, cut, usual)]
    least = min(halves.gap for _, halves in tried if halves.kind != "split")
    near = least + NEAR * usual
    ranked = sorted(tried, key=lambda one: _straight_first(one[0], one[1], near))
    sizes = np.array([(t.box.height, t.box.width) for t in things.things], dtype=np.float64)[order]
    lines: dict[tuple[int, ...], Array] = {}  # one for each cut, whatever its kind
    for cut, halves in ranked[:most]:
        if cut.one not in lines:
            lines[cut.one] = line_between(points, sizes, halves.one, halves.other, cut.line, usual)
    return tuple(_renamed(halves, order, width, lines[cut.one]) for cut, halves in ranked[:most])


def _kinds(points: Array, cut: Cut, usual: float) -> list[Halves]:
    """The best fit of each kind to one cut."""
    best: dict[Kind, Halves] = {}
    for halves in [*_refits(points, cut, usual), *([_split(points, cut)] if cut.apart >= 1.25 else [])]:
        if halves.kind not in best or _order(halves) < _order(best[halves.kind]):
            best[halves.kind] = halves
    return list(best.values())


def _straight_first(cut: Cut, halves: Halves, near: float) -> tuple[bool, float, float, int]:
    """Order of preference: a straight cut that fits well, or nearly as well (misfit up to `near`) as any crooked one,
    comes first; of those that fit well the widest apart, then the longest, which runs along two rows and not across.

    A half turn fits a staircase through any tray, so it is no evidence of a straight cut.
    """
    chance, gap, length = _order(halves)
    fits = halves.chance <= CHANCE or halves.gap <= near
    if cut.wide < STRAIGHT or halves.kind == "turn" or not fits:
        return True, chance, gap, length
    if len(halves.one) > 2:
        gap = min(gap, -BAR if cut.broken else -SEEN)
    return False, max(chance, math.log10(CHANCE)), gap, length


def _order(halves: Halves) -> tuple[float, float, int]:
    length = float(np.linalg.norm(halves.line[1] - halves.line[0]))
    return (round(math.log10(max(halves.chance, 1e-9)), 1), -round(halves.apart, 2), -round(length))


def _renamed(halves: Halves, order: list[int], width: float, line: Array) -> Halves:
    pairs = [(order[a], order[b]) for a, b in zip(halves.one, halves.other, strict=True)]
    return Halves(
        halves.kind,
        tuple(a for a, _ in pairs),
        tuple(b for _, b in pairs),
        line,
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
    cut = Cut(one, other, np.asarray(line, dtype=np.float64), apart(points, one, other), 1.0)
    width = max(1e-6, median(things.widths.tolist()))
    tried = [*_refits(points, cut, spacing(points)), _split(points, cut)]
    return _renamed(min(tried, key=_order), list(range(len(points))), width, cut.line)

"""Things -> candidate halves, from the points alone; never looks at pixels.

A straight line cuts the things into two groups of the same number; each such cut is tried as a flip (mirror, also one
seen at a slant), a slide (two rows, also one further back), a turn (half turn) and a split (two groups apart).
Partners are found by optimal assignment and the motion is refitted to them by least squares.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import islice, pairwise
from statistics import median
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from curator.records import Halves, Kind, ThingSet
from curator.seeing.cuts import Cut, apart, equal_cuts, line_between, spacing
from curator.seeing.motions import MOTIONS, PLAIN, chance, square, unit

Array = NDArray[np.float64]
STRAIGHT = 0.8  # of the widest gap that any cut into equal groups has: less is a staircase between rows
CHANCE, NEAR = 1e-4, 0.12  # a straight cut serves with so small a chance, or misfit (spacings) above the least of any
SEEN = 1.2  # a gap less wide than that, over those within the halves, is none to a child
BAR = 1.5  # what a break in even steps counts as
MOST = 64  # more things than this are never cut: no class counts them


class _Fit(NamedTuple):
    """A motion, or none, that takes one group of a cut onto the other: partners are cut.one[i] and cut.other[to[i]]."""

    cut: Cut
    kind: Kind
    to: tuple[int, ...]
    misfit: float  # pixels, root mean square
    chance: float

    @property
    def order(self) -> tuple[float, float, int]:
        """The less likely to be chance, the wider apart and the longer its line, the better."""
        length = math.dist(*self.cut.line.tolist())
        return (round(math.log10(max(self.chance, 1e-9)), 1), -round(self.cut.apart, 2), -round(length))


def _first_partners(p: Array, q: Array, kinds: list[Kind], lines: Array) -> dict[Kind, NDArray[np.intp]]:
    """(cuts, n) partners of each kind to begin from: the cuts' own mirrors, the steps between the groups' means, or
    half turns.
    """
    mean_p, mean_q = (points.sum(axis=1, keepdims=True) / points.shape[1] for points in (p, q))
    start = lines[:, :1]
    normal = unit(square(lines[:, 1:] - start))
    guesses: dict[Kind, Array] = {
        "slide": p + (mean_q - mean_p),
        "turn": (mean_p + mean_q) - p,
        "flip": p - 2 * ((p - start) * normal).sum(2, keepdims=True) * normal,
    }
    to = _partners(np.concatenate([guesses[kind] for kind in kinds]), np.concatenate([q] * len(kinds)))
    return dict(zip(kinds, np.split(to, len(kinds)), strict=True))


def _partners(p: Array, q: Array) -> NDArray[np.intp]:
    """(fits, n) which of q each of p is nearest to, one to one, all in all; p and q are (fits, n, 2)."""
    down, right = (p[:, :, None, k] - q[:, None, :, k] for k in (0, 1))
    squares = down * down + right * right
    to: NDArray[np.intp] = squares.argmin(axis=2)
    shared = (np.sort(to, axis=1) != np.arange(to.shape[1])).any(1)  # else each has its nearest, and none does better
    for k in np.flatnonzero(shared).tolist():
        to[k] = linear_sum_assignment(squares[k])[1]
    return to


def _refits(points: Sequence[Array], cuts: Sequence[list[Cut]], usual: Sequence[float]) -> list[list[list[_Fit]]]:
    """The best fit of every motion to each cut of several sets of as many points; `usual` is the spacing of each."""
    every, many = [cut for own in cuts for cut in own], len(points[0])
    ones, others = (
        [at[[getattr(cut, side) for cut in own]] for at, own in zip(points, cuts, strict=True) if own]
        for side in ("one", "other")
    )
    groups = (np.concatenate(ones), np.concatenate(others))
    own = range(len(MOTIONS)) if many > 2 else PLAIN
    first = _first_partners(
        *groups, list(dict.fromkeys(MOTIONS[k][0] for k in own)), np.stack([cut.line for cut in every])
    )
    which = np.repeat(own, len(every))
    p, q = (np.concatenate([group] * len(own)) for group in groups)
    to, moved = _settled(p, q, np.concatenate([first[MOTIONS[k][0]] for k in own]), which)
    off = moved - _taken(q, to)
    misfits = np.sqrt((off * off).sum((1, 2)) / p.shape[1] / 2).tolist()
    usuals = [one for one, own in zip(usual, cuts, strict=True) for _ in own]
    found: list[list[_Fit]] = [[] for _ in every]
    for i, (k, partners, misfit) in enumerate(zip(which.tolist(), to.tolist(), misfits, strict=True)):
        kind, _, free = MOTIONS[k]
        at = i % len(every)
        found[at].append(_Fit(every[at], kind, tuple(partners), misfit, chance(many, misfit / usuals[at], free, kind)))
    each = iter(found)
    return [list(islice(each, len(own))) for own in cuts]


def _settled(p: Array, q: Array, to: NDArray[np.intp], which: NDArray[np.intp]) -> tuple[NDArray[np.intp], Array]:
    """The partners (fits, n), and p moved by the motions fitted to them, after they were sought anew up to three times;
    `which` are indices into MOTIONS, in order.
    """
    moved, asked = _moved(p, _taken(q, to), which), np.arange(len(p))
    for _ in range(3):
        again = _partners(moved[asked], q[asked])
        changed = (again != to[asked]).any(1)
        asked = asked[changed]
        if not len(asked):
            break
        to[asked] = again[changed]
        moved[asked] = _moved(p[asked], _taken(q[asked], to[asked]), which[asked])
    return to, moved


def _taken(q: Array, to: NDArray[np.intp]) -> Array:
    return np.take_along_axis(q, to[..., None], axis=1)


def _moved(p: Array, q: Array, which: NDArray[np.intp]) -> Array:
    """Each fit's p moved by its motion fitted to the partners q."""
    ends = np.searchsorted(which, range(len(MOTIONS) + 1)).tolist()
    parts = zip(MOTIONS, pairwise(ends), strict=True)
    return np.concatenate([motion(p[a:b], q[a:b]) for (_, motion, _), (a, b) in parts if b > a])


def _split(points: Array, cut: Cut) -> _Fit:
    p, q = points[list(cut.one)], points[list(cut.other)]
    to = _partners((p - p.mean(axis=0))[None], (q - q.mean(axis=0))[None])[0]
    # two clusters leak most (about one random set in forty at a ratio of 1.6): the gap has to be plainly larger
    chance = float(np.clip(3.0 * math.exp(-2.6 * cut.apart), 0.0, 1.0)) if len(points) > 2 else 1.0
    return _Fit(cut, "split", tuple(to.tolist()), 0.0, chance)


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


class _Places(NamedTuple):
    """The things of one set as points, in an order of their own."""

    order: list[int]  # which thing each is
    at: Array  # (n, 2) row, col
    usual: float  # their spacing
    cuts: list[Cut]


def fit(things: ThingSet, *, most: int = 6) -> tuple[Halves, ...]:
    """Candidate halves of an even number of things, least chance first; () for an odd number or fewer than two.

    `gap` is the root mean square misfit of partners in thing widths; the same things in another order give the same
    halves.
    """
    return fit_every([things], most=most)[0]


def fit_every(sets: Sequence[ThingSet], *, most: int = 6) -> list[tuple[Halves, ...]]:
    """`fit` of several sets; motions are fitted to those of one number together."""
    found: list[tuple[Halves, ...]] = [()] * len(sets)
    for n in sorted({len(things) for things in sets}):
        if n < 2 or n % 2 or n > MOST:
            continue
        own = [i for i, things in enumerate(sets) if len(things) == n]
        places = [_placed(sets[i]) for i in own]
        refits = _refits([one.at for one in places], [one.cuts for one in places], [one.usual for one in places])
        for i, one, fits in zip(own, places, refits, strict=True):
            found[i] = _ranked(sets[i], one, _kinds(one, fits), most)
    return found


def _placed(things: ThingSet) -> _Places:
    order = sorted(range(len(things)), key=lambda i: things.things[i].center)
    at = things.centers[order]
    at = at + 1e-7 * np.arange(len(at))[:, None]  # equal projections are told apart the same way each time
    return _Places(order, at, spacing(at), equal_cuts(at))


def _ranked(things: ThingSet, places: _Places, tried: list[_Fit], most: int) -> tuple[Halves, ...]:
    """The best fits of a set as halves, with their lines."""
    order, points, usual, _ = places
    width = max(1e-6, median(things.widths.tolist()))
    near = min(fit.misfit for fit in tried if fit.kind != "split") + NEAR * usual
    ranked = sorted(tried, key=lambda fit: _straight_first(fit, near))
    sizes = (things.boxes[:, 2:] - things.boxes[:, :2])[order]
    lines: dict[tuple[int, ...], Array] = {}  # one for each cut, whatever its kind
    for cut, _, to, _, _ in ranked[:most]:
        if cut.one not in lines:
            other = tuple(cut.other[j] for j in to)
            lines[cut.one] = line_between(points, sizes, cut.one, other, cut.line, usual)
    return tuple(_halves(fit, order, width, lines[fit.cut.one]) for fit in ranked[:most])


def _kinds(places: _Places, refits: list[list[_Fit]]) -> list[_Fit]:
    """The best fit of each kind to each cut."""
    found: list[_Fit] = []
    for cut, fits in zip(places.cuts, refits, strict=True):
        best: dict[Kind, _Fit] = {}
        for fit in [*fits, *([_split(places.at, cut)] if cut.apart >= 1.25 else [])]:
            if fit.kind not in best or fit.order < best[fit.kind].order:
                best[fit.kind] = fit
        found += best.values()
    return found


def _straight_first(fit: _Fit, near: float) -> tuple[bool, float, float, int]:
    """Order of preference: a straight cut that fits well, or nearly as well (misfit up to `near`) as any crooked one,
    comes first; of those that fit well the widest apart, then the longest, which runs along two rows and not across.

    A half turn fits a staircase through any tray, so it is no evidence of a straight cut.
    """
    chance, gap, length = fit.order
    fits = fit.chance <= CHANCE or fit.misfit <= near
    if fit.cut.wide < STRAIGHT or fit.kind == "turn" or not fits:
        return True, chance, gap, length
    if len(fit.to) > 2:
        gap = min(gap, -BAR if fit.cut.broken else -SEEN)
    return False, max(chance, math.log10(CHANCE)), gap, length


def _halves(fit: _Fit, order: list[int], width: float, line: Array) -> Halves:
    one, other = tuple(order[i] for i in fit.cut.one), tuple(order[fit.cut.other[j]] for j in fit.to)
    return Halves(fit.kind, one, other, line, fit.misfit / width, fit.chance, fit.cut.apart)


def along_line(things: ThingSet, line: Array) -> Halves | None:
    """The split that a teacher's own line makes, or None where its sides are not equal."""
    points = things.centers
    along = line[1] - line[0]
    side = (points - line[0]) @ np.array([along[1], -along[0]])
    one = tuple(int(i) for i in np.flatnonzero(side > 0))
    other = tuple(int(i) for i in np.flatnonzero(side <= 0))
    if len(one) != len(other) or not one:
        return None
    between = float(apart(cdist(points, points), np.array([[one, other]]))[0])
    cut = Cut(one, other, np.asarray(line, dtype=np.float64), between, 1.0)
    width = max(1e-6, median(things.widths.tolist()))
    tried = [*_refits([points], [[cut]], [spacing(points)])[0][0], _split(points, cut)]
    return _halves(min(tried, key=lambda fit: fit.order), list(range(len(points))), width, cut.line)

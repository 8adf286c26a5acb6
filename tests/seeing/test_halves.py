"""Halves from points alone: known answers, true layouts with jitter, and how rarely random dots pass."""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curator.records import Box, Halves, Thing, ThingSet
from curator.seeing import halves
from curator.seeing.judging import models, reasons


def dots(points: np.ndarray, width: int = 20) -> ThingSet:
    half = width // 2
    return ThingSet(
        tuple(
            Thing(Box(int(r) - half, int(c) - half, int(r) + half, int(c) + half), (float(r), float(c)))
            for r, c in points
        ),
        (900, 900),
        "test",
    )


def rows(n: int, *, back: float = 1.0) -> np.ndarray:
    return np.array(
        [[300 + 150 * r, 450 + (i - (n - 1) / 2) * 70 * (back if r == 0 else 1)] for r in range(2) for i in range(n)]
    )


def scatter(rng: np.random.Generator, n: int, least: float = 45) -> np.ndarray:
    """Places at random, each as far as `least` from any other."""
    while True:
        points: list[np.ndarray] = []
        for p in rng.uniform(60, 740, (40 * n, 2)):
            if len(points) < n and all(np.hypot(*(p - q)) > least for q in points):
                points.append(p)
        if len(points) == n:
            return np.array(points)


@pytest.mark.parametrize("n", range(2, 13))
def test_two_rows_are_cut_between_the_rows(n: int) -> None:
    best = halves.fit(dots(rows(n)))[0]
    assert len(best.one) == n
    assert best.gap < 0.01
    if n > 2:
        assert {frozenset(best.one), frozenset(best.other)} == {frozenset(range(n)), frozenset(range(n, 2 * n))}


def test_a_row_further_back_still_pairs() -> None:
    best = halves.fit(dots(rows(6, back=0.7)))[0]
    assert best.chance < 1e-3
    assert {frozenset(best.one), frozenset(best.other)} == {frozenset(range(6)), frozenset(range(6, 12))}


def test_odd_numbers_make_no_halves() -> None:
    assert halves.fit(dots(rows(4)[:7])) == ()


def test_order_does_not_matter() -> None:
    points = scatter(np.random.default_rng(3), 8)
    points = np.concatenate([points, np.stack([points[:, 0], 1600 - points[:, 1]], 1)])
    first = halves.fit(dots(points))[0]
    shuffle = np.random.default_rng(4).permutation(len(points))
    again = halves.fit(dots(points[shuffle]))[0]
    assert first.kind == again.kind == "flip"
    assert {frozenset(first.one), frozenset(first.other)} == {
        frozenset(int(shuffle[i]) for i in side) for side in (again.one, again.other)
    }


def test_half_turn() -> None:
    own = scatter(np.random.default_rng(5), 5) * [0.5, 1.0]
    assert halves.fit(dots(np.concatenate([own, 800 - own])))[0].kind == "turn"


def test_two_groups_apart_are_a_split() -> None:
    rng = np.random.default_rng(6)
    points = np.concatenate([rng.uniform((300, 60), (480, 240), (5, 2)), rng.uniform((300, 660), (480, 840), (5, 2))])
    assert any(h.kind == "split" and h.apart > 2 for h in halves.fit(dots(points)))


@pytest.mark.parametrize("n", [6, 8, 12])
def test_true_halves_pass_and_random_dots_do_not(n: int) -> None:
    """A naive fit passes 6.7, 3.3 and 2.0 % of random sets of 6, 8 and 12 (own simulation, 150 sets each)."""
    rng = np.random.default_rng(n)
    passed = sum(halves.fit(dots(scatter(rng, n)), most=40)[0].chance < 3e-3 for _ in range(100))
    assert passed <= 1
    kept = 0
    for _ in range(25):
        own = scatter(rng, n // 2) * [1.0, 0.45] + [0, 440]
        points = np.concatenate([own, np.stack([own[:, 0], 800 - own[:, 1]], 1)])
        points = points + rng.normal(0, 0.03 * halves.spacing(points), points.shape)
        kept += halves.fit(dots(points))[0].chance < 3e-3
    assert kept >= 23


@pytest.mark.parametrize("n", [6, 8, 12])
def test_things_that_lie_about_seldom_come_to_halves_that_are_shown(n: int) -> None:
    """They do not touch, so they lie more evenly than random dots and pair up more often: up to 3.5 in a hundred have a
    chance of BY_CHANCE or less. Of 400 each of 6 to 20 things at four distances .4 in a hundred pass, at most 1.5.
    """

    def asked(points: np.ndarray) -> bool:
        split = halves.fit(dots(points), most=1)[0]
        return reasons._by_chance(reasons.Doubted({}, models.Belief(1.0, 1.0, 1.0), split, len(points), True))

    rng = np.random.default_rng(n)
    apart = rng.choice([0.3, 0.5, 0.65, 0.75], 300) * 680 / n**0.5
    assert sum(not asked(scatter(rng, n, least)) for least in apart) <= 4
    assert not asked(rows(n // 2) + rng.normal(0, 3, (n, 2)))


def test_an_even_row_shows_no_middle() -> None:
    assert halves.plain_row(np.array([[100.0, 50.0 * i] for i in range(6)]))
    assert not halves.plain_row(np.array([[100.0, 50.0 * i + (200 if i > 2 else 0)] for i in range(6)]))


def test_a_teachers_line() -> None:
    things = dots(rows(4))
    assert halves.along_line(things, np.array([[375.0, 0.0], [375.0, 900.0]])) is not None
    assert halves.along_line(things, np.array([[0.0, 420.0], [900.0, 420.0]])) is None or len(things) == 8


# ---- cuts follow what a child sees


@st.composite
def seen(draw: st.DrawFn) -> tuple[float, float, float, int]:
    """How a flat layout is seen: its turn in degrees, how much shorter its far and its right side are, a seed."""
    return (
        draw(st.floats(-14, 14)),
        draw(st.floats(0.78, 1.0)),
        draw(st.floats(0.85, 1.0)),
        draw(st.integers(0, 10**6)),
    )


def pictured(at: np.ndarray, view: tuple[float, float, float, int], step: float, jitter: float = 0.04) -> ThingSet:
    """A flat layout (n, 2; row, col in steps) as a camera sees it, each thing a little off its place."""
    turn, far, right, seed = view
    flat = at - (at.min(axis=0) + at.max(axis=0)) / 2
    flat = flat + np.random.default_rng(seed).normal(0, jitter / 2, flat.shape).clip(-jitter, jitter)
    reach = np.abs(flat).max() * 1.1
    corners = np.array([[-1, -1], [-1, 1], [1, 1], [1, -1]], dtype=np.float32) * np.float32(reach)
    shrunk = corners.copy()
    shrunk[:2, 1] *= far
    shrunk[1:3, 0] *= right
    slant = cv2.getPerspectiveTransform(corners, shrunk)
    there = cv2.perspectiveTransform(flat[None].astype(np.float32), slant)[0].astype(float)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    return dots(there @ np.array([[c, s], [-s, c]]) * step + 450, width=round(0.6 * step))


def groups(split: Halves) -> set[frozenset[int]]:
    return {frozenset(split.one), frozenset(split.other)}


def straight_ways(rows: int, columns: int) -> list[set[frozenset[int]]]:
    """The ways to cut a tray in two along its rows and along its columns."""
    index = np.arange(rows * columns).reshape(rows, columns)
    found = []
    if rows % 2 == 0:
        found.append({frozenset(index[: rows // 2].ravel().tolist()), frozenset(index[rows // 2 :].ravel().tolist())})
    if columns % 2 == 0:
        left, right = index[:, : columns // 2], index[:, columns // 2 :]
        found.append({frozenset(left.ravel().tolist()), frozenset(right.ravel().tolist())})
    return found


def clears(things: ThingSet, split: Halves, share: float = 0.8) -> bool:
    """Whether the line keeps so far from every thing's middle, in half widths."""
    along = (split.line[1] - split.line[0]) / np.linalg.norm(split.line[1] - split.line[0])
    away = (things.centers - split.line[0]) @ np.array([along[1], -along[0]])
    sides = [set(np.sign(away[list(side)])) for side in (split.one, split.other)]
    return bool((np.abs(away) >= share * things.widths / 2).all()) and sides[0] != sides[1] and len(sides[0]) == 1


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.integers(3, 12), st.floats(0.85, 2.5), seen())
def test_two_rows_are_cut_between_them_however_they_are_seen(n: int, between: float, view: tuple) -> None:  # type: ignore[type-arg]
    at = np.array([(between * r, c) for r in range(2) for c in range(n)], dtype=float)
    things = pictured(at, view, 700 / n)
    best = halves.fit(things, most=1)[0]
    assert groups(best) in straight_ways(2, n)[: 1 if between > 1.2 else 2]  # near a square tray either way is straight
    assert clears(things, best)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.sampled_from([(3, 4), (4, 3), (4, 4), (3, 6), (4, 6), (5, 4), (3, 8), (6, 3)]), st.floats(0.7, 1.5), seen())
def test_a_tray_is_never_cut_in_a_staircase(shape: tuple[int, int], tall: float, view: tuple) -> None:  # type: ignore[type-arg]
    at = np.array([(tall * r, c) for r in range(shape[0]) for c in range(shape[1])], dtype=float)
    things = pictured(at, view, 500 / max(shape))
    best = halves.fit(things, most=1)[0]
    assert groups(best) in straight_ways(*shape)
    assert clears(things, best, 0.6)


PIPS = {
    3: [(1, 1), (2, 2), (3, 3)],
    5: [(1, 1), (1, 3), (2, 2), (3, 1), (3, 3)],
    6: [(1, 1), (2, 1), (3, 1), (1, 3), (2, 3), (3, 3)],
}


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.sampled_from(sorted(PIPS)), st.booleans(), st.floats(0, 180), seen())
def test_a_domino_is_cut_along_its_bar(n: int, lying: bool, turn: float, view: tuple) -> None:  # type: ignore[type-arg]
    """Pips a quarter of the half's side apart and from its edge (common practice): fours make an even 2 by 4 tray."""
    half = np.array(PIPS[n], dtype=float)
    half = half[:, ::-1] if lying else half
    at = np.concatenate([half, half + [0, 4]])
    things = pictured(at, (turn, *view[1:]), 80)
    best = halves.fit(things, most=1)[0]
    assert groups(best) == {frozenset(range(n)), frozenset(range(n, 2 * n))}
    assert clears(things, best)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(st.integers(2, 6), st.floats(-30, 30), st.integers(0, 10**6))
def test_a_body_is_folded_along_its_spine(n: int, turn: float, seed: int) -> None:
    """Legs that fan out on both sides of a body, 3 pairs or more; two pairs may be cut either way."""
    rng = np.random.default_rng(seed)
    own = np.array([(i * 1.0, 1.2 + rng.uniform(0, 0.5)) for i in range(n)])
    at = np.concatenate([own, own * [1, -1]])
    things = pictured(at, (turn, 1.0, 1.0, seed), 90)
    best = halves.fit(things, most=1)[0]
    assert clears(things, best)
    if n > 2:
        assert groups(best) == {frozenset(range(n)), frozenset(range(n, 2 * n))}
        along = best.line[1] - best.line[0]
        lean = (np.degrees(np.arctan2(along[1], along[0])) + 90) % 180 - 90
        assert abs((lean + turn + 90) % 180 - 90) < 8 or abs((lean - turn + 90) % 180 - 90) < 8


@pytest.mark.parametrize("shift", [0, 40, 160])
def test_two_things_are_parted_level_or_upright(shift: int) -> None:
    """However far one lies further down: a line that leans would look like a tilted photo."""
    best = halves.fit(dots(np.array([[300.0, 300.0], [300.0 + shift, 500.0]]), width=60))[0]
    along = np.abs(best.line[1] - best.line[0])
    assert min(along) < 1e-6

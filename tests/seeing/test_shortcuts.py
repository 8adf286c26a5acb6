"""What is computed a shorter way gives what the plain way gives."""

from __future__ import annotations

import dataclasses

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.optimize import linear_sum_assignment
from scipy.signal import find_peaks
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist, pdist

from curator.clues import Clues
from curator.records import Box, Thing, ThingSet
from curator.seeing import cuts, halves, set_matching
from curator.seeing.features import heat_under, net_agreement, one_kind, pixel_evidence
from curator.seeing.features.side_by_side import side_by_side
from curator.seeing.finders import learned
from curator.seeing.finders.limbs import risen
from curator.seeing.net import runtime
from curator.seeing.primitives import lattice
from curator.seeing.primitives.layers import layers
from curator.seeing.primitives.stable_regions import _percentiles
from curator.seeing.view import view_of
from tests import drawn


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 3000), st.integers(1, 256), st.integers(0, 2**32 - 1))
def test_percentiles_of_a_histogram_are_those_of_the_values(size: int, most: int, seed: int) -> None:
    values = np.random.default_rng(seed).integers(0, most, (size, 1)).astype(np.uint8)
    assert _percentiles(values, (2, 98)) == pytest.approx(np.percentile(values, (2, 98)).tolist(), abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.integers(20, 61), st.integers(20, 60), st.booleans(), st.integers(0, 2**32 - 1))
def test_layers_are_the_components_of_each_threshold_alone(high: int, wide: int, above: bool, seed: int) -> None:
    noise = np.random.default_rng(seed).integers(0, 256, (high, wide)).astype(np.uint8)
    channel, levels, most = cv2.blur(noise, (3, 3)), (90, 120, 150), 0.3 * high * wide
    for level, layer in zip(levels, layers(channel, levels, above, 4, most), strict=True):
        mask = (channel > level if above else channel < level).astype(np.uint8)
        _, labels, stats, centres = cv2.connectedComponentsWithStats(mask, connectivity=8)
        fits = (stats[:, 4] >= 4) & (stats[:, 4] <= most) & (stats[:, 2] < 0.85 * wide) & (stats[:, 3] < 0.85 * high)
        kept = 1 + np.flatnonzero(fits[1:])
        assert (layer.stats == stats[kept]).all()
        assert layer.centres == pytest.approx(centres[kept], abs=1e-9)
        for old, name in zip(kept, layer.names, strict=True):
            assert ((labels == old) == (layer.labels == name)).all()


@settings(max_examples=200, deadline=None)
@given(st.lists(st.integers(0, 12), min_size=1, max_size=40), st.integers(1, 8))
def test_maxima_that_rise_are_those_that_scipy_finds(heights: list[int], least: int) -> None:
    profile = np.array(heights, dtype=np.float64)
    assert risen(profile, least) == len(find_peaks(profile, prominence=least)[0])


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 30), st.integers(0, 2**32 - 1))
def test_the_smaller_group_is_the_one_that_a_cut_into_two_gives(n: int, seed: int) -> None:
    merged = linkage(pdist(np.random.default_rng(seed).random((n, 2))), "average")
    first = fcluster(merged, 2, "maxclust") == 1
    expected = first if first.sum() * 2 <= n else ~first
    assert (one_kind._smaller(merged, n) == expected).all()


def test_one_gap_is_the_whole_lattice_with_one_crossing_more() -> None:
    rng, found = np.random.default_rng(5), 0
    for _ in range(80):
        rows, columns = rng.integers(2, 5, 2)
        grid = np.array([(60.0 * r, 50.0 * c) for r in range(rows) for c in range(columns)])
        kept = rng.permutation(len(grid))[: len(grid) - rng.integers(0, 3)]
        at = 20 + grid[kept] + rng.normal(0, 2, (len(kept), 2))
        size = (int(at[:, 0].max()) + 40, int(at[:, 1].max()) + 40)
        boxes = [Box(int(r) - 9, int(c) - 9, int(r) + 9, int(c) + 9) for r, c in at]
        things = ThingSet(tuple(Thing(b, (r, c)) for b, (r, c) in zip(boxes, at.tolist(), strict=True)), size, "test")
        whole = lattice.fit(things.centers)
        plain = whole is not None and bool(whole.good.all()) and len(whole.gaps) == 1
        assert pixel_evidence.one_gap(things) == plain
        found += plain
    assert found > 10


def test_sets_measured_together_are_measured_as_each_alone() -> None:
    view = view_of(drawn.dice(4, 5))
    every = net_agreement.attested(view, sets_of_several_widths(view.size))
    for one in every:
        (alone,) = net_agreement.attested(view, [dataclasses.replace(one, clues=Clues())], among=every)
        assert alone.clues.seen is not None
        assert one.clues.seen is not None
        together, single = (np.array(_numbers(dataclasses.astuple(s.clues.seen))) for s in (one, alone))
        assert together == pytest.approx(single, abs=1e-9)


def sets_of_several_widths(size: tuple[int, int]) -> list[ThingSet]:
    """Sets of one to nine things of several widths."""
    rng, sets = np.random.default_rng(1), []
    for n in (1, 2, 3, 5, 9):
        places = rng.uniform(40, min(size) - 40, (n, 2)).tolist()
        reach = int(rng.integers(6, 36))
        boxes = [Box(int(r) - reach, int(c) - reach, int(r) + reach, int(c) + reach) for r, c in places]
        sets.append(ThingSet(tuple(Thing(b, (r, c)) for b, (r, c) in zip(boxes, places, strict=True)), size, f"by {n}"))
    return sets


def _numbers(values: tuple[object, ...]) -> list[float]:
    return [n for v in values for n in (_numbers(v) if isinstance(v, tuple) else [float(v)])]  # type: ignore[arg-type]


def test_fewer_peaks_are_the_first_of_more() -> None:
    dense = np.random.default_rng(2).normal(-2, 1.5, (24, 40, 40)).astype(np.float32)
    sight = runtime.Sight(dense, np.ones(12) / 12, np.ones(27) / 27, 1.0, 160)
    many, few = runtime.peaks(sight, "whole", least=runtime.LEAST), runtime.peaks(sight, "whole", least=0.8)
    assert 0 < len(few) < len(many) <= runtime.MOST_PEAKS
    assert (few.centers == many.centers[: len(few)]).all()
    assert few.scores.min() >= 0.8 > many.scores[len(few) :].max()


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12), st.integers(0, 2**32 - 1))
def test_partners_are_those_of_the_least_sum(n: int, seed: int) -> None:
    """Also where each one's nearest are all different, and nothing is searched."""
    rng = np.random.default_rng(seed)
    p = rng.random((6, n, 2))
    q = np.concatenate([p[:3, rng.permutation(n)] + rng.normal(0, 0.02, (3, n, 2)), rng.random((3, n, 2))])
    apart = ((p[:, :, None] - q[:, None]) ** 2).sum(3)
    expected = [linear_sum_assignment(one)[1].tolist() for one in apart]
    assert halves._partners(p, q).tolist() == expected


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 16), st.integers(0, 2**32 - 1))
def test_longest_links_are_those_of_minimum_spanning_trees(n: int, seed: int) -> None:
    points = np.random.default_rng(seed).random((4, n, 2))
    steps = np.array([cdist(own, own) for own in points])
    expected = [minimum_spanning_tree(own).toarray().max() for own in steps]
    assert cuts._longest_links(steps) == pytest.approx(expected)


@settings(max_examples=60, deadline=None)
@given(st.integers(2, 40), st.floats(0.05, 0.6), st.integers(0, 2**32 - 1))
def test_flat_groups_are_those_that_scipy_gives(n: int, most: float, seed: int) -> None:
    merged = linkage(pdist(np.random.default_rng(seed).random((n, 2))), "average")
    label = fcluster(merged, most, "distance")
    expected = {frozenset(np.flatnonzero(label == k).tolist()) for k in np.unique(label)}
    assert {frozenset(own.tolist()) for own in learned.flat(merged, most)} == {own for own in expected if len(own) > 1}


def test_heat_under_all_things_is_that_under_each() -> None:
    rng, size = np.random.default_rng(4), (200, 300)
    heat = rng.random((3, 50, 75)).astype(np.float32)
    side = side_by_side(sets_of_several_widths(size))
    under = heat_under.largest_near(side, heat, 1.0)
    for (row, col), width, own in zip((side.centers / 4).tolist(), (side.widths / 4).tolist(), under, strict=True):
        reach = max(1.0, 0.25 * width)
        rows, cols = (slice(max(0, int(at - reach)), int(at + reach) + 1) for at in (row, col))
        assert own == pytest.approx(heat[:, rows, cols].max(axis=(1, 2)))


@settings(max_examples=80, deadline=None)
@given(st.integers(1, 9), st.integers(1, 9), st.sampled_from([0.8, 0.85, 0.99]), st.integers(0, 2**32 - 1))
def test_sets_are_mostly_the_same_where_so_many_are_matched(n: int, m: int, share: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    own = rng.uniform(40, 360, (n, 2))
    other = np.concatenate([own[:m] + rng.normal(0, 6, own[:m].shape), rng.uniform(40, 360, (max(0, m - n), 2))])
    a, b = (
        ThingSet(tuple(Thing(around(r, c), (r, c)) for r, c in at.tolist()), (400, 400), "test") for at in (own, other)
    )
    matched = len(set_matching.partners(a, b)[0]) / max(n, m)
    assert set_matching.mostly_same(a, b, share) == (matched > share)


def around(row: float, col: float) -> Box:
    return Box(int(row) - 15, int(col) - 15, int(row) + 15, int(col) + 15)


def test_what_a_set_measured_of_its_things_stays_with_its_copies_and_not_with_others() -> None:
    one, *_, other = sets_of_several_widths((200, 300))
    assert dataclasses.replace(one, clues=Clues(votes=0.5)).centers is one.centers
    assert len(dataclasses.replace(one, things=other.things).centers) == len(other)

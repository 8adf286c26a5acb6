"""Two peaks on one long thing are one thing, two side by side are two: the outlines tell, where boxes could not."""

from __future__ import annotations

import numpy as np
import pytest

from curator.seeing.net import merge_scales, one_thing, outlines
from curator.seeing.net.runtime import CHANNELS, OUTLINED, STRIDE, Peaks, Sight, peaks

CELLS = (40, 60)
ROW = 20
HOT = (3.0, 2.0, 1.0, 0.5)  # of the heat's logit, peak by peak


def sight(columns: list[int], along: float, across: float, maps: int = 3) -> Sight:
    """What a net would say of lying ellipses with their middles in those columns of one row; half axes in cells."""
    dense = np.full((outlines.FIRST + 2 * outlines.SHAPES + 6, *CELLS), -9.0, np.float32)
    dense[CHANNELS["height"]], dense[CHANNELS["width"]] = (np.log(2 * v * STRIDE / 32) for v in (across, along))
    dense[outlines.FIRST :] = 0
    dense[outlines.FIRST + 2 * outlines.SHAPES :] = np.reshape([4.0, 0, 0, -4, -4, 0], (6, 1, 1))  # an ellipse
    for heat, column in zip(HOT, columns, strict=False):
        for name in (*OUTLINED, "tip")[:maps]:
            dense[CHANNELS[name], ROW, column] = heat
    return Sight(dense, np.zeros(12), np.zeros(27), 1.0, CELLS[1] * STRIDE)


def columns(found: Peaks) -> list[int]:
    at = (found.centers - (STRIDE - 1) / 2) / STRIDE
    assert (at[:, 0] == ROW).all()
    return [int(c) for c in at[:, 1]]


@pytest.mark.parametrize("name", OUTLINED)
def test_of_the_peaks_of_one_long_thing_the_clearest_stays(name: str) -> None:
    assert columns(peaks(sight([30, 24, 37], along=12, across=2), name)) == [30]


def test_things_side_by_side_stay_as_near_as_their_boxes_lie() -> None:
    assert columns(peaks(sight([30, 26, 34], along=2, across=12))) == [30, 26, 34]


def test_a_chain_of_peaks_is_thinned_not_swallowed() -> None:
    """The third is one thing with the second, which is gone; what stays is what no clearer one that stays takes in."""
    assert columns(peaks(sight([20, 30, 40], along=12, across=2))) == [20, 40]


def test_peaks_at_other_sizes_of_the_picture_are_the_same_thing_anywhere_along_it() -> None:
    one, other = sight([30, 50], along=7, across=2), sight([25, 53], along=7, across=2)
    both = merge_scales.joined([one, other])
    assert columns(both.peaks) == [30, 50]
    hot = 1 / (1 + np.exp(-np.array(HOT[:2])))
    np.testing.assert_allclose(both.heat, np.column_stack([hot, hot]), atol=1e-6)
    apart = merge_scales.joined([one, sight([40], along=2, across=7)])
    assert sorted(columns(apart.peaks)) == [30, 40, 50]


def test_ends_of_limbs_are_no_things() -> None:
    assert columns(peaks(sight([30, 24, 37], along=12, across=2, maps=4), "tip")) == [30, 24, 37]


def test_an_earlier_file_without_outlines_keeps_all() -> None:
    seen = sight([30, 24], along=12, across=2)
    assert columns(peaks(Sight(seen.dense[: outlines.FIRST], seen.scale, seen.count, 1.0, seen.longer))) == [30, 24]


def test_the_odds_are_those_that_outlines_are_drawn_by() -> None:
    rng = np.random.default_rng(3)
    seen = sight([], along=50, across=50)
    seen.dense[outlines.FIRST :] = rng.normal(0, 1, (2 * outlines.SHAPES + 6, *CELLS))
    seen.dense[outlines.FIRST : outlines.FIRST + outlines.SHAPES] = rng.normal(0, 1, (outlines.SHAPES, 1, 1))
    cells = np.column_stack([rng.integers(2, CELLS[0] - 2, 7), rng.integers(2, CELLS[1] - 2, 7)])
    middles = cells + rng.uniform(-0.4, 0.4, cells.shape)
    told = seen.dense[:, cells[:, 0], cells[:, 1]].astype(np.float64)
    odds = one_thing.takes_in(told, cells.T, middles.T, np.full((2, 7), 50.0))
    drawn = outlines.logits(seen, middles * STRIDE + (STRIDE - 1) / 2, (CELLS[0] * STRIDE, CELLS[1] * STRIDE))
    there = [drawn[:, STRIDE * r + 1 : STRIDE * r + 3, STRIDE * c + 1 : STRIDE * c + 3].mean((1, 2)) for r, c in cells]
    np.testing.assert_allclose(odds, np.transpose(there), atol=1e-3)
    assert np.ptp(odds) > 3

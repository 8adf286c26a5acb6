"""The dividing line runs between the outlines that the net sees, not between boxes."""

from __future__ import annotations

import math
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from curator.records import Box, Fact, Reading, Thing, ThingSet
from curator.seeing import halves, look, outlined_lines
from curator.seeing.judging.reasons import RULES, Reason
from curator.seeing.net import outlines
from curator.seeing.net.runtime import CHANNELS, MODEL, STRIDE, Sight

ROOT = Path(__file__).parents[2]
STEP = 10  # grey levels a thing in the rendered masks
SIZE = (240, 320)
LONG, SLIM = 80.0, 26.0  # half axes of a leaning thing, pixels
THROUGH = next(rule for rule in RULES if rule.name == "through")


def leaning(center: tuple[float, float], turn: float) -> NDArray[np.float64]:
    """Coefficients of the quadratic form (rows, columns) of an ellipse that leans by so many degrees."""
    way = math.radians(turn)
    axes = np.array([[math.cos(way), math.sin(way)], [-math.sin(way), math.cos(way)]])
    return np.asarray(axes.T @ np.diag([1 / LONG**2, 1 / SLIM**2]) @ axes)


def box_of(center: tuple[float, float], form: NDArray[np.float64]) -> Box:
    high, wide = np.sqrt(np.diag(np.linalg.inv(form)))
    (row, col) = center
    return Box(round(row - high), round(col - wide), round(row + high), round(col + wide))


def sight(centers: list[tuple[float, float]], forms: list[NDArray[np.float64]]) -> Sight:
    """What a net would say that sees those ellipses exactly, at the size of the picture."""
    high, wide = SIZE[0] // STRIDE, SIZE[1] // STRIDE
    dense = np.zeros((outlines.FIRST + 2 * outlines.SHAPES + 6, high, wide), np.float32)
    for center, form in zip(centers, forms, strict=True):
        box = box_of(center, form)
        row, col = (round((v - (STRIDE - 1) / 2) / STRIDE) for v in center)
        half = np.array([box.height, box.width]) / 2
        dense[[CHANNELS["height"], CHANNELS["width"]], row, col] = np.log(2 * half / 32)
        in_halves = form * np.outer(half, half)
        conic = [1, 0, 0, -in_halves[0, 0], -in_halves[1, 1], -2 * in_halves[0, 1]]
        dense[outlines.FIRST + 2 * outlines.SHAPES :, row, col] = 6 * np.array(conic)
    return Sight(dense, np.zeros(12), np.zeros(27), 1.0, max(SIZE))


def pair(apart: float, turns: tuple[float, float] = (30, 30)) -> tuple[Reading, tuple[Sight, ...]]:
    """Two leaning things side by side, read as 1+1, and three looks at them."""
    centers = [(120.0, 160 - apart / 2), (120.0, 160 + apart / 2)]
    forms = [leaning(center, turn) for center, turn in zip(centers, turns, strict=True)]
    things = tuple(Thing(box_of(c, form), c) for c, form in zip(centers, forms, strict=True))
    found = ThingSet(things, SIZE, "drawn")
    split = halves.fit(found)[0]
    return Reading(found, split, Fact(1), "check", 0.5), (sight(centers, forms),) * 3


def deepest(reading: Reading, forms: list[NDArray[np.float64]]) -> float:
    """The share of the worst thing's area that lies on the wrong side of the line that is drawn."""
    assert reading.halves is not None
    line, wrong = reading.halves.line, []
    rows, cols = np.mgrid[0 : SIZE[0], 0 : SIZE[1]].astype(np.float64)
    side = (line[1, 0] - line[0, 0]) * (cols - line[0, 1]) - (line[1, 1] - line[0, 1]) * (rows - line[0, 0]) > 0
    for thing, form in zip(reading.things.things, forms, strict=True):
        y, x = rows - thing.center[0], cols - thing.center[1]
        own = form[0, 0] * y * y + form[1, 1] * x * x + 2 * form[0, 1] * x * y <= 1
        wrong.append(min(side[own].mean(), 1 - side[own].mean()))
    return float(max(wrong))


def test_a_line_leans_with_the_things_where_an_upright_one_would_cut_them() -> None:
    reading, looks = pair(72)
    forms = [leaning(thing.center, 30) for thing in reading.things.things]
    assert deepest(reading, forms) > 0.02
    (after,) = outlined_lines.redrawn((reading,), looks)
    assert deepest(after, forms) == 0
    assert (after.grade, after.confidence, after.fact) == (reading.grade, reading.confidence, reading.fact)
    assert after.halves is not None
    assert np.ptp(after.halves.line[:, 0]) > LONG  # as long as they reach, not a dash between the middles


def test_a_line_that_clears_them_stays() -> None:
    reading, looks = pair(150, (0, 0))
    (after,) = outlined_lines.redrawn((reading,), looks)
    assert after.halves is not None
    assert reading.halves is not None
    assert np.array_equal(after.halves.line, reading.halves.line)


def test_things_that_lie_across_each_other_have_no_line_between_them_and_the_grade_is_as_it_was() -> None:
    reading, looks = pair(30, (0, 90))
    (after,) = outlined_lines.redrawn((reading,), looks)
    assert [reason.name for reason in after.reasons] == ["through"]
    assert after.grade == reading.grade


def test_what_boxes_said_of_the_line_is_taken_back_where_outlines_clear_it() -> None:
    reading, looks = pair(72)
    said = (Reason("row", True, "."), Reason("through", False, THROUGH.note), Reason("few", False, "."))
    doubted = Reading(reading.things, reading.halves, reading.fact, "check", 0.5, said)
    (after,) = outlined_lines.redrawn((doubted,), looks)
    assert [reason.name for reason in after.reasons] == ["row", "few"]


def test_only_the_first_readings_are_asked_for_and_none_without_a_net() -> None:
    reading, looks = pair(72)
    after = outlined_lines.redrawn((reading,) * 5, looks)
    assert [one is reading for one in after] == [False] * 3 + [True] * 2
    assert outlined_lines.redrawn((reading,), ()) == (reading,)


def test_what_two_claim_is_whose_it_is_likeliest() -> None:
    """Two outlines that reach into each other are parted where they are equally likely."""
    reading, looks = pair(40, (0, 0))
    one, other = outlines.hulls(looks[0], reading.things.centers)
    assert one[:, 1].max() <= 162
    assert other[:, 1].min() >= 158


@pytest.mark.skipif(not MODEL.exists(), reason="the trained file is not here")
@pytest.mark.parametrize("name", ["shoes-on-the-step", "porch-boots", "spoons-head-to-tail", "hands-five-and-five"])
def test_lines_of_rendered_photos_run_through_no_thing(name: str) -> None:
    """By the masks that were rendered with the sample pictures."""
    seen = look.look(ROOT / "sample_images" / f"{name}.jpg")
    mask = cv2.imread(str(ROOT / "tests" / "things" / f"{name}.png"), cv2.IMREAD_GRAYSCALE) // STEP
    reading = next(r for r in seen.readings if r.halves)
    assert reading.halves is not None
    scale = np.array(mask.shape) / np.array(reading.things.size)
    start, end = reading.halves.line * scale
    for thing in reading.things.things:
        row, col = np.minimum((np.array(thing.center) * scale).astype(int), np.array(mask.shape) - 1)
        if not mask[row, col]:
            continue
        at = np.argwhere(mask == mask[row, col])
        side = ((end - start)[0] * (at[:, 1] - start[1]) - (end - start)[1] * (at[:, 0] - start[0])) > 0
        assert min(side.mean(), 1 - side.mean()) <= 0.04

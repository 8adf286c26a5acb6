"""Bare grounds cut from beside what is boxed."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np

from curator.learning.photos import bare


def test_the_largest_square_that_touches_no_box() -> None:
    boxes = np.array([[0.5, 0.0, 1.0, 1.0]])
    top, left, side = bare.free_square((400, 800), boxes) or (0, 0, 0)
    assert left + side <= 400 - bare.MARGIN
    assert top + side <= 400
    assert side >= 400 - 2 * bare.MARGIN - 4


def test_where_boxes_are_all_over_there_is_none() -> None:
    places = np.linspace(0, 0.9, 10)
    boxes = np.array([[x, y, x + 0.05, y + 0.05] for x in places for y in places])
    assert bare.free_square((400, 600), boxes) is None


def test_squares_are_written_of_sources_whose_boxes_are_complete(tmp_path: Path) -> None:
    (tmp_path / "images").mkdir()
    grey = np.full((300, 500, 3), 90, np.uint8)
    grey[:, 300:] = 250  # the thing
    names = ["nail_001.jpg", "fac_001.jpg"]
    for name in names:
        cv2.imwrite(str(tmp_path / "images" / name), grey)
    entry = {"size": [500, 300], "boxes": [{"kind": "a", "box": [0.6, 0, 1, 1]}]}
    (tmp_path / "boxes.json").write_text(json.dumps(dict.fromkeys(names, entry)))
    assert bare.write(tmp_path, tmp_path / "bare") == 1
    (file,) = (tmp_path / "bare").iterdir()
    assert file.name.startswith("nail_")
    assert cv2.imread(str(file)).max() < 120

"""Nets by their marks: where the true places of a photo lie."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("torch", reason="torch is not installed")

from curator.learning.network import marks
from curator.seeing.evaluation.scoring import MARGIN

ROW = "file,total,half,kind,also,clear,difficulty,box,source\npane.jpg,2,1,flip,,1,easy,{box},porch\n"


def _folder(tmp_path: Path, box: str | None) -> Path:
    (tmp_path / "dots.json").write_text(json.dumps({"pane.jpg": [[0.0, 0.5], [1.0, 0.5]]}))
    if box is not None:
        (tmp_path / "labels.csv").write_text(ROW.format(box=box))
    return tmp_path


@pytest.mark.parametrize("box", [None, ""])
def test_dots_without_a_frame_are_fractions_of_the_photo(tmp_path: Path, box: str | None) -> None:
    ((name, path, places),) = marks.labelled(_folder(tmp_path, box))
    assert (name, path) == ("pane.jpg", tmp_path / "images" / "pane.jpg")
    np.testing.assert_allclose(places, [[0.5, 0.0], [0.5, 1.0]])


def test_dots_of_a_labelled_frame_lie_in_the_frame(tmp_path: Path) -> None:
    ((_, _, places),) = marks.labelled(_folder(tmp_path, '"0.25,0.5,0.75,0.7"'))
    np.testing.assert_allclose(places, [[0.6, 0.25 - MARGIN], [0.6, 0.75 + MARGIN]])

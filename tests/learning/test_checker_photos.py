"""What the checker learns from photos with boxes: ways to see them, and how right a set is where boxes are missing."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

import numpy as np

from curator.learning.network import checker_cases, checker_photos
from curator.learning.network.checker_cases import UNKNOWN, rightness
from curator.learning.sums import write_sum

TWO_ROWS = [
    {"kind": "coin", "box": [x, y, x + 0.08, y + 0.1]} for y in (0.1, 0.4, 0.75) for x in (0.05, 0.25, 0.45, 0.65, 0.85)
]
TRUTH = [np.array([[0, 10.0 * k, 8, 10.0 * k + 8] for k in range(6)])]
MIDDLES = np.array([[4, 10.0 * k + 4] for k in range(6)])


def _raw() -> Any:
    """Grey, with a white rectangle in every box."""
    raw = np.full((200, 300, 3), 90, np.uint8)
    for one in TWO_ROWS:
        left, top, right, bottom = np.round(np.array(one["box"]) * np.array([300, 200] * 2)).astype(int)
        raw[top:bottom, left:right] = 255
    return raw


def test_boxes_stay_on_their_things_in_every_way() -> None:
    seen = 0
    for way in checker_photos.WAYS:
        picture = checker_photos.shown(_raw(), "coin_001.jpg", TWO_ROWS, way)
        if picture is None:
            continue
        seen += 1
        (truth,) = picture.truths
        inside = [picture.shown[int(a) + 2 : int(c) - 2, int(b) + 2 : int(d) - 2] for a, b, c, d in truth]
        assert picture.complete
        assert all((part > 200).mean() > 0.95 for part in inside)
        assert (picture.shown > 200).mean() < 1.2 * sum((c - a) * (d - b) for a, b, c, d in truth) / picture.shown[
            ..., 0
        ].size  # none without a box
        assert picture.seen.shape == picture.shown.shape
    assert seen >= 8


def test_a_cut_out_holds_a_thing_nearly_whole_or_not_at_all() -> None:
    numbers = set()
    for k in range(30):
        picture = checker_photos.shown(_raw(), f"coin_{k:03d}.jpg", TWO_ROWS, "cut 1")
        if picture is not None:
            numbers.add(len(picture.truths[0]))
    assert len(numbers) >= 3
    assert min(numbers) >= 2
    assert max(numbers) < len(TWO_ROWS)


def test_of_a_house_front_only_windows_are_meant() -> None:
    front = [{**one, "kind": "window" if k < 6 else "signboard"} for k, one in enumerate(TWO_ROWS)]
    picture = checker_photos.shown(_raw(), "fac_002.jpg", front, "as it is")
    assert picture is not None
    assert [len(one) for one in picture.truths] == [6]
    assert picture.complete
    other = checker_photos.shown(_raw(), "fac_001.jpg", front, "as it is")
    assert other is not None
    assert not other.complete
    assert checker_photos.shown(_raw(), "bw_001.jpg", front, "as it is") is None


def test_where_boxes_are_missing_only_what_lacks_one_is_wrong() -> None:
    assert rightness(MIDDLES, TRUTH) == (1, 1, 1)
    assert rightness(MIDDLES[:5], TRUTH) == (0, 5 / 6, 1)
    more = np.vstack([MIDDLES, [[90.0, 90.0]]])
    assert rightness(more, TRUTH) == (0, 1, 6 / 7)
    assert rightness(MIDDLES, TRUTH, complete=False) == (UNKNOWN, 1, UNKNOWN)
    assert rightness(more, TRUTH, complete=False) == (UNKNOWN, 1, UNKNOWN)
    assert rightness(MIDDLES[:5], TRUTH, complete=False) == (0, 5 / 6, UNKNOWN)
    many = np.vstack([MIDDLES, np.column_stack([np.full(5, 90.0), np.arange(5) * 20.0])])
    assert rightness(many, TRUTH, complete=False)[0] == 0


def test_a_shard_is_whole_or_not_there(tmp_path: Path) -> None:
    picture = checker_photos.shown(_raw(), "coin_001.jpg", TWO_ROWS, "as it is")
    assert picture is not None
    taken = checker_cases.take(picture, "coin_001.jpg/as it is")
    assert taken is not None
    checker_cases.write([taken, taken], tmp_path / "real-1.npz")
    assert [file.name for file in tmp_path.iterdir()] == ["real-1.npz"]
    stored = np.load(tmp_path / "real-1.npz")
    assert stored["image"].shape == (2, checker_cases.SIDE, checker_cases.SIDE, 3)
    truth = stored["label"][0, int(stored["used"][0]) - 1]
    assert truth.tolist() == [1, 1, 1, -1]
    assert int(stored["count"][0, int(stored["used"][0]) - 1]) == len(TWO_ROWS)


def test_the_sum_of_a_file_lies_beside_it(tmp_path: Path) -> None:
    (tmp_path / "a.onnx").write_bytes(b"weights")
    digest = write_sum(tmp_path / "a.onnx")
    assert digest == hashlib.sha256(b"weights").hexdigest()
    assert (tmp_path / "a.onnx.sha256").read_text() == f"{digest}  a.onnx\n"

"""Photos seen by a net that has not seen them: which net that is, and which set is the one that is boxed."""

from __future__ import annotations

import json
from multiprocessing.pool import ThreadPool
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from curator.learning.fit.cases import Case, Seen
from curator.learning.photos import boxed, folds, real
from curator.records import Box, Thing, ThingSet
from curator.seeing.net import runtime
from curator.seeing.view import view_of

BOXES = [{"kind": "cup", "box": [0.1 + 0.2 * k, 0.2, 0.2 + 0.2 * k, 0.4]} for k in range(4)]
SPOON = {"kind": "spoon", "box": [0.4, 0.7, 0.5, 0.8]}


def dots(places: list[tuple[float, float]]) -> ThingSet:
    return ThingSet(
        tuple(Thing(Box(int(r) - 5, int(c) - 5, int(r) + 5, int(c) + 5), (r, c)) for r, c in places), (100, 200), "test"
    )


def test_photos_of_one_source_stay_together_and_house_fronts_are_dealt_out() -> None:
    names = [
        *(f"fac_{k:03}.jpg" for k in range(6)),
        *(f"{s}_{k}.jpg" for s in (*real.COMPLETE, "pear", "bw") for k in range(3)),
    ]
    fold = folds.fold_of(names)
    assert fold == folds.fold_of(names[::-1])
    assert [fold[n] for n in names[:6]] == list("ababab")
    for source in (*real.COMPLETE, "pear", "bw"):
        assert len({fold[n] for n in names if real.source_of(n) == source}) == 1
    assert {fold[n] for n in names[6:]} == {"a", "b"}


def test_the_stranger_is_the_net_of_the_other_half() -> None:
    names = ["card_1.jpg", "tool_1.jpg"]
    assert folds.fold_of(names) == {"card_1.jpg": "a", "tool_1.jpg": "b"}
    assert folds.strangers(names, Path("nets")) == {
        "card_1.jpg": Path("nets/b.onnx"),
        "tool_1.jpg": Path("nets/a.onnx"),
    }


def test_each_half_is_a_folder_of_its_own(tmp_path: Path) -> None:
    source = tmp_path / "all"
    (source / "images").mkdir(parents=True)
    (source / "boxes.json").write_text(
        json.dumps({name: {"boxes": BOXES} for name in ("card_1.jpg", "tool_1.jpg", "tool_2.jpg")})
    )
    for name in ("card_1.jpg", "tool_1.jpg", "tool_2.jpg"):
        (source / "images" / name).write_bytes(name.encode())
    for _ in range(2):  # again does no harm
        assert folds.write(source, tmp_path / "folds") == {"a": 1, "b": 2}
    assert list(json.loads((tmp_path / "folds/b/boxes.json").read_text())) == ["tool_1.jpg", "tool_2.jpg"]
    assert (tmp_path / "folds/a/images/card_1.jpg").read_bytes() == b"card_1.jpg"


def test_the_boxed_set_is_one_thing_a_box() -> None:
    boxes = boxed.meant([*BOXES, SPOON], (100, 200))
    assert [len(one) for one in boxes] == [4, 5]  # the cups, or all
    cups = [(30.0, 30.0 + 40 * k) for k in range(4)]
    assert boxed._is(dots(cups), boxes[0])
    assert not boxed._is(dots(cups[:3]), boxes[0])
    assert not boxed._is(dots([*cups[:3], (90.0, 10.0)]), boxes[0])  # the right number in wrong places
    assert boxed._is(dots([*cups, (75.0, 90.0)]), boxes[1])


def test_parts_of_boxed_things_are_another_level() -> None:
    boxes = boxed.meant(BOXES, (100, 200))[-1]
    halves = [(30.0, 24.0 + 40 * k + 12 * j) for k in range(4) for j in range(2)]
    assert boxed._parts(dots(halves), boxes)
    assert not boxed._parts(dots(halves[::2]), boxes)
    assert not boxed._parts(dots([(80.0, 20.0 * k + 10) for k in range(8)]), boxes)


def test_another_net_answers_for_the_same_picture(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: list[Path] = []
    another = tmp_path / "another.onnx"
    another.write_bytes(b"weights")

    def see(pixels: object, longer: int, model: Path) -> SimpleNamespace:
        asked.append(model)
        return SimpleNamespace(peaks=lambda name: ())

    monkeypatch.setattr(runtime, "see", see)
    pixels = np.zeros((32, 32, 3), np.uint8)
    assert len(view_of(pixels).sights) == len(view_of(pixels, another).sights) == len(runtime.SIZES)
    assert asked == [runtime.MODEL] * 3 + [another] * 3


def test_a_photo_that_two_strangers_see_counts_once(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """What the second pair of nets sees is weighed, but it is no second photo."""
    (tmp_path / "boxes.json").write_text(
        json.dumps({name: {"boxes": BOXES} for name in ("card_1.jpg", "tool_1.jpg", "pear_1.jpg", "bolt_1.jpg")})
    )

    def case(job: tuple[str, object], folder: Path, nets: dict[str, Path], cache: Path | None, pair: str) -> Case:
        return Case(job[0], pair, str(nets[job[0]]), Seen([], {}), np.zeros(0, bool), [], [], None, 2)

    monkeypatch.setattr(boxed, "_case", case)
    monkeypatch.setattr(boxed, "Pool", ThreadPool)
    one, other = tmp_path / "one", tmp_path / "other"
    seen = boxed.gather(tmp_path, [one, other])
    assert [c.source for c in seen] == [
        str(folder / net) for folder in (one, other) for net in ("b.onnx", "a.onnx")
    ]  # photos whose boxes are all there
    assert [c.passed_on for c in seen] == [False, False, True, True]
    assert {c.share for c in seen} == {boxed.SHARE / 2}

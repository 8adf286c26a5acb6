"""What a person points at is as large as the net outlines it, where its looks agree."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from curator.catalog.store import folder as catalog
from curator.records import ThingSet
from curator.seeing import look, photo, tapped

CATALOG = Path(__file__).parents[2] / "catalog"
HULLS = dict[str, list[tuple[int, int, int, int]]]


def sized(monkeypatch: pytest.MonkeyPatch, looks: HULLS, *places: tuple[float, float]) -> list[tuple[int, ...]]:
    """Boxes (top, left, bottom, right) of things tapped in a picture of 200 x 200; of each look the boxes it sees."""

    def hulls(sight: Any, centers: Any) -> list[Any]:
        return [np.array([b[:2], b[2:]], dtype=np.float64) if b else np.zeros((0, 2)) for b in looks[sight.name]]

    monkeypatch.setattr(tapped.outlines, "available", lambda _: True)
    monkeypatch.setattr(tapped.outlines, "hulls", hulls)
    blank: Any = SimpleNamespace(size=(200, 200))
    things = look.by_hand(blank, [(x / 200, y / 200) for y, x in places])
    sights: Any = [SimpleNamespace(name=name) for name in looks]
    found: ThingSet = tapped.sized(things, sights)
    assert [t.center for t in found.things] == [t.center for t in things.things]
    return [(t.box.top, t.box.left, t.box.bottom, t.box.right) for t in found.things]


def test_the_two_looks_that_agree_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    near = [(20, 30, 80, 70), (20, 130, 80, 170)]
    looks = {"small": [(0, 0, 200, 90), (0, 110, 9, 120)], "middle": near, "large": [(22, 30, 82, 70), near[1]]}
    assert sized(monkeypatch, looks, (50, 50), (50, 150)) == [(21, 30, 81, 70), (20, 130, 80, 170)]


def test_a_thing_of_which_nothing_is_agreed_keeps_its_square(monkeypatch: pytest.MonkeyPatch) -> None:
    good = (20, 130, 80, 170)
    for one, other in (((20, 30, 80, 70), (60, 30, 140, 70)), ((), ()), ((0, 0, 200, 200), (0, 0, 200, 200))):
        looks: Any = {"a": [one, good], "b": [other, good]}
        boxes = sized(monkeypatch, looks, (50, 50), (50, 150))
        assert boxes == [(20, 20, 80, 80), good]


def test_tapped_boots_are_taller_than_wide() -> None:
    prompt = catalog.load(CATALOG, "boots")
    seen = photo.load(catalog.picture_path(CATALOG, prompt))
    dots = [(d.x, d.y) for d in prompt.dots]
    plain = look.look_again(seen, dots)[0]
    told = look.look_again(seen, dots, view=look.viewed(seen, None)[0])[0]
    assert told.fact == plain.fact == prompt.fact
    for one, other in zip(plain.things.things, told.things.things, strict=True):
        assert abs(one.box.height - one.box.width) <= 2
        assert 2 * other.box.width < other.box.height < 0.9 * seen.size[0]
        assert abs(other.center[0] - one.center[0]) < 1

"""Answers reported by what is in the photo."""

from __future__ import annotations

import pytest

from curator.learning.fit.gate import Answer
from tests.bench.kinds_bench import KINDS, kinds_of, table


@pytest.mark.parametrize(
    ("thing", "kinds"),
    [
        ("legs of a spider", ["legs, wings"]),
        ("table legs", []),
        ("Eggs in a carton", ["eggs"]),
        ("eggplants", ["plants"]),
        ("raised fingers", ["hands"]),
        ("handles", []),
        ("sweet potatoes", ["fruit, vegetables"]),
        ("cupboard doors", []),
        ("candles", ["chairs, drawers, lamps, candles"]),
        ("window panes", ["windows"]),
    ],
)
def test_the_kinds_of_a_label_s_words(thing: str, kinds: list[str]) -> None:
    assert kinds_of(thing) == kinds


def test_each_kind_has_its_shares() -> None:
    def answer(name: str, total: bool | None, first: bool | None) -> Answer:
        return Answer(name, "photos", "", 0.5, True, (), 4, total, first, None)

    answers = [answer("a", True, True), answer("b", False, None), answer("c", None, None), answer("d", True, False)]
    things = {("photos", name): "eggs" for name in "abc"} | {("photos", "d"): "buns"}
    rows = {kind: row.removeprefix(kind).split() for kind, row in zip(KINDS, table(answers, things), strict=True)}
    assert rows["eggs"] == ["2", "0.50", "1", "1.00"]
    assert rows["buns"] == ["1", "1.00", "1", "0.00"]
    assert rows["windows"] == ["0", "nan", "0", "nan"]

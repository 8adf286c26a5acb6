"""What is begun ahead of the judge: answered as when it is asked for by itself, and little that nobody asks for."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from curator.records import ThingSet
from curator.seeing import look, photo
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.finders import find_all
from curator.seeing.judging import ahead, features, models, pooled
from curator.seeing.judging.checked import worth
from curator.seeing.judging.feature_table import looks
from curator.seeing.net import checker

SAMPLES = sorted(Path("sample_images").glob("*.jpg"))[::6]


def test_sets_measured_in_two_steps_are_told_what_halves_add() -> None:
    found = find_all(look.viewed(photo.load(SAMPLES[0]), None)[0])
    bare, every = features.without_halves(found), features.measured(found)
    told = {"pairs", "shown", "loose"}
    assert any(one.fitted for one in every)
    for one, other in zip(bare, every, strict=True):
        assert one.things is other.things
        assert not one.fitted
        assert list(one.features) == list(other.features)  # weights are summed in this order
        assert {name for name in told if one.features[name]} == set()
        differ = {name for name, value in one.features.items() if other.features[name] != value}
        assert differ <= told
        assert bool(other.fitted) == ("pairs" in differ) or other.fitted[0].chance == 1


def test_most_of_what_is_looked_at_ahead_is_asked_for_and_answered_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    begun, each = list[ThingSet](), checker.each
    monkeypatch.setattr(checker, "each", lambda seen, sets: begun.extend(sets) or each(seen, sets))
    early = wanted = both = 0
    for path in SAMPLES:
        view, _ = look.viewed(photo.load(path), None)
        bare = features.without_halves(find_all(view))
        begun.clear()
        one = ahead.begun(Picture(view.pixels))
        ahead.likelier(one, bare)
        first = list(begun)
        every = features.with_halves(bare)
        asked = worth(models.beliefs(*features.weighed(every)))
        answers = ahead.checked(one, every, asked)
        sets: Sequence[ThingSet] = [every[i].things for i in asked]
        assert np.allclose(answers, checker.check(view.pixels, sets), atol=1e-5)
        assert len(begun) == len(set(begun) | set(sets)) + len(sets)  # none twice, but for those just above
        for i in asked:
            assert ahead.seen(one, every[i].things) == looks(Picture(view.pixels), every[i].things)
        early, wanted, both = early + len(first), wanted + len(asked), both + len(set(first) & set(sets))
    assert both > 0.7 * early
    assert both > 0.7 * wanted


def test_without_its_file_the_checker_is_not_asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(checker, "MODEL", tmp_path / "none.onnx")
    view, _ = look.viewed(photo.load(SAMPLES[0]), None)
    one = ahead.begun(Picture(view.pixels))
    every = features.measured(find_all(view))
    ahead.likelier(one, every)
    places = worth(models.beliefs(*features.weighed(every)))
    assert places
    assert ahead.checked(one, every, places) == []
    assert pooled.believed(features.weighed(every), list, lambda p: ahead.checked(one, every, p))
    assert ahead.seen(one, every[0].things) == looks(Picture(view.pixels), every[0].things)

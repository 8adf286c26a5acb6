"""Raised fingers are covered whole: their joints tell where one ends, for no outline does."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from curator.catalog.store import folder as catalog
from curator.classroom import pictures
from curator.classroom.marking import covers, extents, fingers, outlines, overlays
from curator.seeing.net.hands import FINGERS, Hand

CATALOG = Path(__file__).parents[2] / "catalog"
SIZE = (240, 320)


def hand(*raised: bool) -> Hand:
    """Wrist at the bottom, four upright fingers 24 pixels apart, the thumb to the left."""
    joints = np.zeros((21, 2))
    joints[0] = (230, 160)
    for k, own in enumerate(FINGERS):
        start, step = ((190, 110), (-6, -16)) if k == 0 else ((130, 100 + 24 * k), (-25, 0))
        for n, joint in enumerate(own):
            joints[joint] = np.array(start) + n * np.array(step)
    return Hand(joints, raised, (1.0,) * 5, 1.0, 0.8)


def things(*places: tuple[float, float]) -> extents.Floats:
    return np.array([(x, y, 8.0, 20.0) for x, y in places])


def outlined(monkeypatch: pytest.MonkeyPatch, one: Hand, *places: tuple[float, float]) -> outlines.Labels | None:
    monkeypatch.setattr(fingers, "hands", lambda _: (one,))
    return fingers.outlined(np.zeros((*SIZE, 3), np.uint8), things(*places))


def test_each_place_has_its_whole_finger_and_no_palm(monkeypatch: pytest.MonkeyPatch) -> None:
    found = outlined(monkeypatch, hand(False, True, True, False, False), (148, 60), (125, 62))
    assert found is not None
    assert (found[60, 148], found[60, 124]) == (1, 2)
    rows = np.flatnonzero((found == 2).any(axis=1))
    assert rows.min() < 55 < 118 < rows.max() < 135  # from past the last joint to where it leaves the palm
    widths = (found == 2).sum(axis=1)[70:110]
    assert 18 < widths.mean() < 26


@pytest.mark.parametrize(
    "places",
    [((148, 60), (200, 62)), ((148, 60), (148, 80)), ((148, 60), (172, 60)), ()],
    ids=["one beside all fingers", "two on one", "one on a bent finger", "none"],
)
def test_other_things_are_left_to_their_outlines(
    monkeypatch: pytest.MonkeyPatch, places: tuple[tuple[float, float], ...]
) -> None:
    assert outlined(monkeypatch, hand(False, True, True, False, False), *places) is None


def test_two_hands_of_the_catalog_are_covered_by_plain_clean_cards() -> None:
    prompt = catalog.load(CATALOG, "fingers")
    photo = np.ascontiguousarray(cv2.imread(str(catalog.picture_path(CATALOG, prompt)))[..., ::-1])
    there = pictures.cropped(photo, prompt, outlines.outlines(photo, prompt))
    for side in (1, 2):
        card = overlays.half_cover(*there, side)
        assert card.clean
        assert card.straight
    assert overlays.some_cover(*there, 3).clean
    assert covers.cover(*there, [0]).clean

"""The finders on pictures made by others, with known answers; the source stands beside each check."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from drawn import Pixels

from curator.records import ThingSet
from curator.seeing.finders import find_all, hands
from curator.seeing.judging import readings
from curator.seeing.view import view_of

OPENCV_DOC = Path("/usr/share/doc/opencv-doc")  # Debian package opencv-doc


def working(grey_or_rgb: Pixels) -> Pixels:
    rgb = np.dstack([grey_or_rgb] * 3) if grey_or_rgb.ndim == 2 else grey_or_rgb[..., :3]
    scale = min(1.0, 512 / max(rgb.shape[:2]))
    size = (round(rgb.shape[1] * scale), round(rgb.shape[0] * scale))
    small: Pixels = np.ascontiguousarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA))
    return small


def first(pixels: Pixels) -> ThingSet:
    """The things of what is said first."""
    return readings.readings(pixels, find_all(view_of(pixels)))[0].things


def of_opencv(name: str) -> Pixels:
    path = OPENCV_DOC / name
    if not path.exists():
        pytest.skip("Debian package opencv-doc is not installed")
    return working(np.ascontiguousarray(cv2.imread(str(path))[..., ::-1]))


def test_coins_of_scikit_image() -> None:
    """`skimage.data.coins()` (scikit-image, no known copyright restrictions): 24 coins in four rows of six."""
    from skimage.data import coins

    best = first(working(coins()))
    assert len(best) == 24
    rows = np.sort(best.centers[:, 0]).reshape(4, 6)
    assert np.ptp(rows, axis=1).max() < np.diff(rows.mean(axis=1)).min() / 2  # four rows of six, apart from each other


@pytest.mark.parametrize("columns", [2, 3, 4, 5, 6])
def test_two_rows_of_coins(columns: int) -> None:
    """The first two rows of the same picture, cut after 2 to 6 columns: both rows are found."""
    from skimage.data import coins

    picture = coins()
    right = [0, 0, 130, 190, 252, 316, 384][columns]
    assert 2 * columns in [len(s) for s in find_all(view_of(working(picture[8:150, 0:right])))]


def test_sweets_of_opencv() -> None:
    """smarties.png (Debian opencv-doc): 12 whole sweets, 2 more cut by the edge."""
    assert len(first(of_opencv("examples/data/smarties.png"))) == 12


def test_touching_coins_of_opencv() -> None:
    """water_coins.jpg (Debian opencv-doc): 24 coins that touch."""
    assert len(first(of_opencv("opencv4/html/water_coins.jpg"))) == 24


def test_open_hand_of_opencv() -> None:
    """handSrc.jpg (Debian opencv-doc): one open hand, five fingers, the thumb one of them."""
    found = hands.find(view_of(of_opencv("opencv4/html/handSrc.jpg")))
    assert [len(s) for s in found] == [5, 4, 1]


def test_textures_are_no_strong_sets() -> None:
    """`skimage.data.grass()` and `gravel()` (scikit-image): nothing there that a person would count up to 24."""
    from skimage.data import grass, gravel

    for texture in (grass(), gravel()):
        assert all(s.support < 0.6 for s in find_all(view_of(working(texture))) if len(s) <= 24)

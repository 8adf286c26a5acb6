"""The sample pictures' rows, the lens that bends them and the dots with them, and what the folder says of itself."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import yaml

from curator.learning.samples import lens, rows

ROOT = Path(__file__).parents[2]
SAMPLES, MASKS = ROOT / "sample_images", ROOT / "tests" / "things"
TRUTH = yaml.safe_load((SAMPLES / "truth.yaml").read_text(encoding="utf-8"))["pictures"]
STEP = 10  # grey levels between the things of a mask


def test_every_row_is_one_picture_and_its_half_is_half_of_what_is_counted() -> None:
    names = [spec.name for spec in rows.SPECS]
    assert len(names) == len(set(names))
    specs = {f"{spec.name}.jpg": spec for spec in rows.SPECS}
    assert {row["file"] for row in TRUTH} == {path.name for path in SAMPLES.glob("*.jpg")}
    for row in TRUTH:
        spec = specs[row["file"]]
        assert (row["things"], row["half"], row["kind"]) == (spec.things, spec.half or "none", spec.kind)
        assert row["total"] == (len(row["dots"]) if len(row["dots"]) > 1 else None)
        assert spec.half is None or row["total"] == 2 * spec.half, spec.name
        assert all(0 < x < 1 and 0 < y < 1 for x, y in row["dots"]), spec.name


@pytest.mark.parametrize("row", [row for row in TRUTH if row["dots"]], ids=lambda row: str(row["file"])[:-4])
def test_a_dot_lies_on_its_own_thing(row: dict[str, object]) -> None:
    mask = cv2.imread(str(MASKS / f"{str(row['file'])[:-4]}.png"), cv2.IMREAD_GRAYSCALE)
    picture = cv2.imread(str(SAMPLES / str(row["file"])))
    assert mask is not None
    assert picture is not None
    assert mask.shape == picture.shape[:2]
    dots = row["dots"]
    assert isinstance(dots, list)
    assert set(np.unique(mask).tolist()) == {STEP * n for n in range(len(dots) + 1)}
    height, width = mask.shape
    for n, (x, y) in enumerate(dots):
        rows_, columns = np.nonzero(mask == STEP * (n + 1))
        away = np.hypot(rows_ - y * height, columns - x * width).min()
        assert away <= 0.25 * np.sqrt(len(rows_)), (row["file"], n)


def test_pictures_carry_nothing_of_their_making() -> None:
    for path in SAMPLES.glob("*.jpg"):
        assert b"Exif" not in path.read_bytes()[:4096], path.name


@pytest.mark.parametrize("size", [(400, 300), (300, 400)])
def test_a_point_is_found_where_the_lens_bends_it(size: tuple[int, int]) -> None:
    for x, y in ((0.1, 0.15), (0.5, 0.5), (0.82, 0.9), (0.3, 0.7)):
        picture = np.zeros((size[1], size[0]), np.float32)
        cv2.circle(picture, (round(x * size[0] - 0.5), round(y * size[1] - 0.5)), 4, 1.0, -1)
        r, c = np.nonzero(lens.through(picture) > 0.5)
        found = ((c.mean() + 0.5) / size[0], (r.mean() + 0.5) / size[1])
        assert lens.bent([(x, y)], size)[0] == pytest.approx(found, abs=1.2 / min(size))


def test_the_camera_is_held_so_that_the_things_fill_the_picture() -> None:
    points = np.array([(x, y, z) for x in (-3.0, 2.0) for y in (-1.0, 1.5) for z in (0.0, 1.0)])
    for slant in (0.0, 30.0, 48.0):
        held = lens.hold(points, slant, 3.0, -2.0, 0.7, (0.02, -0.03), (1200, 900))
        seen = held.seen(points)
        assert np.ptp(seen, axis=0).max() == pytest.approx(0.7, abs=0.01)
        assert (seen.min(0) + seen.max(0)) / 2 == pytest.approx([0.52, 0.47], abs=0.01)
        x, y = held.ground(*held.seen([(0.4, -0.2, 0.0)])[0])
        assert (x, y) == pytest.approx((0.4, -0.2), abs=1e-6)


def test_what_is_developed_is_the_same_again_and_darker_in_the_corners() -> None:
    grey = np.full((90, 120, 3), 0.5, np.float32)
    made = lens.develop(grey, 3)
    assert made.dtype == np.uint8
    assert (made == lens.develop(grey, 3)).all()
    assert made[:15, :15].mean() < made[35:55, 50:70].mean() - 5
    assert made[35:55, 50:70].std() > 0.5

"""What is left out or looked at in part, to be quick, changes nothing that is shown."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import cv2
import drawn_catalog as drawn
import numpy as np
import pytest
from PIL import Image

from curator.catalog.store import folder as catalog
from curator.classroom import lesson as lessons
from curator.classroom import pictures, shrinking
from curator.classroom.marking import covers, extents, outlines, rings, seen, shapes
from curator.classroom.plan import Plan, Step
from curator.classroom.views import Views, photo_views
from curator.classroom.writers import page, slide_file
from curator.records import Prompt
from curator.seeing import photo

STAGES = ("see", "cover", "not_half", "near")


@pytest.fixture(scope="module")
def school(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("c")
    places = drawn.two_rows(4)
    drawn.add(folder, drawn.prompt("eggs", places, "slide", "egg", "eggs"), places)
    return folder


def lesson(school: Path, *suffixes: str) -> lessons.Lesson:
    def made(_: Step, prompt: Prompt | None) -> tuple[Views, tuple[str, ...]]:
        assert prompt is not None
        wanted = [((*STAGES, "dots"), 1, 3)]
        return photo_views(school, prompt, wanted, 480, lessons.layered(*suffixes))[0], ()

    return lessons.lesson(school, Plan("en", (Step(1, "eggs", stages=STAGES, hide=3),)), made=made)


def test_which_views_no_file_shows_whole() -> None:
    assert lessons.layered(".pptx") < lessons.layered(".HTML")
    assert lessons.layered(".html", ".pptx", ".yaml") == lessons.layered(".pptx")
    assert not lessons.layered(".pdf", ".html") | lessons.layered(".zip") | lessons.layered(".yaml") | lessons.layered()


def test_a_page_with_layers_alone_is_the_same(school: Path) -> None:
    whole, few = lesson(school), lesson(school, ".html")
    assert [bool(getattr(few.scenes[0].views, name)) for name in ("plain", "one_more", "cover", "rings")] == [
        True, True, False, False,
    ]  # fmt: skip
    assert page.html(few) == page.html(whole)


def test_slides_with_layers_alone_show_the_same(school: Path, tmp_path: Path) -> None:
    def parts(one: lessons.Lesson, name: str) -> dict[str, bytes]:
        with zipfile.ZipFile(lessons.write(one, tmp_path / name)) as file:
            return {part: file.read(part) for part in file.namelist() if "/slides/" in part or "/media/" in part}

    assert parts(lesson(school, ".pptx"), "few.pptx") == parts(lesson(school), "whole.pptx")


def test_a_picture_read_once_is_cut_as_one_read_anew(school: Path) -> None:
    prompt = catalog.load(school, "eggs")
    read = pictures.whole(school, prompt)
    again, anew = (pictures.opened(school, prompt, wide=500, read=one) for one in (read, None))
    assert (again.photo == anew.photo).all()


@pytest.mark.parametrize("times", [1.1, 1.25, 4 / 3, 1.5, 5 / 3, 2, 8 / 3, 3, 5.3])
def test_a_picture_shrunk_is_as_near_to_a_fine_filter_as_means_over_areas(times: float) -> None:
    grain = np.random.default_rng(1).integers(0, 256, (600, 900, 3), dtype=np.uint8)
    pixels = np.asarray(cv2.GaussianBlur(grain, (0, 0), 1.5), dtype=np.uint8)
    size = (round(600 / times), round(900 / times))
    fine = np.asarray(Image.fromarray(pixels).resize(size[::-1], Image.Resampling.LANCZOS), np.float64)
    off, areas = (
        float(np.sqrt(((one - fine) ** 2).mean()))
        for one in (shrinking.shrunk(pixels, size), cv2.resize(pixels, size[::-1], interpolation=cv2.INTER_AREA))
    )
    assert off <= 1.25 * areas


def test_a_picture_is_brought_within_bounds_and_never_enlarged() -> None:
    pixels = np.zeros((90, 130, 3), np.uint8)
    assert shrinking.within(pixels, 130, 90) is pixels
    assert shrinking.within(pixels, 65, 999).shape == (45, 65, 3)
    assert shrinking.within(pixels, 999, 9).shape == (9, 13, 3)
    assert shrinking.within(pixels, 1, 1).shape == (1, 1, 3)


@pytest.mark.parametrize("closed", [True, False])
def test_a_line_with_fewer_corners_lies_where_it_lay(closed: bool) -> None:
    turn = np.linspace(0, 2 * np.pi, 900, endpoint=False)
    line = np.stack([300 + 200 * np.cos(turn), 250 + 120 * np.sin(turn)], axis=1)
    few = rings._cornered(line, closed)
    assert len(few) < len(line) / 4
    corners = few.astype(np.float32).reshape(-1, 1, 2)
    away = [abs(cv2.pointPolygonTest(corners, (float(x), float(y)), True)) for x, y in line]
    assert max(away) <= 1.01 / rings.PARTS
    if not closed:
        assert np.allclose(few[[0, -1]], line[[0, -1]], atol=1e-3)


@pytest.mark.parametrize("sigma", [0.1, 3.0, 17.0])
def test_a_shape_smoothed_where_it_lies_is_smoothed_as_a_whole(sigma: float) -> None:
    for seed in range(4):
        mask = _blots(seed)
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), max(0.5, sigma), borderType=cv2.BORDER_REPLICATE)
        assert (shapes.smooth(mask, sigma) == (soft > 0.5)).all()
    assert not shapes.smooth(np.zeros((20, 30), np.bool_), sigma).any()


@pytest.mark.parametrize("grown", [0.0, 4.5, 40.0])
def test_a_hull_grown_where_it_lies_is_grown_as_a_whole(grown: float) -> None:
    for seed in range(4):
        mask = _blots(seed)
        solid = np.zeros(mask.shape, np.uint8)
        cv2.fillConvexPoly(solid, cv2.convexHull(cv2.findNonZero(mask.astype(np.uint8))), (1,))
        assert (shapes.hull(mask, grown) == (cv2.distanceTransform(1 - solid, cv2.DIST_L2, 5) <= grown)).all()
    assert not shapes.hull(np.zeros((20, 30), np.bool_), grown).any()


@pytest.mark.parametrize("line", [1, 2, 3, 4, 8])
def test_an_edge_taken_off_is_what_lies_no_farther_from_the_rim(line: int) -> None:
    for seed in range(4):
        deep = _blots(seed).view(np.uint8)
        far = cv2.distanceTransform(deep, cv2.DIST_L2, 5)
        assert (cv2.erode(deep, covers._ball(line)) > 0).tolist() == (far > line).tolist()


def test_a_mask_reaches_the_same_way_whichever_group_it_is() -> None:
    one, other = _blots(1), ~_blots(2)
    there, back = shapes._lines(one, other), shapes._lines(other, one)
    assert there is not None
    assert back is not None
    assert [cut.gap for cut in there] == [cut.gap for cut in back]
    assert shapes._lines(one, np.zeros_like(one)) is None


@pytest.mark.parametrize("orientation", [1, 6])
def test_a_picture_is_upright_however_it_lies(orientation: int) -> None:
    pixels = np.random.default_rng(1).integers(0, 256, (90, 130, 3), dtype=np.uint8)
    turned, file, exif = Image.fromarray(pixels), io.BytesIO(), Image.Exif()
    exif[0x0112] = orientation
    turned.save(file, "PNG", exif=exif)
    assert (photo.large_of(file.getvalue(), "a.png") == (pixels if orientation == 1 else np.rot90(pixels, -1))).all()


def test_what_is_settled_with_its_neighbours_takes_no_part_in_the_watershed() -> None:
    from skimage.segmentation import watershed

    random = np.random.default_rng(3)
    steep = cv2.GaussianBlur(random.random((90, 120)).astype(np.float32), (0, 0), 2)
    told = np.stack([4 - 0.2 * np.hypot(*(np.indices(steep.shape) - [[[40]], [[x]]])) for x in (30, 80)])
    marks = np.where(told.max(axis=0) < -seen.NOTHING, 3, 0)
    for i, own in enumerate(told):
        marks[(own > seen.THING) & (own - told[1 - i] > seen.THING)] = i + 1
    whole = watershed(steep, marks)
    even = cv2.medianBlur(np.where(whole == 3, 0, whole).astype(np.uint8), seen.EVEN)
    assert (seen._shared_out(steep, told.astype(np.float32)) == seen._rounded(even)).all()


def test_the_thing_nearest_to_each_pixel() -> None:
    labels = np.zeros((5, 9), np.uint8)
    labels[2, 1], labels[2, 7] = 4, 2
    assert (outlines._nearest(labels)[:, :4] == 4).all()
    assert (outlines._nearest(labels)[:, 5:] == 2).all()
    assert not outlines._nearest(np.zeros((3, 3), np.uint8)).any()


def test_slides_hold_what_python_pptx_makes_of_them(
    school: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from pptx import Presentation

    made = lesson(school, ".pptx")
    ours = lessons.write(made, tmp_path / "ours.pptx")
    monkeypatch.setattr(slide_file, "new", Presentation)
    theirs = lessons.write(made, tmp_path / "theirs.pptx")
    with zipfile.ZipFile(ours) as one, zipfile.ZipFile(theirs) as other:
        assert one.namelist() == other.namelist()
        assert [n for n in one.namelist() if one.read(n) != other.read(n) and n != "docProps/core.xml"] == []


def test_points_and_the_part_about_them() -> None:
    mask = np.zeros((9, 12), np.bool_)
    assert extents.points(mask).shape == (0, 2)
    mask[2, 3] = mask[2, 5] = mask[8, 4] = True
    assert extents.points(mask).tolist() == [[3, 2], [5, 2], [4, 8]]
    assert extents.around(mask, 1.5) == (slice(0, 9), slice(1, 8))
    assert extents.points(mask[:, ::2]).tolist() == [[2, 8]]


def _blots(seed: int) -> extents.Mask:
    """A few discs, some of them past the edge."""
    random, mask = np.random.default_rng(seed), np.zeros((240, 320), np.uint8)
    for x, y, radius in random.integers((0, 0, 3), (320, 240, 40), (3, 3)).tolist():
        cv2.circle(mask, (x, y), radius, (1,), -1)
    return mask.astype(bool)

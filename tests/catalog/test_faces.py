"""Faces: found as they lie in photos, written down once, and asked about by every door alike.

The pictures of faces are those that scikit-image carries: its astronaut (NASA, public domain) and its crops of the
LFW data set, 25 pixels wide.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from bundles_made import shared
from numpy.typing import NDArray

from curator.catalog import bundle, face_gate, face_words
from curator.catalog.store import add_photos, folder
from curator.catalog.yamls import from_yaml, to_yaml
from curator.classroom import lesson as lessons
from curator.classroom.plan import Plan, Step
from curator.errors import BundleError, CuratorError
from curator.records import Area, FacesSeen
from curator.seeing import photo
from curator.seeing.faces import faces
from curator.site.build import build
from curator.site.prompt_files import Wish

Pixels = NDArray[np.uint8]
CANVAS = 320
FACE = (225, 118)  # x and y of the astronaut's face, 90 pixels wide
SEEN = FacesSeen((Area(0.41, 0.1, 0.52, 0.24),), "2026-03-02", "centerface-1", "0" * 16)


def astronaut(wide: int, turned: float = 0.0, light: float = 1.0) -> Pixels:
    """The astronaut's face in the middle, so many pixels wide, turned by degrees, darkened."""
    grown = wide / 90
    picture = cv2.resize(skimage.data.astronaut(), None, fx=grown, fy=grown, interpolation=cv2.INTER_AREA)
    x, y = FACE[0] * grown, FACE[1] * grown
    way = cv2.getRotationMatrix2D((x, y), turned, 1)
    way[:, 2] += (CANVAS / 2 - x, CANVAS / 2 - y)
    return np.asarray(cv2.warpAffine(picture, way, (CANVAS, CANVAS), borderMode=cv2.BORDER_REPLICATE) * light, np.uint8)


@cache
def crops() -> Any:
    stored = np.load(Path(skimage.data.__file__).parent / "lfw_subset.npy")[:100]
    return (stored * (255 / stored.max())).clip(0, 255).astype(np.uint8)


def on_grey(number: int, wide: int) -> Pixels:
    """One of the hundred crops, so many pixels wide."""
    picture = np.full((160, 160, 3), 128, np.uint8)
    at = (160 - wide) // 2
    picture[at : at + wide, at : at + wide] = cv2.resize(crops()[number], (wide, wide))[..., None]
    return picture


def is_found(picture: Pixels) -> bool:
    return any(f.left < 0.5 < f.right and f.top < 0.5 < f.bottom for f in faces(picture))


@pytest.mark.parametrize("turned", [0, 20, -20, 45])
def test_a_turned_small_or_dark_head_is_found(turned: float) -> None:
    assert is_found(astronaut(40, turned))
    assert is_found(astronaut(80, turned, 0.25))


def test_two_side_by_side_are_two_however_large_the_picture() -> None:
    one = astronaut(60)
    two = np.concatenate([one, one[:, ::-1]], axis=1)
    assert len(faces(two)) == 2
    large = cv2.copyMakeBorder(two, 900, 0, 0, 1000, cv2.BORDER_CONSTANT, value=(90, 120, 90)).astype(np.uint8)
    assert max(large.shape) > 1024
    assert len(faces(large)) == 2  # over several tiles, each once


def test_small_crops_of_faces_are_found() -> None:
    """Twenty here; tests/bench/faces_bench.py measures all sizes."""
    assert sum(not is_found(on_grey(n, 40)) for n in range(20)) == 0


def test_things_are_no_faces() -> None:
    for name in ("coffee", "brick", "coins", "gravel"):
        picture = getattr(skimage.data, name)()
        assert (
            faces(np.ascontiguousarray(np.broadcast_to(np.atleast_3d(picture)[..., :3], (*picture.shape[:2], 3)))) == ()
        )


def test_the_line_holds_both_and_old_words_stay() -> None:
    for said in ("", "blurred", "consented", "none", "asked; twice"):
        assert face_words.read(face_words.written(said, SEEN)) == (said, SEEN)
        assert face_words.read(said) == (said, None)
    assert face_words.read("2 found 2026-03-02 by x in 0123456789abcdef: 0 0 1 1")[1] is None  # a number that lies
    prompt = replace(shared("eggs"), faces="blurred", seen=SEEN)
    assert from_yaml(to_yaml(prompt), "eggs.yaml") == prompt
    assert 'faces: "blurred; 1 found 2026-03-02 by centerface-1 in 0000000000000000: 0.41 0.1 0.52 0.24"' in to_yaml(
        prompt
    )
    assert "\nfaces: blurred\n" in to_yaml(replace(prompt, seen=None))  # as ever where nothing was searched


@pytest.fixture
def school(tmp_path: Path) -> Path:
    """A catalog with one picture of two people whom nobody asked."""
    one = astronaut(60)
    picture = photo.encode_clean(np.concatenate([one, one[:, ::-1]], axis=1))
    folder.add(tmp_path / "c", shared("eggs"), picture)
    return tmp_path / "c"


def refused_by(school: Path) -> set[str]:
    """Which doors ask."""
    asked = set()
    try:
        bundle.pack(school, "", school.parent / "set.zip")
    except BundleError as error:
        asked |= {"pack"} if error.code == "faces" else set()
    try:
        build(school, "", school.parent / "site", Wish())
    except CuratorError as error:
        asked |= {"site"} if "face" in str(error) else set()
    made = lessons.lesson(school, Plan("en", (Step(1, "eggs"),)))
    return asked | ({"lesson"} if any("face" in remark for remark in made.remarks) else set())


def test_every_door_asks_the_same_until_somebody_answers(school: Path) -> None:
    assert refused_by(school) == {"pack", "site", "lesson"}
    assert face_gate.search_all(school) == (1, ["eggs"])
    assert len(folder.load(school, "eggs").seen.boxes) == 2  # type: ignore[union-attr]
    assert face_gate.search_all(school) == (0, ["eggs"])  # once
    assert refused_by(school) == {"pack", "site", "lesson"}
    folder.replace(school, replace(folder.load(school, "eggs"), faces="none"))
    assert refused_by(school) == set()


def test_receive_asks_too_and_believes_no_record_of_a_stranger(school: Path) -> None:
    quiet = replace(folder.load(school, "eggs"), seen=replace(SEEN, boxes=()), faces="none")
    picture = folder.picture_path(school, quiet).read_bytes()
    quiet = replace(quiet, seen=face_gate.record((), picture))
    folder.replace(school, quiet)
    bundle.pack(school, "", school.parent / "set.zip")
    got = bundle.receive(school.parent / "theirs", school.parent / "set.zip")
    assert [one.code for one in got.refused] == ["faces"]
    got = bundle.receive(school.parent / "theirs", school.parent / "set.zip", faces_ok=True)
    assert len(got.added[0].seen.boxes) == 2  # type: ignore[union-attr]


def test_a_record_of_another_picture_counts_for_nothing(school: Path) -> None:
    prompt = folder.load(school, "eggs")
    assert face_gate.recorded(replace(prompt, seen=SEEN), b"jpg") is None
    folder.replace(school, replace(prompt, seen=replace(SEEN, boxes=())))
    assert "pack" in refused_by(school)


def test_adding_writes_down_what_was_found(tmp_path: Path) -> None:
    photo.save_clean(astronaut(60), tmp_path / "a.jpg")
    seen = add_photos.see(tmp_path / "a.jpg", None, {"no_double": True})
    assert seen.faces == 1
    assert seen.prompt is not None
    assert face_gate.recorded(seen.prompt, seen.picture) == seen.prompt.seen


def test_blurred_faces_are_told_from_others() -> None:
    two = (Area(0.1, 0.1, 0.3, 0.4), Area(0.6, 0.1, 0.8, 0.4))
    blurred = face_gate.to_blur(two[:1])
    assert face_gate.left_after(two, blurred) == two[1:]
    assert face_gate.left_after(two, face_gate.to_blur(two)) == ()

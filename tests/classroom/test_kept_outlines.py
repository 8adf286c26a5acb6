"""Outlines of a kept picture: found once, found anew on any doubt, gone with the picture."""

from __future__ import annotations

import os
import zipfile
from dataclasses import replace
from pathlib import Path

import drawn_catalog as drawn
import numpy as np
import pytest
from catalog_made import picture_bytes

from curator import limited
from curator.catalog import bundle, measured
from curator.catalog.search import index
from curator.catalog.store import folder as catalog
from curator.catalog.store.forget import forget
from curator.classroom import pictures
from curator.classroom.marking import extents, kept, outlines
from curator.records import Prompt
from curator.seeing.net import runtime
from curator.site import build
from curator.site.prompt_files import Wish

SHA = "5" * 64


@pytest.fixture
def school(tmp_path: Path) -> Path:
    places = drawn.two_rows(3)
    drawn.add(tmp_path / "c", drawn.prompt("eggs", places, "slide", "egg", "eggs", source_sha256=SHA), places)
    return tmp_path / "c"


@pytest.fixture
def found(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The prompts whose things were looked for, and found where their boxes are."""
    slugs: list[str] = []

    def at_once(photo: extents.Pixels, prompt: Prompt) -> outlines.Labels:
        slugs.append(prompt.slug)
        return outlines.boxed(prompt, outlines.size_of(photo))

    monkeypatch.setattr(outlines, "outlines", at_once)
    return slugs


def own(school: Path) -> outlines.Labels:
    return pictures.opened(school, catalog.load(school, "eggs")).own


def noted(school: Path) -> list[str]:
    return sorted(path.name for path in (school / ".index" / "outlines").glob("*"))


def test_they_are_the_same_again(school: Path) -> None:
    first = own(school)
    assert set(np.unique(first)) == set(range(7))
    assert (own(school) == first).all()


def test_those_that_came_in_together_are_prepared(
    school: Path, found: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(limited, "ON", False)  # in this process, where `found` is told
    kept.prepare(school, ["eggs", "gone"])
    assert noted(school) == ["eggs.npz"]
    kept.prepare(school, ["eggs"])
    own(school)
    assert found == ["eggs"]


def test_what_ends_the_process_is_left_alone(school: Path) -> None:
    (school / "eggs.jpg").write_bytes(b"no picture")
    told: list[tuple[int, int]] = []
    kept.prepare(school, ["eggs"], lambda done, count: told.append((done, count)))
    assert told == [(1, 1)]
    assert noted(school) == []


def test_they_are_found_once(school: Path, found: list[str]) -> None:
    first = own(school)
    assert noted(school) == ["eggs.npz"]
    assert (own(school) == first).all()
    catalog.replace(school, replace(catalog.load(school, "eggs"), notes="shown on Monday", tags=("kitchen",)))
    assert (own(school) == first).all()
    assert found == ["eggs"]


def test_another_picture_other_dots_or_another_net_and_they_are_found_anew(
    school: Path, found: list[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    own(school)
    prompt = catalog.load(school, "eggs")
    catalog.replace(
        school, replace(prompt, dots=(prompt.dots[0]._replace(x=prompt.dots[0].x + 0.01), *prompt.dots[1:]))
    )
    own(school)
    assert len(found) == 2
    picture = school / prompt.picture
    when = picture.stat()
    other = drawn.picture(drawn.two_rows(3), (60, 111, 190))
    picture.write_bytes(other.ljust(when.st_size, b"\0")[: when.st_size])
    os.utime(picture, ns=(when.st_atime_ns, when.st_mtime_ns))  # by a program that keeps the date
    own(school)
    assert len(found) == 3
    monkeypatch.setattr(runtime, "MODEL", tmp_path / "none.onnx")
    own(school)
    assert len(found) == 4


def test_a_file_that_is_damaged_or_not_ours_is_not_believed(school: Path, found: list[str]) -> None:
    first = own(school)
    place = school / ".index" / "outlines" / "eggs.npz"
    sound = place.read_bytes()
    with np.load(place) as arrays:
        same = dict(arrays)
    labels = same["labels"]
    altered = [
        {"labels": labels[:-1]},
        {"labels": labels.astype(np.int64)},
        {"labels": labels.astype(np.float32)},
        {"labels": np.full_like(labels, 7)},  # there is no seventh egg
        {"labels": np.zeros((1, 1), np.uint8)},
        {"labels": np.zeros((3000, 3000), np.uint8)},  # few bytes, and many once unpacked
        {"stamp": np.array("of another picture")},
    ]
    for n, one in enumerate(altered, 2):
        np.savez_compressed(place, **(same | one))
        assert (own(school) == first).all()
        assert len(found) == n
    np.savez(place, stamp=same["stamp"], labels=np.array([{"a": 1}], dtype=object))  # pickled
    pickled = place.read_bytes()
    before, renamed = len(found), sound.replace(b"labels", b"lables")
    for n, data in enumerate((b"", b"PK\x03\x04", sound[:300], renamed, pickled), before + 1):
        place.write_bytes(data)
        assert (own(school) == first).all()
        assert len(found) == n


def test_they_go_with_the_picture(school: Path, found: list[str]) -> None:
    own(school)
    catalog.replace_picture(school, "eggs", picture_bytes())  # a face was blurred, say
    assert noted(school) == []
    own(school)
    catalog.remove(school, "eggs")
    assert noted(school) == []
    catalog.bring_back(school, "eggs")
    own(school)
    assert noted(school) == ["eggs.npz"]
    forget(school, SHA)
    assert not (school / ".index" / "outlines").exists()


def test_what_is_left_of_a_prompt_deleted_by_hand_goes_with_the_next_question(school: Path, found: list[str]) -> None:
    index.find(school, "eggs")
    own(school)
    (school / "eggs.yaml").unlink()
    assert index.find(school, "eggs").prompts == ()
    assert noted(school) == []


def test_one_that_goes_while_it_is_looked_at_leaves_nothing(
    school: Path, found: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    real = measured.files.put
    prompt = catalog.load(school, "eggs")

    def meanwhile(path: Path, data: bytes) -> None:
        if (school / prompt.picture).is_file() and prompt.picture == "eggs.jpg":
            catalog.replace_picture(school, "eggs", picture_bytes())
        real(path, data)

    monkeypatch.setattr(measured.files, "put", meanwhile)
    pictures.opened(school, prompt)
    assert noted(school) == []


def test_a_folder_that_cannot_be_written_has_its_lesson_all_the_same(
    school: Path, found: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(path: Path, data: bytes) -> None:
        raise PermissionError(13, "refused")

    monkeypatch.setattr(measured.files, "put", refused)
    assert (own(school) == own(school)).all()
    assert noted(school) == []
    assert len(found) == 2


def test_what_is_no_prompt_of_the_catalog_leaves_nothing(school: Path, found: list[str]) -> None:
    prompt = replace(catalog.load(school, "eggs"), slug="draft")
    pictures.opened(school, prompt)
    assert noted(school) == []


def test_no_bundle_and_no_site_has_them(school: Path, found: list[str], tmp_path: Path) -> None:
    build.build(school, "", tmp_path / "site", Wish(faces_ok=True))
    assert noted(school) == ["eggs.npz"]
    assert not list((tmp_path / "site").rglob("*.npz"))
    bundle.pack(school, ["eggs"], tmp_path / "set.zip", faces_ok=True)
    with zipfile.ZipFile(tmp_path / "set.zip") as archive:
        assert not [name for name in archive.namelist() if name.endswith(".npz")]


def test_the_stamp_knows_what_finds_them(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    prompt = catalog.load(school, "eggs")
    data = (school / prompt.picture).read_bytes()
    before = kept._stamp(prompt, data)
    monkeypatch.setattr(kept, "_program", lambda: "another")
    assert kept._stamp(prompt, data) != before

"""What is deleted for good is nowhere under the catalog: no byte of it, and no picture that looks like it."""

from __future__ import annotations

import io
import json
import time
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bundles_made import drawn, shared
from PIL import Image, UnidentifiedImageError

from curator.catalog import bundle
from curator.catalog.search import index
from curator.catalog.store import check, folder, traces
from curator.catalog.store.forget import forget
from curator.seeing import photo
from curator.web import inbox

EGGS, TINS = drawn("eggs", 10), drawn("tins", 10)
PHOTO = EGGS + b"\0of the teacher"  # the file that came from her phone
SECRET = "hen on the left"


def saved_again(picture: bytes, kind: str) -> bytes:
    buffer = io.BytesIO()
    Image.open(io.BytesIO(picture)).resize((120, 72)).save(buffer, kind)
    return buffer.getvalue()


@pytest.fixture
def school(tmp_path: Path) -> Path:
    """A catalog with copies of one photo wherever any can lie, and another photo beside it."""
    here = tmp_path / "c"
    eggs = shared("eggs", source_sha256=photo_sha(), phash=photo.phash(photo.large_of(EGGS, "x")), notes=SECRET)
    folder.add(here, eggs, EGGS)
    folder.add(here, shared("tins", 3), TINS)
    folder.add(here, replace(eggs, slug="eggs-part"), EGGS, twin_ok=True)
    folder.remove(here, "eggs-part")  # the bin
    folder.replace(here, replace(folder.load(here, "eggs"), place=SECRET))  # an earlier version
    item = inbox.put(here, "IMG_1.jpg", PHOTO)  # waits a second time
    inbox.put(here, "other.jpg", TINS)
    home = here / traces.INBOX
    (home / item["id"] / "view.webp").write_bytes(saved_again(EGGS, "WEBP"))
    half = home / "0123456789abcdef"  # came in half: the page was ended in this moment
    half.mkdir()
    (half / "source").write_bytes(PHOTO)
    (home / "screen").mkdir()
    (home / "screen" / "a.webp").write_bytes(saved_again(EGGS, "WEBP"))
    inbox.save_lesson(here, ["eggs", "tins"])
    bundle.pack(here, ["eggs"], home / "set.zip", faces_ok=True)
    (home / "received.zip").write_bytes((home / "set.zip").read_bytes())
    (home / ".set.zip.7-abcdef.part").write_bytes((home / "set.zip").read_bytes())  # a pack that was killed
    (home / "lesson-x.pptx").write_bytes((home / "set.zip").read_bytes())
    (home / ".unfinished-y.pdf").write_bytes(EGGS)
    (here / ".eggs.jpg.7-abcdef.part").write_bytes(EGGS)
    (here / "eggs.2.jpg").write_bytes(saved_again(EGGS, "JPEG"))  # a blur that was killed
    index.find(here, SECRET)
    return here


def photo_sha() -> str:
    import hashlib

    return hashlib.sha256(PHOTO).hexdigest()


def pictures_in(data: bytes) -> Iterator[np.ndarray]:
    """Every picture that can be got out of these bytes."""
    if data[:2] == b"PK":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for name in archive.namelist():
                yield from pictures_in(archive.read(name))
        return
    try:
        yield np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    except (UnidentifiedImageError, OSError):
        return


def traces_of(here: Path, *words: str) -> set[str]:
    """Files that hold bytes of the photo or the words, or a picture that looks like it."""
    look = int(photo.phash(photo.large_of(EGGS, "x")), 16)
    pieces = [EGGS[200:264], EGGS[-200:-136], *(word.encode() for word in words)]
    found = set()
    for path in here.rglob("*"):
        if path.is_file():
            data = path.read_bytes()
            alike = any((int(photo.phash(p), 16) ^ look).bit_count() <= 10 for p in pictures_in(data))
            if alike or any(piece in data for piece in pieces):
                found.add(path.relative_to(here).as_posix())
    return found


@pytest.mark.parametrize("source", ["eggs", photo_sha(), "file"])
def test_forget_leaves_no_byte(school: Path, tmp_path: Path, source: str) -> None:
    assert len(traces_of(school, SECRET, photo_sha())) >= 14
    (tmp_path / "file").write_bytes(PHOTO)
    forget(school, str(tmp_path / "file") if source == "file" else source)
    assert traces_of(school, SECRET, photo_sha(), '"eggs"') == set()
    assert inbox.lesson(school) == ["tins"]
    assert [item["name"] for item in inbox.every(school)] == ["other.jpg"]  # what is another's stays
    assert folder.picture_path(school, folder.load(school, "tins")).read_bytes() == TINS
    assert [p for p in check.check(school) if not p.note] == []


def test_a_photo_that_only_waits_is_forgotten_too(tmp_path: Path) -> None:
    folder.add(tmp_path, shared("tins", 3), TINS)
    inbox.put(tmp_path, "a.jpg", PHOTO)
    forget(tmp_path, photo_sha())
    assert traces_of(tmp_path) == set()


def test_blur_leaves_no_sharp_copy(school: Path) -> None:
    (school / "eggs.2.jpg").unlink()
    blurred = drawn("blocks", 10)
    folder.replace_picture(school, "eggs", blurred, faces="blurred")
    assert traces_of(school) == set()
    assert folder.picture_path(school, folder.load(school, "eggs")).read_bytes() == blurred
    assert inbox.lesson(school) == ["eggs", "tins"]


def test_an_emptied_bin_leaves_nothing_of_what_lay_there(school: Path) -> None:
    (school / "eggs.2.jpg").unlink()
    folder.remove(school, "eggs")
    assert folder.empty_bin(school) == 2
    assert traces_of(school, SECRET) == set()
    assert not (school / ".before" / "eggs").exists()


def test_what_is_sent_again_after_the_removal_stays_when_the_bin_is_emptied(tmp_path: Path) -> None:
    folder.add(tmp_path, shared("eggs", source_sha256=photo_sha()), EGGS)
    folder.remove(tmp_path, "eggs")
    item = inbox.put(tmp_path, "again.jpg", PHOTO)
    folder.empty_bin(tmp_path)
    assert inbox.get(tmp_path, item["id"])["name"] == "again.jpg"


def test_thirty_days_leave_nothing_that_waited(school: Path) -> None:
    kept = {"eggs.jpg", "eggs.2.jpg", ".eggs.jpg.7-abcdef.part"}
    later = 31 * inbox.DAY + time.time()
    inbox.clear(school, later)
    assert {path for path in traces_of(school) if path.startswith(traces.INBOX)} == set()
    assert kept <= traces_of(school)


def test_a_damaged_item_is_shown_and_can_be_dropped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(inbox, "YOUNG", 0.0)
    for number, text in enumerate(["", "{", "[]", '{"id": 1}', json.dumps({"id": "0" * 15 + "4", "state": "ready"})]):
        place = inbox.home(tmp_path) / f"{number:016x}"
        place.mkdir()
        (place / "item.json").write_text(text)
    items = inbox.every(tmp_path)
    assert len(items) == 5
    assert {item["state"] for item in items} == {"error"}
    for item in items:
        inbox.drop(tmp_path, item["id"])
    assert inbox.every(tmp_path) == []


def test_every_place_is_in_the_table(school: Path) -> None:
    """A folder that is new under a catalog has to be thought of."""
    known = {".bin", ".before", ".inbox", ".index", ".receiving"}
    assert {path.name for path in school.iterdir() if path.is_dir()} <= known
    assert all(f"`{name}" in (traces.__doc__ or "") for name in known)


def test_what_waits_is_for_its_owner_alone(tmp_path: Path) -> None:
    item = inbox.put(tmp_path / "c", "a.jpg", PHOTO)
    place = tmp_path / "c" / ".inbox"
    assert place.stat().st_mode & 0o077 == 0
    assert [p.stat().st_mode & 0o077 for p in (place / item["id"]).iterdir()] == [0, 0]

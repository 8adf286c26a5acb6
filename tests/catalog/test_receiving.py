"""receive: what comes in, what was here already, what differs, and what being cut off leaves."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from bundles_made import bag, bundle_of, drawn, payload, shared, zipped
from PIL import Image
from test_catalog_folder import _mounted
from test_packing import dirty_jpeg, exif, needs_exiftool
from typer.testing import CliRunner

from curator.catalog import bundle
from curator.catalog.prompt import alts
from curator.catalog.search import index
from curator.catalog.store import bin as bins
from curator.catalog.store import folder, forget, staging
from curator.cli import app
from curator.errors import BundleError, CatalogError
from curator.records import Dot, Prompt
from curator.seeing import photo


def everything(place: Path) -> dict[str, bytes]:
    """All files of a catalog but its index."""
    found = (p for p in place.rglob("*") if p.is_file() and ".index" not in p.parts)
    return {str(p.relative_to(place)): p.read_bytes() for p in found}


def noise(seed: int) -> np.ndarray[Any, np.dtype[np.uint8]]:
    return np.random.default_rng(seed).integers(0, 255, (120, 160, 3)).astype(np.uint8)


def marked(*_: object) -> dict[str, bytes]:
    return {"ringed": drawn("ringed")}


def wrong(place: Path) -> list[str]:
    return [f"{p.name}: {p.wrong}" for p in folder.check(place) if not p.note]


def test_what_was_packed_comes_in(tmp_path: Path) -> None:
    for slug, half in (("eggs", 7), ("spoons", 3), ("mugs", 0)):
        folder.add(
            tmp_path / "a", shared(slug, half, checked_by="A. Person", grade="sure" if half else "no"), drawn(slug)
        )
    bundle.pack(tmp_path / "a", "", tmp_path / "set.zip", marks=marked)
    got = bundle.receive(tmp_path / "b", tmp_path / "set.zip")
    assert [p.slug for p in got.added] == ["eggs", "mugs", "spoons"]
    assert [*got.renamed, *got.skipped, *got.offered, *got.taken, *got.refused] == []
    assert got.warned == ["The facts are as the sender gave them: look at each before a class does."]
    assert wrong(tmp_path / "b") == []
    eggs = folder.load(tmp_path / "b", "eggs")
    assert (eggs.grade, eggs.checked_by) == ("check", "")  # nobody here has looked yet
    assert eggs.dots == folder.load(tmp_path / "a", "eggs").dots
    assert index.find(tmp_path / "b", "7+7").total == 1


def test_pictures_are_decoded_and_saved_clean_again(tmp_path: Path) -> None:
    tags = Image.Exif()
    tags[0x010F] = "MAKER-X"
    buffer = io.BytesIO()
    Image.new("RGB", (64, 48), (90, 120, 40)).save(buffer, "PNG", exif=tags)
    files_ = payload(replace(shared("eggs"), picture="eggs.png"))
    files_["eggs.png"] = buffer.getvalue() + b"TRAILER-X"
    got = bundle.receive(tmp_path / "c", zipped(tmp_path / "set.zip", bag(files_)))
    kept = (tmp_path / "c" / got.added[0].picture).read_bytes()
    assert got.added[0].picture == "eggs.jpg"
    assert Image.open(io.BytesIO(kept)).format == "JPEG"
    assert b"-X" not in kept
    assert wrong(tmp_path / "c") == []


@needs_exiftool
def test_nothing_that_a_picture_carries_comes_in(tmp_path: Path) -> None:
    """Place, serial number, names, thumbnail, maker's notes, XMP, IPTC, profile, comment and tail; read back by
    exiftool.
    """
    files_ = payload(shared("eggs")) | {"eggs.jpg": dirty_jpeg()}
    (kept,) = bundle.receive(tmp_path / "c", zipped(tmp_path / "set.zip", bag(files_))).added
    path = tmp_path / "c" / kept.picture
    assert b"-X" not in path.read_bytes()
    assert {key.partition(":")[0] for key in exif(path)} == {
        "SourceFile",
        "ExifTool",
        "System",
        "File",
        "JFIF",
        "Composite",
    }


def test_the_same_again_is_skipped(tmp_path: Path) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 3, source_sha256=""))
    bundle.receive(tmp_path / "c", file)
    before = everything(tmp_path / "c")
    got = bundle.receive(tmp_path / "c", file)
    assert got.skipped == [("eggs", "eggs"), ("spoons", "spoons")]
    assert [*got.added, *got.offered, *got.warned] == []
    assert everything(tmp_path / "c") == before


def test_a_taken_name_gets_a_number(tmp_path: Path) -> None:
    folder.add(tmp_path / "c", shared("eggs", 3, source_sha256=""), drawn("other"))
    folder.add(tmp_path / "c", shared("eggs-2", 4), drawn("more"))
    file = bundle_of(
        tmp_path / "set.zip", shared("eggs"), shared("eggs-2", 5, source_sha256="b" * 64), shared("eggs-3", 6)
    )
    got = bundle.receive(tmp_path / "c", file)
    assert got.renamed == [("eggs", "eggs-3"), ("eggs-2", "eggs-2-2"), ("eggs-3", "eggs-3-2")]
    assert folder.load(tmp_path / "c", "eggs").fact == shared("x", 3).fact
    assert folder.load(tmp_path / "c", "eggs-3").picture == "eggs-3.jpg"
    assert (tmp_path / "c" / "eggs-3.jpg").read_bytes() == photo.encode_clean(photo.large_of(drawn("eggs"), "x"))
    assert wrong(tmp_path / "c") == []


def test_a_changed_prompt_is_offered_side_by_side_and_nothing_is_overwritten(tmp_path: Path) -> None:
    ours = folder.add(tmp_path / "c", shared("our-eggs", source_sha256="a" * 64, notes="Ours"), drawn("eggs"))
    before = everything(tmp_path / "c")
    dots = tuple(Dot(d.x, d.y, 3 - d.side) for d in ours.dots)
    theirs = shared("eggs", source_sha256="a" * 64, title="Two rows of eggs", tags=("carton",), dots=dots)
    file = bundle_of(tmp_path / "set.zip", theirs)
    got = bundle.receive(tmp_path / "c", file)
    (offer,) = got.offered
    assert offer.slug == "our-eggs"
    assert [row[0] for row in offer.side_by_side()] == ["title", "dots", "tags"]
    assert offer.side_by_side()[0] == ("title", "Eggs", "Two rows of eggs")
    assert offer.side_by_side()[2] == ("tags", "(nothing)", "carton")
    assert everything(tmp_path / "c") == before

    got = bundle.receive(tmp_path / "c", file, take=["our-eggs"])
    assert [one.slug for one in got.taken] == ["our-eggs"]
    now = folder.load(tmp_path / "c", "our-eggs")
    assert (now.title, now.dots, now.notes, now.added) == ("Two rows of eggs", dots, "Ours", ours.added)
    (binned,) = bins.binned(tmp_path / "c")
    assert (binned.place / "our-eggs.jpg").read_bytes() == before["our-eggs.jpg"]
    assert (binned.place / "our-eggs.yaml").read_bytes() == before["our-eggs.yaml"]
    assert wrong(tmp_path / "c") == []
    folder.remove(tmp_path / "c", "our-eggs")
    assert folder.bring_back(tmp_path / "c", "our-eggs").title == "Two rows of eggs"


def test_texts_made_from_the_words_are_not_told_twice(tmp_path: Path) -> None:
    def made(things: str) -> Prompt:
        bare = shared("eggs", things=things)
        return replace(bare, alt_before=alts(bare)[0], alt_after=alts(bare)[1])

    folder.add(tmp_path / "c", made("eggs"), drawn("eggs"))
    (offer,) = bundle.receive(tmp_path / "c", bundle_of(tmp_path / "set.zip", made("shells"))).offered
    assert [row[0] for row in offer.side_by_side()] == ["things"]
    own = replace(made("eggs"), alt_before="Mine")
    (offer,) = bundle.receive(tmp_path / "c", bundle_of(tmp_path / "more.zip", own)).offered
    assert [row[0] for row in offer.side_by_side()] == ["alt_before"]


def test_dots_that_stayed_keep_who_checked_them(tmp_path: Path) -> None:
    folder.add(tmp_path / "c", shared("eggs", checked_by="A. Person", grade="sure"), drawn("eggs"))
    file = bundle_of(tmp_path / "set.zip", shared("eggs", title="More"))
    bundle.receive(tmp_path / "c", file, take=["eggs"])
    now = folder.load(tmp_path / "c", "eggs")
    assert (now.title, now.checked_by, now.grade) == ("More", "A. Person", "sure")


def test_words_of_a_stranger_are_made_printable(tmp_path: Path) -> None:
    file = bundle_of(
        tmp_path / "set.zip", shared("eggs", title="\x1b[2JEggs\u202e gge", notes="a\x07\nb", tags=("\x00x",))
    )
    kept = bundle.receive(tmp_path / "c", file).added[0]
    assert (kept.title, kept.notes, kept.tags) == ("[2JEggs gge", "a\nb", ("x",))


def test_faces_are_pointed_out_before_a_prompt_is_kept(tmp_path: Path) -> None:
    from skimage.data import astronaut

    prompt = shared("face", 3, people="consented")
    files_ = payload(prompt, shared("eggs")) | {"face.jpg": photo.encode_clean(astronaut())}
    file = zipped(tmp_path / "set.zip", bag(files_))
    got = bundle.receive(tmp_path / "c", file)
    assert [p.slug for p in got.added] == ["eggs"]
    assert [(r.slug, r.wrong) for r in got.refused] == [
        ("face", "May show a face. The sender says that all were asked.")
    ]
    assert [p.slug for p in bundle.receive(tmp_path / "c", file, faces_ok=["face"]).added] == ["face"]


def test_what_is_wrong_with_one_stops_nothing_else(tmp_path: Path) -> None:
    good = shared("eggs")
    files_ = payload(
        good, shared("twice", 7, source_sha256=good.source_sha256), shared("gone", 3), shared("swapped", 4)
    )
    files_["swapped.yaml"] = payload(shared("swapped", 4, phash=photo.phash(photo.large_of(drawn("what"), "x"))))[
        "swapped.yaml"
    ]
    del files_["gone.jpg"]
    files_ |= {
        "broken.yaml": b"slug: [",
        "broken.jpg": b"",
        "text.yaml": b"\xff\xfe",
        "stray.exe": b"MZ",
        "long.yaml": b"",
    }
    files_["long.yaml"] = payload(shared("long", 5, title="x" * 600, picture="eggs.jpg"))["long.yaml"]
    files_["damaged.yaml"] = payload(shared("damaged", 5))["damaged.yaml"]
    files_["damaged.jpg"] = drawn("damaged")[:400]
    got = bundle.receive(tmp_path / "c", zipped(tmp_path / "set.zip", bag(files_)))
    assert [p.slug for p in got.added] == ["eggs"]
    told = {one.slug: one.wrong for one in got.refused}
    assert told == {
        "twice": "It is made of the same photo as eggs in the same bundle.",
        "gone": "Its picture is not in the bundle.",
        "swapped": "Its picture is not the one that was counted.",
        "broken": told["broken"],
        "text": "It is not a UTF-8 text.",
        "long": "Far too long: title.",
        "stray.exe": "No prompt in the bundle uses it.",
        "damaged": told["damaged"],
    }
    assert told["broken"].startswith("Line 2 is not YAML")
    assert told["damaged"].startswith("Its picture: ")
    assert wrong(tmp_path / "c") == []


def test_what_says_too_little_comes_in_and_is_told(tmp_path: Path) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs", license="", people="unknown"))
    got = bundle.receive(tmp_path / "c", file)
    assert got.warned[1] == "Credit, licence or people are not told, so do not hand these on: eggs."


# ---- cut off


def cut_at(monkeypatch: pytest.MonkeyPatch, number: int, error: BaseException) -> None:
    """The renaming with that number fails."""
    real: Callable[..., None] = os.replace
    done = 0

    def failing(source: Any, target: Any) -> None:
        nonlocal done
        done += 1
        if done == number:
            raise error
        real(source, target)

    monkeypatch.setattr(os, "replace", failing)


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), KeyboardInterrupt()])
def test_stopped_anywhere_the_catalog_is_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: BaseException
) -> None:
    folder.add(tmp_path / "c", shared("eggs", 3, source_sha256=""), drawn("other"))
    before = everything(tmp_path / "c")
    file = bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4))
    number = 0
    while True:
        number += 1
        with monkeypatch.context() as patch:
            cut_at(patch, number, error)
            told = ""
            try:
                bundle.receive(tmp_path / "c", file)
                break
            except CatalogError as full:
                told = full.wrong
            except KeyboardInterrupt:
                pass
        assert told == ("The disk is full; nothing was changed." if isinstance(error, OSError) else "")
        assert everything(tmp_path / "c") == before, number
    assert number > 8
    assert len(list(folder.every(tmp_path / "c"))) == 3


KILLED = """
import os, sys
from pathlib import Path
from curator.catalog import bundle
real, count = os.replace, 0
def dying(source, target):
    global count
    count += 1
    if count == int(sys.argv[3]):
        os.kill(os.getpid(), 9)
    real(source, target)
os.replace = dying
bundle.receive(Path(sys.argv[1]), Path(sys.argv[2]))
print("done")
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="kills a process")
def test_killed_between_any_two_moves_check_says_what_to_do(tmp_path: Path) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4))
    folder.add(tmp_path / "c", shared("mugs", 3), drawn("mugs"))
    before = everything(tmp_path / "c")
    halfway = 0
    for number in range(1, 30):
        command = [sys.executable, "-c", KILLED, str(tmp_path / "c"), str(file), str(number)]
        if subprocess.run(command, capture_output=True, check=False).returncode == 0:
            break
        problems = [p for p in folder.check(tmp_path / "c") if not p.note]
        assert all(p.code == "left-over" for p in problems), problems
        halfway += any("may have come in" in p.wrong for p in problems)
        assert folder.tidy(tmp_path / "c") >= 1
        assert everything(tmp_path / "c") == before, number
    assert halfway >= 4
    assert [p.slug for p in folder.every(tmp_path / "c")] == ["eggs", "mugs", "spoons"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="asks /proc what is synced")
def test_each_step_is_on_the_disk_before_the_next_relies_on_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut: POSIX promises a name once its folder was synced, and no other order."""
    steps: list[str] = []
    fsync, rename, unlink = os.fsync, os.replace, Path.unlink

    def synced(handle: int) -> None:
        steps.append(f"sync {os.path.relpath(os.readlink(f'/proc/self/fd/{handle}'), tmp_path / 'c')}")
        fsync(handle)

    def renamed(source: Any, target: Any) -> None:
        steps.append(f"name {os.path.relpath(target, tmp_path / 'c')}")
        rename(source, target)

    def unlinked(path: Path, missing_ok: bool = False) -> None:
        steps.append(f"unlink {os.path.relpath(path, tmp_path / 'c')}")
        unlink(path, missing_ok)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(os, "replace", renamed)
    monkeypatch.setattr(Path, "unlink", unlinked)
    bundle.receive(tmp_path / "c", bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4)))
    listed = next(n for n, step in enumerate(steps) if step.startswith("name") and step.endswith("/moving"))
    place = steps[listed].removeprefix("name ").removesuffix("/moving")
    assert {"sync .", "sync .receiving", f"sync {place}"} <= set(steps[:listed])
    assert steps[listed + 1 :] == [
        f"sync {place}",
        "name eggs.jpg",
        "name spoons.jpg",
        "sync .",
        "name eggs.yaml",
        "name spoons.yaml",
        "sync .",
        f"unlink {place}/moving",
        f"sync {place}",
    ]


def left_over_receive(place: Path, monkeypatch: pytest.MonkeyPatch, file: Path) -> None:
    """As kill -9 leaves it with all moved in but the list of them still there."""
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    real = Path.unlink

    def keeping(path: Path, missing_ok: bool = False) -> None:
        if path.name == staging.MOVING:
            raise SystemExit
        real(path, missing_ok)

    with monkeypatch.context() as patch:
        patch.setattr(staging.os, "getpid", lambda: dead.pid)
        patch.setattr(Path, "unlink", keeping)
        patch.setattr(staging, "_take_back", lambda *_: None)
        patch.setattr(staging.shutil, "rmtree", lambda *_, **__: None)
        with pytest.raises(SystemExit):
            bundle.receive(place, file)


def test_what_somebody_changed_since_is_not_taken_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    left_over_receive(tmp_path / "c", monkeypatch, bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4)))
    assert len(list(folder.every(tmp_path / "c"))) == 2
    folder.replace(tmp_path / "c", replace(folder.load(tmp_path / "c", "eggs"), title="Mine now"))
    assert any("2 prompts may have come in" in one for one in wrong(tmp_path / "c"))
    assert folder.tidy(tmp_path / "c") == 1
    assert [p.title for p in folder.every(tmp_path / "c")] == ["Mine now"]
    assert wrong(tmp_path / "c") == []


def test_what_another_machine_moved_in_is_told_and_not_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(staging, "_host", lambda: "elsewhere")
        left_over_receive(tmp_path / "c", monkeypatch, bundle_of(tmp_path / "set.zip", shared("eggs")))
    (place,) = (tmp_path / "c" / staging.STAGE).iterdir()
    os.utime(place, (1, 1))
    assert folder.tidy(tmp_path / "c") == 0
    (problem,) = [p for p in folder.check(tmp_path / "c") if not p.note]
    assert problem.wrong == "Left over from a receive that was cut off; 1 prompt may have come in on elsewhere."
    assert "keep what came in" in problem.remedy
    bundle.receive(tmp_path / "c", bundle_of(tmp_path / "more.zip", shared("boots", 5)))
    assert [p.slug for p in folder.every(tmp_path / "c")] == ["boots", "eggs"]
    forget.forget(tmp_path / "c", "boots")
    assert not place.exists()
    assert [p.slug for p in folder.every(tmp_path / "c")] == ["eggs"]


def test_the_next_receive_and_forget_clear_what_was_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4))
    left_over_receive(tmp_path / "c", monkeypatch, file)
    assert len(bundle.receive(tmp_path / "c", file).added) == 2
    assert not (tmp_path / "c" / staging.STAGE).exists()
    left_over_receive(tmp_path / "c", monkeypatch, bundle_of(tmp_path / "more.zip", shared("boots", 5)))
    (tmp_path / "c" / ".inbox").mkdir()
    (tmp_path / "c" / ".inbox" / "set.zip").write_bytes(b"packed")
    forget.forget(tmp_path / "c", "eggs")
    assert not [name for name in everything(tmp_path / "c") if name.startswith((".receiving", ".inbox", "boots"))]


def test_one_that_somebody_adds_meanwhile_is_not_doubled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4))
    real = staging.move_in

    def late(place: Path, *rest: Any) -> Any:
        monkeypatch.setattr(staging, "move_in", real)
        with monkeypatch.context() as patch:
            patch.setattr(folder, "changing", lambda *_: nullcontext())  # the lock is held by this test itself
            folder.add(place, shared("their-eggs", source_sha256=shared("eggs").source_sha256), drawn("eggs"))
        return real(place, *rest)

    monkeypatch.setattr(staging, "move_in", late)
    got = bundle.receive(tmp_path / "c", file)
    assert [p.slug for p in got.added] == ["spoons"]
    assert [(r.slug, r.wrong) for r in got.refused] == [("eggs", "Somebody else added it in this moment.")]


def test_what_another_machine_or_a_living_process_stages_is_left_alone(tmp_path: Path) -> None:
    with staging.stage(tmp_path) as place:
        assert staging.left_over(tmp_path) == []
        other = place.with_name("123-elsewhere-x")
        other.mkdir()
        assert staging.left_over(tmp_path) == []
        os.utime(other, (1, 1))
        assert staging.left_over(tmp_path) == [other]
        assert staging.clear(tmp_path) == 1
        assert place.is_dir()
    assert not (tmp_path / staging.STAGE).exists()


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="tmpfs is Linux's")
def test_a_bundle_that_does_not_fit_leaves_nothing(tmp_path: Path) -> None:
    place = _mounted(tmp_path, "size=60k")
    try:
        for n in range(8):
            folder.add(tmp_path / "c", shared(f"eggs-{n}", 1 + n), photo.encode_clean(noise(n)))
        (place / "set.zip").write_bytes(b"before")
        with pytest.raises(BundleError, match="The disk is full"):
            bundle.pack(tmp_path / "c", "", place / "set.zip")
        assert [(p.name, p.read_bytes()) for p in place.iterdir()] == [("set.zip", b"before")]
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="tmpfs is Linux's")
def test_a_full_disk_takes_all_or_nothing(tmp_path: Path) -> None:
    place = _mounted(tmp_path, "size=400k")
    try:
        folder.add(place / "c", shared("mugs", 3), drawn("mugs"))
        index.find(place / "c")
        before = everything(place / "c")
        many = [shared(f"eggs-{n}", 1 + n % 9) for n in range(60)]
        file = bundle_of(tmp_path / "set.zip", *many)
        with pytest.raises(CatalogError, match="The disk is full; nothing was changed"):
            bundle.receive(place / "c", file)
        assert everything(place / "c") == before
        assert wrong(place / "c") == []
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


def test_a_catalog_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "c").write_bytes(b"")
    with pytest.raises(CatalogError, match="is not a folder"):
        bundle.receive(tmp_path / "c", bundle_of(tmp_path / "set.zip", shared("eggs")))


# ---- the command


def curator(*words: object) -> str:
    got = CliRunner().invoke(app, [str(word) for word in words])
    assert got.exception is None or isinstance(got.exception, SystemExit), got.exception
    return got.output


def test_the_command_shows_what_came_in_and_what_differs(tmp_path: Path) -> None:
    file = bundle_of(tmp_path / "set.zip", shared("eggs"), shared("spoons", 4))
    folder.add(
        tmp_path / "c", shared("eggs", title="Our eggs in a long row by the window of the kitchen"), drawn("eggs")
    )
    folder.add(tmp_path / "c", shared("spoons", 3, source_sha256=""), drawn("other"))
    told = curator("receive", file, "-c", tmp_path / "c")
    assert "4+4=8     slide  spoons-2 (called spoons there)" in told
    assert "eggs is here already and differs:" in told
    assert "  title      Our eggs in a long row by the     Eggs\n" in told
    assert f"curator receive {file} --take eggs -c {tmp_path / 'c'}" in told
    assert told.endswith("1 prompt came in.\n")
    told = curator("receive", file, "--take", "eggs", "-c", tmp_path / "c")
    assert "eggs is as in the bundle; yours lies in the bin." in told


def test_a_file_that_is_none_is_told_in_three_sentences(tmp_path: Path) -> None:
    (tmp_path / "note.zip").write_text("Dear colleague")
    with pytest.raises(BundleError) as told:
        bundle.receive(tmp_path / "c", tmp_path / "note.zip")
    assert (
        str(told.value)
        == "Receiving note.zip. It is not a zip, or only a part of one. Ask for the bundle again, and do not open it."
    )
    assert not (tmp_path / "c").exists()
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("a.txt", "a")
    with pytest.raises(BundleError, match="It is a zip, and no bundle"):
        bundle.receive(tmp_path / "c", tmp_path / "other.zip")

"""The catalog's verbs on a real folder."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of, sha_of

from curator import systems
from curator.catalog import files
from curator.catalog.search import index
from curator.catalog.store import bin as bins
from curator.catalog.store import folder
from curator.errors import CatalogError, ChangedError, TwinError
from curator.records import Area


def names(path: Path) -> list[str]:
    return sorted(p.name for p in path.iterdir() if not p.name.startswith("."))


def test_what_is_added_is_there(tmp_path: Path) -> None:
    kept = folder.add(tmp_path / "new", prompt_of(7, "eggs"), picture_bytes())
    assert folder.load(tmp_path / "new", "eggs") == kept
    assert folder.picture_path(tmp_path / "new", kept).read_bytes() == picture_bytes()
    assert names(tmp_path / "new") == ["eggs.jpg", "eggs.yaml"]
    assert list(folder.every(tmp_path / "new")) == [kept]


def test_a_taken_name_gets_a_number(tmp_path: Path) -> None:
    for number in range(3):
        folder.add(tmp_path, prompt_of(7, "eggs", source_sha256=sha_of(str(number))), b"jpg")
    (tmp_path / "eggs-4.jpg").write_bytes(b"left over")
    kept = folder.add(tmp_path, prompt_of(7, "eggs", source_sha256=sha_of("x")), b"jpg")
    assert kept.slug == "eggs-5"
    assert kept.picture == "eggs-5.jpg"
    long = folder.add(tmp_path, prompt_of(7, "a" * 80, source_sha256=sha_of("y")), b"jpg")
    assert folder.add(tmp_path, replace(long, source_sha256=sha_of("z")), b"jpg").slug == "a" * 78 + "-2"


def test_the_same_photo_is_named_and_not_added(tmp_path: Path) -> None:
    folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    with pytest.raises(TwinError) as caught:
        folder.add(tmp_path, prompt_of(6, "other", source_sha256=sha_of("eggs")), b"jpg")
    assert caught.value.slug == "eggs"
    other_part = prompt_of(6, "other", source_sha256=sha_of("eggs"), area=Area(0, 0, 0.5, 1))
    assert folder.add(tmp_path, other_part, b"jpg").slug == "other"
    assert (
        folder.add(tmp_path, prompt_of(6, "third", source_sha256=sha_of("eggs")), b"jpg", twin_ok=True).slug == "third"
    )
    for slug in ("no-source", "no-source-2"):
        assert folder.add(tmp_path, prompt_of(6, slug, source_sha256=""), b"jpg").slug == slug


def test_a_removed_photo_may_come_again(tmp_path: Path) -> None:
    folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    folder.remove(tmp_path, "eggs")
    assert folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg").slug == "eggs"


def test_near_twins_are_those_a_few_bits_apart(tmp_path: Path) -> None:
    for slug, bits in (("same", 0), ("six", 0b111111), ("seven", 0b1111111)):
        folder.add(tmp_path, prompt_of(3, slug, phash=f"{bits:016x}"), b"jpg")
    assert [p.slug for p in folder.near_twins(tmp_path, "0" * 16)] == ["same", "six"]
    assert folder.near_twins(tmp_path, "") == []
    assert folder.near_twins(tmp_path / "none", "0" * 16) == []


def test_who_saves_second_is_told(tmp_path: Path) -> None:
    old = folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    version = folder.version(tmp_path, "eggs")
    folder.replace(tmp_path, replace(old, things="eggs"), expected=version)
    with pytest.raises(ChangedError, match="Somebody else changed"):
        folder.replace(tmp_path, replace(old, things="shoes"), expected=version)
    assert folder.load(tmp_path, "eggs").things == "eggs"


def test_the_version_before_is_kept_and_comes_back(tmp_path: Path) -> None:
    old = folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    new = folder.replace(tmp_path, replace(old, things="eggs"))
    folder.replace(tmp_path, new)
    assert len(bins.versions(tmp_path, "eggs")) == 1  # saving the same again is no change
    (tmp_path / "eggs.yaml").write_text("spoiled by hand")
    assert folder.undo(tmp_path, "eggs") == old
    with pytest.raises(CatalogError):
        folder.undo(tmp_path, "eggs")  # the version before that is the spoiled one
    assert folder.load(tmp_path, "eggs") == old


def test_undo_goes_back_step_by_step_and_redo_forward(tmp_path: Path) -> None:
    folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    for word in ("eggs", "brown eggs", "hens' eggs"):
        folder.replace(tmp_path, replace(folder.load(tmp_path, "eggs"), things=word))
    assert folder.history(tmp_path, "eggs") == (3, 0)
    assert [folder.undo(tmp_path, "eggs").things for _ in range(3)] == ["brown eggs", "eggs", ""]
    with pytest.raises(CatalogError) as caught:
        folder.undo(tmp_path, "eggs")
    assert caught.value.code == "no-version"
    assert folder.history(tmp_path, "eggs") == (0, 3)
    assert [folder.redo(tmp_path, "eggs").things for _ in range(2)] == ["eggs", "brown eggs"]
    folder.replace(tmp_path, replace(folder.load(tmp_path, "eggs"), place="hall"))  # another way on
    assert folder.history(tmp_path, "eggs") == (3, 0)
    assert folder.undo(tmp_path, "eggs").place == ""
    assert [p.name for p in folder.every(tmp_path) for p in [folder.picture_path(tmp_path, p)]] == ["eggs.jpg"]


def test_forget_takes_what_one_could_go_forward_to(tmp_path: Path) -> None:
    from curator.catalog.store.forget import forget

    folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    folder.replace(tmp_path, replace(folder.load(tmp_path, "eggs"), things="eggs"))
    folder.undo(tmp_path, "eggs")
    assert forget(tmp_path, "eggs").slugs == ("eggs",)
    assert [p for p in tmp_path.rglob("*") if p.is_file()] == []
    assert not (tmp_path / ".before" / "eggs").exists()


def test_another_picture_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    old = folder.add(tmp_path, prompt_of(7, "eggs", phash="f" * 16), picture_bytes(1))
    new = folder.replace_picture(tmp_path, "eggs", picture_bytes(9))
    assert folder.picture_path(tmp_path, new).read_bytes() == picture_bytes(9)
    assert new.phash != old.phash
    assert names(tmp_path) == ["eggs.2.jpg", "eggs.yaml"]
    assert folder.undo(tmp_path, "eggs").picture == "eggs.2.jpg"  # the old picture is gone for good


def test_remove_goes_to_a_dated_bin_and_back(tmp_path: Path) -> None:
    kept = folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    folder.remove(tmp_path, "eggs")
    assert names(tmp_path) == []
    (one,) = bins.binned(tmp_path)
    assert (one.slug, one.place.parent.parent.name) == ("eggs", ".bin")
    assert names(one.place) == ["eggs.jpg", "eggs.yaml"]
    assert folder.bring_back(tmp_path, "eggs") == kept
    assert folder.picture_path(tmp_path, kept).read_bytes() == b"jpg"
    assert list(bins.binned(tmp_path)) == []


def test_a_copy_that_a_cut_off_removal_left_in_the_bin_is_found_and_forgotten(tmp_path: Path) -> None:
    from curator.catalog.store.forget import forget

    for slug in ("eggs", "shells"):
        folder.add(tmp_path, prompt_of(7, slug), picture_bytes(1))
        place = tmp_path / ".bin" / "2026-03-02" / slug
        place.mkdir(parents=True)
        os.link(tmp_path / f"{slug}.jpg", place / f"{slug}.jpg")  # kill -9 came before the file of words moved
    assert folder.check(tmp_path) == []  # just now: perhaps a sync program is not done
    os.utime(tmp_path / ".bin" / "2026-03-02" / "shells", (1, 1))
    (problem,) = folder.check(tmp_path)
    assert (problem.name, problem.code) == (".bin/2026-03-02/shells/shells.jpg", "left-over")
    assert folder.tidy(tmp_path) == 1
    assert folder.check(tmp_path) == []
    folder.replace_picture(tmp_path, "eggs", picture_bytes(9))  # other bytes: a face was blurred
    forget(tmp_path, "eggs")
    assert [p.name for p in tmp_path.rglob("*.jpg")] == ["shells.jpg"]


def test_removed_twice_on_one_day_the_later_comes_back(tmp_path: Path) -> None:
    for picture in (b"first", b"second"):
        folder.add(tmp_path, prompt_of(7, "eggs"), picture)
        folder.remove(tmp_path, "eggs")
    kept = folder.bring_back(tmp_path, "eggs")
    assert folder.picture_path(tmp_path, kept).read_bytes() == b"second"
    with pytest.raises(CatalogError, match="of that name"):
        folder.bring_back(tmp_path, "eggs")
    assert folder.empty_bin(tmp_path) == 1
    with pytest.raises(CatalogError, match="not in the bin"):
        folder.bring_back(tmp_path, "eggs")


def test_a_damaged_prompt_can_be_removed(tmp_path: Path) -> None:
    folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    (tmp_path / "eggs.yaml").write_text("format: 1\n")
    assert list(folder.every(tmp_path)) == []
    folder.remove(tmp_path, "eggs")
    assert names(tmp_path) == []


@pytest.mark.parametrize("slug", ["none", "../eggs", "", "Eggs", "a" * 99, "a/b", "\0"])
def test_what_is_not_there_is_said(tmp_path: Path, slug: str) -> None:
    for verb in (folder.load, folder.version, folder.remove, folder.undo):
        with pytest.raises(CatalogError):
            verb(tmp_path, slug)
    with pytest.raises(CatalogError, match="There is no catalog"):
        list(folder.every(tmp_path / "nowhere"))


def test_a_file_in_the_folders_place_is_said(tmp_path: Path) -> None:
    (tmp_path / "catalog").write_text("")
    for wrong in ("catalog", "catalog/inside"):
        with pytest.raises(CatalogError):
            folder.add(tmp_path / wrong, prompt_of(), b"jpg")


def test_a_renamed_file_is_told_from_its_slug(tmp_path: Path) -> None:
    folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    (tmp_path / "eggs.yaml").rename(tmp_path / "shells.yaml")
    with pytest.raises(CatalogError, match="called shells and the slug in it is eggs"):
        folder.load(tmp_path, "shells")


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
@pytest.mark.parametrize("call", ["write", "fsync", "replace"])
@pytest.mark.parametrize("verb", ["add", "replace", "remove", "replace_picture", "undo", "bring_back"])
def test_a_disk_that_fails_leaves_all_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, call: str, verb: str
) -> None:
    old = folder.add(tmp_path, prompt_of(7, "eggs"), b"jpg")
    old = folder.replace(tmp_path, replace(old, things="eggs"))
    folder.add(tmp_path, prompt_of(7, "gone"), b"gone")
    folder.remove(tmp_path, "gone")
    index.find(tmp_path)
    verbs = {
        "add": lambda: folder.add(tmp_path, prompt_of(6, "more", source_sha256=sha_of("more")), b"x" * 99),
        "replace": lambda: folder.replace(tmp_path, replace(old, things="brown eggs")),
        "remove": lambda: folder.remove(tmp_path, "eggs"),
        "replace_picture": lambda: folder.replace_picture(tmp_path, "eggs", picture_bytes(3)),
        "undo": lambda: folder.undo(tmp_path, "eggs"),
        "bring_back": lambda: folder.bring_back(tmp_path, "gone"),
    }
    for calls_that_work in range(3):
        before = state(tmp_path)
        with monkeypatch.context() as patch:
            patch.setattr(os, call, _failing(getattr(os, call), calls_that_work, code))
            try:
                verbs[verb]()
            except CatalogError as error:
                said = error.wrong
            else:
                return  # the call that fails lies after the change was safe
        assert "nothing was changed" in said
        assert state(tmp_path) == before
        assert "gone" in {one.slug for one in bins.binned(tmp_path)}
        assert not [p for p in folder.check(tmp_path, pictures=False) if not p.note]


def state(path: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in path.iterdir() if p.is_file()}


def _failing(real: Callable[..., object], calls_that_work: int, code: int) -> Callable[..., object]:
    """A disk call that works a few times and then fails; the lock's own line is always written."""
    calls = iter(range(10**6))

    def call(*args: object) -> object:
        about_lock = len(args) == 2 and isinstance(args[1], bytes) and b"pid" in args[1]
        if not about_lock and next(calls) >= calls_that_work:
            raise OSError(code, os.strerror(code))
        return real(*args)

    return call


def _fill(place: Path, kept: list[str]) -> None:
    for number in range(200):
        kept.append(folder.add(place, prompt_of(7, f"n{number}"), bytes(20_000 + 997 * number)).slug)


def _mounted(tmp_path: Path, options: str) -> Path:
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)]
    if (
        not hasattr(os, "geteuid")
        or os.geteuid() != 0
        or subprocess.run(command, capture_output=True, check=False).returncode
    ):
        pytest.skip("a small disk of its own needs the right to mount one")
    return place


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="tmpfs is Linux's")
def test_a_full_disk_takes_what_it_can_and_loses_nothing(tmp_path: Path) -> None:
    place = _mounted(tmp_path, "size=1m")
    try:
        kept: list[str] = []
        with pytest.raises(CatalogError, match="The disk is full; nothing was changed"):
            _fill(place / "c", kept)
        assert len(kept) > 5
        assert [p.slug for p in folder.every(place / "c")] == sorted(kept)
        assert not folder.check(place / "c", pictures=False)
        with suppress(OSError), (place / "stuffing").open("wb", buffering=0) as stuffing:
            while stuffing.write(bytes(512)):
                pass
        first = folder.load(place / "c", kept[0])
        with pytest.raises(CatalogError, match="full"):
            folder.replace(place / "c", replace(first, notes="x" * 9000))
        assert folder.load(place / "c", kept[0]) == first
        assert index.find(place / "c", "7+7").total == len(kept)
        assert not folder.check(place / "c", pictures=False)
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="tmpfs is Linux's")
def test_a_read_only_folder_is_searched_and_not_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    place = _mounted(tmp_path, "size=1m")
    try:
        old = folder.add(place, prompt_of(7, "eggs"), b"jpg")
        folder.add(place, prompt_of(5, "gone"), b"jpg")
        folder.remove(place, "gone")
        index.forget_index(place)
        subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
        assert index.find(place, "7+7").total == 1
        assert list((tmp_path / "cache" / "curator").glob("*.sqlite"))
        for change in (
            lambda: folder.add(place, prompt_of(6, "more"), b"jpg"),
            lambda: folder.replace(place, replace(old, things="eggs")),
            lambda: folder.remove(place, "eggs"),
            lambda: folder.undo(place, "eggs"),
            lambda: folder.bring_back(place, "gone"),
            lambda: folder.empty_bin(place),
            lambda: folder.tidy(place),
        ):
            with pytest.raises(CatalogError, match="may be read but not changed"):
                change()
        assert folder.load(place, "eggs") == old
        assert [p.name for p in folder.check(place, pictures=False)] == ["gone"]
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False)


def lock_of(pid: int, **more: object) -> bytes:
    """A lock's line as a process of this machine writes it."""
    return json.dumps({**json.loads(files._mine()), "pid": pid, "time": 0, **more}).encode()


def test_a_lock_of_a_dead_process_does_not_stop_anybody(tmp_path: Path) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    (tmp_path / ".lock").write_bytes(lock_of(dead.pid))
    assert files.is_left_over(tmp_path / ".lock")
    assert [p.name for p in folder.check(tmp_path)] == [".lock"]
    assert folder.tidy(tmp_path) == 1
    assert folder.check(tmp_path) == []


def test_a_lock_of_another_machine_is_waited_for_until_it_is_old(tmp_path: Path) -> None:
    lock = tmp_path / ".lock"
    lock.write_text('{"pid": 1, "host": "another", "time": 0}')
    with pytest.raises(CatalogError, match="Somebody on another is changing"), files.locked(tmp_path, "Testing.", 0.2):
        pass
    os.utime(lock, (1, 1))
    with files.locked(tmp_path, "Testing.", 0.2):
        assert files.lock_owner(lock)["pid"] == os.getpid()
    assert not lock.exists()


@pytest.mark.parametrize("owner", [{"boot": "another"}, {"host": "another"}])
def test_a_living_process_of_a_machine_of_the_same_name_keeps_its_lock(tmp_path: Path, owner: dict[str, str]) -> None:
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    (tmp_path / ".lock").write_bytes(lock_of(dead.pid, **owner))  # a number that nobody has here
    assert not files.is_left_over(tmp_path / ".lock")
    with pytest.raises(CatalogError, match="is changing the catalog"), files.locked(tmp_path, "Testing.", 0.1):
        pass


@pytest.mark.skipif(systems.fcntl is None, reason="needs flock")
def test_a_number_that_another_process_got_meanwhile_stops_nobody(tmp_path: Path) -> None:
    (tmp_path / ".lock").write_bytes(lock_of(os.getppid()))  # it lives, but does not hold the lock
    assert not files.is_left_over(tmp_path / ".lock")
    with files.locked(tmp_path, "Testing.", 0.1):
        assert files.lock_owner(tmp_path / ".lock")["pid"] == os.getpid()


def test_a_clock_that_is_minutes_ahead_takes_no_living_lock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lock = tmp_path / ".lock"
    lock.write_bytes(lock_of(1, host="another"))
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() + 600)  # this machine's clock; the drive's stamps the files
    assert not files.is_left_over(lock)
    os.utime(lock, (real() - 600, real() - 600))
    assert files.is_left_over(lock)
    assert [p.name for p in tmp_path.iterdir()] == [".lock"]


def test_a_lock_without_a_word_is_soon_left_over(tmp_path: Path) -> None:
    lock = tmp_path / ".lock"
    lock.write_bytes(b"")  # cut off between making it and writing into it
    assert not files.is_left_over(lock)
    os.utime(lock, (time.time() - 9, time.time() - 9))
    with files.locked(tmp_path, "Testing.", 0.1):
        assert files.lock_owner(lock)["pid"] == os.getpid()


def test_the_lock_lets_one_in_at_a_time(tmp_path: Path) -> None:
    with files.locked(tmp_path, "Testing."):
        assert not files.is_left_over(tmp_path / ".lock")
        with pytest.raises(CatalogError, match="is changing the catalog"), files.locked(tmp_path, "Again.", 0.1):
            pass

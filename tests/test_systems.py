"""Windows and macOS, as far as a Linux machine can stand in for them: each call that differs is substituted."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from catalog_made import picture_bytes, prompt_of

from curator import systems
from curator.catalog import files, reading
from curator.catalog.store import folder


class Windows:
    """msvcrt and its open files: a region is one process's, and an open file is not taken away."""

    LK_LOCK, LK_NBLCK = 1, 2

    def __init__(self) -> None:
        self.held: dict[int, int] = {}

    def locking(self, handle: int, how: int, count: int) -> None:
        assert os.lseek(handle, 0, os.SEEK_CUR) == systems._FAR, "the text of the lock has to stay readable"
        inode = os.fstat(handle).st_ino
        if self.held.get(inode, handle) != handle:
            raise PermissionError(errno.EACCES, "locked")
        self.held[inode] = handle


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> Windows:
    """No fcntl, msvcrt in its place; unlink refuses what is open."""
    twin, opened, unlink, close = Windows(), set(), os.unlink, os.close
    real_open = os.open

    def opening(path: Any, *more: Any, **named: Any) -> int:
        handle = real_open(path, *more, **named)
        if str(path).endswith(files.LOCK):
            opened.add(handle)
        return handle

    def closing(handle: int) -> None:
        opened.discard(handle)
        twin.held = {inode: one for inode, one in twin.held.items() if one != handle}
        close(handle)

    def unlinking(path: Any, *more: Any, **named: Any) -> None:
        if str(path).endswith(files.LOCK) and opened:
            raise PermissionError(errno.EACCES, "open")
        unlink(path, *more, **named)

    monkeypatch.setattr(systems, "fcntl", None)
    monkeypatch.setattr(systems, "msvcrt", twin)
    for name, call in (("open", opening), ("close", closing), ("unlink", unlinking)):
        monkeypatch.setattr(files.os, name, call)
    monkeypatch.setattr(files, "os", SimpleNamespace(**{**vars(os), "name": "nt"}))
    return twin


def test_a_catalog_is_changed_with_windows_locks_and_none_is_left(tmp_path: Path, windows: Windows) -> None:
    folder.add(tmp_path, prompt_of(6, "eggs"), picture_bytes(1))
    with files.locked(tmp_path, "Changing."):
        assert files.lock_owner(tmp_path / files.LOCK)["pid"] == os.getpid()
        assert windows.held
        with pytest.raises(Exception, match="is changing the catalog"), files.locked(tmp_path, "Again.", patience=0.1):
            pass
    assert not windows.held
    assert not (tmp_path / files.LOCK).exists()


def test_a_lock_left_by_a_process_that_died_is_taken_over(tmp_path: Path, windows: Windows) -> None:
    (tmp_path / files.LOCK).write_bytes(files._mine())
    with files.locked(tmp_path, "Changing.", patience=1):
        pass
    assert not (tmp_path / files.LOCK).exists()


def test_a_file_that_is_open_for_a_moment_is_replaced_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real, tries = os.replace, []

    def busy(source: Any, target: Any) -> None:
        tries.append(target)
        if len(tries) < 3:
            raise PermissionError(errno.EACCES, "a virus scanner looks at it")
        real(source, target)

    monkeypatch.setattr(systems, "os", SimpleNamespace(**{**vars(os), "name": "nt", "replace": busy}))
    (tmp_path / "a").write_text("new", encoding="utf-8")
    systems.replace(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").read_text(encoding="utf-8") == "new"
    assert len(tries) == 3


def test_on_a_mac_the_drive_itself_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    twin = SimpleNamespace(F_FULLFSYNC=51, fcntl=lambda handle, what: asked.append(what))
    monkeypatch.setattr(systems, "fcntl", twin)
    files.write(tmp_path / "a.yaml", b"text")
    assert asked == [51]


def test_whether_a_process_lives() -> None:
    assert systems.is_alive(os.getpid())
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    assert not systems.is_alive(gone.pid)


@pytest.mark.parametrize("name", ["con", "aux", "lpt1"])
def test_a_name_that_windows_keeps_for_itself_gets_a_number(tmp_path: Path, name: str) -> None:
    assert reading.free_slug(tmp_path, name) == f"{name}-2"
    assert folder.add(tmp_path, prompt_of(6, name), picture_bytes(1)).slug == f"{name}-2"


def test_every_text_is_opened_with_its_encoding_said() -> None:
    """Windows has another usual encoding; `-X warn_default_encoding` names each place that leaves it open."""
    code = "import curator.cli, sys; sys.argv = ['curator', 'find', 'eggs', '-c', sys.argv[1]]; curator.cli.main()"
    catalog = Path(__file__).parents[1] / "catalog"
    run = subprocess.run(
        [sys.executable, "-X", "warn_default_encoding", "-W", "error::EncodingWarning", "-c", code, str(catalog)],
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[1],
    )
    assert run.returncode == 0, run.stderr

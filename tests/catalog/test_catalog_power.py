"""A power cut: what a change relies on has reached the disk before the step that makes it so, and all has at its end.

A model of what POSIX promises: data lasts when its file was synced, a name when its folder was synced, in no other
order.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest
from catalog_made import picture_bytes, prompt_of, sha_of

from curator.catalog.store import folder
from curator.catalog.yamls import from_yaml


@dataclass
class Disk:
    """What was written and named, and has not reached the disk yet."""

    data: set[str] = field(default_factory=set)
    names: set[str] = field(default_factory=set)
    opened: dict[int, str] = field(default_factory=dict)
    steps: list[str] = field(default_factory=list)

    def synced(self, path: str) -> None:
        self.data.discard(path)
        self.names -= {name for name in self.names if os.path.dirname(name) == path}

    def commits(self, step: str, path: str) -> None:
        """A prompt's file gets, or loses, its place: nothing else may be on its way."""
        self.steps.append(f"{step} {os.path.basename(path)}")
        assert not self.names, (step, path, self.names)
        assert not self.data, (step, path, self.data)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    """The disk calls of this process, told to the model."""
    seen = Disk()
    real = {name: getattr(os, name) for name in ("open", "write", "fsync", "replace", "link", "mkdir", "unlink")}

    def opened(path: Any, flags: int, *more: Any, **named: Any) -> int:
        handle = int(real["open"](path, flags, *more, **named))
        seen.opened[handle] = str(path)
        return handle

    def write(handle: int, data: Any) -> Any:
        path = seen.opened.get(handle, "")
        if path.endswith(".part"):
            seen.data.add(path)
        return real["write"](handle, data)

    def fsync(handle: int) -> None:
        real["fsync"](handle)
        seen.synced(seen.opened.get(handle, ""))

    def rename(source: Any, target: Any) -> None:
        assert str(source) not in seen.data, f"{source} takes its place before its data is safe"
        if str(target).endswith(".yaml"):
            seen.commits("name", str(target))
        real["replace"](source, target)
        seen.names.add(str(target))

    def link(source: Any, target: Any) -> None:
        real["link"](source, target)
        seen.names.add(str(target))

    def mkdir(path: Any, *more: Any) -> None:
        real["mkdir"](path, *more)
        seen.names.add(str(path))

    def unlink(path: Any, *more: Any, **named: Any) -> None:
        if str(path).endswith((".jpg", ".yaml")) and os.path.exists(path):
            seen.commits("delete", str(path))
        real["unlink"](path, *more, **named)

    for name, call in (
        ("open", opened),
        ("write", write),
        ("fsync", fsync),
        ("replace", rename),
        ("link", link),
        ("mkdir", mkdir),
        ("unlink", unlink),
    ):
        monkeypatch.setattr(os, name, call)
    return seen


VERBS: dict[str, Callable[[Path], Any]] = {
    "add": lambda place: folder.add(place, prompt_of(6, "more", source_sha256=sha_of("more")), picture_bytes(2)),
    "edit": lambda place: folder.replace(place, replace(folder.load(place, "eggs"), things="eggs")),
    "edit again": lambda place: folder.replace(place, replace(folder.load(place, "panes"), things="panes")),
    "undo": lambda place: folder.undo(place, "panes"),
    "redo": lambda place: folder.redo(place, "boots"),
    "picture": lambda place: folder.replace_picture(place, "eggs", picture_bytes(9)),
    "remove": lambda place: folder.remove(place, "eggs"),
    "bring back": lambda place: folder.bring_back(place, "gone"),
    "first of all": lambda place: folder.add(place / "new", prompt_of(6, "first"), picture_bytes(2)),
}


@pytest.mark.parametrize("verb", list(VERBS))
def test_nothing_is_relied_on_before_it_is_on_the_disk(tmp_path: Path, disk: Disk, verb: str) -> None:
    for slug in ("eggs", "panes", "boots", "gone"):
        folder.add(tmp_path, prompt_of(7, slug), picture_bytes(1))
    folder.replace(tmp_path, replace(folder.load(tmp_path, "panes"), things="glass"))
    folder.replace(tmp_path, replace(folder.load(tmp_path, "boots"), things="boots"))
    folder.undo(tmp_path, "boots")
    folder.remove(tmp_path, "gone")
    disk.steps.clear()
    VERBS[verb](tmp_path)
    assert disk.steps, "no step was seen"
    assert not disk.names, "reported as done before the name was safe"
    assert not disk.data
    assert not [problem for problem in folder.check(tmp_path, pictures=False) if not problem.note]


def test_the_version_before_is_whole_beside_the_new_one(tmp_path: Path) -> None:
    old = folder.add(tmp_path, prompt_of(7, "eggs"), picture_bytes(1))
    for number in range(5):
        folder.replace(tmp_path, replace(folder.load(tmp_path, "eggs"), notes=str(number)))
    kept = sorted((tmp_path / ".before" / "eggs").iterdir())
    assert [from_yaml(path.read_text(), path.name).notes for path in kept] == [old.notes, "0", "1", "2", "3"]

"""Every command that the program prints runs as it is printed, from where the person stands."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of, sha_of
from typer.testing import CliRunner, Result

from curator.catalog.store import add_photos, folder
from curator.cli import app
from curator.commands import hints, words
from curator.errors import CuratorError

PLACE = "our teachers' pictures"  # a name that a shell would break
RUN = CliRunner()


def said(*typed: object, answers: str = "") -> str:
    """All that a command prints, errors with their hints too."""
    result: Result = RUN.invoke(app, [str(word) for word in typed], input=answers)
    notes = getattr(result.exception, "__notes__", ())
    return "\n".join([result.output, *(f"  {note}" for note in notes)])


def commands(text: str) -> list[str]:
    return re.findall(r"^\s+(curator .+)$", text, re.M)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a catalog of a difficult name: prompts without rights, one damaged, one changed, one removed."""
    monkeypatch.chdir(tmp_path)
    place = tmp_path / PLACE
    for half, slug in ((6, "eggs"), (4, "eggs-hall"), (3, "tins"), (5, "boots"), (2, "mugs")):
        folder.add(place, prompt_of(half, slug, things="things"), picture_bytes(half))
    folder.replace(place, replace(folder.load(place, "tins"), things="tins"))
    folder.remove(place, "boots")
    (place / "mugs.yaml").write_text("spoiled", encoding="utf-8")
    return tmp_path


def doubtful(path: Path, *_: object) -> add_photos.Seen:
    """What a look at a photo of which one cannot be sure gives."""
    made = replace(prompt_of(6, "new", things="lids", source_sha256=sha_of(path.name)), grade="check")
    return add_photos.Seen(path, made, picture_bytes(7), "One may hide.", 0, choices=(made, made))


SCREENS: dict[str, Callable[[], str]] = {
    "find more": lambda: said("find", "-n", 1, "-c", PLACE),
    "find nothing": lambda: said("find", "zzzz", "-c", PLACE),
    "find in an empty one": lambda: said("find", "-c", "empty one"),
    "list": lambda: said("list", "-c", PLACE),
    "show": lambda: said("show", "tins", "-c", PLACE),
    "no such name": lambda: said("edit", "egs", "--place", "hall", "-c", PLACE),
    "edit": lambda: said("edit", "eggs", "--things", "brown eggs", "-c", PLACE),
    "back": lambda: said("edit", "tins", "--undo", "-c", PLACE),
    "remove": lambda: said("remove", "eggs", "-c", PLACE),
    "check": lambda: said("check", "-c", PLACE),
    "pack": lambda: said("pack", "-c", PLACE, "-o", "set.zip"),
    "site": lambda: said("site", "-c", PLACE, "-o", "pages"),
    "add": lambda: said("add", "a photo.jpg", "-c", PLACE),
    "add, there already": lambda: said("add", "a photo.jpg", "--reading", 2, "-c", PLACE),
    "no catalog": lambda: said("find", "7+7", "-c", "nowhere"),
}


@pytest.mark.parametrize("screen", list(SCREENS))
def test_each_runs_as_it_is_printed(here: Path, screen: str, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "empty one").mkdir()
    (here / "a photo.jpg").write_bytes(picture_bytes(8))
    monkeypatch.setattr(add_photos, "see", doubtful)
    printed = commands(SCREENS[screen]())
    assert printed, "nothing to type was printed"
    before = here.parent / f"{here.name}-before"
    shutil.copytree(here, before)
    monkeypatch.setattr(words, "is_terminal", lambda: True)
    for line in printed:
        _, *typed = shlex.split(line)
        if typed[0] == "serve":  # would go on for ever; conftest looks at its options
            continue
        result = RUN.invoke(app, typed, input="CC-BY-4.0\nRoom 4\nnone\n" if "--ask" in typed else "\n1\n")
        fine = result.exit_code == 0 or (typed[0] == "check" and result.exit_code == 1)
        assert fine, (line, result.output, result.exception)
        for path in here.iterdir():
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        shutil.copytree(before, here, dirs_exist_ok=True)


def test_a_real_shell_takes_it_too(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (line,) = [one for one in commands(said("remove", "eggs", "-c", PLACE)) if "bring-back" in one]
    monkeypatch.setattr(sys, "argv", [str(Path(hints.__file__).parents[1] / "__main__.py")])
    assert hints.program().endswith(" -m curator")
    run = subprocess.run(
        ["sh", "-c", line.replace("curator", hints.program(), 1)], capture_output=True, text=True, check=True
    )
    assert run.stdout == "eggs is back in the catalog.\n"


def test_the_usual_catalog_is_not_named(monkeypatch: pytest.MonkeyPatch) -> None:
    assert hints.command("find", "7+7", catalog=Path("catalog")) == "curator find 7+7"
    monkeypatch.setenv("CURATOR_CATALOG", "drive/prompts")
    assert hints.command("find", catalog=Path("drive/prompts")) == "curator find"
    assert hints.command("find", catalog=Path("catalog")) == "curator find -c catalog"


def test_on_windows_words_are_quoted_as_its_shell_reads_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hints.os, "name", "nt")
    assert hints.quoted("our pictures") == '"our pictures"'
    assert hints.quoted("eggs") == "eggs"


def test_what_is_missing_is_asked_for_at_once(here: Path) -> None:
    result = RUN.invoke(app, ["pack", "eggs", "-c", PLACE, "-o", "set.zip"])
    error = result.exception
    assert isinstance(error, CuratorError)
    assert (error.code, len(error.parts)) == ("rights", 3)  # "tins" has the word in its title
    assert "no licence" in error.wrong
    assert "people" in error.wrong
    assert "credit" in error.wrong
    assert error.__notes__[-1] == f"curator edit eggs eggs-hall tins --ask -c {shlex.quote(PLACE)}"

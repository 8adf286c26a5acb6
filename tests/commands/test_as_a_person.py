"""The program started as a person starts it, in a pseudo-terminal of 80 columns, for what only a terminal shows."""

from __future__ import annotations

from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of
from terminal import WIDTH, at_a_terminal

from curator.catalog.store import folder

LOOK = """
from pathlib import Path
from catalog_made import picture_bytes, prompt_of, sha_of
from curator.catalog.store import add_photos
def see(path, area, words, taught=()):
    said = {key: words[key] for key in ("thing", "things", "place") if key in words}
    more = said | {"grade": "check", "source_sha256": sha_of(path.name)}
    made = [prompt_of(n, f"new-{path.stem}", **more) for n in (6, 4)]
    return add_photos.Seen(path, made[0], picture_bytes(len(path.name), 200), "One may hide.", 0, choices=tuple(made))
add_photos.see = see
"""


@pytest.fixture
def here(tmp_path: Path) -> Path:
    folder.add(tmp_path / "catalog", prompt_of(3, "eggs", thing="egg", things="eggs"), picture_bytes(3))
    for name in ("a.jpg", "b.jpg"):
        (tmp_path / name).write_bytes(picture_bytes(5))
    return tmp_path


def narrow(text: str) -> bool:
    """Whether every line but those to be copied fits."""
    return all(len(line) < WIDTH for line in text.splitlines() if not line.startswith("  ") or "curator" not in line)


def test_add_asks_what_they_are_and_which_reading_is_right(here: Path) -> None:
    seen = at_a_terminal(["add", "a.jpg", "--place", "hall"], here, ["1", "7", "2"], first=LOOK)
    assert seen.status == 0, seen.text
    assert "Known here: 1 eggs." in seen.text
    assert "1: 6+6=12 slide   2: 4+4=8 slide" in seen.text
    assert "Type a number from 0 to 2." in seen.text
    assert "1 added." in seen.text
    assert "\x1b[33m" in seen.raw  # its grade is `check`: yellow, and the words stand there too
    assert narrow(seen.text)
    new = folder.load(here / "catalog", "new-a")
    assert (str(new.fact), new.thing, new.things, new.place) == ("4+4=8", "egg", "eggs", "hall")
    assert (here / "catalog" / ".inbox" / "screen" / "look-at-these.jpg").is_file()


def test_what_she_turned_down_is_not_offered_again(here: Path) -> None:
    seen = at_a_terminal(["add", "a.jpg", "b.jpg"], here, ["y", "0", "1"], first=LOOK)
    assert "1 added, 1 not, because 1 was turned down." in seen.text
    assert "--yes" not in seen.text
    assert "--take-check" not in seen.text
    assert "curator serve" in seen.text
    assert narrow(seen.text)


def test_what_is_missing_is_asked_for_at_once(here: Path) -> None:
    seen = at_a_terminal(["edit", "eggs", "--ask"], here, ["cc-by-4.0", "Room 4", "nobody", "none"])
    assert seen.status == 0, seen.text
    assert "Say one of none, consented, unknown." in seen.text
    now = folder.load(here / "catalog", "eggs")
    assert (now.license, now.credit, now.people) == ("CC-BY-4.0", "Room 4", "none")
    assert narrow(seen.text)


def test_forget_asks_and_a_no_is_a_no(here: Path) -> None:
    seen = at_a_terminal(["forget", "eggs"], here, ["n"])
    assert seen.status == 1
    assert "nothing was deleted" in seen.text
    assert (here / "catalog" / "eggs.yaml").is_file()


def test_an_answer_for_several_leaves_what_each_has(here: Path) -> None:
    more = {"things": "tins", "license": "school-only", "credit": "Room 1"}
    folder.add(here / "catalog", prompt_of(4, "tins", **more), picture_bytes(4))
    seen = at_a_terminal(["edit", "eggs", "tins", "--ask"], here, ["CC0-1.0", "Room 4", "none"])
    assert seen.status == 0, seen.text
    kept = [folder.load(here / "catalog", slug) for slug in ("eggs", "tins")]
    assert [(p.license, p.credit, p.people) for p in kept] == [
        ("CC0-1.0", "Room 4", "none"),
        ("school-only", "Room 1", "none"),
    ]

"""check names each problem with its remedy; forget takes out all that came from one photo."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of, sha_of

from curator.catalog.search import index
from curator.catalog.search.gaps import BEWARE, IDEAS, gaps
from curator.catalog.store import folder
from curator.catalog.store.forget import forget
from curator.errors import CatalogError
from curator.facts import FACTS
from curator.records import Area


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """Two sound prompts."""
    folder.add(tmp_path, prompt_of(7, "eggs"), picture_bytes(1))
    folder.add(tmp_path, prompt_of(4, "panes"), picture_bytes(2))
    assert folder.check(tmp_path) == []
    return tmp_path


def only(path: Path) -> folder.Problem:
    (problem,) = folder.check(path)
    return problem


def test_a_missing_and_a_damaged_picture(shelf: Path) -> None:
    (shelf / "eggs.jpg").write_bytes(picture_bytes(1)[:200])
    assert "cannot be read" in only(shelf).wrong
    (shelf / "eggs.jpg").unlink()
    assert (only(shelf).name, only(shelf).wrong) == ("eggs", "Its picture eggs.jpg is not there.")


def test_a_hand_edited_mistake_and_its_undo(shelf: Path) -> None:
    text = (shelf / "eggs.yaml").read_text()
    (shelf / "eggs.yaml").write_text(text.replace("title: Eggs", "title: no"))
    assert "Line 3, title: no is read as yes or no" in only(shelf).wrong
    (shelf / "eggs.yaml").write_text("format: 1\nslug: eg")
    assert only(shelf).code == "damaged-only"
    (shelf / "eggs.yaml").write_text(text)
    folder.replace(shelf, replace(folder.load(shelf, "eggs"), things="eggs"))
    (shelf / "eggs.yaml").write_text("format: 1\nslug: eg")
    assert (only(shelf).code, only(shelf).slug) == ("damaged", "eggs")


@pytest.mark.parametrize(
    "name",
    [
        "eggs (1).yaml",
        "eggs.sync-conflict-20260301-101010-ABCDEFG.yaml",
        "eggs-conflict-2.yaml",
        "eggs (somebody's conflicted copy 2026-03-01).yaml",
        "eggs - Copy.yaml",
        "eggs-LAPTOP-7.yaml",
        "eggs-laptop.yaml",
        "Eggs von Zimmer 4.yaml",
    ],
)
def test_copies_that_a_sync_program_made(shelf: Path, name: str) -> None:
    text = (shelf / "eggs.yaml").read_text()
    (shelf / name).write_text(text)
    assert "A second copy of eggs" in only(shelf).wrong
    assert only(shelf).remedy == "Delete it."
    (shelf / name).write_text(text.replace("title: Eggs", "title: Shells"))
    assert "They differ in title" in only(shelf).wrong
    assert [p.slug for p in folder.every(shelf)] == ["eggs", "panes"]
    assert index.find(shelf).total == 2


def test_pictures_and_files_that_nothing_uses(shelf: Path) -> None:
    (shelf / "lonely.jpg").write_bytes(picture_bytes(3))
    assert only(shelf).wrong == "No prompt uses this picture."
    (shelf / "lonely.jpg").unlink()
    (shelf / "My Eggs.yaml").write_text("x")
    assert "Rename or delete it" in only(shelf).remedy
    (shelf / "My Eggs.yaml").unlink()
    (shelf / "notes.txt").write_text("anything")
    assert folder.check(shelf) == []


def test_what_cut_off_changes_left(shelf: Path) -> None:
    (shelf / ".eggs.yaml.1-abcdef.part").write_text("half")
    assert only(shelf).code == "left-over"
    assert folder.tidy(shelf) == 1
    assert folder.check(shelf) == []


def test_another_picture_under_the_same_name(shelf: Path) -> None:
    import numpy as np

    from curator.seeing import photo

    rng = np.random.default_rng(3)
    one, other = (rng.integers(0, 255, (8, 8, 3), np.uint8).repeat(20, 0).repeat(20, 1) for _ in range(2))
    folder.add(shelf, prompt_of(3, "tiles", phash=photo.phash(one)), photo.encode_clean(one))
    assert folder.check(shelf) == []
    (shelf / "tiles.jpg").write_bytes(photo.encode_clean(other))
    assert "does not look like the picture that was tagged" in only(shelf).wrong


def test_licence_and_a_text_that_gives_the_answer_away(shelf: Path) -> None:
    folder.replace(shelf, replace(folder.load(shelf, "eggs"), license="mine", alt_before="14 eggs."))
    wrong = [problem.wrong for problem in folder.check(shelf)]
    assert wrong == [
        'The licence "mine" is not one that curator knows.',
        "The text for before the answer gives the number away.",
    ]


def test_one_photo_in_two_prompts(shelf: Path) -> None:
    folder.add(shelf, prompt_of(3, "part", source_sha256=sha_of("eggs"), area=Area(0, 0, 0.5, 1)), picture_bytes(4))
    assert only(shelf).note
    assert "Made of the same photo: eggs, part." in only(shelf).wrong
    folder.add(shelf, prompt_of(3, "again", source_sha256=sha_of("eggs")), picture_bytes(4), twin_ok=True)
    assert not only(shelf).note


def test_the_bin_is_listed(shelf: Path) -> None:
    folder.remove(shelf, "eggs")
    assert only(shelf).note
    assert (only(shelf).code, only(shelf).slug) == ("bin", "eggs")


def everything(path: Path) -> bytes:
    return b"".join(p.read_bytes() for p in sorted(path.rglob("*")) if p.is_file())


@pytest.mark.parametrize("by", ["photo", "sha", "slug", "picture"])
def test_forget_takes_out_all_that_came_from_one_photo(
    shelf: Path, tmp_path_factory: pytest.TempPathFactory, by: str
) -> None:
    source = tmp_path_factory.mktemp("phone") / "IMG_1.jpg"
    source.write_bytes(b"the teacher's file")
    sha = hashlib.sha256(source.read_bytes()).hexdigest()
    folder.add(shelf, prompt_of(3, "binned", source_sha256=sha, notes="findable"), b"binned picture")
    folder.remove(shelf, "binned")
    kept = folder.add(shelf, prompt_of(3, "kept", source_sha256=sha), b"kept picture")
    folder.replace(shelf, replace(kept, notes="findable"))
    folder.add(shelf, prompt_of(3, "part", source_sha256=sha, area=Area(0, 0, 0.5, 1)), b"part picture")
    (shelf / "kept (1).yaml").write_bytes((shelf / "kept.yaml").read_bytes())
    (shelf / "cut-off.jpg").write_bytes(b"kept picture")
    assert index.find(shelf, "findable").total == 1
    gone = forget(shelf, {"photo": str(source), "sha": sha, "slug": "kept", "picture": str(shelf / "kept.jpg")}[by])
    assert set(gone.slugs) >= {"kept", "part", "binned"}
    source.unlink()
    left = everything(shelf)
    assert not [trace for trace in (sha.encode(), b"findable", b" picture") if trace in left]
    assert [p.slug for p in folder.every(shelf)] == ["eggs", "panes"]
    assert folder.check(shelf) == []
    assert index.find(shelf, "findable").total == 0
    with pytest.raises(CatalogError):
        forget(shelf, sha)


def test_forget_what_was_never_there(shelf: Path) -> None:
    for source in ("nobody", "f" * 64, "", "a\0b"):
        with pytest.raises(CatalogError):
            forget(shelf, source)
    assert len(list(folder.every(shelf))) == 2


def test_gaps_have_counts_and_ideas_for_what_is_empty(shelf: Path) -> None:
    rows = gaps(shelf)
    assert [row.fact for row in rows] == list(FACTS)
    assert rows[6].counts["slide"] == 1
    assert "slide" not in rows[6].ideas
    assert rows[6].ideas["flip"]
    assert not rows[0].total
    # common practice: ordinary things that come as n+n, for every n that a fact has
    assert set(IDEAS) == set(BEWARE) == set(range(1, 13))
    assert any("ladybird" in idea for idea in IDEAS[7])
    assert any("dozen" in idea for idea in IDEAS[6])

"""The catalog's commands, as a teacher types them."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from catalog_made import picture_bytes, prompt_of
from typer.testing import CliRunner, Result

from curator.catalog import prompt
from curator.catalog.store import add_photos, folder
from curator.cli import app
from curator.errors import CuratorError
from curator.records import Box, Fact, Halves, Look, Photo, Prompt, Reading, Thing, ThingSet

run = CliRunner()


def curator(*words: object) -> Result:
    """Runs a command; its output holds the three sentences of an error too."""
    got = run.invoke(app, [str(word) for word in words])
    assert got.exception is None or isinstance(got.exception, SystemExit | CuratorError), got.exception
    return got


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    folder.add(tmp_path, prompt_of(7, "eggs-hall", title="Eggs", things="eggs", tags=("carton",)), picture_bytes(1))
    folder.add(tmp_path, prompt_of(0, "mugs", title="Mugs"), picture_bytes(2))
    return tmp_path


def seen(path: Path, half: int = 3, grade: str = "sure", phash: str = "", faces: int = 0) -> add_photos.Seen:
    made = prompt_of(half, path.stem, grade=grade if half else "no", phash=phash)
    return add_photos.Seen(path, made, picture_bytes(5), "One may hide.", faces)


def test_find_shows_one_line_a_prompt(shelf: Path) -> None:
    got = curator("find", "7+7", "-c", shelf)
    assert got.output.splitlines()[0].split() == ["7+7=14", "slide", "eggs-hall", "Eggs,", "carton"]
    assert "1 prompt." in got.output
    assert all(len(line) < 80 for line in curator("find", "-c", shelf).output.splitlines()[:2])


def test_find_says_what_to_photograph_where_there_is_nothing(shelf: Path) -> None:
    assert "Things that come as 6+6:" in curator("find", "6+6", "-c", shelf).output
    got = curator("find", "7+7", "-c", shelf / "nowhere")
    assert isinstance(got.exception, CuratorError)


def test_find_by_when_it_was_kept(shelf: Path) -> None:
    folder.add(shelf, prompt_of(7, "panes", title="Panes", added="2025-10-03"), picture_bytes(3))
    last_year = curator("find", "7+7", "--since", "2025-09", "--until", "2025-12", "-c", shelf).output
    assert last_year.splitlines()[0].split() == ["7+7=14", "slide", "panes", "2025-10-03:", "Panes"]
    assert "1 prompt." in last_year
    assert "eggs-hall" in curator("find", "--since", "2026", "-c", shelf).output
    more = curator("find", "7+7", "--since", "2025", "-n", 1, "-c", shelf).output.splitlines()
    assert "find 7+7 --since 2025-01-01 --limit 2" in more[-1]
    none = curator("find", "7+7", "--until", "2024", "-c", shelf).output
    assert none.splitlines()[:2] == ["Nothing found that was kept until 2024-12-31.", "At any time:"]
    for typed in (["--since", "last"], ["--since", "2026", "--until", "2025"]):
        got = curator("find", *typed, "-c", shelf)
        assert isinstance(got.exception, CuratorError)
        assert got.exception.code == "input"


def test_find_as_json(shelf: Path) -> None:
    one = json.loads(curator("find", "eggs", "--json", "-c", shelf).output)
    assert (one["slug"], one["fact"], len(one["dots"])) == ("eggs-hall", "7+7=14", 14)
    assert Path(one["picture"]).is_file()


def test_edit_says_what_changed_and_how_to_take_it_back(shelf: Path) -> None:
    got = curator(
        "edit",
        "eggs-hall",
        "--things",
        "brown eggs",
        "--license",
        "cc by 4.0",
        "--people",
        "none",
        "--tag",
        "box",
        "--untag",
        "carton",
        "--kind",
        "flip",
        "-c",
        shelf,
    )
    assert "things: brown eggs" in got.output
    now = folder.load(shelf, "eggs-hall")
    assert (now.license, now.people, now.tags, now.kind) == ("CC-BY-4.0", "none", ("box",), "flip")
    curator("edit", "eggs-hall", "--undo", "-c", shelf)
    assert folder.load(shelf, "eggs-hall").things == "eggs"
    assert "may be edited by hand too" in curator("edit", "eggs-hall", "-c", shelf).output


@pytest.mark.parametrize(
    "wrong", [("--license", "my own"), ("--people", "some"), ("--kind", "shift"), ("--kind", "none")]
)
def test_edit_refuses_what_it_does_not_know(shelf: Path, wrong: tuple[str, str]) -> None:
    got = curator("edit", "eggs-hall", *wrong, "-c", shelf)
    assert isinstance(got.exception, CuratorError)
    assert got.exception.try_this


def test_remove_and_bring_back(shelf: Path) -> None:
    assert "--bring-back eggs-hall" in curator("remove", "eggs-hall", "-c", shelf).output
    assert "In the bin since" in curator("check", "-c", shelf).output
    assert "is back" in curator("check", "--bring-back", "eggs-hall", "-c", shelf).output
    curator("remove", "mugs", "-c", shelf)
    assert isinstance(curator("check", "--empty-bin", "-c", shelf).exception, CuratorError)  # nobody to ask
    assert "1 prompts deleted" in curator("check", "--empty-bin", "--yes", "-c", shelf).output.replace(
        "1 prompt ", "1 prompts "
    )


def test_check_ends_with_one_where_there_is_a_problem(shelf: Path) -> None:
    assert curator("check", "-c", shelf).exit_code == 0
    (shelf / "mugs.jpg").unlink()
    got = curator("check", "-c", shelf)
    assert got.exit_code == 1
    assert "Its picture mugs.jpg is not there." in got.output
    first, *notes = map(json.loads, curator("check", "--json", "-c", shelf).output.splitlines())
    assert (first["name"], first["code"]) == ("mugs", "no-picture")
    assert {note["code"] for note in notes} == {"rights"}


def test_forget_asks_and_says_what_went(shelf: Path) -> None:
    assert isinstance(curator("forget", "eggs-hall", "-c", shelf).exception, CuratorError)
    assert "Forgotten: eggs-hall" in curator("forget", "eggs-hall", "--yes", "-c", shelf).output
    assert [p.slug for p in folder.every(shelf)] == ["mugs"]


def test_gaps_fit_eighty_columns(shelf: Path) -> None:
    got = curator("gaps", "-c", shelf).output
    assert all(len(line) < 80 for line in got.splitlines())
    assert "7+7=14" in got
    assert len(json.loads(curator("gaps", "--json", "-c", shelf).output)) == 12


def test_a_batch_takes_only_what_is_sure(tmp_path: Path) -> None:
    tally = add_photos.Tally()
    empty = CuratorError("Reading the photo f.jpg.", "The file is empty.", "Copy it again.")
    cases = [
        seen(Path("a.jpg"), phash="0" * 16),
        seen(Path("b.jpg"), grade="check"),
        seen(Path("c.jpg"), half=0),
        seen(Path("a.jpg")),
        seen(Path("d.jpg"), phash="0" * 15 + "1"),
        seen(Path("e.jpg"), faces=2),
        add_photos.Seen(Path("f.jpg"), error=empty),
    ]
    for one in cases:
        add_photos.keep(tmp_path, one, tally, take=frozenset({"sure"}))
    assert [p.slug for p in tally.added] == ["a", "d"]
    assert [(s.path.name, s.note) for s in tally.look] == [
        ("b.jpg", "One may hide."),
        ("e.jpg", "May show 2 faces; is everybody asked?"),
    ]
    assert (len(tally.none), tally.twins[0][1], tally.near, len(tally.errors)) == (1, "a", [("d", "a")], 1)
    assert all(prompt.lacks(p) == ("credit", "license", "people") for p in tally.added)


def test_the_end_of_a_batch_in_one_line() -> None:
    from curator.commands.add_output import _sum

    tally = add_photos.Tally(
        added=[prompt_of(3, "a")], look=[seen(Path("b.jpg"))] * 2, twins=[(seen(Path("c.jpg")), "a")]
    )
    assert _sum(tally) == "1 added, 3 not, because 2 should be looked at and 1 was there already."
    tally.cut, tally.unseen = True, 3
    assert _sum(tally).endswith("Stopped: 3 photos were not looked at; what was added is kept.")


def test_add_on_a_photo_that_is_none_and_on_a_folder_without(tmp_path: Path) -> None:
    (tmp_path / "empty.jpg").write_bytes(b"")
    got = curator("add", tmp_path / "empty.jpg", "-c", tmp_path / "c")
    assert got.exit_code == 1
    assert "0 added, 1 not, because 1 could not be read." in got.output
    (tmp_path / "nothing").mkdir()
    assert isinstance(curator("add", tmp_path / "nothing", "-c", tmp_path / "c").exception, CuratorError)


def test_add_a_real_picture_without_a_double_on_purpose(tmp_path: Path) -> None:
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (600, 400), (240, 236, 225))
    for x in (100, 250, 500):
        ImageDraw.Draw(image).ellipse((x - 40, 160, x + 40, 240), fill=(120, 40, 30))
    image.save(tmp_path / "three-lids.jpg", exif=b"Exif\0\0secret")
    got = curator("add", tmp_path / "three-lids.jpg", "--no-double", "--things", "lids", "-c", tmp_path / "c")
    assert "1 added." in got.output
    (kept,) = folder.every(tmp_path / "c")
    assert (kept.slug, kept.fact, kept.kind, kept.people) == ("lids", None, "none", "unknown")
    assert b"secret" not in (tmp_path / "c" / kept.picture).read_bytes()
    again = curator("add", tmp_path / "three-lids.jpg", "--no-double", "-c", tmp_path / "c")
    assert "is lids" in again.output
    shutil.copy(tmp_path / "three-lids.jpg", tmp_path / "copy.jpg")
    assert "is lids" in curator("add", tmp_path / "copy.jpg", "-c", tmp_path / "c").output
    assert folder.check(tmp_path / "c") == []


def test_a_batch_goes_over_all_cores_and_names_what_it_could_not_read(tmp_path: Path) -> None:
    from PIL import Image, ImageDraw

    photos = tmp_path / "photos"
    photos.mkdir()
    for number in range(3):
        image = Image.new("RGB", (300, 200), (240, 236, 225))
        for place in range(3):
            x = 40 + 70 * place + 15 * number
            ImageDraw.Draw(image).ellipse((x, 80, x + 40, 120), fill=(120, 40 * number, 30))
        image.save(photos / f"lids-{number}.png")
    (photos / "cut.jpg").write_bytes(picture_bytes()[:90])
    got = curator("add", photos, "--no-double", "--credit", "Our school", "-c", tmp_path / "c")
    assert "3 added, 1 not, because 1 could not be read." in got.output
    assert "Before sharing they still need a licence and who is in it:" in got.output
    assert got.exit_code == 1
    assert [p.credit for p in folder.every(tmp_path / "c")] == ["Our school"] * 3
    assert "3 were there already" in curator("add", photos, "--no-double", "-c", tmp_path / "c").output.replace(
        "\n", " "
    )


def looked(fact: Fact | None = Fact(2), grade: str = "sure") -> Look:
    """A hand-made look at four things in a photo of 100 by 200."""
    centers = [(20.0, 40.0), (20.0, 80.0), (60.0, 40.0), (60.0, 80.0)]
    things = tuple(Thing(Box(int(r) - 5, int(c) - 5, int(r) + 5, int(c) + 5), (r, c)) for r, c in centers)
    aside = (Thing(Box(0, 0, 4, 4), (2.0, 2.0)),)
    halves = Halves("slide", (0, 1), (2, 3), np.array([[40.0, 0.0], [40.0, 200.0]]), 0.0)
    reading = Reading(ThingSet(things, (100, 200), "blobs", aside=aside), halves if fact else None, fact, grade, 0.9)  # type: ignore[arg-type]
    photo = Photo(Path("IMG_1.jpg"), "a" * 64, np.zeros((100, 200, 3), np.uint8), 1.0)
    return Look(photo, (reading,))


def test_a_prompt_of_a_reading_in_fractions_of_the_picture() -> None:
    made = prompt.make(looked(), things="eggs", place="kitchen", tags=("box", "box", " "))
    assert made.dots[0] == (0.2, 0.2, 1, 0.05, 0.1)
    assert (made.count(1), made.count(2), made.count(0)) == (2, 2, 1)
    assert made.line == ((0.0, 0.4), (1.0, 0.4))
    assert (made.slug, made.title, made.tags, made.people) == ("eggs-kitchen", "Eggs, kitchen", ("box",), "unknown")
    assert made.alt_before == "A photo of eggs (kitchen)."


def test_a_prompt_kept_to_ask_whether_it_is_a_double() -> None:
    for made in (prompt.make(looked(), no_double=True), prompt.make(looked(None, "no"))):
        assert isinstance(made, Prompt)
        assert (made.fact, made.kind, made.line, made.total, made.grade) == (None, "none", None, 4, "no")

"""Nothing of hers is overwritten, the usual four are kept, and pictures go to terminals only."""

from __future__ import annotations

import base64
import io
import re
import sys
from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of
from PIL import Image
from typer.testing import CliRunner

from curator.catalog.store import folder, reading_sheet
from curator.cli import app
from curator.commands import outputs, terminal_pictures
from curator.errors import CuratorError

RUN = CliRunner()


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CURATOR_SETTINGS", str(tmp_path / "mine"))
    for half, slug in ((3, "eggs"), (4, "tins")):
        made = prompt_of(half, slug, thing=slug[:-1], things=slug)
        folder.add(tmp_path / "catalog", made, picture_bytes(half, 300))
    return tmp_path


def test_a_plan_she_changed_is_not_written_over(here: Path) -> None:
    plan = ["lesson", "-o", "plan.yaml", "--facts", "3"]
    assert RUN.invoke(app, plan).exit_code == 0
    assert RUN.invoke(app, plan).exit_code == 0  # our own, as we left it
    (here / "plan.yaml").write_text("hers", encoding="utf-8")
    result = RUN.invoke(app, plan)
    assert isinstance(result.exception, CuratorError)
    assert result.exception.code == "exists"
    assert "--replace" in result.exception.try_this
    assert (here / "plan.yaml").read_text(encoding="utf-8") == "hers"
    again = RUN.invoke(app, [*plan, "--replace"])
    assert "The old plan.yaml is kept as plan-before.yaml." in again.output
    assert (here / "plan-before.yaml").read_text(encoding="utf-8") == "hers"
    assert (here / "plan.yaml").read_text(encoding="utf-8").startswith("# The plan")


@pytest.mark.parametrize(
    "words",
    [
        ["pack", "-o", "hers.zip"],
        ["gaps", "--chart", "hers.png"],
        ["lesson", "-o", "hers.zip"],
        ["pictures", "eggs", "-o", "."],
    ],
)
def test_no_command_writes_over_a_file_of_hers(here: Path, words: list[str]) -> None:
    for name in ("hers.zip", "hers.png", "plain.jpg", "plain.png"):
        (here / name).write_bytes(b"hers")
    result = RUN.invoke(app, words)
    assert isinstance(result.exception, CuratorError)
    assert result.exception.code == "exists"
    assert {(here / name).read_bytes() for name in ("hers.zip", "hers.png", "plain.jpg", "plain.png")} == {b"hers"}


def test_a_writing_that_fails_leaves_hers_and_no_copy(here: Path) -> None:
    (here / "a.txt").write_text("hers", encoding="utf-8")
    with pytest.raises(ZeroDivisionError), outputs.kept([here / "a.txt"], True):
        raise ZeroDivisionError
    assert sorted(path.name for path in here.glob("a*")) == ["a.txt"]


def test_the_usual_four_are_kept_and_taken(here: Path) -> None:
    said = ["settings", "--catalog", "kept here", "--language", "es", "--credit", "Room 4", "--license", "cc by 4.0"]
    assert RUN.invoke(app, said).exit_code == 0
    text = (here / "mine" / "settings.yaml").read_text(encoding="utf-8")
    assert re.findall(r"^(\w+):", text, re.M) == ["catalog", "language", "credit", "license"]
    assert "license   CC-BY-4.0" in RUN.invoke(app, ["settings"]).output
    (here / "kept here").mkdir()
    assert "The catalog is empty" in RUN.invoke(app, ["find"]).output
    assert "eggs" in RUN.invoke(app, ["find", "-c", "catalog"]).output  # what is said goes before
    assert "eggs" in RUN.invoke(app, ["find"], env={"CURATOR_CATALOG": "catalog"}).output  # so does the variable
    assert RUN.invoke(app, ["settings", "--catalog", ""]).exit_code == 0
    assert "eggs" in RUN.invoke(app, ["find"]).output


@pytest.mark.parametrize("text", ["colour: red", "- a", "a: [", "language: xx"])
def test_a_setting_that_cannot_be_is_named(here: Path, text: str) -> None:
    (here / "mine").mkdir()
    (here / "mine" / "settings.yaml").write_text(text, encoding="utf-8")
    result = RUN.invoke(app, ["lesson", "-o", "a.html"])
    assert isinstance(result.exception, CuratorError)
    assert result.exception.try_this


def test_pictures_in_a_terminal_and_never_in_a_pipe(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    image = Image.new("RGB", (60, 40), (200, 30, 30))
    inline = terminal_pictures.drawn(image, "inline")
    data = base64.standard_b64decode(inline.partition(":")[2].rstrip("\x07"))
    assert Image.open(io.BytesIO(data)).size == (60, 40)
    parts = terminal_pictures.drawn(Image.effect_noise((300, 300), 90).convert("RGB"), "kitty").split("\x1b\\")[:-1]
    assert parts[0].startswith("\x1b_Ga=T,f=100,m=1;")
    assert [re.search(r"m=(\d)", part)[1] for part in parts] == ["1"] * (len(parts) - 1) + ["0"]  # type: ignore[index]
    assert terminal_pictures.drawn(image, "sixel").startswith("\x1bP")
    monkeypatch.setenv("TERM_PROGRAM", "WezTerm")
    assert terminal_pictures.way() == ""
    assert "\x1b" not in RUN.invoke(app, ["show", "eggs"]).output
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True, raising=False)
    assert terminal_pictures.way() == "inline"


def test_the_sheet_shows_each_reading_by_its_number() -> None:
    readings = (prompt_of(6, "a", line=((0.0, 0.5), (1.0, 0.5))), prompt_of(0, "a"))
    rows = [reading_sheet.Row("a.jpg", picture_bytes(1, 300), readings)] * 2
    sheet = Image.open(io.BytesIO(reading_sheet.sheet(rows)))
    assert sheet.width == reading_sheet.GAP + 2 * (reading_sheet.TILE + reading_sheet.GAP)
    first = sheet.crop((0, 0, reading_sheet.TILE, sheet.height // 2)).convert("RGB")
    wanted = reading_sheet.ORANGE
    near = [c for _, c in first.getcolors(10**6) if sum(abs(c[i] - wanted[i]) for i in range(3)) < 40]
    assert near, "no square of the second half is drawn"
    words = [reading_sheet.reading_words(n, one) for n, one in enumerate(readings, 1)]
    assert words == ["1: 6+6=12 slide", "2: 3 things, no double"]


def test_a_reading_that_does_not_exist_is_an_error_in_words(here: Path) -> None:
    from PIL import ImageDraw

    image = Image.new("RGB", (300, 200), (240, 236, 225))
    for x in (60, 150):
        ImageDraw.Draw(image).ellipse((x, 80, x + 40, 120), fill=(120, 40, 30))
    image.save(here / "lids.png")
    result = RUN.invoke(app, ["add", "lids.png", "--reading", "99"])
    assert result.exit_code == 1
    plain = " ".join(result.output.split())
    assert "and no number 99." in plain
    assert "0 added, 1 not, because 1 has no reading of that number." in plain
    assert "Not read" not in plain  # it was
    assert "could not be read" not in plain
    assert "Traceback" not in result.output


def test_list_and_show(here: Path) -> None:
    assert re.findall(r"^(\S+) +slide +(\S+)", RUN.invoke(app, ["list"]).output, re.M) == [
        ("3+3=6", "eggs"),
        ("4+4=8", "tins"),
    ]
    shown = RUN.invoke(app, ["show", "eggs"]).output
    for words in (
        "shows       3+3=6",
        "sure (tagged without asking)",
        "still needs a credit, a licence and who is in it",
    ):
        assert words in shown
    assert all(len(line) < 80 for line in shown.splitlines() if "/" not in line)
    missing = RUN.invoke(app, ["show", "egg"]).exception
    assert isinstance(missing, CuratorError)
    assert missing.__notes__ == ["curator show eggs"]
    (here / "catalog" / "tins.yaml").write_text("spoiled", encoding="utf-8")
    assert "1 prompt cannot be read." in RUN.invoke(app, ["find", "eggs"]).output


def test_two_photos_of_one_name_are_told_apart() -> None:
    from curator.seeing.batch import names

    paths = [Path("a/x/1.jpg"), Path("b/x/1.jpg"), Path("2.jpg"), Path("c/1.jpg")]
    assert names(paths) == ["a/x/1.jpg", "b/x/1.jpg", "2.jpg", "c/1.jpg"]
    assert names([Path("a/1.jpg"), Path("2.jpg")]) == ["1.jpg", "2.jpg"]

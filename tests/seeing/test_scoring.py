"""`curator score`: why answers are not as labelled, in the figures, in words, and on the contact sheet."""

from __future__ import annotations

import csv
import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from typer.testing import CliRunner

from curator.cli import app
from curator.errors import PhotoError
from curator.records import Box, Look, Photo, Reading, Thing, ThingSet
from curator.seeing.evaluation import contact_sheet, miss_causes, scoring
from curator.seeing.finders import find_all
from curator.seeing.judging import readings
from curator.seeing.view import view_of
from tests.seeing.test_likeness import two_kinds

SIZE = (400, 600)


def things(places: list[tuple[float, float]], wide: float) -> ThingSet:
    """Squares of that width round row, col."""
    r = wide / 2
    return ThingSet(
        tuple(Thing(Box(round(y - r), round(x - r), round(y + r), round(x + r)), (y, x)) for y, x in places),
        SIZE,
        "drawn",
    )


def looked(*found: ThingSet) -> Look:
    photo = Photo(Path("drawn.png"), "0" * 64, np.zeros((*SIZE, 3), np.uint8), 1.0)
    return Look(photo, tuple(Reading(one, None, None, "no", 0.5) for one in found))


DICE = things([(100, 100), (100, 400)], 120)
PIPS = things([(r, c) for left in (100, 400) for r in (70, 100, 130) for c in (left - 30, left + 30)], 20)
CUPS = things([(300, 80 + 70 * k) for k in range(6)], 50)


@pytest.mark.parametrize(
    ("chosen", "right", "said"),
    [
        (DICE, PIPS, "wholes"),
        (PIPS, DICE, "parts"),
        (PIPS, CUPS, "others"),
        (things([(300, 80 + 70 * k) for k in range(4)], 50), CUPS, ""),
        (things([(300, 80 + 70 * k) for k in range(3)], 50), things([(300, 80 + 70 * k) for k in range(7)], 20), ""),
    ],
)
def test_what_was_counted_instead(chosen: ThingSet, right: ThingSet, said: str) -> None:
    assert miss_causes.instead(looked(chosen, right), len(right)) == said
    assert miss_causes.instead(looked(chosen), len(right)) == ""  # no reading with the right number to compare with
    assert miss_causes.instead(looked(chosen, right), None) == ""


@pytest.mark.parametrize(
    ("got", "also", "instead", "total", "half", "said"),
    [
        (7, [8], "", 8, 4, "one_less"),
        (9, [8], "", 8, 4, "one_more"),
        (5, [8], "", 8, 4, "less"),
        (12, [8], "", 8, 4, "more"),
        (12, [6], "", 8, 4, "absent"),
        (2, [12], "wholes", 12, 6, "wholes"),
        (12, [2], "parts", 2, 1, "parts"),
        (7, [8], "others", 8, 4, "others"),
        (None, [8], "", 8, 4, "less"),
        (8, [], "", 8, 4, "halves"),
        (8, [], "", 8, None, "claimed"),
        (8, [], "", None, None, "claimed"),
        (8, [], "", None, 2, "halves"),
    ],
)
def test_each_miss_has_one_cause(
    got: int | None, also: list[int], instead: str, total: int | None, half: int | None, said: str
) -> None:
    answer = {"total": got, "readings": [{"total": n} for n in (got, *also)], "instead": instead}
    assert miss_causes.cause(answer, total, half) == said
    assert said in miss_causes.CAUSES


def test_an_unread_photo_is_a_cause_of_its_own() -> None:
    assert miss_causes.cause({"error": {}}, 8, 4) == miss_causes.cause({}, 8, 4) == "unread"


@cache
def labels() -> dict[str, tuple[str, str, str]]:
    """All are the same picture, six discs and four squares: what the labels say differs."""
    listed = readings.readings(two_kinds(), find_all(view_of(two_kinds())))
    more = max(len(one.things) for one in listed)  # more than one more than the one that is named
    return {
        "right.png": ("6", "3", ""),
        "squares.png": ("4", "2", "others"),
        "both.png": (str(more), str(more // 2), "less"),
        "none.png": ("6", "", "claimed"),
        "many.png": ("24", "12", "absent"),
        "damaged.png": ("6", "3", "unread"),
    }


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("labelled")
    for name in labels():
        Image.fromarray(two_kinds()).save(made / name)
    (made / "damaged.png").write_bytes(b"no picture")
    with (made / "labels.csv").open("w", newline="") as out:
        csv.writer(out).writerows(
            [
                ("file", "total", "half", "kind"),
                *((name, total, half, "flip" if half else "none") for name, (total, half, _) in labels().items()),
            ]
        )
    return made


def bands(picture: np.ndarray) -> int:
    """Headings on a sheet: stretches of rows whose first and last pixel have the band's colour."""
    band = (picture[:, [0, -1]] == contact_sheet.BAND).all((1, 2)).astype(int)
    return int((np.diff(band, prepend=0) == 1).sum())


def test_the_figures_and_the_sheet_are_sorted_by_cause(folder: Path, tmp_path: Path) -> None:
    output = tmp_path / "sheet.png"
    ran = CliRunner().invoke(app, ["score", str(folder), "--json", "--contact-sheet", str(output)])
    assert ran.exit_code == 0, ran.output
    found: dict[str, Any] = json.loads(ran.output)
    expected = {name: said for name, (_, _, said) in labels().items() if said}
    assert {r["file"]: r["cause"] for r in found["misses"]} == expected
    order = [list(miss_causes.CAUSES).index(r["cause"]) for r in found["misses"]]
    assert order == sorted(order)
    assert {name: count["photos"] for name, count in found["causes"].items()} == {
        name: list(expected.values()).count(name) for name in miss_causes.CAUSES
    }
    assert found["causes"]["claimed"]["claimed"] == 1
    drawn = np.asarray(Image.open(output).convert("RGB"))
    assert drawn.shape[1] == contact_sheet.ACROSS * (contact_sheet.TILE + contact_sheet.GAP)
    assert bands(drawn) == len(expected)
    assert (drawn == (0, 84, 166)).all(2).sum() > 100  # dots of the first half
    assert sum(count["sure"] for count in found["causes"].values()) == sum(r["sure"] for r in found["misses"])


def test_the_words_name_every_cause_and_fit_the_terminal(folder: Path) -> None:
    ran = CliRunner().invoke(app, ["score", str(folder)])
    lines = ran.output.splitlines()
    assert max(map(len, lines)) <= 80
    for name in labels().values():
        if name[2]:
            assert miss_causes.CAUSES[name[2]] in lines  # as a heading
            assert any(
                line.startswith(miss_causes.CAUSES[name[2]]) and line.split()[-3:][0] == "1" for line in lines
            )  # and with its count
    assert not any(miss_causes.CAUSES["parts"] in line for line in lines)


def test_more_than_a_row_of_tiles_and_a_jpeg(folder: Path, tmp_path: Path) -> None:
    tile = contact_sheet.Tile(
        folder / "right.png", None, ("right.png", "labelled with words that are a good deal longer than a tile is wide")
    )
    heights = []
    for count in (contact_sheet.ACROSS, contact_sheet.ACROSS + 1):
        contact_sheet.save({"One": [tile] * count, "None of these": []}, tmp_path / "sheet.jpg")
        with Image.open(tmp_path / "sheet.jpg") as picture:
            heights.append(picture.height)
            assert not picture.getexif()
    assert heights[0] < heights[1] < 2 * heights[0]
    contact_sheet.save({}, tmp_path / "none.png")
    assert Image.open(tmp_path / "none.png").height < 60


def test_a_sheet_that_cannot_be_written_is_told_before_the_photos_are_looked_at(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(PhotoError) as told:
        scoring.score(folder, contact_sheet=tmp_path / "missing" / "sheet.png")
    assert "There is no folder" in told.value.wrong
    (tmp_path / "taken.png").mkdir()
    with pytest.raises(PhotoError):
        contact_sheet.save({}, tmp_path / "taken.png")

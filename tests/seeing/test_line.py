"""The line from photo to answer: the JSON contract, areas, a teacher's dots, the scoreboard."""

import json
import sys
from pathlib import Path

import cv2
import drawn
import numpy as np
import pytest
from typer.testing import CliRunner

from curator import limited
from curator.catalog.prompt import make
from curator.cli import app
from curator.errors import CuratorError
from curator.records import Area, Look, Photo
from curator.seeing import batch, look, photo
from curator.seeing.evaluation import scoring
from curator.seeing.view import view_of

HERE = Path(__file__).parents[2]
SAMPLES = HERE / "sample_images"
KEYS = {
    "photo",
    "grade",
    "fact",
    "half",
    "total",
    "confidence",
    "kind",
    "found_by",
    "line",
    "dots",
    "readings",
    "reasons",
    "ms",
}


@pytest.fixture
def rows_of_five(tmp_path: Path) -> Path:
    picture = np.full((400, 640, 3), 225, np.uint8)
    for row in (140, 260):
        for column in range(5):
            cv2.circle(picture, (120 + 100 * column, row), 34, (40, 60, 160), -1, cv2.LINE_AA)
    path = tmp_path / "plates.png"
    cv2.imwrite(str(path), picture)
    return path


def looked(pixels: drawn.Pixels) -> Look:
    """A drawn picture, looked at."""
    return look.look_at(Photo(Path("drawn.png"), "0" * 64, pixels, 1.0))


def test_json_has_the_contracts_keys(rows_of_five: Path) -> None:
    answer = look.as_json(look.look(rows_of_five))
    assert set(answer) == KEYS
    assert (answer["fact"], answer["half"], answer["total"]) == ("5+5=10", 5, 10)
    assert sorted(dot["side"] for dot in answer["dots"]) == [1] * 5 + [2] * 5
    assert all(set(reading) == KEYS - {"photo", "readings", "ms"} for reading in answer["readings"])
    json.dumps(answer)


def test_that_nothing_repeats_takes_no_place_among_the_readings() -> None:
    """It is the answer; who does not agree is offered as many counts to choose from as anyone."""
    seen = look.look(SAMPLES / "bare-planks.jpg")
    answer = look.as_json(seen)
    assert (answer["grade"], answer["total"], answer["dots"]) == ("no", None, [])
    assert answer["reasons"] == ["Nothing repeats here, as far as was seen."]
    assert len(answer["readings"]) == len(seen.readings) - 1 >= 3
    assert all(reading["total"] == len(reading["dots"]) >= 1 for reading in answer["readings"])
    assert make(seen).dots == ()
    assert [len(make(seen, reading=k).dots) for k in range(3)] == [one["total"] for one in answer["readings"][:3]]
    flat = look.as_json(looked(np.full((120, 160, 3), 200, np.uint8)))
    assert (flat["grade"], flat["total"], flat["readings"]) == ("no", None, [])


def test_flipping_or_turning_keeps_the_fact(rows_of_five: Path, tmp_path: Path) -> None:
    pixels = cv2.imread(str(rows_of_five))
    for name, changed in (("flip", pixels[:, ::-1]), ("upside", pixels[::-1]), ("turn", np.rot90(pixels))):
        path = tmp_path / f"{name}.png"
        cv2.imwrite(str(path), np.ascontiguousarray(changed))
        assert str(look.look(path).best.fact) == "5+5=10"


def test_area_looks_only_inside(rows_of_five: Path) -> None:
    seen = look.look(rows_of_five, Area(0.08, 0.1, 0.43, 0.9))
    assert seen.best.total == 4
    assert all(t.center[1] < 0.45 * 640 for t in seen.best.things.things)


def test_a_teachers_dots_are_believed(rows_of_five: Path) -> None:
    seen = photo.load(rows_of_five)
    best = look.look_again(seen, [(0.2, 0.3), (0.4, 0.3), (0.2, 0.7), (0.4, 0.7)])[0]
    assert (str(best.fact), best.grade, best.things.found_by) == ("2+2=4", "sure", "person")
    assert look.look_again(seen, [(0.2, 0.3), (0.4, 0.3), (0.6, 0.3)])[0].grade == "no"
    assert look.look_again(seen, [])[0].total is None


def test_one_bad_file_does_not_stop_the_rest(rows_of_five: Path, tmp_path: Path) -> None:
    bad = tmp_path / "bad.jpg"
    bad.write_bytes(b"not a picture")
    result = CliRunner().invoke(app, ["tag", "--json", str(bad), str(rows_of_five)])
    answers = {a["photo"]: a for a in map(json.loads, result.output.splitlines())}
    assert result.exit_code == 1
    assert set(answers["bad.jpg"]["error"]) == {"doing", "wrong", "try_this"}
    assert answers["plates.png"]["fact"] == "5+5=10"


def test_draw_writes_the_photo_with_its_dots(rows_of_five: Path, tmp_path: Path) -> None:
    list(batch.tag_all([rows_of_five], None, tmp_path / "drawn", progress=False))
    drawn = cv2.imread(str(tmp_path / "drawn" / "plates-dots.jpg"))
    assert drawn is not None
    assert drawn.shape[0] > 400


def test_draw_never_writes_over_a_photo(rows_of_five: Path) -> None:
    here = rows_of_five.parent
    other = here / "more" / "plates.png"
    other.parent.mkdir()
    named_so = here / "plates-dots.jpg"
    for copy in (other, named_so):
        copy.write_bytes(rows_of_five.read_bytes())
    photos = [rows_of_five, other, named_so]
    before = [path.read_bytes() for path in photos]
    answers = list(batch.tag_all(photos, None, here, progress=False))
    assert [a["fact"] for a in answers] == ["5+5=10"] * 3
    assert [path.read_bytes() for path in photos] == before
    assert sorted(path.name for path in here.glob("*-dots*")) == [
        "plates-dots-2.jpg",
        "plates-dots-3.jpg",
        "plates-dots-dots.jpg",
        "plates-dots.jpg",
    ]


def test_one_photo_that_cannot_be_worked_on_does_not_end_the_others(
    rows_of_five: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(*_: object) -> None:
        raise cv2.error("bad pixels")

    monkeypatch.setattr("curator.seeing.look.look", failing)
    monkeypatch.setattr(limited, "ON", False)  # the photo is looked at in this process, where the line fails
    (answer,) = batch.tag_all([rows_of_five], None, None, progress=False)
    assert answer["error"]["wrong"] == "Its pixels could not be worked on."


def test_a_small_part_of_a_large_photo_is_looked_at_as_the_file_has_it(tmp_path: Path) -> None:
    """The frame shows the stripes that the copy the finders usually see has lost."""
    large = np.full((3000, 4000, 3), 200, np.uint8)
    for row in (1200, 1201):
        large[row:1500:4, 1600:2000] = 40
    path = tmp_path / "far.png"
    cv2.imwrite(str(path), large)
    seen, area = photo.load(path), Area(0.4, 0.4, 0.5, 0.5)
    pixels, box = look.framed(seen, area)
    assert (box.height, box.width) == (75, 100)
    assert pixels.shape == (300, 400, 3)
    assert pixels.std() > 60
    path.unlink()  # then the copy has to do
    pixels, _ = look.framed(seen, area)
    assert pixels.shape == (75, 100, 3)
    assert pixels.std() < 20


@pytest.mark.parametrize("text", ["1,2,3", "a,b,c,d", "0.5,0,0.4,1", "0,0,1,2"])
def test_areas_that_make_no_sense(text: str) -> None:
    from curator.commands.tag import parse_area

    with pytest.raises(CuratorError):
        parse_area(text, 1)


def test_samples_are_never_wrong_while_sure() -> None:
    figures = scoring.score(SAMPLES)["all"]["all"]
    assert figures["photos"] >= 36
    assert figures["wrong_sure"] == 0
    assert figures["fact"] >= 0.5


def test_what_is_sure_is_not_said_to_be_off() -> None:
    """The count of many things is a little less certain than it could be; where it is tagged all the same, so be it."""
    best = [look.look(SAMPLES / f"{name}.jpg").readings[0] for name in ("buns-two-dozen", "buttons-sixteen")]
    best.append(looked(drawn.discs(2, 5)).readings[0])
    sure = [one for one in best if one.grade == "sure"]
    assert sure
    assert not any("off" in reason.note for one in sure for reason in one.reasons)


def test_where_no_double_is_named_no_halves_are_shown() -> None:
    """Of several pictures, so that it leans on no one reading: an even number that is named no double is among them."""
    looks = [
        *(look.look(SAMPLES / f"{name}.jpg") for name in ("nine-eggs", "thirteen-crayons")),
        looked(drawn.insect(True)),
    ]
    without = [r for one in looks for r in look.as_json(one)["readings"] if r["fact"] is None]
    assert any(r["total"] and r["total"] % 2 == 0 for r in without)
    assert all((r["kind"], r["line"]) == (None, None) and {d["side"] for d in r["dots"]} <= {0} for r in without)


def test_coins_by_rows() -> None:
    """skimage.data.coins(): 24 coins in four rows of six (scikit-image wheel, no known copyright restrictions)."""
    from skimage import data

    pixels = cv2.cvtColor(data.coins(), cv2.COLOR_GRAY2RGB)
    from curator.seeing.finders import find_all
    from curator.seeing.judging import readings

    small = cv2.resize(
        pixels, None, fx=512 / max(pixels.shape[:2]), fy=512 / max(pixels.shape[:2]), interpolation=cv2.INTER_CUBIC
    )
    readings = readings.readings(small, find_all(view_of(small)))
    assert any(r.fact is not None and r.fact.half == 12 for r in readings)


@pytest.mark.parametrize("name", ["coffee", "rocket", "brick", "grass", "gravel"])
def test_pictures_without_a_double_are_never_sure(name: str, tmp_path: Path) -> None:
    """Pictures of the scikit-image wheel in which nothing makes equal halves."""
    from PIL import Image
    from skimage import data

    Image.fromarray(getattr(data, name)()).save(tmp_path / f"{name}.png")
    assert look.look(tmp_path / f"{name}.png").best.grade != "sure"


def test_of_a_cat_nothing_but_its_two_eyes_is_sure(tmp_path: Path) -> None:
    """scikit-image's cat; its eyes by eye, (row, column). Two eyes are one and one (common practice)."""
    from PIL import Image
    from skimage import data

    Image.fromarray(data.chelsea()).save(tmp_path / "cat.png")
    best = look.look(tmp_path / "cat.png").best
    eyes = np.array([(115, 172), (134, 317)])
    there = np.linalg.norm(best.things.centers[:, None] - eyes[None], axis=2).min(1) < 20
    assert best.grade != "sure" or (len(best.things) == 2 and there.all())


def test_score_counts_and_bound(tmp_path: Path, rows_of_five: Path) -> None:
    (tmp_path / "labels.csv").write_text("file,total,half,kind\nplates.png,10,5,slide\n")
    figures = scoring.score(tmp_path)
    assert figures["all"]["all"]["total"] == 1.0
    assert figures["all"]["all"]["taps"] == 0
    assert scoring.upper_bound(0, 149) == pytest.approx(0.02, abs=5e-4)  # Clopper-Pearson, 95 %, no error in 149


def test_help_is_light() -> None:
    """`curator --help` must not pull in the image libraries."""
    import subprocess

    code = (
        "import curator.cli, sys; print([m for m in ('cv2', 'scipy', 'skimage', 'PIL', 'pptx', "
        "'starlette') if m in sys.modules])"
    )
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, cwd=HERE, check=True
        ).stdout.strip()
        == "[]"
    )

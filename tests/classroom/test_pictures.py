"""Pictures of a prompt: nothing of a covered thing shows, nothing of another is hidden, and every line holds on any
ground.
"""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Iterator
from dataclasses import replace
from functools import cache, lru_cache
from hashlib import sha256
from pathlib import Path
from xml.etree import ElementTree

import cv2
import drawn_catalog as drawn
import numpy as np
import pytest
from numpy.typing import NDArray
from typer.testing import CliRunner

from curator.catalog.store import folder as catalogs
from curator.classroom import frames, pictures
from curator.classroom import lesson as lessons
from curator.classroom.marking import card_colors, covers, fingers, kept, overlays, rings
from curator.classroom.marking.outlines import boxed, outlines
from curator.classroom.plan import Plan, Step
from curator.classroom.text.questions import tells
from curator.cli import app
from curator.errors import LessonError
from curator.records import Area, Dot, Fact, Prompt
from curator.seeing.photo import load_large

ROOT = Path(__file__).parents[2]
CATALOG, SAMPLES, MASKS = ROOT / "catalog", ROOT / "sample_images", ROOT / "tests" / "things"
STEP = 10  # grey levels between the things of a mask
CRUMB = 0.02  # of a thing: a mask's own edge is only so exact at this size
Pixels = NDArray[np.uint8]
PROMPTS = list(catalogs.every(CATALOG))
DOUBLES = [p for p in PROMPTS if p.fact]
GROWN = {"fingers"}  # they grow into one palm: no outline ends them, only their joints do


@lru_cache(maxsize=1)
def samples() -> dict[str, str]:
    return {sha256(path.read_bytes()).hexdigest(): path.stem for path in SAMPLES.glob("*.jpg")}


@cache  # each is asked about by several tests
def seen(slug: str) -> tuple[Pixels, NDArray[np.uint8]]:
    """A prompt's photo and the outlines found in it."""
    prompt = next(p for p in PROMPTS if p.slug == slug)
    path = catalogs.picture_path(CATALOG, prompt)
    photo = load_large(path)
    return photo, kept.outlines_of(CATALOG, prompt, path.read_bytes(), photo)  # other tests ask for them too


@lru_cache(maxsize=4)
def truth(slug: str) -> list[NDArray[np.bool_]]:
    """The rendered mask of the thing of each dot: the one most of whose pixels lie about the dot."""
    prompt = next(p for p in PROMPTS if p.slug == slug)
    mask = cv2.imread(str(MASKS / f"{samples()[prompt.source_sha256]}.png"), cv2.IMREAD_GRAYSCALE) // STEP
    height, width = mask.shape
    found = []
    for dot in prompt.dots:
        row, column = round(dot.y * height), round(dot.x * width)
        part = mask[max(0, row - 8) : row + 9, max(0, column - 8) : column + 9]
        found.append(mask == (mask[row, column] or np.bincount(part[part > 0]).argmax()))
    return found


def shown_and_hidden(prompt: Prompt, sheet: NDArray[np.bool_]) -> tuple[float, float, int]:
    """The largest share of a covered thing that shows, and of another that is hidden; and how many are covered."""
    parts = truth(prompt.slug)
    under = [float((mask & sheet).sum() / mask.sum()) for mask in parts]
    covered = [share for share in under if share > 0.5]
    return 1 - min(covered), max(share for share in under if share <= 0.5), len(covered)


# ---- covers


def laid(prompt: Prompt) -> Iterator[tuple[str, float, int, int]]:
    """Each cover of the prompt that says it is clean: its name, the worst share of a thing that is wrong, how many it
    covers and should.
    """
    assert prompt.fact is not None
    photo, own = seen(prompt.slug)
    half = prompt.fact.half
    for side in (1, 2):
        card = overlays.half_cover(photo, prompt, own, side)
        shown, hidden, count = shown_and_hidden(prompt, card.mask)
        if card.clean:
            yield f"{prompt.slug} side {side}", max(shown, hidden), count, half
    if half >= 2:
        card = overlays.some_cover(photo, prompt, own, half - 1)
        shown, hidden, count = shown_and_hidden(prompt, card.mask)
        if card.clean:
            yield f"{prompt.slug} some", max(shown, hidden), count, half - 1


@pytest.mark.parametrize("slug", sorted(GROWN))
def test_things_that_grow_into_one_body_are_covered_by_their_joints_alone(
    slug: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    prompt = next(p for p in DOUBLES if p.slug == slug)
    one, other, some = laid(prompt)
    assert max(one[1], other[1]) <= CRUMB
    assert [count for _, _, count, _ in (one, other, some)] == [5, 5, 4]  # the thumb's own mask reaches into the palm
    photo = seen(slug)[0]
    monkeypatch.setattr(fingers, "outlined", lambda *_: None)  # as where no hand is seen
    without = outlines(photo, prompt)
    for side in (1, 2):
        card = overlays.half_cover(photo, prompt, without, side)
        wrong = max(shown_and_hidden(prompt, card.mask)[:2])
        assert not card.clean or wrong > CRUMB, "the joints are not needed any more"


def test_a_cover_hides_its_things_and_nothing_else() -> None:
    """Against the masks of the rendered samples: all cover as many as they should, nine in ten to a crumb, and where
    things are seen at a slant or touch, a tenth of one at most is wrong.
    """
    these = [prompt for prompt in DOUBLES if prompt.slug not in GROWN]
    every = [cover for prompt in these for cover in laid(prompt)]
    assert len(every) >= sum(3 if p.fact and p.fact.half > 1 else 2 for p in these) - 2, "hardly any may be left out"
    assert [name for name, _, count, wanted in every if count != wanted] == []
    assert [(name, wrong) for name, wrong, _, _ in every if wrong > 0.1] == []
    assert np.mean([wrong <= CRUMB for _, wrong, _, _ in every]) >= 0.9


@pytest.mark.parametrize("slug", [p.slug for p in DOUBLES])
def test_what_shows_and_what_is_covered_make_the_total(slug: str) -> None:
    prompt = next(p for p in DOUBLES if p.slug == slug)
    there = pictures.ready(seen(slug)[0], prompt, seen(slug)[1])
    height, width = there.photo.shape[:2]
    for side in (1, 2):
        card = overlays.half_cover(*there, side)
        out = covers.lay(there.photo, card)
        for dot in there.prompt.dots:
            row, column = min(height - 1, int(dot.y * height)), min(width - 1, int(dot.x * width))
            covered = tuple(out[row, column]) == card.color
            assert covered == (dot.side == side)
            assert covered or (out[row, column] == there.photo[row, column]).all()


def test_a_thing_with_no_size_is_covered_too() -> None:
    photo = np.full((300, 400, 3), 230, np.uint8)
    dots = []
    for n, x in enumerate((80, 160, 240, 320)):
        cv2.circle(photo, (x, 150), 24, (160, 40, 40), -1)
        dots.append(Dot(x / 400, 0.5, 1 + n // 2))
    prompt = Prompt("row", "Row", Fact(2), "slide", "row.jpg", tuple(dots))
    sheet = covers.cover(photo, prompt, outlines(photo, prompt), [0, 1]).mask
    red = photo[..., 1] < 100
    assert sheet[:, :200][red[:, :200]].all()
    assert not sheet[:, 200:][red[:, 200:]].any()


def test_covers_refuse_what_cannot_be_covered() -> None:
    photo, own = seen("boots")
    boots, none = next(p for p in PROMPTS if p.slug == "boots"), next(p for p in PROMPTS if not p.fact)
    for k in (0, 2, 9):
        with pytest.raises(ValueError, match="k: expected"):
            overlays.some_cover(photo, boots, own, k)
    with pytest.raises(ValueError, match="side: expected"):
        overlays.half_cover(photo, none, own, 1)
    with pytest.raises(ValueError, match="not half"):
        pictures.every(CATALOG, boots, k=1)


# ---- contrast (WCAG 2.2, success criteria 1.4.11 and 1.4.3; relative luminance as defined there)


def luminance(pixels: NDArray[np.uint8]) -> NDArray[np.float64]:
    value = pixels.astype(float) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one: tuple[int, int, int], other: tuple[int, int, int]) -> float:
    high, low = sorted((float(luminance(np.array(c, np.uint8))) for c in (one, other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def grounds() -> dict[str, Pixels]:
    """Light, dark, middling and busy grounds, and one of every hue."""
    chance = np.random.default_rng(4)
    size = (360, 480)
    busy = cv2.resize(
        chance.integers(0, 256, (45, 60, 3)).astype(np.uint8), size[::-1], interpolation=cv2.INTER_NEAREST
    )
    hues = np.zeros((*size, 3), np.uint8)
    hues[..., 0], hues[..., 1], hues[..., 2] = np.linspace(0, 179, 480), 200, np.linspace(40, 255, 360)[:, None]
    plain = {f"grey {g}": np.full((*size, 3), g, np.uint8) for g in (0, 40, 90, 105, 118, 140, 190, 255)}
    own = {"blue": np.full((*size, 3), rings.BLUE, np.uint8), "orange": np.full((*size, 3), rings.ORANGE, np.uint8)}
    return (
        plain
        | own
        | {"busy": busy, "hues": cv2.cvtColor(hues, cv2.COLOR_HSV2RGB), "photo": seen("eggs-2")[0][:360, :480].copy()}
    )


TWO = Prompt("two", "Two", Fact(1), "slide", "two.jpg", (Dot(0.28, 0.5, 1, 0.15, 0.2), Dot(0.72, 0.5, 2, 0.15, 0.2)))


def test_every_colour_holds_against_its_neighbours() -> None:
    for color in (*rings.COLORS.values(), card_colors.DARK_CARD, card_colors.DARK):
        assert contrast(color, card_colors.LIGHT) >= 3
    assert contrast(card_colors.LIGHT_CARD, card_colors.DARK) >= 3
    assert contrast(frames.COUNTER, frames.GROUND) >= 3
    assert contrast(frames.INK, frames.GROUND) >= 4.5
    assert contrast(frames.INK, (255, 255, 255)) >= 4.5


@pytest.mark.parametrize("name", grounds())
@pytest.mark.parametrize("kind", ["rings", "cover", "dots"])
def test_a_line_stands_out_three_to_one_on_any_ground(name: str, kind: str) -> None:
    """Measured in the drawn picture: wherever ground meets overlay, one of the two edges there is 3:1 against it."""
    ground = grounds()[name]
    own = boxed(TWO, (360, 480))
    out = {
        "rings": lambda: overlays.ringed(ground, TWO, own),
        "cover": lambda: covers.lay(ground, overlays.half_cover(ground, TWO, own, 1)),
        "dots": lambda: overlays.dotted(ground, TWO),
    }[kind]()
    drawn_on = cv2.dilate((out != ground).any(axis=2).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    rim = drawn_on & (cv2.erode(drawn_on.astype(np.uint8), np.ones((3, 3), np.uint8)) == 0)
    bright = luminance(out)
    near = np.ones((11, 11), np.uint8)  # as far as both edges of a line reach at this size
    over = np.where(drawn_on, bright, np.nan)
    high = cv2.dilate(np.nan_to_num(over, nan=0.0), near)
    low = cv2.erode(np.nan_to_num(over, nan=1.0), near)
    beside = luminance(ground)[rim]
    best = np.maximum((high[rim] + 0.05) / (beside + 0.05), (beside + 0.05) / (low[rim] + 0.05))
    assert rim.sum() > 100
    assert best.min() >= 3


@pytest.mark.parametrize("size", [(150, 200), (240, 320), (750, 1000), (1440, 1920), (1920, 1440), (3000, 4000)])
def test_a_line_is_as_wide_on_a_screen_whatever_the_size_of_its_photo(size: tuple[int, int]) -> None:
    """Of a screen four wide and three high: 1.5 %, and on a tiny photo no more than its edges need."""
    ground = np.full((*size, 3), 128, np.uint8)
    screen = max(size[1], 4 / 3 * size[0])
    lines = (overlays.ringed(ground, TWO, boxed(TWO, size)) != ground).any(axis=2)
    lines[:, size[1] // 2 :] = False  # the first thing's alone
    thick = 2 * float(cv2.distanceTransform(lines.astype(np.uint8), cv2.DIST_L2, 5).max())
    assert 0.01 * screen < thick < max(0.02 * screen, 13), thick / screen
    marks = (overlays.dotted(ground, TWO) != ground).any(axis=2).mean()
    assert marks < 0.02


@pytest.mark.parametrize("grey", range(0, 256, 15))
def test_a_card_stands_out_three_to_one_whatever_the_ground(grey: int) -> None:
    """The card itself, not its line alone: dark on light, light on dark (WCAG 2.2, 1.4.11)."""
    ground = np.full((360, 480, 3), grey, np.uint8)
    card = overlays.half_cover(ground, TWO, boxed(TWO, (360, 480)), 1)
    assert contrast(card.color, (grey, grey, grey)) >= 3
    assert contrast(card.color, card.edge) >= 3
    assert card.straight
    assert len(card.pieces) == 1
    assert len(card.pieces[0]) == 4


def test_a_ten_frame_is_covered_by_whole_cells() -> None:
    for half, k in ((3, 2), (7, 6), (12, 11)):
        canvas, prompt = frames.frame(Fact(half), 960)
        cells = frames.cells(Fact(half), (canvas.shape[0], canvas.shape[1]))
        for card in (
            overlays.half_cover(canvas, prompt, cells, 1, drawn=True),
            overlays.some_cover(canvas, prompt, cells, k, drawn=True),
        ):
            for i in range(len(prompt.dots)):
                share = (card.mask & (cells == 1 + i)).sum() / (cells == 1 + i).sum()
                assert share > 0.95 if i in card.members else share < 0.05


def test_halves_differ_without_colour() -> None:
    """In grey, one ring is whole and the other has gaps."""
    ground = np.full((360, 480, 3), 120, np.uint8)
    out = cv2.cvtColor(overlays.ringed(ground, TWO, boxed(TWO, (360, 480))), cv2.COLOR_RGB2GRAY)
    count = [cv2.connectedComponents((part != 120).astype(np.uint8))[0] - 1 for part in (out[:, :240], out[:, 240:])]
    assert count[0] == 1
    assert count[1] >= 4


# ---- crop, size, names


@pytest.mark.parametrize("slug", [p.slug for p in PROMPTS])
def test_a_crop_cuts_no_thing(slug: str) -> None:
    prompt = next(p for p in PROMPTS if p.slug == slug)
    photo, own = seen(slug)
    there = pictures.ready(photo, prompt, own)
    kept = there.photo.shape[0] * there.photo.shape[1] / (photo.shape[0] * photo.shape[1])
    assert 0.05 < kept <= 1
    part = photo if kept == 1 else there.photo
    match = cv2.matchTemplate(photo, part, cv2.TM_SQDIFF)
    left, top = cv2.minMaxLoc(match)[2]
    for mask in truth(slug):
        inside = mask[top : top + part.shape[0], left : left + part.shape[1]]
        assert inside.sum() == mask.sum()


def test_a_class_sees_no_more_than_what_was_looked_at() -> None:
    """Four of the eggs were pointed out with a frame: the picture that asks how many there are shows those alone."""
    photo, own = seen("eggs")
    prompt = next(p for p in PROMPTS if p.slug == "eggs")
    middle = sorted(prompt.dots, key=lambda d: abs(d.x - np.mean([e.x for e in prompt.dots])))[:4]
    left, right = min(d.x - d.w / 2 for d in middle), max(d.x + d.w / 2 for d in middle)
    four = replace(
        prompt,
        fact=Fact(2),
        dots=tuple(d for d in prompt.dots if d in middle),
        area=Area(left, 0.0, right, 1.0),
    )
    there = pictures.ready(photo, four, own)
    assert there.photo.shape[1] <= (right - left) * photo.shape[1] + 4  # outlines have half the pixels
    assert there.prompt.area is None
    assert all(d.x - d.w / 2 > -0.01 and d.x + d.w / 2 <= 1.01 for d in there.prompt.dots)
    without = pictures.ready(photo, replace(four, area=None), own)
    assert without.photo.shape[1] > there.photo.shape[1]
    outside = replace(four, area=Area(left, 0.0, (left + right) / 2, 1.0))  # two dots were put down beside the frame
    assert pictures.ready(photo, outside, own).photo.shape == there.photo.shape


def test_a_large_photo_gives_a_full_screen_and_a_small_one_is_not_enlarged() -> None:
    photo, own = seen("eggs-2")
    prompt = next(p for p in PROMPTS if p.slug == "eggs-2")
    large = cv2.resize(photo, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC)
    assert pictures.ready(large, prompt, own).photo.shape[1] == pictures.WIDE
    assert pictures.ready(photo, prompt, own).photo.shape[1] <= photo.shape[1]


# ---- the drawn twin and the bond


@pytest.mark.parametrize(("one", "other"), [(4, 4), (6, 6), (9, 10), (12, 12), (11, 12)])
def test_the_counters_beside_a_picture_are_large(one: int, other: int) -> None:
    """Frames lie one over the other: each cell is more than a seventh of the drawing's width, or a twelfth past ten."""
    drawn_one = frames.counters(one, other, 2)
    red = cv2.inRange(drawn_one, np.array(frames.COUNTER), np.array(frames.COUNTER))
    count, _, boxes, _ = cv2.connectedComponentsWithStats(red)
    assert count - 1 == one + other
    share = float(np.median(boxes[1:, cv2.CC_STAT_WIDTH])) / frames.COUNTER_SIZE / drawn_one.shape[1]
    assert share > (1 / 7 if max(one, other) <= 10 else 1 / 12.5)


@pytest.mark.parametrize("half", range(1, 13))
def test_the_twin_has_as_many_counters_as_the_fact(half: int) -> None:
    text, width, height = frames.svg(Fact(half), total_shown=False)
    root = ElementTree.fromstring(text)
    circles = [one for one in root.iter() if one.tag.endswith("circle")]
    assert len(circles) == 2 * half
    assert (width, height) == (int(root.attrib["width"]), int(root.attrib["height"]))
    assert not re.search(r">[^<]*\d", text)  # no number can be read
    canvas, prompt = frames.frame(Fact(half))
    counters = cv2.inRange(canvas, np.array(frames.COUNTER), np.array(frames.COUNTER))
    assert cv2.connectedComponents(counters)[0] - 1 == 2 * half == len(prompt.dots)
    own = frames.cells(Fact(half), (canvas.shape[0] // 2, canvas.shape[1] // 2))
    covered = covers.lay(canvas, overlays.half_cover(canvas, prompt, own, 1, drawn=True))
    left = cv2.inRange(covered, np.array(frames.COUNTER), np.array(frames.COUNTER))
    assert cv2.connectedComponents(left)[0] - 1 == half
    assert abs(int((left > 0).sum()) * 2 - int((counters > 0).sum())) < 0.01 * (counters > 0).sum()


def test_a_bond_with_an_open_place_does_not_tell_it() -> None:
    texts = {blank: pictures.bond(Fact(7), blank).data.decode() for blank in ("none", "whole", "part")}  # type: ignore[arg-type]
    read = {blank: re.findall(r">([\d?]+)</text>", text) for blank, text in texts.items()}
    assert read == {"none": ["14", "7", "7"], "whole": ["?", "7", "7"], "part": ["14", "7", "?"]}


# ---- the command and the set


def test_the_command_writes_every_picture_under_a_name_that_tells_nothing(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["pictures", "eggs-2", "-o", str(tmp_path / "out"), "-c", str(CATALOG)])
    assert done.exit_code == 0
    assert "Nothing was enlarged" in done.output
    names = {p.stem for p in (tmp_path / "out").iterdir()}
    assert {
        "plain",
        "dots",
        "rings",
        "cover-one",
        "cover-other",
        "cover-some",
        "frame",
        "bond",
        "bond-part-open",
    } <= names
    assert not any(tells(name.replace("-", " "), 5, 10, 4) for name in names - {"cover-one"})
    for path in (tmp_path / "out").glob("*.png"):
        assert cv2.imread(str(path)) is not None


def test_the_command_says_what_cannot_be_done(tmp_path: Path) -> None:
    run = CliRunner()
    blocked = tmp_path / "file"
    blocked.write_text("x")
    wrong = (
        ["eggs-2", "-o", str(tmp_path / "a"), "--some", "5"],
        ["nobody", "-o", str(tmp_path / "a")],
        ["boots", "-o", str(blocked / "in")],
    )
    for words in wrong:
        done = run.invoke(app, ["pictures", *words, "-c", str(CATALOG)])
        assert done.exit_code != 0
        assert done.exception is not None
        assert not (tmp_path / "a").exists()
        assert all(done.exception.as_dict().values())  # type: ignore[attr-defined]


def test_a_missing_picture_is_named(tmp_path: Path) -> None:
    one = drawn.add(tmp_path, drawn.prompt("eggs", drawn.two_rows(3), "slide", "egg", "eggs"), drawn.two_rows(3))
    catalogs.picture_path(tmp_path, one).write_bytes(b"no picture")
    with pytest.raises(LessonError, match="eggs"):
        pictures.every(tmp_path, one)


def test_a_set_holds_pngs_an_index_and_credits(tmp_path: Path) -> None:
    drawn.add(tmp_path, drawn.prompt("eggs", drawn.two_rows(3), "slide", "egg", "eggs"), drawn.two_rows(3))
    plan = Plan("en", (Step(1, "eggs", stages=("see", "cover", "not_half"), hide=2), Step(1, frame=4, stages=("see",))))
    made = lessons.lesson(tmp_path, plan, longer=480)
    first, second = (lessons.write(made, tmp_path / name) for name in ("one.zip", "two.zip"))
    assert first.read_bytes() == second.read_bytes()
    with zipfile.ZipFile(first) as file:
        assert file.testzip() is None
        names = file.namelist()
        shown = [n for n in names if n.endswith(".png")]
        assert len(shown) == 9  # of the first two covers and what each leaves, ringed
        assert all(cv2.imdecode(np.frombuffer(file.read(n), np.uint8), 1) is not None for n in shown)
        index, credit, alts = (file.read(n).decode() for n in ("index.html", "credits.txt", "alt.json"))
    assert "Porch School" in credit
    assert "CC0" in credit
    assert all(name in index for name in shown)
    assert set(json.loads(alts)) == set(shown)
    assert not any(tells(alt, 3, 6, 2) for name, alt in json.loads(alts).items() if name.startswith("01"))

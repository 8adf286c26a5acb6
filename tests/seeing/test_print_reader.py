"""What counts as read: alike in two sizes, sure, upright before turned; with the extra `print` the real nets read."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from curator.errors import CuratorError
from curator.seeing import print_reader
from curator.seeing.print_reader import Pixels, Place


def drawn(*labels: tuple[str, int, int, int, int]) -> Pixels:
    """A table with some grain; each label: text, x, y, height of its figures, degrees turned."""
    rng = np.random.default_rng(1)
    canvas = Image.fromarray(np.clip(rng.normal((190, 170, 140), 6, (720, 960, 3)), 0, 255).astype(np.uint8))
    for text, x, y, tall, degrees in labels:
        face = ImageFont.load_default(size=1.4 * tall)
        left, top, right, bottom = face.getbbox(text)
        size = (round(right - left) + 2 * tall, round(bottom - top) + tall)
        label = Image.new("RGB", size, (245, 243, 235))
        ImageDraw.Draw(label).text((tall - left, tall / 2 - top), text, font=face, fill=(40, 40, 70))
        label = label.rotate(degrees, expand=True, fillcolor=(190, 170, 140), resample=Image.Resampling.BICUBIC)
        canvas.paste(label, (x - label.width // 2, y - label.height // 2))
    return np.asarray(canvas)


def test_words_are_parted_and_each_is_as_sure_as_its_least_sure_sign() -> None:
    assert print_reader.split("12Eggs 6", [0.99, 0.98, 0.9, 0.8, 0.7, 0.95, 0.1, 0.97]) == [
        ("12", 0.98),
        ("eggs", 0.7),
        ("6", 0.97),
    ]
    assert print_reader.split("twenty-one", [0.9] * 10) == [("twenty-one", 0.9)]
    assert print_reader.split("A3 3V", [0.9] * 5) == [("a3", 0.9), ("3", 0.9), ("v", 0.9)]
    assert print_reader.split("7+7=14", [0.9] * 6) == [("7", 0.9), ("7", 0.9), ("14", 0.9)]
    assert print_reader.split("·.:", [0.9] * 3) == []


def place(x: float = 100, y: float = 100, angle: float = 0) -> Place:
    return Place(x, y, 60, 30, angle, 0.9)


def reading(monkeypatch: pytest.MonkeyPatch, says: dict[int, list[tuple[str, float]]]) -> None:
    """A net that says these things of a place, by quarter turns: as found, closer, wider."""
    widths = [60 + more * 30 for more in print_reader.CUTS]

    def read(pixels: Pixels, at: Place, turns: int) -> tuple[str, list[float]]:
        cut = min(range(3), key=lambda n: abs(max(at.wide, at.high) - widths[n]))
        text, share = says.get(turns, [("", 0.0)] * 3)[cut]
        return text, [share] * len(text)

    monkeypatch.setattr(print_reader, "read", read)


NOTHING = np.zeros((200, 400, 3), np.uint8)


@pytest.mark.parametrize(
    ("cuts", "said"),
    [
        ([("6", 0.95), ("6", 0.97), ("6", 0.92)], {"6": 0.92}),
        ([("6", 0.95), ("6", 0.97), ("8", 0.99)], {}),
        ([("6", 0.95), ("6", 0.85), ("6", 0.99)], {}),
        ([("6", 0.85), ("6", 0.95), ("6", 0.99)], {}),
        ([("12 eggs", 0.95), ("12 egg", 0.97), ("12eggs", 0.96)], {"12": 0.95}),
        ([("", 0.0), ("6", 0.97), ("6", 0.99)], {}),
    ],
    ids=["alike", "otherwise", "unsure once", "unsure at first", "one word alike", "not as found"],
)
def test_only_what_every_cut_says_alike_is_read(
    monkeypatch: pytest.MonkeyPatch, cuts: list[tuple[str, float]], said: dict[str, float]
) -> None:
    reading(monkeypatch, {0: cuts})
    assert print_reader.best(NOTHING, place()) == said


def test_what_is_found_at_both_sizes_is_one_word(monkeypatch: pytest.MonkeyPatch) -> None:
    reading(monkeypatch, {0: [("6", 0.95)] * 3})
    spots = {print_reader.SIZES[0]: [place()], print_reader.SIZES[1]: [place(102, 98), place(300, 150)]}
    monkeypatch.setattr(print_reader, "places", lambda pixels, longer: spots[longer])
    assert [(word.x, word.y) for word in print_reader.words(NOTHING)] == [(100 / 400, 0.5), (300 / 400, 0.75)]


def test_a_place_is_turned_where_nothing_sure_stands_upright(monkeypatch: pytest.MonkeyPatch) -> None:
    reading(monkeypatch, {0: [("6", 0.95)] * 3, 1: [("94", 0.99)] * 3})
    assert print_reader.best(NOTHING, place()) == {"6": 0.95}
    reading(monkeypatch, {0: [("b", 0.4)] * 3, 1: [("94", 0.99)] * 3})
    assert print_reader.best(NOTHING, place()) == {"94": 0.99}


def test_a_tall_place_may_be_a_line_on_its_side(monkeypatch: pytest.MonkeyPatch) -> None:
    tall = Place(100, 100, 30, 60, 0, 0.9)
    reading(monkeypatch, {0: [("4", 0.97)] * 3, 3: [("14", 0.96)] * 3})
    assert print_reader.best(NOTHING, tall) == {"14": 0.96}
    reading(monkeypatch, {0: [("1", 0.97)] * 3, 3: [("l", 0.96)] * 3})
    assert print_reader.best(NOTHING, tall) == {"1": 0.97}


@pytest.mark.parametrize("degrees", [-40, -10, 0, 25, 44])
def test_a_place_of_the_map_has_its_size_and_lean(degrees: int) -> None:
    inked = np.zeros((400, 400), np.float32)
    box = cv2.boxPoints(((200, 150), (120, 30), degrees))
    cv2.fillPoly(inked, [box.astype(np.int32)], (1.0,))
    (outline,), _ = cv2.findContours(inked.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    found = print_reader._place(outline, inked, (2.0, 2.0))
    assert found is not None
    assert (found.x, found.y) == pytest.approx((400, 300), abs=3)
    assert found.angle == pytest.approx(degrees, abs=2)
    assert found.wide > 240
    assert 60 < found.high < found.wide
    assert print_reader._place(outline, inked * 0.4, (2.0, 2.0)) is None


def test_without_the_extra_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing() -> None:
        raise ImportError

    monkeypatch.setattr(print_reader, "_nets", missing)
    monkeypatch.setattr(print_reader, "installed", lambda: False)
    with pytest.raises(CuratorError, match="not installed"):
        print_reader.words(drawn())


# ---- the real nets, where the extra is installed

real = pytest.mark.skipif(not print_reader.installed(), reason="the extra print is not installed")


@real
def test_figures_and_words_are_read_where_they_stand() -> None:
    labels = (
        ("6", 130, 150, 40, 0),
        ("12", 480, 150, 60, 10),
        ("seven", 790, 170, 40, 0),
        ("14 buns", 480, 560, 40, 0),
    )
    found = {word.text: word for word in print_reader.words(drawn(*labels))}
    assert {"6", "12", "seven", "14"} <= set(found)
    assert (found["6"].x, found["6"].y) == pytest.approx((130 / 960, 150 / 720), abs=0.02)


@real
def test_a_number_on_its_side_is_read() -> None:
    assert "14" in {word.text for word in print_reader.words(drawn(("14", 480, 360, 60, 90)))}


@real
def test_balls_windows_and_an_empty_table_say_nothing() -> None:
    assert print_reader.words(drawn()) == ()
    table = drawn().copy()
    for x in range(120, 900, 180):
        cv2.circle(table, (x, 200), 60, (150, 62, 40), -1, cv2.LINE_AA)
        cv2.circle(table, (x, 200), 40, (200, 140, 120), 6, cv2.LINE_AA)
        cv2.rectangle(table, (x - 50, 400), (x + 50, 600), (60, 70, 90), -1)
        cv2.line(table, (x, 400), (x, 600), (230, 230, 230), 6)
    assert print_reader.words(table) == ()

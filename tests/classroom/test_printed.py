"""Print in a photo: which numbers give an answer away, where that is said, and what is said without a reader."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from classroom.test_room import HIGH, WIDE, prompt, scene
from typer.testing import CliRunner

from curator.catalog.store import folder as catalog
from curator.classroom import lesson as lessons
from curator.classroom import photo_checks
from curator.classroom.marking import extents
from curator.classroom.plan import Plan, Step
from curator.classroom.text.language import languages
from curator.cli import app
from curator.errors import CuratorError
from curator.seeing import print_reader
from curator.seeing.photo import encode_clean
from curator.seeing.print_reader import Word
from curator.web import scenes

Reads = Callable[..., None]
LEFT, RIGHT = (0.1, 0.5), (0.9, 0.9)


@pytest.fixture
def reads(monkeypatch: pytest.MonkeyPatch) -> Reads:
    """A reader that reads these words in any picture, first to last less sure."""

    def set_up(*found: tuple[str, float, float]) -> None:
        words = tuple(Word(text, x, y, 0.99 - 0.01 * n) for n, (text, x, y) in enumerate(found))
        monkeypatch.setattr(print_reader, "installed", lambda: True)
        monkeypatch.setattr(print_reader, "words", lambda pixels: words)

    return set_up


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    catalog.add(tmp_path / "kept", prompt(), encode_clean(scene()))
    return tmp_path / "kept"


def told() -> list[tuple[str, float]]:
    return [(note.name, note.value) for note in photo_checks.printed(scene(), prompt())]


@pytest.mark.parametrize("text", ["4", "four", "fours", "cuatro"])
def test_the_half_and_the_total_give_the_answer_away(reads: Reads, text: str) -> None:
    reads((text, *LEFT), ("milk", *RIGHT))
    assert told() == [("printed", 4)]
    reads(("8", *LEFT), (text, *RIGHT))
    assert told() == [("printed", 8), ("printed", 4)]


@pytest.mark.parametrize(
    "text", ["40", "14", "84", "twenty-four", "enty-four", "seventy-four", "forty", "48", "fourth", "3", "milk"]
)
def test_other_print_is_only_mentioned(reads: Reads, text: str) -> None:
    reads((text, *LEFT), ("250", *RIGHT))
    assert told() == [("print", 2)]


def test_a_clock_is_named_once_a_place_and_a_page_of_numbers_does_not_fill_the_notes(reads: Reads) -> None:
    reads(("4", *LEFT), ("4", *LEFT), ("8", *LEFT))
    assert told() == [("printed", 4), ("printed", 8)]
    reads(*((str(n), x, y) for n in (4, 8) for x in (0.1, 0.5, 0.9) for y in (0.1, 0.5, 0.9)))
    assert len(told()) == photo_checks.PLACES


def test_a_picture_without_a_double_is_given_away_by_its_count(reads: Reads) -> None:
    dots = tuple(dot._replace(side=0) for dot in prompt().dots[:7])
    none = replace(prompt(), fact=None, kind="none", dots=dots, line=None)
    reads(("7", *LEFT))
    assert [note.value for note in photo_checks.printed(scene(), none)] == [7]
    reads(("4", *LEFT))
    assert [note.name for note in photo_checks.printed(scene(), none)] == ["print"]


def test_nothing_printed_and_a_lone_letter_are_no_note(reads: Reads) -> None:
    reads()
    assert told() == []
    reads(("a", *LEFT))
    assert told() == []


def test_the_place_is_said_in_every_language(reads: Reads) -> None:
    spots = {(x, y): set[str]() for x in (0.1, 0.5, 0.9) for y in (0.1, 0.5, 0.9)}
    for x, y in spots:
        reads(("4", x, y))
        (note,) = photo_checks.printed(scene(), prompt())
        for language in languages():
            said = note.say(language)
            assert "{" not in said
            assert "4" in said
            spots[x, y].add(said)
    assert len(set.union(*spots.values())) == 9 * len(languages())
    reads(("4", *LEFT))
    (note,) = photo_checks.printed(scene(), prompt())
    assert note.say("en").startswith("The number 4 is printed in the photo, at the left, ")


def test_only_what_a_class_sees_is_read(reads: Reads, monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = []
    reads()
    monkeypatch.setattr(print_reader, "words", lambda pixels: sizes.append(pixels.shape) or ())
    near = tuple(dot._replace(x=0.4 * dot.x, y=0.4 * dot.y, w=0.4 * dot.w, h=0.4 * dot.h) for dot in prompt().dots)
    close = replace(prompt(), dots=near)
    photo_checks.printed(scene(), close)
    photo_checks.printed(scene(), prompt())
    seen = [photo_checks._cut(scene(), extents.crop(one, (HIGH, WIDE))).shape for one in (close, prompt())]
    assert sizes == seen
    assert max(seen[0]) == photo_checks.LONGER
    assert extents.crop(close, (HIGH, WIDE)).right < 0.6


# ---- where it is said


def test_the_command_says_it_and_what_was_looked_for(reads: Reads, kept: Path) -> None:
    reads(("4", *LEFT))
    result = CliRunner().invoke(app, ["look-again", "-c", str(kept)])
    plain = " ".join(result.output.split())
    assert "The number 4 is printed in the photo, at the left" in plain
    assert "1 photo looked at: something to point out." in plain
    assert "Print was looked for, but some may be missed" in plain
    assert "not looked for" not in plain


def test_lesson_and_page_say_it_to_the_teacher(reads: Reads, kept: Path, tmp_path: Path) -> None:
    reads(("ocho", *RIGHT))
    step = Step(1, "balls", stages=("see", "cover"))
    made = lessons.lesson(kept, Plan("en", (step,)), longer=640, room=photo_checks.Room())
    assert any("The number 8 is printed in the photo, at the bottom right" in s for s in made.scenes[0].look_again)
    scenes.make(str(kept), step, catalog.load(kept, "balls"), str(tmp_path / "scene.zip"))
    _, notes = scenes.read(tmp_path / "scene.zip")
    assert "El número 8 está impreso en la foto, abajo a la derecha" in notes[0].say("es")


def test_a_scene_made_without_a_reader_is_made_again_once_there_is_one(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    step, one = Step(1, "balls", stages=("see",)), catalog.load(kept, "balls")
    keys = []
    for there in (False, True):
        monkeypatch.setattr(print_reader, "installed", lambda there=there: there)
        keys.append(scenes.key(kept, step, one))
    assert keys[0] != keys[1]


def test_without_the_extra_all_is_as_it_was(kept: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(print_reader, "installed", lambda: False)
    monkeypatch.setattr(print_reader, "words", lambda pixels: pytest.fail("asked"))
    assert photo_checks.look_again(kept, catalog.load(kept, "balls")) == []
    result = CliRunner().invoke(app, ["look-again", "-c", str(kept)])
    assert "Printed numbers are not looked for" in " ".join(result.output.split())


def test_a_reader_that_fails_stops_no_lesson(kept: Path, reads: Reads, monkeypatch: pytest.MonkeyPatch) -> None:
    real = print_reader.words
    reads()
    monkeypatch.setattr(print_reader, "words", real)

    def broken() -> None:
        raise RuntimeError("no such layer")

    monkeypatch.setattr(print_reader, "_nets", broken)
    with pytest.raises(CuratorError, match="does not work here"):
        print_reader.words(scene())
    plan = Plan("en", (Step(1, "balls", stages=("see",)),))
    (found,) = lessons.lesson(kept, plan, longer=640, room=photo_checks.Room()).scenes
    assert any("could not be looked for" in said for said in found.look_again)

"""A prompt's file: there and back, and every mistake named."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from catalog_made import picture_bytes, prompt_of, prompts
from hypothesis import example, given, settings
from hypothesis import strategies as st

from curator.catalog import yamls
from curator.catalog.prompt import LICENSES, alts, from_yaml, slug_of, title_of, to_yaml
from curator.catalog.search import index
from curator.catalog.store import folder
from curator.catalog.yaml_edit import rewritten
from curator.catalog.yamls import KEYS
from curator.errors import CatalogError
from curator.records import Prompt


@settings(max_examples=200, deadline=None, derandomize=True)
@given(prompts())
def test_there_and_back(prompt: Prompt) -> None:
    assert from_yaml(to_yaml(prompt), "a.yaml") == prompt


@settings(max_examples=100, deadline=None, derandomize=True)
@given(prompts())
def test_another_reader_sees_the_same_words(prompt: Prompt) -> None:
    got = yaml.safe_load(to_yaml(prompt))
    assert tuple(got) == KEYS
    assert (got["title"], got["notes"], tuple(got["tags"])) == (prompt.title, prompt.notes, prompt.tags)
    assert [(d["x"], d["y"], d["side"]) for d in got["dots"]] == [dot[:3] for dot in prompt.dots]


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.text(max_size=300) | st.binary(max_size=300).map(lambda b: b.decode("latin-1")))
@example("[" * 300_000)
@example("- " * 150_000)
@example("&a [*a]")
@example("a: &a {b: *a}")
@example("!!python/object/apply:os.system ['true']")
def test_no_text_does_more_than_fail(text: str) -> None:
    with pytest.raises(CatalogError):
        from_yaml(text, "a.yaml")


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.integers(0, 700), st.text(alphabet="[]{}:-?*&!|>'\"#,\n\t 7ax\x00é", max_size=4), st.integers(0, 5))
def test_a_spoiled_file_is_read_or_refused(at: int, put: str, cut: int) -> None:
    text = to_yaml(prompt_of())
    with suppress(CatalogError):
        assert isinstance(from_yaml(text[:at] + put + text[at + cut :], "a.yaml"), Prompt)


def spoiled(old: str, new: str) -> str:
    text = to_yaml(prompt_of(title="Eggs", tags=("egg",), place="kitchen"))
    assert text.count(old) >= 1
    return text.replace(old, new, 1)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("place: kitchen", "place: no", 'Line 8, place: no is read as yes or no, not as words. Put it in quotes: "no"'),
        ("place: kitchen", "place: 12:30", 'is read as a number, not as words. Put it in quotes: "12:30".'),
        ("place: kitchen", "place: 2026-01-01", 'is read as a date, not as words. Put it in quotes: "2026-01-01".'),
        ("place: kitchen", "place:", 'Line 8, place: is empty. Write place: "" where there is nothing to say.'),
        ("place: kitchen", "place: [a]", "Line 8, place: should be words, and is a list."),
        ("tags: [egg]", "tags: [on]", 'Line 9, tags: on is read as yes or no, not as words. Put it in quotes: "on".'),
        ("tags: [egg]", "tags: egg", "Line 9, tags: should be a list"),
        ("title: Eggs", "titel: Eggs", 'the key "title" is missing. Is titel on line 3 meant?'),
        ("place: kitchen", "title: A", 'the key "title" stands there twice.'),
        ("format: 1", "format: 2", "Write format: 1."),
        ("title: Eggs\n", "", 'the key "title" is missing.'),
        ("fact: 7+7=14", "fact: 7+7=15", 'Line 4, fact: "7+7=15" is not a doubles fact. Write it like 7+7=14'),
        ("fact: 7+7=14", "fact: 6+6=12", "expected 6 on each side for 6+6=12, got (7, 7)"),
        ("kind: slide", "kind: shift", '"shift" is not one of the words allowed. Write flip or slide'),
        ("side: 1}", "side: 3}", "Line 28, dots: x and y go from 0 to 1, and side is 0, 1 or 2."),
        ("side: 1}", "side: one}", 'should be a whole number, and is "one".'),
        ("touched: 0", "touched: 0x1", "should be a whole number"),
        ("confidence: 0.9", "confidence: .nan", "should be a number"),
        ("confidence: 0.9", "confidence: 90", "expected a number from 0 to 1, got 90"),
        ("area: null", "area: [0.5, 0, 0.2, 1]", "should be left, top, right, bottom"),
        ("line: null", "line: [[0, 1]]", "should be two points"),
        ("picture: eggs.jpg", "picture: ../eggs.jpg", "expected a plain file name"),
        ("slug: eggs", "slug: Eggs!", "expected words-with-dashes"),
        ("dots:\n", "dots: {}\nx:\n", "dots: should be a list"),
    ],
)
def test_a_mistake_is_named_with_its_line_and_remedy(old: str, new: str, says: str) -> None:
    with pytest.raises(CatalogError) as caught:
        from_yaml(spoiled(old, new), "eggs.yaml")
    assert caught.value.doing == "Reading eggs.yaml."
    assert says in str(caught.value)


HAND = """# ours: do not move
format: 1
slug: eggs   # as the file
title: Eggs
shelf: {room: 4, box: [1, 2]}   # our own key
fact: 1+1=2
kind: slide

# where it hangs
place: kitchen   # since spring
picture: eggs.jpg
plce: hall
dots:
  # the first
  - {x: 0.2, y: 0.5, side: 1, note: cracked}
  - {x: 0.8, y: 0.5, side: 2}
# the end
"""


def test_keys_and_comments_of_others_are_read_over_kept_and_shown(tmp_path: Path) -> None:
    (tmp_path / "eggs.yaml").write_text(HAND, encoding="utf-8")
    (tmp_path / "eggs.jpg").write_bytes(picture_bytes())
    prompt = folder.load(tmp_path, "eggs")
    assert (prompt.place, len(prompt.dots)) == ("kitchen", 2)
    assert index.find(tmp_path, "kitchen").total == 1
    folder.replace(tmp_path, replace(prompt, place="hall", credit="Room 4"))
    text = (tmp_path / "eggs.yaml").read_text(encoding="utf-8")
    expected = HAND.replace("place: kitchen   #", "place: hall   #")
    assert text == expected.replace("picture: eggs.jpg\n", 'picture: eggs.jpg\ncredit: "Room 4"\n').replace(
        '"Room 4"', "Room 4"
    )
    said = {p.wrong for p in folder.check(tmp_path, pictures=False) if p.slug == "eggs"}
    assert any("shelf" in wrong for wrong in said)
    assert any("plce" in wrong and "place" in wrong for wrong in said)
    folder.undo(tmp_path, "eggs")
    assert (tmp_path / "eggs.yaml").read_text(encoding="utf-8") == HAND


@given(prompts(), prompts())
@settings(max_examples=60, deadline=None)
def test_a_changed_file_says_what_was_meant(one: Prompt, other: Prompt) -> None:
    assert from_yaml(rewritten(to_yaml(one), other), "x") == other
    assert rewritten(to_yaml(one), one) == to_yaml(one)


def test_hand_edits_that_mean_something_are_read() -> None:
    assert from_yaml(spoiled("kind: slide", "kind: 'flip'"), "a").kind == "flip"
    assert from_yaml(spoiled("grade: sure", "grade: no"), "a").grade == "no"  # YAML reads a bare no as False
    assert from_yaml(spoiled('credit: ""\n', ""), "a").credit == ""
    assert from_yaml(spoiled('notes: ""', "notes: |\n  two\n  lines"), "a").notes == "two\nlines\n"


def test_names_of_prompts() -> None:
    assert slug_of("Äpfel & Birnen, Küche!") == "apfel-birnen-kuche"
    assert slug_of("教室") == "prompt"
    assert len(slug_of("long " * 50)) <= 60


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("IMG_2041.jpg", "Photo"),
        ("porch-window.jpg", "Porch window"),
        ("eggs-ten.jpg", "Eggs"),
        ("four-and-four.jpg", "Photo"),
        ("PXL_20260102_1.jpg", "Photo"),
    ],
)
def test_a_title_from_a_file_name_gives_no_number_away(name: str, title: str) -> None:
    from pathlib import Path

    assert title_of(Path(name)) == title


def test_two_texts_for_who_does_not_see_it() -> None:
    before, after = alts(prompt_of(7, things="eggs", place="kitchen"))
    assert before == "A photo of eggs (kitchen)."
    assert after.startswith("7 and 7 eggs make 14")
    assert alts(prompt_of(6, things="twelve eggs"))[0] == "A photo with things to count."
    assert alts(prompt_of(0, things="mugs"))[1] == "3 mugs: no double."


def test_licences_say_what_they_allow() -> None:
    assert not LICENSES["CC-BY-ND-4.0"].change
    assert not LICENSES["school-only"].share
    assert LICENSES["CC-BY-SA-4.0"].same
    assert all(license.allows.endswith(".") for license in LICENSES.values())


def test_files_as_written_are_read_quickly_and_the_same() -> None:
    """The short way for dots gives what the YAML reader gives, and stands back from every other way to write them."""
    folder = Path(__file__).parents[2] / "catalog"
    for path in folder.glob("*.yaml"):
        text = path.read_text(encoding="utf-8")
        quick = yamls._read_quickly(text)
        assert quick is not None, path.name
        assert quick == yamls._read(yamls.compose(text, ""))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("x: 0.", "x: 1."),
        ("x: 0.", "x: 1e-"),
        ("side: 1", "side: 3"),
        ("side: 1", "side: 01"),
        ("  - {x", "  - {y: 0.1, x"),
        ("  - {x", "  - {z"),
        ("side: 1,", "side: 1, # one\n   "),
        ("dots:\n", "dots:\n\n"),
        ("}\n", "}\nnotes: late\n"),
        ("x: 0.", "x: 0_."),
        ('notes: ""', 'notes: "a\ndots:\n  - {x: 0.1, y: 0.1, side: 1, w: 0.1, h: 0.1}\n"'),
        ("w: ", "w: 0x"),
        ("x: 0.", "x: ٠."),
        ("side: 1", "side: 2"),
        ("{x: 0.", "{x: 00."),
    ],
)
def test_other_ways_to_write_dots_are_read_by_the_yaml_reader(old: str, new: str) -> None:
    text = (Path(__file__).parents[2] / "catalog" / "eggs.yaml").read_text(encoding="utf-8")
    changed = text.replace(old, new, 1)
    assert changed != text
    quick = yamls._read_quickly(changed)

    def slowly() -> object:
        try:
            return yamls._read(yamls.compose(changed, ""))
        except (yamls._WrongError, CatalogError):
            return None

    assert quick is None or quick == slowly()
    with suppress(CatalogError):
        assert yamls.from_yaml(changed, "eggs.yaml") == slowly()

"""The quick reader takes only what the YAML reader takes, and to the same prompt and the same row of the index."""

from __future__ import annotations

from pathlib import Path

import pytest
from catalog_made import prompt_of, prompts
from hypothesis import given, settings
from hypothesis import strategies as st

from curator.catalog import quick_yaml, reading, yamls
from curator.catalog.search import index_rows
from curator.catalog.search.index_rows import Row
from curator.catalog.yamls import to_yaml
from curator.errors import CatalogError
from curator.records import Area, Dot, FacesSeen, Fact, Prompt

CATALOG = Path(__file__).parents[2] / "catalog"
FULL = prompt_of(
    6,
    "eggs",
    title='Eggs, "brown"',
    thing="egg",
    place="kitchen",
    tags=("brown", "a b", "no", 'say "x, y"', "two\\"),
    notes="Ask: how do you know?",
    credit="Porch Lane School",
    license="CC0-1.0",
    faces="none",
    seen=FacesSeen((Area(0.1, 0.1, 0.2, 0.25),), "2026-11-01", "centerface-1", "0123456789abcdef"),
    alt_before="A photo of eggs.",
    alt_after="6 and 6 eggs make 12.",
    area=Area(0.0, 0.1, 0.5, 1.0),
    line=((0.5, 0.0), (0.5, 1.0)),
    dots=tuple(Dot(round((i + 1) / 14, 4), 0.25, 1 + i % 2, 0.05, 0.125) for i in range(12)),
)


def slowly(text: str) -> Prompt | None:
    """What the YAML reader says, None for a mistake."""
    try:
        return yamls._read(yamls.compose(text, "Reading."))
    except (CatalogError, yamls._WrongError):
        return None


def alike(one: Row, other: Row) -> bool:
    """Equal, however the JSON is written and whatever stands between the words."""

    def told(row: Row) -> object:
        words = [index_rows.tokens(text) for text in row[7:]]
        return (*row[:6], repr(index_rows.from_record(row.record)), words)

    return told(one) == told(other)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(prompts())
def test_a_row_of_the_file_is_the_row_of_the_prompt(prompt: Prompt) -> None:
    row = index_rows.row_of_text(to_yaml(prompt), prompt.slug)
    assert alike(row, index_rows.row_of(prompt))
    read = yamls.from_yaml(to_yaml(prompt), "x.yaml")
    assert index_rows.from_record(row.record) == read == prompt
    assert repr(index_rows.from_record(row.record)) == repr(read)


PIECES = ["null", '"no"', "no", "0.5", "0.50", "1", "0", "1e-05", "0.1234567890123456", "-1", "0x1f", "~", '""', "yes"]
PIECES += ["side: 1", "side: 2", "side: 3", "7+7=14", "7+7=15", "flip", "none", "[a, b]", "[]", "[0.5, 0, 0.2, 1]", "#"]
PIECES += ["\\u00e9", "\\n", '"a\\tb"', "\u2028", "\x85", "\x7f", "é", '"', "'", "- ", ": ", "\n", "  ", "2026-01-01"]


@settings(max_examples=1500, deadline=None, derandomize=True)
@given(st.one_of(st.just(FULL), prompts()), st.data())
def test_a_file_that_is_otherwise_is_read_as_yaml_or_not_at_all(prompt: Prompt, data: st.DataObject) -> None:
    lines = to_yaml(prompt).split("\n")
    for _ in range(data.draw(st.integers(1, 2))):
        number = data.draw(st.integers(0, len(lines) - 1))
        line, piece = lines[number], data.draw(st.sampled_from(PIECES))
        at = data.draw(st.integers(0, len(line)))
        value = line.find(": ") + 2
        spoilt = [line[:at] + piece + line[at:], line[:value] + piece, line[:at] + line[at + 1 :]]
        lines[number] = data.draw(st.sampled_from(spoilt))
    text = "\n".join(lines)
    quick = yamls._read_quickly(text)
    if quick is not None:
        assert repr(quick) == repr(slowly(text))
    row = index_rows._quick(text, prompt.slug)
    assert (row is None) == (quick is None or quick.slug != prompt.slug)
    if row is not None and quick is not None:
        assert alike(row, index_rows.row_of(quick))


@pytest.mark.parametrize("path", sorted(CATALOG.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_kept_prompt_is_read_quickly(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    quick = index_rows._quick(text, path.stem)
    assert quick is not None
    assert alike(quick, index_rows.row_of(reading.parse(text, path.stem)))


def test_the_fullest_prompt_is_read_quickly() -> None:
    assert quick_yaml.parts(to_yaml(FULL)) is not None
    assert repr(yamls._read_quickly(to_yaml(FULL))) == repr(FULL) == repr(slowly(to_yaml(FULL)))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("fact: 6+6=12", "fact: 5+5=10"),
        ("fact: 6+6=12", "fact: null"),
        ("kind: slide", "kind: none"),
        ("area: [0, 0.1, 0.5, 1]", "area: [0.5, 0.1, 0.5, 1]"),
        ("slug: eggs", "slug: jars"),
        ("slug: eggs", "slug: on"),
        ("title:", "titles:"),
        ("side: 1", "side: 0"),
    ],
)
def test_what_a_prompt_may_not_be_has_no_row(old: str, new: str) -> None:
    text = to_yaml(FULL)
    assert old in text
    text = text.replace(old, new, 1)
    assert index_rows._quick(text, "eggs") is None
    with pytest.raises(CatalogError):
        index_rows.row_of_text(text, "eggs")


@settings(max_examples=100, deadline=None)
@given(st.floats(0, 1) | st.integers(0, 10_000).map(lambda n: n / 10_000))
def test_a_number_read_quickly_is_the_one_that_was_written(number: float) -> None:
    dots = (Dot(number, number, 1, number), Dot(0.5, 0.5, 2))
    text = to_yaml(prompt_of(1, dots=dots))
    quick = yamls._read_quickly(text)
    assert quick is None or quick.dots == dots
    short = number == round(number, 4) and (number == 0 or number >= 0.0001)
    assert quick is not None or not short


def test_more_dots_than_may_be_are_refused() -> None:
    many = prompt_of(0, dots=tuple(Dot(0.5, 0.5, 0) for _ in range(yamls.MOST_DOTS + 1)))
    with pytest.raises(CatalogError, match="501 dots"):
        index_rows.row_of_text(to_yaml(many), "eggs")
    assert Fact(6) == FULL.fact

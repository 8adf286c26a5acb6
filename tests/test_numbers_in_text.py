"""Number words: one list, every place that asks it."""

import pytest

from curator.catalog.bundles.jpeg_metadata import quiet_alt
from curator.catalog.prompt import alts, title_of
from curator.catalog.search import query
from curator.numbers_in_text import WORDS, names_number, tells, typed_numbers, without_numbers
from curator.records import Dot, Fact, Prompt


def prompt(**more: str) -> Prompt:
    dots = tuple(Dot(0.1 + 0.06 * i, 0.3 * side, side) for side in (1, 2) for i in range(12))
    return Prompt("eggs", "Eggs", Fact(12), "slide", "eggs.jpg", dots, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("words", ["docenas", "dos docenas de huevos", "Docena", "dieciséis", "dieciseis", "twelves"])
def test_no_text_before_the_reveal_says_a_number_in_either_language(words: str) -> None:
    assert names_number(words)
    for one in (prompt(alt_before=words), prompt(things=words), prompt(place=words)):
        assert not names_number(quiet_alt(one)), quiet_alt(one)
        assert not names_number(alts(one)[0])


@pytest.mark.parametrize("words", ["", "at once", "one-way", "Un banco con huevos", "often", "unos huevos", "sixpence"])
def test_words_that_say_no_number(words: str) -> None:
    assert not names_number(words) or words == "one-way"


def test_every_number_is_told_in_both_languages() -> None:
    for language, names in WORDS.items():
        assert len(names) > 24
        for n, word in enumerate(names):
            assert n == 0 or tells(f"there are {word} here", n, language=language)
            assert not tells(f"there are {word} here", n + 1, language=language)


def test_a_title_loses_its_numbers_and_keeps_the_rest() -> None:
    from pathlib import Path

    assert title_of(Path("seven-and-seven-eggs.jpg")) == "Eggs"
    assert title_of(Path("doce huevos rojos.jpg")) == "Huevos rojos"
    assert without_numbers("dos mitades de limón").split() == ["de", "limón"]


def test_what_is_typed_to_search_comes_from_the_same_list() -> None:
    assert query.parse("seven and seven").numbers == query.parse("7+7").numbers
    assert query.parse("half of twenty two").numbers == query.parse("half of 22").numbers
    assert {word: n for word, n in typed_numbers().items() if n == 24} == {"twenty-four": 24, "twenty four": 24}

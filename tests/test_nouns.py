"""What a thing and several of it are called: said once, known twice."""

from __future__ import annotations

import pytest

from curator import nouns


@pytest.mark.parametrize(
    "said",
    [("", "eggs"), ("egg", ""), ("", " Eggs "), ("eggs", " "), ("", "egg"), ("egg", "eggs")],
)
def test_one_name_of_a_common_thing_gives_the_other(said: tuple[str, str]) -> None:
    assert nouns.both(*said) == ("egg", "eggs")


@pytest.mark.parametrize("said", [("", ""), ("", "wug nuts"), ("wug", ""), ("wug", "eggs")])
def test_what_is_in_no_list_or_was_said_whole_stays(said: tuple[str, str]) -> None:
    assert nouns.both(*said) == said

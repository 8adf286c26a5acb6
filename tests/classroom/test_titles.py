"""Titles of pictures in the language of the lesson."""

from __future__ import annotations

from pathlib import Path

import drawn_catalog as drawn
import pytest

from curator.classroom import lesson as lessons
from curator.classroom.plan import Plan, Step
from curator.classroom.text.titles import titled
from curator.classroom.writers.sources import source_lines


@pytest.mark.parametrize(
    ("title", "place", "want"),
    [
        ("Eggs", "", "Huevos"),
        ("Eggs, kitchen", "kitchen", "Huevos, kitchen"),
        ("Eggs, box", "box", "Huevos, caja"),
        ("Our eggs", "", "Our eggs"),
        ("Eggs, kitchen", "", "Eggs, kitchen"),
    ],
)
def test_a_title_made_of_the_thing_s_name_is_translated_and_hers_stays(title: str, place: str, want: str) -> None:
    one = drawn.prompt("eggs", drawn.two_rows(3), "slide", "egg", "eggs", title=title, place=place)
    assert titled("es", one) == want
    assert titled("en", one) == title


def test_a_word_without_a_translation_stays(tmp_path: Path) -> None:
    one = drawn.prompt("x", drawn.two_rows(3), "slide", "gizmo", "gizmos", title="Gizmos")
    assert titled("es", one) == "Gizmos"


def test_a_spanish_lesson_names_its_pictures_in_spanish(tmp_path: Path) -> None:
    drawn.add(
        tmp_path, drawn.prompt("eggs", drawn.two_rows(3), "slide", "egg", "eggs", title="Eggs"), drawn.two_rows(3)
    )
    made = lessons.lesson(tmp_path, Plan("es", (Step(1, "eggs"),)), longer=160)
    _, credited, _ = source_lines(made)
    assert credited[0].startswith("Huevos (foto 1) · ")
    assert "Eggs" not in " ".join(made.remarks)

"""A lesson carries the name that a teacher gives it: in its plan, on its first screen and in what each file says."""

from __future__ import annotations

import json
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import drawn_catalog as drawn
import pytest
from pptx import Presentation
from pypdf import PdfReader
from typer.testing import CliRunner

from curator.classroom import lesson as lessons
from curator.classroom.plan import LONGEST_NAME, lesson_name
from curator.cli import app
from curator.errors import LessonError

NAME = "Halves & wholes in “Room 4” <b>"


@pytest.fixture(scope="module")
def catalog(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drawn.build(tmp_path_factory.mktemp("name") / "catalog")


@pytest.fixture(scope="module")
def named(catalog: Path) -> lessons.Lesson:
    return lessons.lesson(catalog, lessons.plan(catalog, facts=[3], name=f"  {NAME}\n"), longer=320)


def test_the_plan_keeps_it_and_without_one_it_is_the_usual_one(catalog: Path, named: lessons.Lesson) -> None:
    text = lessons.to_yaml(named.plan)
    assert lessons.from_yaml(text, "x").name == named.title == NAME
    bare = lessons.to_yaml(replace(named.plan, name=""))
    assert not re.search(r"^name:", bare, re.MULTILINE)
    assert [lessons.lesson(catalog, lessons.plan(catalog, facts=[3], language=one), longer=160).title
            for one in ("en", "es")] == ["Doubles", "Dobles"]  # fmt: skip


def test_each_file_says_it(named: lessons.Lesson, tmp_path: Path) -> None:
    deck = Presentation(str(lessons.write(named, tmp_path / "a.pptx")))
    assert deck.core_properties.title == NAME
    assert deck.slides[0].shapes.title.text_frame.text == NAME
    page = lessons.write(named, tmp_path / "a.html").read_text(encoding="utf-8")
    assert "<title>Halves &amp; wholes in “Room 4” &lt;b&gt;</title>" in page
    told = json.loads(re.findall(r'<script[^>]*id="lesson"[^>]*>(.*?)</script>', page, re.DOTALL)[0])
    assert told["steps"][0]["ask"] == NAME
    assert PdfReader(str(lessons.write(named, tmp_path / "a.pdf"))).metadata.title == NAME  # type: ignore[union-attr]
    with zipfile.ZipFile(lessons.write(named, tmp_path / "a.zip")) as file:
        assert "Halves &amp; wholes in “Room 4” &lt;b&gt;" in file.read("index.html").decode()


def test_one_that_is_too_long_is_told(catalog: Path) -> None:
    assert lesson_name("x", "a" * LONGEST_NAME)
    for make in (
        lambda: lessons.plan(catalog, facts=[3], name="a" * (LONGEST_NAME + 1)),
        lambda: lessons.from_yaml(f"format: 1\nname: {'a' * 99}\nsteps: [{{day: 1, frame: 3, stages: [see]}}]", "x"),
    ):
        with pytest.raises(LessonError, match="cannot have") as told:
            make()
        assert all(told.value.as_dict().values())


def test_the_command_names_a_new_lesson_and_a_plan_made_before(catalog: Path, tmp_path: Path) -> None:
    run, plan = CliRunner(), tmp_path / "plan.yaml"
    first = run.invoke(app, ["lesson", "-o", str(plan), "--facts", "3", "--name", "Our porch", "-c", str(catalog)])
    assert first.exit_code == 0, first.output
    assert lessons.read_plan(plan).name == "Our porch"
    again = tmp_path / "again.yaml"
    done = run.invoke(app, ["lesson", "-o", str(again), "--plan", str(plan), "--name", "Our yard", "-c", str(catalog)])
    assert done.exit_code == 0, done.output
    assert lessons.read_plan(again) == replace(lessons.read_plan(plan), name="Our yard")

"""Slides read back: the order, the notes, and the answer never on the slide that asks."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any

import drawn_catalog as drawn
import pytest
from pptx import Presentation

from curator.classroom import lesson as lessons
from curator.classroom.text.questions import tells
from curator.classroom.writers.slides import HEIGHT, WIDTH, Place, fit


@pytest.fixture(scope="module", params=["en", "es"])
def both(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[lessons.Lesson, Any, Path]:
    where = tmp_path_factory.mktemp("slides")
    catalog = drawn.build(where / "catalog")
    made = lessons.lesson(catalog, lessons.plan(catalog, language=request.param, seed=2), longer=480)
    path = lessons.write(made, where / "lesson.pptx")
    return made, Presentation(str(path)), path


def asking(made: lessons.Lesson, deck: Any) -> list[tuple[lessons.Scene, str, Any]]:
    """Every question slide with its scene and stage, in order."""
    slides, found = iter(deck.slides), []
    for scene in made.scenes:
        for stage in scene.stages:
            wanted = scene.asked[stage].question
            found.append((scene, stage, next(s for s in slides if words(s.shapes.title) == wanted)))
    return found


def words(shape: Any) -> str:
    return shape.text_frame.text.replace("\v", " ")


def pictures(slide: Any) -> list[Any]:
    return [shape for shape in slide.shapes if shape.shape_type == 13]


def alt(picture: Any) -> str:
    return str(picture._element.nvPicPr.cNvPr.get("descr") or "")


def everything(slide: Any) -> str:
    """All that a slide shows or says of itself, its notes left out."""
    texts = [shape.text_frame.text for shape in slide.shapes if shape.has_text_frame]
    return "\n".join([*texts, *(shape.name for shape in slide.shapes), *map(alt, pictures(slide))])


def test_no_question_slide_holds_its_answer(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    for scene, stage, slide in asking(made, deck):
        if scene.fact is None:
            secret: tuple[int, ...] = (scene.asked[stage].numbers["sum"],)
        elif stage in ("cover", "not_half"):
            secret = (scene.hidden(stage),)
        else:
            secret = (scene.fact.half, scene.fact.total)
        assert not tells(everything(slide), *secret), everything(slide)


def test_shown_and_covered_make_the_total_told_on_the_cover_slide(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    covered = [(scene, stage, slide) for scene, stage, slide in asking(made, deck) if stage in ("cover", "not_half")]
    assert len(covered) >= 10
    for scene, stage, slide in covered:
        assert scene.fact is not None
        assert scene.shown(stage) + scene.hidden(stage) == scene.fact.total
        assert tells(everything(slide), scene.fact.total)
        assert pictures(slide)[0].image.blob == scene.covered(stage)


def test_each_picture_has_a_text(both: tuple[lessons.Lesson, Any, Path]) -> None:
    _, deck, _ = both
    every = [alt(picture) for slide in deck.slides for picture in pictures(slide)]
    assert len(every) > 30
    assert all(every)


def test_question_then_rings_then_cover_then_equation(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    scene = next(s for s in made.scenes if s.stages == ("see", "cover"))
    first = next(
        n for n, slide in enumerate(deck.slides) if pictures(slide) and pictures(slide)[0].image.blob == scene.picture
    )
    four = list(deck.slides)[first : first + 4]
    assert [pictures(s)[0].image.blob for s in four] == [scene.picture, scene.rings, scene.cover, scene.rings]
    assert scene.fact is not None
    assert (
        four[3].shapes.title.text_frame.text.replace("\xa0", " ")
        == f"{scene.fact.half} + {scene.fact.half} = {scene.fact.total}"
    )
    assert alt(pictures(four[3])[0]) == scene.alt_after


def test_notes_hold_answers_what_to_listen_for_and_the_equation(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    for scene, stage, slide in asking(made, deck):
        notes = slide.notes_slide.notes_text_frame.text
        asked = scene.asked[stage]
        assert all(a.says in notes and a.shows in notes for a in asked.answers)
        assert all(heard in notes for heard in asked.listen)
        assert asked.frame in notes
        assert not asked.solved or asked.solved.replace(" - ", " − ") in notes.replace("\xa0", " ")


def test_the_last_slides_name_standards_credit_licence_and_notice(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    heading = deck.slides[-1].shapes.title.text_frame.text
    last = "\n".join(everything(s) for s in deck.slides if s.shapes.title.text_frame.text == heading)
    assert all(standard.code in last for standard, _ in made.standards())
    assert all(scene.credit in last and scene.license in last for scene in made.scenes)
    assert made.notices()[0] in last


def test_nothing_runs_over_the_edge(both: tuple[lessons.Lesson, Any, Path]) -> None:
    _, deck, _ = both
    for slide in deck.slides:
        for shape in slide.shapes:
            assert shape.left >= 0
            assert shape.top >= 0
            assert shape.left + shape.width <= deck.slide_width + 9525  # a pixel
            assert shape.top + shape.height <= deck.slide_height + 9525


def test_no_name_inside_the_file_gives_a_number_away(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, path = both
    assert deck.core_properties.title == made.title
    media = [name for name in zipfile.ZipFile(path).namelist() if "media" in name]
    assert all(Path(name).stem.startswith("image") for name in media)  # numbered in order, no slug


def test_every_slide_has_a_title(both: tuple[lessons.Lesson, Any, Path]) -> None:
    _, deck, _ = both
    assert all(slide.shapes.title is not None and slide.shapes.title.text_frame.text.strip() for slide in deck.slides)


def test_days_are_divided(tmp_path: Path) -> None:
    catalog = drawn.build(tmp_path / "catalog")
    made = lessons.lesson(catalog, lessons.plan(catalog, facts=[3], days=2), longer=320)
    deck = Presentation(str(lessons.write(made, tmp_path / "lesson.pptx")))
    titles = [slide.shapes.title.text_frame.text for slide in deck.slides]
    assert titles.index("Day 1") < titles.index("Day 2")


def test_words_shrink_until_they_fit() -> None:
    place = Place(0, 0, 3.0, 3.0)
    assert fit("short", place, 36) == 36
    assert fit("long " * 40, place, 36) < 24
    assert (WIDTH, HEIGHT) == (13.333, 7.5)

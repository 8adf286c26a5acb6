"""Slides read back: the order, the notes, and the answer never on the slide that asks."""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import drawn_catalog as drawn
import pytest
from pptx import Presentation

from curator.classroom import lesson as lessons
from curator.classroom.text.questions import tells
from curator.classroom.writers.slide_parts import HEIGHT, SCALE, WIDTH, Place, fit, wrapped

P = "{http://schemas.openxmlformats.org/presentationml/2006/main}"


@pytest.fixture(scope="module", params=["en", "es"])
def both(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[lessons.Lesson, Any, Path]:
    where = tmp_path_factory.mktemp("slides")
    catalog = drawn.build(where / "catalog")
    made = lessons.lesson(
        catalog, lessons.plan(catalog, facts=range(1, 11), language=request.param, seed=2), longer=480
    )
    path = lessons.write(made, where / "lesson.pptx")
    return made, Presentation(str(path)), path


def asking(made: lessons.Lesson, deck: Any) -> list[tuple[lessons.Scene, str, Any]]:
    """Every slide that asks a question beside its picture, with its scene and stage, in order."""
    slides, found = iter(deck.slides), []
    for scene in made.scenes:
        for stage in scene.stages:
            wanted = scene.asked[stage].question
            found.append((scene, stage, next(s for s in slides if words(s.shapes.title) == wanted and pictures(s))))
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
        plain, cover = pictures(slide)
        assert plain.image.blob == scene.picture
        assert cover.name == "cover"


def test_each_picture_has_a_text(both: tuple[lessons.Lesson, Any, Path]) -> None:
    _, deck, _ = both
    every = [alt(picture) for slide in deck.slides for picture in pictures(slide)]
    assert len(every) > 30
    assert all(every)


def of_scene(deck: Any, scene: lessons.Scene) -> list[Any]:
    """The slides that show one picture, in order."""
    own = {scene.view(v) for v in ("plain", "rings", "cover", "other_cover", "some", "hidden", "pairs", "one_more")}
    slides = [s for s in deck.slides if pictures(s) and pictures(s)[0].image.blob in own - {b""}]
    return slides


def test_quick_look_then_the_picture_again_then_the_answer_then_the_cover(
    both: tuple[lessons.Lesson, Any, Path],
) -> None:
    made, deck, _ = both
    scene = next(s for s in made.scenes if s.stages == ("see", "cover") and not s.why[0])
    flash, again, seen, cover, other, answer = of_scene(deck, scene)
    shown = [pictures(s)[0].image.blob for s in (flash, again, seen, cover, other, answer)]
    assert shown == [scene.picture, scene.picture, scene.rings, scene.picture, scene.picture, scene.rings]
    assert scene.fact is not None
    said = seen.shapes.title.text_frame.text.replace("\xa0", " ")
    assert said == f"{scene.fact.half} + {scene.fact.half} = {scene.fact.total}"
    assert alt(pictures(answer)[0]) == scene.alt_after
    assert words(other.shapes.title) == scene.asked["cover"].other_side


def test_a_picture_leaves_by_itself_after_the_seconds_that_its_note_says(
    both: tuple[lessons.Lesson, Any, Path],
) -> None:
    made, deck, _ = both
    slides = list(deck.slides)
    timed = [(n, s, t) for n, s in enumerate(slides) if (t := s._element.find(f"{P}transition")) is not None]
    assert len(timed) >= len(made.scenes) - 1
    for n, slide, transition in timed:
        seconds = int(transition.get("advTm")) / 1000
        assert 1 <= seconds <= 5
        scene = next(s for s in made.scenes if s.picture == pictures(slide)[0].image.blob)
        assert seconds == scene.seconds
        assert f"{seconds:g}\u00a0s" in slide.notes_slide.notes_text_frame.text.splitlines()[0]
        photo = pictures(slide)[0]
        assert max(photo.width / deck.slide_width, photo.height / deck.slide_height) > 0.9
        after = slides[n + 1]
        assert not pictures(after)  # gone: the question stands alone
        assert words(after.shapes.title) == scene.asked[scene.stages[0]].question
        order = [child.tag.removeprefix(P) for child in slide._element]
        assert order.index("transition") == order.index("clrMapOvr") + 1  # the schema's order


def test_a_click_takes_a_cover_away_and_the_other_side_has_one_too(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    covers = [s for s in deck.slides if any(shape.name == "cover" for shape in s.shapes)]
    stages = sum(stage in ("cover", "not_half") for scene in made.scenes for stage in scene.stages)
    assert len(covers) == 2 * stages
    for slide in covers:
        (cover,) = [shape for shape in slide.shapes if shape.name == "cover"]
        photo = pictures(slide)[0]
        assert photo.left <= cover.left
        assert cover.left + cover.width <= photo.left + photo.width + 9525
        timing = slide._element.find(f"{P}timing")
        effect = next(e for e in timing.iter(f"{P}cTn") if e.get("presetClass"))
        assert (effect.get("presetClass"), effect.get("nodeType")) == ("exit", "clickEffect")
        assert [t.get("spid") for t in timing.iter(f"{P}spTgt")] == [str(cover.shape_id)]
    first, second = covers[:2]
    assert _alpha_apart(first, second)


def _alpha_apart(first: Any, second: Any) -> bool:
    """Whether two covers of one picture hide different places."""
    boxes = []
    for slide in (first, second):
        cover = next(shape for shape in slide.shapes if shape.name == "cover")
        boxes.append((cover.left, cover.top, cover.width, cover.height))
    return boxes[0] != boxes[1]


def test_after_is_it_a_double_the_next_slides_give_no_answer(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    slides = list(deck.slides)
    asked = [
        (scene, n) for scene, stage, slide in asking(made, deck) if stage == "is_it" for n in [slides.index(slide)]
    ]
    assert {bool(scene.fact) for scene, _ in asked} == {True, False}
    for scene, n in asked:
        text = everything(slides[n])
        assert pictures(slides[n])[0].image.blob == scene.picture  # nothing ringed
        assert scene.asked["is_it"].partners in text
        follow = scene.asked["is_it"].follow_up
        assert follow not in text  # "what would you change?" tells that it is none
        assert all(a.says not in text for a in scene.asked["is_it"].answers)
    double, none = (next(n for s, n in asked if bool(s.fact) is kind) for kind in (True, False))
    assert [len(list(slides[n].shapes)) for n in (double, none)] == [3, 3]  # both look alike


def test_no_question_asks_where_to_fold_on_a_ringed_picture(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    ringed = {scene.rings for scene in made.scenes}
    for slide in deck.slides:
        if pictures(slide) and pictures(slide)[0].image.blob in ringed:
            assert not any(s.asked[g].follow_up in everything(slide) for s in made.scenes for g in s.stages)
            folding = [s.asked["see"].follow_up for s in made.scenes if s.kind == "flip" and "see" in s.stages]
            said = slide.notes_slide.notes_text_frame.text if slide.has_notes_slide else ""
            assert not any(asked in said for asked in folding)


def test_an_answer_has_picture_ten_frame_bond_and_equation_side_by_side(
    both: tuple[lessons.Lesson, Any, Path],
) -> None:
    made, deck, _ = both
    answers = [s for s in deck.slides if any(shape.name == "bond" for shape in s.shapes)]
    assert len(answers) == sum(scene.counters(stage) is not None for scene in made.scenes for stage in scene.stages)
    for slide in answers:
        photo, frame = pictures(slide)
        assert frame.name == "ten frame"
        assert photo.width * photo.height > 0.25 * deck.slide_width * deck.slide_height  # large on answers too
        (bond,) = [shape for shape in slide.shapes if shape.name == "bond"]
        circles = [s.text_frame for s in bond.shapes if s.has_text_frame]
        assert not any(said.word_wrap for said in circles)  # "12" on one line
        whole, one, other = (int(said.text) for said in circles)
        assert one + other == whole
        assert frame.left > photo.left + photo.width
        assert bond.top >= frame.top + frame.height
        assert str(whole) in slide.shapes.title.text_frame.text


def test_notes_have_three_lines_for_the_moment(both: tuple[lessons.Lesson, Any, Path]) -> None:
    made, deck, _ = both
    for scene, stage, slide in asking(made, deck):
        lines = slide.notes_slide.notes_text_frame.text.splitlines()
        assert lines[3] == ""
        assert all(lines[:3])
        assert scene.asked[stage].answers[0].says in lines[1]


def test_text_is_of_one_scale_and_never_a_column_of_single_words(both: tuple[lessons.Lesson, Any, Path]) -> None:
    _, deck, _ = both
    for slide in deck.slides:
        for shape in slide.shapes:
            if not shape.has_text_frame:
                continue
            for paragraph in shape.text_frame.paragraphs:
                sizes = {run.font.size.pt for run in paragraph.runs if run.text.strip()}
                assert sizes <= set(SCALE)
                for sentence in paragraph.text.split("\v") if sizes else ():
                    lines = wrapped(sentence, shape.width / 914400, int(max(sizes)), bold=shape.name == "question")
                    lonely = sum(" " not in line.strip() for line in lines)
                    assert len(lines) <= 7, lines
                    assert lonely <= max(1, len(lines) // 3), lines


def test_the_file_says_the_lessons_name_and_todays_date_and_nothing_of_a_library(
    both: tuple[lessons.Lesson, Any, Path],
) -> None:
    made, deck, path = both
    core = deck.core_properties
    assert (core.title, core.language) == (made.title, made.language)
    assert abs((datetime.now(UTC).replace(tzinfo=None) - core.created).total_seconds()) < 3600
    assert core.created == core.modified
    with zipfile.ZipFile(path) as file:
        app = file.read("docProps/app.xml").decode()
        said = app + file.read("docProps/core.xml").decode()
        assert not any("thumbnail" in name or "printerSettings" in name for name in file.namelist())
    for library in ("PowerPoint", "python", "Steve", "Macintosh", "Microsoft"):
        assert library not in said


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
    covered = next(numbers for standard, numbers in made.standards() if standard.code == "1.OA.B.4")
    assert all({"cover", "not_half"} & set(made.scenes[n - 1].stages) for n in covered)  # per picture
    line = next(line for line in last.splitlines() if line.startswith("1.OA.B.4"))
    assert str(covered[0]) in line
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
    assert fit("short", place, 40) == 40
    assert fit("long " * 40, place, 40) < 28
    assert fit("6\xa0+\xa06\xa0+\xa01\xa0=\xa013", Place(0, 0, 4.4, 1.1), 54) == 40  # an equation stays on one line
    assert fit("Which groups of window panes did you see?", place, 40) == 28  # 40 would leave two words alone
    assert fit("There are eight leaflets in all.", Place(0, 0, 5.6, 3.0), 40) == 40  # one word alone is no harm
    assert (WIDTH, HEIGHT) == (13.333, 7.5)

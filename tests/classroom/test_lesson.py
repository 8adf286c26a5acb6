"""Plans by the stated rules, the plan file, and what happens when something is missing."""

import os
from collections import Counter
from dataclasses import replace
from pathlib import Path

import cv2
import drawn_catalog as drawn
import numpy as np
import pytest
from typer.testing import CliRunner

from curator.classroom import lesson as lessons
from curator.classroom import pairs, pictures
from curator.classroom.groups import grouped, seconds
from curator.classroom.plan import Plan, Step
from curator.classroom.text.questions import tells
from curator.cli import app
from curator.commands.lesson import halves
from curator.errors import CuratorError, LessonError
from curator.records import Dot, Fact, Prompt


@pytest.fixture(scope="module")
def catalog(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drawn.build(tmp_path_factory.mktemp("lesson") / "catalog")


@pytest.fixture(scope="module")
def made(catalog: Path) -> lessons.Lesson:
    return lessons.lesson(catalog, lessons.plan(catalog, facts=[*range(1, 11), 12], seed=3), longer=480)


def half_of(step: Step) -> int:
    """The half that the names of the drawn catalog carry."""
    return step.frame or int(step.slug.split("-")[-1]) if step.frame or "-" in step.slug else 0


# ---- the rules of a plan


def test_facts_go_from_small_to_large_and_are_those_asked_for(catalog: Path) -> None:
    steps = lessons.plan(catalog, facts=[9, 3, 5, 8]).steps
    assert [half_of(s) for s in steps if half_of(s)] == [3, 5, 8, 9]


def shown_on(steps: tuple[Step, ...], slug: str) -> list[tuple[int, str]]:
    """(day, stage) of each showing of a picture; being asked "is it a double?" counts as seen."""
    first = {"is_it": "see"}
    return [(s.day, first.get(s.stages[0], s.stages[0])) for s in steps if s.slug == slug]


def test_mondays_picture_comes_back_on_wednesday_half_covered_and_on_friday_not_half(catalog: Path) -> None:
    """Seen, then covered, then not half (common practice: see-it days before cover-it days, revisit)."""
    steps = lessons.plan(catalog, facts=[3, 4, 5, 6, 7, 8], days=5).steps
    monday = [s.slug for s in steps if s.day == 1]
    assert len(monday) == 2
    for slug in monday:
        assert shown_on(steps, slug) == [(1, "see"), (3, "cover"), (5, "not_half")]
    new = {day: {s.slug for s in steps if s.day == day and "see" in s.stages} for day in range(1, 6)}
    assert new[2]
    assert new[3]  # what comes back is mixed with what is new
    wednesday = [bool({"cover", "not_half"} & set(s.stages)) for s in steps if s.day == 3]
    assert wednesday[:4] == [True, False, True, False]


@pytest.mark.parametrize("days", [1, 2, 3, 4, 5, 7, 10])
@pytest.mark.parametrize("minutes", [10, 15, 30])
def test_no_day_is_longer_than_its_minutes_and_none_is_empty(catalog: Path, days: int, minutes: int) -> None:
    plan = lessons.plan(catalog, days=days, minutes=minutes)
    load = Counter(step.day for step in plan.steps)
    assert set(load) == set(range(1, days + 1))
    assert max(load.values()) <= {10: 5, 15: 8, 30: 16}[minutes]
    for day in load:
        slugs = [s.slug for s in plan.steps if s.day == day and s.slug]
        assert len(set(slugs)) == len(slugs)
    stages = [(s.slug or s.frame, stage, s.hide, s.side) for s in plan.steps for stage in s.stages if stage == "see"]
    assert len(set(stages)) == len(stages)  # nothing is seen for the first time twice


@pytest.mark.parametrize("facts", [[5], [3, 5], [7, 11]])
def test_few_facts_fill_every_day_too(catalog: Path, facts: list[int]) -> None:
    plan = lessons.plan(catalog, facts=facts, days=5)
    assert {step.day for step in plan.steps} == {1, 2, 3, 4, 5}


def test_what_does_not_fit_waits_and_a_long_plan_warns(catalog: Path) -> None:
    short = lessons.plan(catalog, days=2)
    assert any("Another week" in r and "12+12=24" in r for r in short.remarks)
    named = lessons.plan(catalog, facts=list(range(1, 11)), days=1)
    assert {half_of(s) for s in named.steps} >= set(range(1, 11))
    assert any("Day 1 has 12 pictures: about 22 minutes" in r for r in named.remarks)
    long = Plan("en", tuple(Step(1, frame=n) for n in range(1, 11)))
    assert any("Day 1 has 10 pictures" in r for r in lessons.lesson(catalog, long, longer=320).remarks)


def test_seconds_follow_how_many_there_are_and_whether_they_lie_in_groups() -> None:
    assert seconds(2, 6, seen_as_groups=True) == 2
    assert seconds(2, 12, seen_as_groups=True) == 2.5
    assert seconds(2, 14, seen_as_groups=False) == 5
    assert seconds(1, 24, seen_as_groups=True) == 3
    assert seconds(0, 24, seen_as_groups=False) == 0
    assert seconds(3, 24, seen_as_groups=False) == 5  # 1 to 5 s (common practice)


def test_a_picture_without_a_name_is_said(tmp_path: Path) -> None:
    drawn.add(tmp_path, drawn.prompt("unsaid", drawn.two_rows(5), "slide", "", "", title="Porch"), drawn.two_rows(5))
    drawn.add(tmp_path, drawn.prompt("no-word", drawn.two_rows(3), "slide", "", "", title="Shed"), drawn.two_rows(3))
    said = [r for r in lessons.plan(tmp_path).remarks if "what are these?" in r]
    assert len(said) == 1  # once for all of them
    assert "Shed (3+3=6), Porch (5+5=10): what are these?" in said[0]


@pytest.mark.parametrize(("odd", "held"), [((), 8), (("shells",), 7), (("shells", "leaves"), 6)])
def test_a_place_is_kept_free_only_for_a_picture_that_comes(tmp_path: Path, odd: tuple[str, ...], held: int) -> None:
    """Eight pictures in fifteen minutes; shells are no double, leaves nearly one."""
    for half in range(1, 9):
        here = drawn.two_rows(half)
        drawn.add(tmp_path, drawn.prompt(f"eggs-{half}", here, "slide", "egg", "eggs"), here)
    for name in odd:
        here = drawn.parts(4, 6 if name == "shells" else 5)
        drawn.add(tmp_path, drawn.prompt(name, here, "none", name[:-1], name), here)
    plan = lessons.plan(tmp_path)
    assert {half_of(s) for s in plan.steps} - {0} == set(range(1, held + 1))
    assert len(plan.steps) == 8
    assert any("Another week" in r for r in plan.remarks) == (held < 8)


def test_the_object_changes_before_it_comes_again(catalog: Path) -> None:
    steps = lessons.plan(catalog, facts=[3, 4], days=2).steps
    assert {s.slug.split("-")[0] for s in steps if s.day == 1} == {"eggs", "buttons"}


def test_covers_that_are_not_half_are_mixed_in(catalog: Path) -> None:
    for seed in range(8):
        steps = lessons.plan(catalog, seed=seed).steps
        some = [s for s in steps if "not_half" in s.stages]
        assert len(some) >= 2
        assert all(s.hide != half_of(s) and 0 < s.hide < 2 * half_of(s) for s in some)
        assert any("cover" in s.stages for s in steps)


def test_one_picture_is_no_double_and_the_near_double_comes_last(catalog: Path) -> None:
    steps = lessons.plan(catalog, facts=[3, 5, 8]).steps
    assert [s.slug for s in steps if s.stages == ("is_it",)] == ["shells"]
    assert (steps[-1].slug, steps[-1].stages) == ("leaves", ("near",))
    assert any("is_it" in s.stages and half_of(s) for s in steps)  # so that "is it a double?" does not always mean no


def test_without_a_picture_that_is_no_double_the_plan_says_so(tmp_path: Path) -> None:
    drawn.add(tmp_path, drawn.prompt("eggs-3", drawn.two_rows(3), "slide", "egg", "eggs"), drawn.two_rows(3))
    found = lessons.plan(tmp_path)
    assert any("not a double" in r for r in found.remarks)
    assert found.steps[-1].stages == ("see", "cover", "not_half", "near")


def test_a_half_above_four_without_groups_does_not_come_early(tmp_path: Path) -> None:
    for n in (5, 8):
        drawn.add(tmp_path, drawn.prompt(f"eggs-{n}", drawn.two_rows(n), "slide", "egg", "eggs"), drawn.two_rows(n))
    steps = lessons.plan(tmp_path, facts=[5], days=2).steps
    assert steps[0].frame == 5
    later = next(s for s in steps if s.slug == "eggs-5")
    assert (later.day, later.stages[:2]) == (2, ("see", "cover"))
    drawn.add(
        tmp_path, drawn.prompt("buttons-8", drawn.two_blocks(8), "split", "button", "buttons"), drawn.two_blocks(8)
    )
    assert [s.slug for s in lessons.plan(tmp_path, facts=[5, 8]).steps] == ["buttons-8", "eggs-5"]


@pytest.mark.parametrize(
    ("places", "seen"),
    [(drawn.two_rows(7), False), (drawn.two_blocks(6), True), (drawn.two_blocks(9), True), (drawn.two_rows(4), True)],
)
def test_groups_inside_a_half(places: drawn.Places, seen: bool) -> None:
    assert grouped(drawn.prompt("x", places, "split", "egg", "eggs")) is seen


def test_a_hand_is_four_and_one() -> None:
    hand = [(0.1, 0.2), (0.15, 0.15), (0.2, 0.15), (0.25, 0.2), (0.4, 0.45)]
    dots = tuple(Dot(x + 0.5 * (side - 1), y, side, 0.03, 0.03) for side in (1, 2) for x, y in hand)
    assert grouped(Prompt("hands", "Hands", Fact(5), "flip", "hands.jpg", dots))


def test_a_fact_without_a_picture_is_said_and_its_ten_frame_stands_in(catalog: Path) -> None:
    found = lessons.plan(catalog, facts=[3, 11])
    assert [s.frame for s in found.steps if s.frame] == [11]
    assert any("11+11=22" in remark for remark in found.remarks)


def test_words_choose_the_pictures(catalog: Path) -> None:
    steps = lessons.plan(catalog, like="buttons").steps
    assert all(s.slug.startswith("buttons") for s in steps if half_of(s))


def test_the_same_seed_gives_the_same_plan_and_another_seed_another(catalog: Path) -> None:
    plans = {lessons.to_yaml(lessons.plan(catalog, seed=seed)) for seed in (1, 1, 2, 3, 4)}
    assert lessons.plan(catalog, seed=5) == lessons.plan(catalog, seed=5)
    assert len(plans) > 1


# ---- the plan file


def test_a_plan_read_back_is_the_same_plan(catalog: Path) -> None:
    for plan in (
        lessons.plan(catalog, facts=[3, 11], days=3, language="es", seed=4, show_seconds=1.5),
        lessons.plan(catalog),
    ):
        assert lessons.from_yaml(lessons.to_yaml(plan), "plan.yaml") == plan


def test_a_plan_run_again_gives_the_same_lesson(catalog: Path, made: lessons.Lesson, tmp_path: Path) -> None:
    path = lessons.write(made, tmp_path / "plan.yaml")
    again = lessons.lesson(catalog, lessons.read_plan(path), longer=480)
    assert [(s.asked, s.views.plain, s.views.cover, s.views.some) for s in again.scenes] == [
        (s.asked, s.views.plain, s.views.cover, s.views.some) for s in made.scenes
    ]


def test_a_plan_of_before_still_reads(catalog: Path) -> None:
    old = "format: 1\nlanguage: en\nfacts: [3]\nlike: ''\ndays: 2\nseed: 0\nshow_seconds: 2\nsteps:\n"
    old += "- {day: 1, prompt: eggs-3, stages: [see]}\n- {day: 2, frame: 3, stages: [see, cover], side: 2}\n"
    plan = lessons.from_yaml(old, "plan.yaml")
    assert (plan.minutes, len(plan.steps), plan.days) == (15, 2, 2)
    assert len(lessons.lesson(catalog, plan, longer=320).scenes) == 2


def test_other_words_for_a_thing_in_the_plan(catalog: Path) -> None:
    plan = Plan("es", (Step(1, "eggs-3", thing="la yema"),))
    assert (
        lessons.lesson(catalog, plan, longer=320).scenes[0].asked["see"].question
        == "¿Qué grupos de yemas viste? ¿Cuántas yemas hay en total?"
    )


BROKEN = {
    "steps: [": "line 1",
    "- 1": "named lines",
    "format: 1\nsteps: []": "no steps",
    "format: 2\nsteps: [{day: 1, frame: 3}]": "format",
    "format: 1\nstepz: []": "stepz",
    "format: 1\nsteps: [{day: one, frame: 3}]": "day",
    "format: 1\nsteps: [{day: 1}]": "neither",
    "format: 1\nsteps: [{day: 1, frame: 3, stages: [guess]}]": "stages",
    "format: 1\nsteps: [{day: 1, frame: 3, stages: [not_half]}]": "hide",
    "format: 1\nsteps: [{day: 1, frame: 44}]": "frame",
    "format: 1\nsteps: [{day: 2, prompt: a}, {day: 2, prompt: a}]": "twice on day 2",
    "format: 1\nminutes: 900\nsteps: [{day: 1, frame: 3}]": "900 minutes",
    "format: 1\nshow_seconds: 90\nsteps: [{day: 1, frame: 3}]": "90 seconds",
    "format: 1\nsteps: [yes]": "Step 1",
    "\x00": "YAML",
}


@pytest.mark.parametrize("text", BROKEN)
def test_a_broken_plan_is_told_where(text: str) -> None:
    with pytest.raises(LessonError, match=BROKEN[text]) as caught:
        lessons.from_yaml(text, "plan.yaml")
    assert all(caught.value.as_dict().values())


# ---- a lesson and its numbers


def test_what_shows_and_what_is_hidden_make_the_total(catalog: Path, made: lessons.Lesson) -> None:
    covered = [(scene, stage) for scene in made.scenes for stage in scene.stages if stage in ("cover", "not_half")]
    assert len(covered) >= 10
    for scene, stage in covered:
        assert scene.fact is not None
        assert scene.shown(stage) + scene.hidden(stage) == scene.fact.total
        assert _showing(catalog, scene, scene.covered(stage)) == scene.shown(stage)


def _showing(catalog: Path, scene: lessons.Scene, picture: bytes) -> int:
    """How many dots of the covered picture look as in the plain one."""
    plain, covered = (cv2.imdecode(np.frombuffer(b, np.uint8), 1).astype(int) for b in (scene.picture, picture))
    height, width = plain.shape[:2]
    assert scene.prompt is not None
    cut = pictures.opened(catalog, scene.prompt).prompt  # the pictures of a lesson are cut to what counts
    at = [(round(d.y * height), round(d.x * width)) for d in cut.dots if d.side]
    return sum(bool(np.abs(plain[r, c] - covered[r, c]).max() < 40) for r, c in at)


def test_no_alt_text_before_the_reveal_names_a_number(made: lessons.Lesson) -> None:
    for scene in made.scenes:
        if scene.fact:
            secret = (scene.fact.half, scene.fact.total, scene.hide)
            before = [alt for view, alt in scene.alts.items() if not view.endswith("after")]
            assert len(before) >= 6
            assert not any(tells(alt, *secret) for alt in before)
            assert tells(scene.alt_after, scene.fact.total)


def test_a_teachers_own_alt_text_is_kept_unless_it_gives_the_number_away(tmp_path: Path) -> None:
    for slug, words in (("kind", "An open box of eggs on the table"), ("telling", "Six eggs")):
        one = drawn.prompt(slug, drawn.two_rows(3), "slide", "egg", "eggs", alt_before=words)
        drawn.add(tmp_path, one, drawn.two_rows(3))
    both = lessons.lesson(tmp_path, Plan("en", (Step(1, "kind"), Step(1, "telling"))), longer=320).scenes
    assert [s.alt_before for s in both] == [
        "An open box of eggs on the table",
        "Photo of eggs in straight rows. Place: kitchen.",
    ]


def test_story_standards_stand_with_a_story_and_only_there(tmp_path: Path) -> None:
    for slug, name in (("named", "egg"), ("unnamed", "")):
        one = drawn.prompt(slug, drawn.two_rows(3), "slide", name, f"{name}s" if name else "")
        drawn.add(tmp_path, replace(one, title="Porch"), drawn.two_rows(3))
    found = lessons.lesson(tmp_path, Plan("en", (Step(1, "named"), Step(1, "unnamed"))), longer=320)
    told = [any(a.story for a in s.asked.values()) for s in found.scenes]
    assert told == [True, False]
    assert [any(x.code == "1.OA.A.1" for x in s.standards) for s in found.scenes] == told
    assert {x.code: n for x, n in found.standards()}["1.OA.A.1"] == [1]


def test_once_a_day_it_is_asked_why_the_number_suits(catalog: Path) -> None:
    made = lessons.lesson(catalog, lessons.plan(catalog, facts=[3, 4, 5], days=3), longer=240)
    asked = Counter(s.day for s in made.scenes if s.why[0])
    assert asked == {1: 1, 2: 1, 3: 1}
    assert any(s.why[0] == "Why can six be a double? Can seven be one too?" for s in made.scenes)


def test_the_answer_of_a_cover_shows_its_own_numbers(catalog: Path) -> None:
    """3 of 10 are hidden: the picture of the answer has 3 and 7 ringed, the ten frame 3 of 10 hollow."""
    step = Step(1, "eggs-5", stages=("not_half",), hide=3)
    (scene,) = lessons.lesson(catalog, Plan("en", (step,)), longer=480).scenes
    asked = scene.asked["not_half"]
    assert (asked.solved, asked.family[0]) == ("10 - 7 = 3", "10 - 3 = 7")
    assert "10\u00a0−\u00a03\u00a0=\u00a07" in asked.family_note
    assert scene.answer_view("not_half") == "hidden"
    assert scene.counters("not_half") == (7, 3, (5, 5), 3)
    assert "seven showed and three were under the cover" in scene.alt_answer("not_half")
    hidden = _covered_dots(catalog, scene, scene.view("some"))
    others = _covered_dots(catalog, scene, scene.view("other_some"))
    assert (len(hidden), len(others), hidden & others) == (3, 7, set())
    assert _ringed(catalog, scene, scene.view("hidden"), hidden) == {1: 3, 2: 7}


def _covered_dots(catalog: Path, scene: lessons.Scene, picture: bytes) -> set[int]:
    plain, covered = (cv2.imdecode(np.frombuffer(b, np.uint8), 1).astype(int) for b in (scene.picture, picture))
    height, width = plain.shape[:2]
    assert scene.prompt is not None
    dots = pictures.opened(catalog, scene.prompt).prompt.dots
    at = [(round(d.y * height), round(d.x * width)) for d in dots]
    return {n for n, (r, c) in enumerate(at) if np.abs(plain[r, c] - covered[r, c]).max() >= 40}


def _ringed(catalog: Path, scene: lessons.Scene, picture: bytes, hidden: set[int]) -> dict[int, int]:
    """How many things lie nearest to a line of each colour: 1 blue, 2 orange; by the pixels of the lines."""
    plain, pixels = (cv2.imdecode(np.frombuffer(b, np.uint8), 1).astype(int) for b in (scene.picture, picture))
    height, width = pixels.shape[:2]
    drawn_on = np.abs(plain - pixels).max(axis=2) > 40
    assert scene.prompt is not None
    dots = pictures.opened(catalog, scene.prompt).prompt.dots
    lines = {}
    for side, color in ((1, (181, 90, 0)), (2, (0, 98, 200))):  # BGR of blue and orange
        rows, columns = np.nonzero(drawn_on & (np.abs(pixels - color).max(axis=2) < 60))
        lines[side] = np.stack([columns, rows], axis=1)
        assert len(rows) > 50
    count = {1: 0, 2: 0}
    for n, d in enumerate(dots):
        far = {side: np.linalg.norm(at - (d.x * width, d.y * height), axis=1).min() for side, at in lines.items()}
        side = 1 if far[1] < far[2] else 2
        assert side == (1 if n in hidden else 2), (n, far)
        count[side] += 1
    return count


def test_a_picture_that_is_no_double_shows_its_pairs_and_the_one_left_over() -> None:
    dots = tuple(Dot(0.2 + 0.2 * (n % 3), 0.2 + 0.2 * (n // 3), 0, 0.05, 0.05) for n in range(9))
    found, left = pairs.partners(Prompt("eggs", "Eggs", None, "none", "eggs.jpg", dots))
    assert (len(found), len(left)) == (4, 1)
    assert sorted(i for pair in found for i in pair) + left != []
    assert len({i for pair in found for i in pair} | set(left)) == 9
    assert all(abs(dots[i].x - dots[j].x) + abs(dots[i].y - dots[j].y) < 0.21 for i, j in found)  # neighbours
    near = Prompt(
        "a", "A", None, "none", "a.jpg", tuple(Dot(0.1 + 0.1 * n, 0.3 if n < 4 else 0.6, 1 + (n > 3)) for n in range(9))
    )
    across, rest = pairs.partners(near)
    assert all({near.dots[i].side, near.dots[j].side} == {1, 2} for i, j in across)
    assert len(rest) == 1


def test_one_more_is_drawn_beside_the_double(catalog: Path) -> None:
    for step in (Step(1, "eggs-5", stages=("see", "near")), Step(1, frame=7, stages=("near",))):
        (scene,) = lessons.lesson(catalog, Plan("en", (step,)), longer=480).scenes
        plain, more = (cv2.imdecode(np.frombuffer(b, np.uint8), 1) for b in (scene.picture, scene.view("one_more")))
        assert more.shape[1::-1] == scene.size_of("one_more")
        assert more.shape[0] == plain.shape[0]
        photo, strip = more[:, : plain.shape[1]], more[:, plain.shape[1] :]
        assert np.abs(photo.astype(int) - plain).mean() < 2  # as large as it was, beside it what comes
        assert strip.std() > 8  # a plus sign and one of the things
        assert scene.asking_view("near") == scene.answer_view("near") == "one_more"
        assert scene.counters("near") is not None
        assert scene.counters("near").hollow == 1  # type: ignore[union-attr]


def test_standards_and_notice(made: lessons.Lesson) -> None:
    codes = {standard.code: found for standard, found in made.standards()}
    assert {"1.OA.B.4", "2.OA.C.3"} <= set(codes)
    for number in codes["1.OA.B.4"]:
        scene = made.scenes[number - 1]
        assert scene.fact is not None
        assert scene.fact.half <= 10  # totals past 20 are outside "within 20"
        assert {"cover", "not_half"} & set(scene.stages)
    assert made.notices() == [
        "© Copyright 2010. National Governors Association Center for Best Practices and Council of Chief State School "
        "Officers. All rights reserved."
    ]


# ---- what may go wrong


def test_an_empty_catalog(tmp_path: Path) -> None:
    with pytest.raises(CuratorError, match=r"no pictures yet|no catalog"):
        lessons.plan(tmp_path)


def test_nothing_matches(catalog: Path) -> None:
    with pytest.raises(LessonError, match='matches "submarine"'):
        lessons.plan(catalog, like="submarine")


@pytest.mark.parametrize(
    "more", [{"facts": [13]}, {"facts": [0]}, {"days": 0}, {"days": 99}, {"show_seconds": 9.0}, {"language": "tlh"}]
)
def test_choices_that_cannot_be(catalog: Path, more: dict[str, object]) -> None:
    with pytest.raises(LessonError):
        lessons.plan(catalog, **more)  # type: ignore[arg-type]


def test_a_plan_that_names_a_prompt_that_is_gone(catalog: Path) -> None:
    with pytest.raises(LessonError, match="gone-by-now"):
        lessons.lesson(catalog, Plan("en", (Step(1, "gone-by-now"),)))


@pytest.mark.parametrize(
    ("step", "said"),
    [
        (Step(1, "shells"), "no double"),
        (Step(1, "shells", stages=("near",)), "one away"),
        (Step(1, "eggs-3", stages=("not_half",), hide=3), "half of"),
        (Step(1, "eggs-3", stages=("not_half",), hide=6), "6 things"),
    ],
)
def test_stages_that_make_no_sense_for_a_picture(catalog: Path, step: Step, said: str) -> None:
    with pytest.raises(LessonError, match=said):
        lessons.lesson(catalog, Plan("en", (step,)))


@pytest.mark.parametrize("damage", ["missing", "empty", "text"])
def test_a_picture_that_is_missing_or_damaged(tmp_path: Path, damage: str) -> None:
    drawn.add(tmp_path, drawn.prompt("eggs-3", drawn.two_rows(3), "slide", "egg", "eggs"), drawn.two_rows(3))
    picture = tmp_path / "eggs-3.jpg"
    picture.unlink() if damage == "missing" else picture.write_bytes(b"" if damage == "empty" else b"no picture")
    with pytest.raises(LessonError, match=r"eggs-3\.jpg"):
        lessons.lesson(tmp_path, Plan("en", (Step(1, "eggs-3"),)))


@pytest.mark.parametrize("name", ["lesson.docx", "lesson", "no-such-folder/lesson.html"])
def test_a_name_that_no_lesson_can_have_leaves_nothing(made: lessons.Lesson, tmp_path: Path, name: str) -> None:
    with pytest.raises(LessonError):
        lessons.write(made, tmp_path / name)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("suffix", [".pptx", ".html", ".yaml"])
def test_a_failure_half_way_leaves_the_old_file_and_nothing_else(
    made: lessons.Lesson, tmp_path: Path, suffix: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / f"lesson{suffix}"
    path.write_bytes(b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(LessonError, match="No space left"):
        lessons.write(made, path)
    assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [(path.name, b"old")]


@pytest.mark.parametrize(("text", "found"), [("3,5,8", (3, 5, 8)), ("7+7, 8+8=16", (7, 8)), ("", ()), ("3 5", (3, 5))])
def test_facts_as_typed(text: str, found: tuple[int, ...]) -> None:
    assert halves(text) == found


def test_facts_that_are_none() -> None:
    with pytest.raises(LessonError, match=r"7\+8"):
        halves("7+8")


@pytest.mark.parametrize("thing", ['"egg" & <b>', "🥚", "בֵּיצָה", "egg\nbox", "x" * 300])
def test_odd_names_pass_through_every_output(tmp_path: Path, thing: str) -> None:
    folder = tmp_path / "catalog"
    one = drawn.prompt("odd", drawn.two_rows(3), "slide", "egg", "eggs")
    drawn.add(folder, one, drawn.two_rows(3))
    found = lessons.lesson(
        folder, Plan("en", (Step(1, "odd", stages=("see", "cover"), thing=thing, things=thing),)), longer=320
    )
    for suffix in (".pptx", ".html", ".yaml"):
        assert lessons.write(found, tmp_path / f"lesson{suffix}").stat().st_size > 100
    again = lessons.from_yaml(lessons.to_yaml(found.plan), "plan.yaml")
    assert again.steps == found.plan.steps


def test_a_licence_that_forbids_marks_is_said(tmp_path: Path) -> None:
    drawn.add(
        tmp_path,
        drawn.prompt("eggs-3", drawn.two_rows(3), "slide", "egg", "eggs", license="CC-BY-ND-4.0"),
        drawn.two_rows(3),
    )
    assert any("marks" in r for r in lessons.lesson(tmp_path, Plan("en", (Step(1, "eggs-3"),)), longer=320).remarks)


# ---- the command


def test_the_command_writes_what_it_says_and_names_what_to_know(catalog: Path, tmp_path: Path) -> None:
    outputs = [tmp_path / "lesson.html", tmp_path / "lesson.pptx", tmp_path / "plan.yaml"]
    typed = [
        "lesson",
        "--facts",
        "3,11",
        "--catalog",
        str(catalog),
        *(t for path in outputs for t in ("-o", str(path))),
    ]
    result = CliRunner().invoke(app, typed)
    assert result.exit_code == 0, result.output
    assert all(path.stat().st_size > 200 for path in outputs)
    assert "11+11=22 has no picture yet" in result.output
    again = CliRunner().invoke(
        app, ["lesson", "--plan", str(outputs[2]), "-c", str(catalog), "-o", str(tmp_path / "b.html")]
    )
    assert again.exit_code == 0, again.output
    assert (tmp_path / "b.html").read_bytes() == outputs[0].read_bytes()


def test_the_command_says_what_is_wrong_before_it_works(catalog: Path, tmp_path: Path) -> None:
    for typed in (
        ["-o", str(tmp_path / "x.docx")],
        ["-o", str(tmp_path / "x.pdf"), "--paper", "a3"],
        ["-o", str(tmp_path / "x.html"), "--facts", "7+8"],
    ):
        result = CliRunner().invoke(app, ["lesson", "-c", str(catalog), *typed])
        assert isinstance(result.exception, LessonError)
    assert list(tmp_path.iterdir()) == []


def test_a_step_is_a_prompt_or_a_frame() -> None:
    with pytest.raises(ValueError, match="both"):
        replace(Step(1, "eggs"), frame=3)


def test_why_a_number_suits_is_asked_of_another_number_each_day_if_it_can_be(tmp_path: Path) -> None:
    catalog = drawn.build(tmp_path / "catalog")
    steps = [Step(1, "eggs-3"), Step(2, "eggs-3", stages=("cover",)), Step(2, "eggs-4", stages=("cover",))]
    steps += [Step(3, "eggs-3"), Step(3, "eggs-4")]
    made = lessons.lesson(catalog, Plan("en", tuple(steps), days=3), longer=240)
    asked = [(scene.day, scene.fact and scene.fact.half) for scene in made.scenes if scene.why[0]]
    assert asked == [(1, 3), (2, 4), (3, 3)]  # on the third day both were: the first that is seen

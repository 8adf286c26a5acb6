"""The lesson's promises, for every prompt of the sample catalog in both languages; and wrong input through the
command.
"""

from __future__ import annotations

import re
import shutil
import sys
import zipfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import drawn_catalog as drawn
import pytest
import yaml
from pptx import Presentation
from pypdf import PdfReader

from curator import facts, numbers_in_text
from curator.catalog.store import folder as catalog
from curator.classroom import lesson as lessons
from curator.classroom.groups import is_near
from curator.classroom.plan import Plan, Step
from curator.classroom.text import language as grammar
from curator.classroom.text.questions import tells
from curator.classroom.text.titles import titled
from curator.classroom.writers import cards, page
from curator.cli import main
from curator.records import Prompt

CATALOG = Path(__file__).parents[2] / "catalog"
PROMPTS = {p.slug: p for p in catalog.every(CATALOG)}


def step(p: Prompt) -> Step:
    """Stages that the prompt can have: by turns a cover that is half, and one that is not with one more after it."""
    if p.fact is None:
        return Step(1, p.slug, stages=("is_it", "near") if is_near(p) else ("is_it",))
    some = p.fact.half + 1 if p.fact.half > 1 else 0
    if not some or sorted(PROMPTS).index(p.slug) % 2:
        return Step(1, p.slug, stages=("see", "cover"), side=1 + p.fact.half % 2)
    return Step(1, p.slug, stages=("see", "not_half", "near"), hide=some)


@cache
def _drawn_once(step: Step, prompt: Prompt | None) -> tuple[Any, tuple[str, ...]]:
    assert prompt is not None
    wanted = [(step.stages, step.side, step.hide)]
    return lessons.photo_views(CATALOG, prompt, wanted, 320)[0], ()


@pytest.fixture(scope="module", params=["en", "es"])
def made(request: pytest.FixtureRequest) -> lessons.Lesson:
    plan = Plan(request.param, tuple(map(step, PROMPTS.values())))
    return lessons.lesson(CATALOG, plan, made=_drawn_once)  # both languages show the same pictures


@pytest.fixture(scope="module")
def written(made: lessons.Lesson, tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("written")
    for suffix in (".pptx", ".html", ".pdf"):
        lessons.write(made, where / f"lesson{suffix}")
    return where


def asked(made: lessons.Lesson) -> Iterator[tuple[lessons.Scene, str, tuple[int, ...]]]:
    """Each scene and stage with the numbers that its question must not tell."""
    for scene in made.scenes:
        for stage in scene.stages:
            n = scene.asked[stage].numbers
            if stage in ("cover", "not_half"):
                yield scene, stage, (n["hidden"],)
            elif scene.fact is None or stage == "near":
                yield scene, stage, (n["sum"],)
            else:
                yield scene, stage, (n["half"], n["total"])


def test_the_catalog_is_worth_the_proof() -> None:
    assert len(PROMPTS) >= 30
    assert {p.fact.half for p in PROMPTS.values() if p.fact} == set(range(1, 13))


def test_shown_and_covered_are_the_total_for_every_prompt(made: lessons.Lesson) -> None:
    covered = [(s, stage) for s in made.scenes for stage in s.stages if stage in ("cover", "not_half")]
    bare = {slug for slug, p in PROMPTS.items() if p.fact} - {s.prompt.slug for s, _ in covered if s.prompt}
    not_half = {slug for slug in bare if "not_half" in step(PROMPTS[slug]).stages}
    assert not bare - not_half
    assert len(not_half) <= 4  # some of things that touch, likewise
    assert all(any(titled(made.language, PROMPTS[slug]) in line for line in made.remarks) for slug in bare)
    for scene, stage in covered:
        assert scene.prompt is not None
        assert scene.fact is not None
        assert (
            scene.shown(stage) + scene.hidden(stage)
            == scene.fact.total
            == scene.prompt.count(1) + scene.prompt.count(2)
        )
        assert (scene.hidden(stage) == scene.fact.half) == (stage == "cover")
        assert tells(scene.asked[stage].question, scene.fact.total)


def test_no_question_and_no_text_before_the_reveal_holds_the_answer(made: lessons.Lesson) -> None:
    for scene, stage, secret in asked(made):
        for view, text in scene.alts.items():
            assert view.endswith("after") or not tells(text, *secret), (text, secret)
        assert not tells(scene.asked[stage].question, *secret), scene.asked[stage].question
        if stage == "see":
            assert tells(scene.alt_after, secret[-1])


def test_no_question_slide_holds_the_answer(made: lessons.Lesson, written: Path) -> None:
    slides = iter(Presentation(str(written / "lesson.pptx")).slides)
    for scene, stage, secret in asked(made):
        question = scene.asked[stage].question
        slide: Any = next(s for s in slides if s.shapes.title.text_frame.text.replace("\v", " ") == question)
        texts = [shape.text_frame.text for shape in slide.shapes if shape.has_text_frame]
        texts += [shape.name for shape in slide.shapes]
        texts += [shape._element.nvPicPr.cNvPr.get("descr") for shape in slide.shapes if shape.shape_type == 13]
        assert not tells(" \n".join(texts), *secret), texts


def test_no_screen_of_the_page_tells_before_it_asks(made: lessons.Lesson, written: Path) -> None:
    """What a screen shows; the teacher's notes are on demand, in a list of their own."""
    steps = iter(page.steps_of(made))
    alts = [scene.alts for scene in made.scenes]
    for scene, stage, secret in asked(made):
        question = scene.asked[stage].question
        screen = next(s for s in steps if s["ask"].replace("\n", " ") == question)
        assert screen["scene"] == scene.number - 1
        shown = [screen["ask"], screen["said"], screen["small"], *screen["sums"], alts[screen["scene"]][screen["alt"]]]
        assert not tells(" \n".join(shown), *secret), shown
    title = re.search(r"<title>(.*?)</title>", (written / "lesson.html").read_text(encoding="utf-8"))
    assert title is not None
    assert not any(c.isdigit() for c in title[1])


def test_no_name_inside_the_files_holds_a_number_word(made: lessons.Lesson, written: Path) -> None:
    with zipfile.ZipFile(written / "lesson.pptx") as deck:
        names = [re.sub(r"\d+", "", name) for name in deck.namelist()]  # parts are numbered by their order
    for prompt in PROMPTS.values():
        assert not any(prompt.slug in name for name in names)
    assert not any(tells(name, *range(3, 25)) for name in names)


def test_cards_have_all_that_is_asked_and_the_credits_end_each_file(made: lessons.Lesson, written: Path) -> None:
    reader = PdfReader(written / "lesson.pdf")
    count = len(cards._cards(made))
    backs = " ".join(re.sub(r"\s+", " ", reader.pages[2 * n + 1].extract_text()) for n in range(-(-count // 6)))
    for scene, stage, _ in asked(made):
        assert scene.asked[stage].question.split(" ", 1)[0] in backs
    last_slide = list(Presentation(str(written / "lesson.pptx")).slides)[-1]
    slide_text = " ".join(shape.text_frame.text for shape in last_slide.shapes if shape.has_text_frame)
    html = (written / "lesson.html").read_text(encoding="utf-8")
    pdf = " ".join(reader.pages[-1].extract_text().split())
    for text in (slide_text, html, pdf):
        assert "CC0 1.0" in text
        assert "curator sample pictures" in text
    assert lessons.NOTICES[facts.CCSSM] in " ".join(
        " ".join(
            shape.text_frame.text
            for s in Presentation(str(written / "lesson.pptx")).slides
            for shape in s.shapes
            if shape.has_text_frame
        ).split()
    )
    assert lessons.NOTICES[facts.CCSSM] in html


def test_every_thing_of_the_catalog_has_a_word_in_each_language() -> None:
    for prompt in PROMPTS.values():
        for language in grammar.languages():
            assert grammar.is_known(language, prompt.thing, prompt.things), (language, prompt.thing)


def test_a_word_of_two_meanings_is_told() -> None:
    """A bulb of the garden and one of a lamp are two words in Spanish."""
    assert grammar.noun("es", "bulb", "bulbs") == ("bulbo", "bulbos", "m")
    assert grammar.noun("es", "light bulb") == ("bombilla", "bombillas", "f")
    plan = lessons.plan(CATALOG, facts=(7,), like="bulbs", language="es")
    assert any("«bulb»" in remark and "«bulbo»" in remark for remark in plan.remarks)
    assert not any("bulb”" in remark for remark in lessons.plan(CATALOG, facts=(7,), like="bulbs").remarks)


# ---- wrong input


def run(monkeypatch: pytest.MonkeyPatch, *typed: object) -> int:
    monkeypatch.setattr(sys, "argv", ["curator", *map(str, typed)])
    try:
        main()
    except SystemExit as end:
        return int(end.code or 0)
    return 0


@pytest.fixture
def small(tmp_path: Path) -> Path:
    where = tmp_path / "kept"
    for n in (2, 3):
        drawn.add(where, drawn.prompt(f"eggs-{n}", drawn.two_rows(n), "slide", "egg", "eggs"), drawn.two_rows(n))
    (tmp_path / "out").mkdir()
    return where


def _missing(where: Path, _: pytest.MonkeyPatch) -> list[str]:
    (where / "eggs-3.jpg").unlink()
    return []


def _damaged(where: Path, _: pytest.MonkeyPatch) -> list[str]:
    (where / "eggs-3.jpg").write_bytes((where / "eggs-3.jpg").read_bytes()[:300])
    return []


def _gone(where: Path, _: pytest.MonkeyPatch) -> list[str]:
    plan = where.parent / "plan.yaml"
    plan.write_text("format: 1\nsteps:\n- {prompt: long-gone, stages: [see]}\n", encoding="utf-8")
    return ["--plan", str(plan)]


def _empty(where: Path, _: pytest.MonkeyPatch) -> list[str]:
    for path in where.glob("eggs-*"):
        path.unlink()
    return []


def _lacking(where: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    words = where.parent / "wording"
    shutil.copytree(grammar.FOLDER, words)
    whole = yaml.safe_load((words / "en.yaml").read_text(encoding="utf-8"))
    del whole["follow_up"]["cover"]
    (words / "xx.yaml").write_text(yaml.safe_dump(whole), encoding="utf-8")
    monkeypatch.setattr(grammar, "FOLDER", words)
    monkeypatch.setitem(numbers_in_text.WORDS, "xx", numbers_in_text.WORDS["en"])
    return ["--language", "xx"]


def _unknown_language(where: Path, _: pytest.MonkeyPatch) -> list[str]:
    return ["--language", "tlh"]


def _no_catalog(where: Path, _: pytest.MonkeyPatch) -> list[str]:
    shutil.rmtree(where)
    return []


WRONG = {
    "missing": (_missing, "eggs-3"),
    "damaged": (_damaged, "eggs-3"),
    "gone": (_gone, "long-gone"),
    "empty": (_empty, "no pictures"),
    "lacking": (_lacking, "follow_up.cover"),
    "language": (_unknown_language, "tlh"),
    "no-catalog": (_no_catalog, "kept"),
}


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_is_said_in_three_sentences_and_nothing_is_written(
    name: str, small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil, said = WRONG[name]
    more = spoil(small, monkeypatch)
    out = small.parent / "out"
    targets = [word for suffix in ("pptx", "html", "pdf", "yaml") for word in ("-o", out / f"a.{suffix}")]
    assert run(monkeypatch, "lesson", "-c", small, *targets, *more) == 1
    told = capsys.readouterr()
    assert told.out == ""
    lines = [line for line in told.err.splitlines() if not line.startswith("  ")]  # commands that help are set in
    assert len(lines) == 3, told.err
    assert all(line.endswith((".", "!")) and len(line) < 160 for line in lines), lines
    assert said in told.err
    assert list(out.iterdir()) == []


@pytest.mark.parametrize("why", ["no such folder", "a file", "not allowed"])
def test_a_folder_that_cannot_be_written_is_said_before_any_work(
    why: str, small: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = small.parent / "out"
    bad = out / "nowhere" if why == "no such folder" else out
    if why == "a file":
        (out / "file").write_text("", encoding="utf-8")
        bad = out / "file"
    if why == "not allowed":
        allowed = lessons.os.access
        monkeypatch.setattr(lessons.os, "access", lambda path, how: how != lessons.os.W_OK and allowed(path, how))
    assert run(monkeypatch, "lesson", "-c", small, "-o", out / "fine.html", "-o", bad / "a.pdf") == 1
    assert len(capsys.readouterr().err.strip().splitlines()) == 3
    assert [path.name for path in out.iterdir()] == (["file"] if why == "a file" else [])


@pytest.mark.parametrize(
    "thing", ['egg "large"', "l'œuf", "🥚", "ביצה", "بيضة", "<b>egg</b>", "egg\u202egge", "e" * 200]
)
def test_odd_names_reach_every_output_whole(
    thing: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    where = tmp_path / "kept"
    drawn.add(where, drawn.prompt("odd", drawn.two_rows(3), "slide", thing, thing, title=thing[:60]), drawn.two_rows(3))
    targets = [tmp_path / f"a.{suffix}" for suffix in ("pptx", "html", "pdf", "yaml")]
    assert run(monkeypatch, "lesson", "-c", where, *(w for path in targets for w in ("-o", path))) == 0, (
        capsys.readouterr().err
    )
    assert all(path.stat().st_size > 100 for path in targets)
    assert PdfReader(targets[2]).pages[1].extract_text().strip()
    assert len(Presentation(str(targets[0])).slides) > 3

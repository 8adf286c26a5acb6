"""The lesson as a page, used in a real Chromium from a file, as a class would."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import drawn_catalog as drawn
import pytest

from curator.classroom import lesson as lessons
from curator.classroom.plan import Plan, Step
from curator.classroom.text.questions import label, tells
from curator.classroom.writers import page as pages
from curator.classroom.writers.sources import by_sentence

READY = "\n".join(by_sentence(label("en", "ready")))  # a sentence a line


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> lessons.Lesson:
    catalog = drawn.build(tmp_path_factory.mktemp("page") / "catalog")
    steps = (
        Step(1, "eggs-7", stages=("see", "cover", "near")),
        Step(1, "buttons-5", stages=("is_it", "not_half"), hide=3, thing="בֵּיצָה", things='"<b>ביצים'),
        Step(2, "shells", stages=("is_it",)),
        Step(2, frame=11, stages=("see", "cover")),
        Step(2, "leaves", stages=("near",)),
    )
    return lessons.lesson(catalog, Plan("en", steps, days=2, show_seconds=1), longer=480)


def test_the_page_needs_nothing_from_outside(made: lessons.Lesson) -> None:
    whole = pages.html(made)
    body = re.sub(r'<script type="application/json".*?</script>', "", whole, flags=re.S)
    assert not re.search(r"""(?:src|href|url)\s*[=(]\s*['"]?(?!data:)[a-z]+:""", body)
    assert "default-src 'none'" in whole
    assert "unsafe" not in whole
    assert "built-in" not in whole  # a template that names a dictionary's own method


def test_the_page_weighs_little_more_than_its_photos(made: lessons.Lesson) -> None:
    photos = sum(len(s.picture) for s in made.scenes)
    own = (
        sum(len((pages.FILES / name).read_bytes()) for name in (*pages.SCRIPTS, "page.css")) + 4 / 3 * 30_000
    )  # a typeface
    assert len(pages.html(made)) < 2.2 * photos + 60_000 * sum(len(s.stages) for s in made.scenes) + own


def test_the_title_is_no_answer(made: lessons.Lesson) -> None:
    assert "<title>Doubles</title>" in pages.html(made)


def test_each_stage_asks_then_answers_and_nothing_is_ringed_before(made: lessons.Lesson) -> None:
    steps = [s for s in pages.steps_of(made) if s["scene"] >= 0]
    for number, scene in enumerate(made.scenes):
        own = [s for s in steps if s["scene"] == number]
        answers = [n for n, s in enumerate(own) if s["answer"]]
        assert len(answers) == len(scene.stages)
        for stage, n in zip(scene.stages, answers, strict=True):
            answer = own[n]
            assert answer["view"] == scene.answer_view(stage)
            assert bool(answer["bond"]) == bool(answer["frame"]) == (scene.counters(stage) is not None)
            assert not answer["bond"] or scene.asked[stage].solved.split(" = ")[1] in answer["bond_alt"]
            assert [f.replace("\xa0", " ").replace("−", "-") for f in answer["family"]] == list(
                scene.asked[stage].family
            )
        asking = [s for s in own if not s["answer"] and s["alt"] not in ("after", "not_half_after")]
        assert {s["view"] for s in asking} <= {"plain", "cover", "some", "one_more"}
        assert all(s["other"] for s in asking if s["view"] in ("cover", "some"))  # the other side of every cover
        if scene.stages[0] in ("see", "is_it"):
            assert own[0]["seconds"] == scene.seconds > 0
    first = next(n for n, s in enumerate(made.scenes) if s.stages[0] == "is_it")
    after = [s for s in steps if s["scene"] == first][1]
    assert after["ask"].replace("\n", " ") == made.scenes[first].asked["is_it"].partners  # neutral


# ---- in a browser


@pytest.fixture
def page(browser: Any, made: lessons.Lesson, tmp_path: Path) -> Iterator[Any]:
    path = lessons.write(made, tmp_path / "lesson.html")
    context = browser.new_context(viewport={"width": 1280, "height": 720}, has_touch=True)
    context.set_offline(True)
    tab = context.new_page()
    said: list[str] = []
    tab.on("console", lambda message: said.append(message.text))
    tab.on("pageerror", lambda error: said.append(str(error)))
    tab.goto(path.as_uri())
    yield tab
    context.close()
    assert said == []


def seen(tab: Any) -> str:
    """What the class can read, and what a screen reader says of the pictures."""
    alts = tab.eval_on_selector_all(
        "img", "all => all.filter(i => !i.hidden && i.checkVisibility()).map(i => i.alt).join(' ')"
    )
    return f"{tab.inner_text('main')} {alts} {tab.title()}"


def on(tab: Any) -> None:
    """To the next step, through Look where the picture waits for it."""
    tab.keyboard.press("PageDown")
    if tab.inner_text("#ask") == READY:
        tab.keyboard.press("PageDown")


def steps_of(made: lessons.Lesson) -> list[dict[str, Any]]:
    return pages.steps_of(made)


@pytest.mark.browser
def test_a_timed_picture_shows_hides_and_shows_again(page: Any, made: lessons.Lesson) -> None:
    page.select_option("#seconds", "1", force=True)
    page.click("text=Start")
    page.keyboard.press("PageDown")  # the day
    assert page.inner_text("#ask") == READY
    assert page.is_hidden("#photo")
    page.keyboard.press("PageDown")
    assert page.is_visible("#photo")
    page.wait_for_selector("#photo", state="hidden", timeout=4000)
    assert page.inner_text("#ask").replace("\n", " ") == made.scenes[0].asked["see"].question
    page.click("text=Show again")
    assert page.is_visible("#photo")
    page.wait_for_selector("#photo", state="hidden", timeout=4000)
    page.click("text=Keep it on")
    page.wait_for_timeout(1300)
    assert page.is_visible("#photo")


@pytest.mark.browser
def test_no_question_shows_its_answer_and_the_equation_comes_last(page: Any, made: lessons.Lesson) -> None:
    page.select_option("#seconds", "0", force=True)
    for number, step in enumerate(steps_of(made)):
        if number:
            on(page)
        if step["scene"] < 0 or step["answer"] or step["alt"].endswith("after"):
            continue
        scene = made.scenes[step["scene"]]
        secret = (
            (scene.asked[scene.stages[0]].numbers["sum"],)
            if scene.fact is None
            else (scene.fact.half, scene.fact.total)
        )
        if step["view"] == "cover":
            secret = secret[:1]
        elif step["view"] == "some":
            secret = (scene.hide,)
        assert not tells(seen(page), *secret), seen(page)
    assert "CC0 1.0" in page.inner_text("#sources")
    assert "© Copyright 2010" in page.inner_text("#sources")


@pytest.mark.browser
def test_either_half_can_be_covered_and_the_answer_shown(page: Any, made: lessons.Lesson) -> None:
    page.select_option("#seconds", "0", force=True)
    while page.is_hidden("#cover2"):
        page.keyboard.press("ArrowRight")
    assert page.is_visible("#over")
    upper = page.locator("#over").bounding_box()
    page.click("text=Cover the other side")
    lower = page.locator("#over").bounding_box()
    assert abs(upper["y"] - lower["y"]) > upper["height"]  # the two halves are rows, one above the other
    assert page.get_attribute("#cover2", "aria-pressed") == "true"
    page.click("text=Cover the other side")
    assert page.is_hidden("#over")
    page.keyboard.press("r")
    assert "14 − 7 = 7" in page.inner_text("#sums").replace("\xa0", " ")
    assert page.get_attribute("#photo", "alt") == made.scenes[0].alt_after
    page.keyboard.press("PageUp")
    assert page.is_hidden("#sums")


@pytest.mark.browser
def test_touch_goes_on(page: Any) -> None:
    page.tap("#next")
    page.tap("#next")
    page.tap("#board")
    assert page.is_visible("#photo")


@pytest.mark.browser
def test_notes_have_a_window_of_their_own_and_are_never_on_the_class_s_screen(page: Any, made: lessons.Lesson) -> None:
    page.select_option("#seconds", "0", force=True)
    with page.expect_popup() as opened:
        page.click("text=Notes")
    desk = opened.value
    for _ in range(2):
        on(page)
    page.wait_for_selector("#photo:visible")
    asked = made.scenes[0].asked["see"]
    desk.get_by_role("heading", name=asked.question).wait_for()
    notes = desk.inner_text("main")
    assert all(a.says in notes and a.shows in notes for a in asked.answers)
    assert not any(a.shows in page.inner_text("body") for a in asked.answers)
    assert re.search(r"Lesson \d+:\d\d", desk.inner_text("#clock"))
    assert desk.locator(".thumb img").count() >= 2  # now, and what comes next
    desk.get_by_role("button", name="Next").click()  # she goes on from there
    assert page.inner_text("#ask").replace("\n", " ") == asked.follow_up
    desk.keyboard.press("PageUp")
    assert page.inner_text("#ask").replace("\n", " ") == asked.question
    with desk.expect_event("close"):  # her window goes with the lesson
        page.goto("about:blank")


@pytest.mark.browser
def test_her_window_tells_what_the_class_sees_and_what_comes_with_next(page: Any, made: lessons.Lesson) -> None:
    question = made.scenes[0].asked["see"].question
    with page.expect_popup() as opened:
        page.click("text=Notes")
    desk = opened.value
    desk.set_viewport_size({"width": 1280, "height": 500})
    for _ in range(2):
        page.keyboard.press("PageDown")
    desk.get_by_role("button", name="Look").wait_for()  # her button says what the class's says
    assert desk.inner_text("#now").replace("\n", " ") == READY.replace("\n", " ")
    desk.locator("#then img").first.wait_for()
    desk.evaluate("scrollTo(0, 120)")
    desk.get_by_role("button", name="Look").click()
    desk.locator("#now img").first.wait_for()
    assert desk.inner_text("#then") == question
    desk.locator("#then img").first.wait_for(timeout=8000)  # the picture has left by itself
    assert desk.inner_text("#now") == question
    assert desk.evaluate("scrollY") == 120  # the same notes: they stay where she has scrolled them
    assert f"Picture 1 of {len(made.scenes)}" in desk.inner_text("#note")
    page.select_option("#seconds", "0", force=True)
    while page.is_hidden("#cover1"):
        on(page)
    desk.locator("#now img").nth(1).wait_for()  # the cover lies on hers too, and goes with the class's
    page.keyboard.press("c")
    assert desk.locator("#now img").count() == 1


@pytest.mark.browser
def test_a_click_on_a_button_does_not_hold_the_controls_on_the_wall(page: Any) -> None:
    page.click("text=Start")
    page.click("text=Next")
    page.keyboard.press("PageDown")
    page.wait_for_selector("body.still", timeout=6000)
    page.keyboard.press("Shift+Tab")  # with keys one sees where one is
    assert page.locator("body.still").count() == 0
    page.wait_for_timeout(2700)
    assert page.locator("body.still").count() == 0


@pytest.mark.browser
def test_the_controls_are_away_until_the_pointer_moves(page: Any) -> None:
    page.wait_for_timeout(2700)  # the start waits as long as it likes; then a clicker alone goes on
    on(page)
    page.wait_for_selector("body.still", timeout=6000)
    page.wait_for_timeout(400)  # it fades
    assert page.evaluate("getComputedStyle(document.getElementById('bar')).opacity") == "0"
    on(page)
    assert page.locator("body.still").count() == 1  # a clicker brings no controls
    page.mouse.move(320, 310)
    assert page.locator("body.still").count() == 0
    page.keyboard.press("b")
    assert page.is_hidden("#board")
    page.keyboard.press("b")
    assert page.is_visible("#board")


@pytest.mark.browser
def test_a_cover_is_there_with_its_button_and_nothing_shows_before_look(page: Any) -> None:
    """Every frame that the browser paints is asked: no picture without its cover, none before Look."""
    page.evaluate(
        """() => { window.bad = []; window.frames_seen = 0; let looked = false;
        const look = (e) => { if (e.target.textContent === "Look") looked = true; };
        document.getElementById("next").addEventListener("click", look, true);
        const watch = () => { window.frames_seen++;
          const photo = document.getElementById("photo"), over = document.getElementById("over");
          const pressed = (b) => b.checkVisibility() && b.ariaPressed === "true";
          const on = ["cover1", "cover2"].some((id) => pressed(document.getElementById(id)));
          const covered = over.checkVisibility() && over.complete && over.naturalWidth;
          if (on && !covered) bad.push("no cover");
          if (photo.checkVisibility() && !looked) bad.push("before Look");
          if (photo.checkVisibility() && !(photo.complete && photo.naturalWidth)) bad.push("half a picture");
          requestAnimationFrame(watch); };
        requestAnimationFrame(watch); }"""
    )
    page.select_option("#seconds", "0", force=True)
    for _ in range(40):
        page.evaluate("document.getElementById('next').click()")
        for key in ("c", "o", "o", "c") if page.is_visible("#cover2") else ():
            page.keyboard.press(key)
            page.wait_for_timeout(30)
    assert page.evaluate("frames_seen") > 20
    assert page.evaluate("bad") == []


@pytest.mark.browser
def test_names_from_right_to_left_stand_in_bdi_and_nothing_typed_is_markup(page: Any) -> None:
    page.select_option("#seconds", "0", force=True)
    while '"<b>ביצים' not in page.locator("#words bdi").all_inner_texts():
        assert page.is_enabled("#next")
        on(page)
        page.wait_for_timeout(100)  # its picture is made ready first
    assert page.locator("#words b").count() == 0


@pytest.mark.browser
def test_paper_has_the_questions_first_and_the_answers_on_pages_of_their_own(page: Any, made: lessons.Lesson) -> None:
    page.emulate_media(media="print")
    assert page.is_hidden("#room")
    sheets = page.locator("#paper > section")
    sheets.last.wait_for()  # paper is made beside, picture by picture
    assert sheets.count() == len(made.scenes) + 2
    for number, scene in enumerate(made.scenes):
        if scene.fact:
            assert not tells(sheets.nth(number).inner_text(), scene.fact.half, scene.fact.total)
    assert "Fourteen: seven and seven." in sheets.nth(len(made.scenes)).inner_text()


@pytest.mark.browser
@pytest.mark.parametrize("size", [(1280, 720), (390, 844)])
def test_no_state_violates_the_accessibility_rules(page: Any, made: lessons.Lesson, size: tuple[int, int]) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is missing").Axe()
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.emulate_media(reduced_motion="reduce")  # nothing is looked at while it fades

    def clean(where: str) -> None:
        broken = [(v["id"], v["nodes"][0]["html"][:120]) for v in axe.run(page).response["violations"]]
        assert broken == [], where
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0], where

    clean("start")
    for n in range(2 * len(made.scenes) + 30):
        page.keyboard.press("PageDown")
        state = page.get_attribute("body", "data-state")
        page.wait_for_timeout(100)  # words give way once the small pictures beside them have come
        clean(f"{n} {state}")
        if n in (2, 6):
            page.keyboard.press("m")
            clean(f"{n} more")
            page.keyboard.press("Escape")
        if page.is_disabled("#next"):
            break
    assert page.is_visible("#sources")


@pytest.mark.browser
@pytest.mark.parametrize("size", [(1920, 1080), (1280, 720), (390, 844)])
def test_targets_are_large_and_the_picture_fills_its_place(page: Any, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.select_option("#seconds", "0", force=True)
    on(page)
    boxes = [b.bounding_box() for b in page.locator("#bar button:visible").all()]
    assert all(b["height"] >= 44 and b["width"] >= 44 for b in boxes)  # WCAG 2.2, 2.5.5
    on(page)
    page.locator("#photo").wait_for()
    photo = page.locator("#photo").bounding_box()
    assert photo["width"] > 0.98 * size[0] or photo["height"] > 0.8 * size[1]
    assert photo["x"] >= 0
    assert photo["x"] + photo["width"] <= size[0] + 1


@pytest.mark.browser
@pytest.mark.parametrize("size", [(1280, 800), (1366, 768), (1920, 1080)])
def test_no_word_of_an_answer_lies_under_the_controls(page: Any, made: lessons.Lesson, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.mouse.move(5, 5)
    lowest = "Math.max(...[...document.querySelectorAll('#words *')].map(e => e.getBoundingClientRect().bottom))"
    looked = 0
    for step in steps_of(made)[:40]:
        if step["answer"] and page.get_attribute("body", "data-way") == "side":
            looked += 1
            assert page.evaluate(lowest) <= page.evaluate("document.getElementById('bar').getBoundingClientRect().top")
        on(page)
    assert looked >= 2


@pytest.mark.browser
def test_on_a_phone_no_button_lies_under_the_picture_and_an_answer_can_be_read(page: Any) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.select_option("#seconds", "0", force=True)
    answers = 0
    while page.is_enabled("#next"):
        on(page)
        page.wait_for_timeout(100)  # the small pictures beside the words come a moment later
        if page.is_visible("#photo"):
            photo, bar = page.locator("#photo").bounding_box(), page.locator("#bar").bounding_box()
            assert photo["y"] + photo["height"] <= bar["y"] + 1
        if page.is_visible("#ways"):
            answers += 1
            assert float(page.evaluate("parseFloat(getComputedStyle(document.getElementById('ways')).fontSize)")) >= 16
    assert answers > 3


@pytest.mark.browser
def test_a_picture_with_nothing_but_a_cover_that_fails_is_seen_once_more(
    browser: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page learns only when it fetches a picture that its cover cannot be laid; none may be skipped for that."""
    catalog = drawn.build(tmp_path / "catalog")
    plan = Plan("en", (Step(1, "eggs-3", stages=("cover",)), Step(1, "eggs-4", stages=("cover",))))
    made = lessons.lesson(catalog, plan, longer=320)
    failed = replace(made.scenes[0], views=replace(made.scenes[0].views, unclean=("cover", "other_cover")))
    steps, showings = pages.steps_of, pages.showings
    monkeypatch.setattr(pages, "steps_of", lambda lesson, made: steps(lesson, made=False))
    monkeypatch.setattr(pages, "showings", lambda scene, made: showings(scene, made=False))
    (tmp_path / "lesson.html").write_text(pages.html(replace(made, scenes=(failed, made.scenes[1]))), encoding="utf-8")
    tab = browser.new_page()
    tab.goto((tmp_path / "lesson.html").as_uri())
    asked = []
    for _ in range(12):
        on(tab)
        asked.append((tab.inner_text("#ask").replace("\n", " "), tab.is_visible("#photo")))
    tab.close()
    questions = [scene.asked["cover"].question for scene in made.scenes]
    assert questions[0] not in dict(asked)
    assert any(shown for _, shown in asked[:2])
    assert [words for words, _ in asked].count(made.scenes[0].asked["see"].follow_up) == 1  # not for the second too
    assert questions[1] in dict(asked)

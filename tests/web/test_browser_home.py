"""Home, the lesson, the class view, Find and Share in a real browser, looked over in every state."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from curator.catalog import bundle
from curator.catalog.store import folder as catalog
from curator.web import inbox, lesson_file
from tests.catalog_made import picture_bytes, prompt_of
from tests.web_kit import MARKS, SAMPLES, accessible, accessible_in_both, served, tab

pytestmark = MARKS
PICKED = ("buttons", "eggs", "boots")


TOO_SMALL = """() => [...document.querySelectorAll(
    "main button, main summary, main select, main label:has(input), main .button, .tile > a, nav a")]
    .filter((e) => !e.matches(".skip") && e.offsetWidth && (e.offsetHeight < 44 || e.offsetWidth < 44))
    .map((e) => `${e.textContent.trim()} ${e.offsetWidth} x ${e.offsetHeight}`)"""  # for a finger (WCAG 2.2, 2.5.5)


def pick(here: Path) -> None:
    """The lesson as it is when three pictures were added by hand."""
    (here / ".inbox" / "lesson.yaml").unlink(missing_ok=True)
    lesson_file.save(here, PICKED)


def test_an_empty_catalog_says_what_to_photograph_and_photos_may_be_dropped_anywhere(
    browser: Any, tmp_path: Path
) -> None:
    with served(tmp_path / "none") as (address, site), tab(browser) as page:
        page.goto(address)
        page.get_by_role("heading", name="What to photograph first").wait_for()
        assert page.locator(".first .card").count() == 3
        assert "Two open hands" in page.locator(".first").inner_text()
        assert page.locator(".first .card", has_text="egg").count() == 2  # what lies in every kitchen, not a guitar
        assert page.locator("table").count() == 0
        accessible(page)
        handed = page.evaluate_handle(
            "(bytes) => { const d = new DataTransfer(); d.items.add(new File([new Uint8Array(bytes)], "
            "'dropped.jpg', { type: 'image/jpeg' })); return d; }",
            list((SAMPLES / "three-mugs.jpg").read_bytes()),
        )
        page.dispatch_event("main", "drop", {"dataTransfer": handed})
        page.wait_for_url("**/photos")
        page.get_by_text("dropped.jpg").first.wait_for()
        for _ in range(200):
            if inbox.every(site.catalog):
                break
            page.wait_for_timeout(50)
        assert [item["name"] for item in inbox.every(site.catalog)] == ["dropped.jpg"]


def test_home_makes_the_lesson_that_was_asked_for(browser: Any, full: Any, kept: Path) -> None:
    with tab(browser) as page:
        page.goto(full[0])
        assert page.locator(".tile").count() == 12
        for half in (3, 5, 6):
            page.locator(".tile", has_text=re.compile(rf"^\s*{half}\+{half}")).locator("label").click()
        page.get_by_text("3 facts").wait_for()
        page.get_by_label("Days").select_option("2")
        page.get_by_label("Language").select_option("es")
        page.get_by_label("some covers that are not half").uncheck()
        page.get_by_role("button", name="Make lesson").click()
        page.wait_for_url("**/lesson")
        plan, keys, _ = lesson_file.plan(kept)
        assert plan.language == "es"
        assert plan.facts == (3, 5, 6)
        assert {step.day for step in plan.steps} == {1, 2}
        assert not any(step.hide for step in plan.steps)
        assert page.locator("#order li").count() == len(keys)
        assert page.get_by_text("Day 2").first.is_visible()
        accessible(page)
        page.go_back()
        assert page.locator("[name=fact]:checked").count() == 3
        page.goto(full[0])
        page.get_by_text("The facts of your last lesson are still ticked.").wait_for()
        assert page.locator("[name=fact]:checked").count() == 3
        accessible(page)
        page.get_by_role("button", name="None").click()
        assert page.locator("[name=fact]:checked").count() == 0
        assert page.locator("#was").is_hidden()
        assert page.locator(".picked").inner_text() == ""
        assert page.evaluate("document.activeElement.name") == "fact"


def test_a_phone_shows_what_is_chosen_first_before_the_tiles(browser: Any, full: Any) -> None:
    with tab(browser, "phone") as page:
        page.goto(full[0])
        first = page.locator(".tile").first.bounding_box()
        for label in ("Days", "Language"):
            box = page.get_by_label(label).bounding_box()
            assert box["y"] + box["height"] < first["y"] < 600
        assert page.locator(".tile").nth(2).bounding_box()["y"] == first["y"]  # three beside each other
        for tile in page.locator(".tile").all():  # its tick lies on no word and on no picture
            shown, tick = tile.locator(".idea, img").bounding_box(), tile.locator("input").bounding_box()
            fact = tile.locator(".fact").evaluate("e => { const r = document.createRange(); r.selectNodeContents(e);"
                                                  " return r.getBoundingClientRect().right; }")  # fmt: skip
            assert shown["y"] + shown["height"] <= tick["y"]
            assert fact <= tick["x"]


def test_a_lesson_is_put_in_order_by_mouse_finger_and_keys(browser: Any, full: Any, kept: Path) -> None:
    pick(kept)
    with tab(browser, "phone") as page:
        page.goto(f"{full[0]}/lesson")
        assert [r.get_attribute("data-key") for r in page.locator("#order li").all()] == list(PICKED)

        def saved(*order: str) -> None:
            for _ in range(100):
                if lesson_file.keys(kept) == list(order):
                    return
                page.wait_for_timeout(50)
            raise AssertionError(lesson_file.keys(kept))

        rows = page.locator("#order li")
        page.locator(".grip").nth(0).hover()
        page.mouse.down()
        low = rows.nth(2).bounding_box()
        for y in (low["y"], low["y"] + low["height"] - 6, low["y"] + low["height"] - 5):
            page.mouse.move(low["x"] + 40, y)
        page.mouse.up()
        saved("eggs", "boots", "buttons")
        page.locator(".grip").nth(2).focus()
        page.keyboard.press("ArrowUp")
        saved("eggs", "buttons", "boots")
        assert page.evaluate("document.activeElement.className") == "grip scripted"
        page.get_by_role("button", name="Move Buttons up").click()
        saved("buttons", "eggs", "boots")
        assert "1 of 3" in page.locator("#moved").text_content()
        touch(page, page.locator(".grip").nth(0), page.locator("#order li").nth(1))
        saved("eggs", "buttons", "boots")
        page.reload()
        assert [r.get_attribute("data-key") for r in rows.all()] == ["eggs", "buttons", "boots"]


def touch(page: Any, start: Any, end: Any) -> None:
    """A finger's drag, as the browser's own input has it."""
    one, other = start.bounding_box(), end.bounding_box()
    session = page.context.new_cdp_session(page)
    at = [one["x"] + one["width"] / 2, one["y"] + one["height"] / 2]
    bottom = other["y"] + other["height"] - 8
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": at[0], "y": at[1]}]})
    for part in (0.3, 0.6, 0.9, 1.0):
        y = at[1] + part * (bottom - at[1])
        session.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": at[0], "y": y}]})
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_a_download_says_how_far_it_is(browser: Any, full: Any, kept: Path) -> None:
    pick(kept)
    with tab(browser) as page:
        page.goto(f"{full[0]}/lesson")
        with page.expect_download() as got:
            page.get_by_role("link", name="Slides").click()
        assert got.value.path().stat().st_size > 10_000
        assert page.get_by_text("The file comes now.").is_visible()
        assert page.locator("#making progress").evaluate("e => e.value") == 1
        accessible(page)


@pytest.mark.parametrize("size", ["desktop", "old", "wall"])
def test_the_class_view_is_one_document_and_fills_the_screen(browser: Any, full: Any, kept: Path, size: str) -> None:
    pick(kept)
    with tab(browser, size) as page:
        loads: list[str] = []
        page.goto(f"{full[0]}/show")
        page.on("framenavigated", lambda frame: loads.append(frame.url))
        width, height = page.viewport_size["width"], page.viewport_size["height"]
        page.get_by_role("button", name="Full screen").click()
        shares, scenes = [], set()
        for _ in range(40):
            page.keyboard.press("PageDown")
            if page.inner_text("#next") == "Look":
                assert page.is_hidden("#photo")
                page.keyboard.press("PageDown")
                page.locator("#photo").wait_for()
                silent = page.locator("#photo").bounding_box()
                assert silent["height"] > height - 2 or silent["width"] > width - 2
                page.keyboard.press("k")
            if page.get_attribute("body", "data-state") == "picture":
                box, words = page.locator("#photo").bounding_box(), page.locator("#words").bounding_box()
                shares.append(box["width"] * box["height"] / (width * height))
                scenes.add(page.get_attribute("#photo", "src"))
                assert box["x"] >= 0
                assert box["y"] + box["height"] <= height + 1
                assert box["x"] + box["width"] <= words["x"] + 1 or words["y"] + words["height"] <= box["y"] + 1
                fits = "(e => e.scrollHeight <= e.clientHeight + 1)(document.getElementById('words'))"
                for _ in range(20):  # words give way once the small pictures beside them have come
                    if page.evaluate(fits):
                        break
                    page.wait_for_timeout(100)
                assert page.evaluate(fits)
            if page.is_disabled("#next"):
                break
        assert len(scenes) == 3
        assert min(shares) > 0.5, shares  # most of the screen; the rest is the question
        assert loads == []
        assert page.evaluate("document.fullscreenElement !== null")  # it lasts
        assert page.is_visible("#sources")


def test_the_next_picture_is_there_before_it_is_asked_for(browser: Any, full: Any, kept: Path) -> None:
    pick(kept)
    with tab(browser) as page:
        asked: list[str] = []
        page.on("request", lambda r: asked.append(r.url) if "/show/made/" in r.url else None)
        page.goto(f"{full[0]}/show")
        page.keyboard.press("PageDown")
        page.keyboard.press("PageDown")
        page.locator("#photo").wait_for()
        page.wait_for_function("pictures.prepare(1).then(() => true)")
        before = len(asked)
        page.keyboard.press("r")
        page.keyboard.press("PageDown")
        page.keyboard.press("PageDown")  # Look: at once, from what is there
        assert page.is_visible("#photo")
        assert {url.split("/")[5] for url in asked[:before]} >= {page.get_attribute("#photo", "src").split("/")[3]}


def test_every_view_by_key_and_by_button_and_notes_elsewhere(browser: Any, full: Any) -> None:
    with tab(browser) as page:
        page.goto(f"{full[0]}/show/eggs")
        page.select_option("#seconds", "0", force=True)
        with page.expect_popup() as opened:
            page.keyboard.press("n")
        for _ in range(2):
            page.keyboard.press("PageDown")
        page.locator("#photo").wait_for()
        seen = set()
        for key, button in (("d", "Dots"), ("h", "Rings"), ("t", "Counters")):
            page.keyboard.press(key)
            assert page.get_by_role("button", name=button).get_attribute("aria-pressed") == "true"
            assert not re.search(r"\d", page.locator("#photo").get_attribute("alt"))
            seen.add(page.locator("#picture").screenshot())
            accessible(page)
            page.mouse.move(200, 200 + len(seen))  # brings the controls
            page.get_by_role("button", name=button).click()
        assert len(seen) == 3
        desk = opened.value
        desk.get_by_role("heading", name="For the teacher").wait_for()
        desk.get_by_text("Listen for").first.wait_for()
        assert "Listen for" not in page.inner_text("main")
        assert desk.title() == "For the teacher"
        accessible(desk)
        page.keyboard.press("b")
        assert not page.locator("#photo").is_visible()
        page.keyboard.press("Escape")
        assert page.locator("#photo").is_visible()


@pytest.mark.parametrize("size", ["desktop", "phone", "zoomed"])
def test_every_page_is_clean_and_nothing_scrolls_sideways(browser: Any, full: Any, kept: Path, size: str) -> None:
    address, _ = full
    pick(kept)
    pages = (
        "/",
        "/find",
        "/find?q=zebra",
        "/prompts/eggs",
        "/prompts/eggs?kept=1",
        "/lesson",
        "/share",
        "/bin",
        "/phone",
        "/pair",
        "/show",
        "/prompts/nowhere",
    )
    with tab(browser, size) as page:
        for path in pages:
            page.goto(address + path)
            accessible_in_both(page)
            if size == "phone":
                assert not page.evaluate(TOO_SMALL), path


def test_pack_and_receive(browser: Any, full: Any, kept: Path, tmp_path: Path) -> None:
    theirs = tmp_path / "theirs"
    with tab(browser) as page, served(theirs) as (there, _):
        page.goto(f"{full[0]}/share")
        page.get_by_label("Words, as in Find").fill("eggs")
        page.get_by_role("button", name="Pack").click()
        page.get_by_text(re.compile(r"Packed: \d+ picture")).wait_for()
        accessible(page)
        with page.expect_download() as got:
            page.get_by_role("link", name="Download the bundle").click()
        file = tmp_path / "set.zip"
        got.value.save_as(file)
        for said in (r"Came in: [1-9]\d* picture", r"Here already: [1-9]\d* picture"):
            page.goto(f"{there}/share")
            page.get_by_label("The bundle's file").set_input_files(file)
            page.get_by_role("button", name="Receive").click()
            page.get_by_text(re.compile(said)).wait_for()
            accessible(page)

        catalog.replace(kept, catalog.changed(catalog.load(kept, "eggs"), place="another room"))
        bundle.pack(kept, "eggs", file)
        page.goto(f"{there}/share")
        page.get_by_label("The bundle's file").set_input_files(file)
        page.get_by_role("button", name="Receive").click()
        page.get_by_role("heading", name="Here already, and different").wait_for()
        assert "another room" in page.inner_text("main")
        accessible(page)
        assert catalog.load(theirs, "eggs").place != "another room"
        page.get_by_label("Take eggs as it is in the bundle").check()
        page.get_by_role("button", name="Take what is ticked").click()
        page.get_by_text("is as in the bundle; yours lies in the bin").wait_for()
        assert catalog.load(theirs, "eggs").place == "another room"

        catalog.replace(kept, catalog.changed(catalog.load(kept, "bulbs"), license=""))
        page.goto(f"{full[0]}/share")
        page.get_by_label("Words, as in Find").fill("bulbs")
        page.get_by_role("button", name="Pack").click()
        page.get_by_text("It has no licence.").wait_for()
        assert page.get_by_role("link", name="Open bulbs").first.is_visible()
        accessible(page)


def test_a_button_that_takes_its_time_says_so_and_sends_once(browser: Any, full: Any) -> None:
    with tab(browser) as page:
        page.goto(f"{full[0]}/share")
        page.evaluate(
            "window.sent = 0; addEventListener('submit', (e) => { sent += !e.defaultPrevented; e.preventDefault(); })"
        )
        page.get_by_role("button", name="Pack", exact=True).click()
        waits = page.get_by_role("button", name="Packing …")
        assert waits.get_attribute("aria-busy") == "true"
        waits.click()
        assert page.evaluate("sent") == 1
        accessible(page)
        page.reload()
        page.get_by_role("button", name="Pack", exact=True).click()
        page.get_by_role("heading", name=re.compile("^(Not packed|Packed)")).first.wait_for()
        page.get_by_role("button", name="Pack", exact=True).wait_for()


def test_words_lie_beside_the_picture_of_a_lesson_on_a_phone(browser: Any, full: Any, kept: Path) -> None:
    inbox.save_lesson(kept, list(PICKED))
    with tab(browser, "phone") as page:
        page.goto(f"{full[0]}/lesson")
        for row in page.locator("#order li").all():
            picture, words = row.locator("img").bounding_box(), row.locator(".what").bounding_box()
            assert words["x"] > picture["x"] + picture["width"]
        page.goto(full[0])
        make, have = (page.locator(f".bar {one}").bounding_box() for one in ("button", "a"))
        assert make["y"] == have["y"]  # the bar is one row


def test_what_may_not_be_shared_yet_fits_on_a_phone(browser: Any, tmp_path: Path) -> None:
    said = {"license": "CC-BY-4.0", "credit": "", "people": "unknown"}
    for n, name in enumerate(("pegs", "pots")):
        catalog.add(tmp_path / "own", prompt_of(5, name, title=name.title(), **said), picture_bytes(n, 400))
    with served(tmp_path / "own") as (address, _), tab(browser, "phone") as page:
        page.goto(f"{address}/share")
        page.get_by_role("button", name="Pack").click()
        page.get_by_role("button", name="Say it and pack again").wait_for()
        for card in page.locator(".few .card").all():
            picture, box = card.locator("img").bounding_box(), card.bounding_box()
            assert box["x"] <= picture["x"]
            assert picture["x"] + picture["width"] <= box["x"] + box["width"]
        accessible(page)

"""What a teacher does, in a real browser: upload, set right, keep, find, show, make a lesson, share; every page looked
over.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import drawn
import pytest

from curator.catalog.store import folder as catalog
from curator.seeing.photo import encode_clean
from curator.web import inbox
from tests.web_kit import MARKS, SAMPLES, accessible, accessible_in_both, ready, tab

pytestmark = MARKS
PICKED = ("buttons", "eggs", "boots")


@pytest.fixture
def buttons(tmp_path: Path) -> Path:
    """Two rows of five discs on an even ground: what they are read as is no question of this or that judge."""
    path = tmp_path / "buttons.jpg"
    path.write_bytes(encode_clean(drawn.discs(2, 5)))
    return path


def no_face(page: Any) -> None:
    if page.get_by_label("it is no face").is_visible():
        page.get_by_label("it is no face").check()


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_a_teacher_s_way_from_photos_to_a_lesson(browser: Any, fresh: Any, buttons: Path, size: str) -> None:
    address, site = fresh
    with tab(browser, size) as page:
        page.goto(f"{address}/photos")
        names = ("buttons.jpg", "dice-sixes.jpg", "three-mugs.jpg")
        page.locator("input[type=file]").first.set_input_files([buttons, *(SAMPLES / n for n in names[1:])])
        for name in names:
            page.get_by_role("link", name=f"Look at {name}").wait_for()
        (mugs,) = (item["answer"] for item in inbox.every(site.catalog) if item["name"] == "three-mugs.jpg")
        assert (mugs["fact"] or "No double") in page.locator("li", has_text="three-mugs").inner_text()
        accessible(page)

        page.get_by_role("link", name="Look at buttons.jpg").click()
        page.wait_for_url("**/photos/*", wait_until="load")
        if size == "phone":
            page.get_by_role("button", name="Edit").click()
        marks = page.locator("#marks")
        before = marks.locator(".dot").count()
        box = marks.locator(".dot").first.bounding_box()
        for left in (before - 1, before):  # two taps
            with page.expect_response("**/again"):
                page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
            page.locator("#grade", has_text=f"{left} counted").wait_for()
        fact = page.locator("#fact").inner_text()
        n = int(fact.split("+")[0])
        page.locator("#words summary").click()
        page.get_by_label("What are they?").fill("buttons")
        page.get_by_label("Place").fill("kitchen")
        no_face(page)
        page.get_by_role("button", name="Keep and next").click()
        page.locator("#strip li[data-state=kept]").wait_for()
        assert page.locator("h1").inner_text() != "buttons.jpg"

        for words in (f"{n}+{n}", "buttons"):
            page.goto(f"{address}/find")
            page.get_by_role("searchbox").press_sequentially(words)
            page.locator("#results").get_by_text("1 picture.").wait_for()
        page.get_by_role("button", name="Add Buttons, kitchen to the lesson").click()
        page.get_by_text("In the lesson").wait_for()
        page.goto(f"{address}/lesson")
        with page.expect_download() as got:
            page.get_by_role("link", name="Slides").click()
        assert got.value.path().stat().st_size > 10_000

        page.get_by_role("link", name="Show it to the class").click()
        page.wait_for_url("**/show", wait_until="load")
        half, total = rf"\b{n}\b", rf"\b{2 * n}\b"
        for key in ("PageDown", "PageDown", "k"):  # start, look, keep it on
            page.keyboard.press(key)
        page.locator("#photo").wait_for()
        for text in (page.title(), page.url, page.inner_text("main"), page.locator("#photo").get_attribute("alt")):
            assert not re.search(half, text)
            assert not re.search(total, text)
        page.keyboard.press("r")
        assert f"{n} + {n} = {2 * n}" in page.locator("#sums").inner_text().replace("\xa0", " ")
        accessible(page)


def test_the_whole_way_by_keys_alone(browser: Any, fresh: Any, buttons: Path) -> None:
    address, _ = fresh
    with tab(browser) as page:

        def to(name: str, most: int = 80) -> None:
            """Tab until what has the focus is called so."""
            for _ in range(most):
                page.keyboard.press("Tab")
                said = page.evaluate(
                    "(e => (e.ariaLabel || e.labels?.[0]?.textContent || e.textContent).trim())(document.activeElement)"
                )
                if said.startswith(name):
                    return
            raise AssertionError(f"Tab does not reach {name}")

        page.on(
            "filechooser", lambda _: None
        )  # from the start: else the browser may open its own dialog before it is told not to
        page.goto(f"{address}/photos")
        to("Choose photos")
        with page.expect_file_chooser() as chooser:
            page.keyboard.press("Enter")
        chooser.value.set_files(buttons)
        page.get_by_role("link", name="Look at buttons.jpg").wait_for()
        to("Look at buttons")
        page.keyboard.press("Enter")
        page.wait_for_url("**/photos/*", wait_until="load")
        to("Dots on the photo")
        with page.expect_response("**/again"):
            page.keyboard.press("Delete")
        page.keyboard.press("u")
        page.keyboard.press("k")
        page.keyboard.type("dice")
        if page.get_by_label("it is no face").is_visible():
            to("it is no face")
            page.keyboard.press("Space")
        page.keyboard.press("Escape")
        page.keyboard.press("Enter")
        page.locator("#strip li[data-state=kept]").wait_for()
        page.locator("#strip li a").focus()
        page.keyboard.press("Enter")
        page.wait_for_url("**/prompts/**")
        to("Add to lesson")
        page.keyboard.press("Enter")
        page.wait_for_url("**/lesson**")
        to("Show it")
        page.keyboard.press("Enter")
        page.wait_for_url("**/show", wait_until="load")
        for _ in range(2):
            page.keyboard.press("PageDown")
        page.locator("#photo").wait_for()
        page.keyboard.press("End")
        page.keyboard.press("PageUp")
        assert re.search(r"\d+\s[+−]\s\d+\s=\s\d+", page.locator("#sums").inner_text())
        to("Close")
        page.keyboard.press("Enter")
        page.wait_for_url("**/lesson")


@pytest.mark.parametrize("size", ["desktop", "phone", "zoomed"])
def test_every_page_is_clean_and_nothing_scrolls_sideways(browser: Any, full: Any, kept: Path, size: str) -> None:
    address, site = full
    if not inbox.lesson(kept):
        inbox.save_lesson(kept, list(PICKED))
        ready(kept, site, "buttons-sixteen.jpg")
    (photo,) = (item["id"] for item in inbox.every(kept))
    pages = (
        "/photos",
        f"/photos/{photo}",
        "/prompts/eggs/blur",
    )
    with tab(browser, size) as page:
        for path in pages:
            page.goto(address + path)
            accessible_in_both(page)
        page.goto(f"{address}/photos/{photo}")
        for folded in page.locator(".side summary").all():
            if folded.is_visible():
                folded.click()
        for mode in ("area", "blur"):
            page.locator(f"[data-mode={mode}]").click()
        accessible_in_both(page)


@pytest.mark.parametrize("size", ["desktop", "phone", "zoomed"])
def test_the_page_without_the_key_is_readable(browser: Any, fresh: Any, size: str) -> None:
    address, site = fresh
    site.rights.key = "k" * 32
    with tab(browser, size) as page:
        page.goto(address)
        assert page.get_by_role("heading", level=1).inner_text() == "Open the page by its link"
        assert page.evaluate("getComputedStyle(document.querySelector('.note')).borderRadius") == "8px"  # it is dressed
        accessible_in_both(page)
        page.goto(f"{address}/find?key={site.rights.key}")
        assert page.get_by_role("heading", level=1).inner_text() == "Find a picture"


def test_two_at_once_on_one_prompt(browser: Any, full: Any, kept: Path) -> None:
    address = f"{full[0]}/prompts/crayons"
    with tab(browser) as one, tab(browser, "phone") as other:
        one.goto(address)
        other.goto(address)
        one.get_by_label("Place").fill("porch")
        one.get_by_role("button", name="Save").click()
        one.get_by_text("Kept.").wait_for()
        other.get_by_label("Place").fill("garden")
        other.get_by_role("button", name="Save").click()
        other.get_by_text("Somebody else changed this prompt").wait_for()
        assert "kept now “porch”, yours “garden”" in other.inner_text("main")
        accessible(other)
    assert catalog.load(kept, "crayons").place == "porch"


def test_a_kept_picture_is_blurred_by_keys(browser: Any, full: Any, kept: Path) -> None:
    before = catalog.load(kept, "pots")
    with tab(browser) as page:
        page.goto(f"{full[0]}/prompts/pots")
        page.get_by_role("link", name="Blur a face or a name").click()
        page.wait_for_url("**/blur", wait_until="load")
        page.keyboard.press("b")
        for key in ("ArrowLeft", "Shift+ArrowDown", "Enter"):
            page.keyboard.press(key)
        assert page.locator("rect.blur").count() == 1
        page.get_by_role("button", name="Blur and save").click()
        page.get_by_text("Faces in it were blurred.").wait_for()
    after = catalog.load(kept, "pots")
    assert after.faces == "blurred"
    assert after.dots == before.dots
    assert not (kept / before.picture).exists()

"""The page of photos, in a real browser: cards at once, answers that move nothing, one bar for all, drop and undo."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from curator.catalog.store import folder as catalog
from curator.web import inbox
from tests.web_kit import MARKS, SAMPLES, accessible, accessible_in_both, ready, tab

pytestmark = MARKS
SHIFTS = """
    window.shifted = 0;
    new PerformanceObserver((list) => { for (const e of list.getEntries()) shifted += e.value; })
        .observe({ type: "layout-shift" });
"""  # every shift from here on, also soon after an input (https://wicg.github.io/layout-instability/)


def choose(page: Any, *names: str) -> None:
    page.locator("input[type=file]").first.set_input_files([SAMPLES / n for n in names])


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_cards_at_once_and_nothing_moves_while_answers_come(browser: Any, fresh: Any, size: str) -> None:
    address, site = fresh
    ready(site.catalog, site, "one-vase.jpg")  # one that is there already
    names = ("domino-threes.jpg", "eggs-ten.jpg", "five-oranges.jpg", "three-mugs.jpg", "beetle-six-spots.jpg")
    with tab(browser, size) as page:
        page.goto(f"{address}/photos")
        choose(page, *names)
        page.locator(".shot").nth(5).wait_for()
        page.evaluate(SHIFTS)
        pictures = page.locator("#group-wait img")
        assert all(img.get_attribute("src").startswith("blob:") for img in pictures.all())
        tops = page.evaluate("cards().map((li) => li.getBoundingClientRect().top + scrollY)")
        page.locator("#count", has_text="6 of 6: ").wait_for()
        page.get_by_text("All are here.").wait_for()
        assert page.evaluate("shifted") <= 0.05
        assert page.evaluate("cards().map((li) => li.getBoundingClientRect().top + scrollY)") == tops
        assert {page.evaluate("(li) => li.offsetHeight", li) for li in page.locator(".shot").element_handles()} == {
            page.locator(".shot").first.evaluate("(li) => li.offsetHeight")
        }
        for li in page.locator("#group-wait .shot").all():
            answer = li.locator(".answer").inner_text()
            if "=" in answer:
                assert li.locator(".dot").count() == 2 * int(answer.split("+")[0])
            assert li.get_by_role("checkbox").is_checked() == (li.get_attribute("data-group") == "ready")
        accessible(page)
        page.get_by_role("button", name="Sort into the groups").click()
        assert page.locator("#group-wait").is_hidden()
        assert page.locator("#group-ready .grade:not(.sure)").count() == 0
        assert page.locator("#group-check .grade.sure").count() == 0
        bar = page.get_by_role("button", name="Keep these").bounding_box()
        assert bar["y"] + bar["height"] <= page.viewport_size["height"]
        if size == "phone":
            page.locator("#rights summary").click()
        page.evaluate("tell('2 kept, 4 to go ...')")
        page.wait_for_timeout(300)
        told, whole = page.locator("#told").bounding_box(), page.locator("#bar").bounding_box()
        assert told["y"] + told["height"] <= whole["y"] + 1  # what is told lies over none of the fields
        accessible(page)


def test_a_photo_that_could_not_be_looked_at_can_be_tried_again(browser: Any, fresh: Any) -> None:
    address, site = fresh
    one = inbox.put(site.catalog, "eggs-ten.jpg", (SAMPLES / "eggs-ten.jpg").read_bytes())["id"]
    late = {"doing": "Looking.", "wrong": "It took longer than 150 seconds.", "try_this": "Try again when it is quiet."}
    inbox.update(site.catalog, one, state="error", error=late)
    with tab(browser, "phone") as page:
        page.goto(f"{address}/photos")
        card = page.locator(f"#item-{one}")
        why, name = card.locator(".why").bounding_box(), card.locator(".name").bounding_box()
        assert why["y"] + why["height"] <= name["y"] + 1  # the reason, and the name below it
        assert card.get_by_text("Keep").is_hidden()
        accessible(page)
        card.get_by_role("button", name="Try eggs-ten.jpg again").click()
        card.get_by_text("5+5=10").wait_for()
        assert card.get_by_role("button", name="Try eggs-ten.jpg again").is_hidden()
        assert card.get_by_role("checkbox").is_visible()


def test_one_bar_keeps_all_that_is_ticked_and_makes_the_lesson(browser: Any, fresh: Any) -> None:
    address, site = fresh
    with tab(browser) as page:
        page.goto(f"{address}/photos")
        page.get_by_text("No photo waits here.").wait_for()
        accessible_in_both(page)
        choose(page, "domino-threes.jpg", "beetle-six-spots.jpg", "three-mugs.jpg")
        page.get_by_text("No photo waits here.").wait_for(state="hidden")
        page.locator("#count", has_text="3 of 3: ").wait_for()
        for li in page.locator(".shot").all():
            li.get_by_role("checkbox").set_checked("three-mugs" not in li.inner_text())
        page.get_by_text("2 ticked").wait_for()
        page.get_by_label("My own photos, no people in them").check()
        assert page.locator("select[name=people]").is_hidden()
        page.locator("#bar").get_by_label("Who took them").fill("Room two")
        page.locator("#bar").get_by_label("Licence").select_option("CC-BY-4.0")
        accessible(page)
        page.get_by_role("button", name="Make a lesson").click()
        page.wait_for_url("**/lesson")
        kept = [catalog.load(site.catalog, slug) for slug in inbox.lesson(site.catalog)]
        assert {(p.credit, p.license, p.people, p.checked_by) for p in kept} == {
            ("Room two", "CC-BY-4.0", "none", "teacher")
        }
        assert len(kept) == 2
        page.goto(f"{address}/photos")
        assert page.locator(".shot").count() == 1
        assert page.locator("#bar").get_by_label("Who took them").input_value() == "Room two"  # remembered
        page.get_by_role("checkbox", name="Keep three-mugs.jpg").check()
        page.route("**/photos/keep", lambda route: route.abort())
        page.get_by_role("button", name="Keep these").click()
        assert page.locator(".shot").count() == 0  # at once
        page.get_by_text("It is tried again").wait_for()
        page.unroute("**/photos/keep")
        page.get_by_text("1 kept.").wait_for()
        assert page.locator("#told").get_by_role("button").inner_text() == "Make a lesson"  # the way goes on
        page.reload()
        ready(site.catalog, site, "eggs-ten.jpg")
        page.reload()
        page.get_by_role("button", name="Add to the lesson (2)").wait_for()  # no second lesson is begun
        for width in (962, 1024, 1280):  # all of the bar in one row, nothing in it over another
            page.set_viewport_size({"width": width, "height": 768})
            boxes = [
                one.bounding_box() for one in page.locator("#bar :is(input, select, button, strong):visible").all()
            ]
            assert len(boxes) == 7
            assert max(b["y"] for b in boxes) - min(b["y"] for b in boxes) < 30
            assert all(b["x"] + b["width"] <= c["x"] for b, c in itertools.pairwise(boxes))
            assert boxes[-1]["x"] + boxes[-1]["width"] <= width
        (mugs,) = (p for p in catalog.every(site.catalog) if p.slug not in {one.slug for one in kept})
        assert mugs.license == "CC-BY-4.0"
        assert (mugs.kind == "none") == (mugs.fact is None)


def test_what_they_are_is_said_on_the_card_and_goes_with_them(browser: Any, fresh: Any) -> None:
    """Typed on a card it stands beside the photo and after a reload; kept, a common thing has both its names."""
    address, site = fresh
    with tab(browser, "phone") as page:
        eggs = ready(site.catalog, site, "eggs-dozen.jpg")
        ready(site.catalog, site, "domino-threes.jpg")
        page.goto(f"{address}/photos")
        field = page.get_by_label("What they are, eggs-dozen.jpg")
        field.fill("egg")
        assert field.bounding_box()["height"] >= 44
        page.get_by_label("What they are, domino-threes.jpg").fill("spots")
        page.reload()
        assert page.get_by_label("What they are, domino-threes.jpg").input_value() == "spots"
        page.goto(address + eggs)
        assert page.get_by_label("What are they?").input_value() == "egg"
        page.goto(f"{address}/photos")
        for box in page.get_by_role("checkbox").all():
            box.check() if "Keep" in (box.get_attribute("aria-label") or "") else None
        accessible(page)
        page.get_by_role("button", name="Keep these").click()
        page.get_by_text("2 kept.").wait_for()
    kept = {p.things: (p.thing, p.title) for p in catalog.every(site.catalog)}
    assert kept == {"eggs": ("egg", "Eggs"), "spots": (kept["spots"][0], "Spots")}


def test_a_drop_is_undone_and_what_could_not_be_kept_comes_back(browser: Any, fresh: Any) -> None:
    address, site = fresh
    ready(site.catalog, site, "three-mugs.jpg")
    first = ready(site.catalog, site, "domino-threes.jpg")[-16:]
    with tab(browser) as page:
        page.goto(f"{address}/photos")
        page.get_by_role("button", name="Put away domino-threes.jpg").click()
        assert page.locator(".shot").count() == 1
        page.get_by_text("domino-threes.jpg was put away.").wait_for()
        assert inbox.get(site.catalog, first)["state"] == "dropped"
        accessible(page)
        page.get_by_role("button", name="Undo").click()
        page.get_by_role("link", name="Look at domino-threes.jpg").wait_for()
        assert inbox.get(site.catalog, first)["state"] == "ready"
        page.request.get(f"{address}/photos/{first}")  # the search for faces is over
        inbox.update(site.catalog, first, faces=[[0.1, 0.1, 0.2, 0.2]])
        page.get_by_role("checkbox", name="Keep domino-threes.jpg").check()
        page.get_by_label("My own photos, no people in them").check()
        page.get_by_role("button", name="Keep these").click()
        page.get_by_text("1 could not be kept: the cards say why.").wait_for()
        card = page.locator(".shot", has_text="domino-threes.jpg")
        assert "You said that nobody is in it, and a face may be." in card.inner_text()
        accessible(page)


def test_a_reload_in_the_middle_of_a_batch_loses_no_photo(browser: Any, fresh: Any) -> None:
    address, site = fresh
    with tab(browser) as page:
        page.goto(f"{address}/photos")
        held = [True]  # what is sent hangs on its way until the page is loaded again
        page.route("**/photos", lambda route: None if held[0] and route.request.method == "POST" else route.continue_())
        page.locator("input[type=file]").first.set_input_files([SAMPLES / "three-mugs.jpg", SAMPLES / "three-pots.jpg"])
        page.get_by_text("2 on the way.").wait_for()
        assert page.locator(".shot").get_by_role("progressbar").count() == 2
        assert page.locator(".shot img").first.get_attribute("src").startswith("blob:")
        accessible(page)
        held[0] = False
        page.reload()
        for name in ("three-mugs.jpg", "three-pots.jpg"):
            page.get_by_role("link", name=f"Look at {name}").wait_for()
        page.get_by_text("All are here.").wait_for()
        page.reload()
        page.get_by_role("link", name="Look at three-mugs.jpg").wait_for()
        assert page.locator(".shot").count() == 2
        assert len(inbox.every(site.catalog)) == 2


def test_photos_dropped_and_pasted(browser: Any, fresh: Any) -> None:
    address, _ = fresh
    with tab(browser) as page:
        page.goto(f"{address}/photos")
        data = list((SAMPLES / "three-mugs.jpg").read_bytes())
        handed = page.evaluate_handle(
            (
                "(bytes) => { const d = new DataTransfer(); d.items.add(new File([new Uint8Array(bytes)], "
                "'dropped.jpg', { type: 'image/jpeg' })); return d; }"
            ),
            data,
        )
        page.dispatch_event("#items", "drop", {"dataTransfer": handed})
        page.get_by_role("link", name="Look at dropped.jpg").wait_for()
        page.evaluate(
            "(d) => document.dispatchEvent(new ClipboardEvent('paste', { clipboardData: d }))",
            page.evaluate_handle(
                "() => { const d = new DataTransfer(); d.items.add(new File(['no picture'], 'pasted.png')); return d; }"
            ),
        )
        page.locator("li", has_text="pasted.png").get_by_text("Not taken").wait_for()
        page.get_by_text("2 of 2: 0 ready, 1 to check, 1 not taken").wait_for()
        page.reload()
        assert page.locator("#group-error .shot").all_inner_texts()[0].count("pasted.png") == 1
        assert page.locator("#group-check .shot", has_text="pasted.png").count() == 0
        page.get_by_role("button", name="Try pasted.png again").click()
        page.locator("#group-wait .shot", has_text="pasted.png").get_by_text("Not taken").wait_for()
        assert page.locator("input[capture=environment]").get_attribute("accept") == "image/*"
        accessible(page)


def test_a_photo_chosen_while_the_page_looks_for_unsent_ones_is_sent_once(browser: Any, fresh: Any) -> None:
    with tab(browser) as page:
        page.add_init_script(
            """const own = IDBObjectStore.prototype.getAllKeys;
            IDBObjectStore.prototype.getAllKeys = function () {
              const asked = own.call(this);
              asked.addEventListener("success", () => {
                const dataTransfer = new DataTransfer();
                dataTransfer.items.add(new File(["no picture"], "early.jpg", { type: "image/jpeg" }));
                document.dispatchEvent(new DragEvent("drop", { dataTransfer }));
              });
              return asked;
            };"""
        )
        sent: list[str] = []
        page.on("request", lambda r: sent.append(r.url) if r.method == "POST" else None)
        page.goto(f"{fresh[0]}/photos")
        page.get_by_text("All are here.").wait_for()
        assert page.locator(".shot", has_text="early.jpg").count() == 1
        assert len(sent) == 1


def test_after_the_last_to_check_the_way_back_is_shown(browser: Any, fresh: Any) -> None:
    address, site = fresh
    ready(site.catalog, site, "eggs-dozen.jpg")  # sure
    dice = ready(site.catalog, site, "dice-fives.jpg")  # dice or pips: asked
    with tab(browser, "phone") as page:
        page.goto(address + dice)
        page.locator("#grade", has_text="Please check").wait_for()
        page.get_by_role("button", name="Keep and next").click()
        page.get_by_text("Nothing is left to check; 1 is ready.").wait_for()
        page.locator("#told").get_by_role("button", name="Back to the photos").click()
        page.wait_for_url("**/photos")
        page.get_by_text("1 of 1: 1 ready, 0 to check").wait_for()

"""Setting a photo right, in a real browser: dots, line, frame, blur, more like this, undo; by pointer, finger and
keys.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from curator.catalog import prompt as prompts
from curator.catalog.store import folder as catalog
from curator.seeing import look
from curator.seeing import photo as photos
from curator.web import inbox
from tests.web_kit import MARKS, SAMPLES, accessible, ready, served, tab

pytestmark = MARKS


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("look") / "catalog"


@pytest.fixture(scope="module")
def server(here: Path) -> Iterator[Any]:
    with served(here) as one:
        yield one


@pytest.fixture(scope="module")
def photo(here: Path, server: Any) -> str:
    """The address of buttons-sixteen.jpg, looked at."""
    return server[0] + ready(here, server[1], "buttons-sixteen.jpg")


@pytest.fixture
def page(browser: Any, photo: str) -> Iterator[Any]:
    with tab(browser) as one:
        one.goto(photo)
        yield one


def dots(page: Any) -> list[list[float]]:
    return [[d["x"], d["y"]] for d in page.evaluate("now.dots")]


def state(page: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(page.locator("[name=state]").input_value())
    return found


def at(page: Any, x: float, y: float) -> tuple[float, float]:
    """A place on the photo, in pixels of the screen."""
    found = page.evaluate(
        "([x, y]) => { const m = svg.getScreenCTM(); return [m.e + x * box.width * m.a, m.f + y * box.height * m.d]; }",
        [x, y],
    )
    return found[0], found[1]


def drag(page: Any, start: tuple[float, float], end: tuple[float, float], answer: str = "") -> None:
    page.mouse.move(*at(page, *start))
    page.mouse.down()
    page.mouse.move(*at(page, *((a + b) / 2 for a, b in zip(start, end, strict=True))))
    page.mouse.move(*at(page, *end))
    if not answer:
        page.mouse.up()
        return
    with page.expect_response(f"**/{answer}"):
        page.mouse.up()
    settled(page)


def settled(page: Any) -> None:
    page.locator("#fact:not([aria-busy])").wait_for()


def keyed(page: Any, key: str, answer: str = "again") -> None:
    with page.expect_response(f"**/{answer}"):
        page.keyboard.press(key)
    settled(page)


def same(one: list[list[float]], other: list[list[float]]) -> bool:
    return np.allclose(sorted(one), sorted(other), atol=1e-6)


def test_a_tap_adds_and_takes_off_a_drag_moves_undo_and_redo(page: Any) -> None:
    start = dots(page)
    with page.expect_response("**/again"):
        page.mouse.click(*at(page, 0.5, 0.95))
    settled(page)
    assert len(dots(page)) == len(start) + 1
    assert page.locator("#fact").inner_text() == "No double"  # one more than an even number
    assert f"{len(start) + 1} counted" in page.locator("#grade").inner_text()
    drag(page, (0.5, 0.95), (0.8, 0.9), "again")
    assert any(abs(x - 0.8) < 0.01 and abs(y - 0.9) < 0.01 for x, y in dots(page))
    assert state(page)["touched"] == 2
    page.keyboard.press("u")
    page.keyboard.press("Control+z")
    assert same(dots(page), start)
    assert page.locator("#fact").inner_text() == f"{len(start) // 2}+{len(start) // 2}={len(start)}"
    page.get_by_role("button", name="Redo").click()
    settled(page)
    assert len(dots(page)) == len(start) + 1
    page.get_by_role("button", name="Undo").click()
    with page.expect_response("**/again"):
        page.mouse.click(*at(page, *start[0]))
    settled(page)
    assert same(dots(page), start[1:])
    accessible(page)


def test_the_line_is_dragged_slid_and_turned(page: Any) -> None:
    line = page.evaluate("now.line")
    middle = tuple((a + b) / 2 for a, b in zip(*line, strict=True))
    drag(page, middle, (middle[0] + 0.3, middle[1] + 0.3), "again")  # type: ignore[arg-type]
    assert page.locator("#fact").inner_text() == "No double"
    assert "same number on both sides" in page.locator("#reasons").text_content()
    page.keyboard.press("u")
    assert page.locator("#fact").inner_text() != "No double"
    assert page.evaluate("now.line") == line
    for key, back in (("[", "]"), (",", ".")):
        keyed(page, key)
        assert page.evaluate("now.line") != line
        keyed(page, back)
    ends = page.evaluate("now.line")
    assert np.allclose(ends, line, atol=0.02)
    drag(page, tuple(ends[0]), (0.9, 0.9), "again")  # an end turns the line about the other
    assert np.allclose(state(page)["line"], [(0.9, 0.9), ends[1]], atol=0.01)


def test_a_mouse_that_waits_before_it_moves_drags_all_the_same(page: Any) -> None:
    """A press became "more like this" after 0.7 s, also where the machine was so slow that the move came later."""
    line = page.evaluate("now.line")
    middle = [(a + b) / 2 for a, b in zip(*line, strict=True)]
    page.mouse.move(*at(page, *middle))
    page.mouse.down()
    page.wait_for_timeout(900)
    page.mouse.move(*at(page, middle[0] + 0.1, middle[1]))
    with page.expect_response("**/again"):
        page.mouse.up()
    settled(page)
    assert page.evaluate("now.line") != line


def test_no_key_is_lost_while_an_answer_is_on_its_way(page: Any) -> None:
    held: list[Any] = []
    page.route("**/again", lambda route: held.append(route))

    def tap() -> None:
        before = len(held)
        page.mouse.click(*at(page, 0.5, 0.95))
        page.locator("#fact[aria-busy]").wait_for()
        while len(held) == before:
            page.wait_for_timeout(20)

    tap()
    page.keyboard.press("2")  # at once: the answer is about dots that are not shown any more
    chosen = page.evaluate("[options().indexOf(now.chosen), now.touched]")
    assert chosen == [1, 0]
    held[0].continue_()
    page.wait_for_timeout(300)
    assert page.evaluate("[options().indexOf(now.chosen), now.touched]") == chosen
    page.keyboard.press("u")
    page.keyboard.press("u")
    tap()
    for key, dots_then in (("a", 18), ("Delete", 17), ("u", 18), ("u", 17)):
        page.keyboard.press(key)
        assert len(dots(page)) == dots_then
    page.keyboard.press("Enter")  # nothing is kept that was not shown: it waits for the answer
    page.get_by_text("it is kept as soon as that is done").wait_for()
    page.route("**/keep", lambda route: route.abort())  # the photo stays for the other tests
    with page.expect_request("**/keep") as asked:
        for route in held[1:]:
            route.continue_()
    assert "shown=&" in asked.value.post_data  # seventeen are no double, and that is what was shown


def test_arrows_walk_the_dots_and_every_change_has_a_key(page: Any) -> None:
    start = dots(page)
    page.locator("#marks").focus()
    seen = set()
    for key in ["ArrowRight"] * 8 + ["ArrowDown"] + ["ArrowLeft"] * 8:
        page.keyboard.press(key)
        seen.add(page.evaluate("at"))
    assert len(seen) >= len(start) // 2
    assert page.locator(".dot.on").count() == 1
    page.mouse.move(1, 1)
    page.locator("#marks").click(position={"x": 3, "y": 3})  # beside the photo, or an empty place of it
    assert page.locator(".dot.on").count() == 0  # with a mouse no dot looks unlike the others
    page.locator("#undo").click() if len(dots(page)) != len(start) else None
    page.locator("#marks").focus()
    page.keyboard.press("ArrowRight")
    walked = dots(page)[page.evaluate("at")]
    keyed(page, "Shift+ArrowDown")
    moved = [p for p in dots(page) if p not in start]
    assert len(moved) == 1
    assert abs(moved[0][1] - walked[1] - 0.01) < 1e-6
    keyed(page, "Delete")
    assert len(dots(page)) == len(start) - 1
    keyed(page, "a")
    assert len(dots(page)) == len(start)
    for _ in range(3):
        page.keyboard.press("u")
    assert same(dots(page), start)
    page.keyboard.press("2")
    assert page.evaluate("options().indexOf(now.chosen)") == 1
    page.keyboard.press("k")
    assert page.evaluate("document.activeElement.name") == "things"
    page.keyboard.press("u")  # a letter in a word, no undo
    assert page.locator("[name=things]").input_value() == "u"


def test_a_frame_round_what_counts(page: Any) -> None:
    page.keyboard.press("f")
    page.keyboard.press("Escape")
    page.get_by_role("button", name="Frame").click()
    xs, ys = zip(*dots(page), strict=True)
    cut = (min(xs) + max(xs)) / 2 + 0.01
    drag(page, (max(0.01, min(xs) - 0.08), max(0.01, min(ys) - 0.12)), (cut, max(ys) + 0.12), "area")
    assert dots(page)
    assert all(x < cut for x, _ in dots(page))
    area = state(page)["area"]
    page.keyboard.press("d")
    with page.expect_response("**/again"):
        page.mouse.click(*at(page, 0.2, 0.95))
    settled(page)
    assert state(page)["area"] == area  # a later dot leaves the frame
    page.get_by_role("button", name="Frame").click()
    with page.expect_response("**/area"):
        page.mouse.click(*at(page, 0.9, 0.1))
    settled(page)
    assert state(page)["area"] is None
    page.keyboard.press("f")  # by keys: a frame, moved, stretched, sized, taken
    for key in ("ArrowLeft", "Shift+ArrowRight", "+"):
        page.keyboard.press(key)
    keyed(page, "Enter", "area")
    assert np.allclose(state(page)["area"], [0.26, 0.28, 0.72, 0.72])


def test_what_was_shown_before_the_answer_is_taken_back_when_none_comes(page: Any) -> None:
    start, fact = dots(page), page.locator("#fact").inner_text()
    page.route("**/again", lambda route: route.abort())
    page.mouse.click(*at(page, 0.5, 0.95))
    page.get_by_text("The page does not answer.").wait_for()
    assert same(dots(page), start)
    assert page.locator("#fact").inner_text() == fact


class Fingers:
    """Real touch events on the photo, through the browser's own way from glass to page."""

    def __init__(self, page: Any) -> None:
        self.page, self.link = page, page.context.new_cdp_session(page)

    def send(self, kind: str, *places: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": n} for n, (x, y) in enumerate(places)]
        self.link.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def swipe(self, start: tuple[float, float], by: tuple[float, float], steps: int = 8) -> None:
        self.send("touchStart", start)
        for n in range(1, steps + 1):
            self.send("touchMove", (start[0] + by[0] * n / steps, start[1] + by[1] * n / steps))
            self.page.wait_for_timeout(16)
        self.send("touchEnd")


@pytest.fixture
def likes(server: Any, monkeypatch: pytest.MonkeyPatch) -> list[Any]:
    """Where "more like this" was asked for, and what was shown then; four dots are the answer, or else two."""
    asked: list[Any] = []
    four = [(0.2, 0.3), (0.2, 0.7), (0.6, 0.3), (0.6, 0.7)]

    class StandIn:
        def ask(self, job: str, *args: Any) -> Any:
            if job != "like":
                return worker.ask(job, *args)
            source, where, area, shown = args
            asked.append((where, shown))
            return [worker.ask("again", source, dots, None, area, False)[0] for dots in (four, four[:2])]

        def stop(self) -> None:
            worker.stop()

    worker = server[1].asking
    monkeypatch.setattr(server[1], "asking", StandIn())
    return asked


def test_more_like_one_thing_by_button_and_key(page: Any, likes: list[Any]) -> None:
    page.locator("#marks").focus()
    where = dots(page)[0]
    keyed(page, "m", "like")
    assert np.allclose(likes[0][0], where, atol=0.01)
    seen = [[[d["x"], d["y"]] for d in one["dots"]] for one in page.evaluate("now.found")[:3]]
    assert all(any(len(one) == len(other) and same(one, other) for other in likes[0][1]) for one in seen)  # told
    assert page.locator("#fact").inner_text() == "2+2=4"
    page.keyboard.press("2")
    assert page.locator("#fact").inner_text() == "1+1=2"
    page.keyboard.press("u")
    assert "Found from the one you pointed at" in page.locator("#grade").inner_text()
    page.keyboard.press("u")
    assert len(dots(page)) > 4
    page.get_by_role("button", name="More like this").click()
    with page.expect_response("**/like"):
        page.mouse.click(*at(page, 0.5, 0.5))
    assert np.allclose(likes[1][0], (0.5, 0.5), atol=0.01)
    accessible(page)
    settled(page)
    page.get_by_role("button", name="Dots").click()
    with page.expect_response("**/like"):
        page.mouse.click(*at(page, 0.3, 0.6), button="right")
    assert np.allclose(likes[2][0], (0.3, 0.6), atol=0.01)
    assert any(len(one) == 4 for one in likes[2][1])


def at_rest(page: Any) -> None:
    """Until what a finger let go scrolls no more."""
    page.wait_for_function(
        "() => { const y = scrollY; return new Promise((d) => setTimeout(() => d(y === scrollY), 400)); }"
    )


def test_fingers_scroll_zoom_hold_and_edit(browser: Any, photo: str, likes: list[Any]) -> None:
    with tab(browser, "phone", is_mobile=True) as page:
        page.goto(photo)
        finger, line, start = Fingers(page), page.evaluate("now.line"), dots(page)
        middle = at(page, *((a + b) / 2 for a, b in zip(*line, strict=True)))

        finger.swipe(middle, (0, -150))  # one finger scrolls, and the line stays
        at_rest(page)
        assert page.evaluate("scrollY") > 60
        assert page.evaluate("[now.line, done.length]") == [line, 0]
        page.evaluate("scrollTo(0, 0)")

        page.get_by_role("button", name="Edit").click()
        finger.swipe(middle, (0, -150))  # under Edit too
        at_rest(page)
        assert page.evaluate("scrollY") > 60
        assert page.evaluate("[now.line, done.length]") == [line, 0]
        page.evaluate("scrollTo(0, 0)")
        with page.expect_response("**/again"):
            page.touchscreen.tap(*at(page, *start[0]))
        settled(page)
        assert same(dots(page), start[1:])
        rest = page.evaluate("scrollY")  # not always the very top: a fling leaves some pixels
        with page.expect_response("**/again"):
            finger.swipe(at(page, *start[1]), (30, 25))  # a finger on a dot moves it
        settled(page)
        assert page.evaluate("scrollY") == rest
        assert len(dots(page)) == len(start) - 1
        assert not any(np.allclose(d, start[1], atol=0.005) for d in dots(page))
        page.get_by_role("button", name="Move", exact=True).click()
        done = page.evaluate("done.length")
        page.touchscreen.tap(*at(page, *start[2]))
        assert page.evaluate("done.length") == done  # under Move a tap changes nothing

        one, other = at(page, 0.4, 0.5), at(page, 0.6, 0.5)  # two fingers make it larger
        finger.send("touchStart", one, other)
        for n in range(1, 7):
            finger.send("touchMove", (one[0] - 8 * n, one[1]), (other[0] + 8 * n, other[1]))
        finger.send("touchEnd")
        assert page.evaluate("zoom.k") > 1.5
        assert page.evaluate("visualViewport.scale") == 1
        before, scrolled = page.evaluate("zoom.x"), page.evaluate("scrollY")
        finger.swipe(at(page, 0.5, 0.5), (-60, -40))  # and then one finger moves the photo
        assert page.evaluate("zoom.x") > before
        assert page.evaluate("scrollY") == scrolled
        assert page.evaluate("done.length") == done
        page.get_by_role("button", name="Whole photo").click()
        assert page.evaluate("zoom.k") == 1

        assert likes == []
        with page.expect_response("**/like"):  # held still
            finger.send("touchStart", at(page, 0.5, 0.5))
            page.wait_for_timeout(900)
        finger.send("touchEnd")
        settled(page)
        assert np.allclose([where for where, _ in likes], [(0.5, 0.5)], atol=0.02)

        page.get_by_role("button", name="Line").click()
        line = page.evaluate("now.line")
        middle = at(page, *((a + b) / 2 for a, b in zip(*line, strict=True)))
        with page.expect_response("**/again"):
            finger.swipe(middle, (40, 0))
        settled(page)
        assert state(page)["line"][0][0] > line[0][0]
        accessible(page)


def test_more_like_one_of_the_buttons_finds_the_others(page: Any) -> None:
    before = dots(page)
    page.evaluate("() => { one.readings = [{ ...one.readings[1], at: 0, first: true }]; begin(); rested(); }")
    assert len(dots(page)) != len(before)  # the right one was not seen
    page.get_by_role("button", name="More like this").click()
    with page.expect_response("**/like"):
        page.mouse.click(*at(page, *before[0]))
    settled(page)
    after = np.array(dots(page))
    found = sum(np.hypot(*(after - one).T).min() < 0.03 for one in before)
    assert found >= 0.8 * len(before), (before, after)


def tapped(page: Any, x: float, y: float) -> None:
    with page.expect_response("**/again"):
        page.mouse.click(*at(page, x, y))
    settled(page)


def test_what_was_left_out_on_purpose_stays_out_until_it_is_tapped(page: Any) -> None:
    page.evaluate(
        """() => { // a reading that leaves one thing out, as feelers are
            const r = now.chosen;
            choose({ ...r, dots: [...r.dots.slice(0, -2), { ...r.dots.at(-1), side: 0 }], total: r.total - 2 });
        }"""
    )
    counted, (out,) = dots(page), page.evaluate("now.out.map((d) => [d.x, d.y])")
    assert page.locator("circle.out:not(.dark)").count() == 1
    tapped(page, 0.9, 0.05)  # another dot
    assert len(dots(page)) == len(counted) + 1
    assert page.evaluate("now.out.map((d) => [d.x, d.y])") == [out]
    tapped(page, *out)
    assert len(dots(page)) == len(counted) + 2
    assert page.evaluate("now.out.length") == 0
    assert f"{len(counted) + 2} counted" in page.locator("#grade").inner_text()
    page.keyboard.press("u")
    assert page.evaluate("now.out.map((d) => [d.x, d.y])") == [out]
    page.keyboard.press("u")
    page.keyboard.press("1")
    assert page.evaluate("now.out.length") == 0


def no_face(page: Any) -> None:
    if page.get_by_label("it is no face").is_visible():
        page.get_by_label("it is no face").check()


def kept_slug(page: Any, here: Path, one: str) -> str:
    """The prompt that a photo of the batch became."""
    for _ in range(600):
        item = inbox.get(here, one)
        if item["state"] == "kept":
            return str(item["slug"])
        page.wait_for_timeout(50)
    raise AssertionError(item.get("problem"))


def test_blur_is_in_the_kept_picture_and_a_twin_is_told_without_losing_the_dots(
    browser: Any, here: Path, server: Any
) -> None:
    address = server[0] + ready(here, server[1], "dice-sixes.jpg")
    with tab(browser) as page:
        page.goto(address)
        page.locator("[data-mode=blur]").click()
        drag(page, (0.05, 0.05), (0.3, 0.3))
        drag(page, (0.6, 0.6), (0.9, 0.9))
        page.mouse.click(*at(page, 0.75, 0.75))  # a tap takes it off
        assert page.locator("rect.blur").count() == 1
        page.keyboard.press("b")
        page.keyboard.press("Enter")
        assert page.locator("rect.blur").count() == 2
        page.keyboard.press("u")
        page.keyboard.press("d")
        page.keyboard.press("k")
        page.get_by_label("What are they?").fill("dice")
        page.locator("#words summary").click()
        page.get_by_label("Licence").select_option("CC0-1.0")
        assert ": CC0 1.0" in page.locator("#words summary").inner_text()
        page.get_by_role("button", name="Keep and next").click()
        kept = catalog.load(here, kept_slug(page, here, address[-16:]))
        assert (kept.faces, kept.touched, kept.license) == ("blurred", 0, "CC0-1.0")
        shown = np.asarray(Image.open(catalog.picture_path(here, kept)).convert("L"), float)
        part = shown[
            int(0.08 * shown.shape[0]) : int(0.27 * shown.shape[0]),
            int(0.08 * shown.shape[1]) : int(0.27 * shown.shape[1]),
        ]
        assert np.abs(np.diff(part, axis=1)).max() < 12  # no edge is left

        page.goto(server[0] + ready(here, server[1], "dice-sixes.jpg"))
        page.get_by_text("You have this photo.").wait_for()
        assert page.locator("#near a", has_text="Dice").count() == 1
        tapped(page, 0.5, 0.97)
        now = dots(page)
        no_face(page)
        page.get_by_role("button", name="Keep and next").click()
        page.get_by_role("button", name="Open it").click()  # told where she is by then, and one press leads back
        page.get_by_text(re.compile("The same photo is there already")).wait_for()
        settled(page)
        assert same(dots(page), now)
        assert page.locator("#grade").inner_text() == f"Set by hand. {len(now)} counted."
        accessible(page)


@pytest.fixture
def batch(browser: Any, tmp_path: Path) -> Iterator[Any]:
    """(page, catalog, ids) with three photos looked at and the first opened."""
    here = tmp_path / "catalog"
    with served(here) as (address, site), tab(browser) as page:
        ids = [ready(here, site, n)[-16:] for n in ("three-mugs.jpg", "three-pots.jpg", "domino-threes.jpg")]
        for one in ids:
            page.request.get(f"{address}/photos/{one}")  # the search for faces is over
        order = [
            item["id"]
            for item in page.request.get(f"{address}/photos", headers={"accept": "application/json"}).json()["items"]
        ]
        page.goto(f"{address}/photos/{order[0]}")
        yield page, here, order


def opened(page: Any, one: str) -> None:
    page.locator(f"#strip li[data-id='{one}'] a[aria-current]").wait_for()
    page.locator(f"form#keep[action$='{one}/keep']").wait_for(state="attached")


def test_keep_answers_at_once_and_is_sent_until_the_page_answers(batch: Any) -> None:
    page, here, (first, second, third) = batch
    page.route("**/keep", lambda route: route.abort())  # the server is away
    page.locator("#words summary").click()
    page.get_by_label("Place").fill("shelf")
    page.get_by_label("none", exact=True).check()
    page.keyboard.press("Escape")
    took = page.evaluate(
        """async () => {
            const from = performance.now(), kept = one.id;
            form.requestSubmit();
            const here = () => stop(kept).querySelector("a").hasAttribute("aria-current");
            while (stop(kept).dataset.state === "ready" || here())
                await new Promise(requestAnimationFrame);
            return performance.now() - from;
        }"""
    )
    assert took < 100
    opened(page, second)
    assert page.get_by_label("Place").input_value() == "shelf"  # filled in from the last
    assert "shelf, no people" in page.locator("#words summary").inner_text()
    page.get_by_text("It is tried again").wait_for()
    assert page.locator(f"#strip li[data-id='{first}']").get_attribute("data-state") == "keeping"
    page.reload()  # what was not sent is sent after a reload too
    opened(page, second)
    page.unroute("**/keep")
    kept = catalog.load(here, kept_slug(page, here, first))
    assert (kept.place, kept.people) == ("shelf", "none")
    page.locator(f"#strip li[data-id='{first}'][data-state=kept]").wait_for()
    accessible(page)
    for _ in range(3):
        page.keyboard.press("Enter")  # three presses: two photos, each once
    page.get_by_text("That was the last").wait_for()
    kept_slug(page, here, second)
    kept_slug(page, here, third)
    assert catalog.count(here) == 3


def test_on_and_back_by_key_button_and_strip_and_nothing_done_is_lost(batch: Any) -> None:
    page, here, (first, second, third) = batch
    tapped(page, 0.5, 0.97)
    mine = dots(page)
    page.keyboard.press("n")
    opened(page, second)
    page.get_by_role("button", name="The photo after, this one not kept").click()
    opened(page, third)
    page.locator(f"#strip li[data-id='{first}'] a").click()
    opened(page, first)
    assert same(dots(page), mine)
    page.keyboard.press("u")
    assert len(dots(page)) == len(mine) - 1
    page.keyboard.press("p")
    opened(page, third)
    assert page.url.endswith(third)
    page.go_back()
    opened(page, first)
    page.keyboard.press("x")  # dropped, and taken back
    opened(page, second)
    assert inbox.get(here, first)["state"] == "dropped"
    page.get_by_role("button", name="Undo", exact=True).last.click()
    opened(page, first)
    assert inbox.get(here, first)["state"] == "ready"


@pytest.mark.parametrize(("grade", "open_"), [("sure", False), ("check", True), ("no", True)])
def test_in_doubt_all_readings_are_in_sight(page: Any, grade: str, open_: bool) -> None:
    page.evaluate("(grade) => { one.readings[0].grade = grade; begin(); rested(); }", grade)
    more = page.locator("#more li")
    assert more.count() > 0
    assert more.last.is_visible() == open_
    assert page.evaluate("inSight(options()).length") == (page.evaluate("options().length") if open_ else 3)


def test_readings_are_pictures_with_names_of_their_own_and_the_first_three_come_first(page: Any) -> None:
    names = page.locator(".readings .label").all_text_contents()
    every = page.evaluate("names(options(), [box.width, box.height])")
    assert len(set(every)) == len(every) >= 2
    assert names == every
    for one, reading in zip(names, page.evaluate("options()"), strict=True):
        button = page.get_by_role("button", name=one, exact=True)  # what is read out is what is seen
        assert button.locator(".dot").count() == reading["total"]
    assert page.locator("#readings li").count() == min(3, len(every))
    assert page.locator("#readings svg .dot").count() > 8
    page.locator("#readings button").nth(1).click()
    assert page.locator("#grade").inner_text().startswith("You chose this reading.")
    tapped(page, 0.5, 0.95)
    tapped(page, 0.5, 0.9)
    first = page.locator("#readings .label").first.inner_text()
    assert first.startswith(page.locator("#fact").inner_text())
    assert "by hand" in first
    assert page.locator("#grade").inner_text().startswith("Set by hand.")
    found = page.evaluate("options().findIndex((r) => now.found.includes(r))")
    assert found > 0  # what was found by itself can still be chosen
    accessible(page)


ROWS = [(x / 10, y) for y in (0.3, 0.6) for x in range(2, 8)]  # two rows of six


@pytest.mark.parametrize(
    ("counted", "fact", "kind", "line", "name"),
    [
        (ROWS, "6+6=12", "flip", [[0.1, 0.45], [0.9, 0.46]], "6+6=12, above and below, mirrored, the same things"),
        (
            ROWS,
            "6+6=12",
            "turn",
            [[0.45, 0.1], [0.46, 0.9]],
            "6+6=12, left and right, turned half round, the same things",
        ),
        (ROWS, "6+6=12", "split", None, "6+6=12, two groups, the same things"),
        (
            ROWS[:6],
            "3+3=6",
            "slide",
            [[0.4, 0], [0.5, 0.7]],
            "3+3=6, left and right, moved along, without the 6 at the bottom",
        ),
        (ROWS[:11], None, None, None, "No double: 11 counted, without the one at the bottom right"),
        (
            [(x + 0.01, y) for x, y in ROWS] + [(0.1, 0.6)],
            None,
            None,
            None,
            "No double: 13 counted, with one more at the bottom left",
        ),
        (
            [(0.9, 0.8), (0.9, 0.9)],
            "1+1=2",
            "slide",
            [[0.8, 0.8], [0.9, 0.9]],
            "1+1=2, slantwise, moved along, other things, at the bottom right",
        ),
        ([(x, y - 0.15) for x, y in ROWS], "6+6=12", "slide", None, "6+6=12, moved along, other things, at the top"),
    ],
)
def test_a_reading_says_what_it_counts_and_how_its_halves_lie(
    page: Any, counted: Any, fact: str | None, kind: str | None, line: Any, name: str
) -> None:
    def reading(places: Any, fact: Any, kind: Any, line: Any) -> dict[str, Any]:
        dots = [{"x": x, "y": y, "side": 1} for x, y in places]
        return {"fact": fact, "kind": kind, "total": len(dots), "line": line, "dots": dots, "found_by": "learned"}

    first = reading(ROWS, "6+6=12", "slide", [[0.1, 0.45], [0.9, 0.45]])
    called = page.evaluate("(all) => names(all, [400, 300])", [first, reading(counted, fact, kind, line)])
    assert called == ["6+6=12, above and below, moved along", name]


def test_readings_called_alike_say_how_they_were_found_and_which_lies_further(page: Any) -> None:
    def pair(x: float, found_by: str) -> dict[str, Any]:
        dots = [{"x": x, "y": y, "side": side} for y, side in ((0.7, 1), (0.9, 2))]
        return {"fact": "1+1=2", "kind": "slide", "total": 2, "line": None, "dots": dots, "found_by": found_by}

    first = {"fact": None, "kind": None, "total": 1, "line": None, "dots": [{"x": 0.5, "y": 0.2, "side": 0}]}
    others = [pair(0.8, "marks"), pair(0.85, "blobs"), pair(0.9, "blobs"), pair(0.9, "blobs")]
    called = page.evaluate("(all) => names(all, [400, 300])", [first, *others])
    same = "1+1=2, moved along, other things, at the bottom right"
    assert called[1] == f"{same}, small marks"
    assert called[2] == f"{same}, what stands out, further left"
    assert called[3] == f"{same}, what stands out, further right"
    assert called[4] == f"{called[3]} (2)"  # quite alike: numbered all the same
    assert called[0] == "No double: 1 counted"


def test_where_nothing_repeats_three_counts_are_offered_beside_that(browser: Any, here: Path, server: Any) -> None:
    with tab(browser) as page:
        page.goto(server[0] + ready(here, server[1], "bare-planks.jpg"))
        page.locator("#readings button").first.wait_for()
        names = page.locator("#readings .label").all_inner_texts()
        assert names[3:] == ["No double: nothing repeats"]
        totals = page.evaluate("options().map((r) => r.total)")
        assert all(totals[:3])
        assert totals[3:].count(None) == 1
        pressed = page.locator("#readings button[aria-pressed=true]")
        assert pressed.all_inner_texts()[0].startswith("No double: nothing repeats")
        assert state(page)["reading"] == -2
        accessible(page)
        page.keyboard.press("1")
        assert page.locator("#fact").inner_text() == names[0].split(",")[0]
        assert (len(dots(page)), state(page)["reading"]) == (totals[0], 0)
        page.keyboard.press("4")
        assert (page.locator("#fact").inner_text(), dots(page)) == ("No double", [])
        assert page.locator("#grade").inner_text() == "Nothing repeats here, as far as was seen."
        one, asked = page.evaluate("one.id"), page.locator("#readings button").nth(2)
        asked.click()
        shown = dots(page)
        page.get_by_role("button", name="Keep and next").click()
        assert same([[d.x, d.y] for d in catalog.load(here, kept_slug(page, here, one)).dots], shown)


@pytest.mark.parametrize("size", ["desktop", "old", "phone"])
def test_however_many_photos_there_are_the_next_is_one_press_away(browser: Any, photo: str, size: str) -> None:
    with tab(browser, size) as page:
        page.goto(photo)
        page.locator("#readings button").first.wait_for()
        page.evaluate("for (let i = 0; i < 40; i++) strip.append(strip.firstElementChild.cloneNode(true))")
        for name in ("#before", "#after"):
            box = page.locator(name).bounding_box()
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= page.viewport_size["width"]
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        if size != "phone":
            tools = page.locator(".look .tools button:visible")
            assert len({one.bounding_box()["y"] for one in tools.all()}) == 1  # one row


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_keep_is_in_sight_and_the_photo_fills_its_place(browser: Any, photo: str, size: str) -> None:
    with tab(browser, size) as page:
        page.goto(photo)
        page.locator("#readings button").first.wait_for()
        for y in (0, 400):
            page.evaluate(f"scrollTo(0, {y})")
            keep = page.get_by_role("button", name="Keep and next").bounding_box()
            assert keep["y"] >= 0
            assert keep["y"] + keep["height"] <= page.viewport_size["height"]
        (left, top), (right, bottom) = at(page, 0, 0), at(page, 1, 1)
        place = page.locator(".stage").bounding_box()
        assert max((right - left) / place["width"], (bottom - top) / place["height"]) > 0.99
        if size == "desktop":
            assert place["width"] > 0.6 * 1280


def test_a_kept_prompt_is_opened_again_with_its_dots(browser: Any, tmp_path: Path) -> None:
    import shutil

    here = Path(shutil.copytree(Path(__file__).parents[2] / "catalog", tmp_path / "catalog"))
    before = catalog.load(here, "eggs")
    with served(here) as (address, _), tab(browser) as page:
        page.goto(f"{address}/prompts/eggs")
        page.get_by_role("button", name="Open with its dots").click(timeout=120_000)  # two passes over a picture
        page.wait_for_url("**/photos/*", wait_until="load")
        assert same(dots(page), [[d.x, d.y] for d in before.dots if d.side])
        assert page.locator("#grade").inner_text().startswith("As it was kept.")
        page.locator("#words summary").click()
        page.get_by_label("Place").fill("larder")
        accessible(page)
        page.get_by_role("button", name="Save").click()
        page.wait_for_url("**/prompts/eggs?kept=1")
    after = catalog.load(here, "eggs")
    assert (after.place, after.dots, after.fact) == ("larder", before.dots, before.fact)


def test_what_the_file_carried_is_said(browser: Any, here: Path, server: Any, tmp_path: Path) -> None:
    import io

    exif = Image.Exif()
    exif[0x010F] = "Maker"
    exif.get_ifd(0x8825)[1] = "N"
    data = io.BytesIO()
    Image.new("RGB", (200, 150), "white").save(data, "JPEG", exif=exif)
    item = inbox.put(here, "there.jpg", data.getvalue())
    server[1].wake(item["id"])
    with tab(browser) as page:
        page.goto(f"{server[0]}/photos/{item['id']}")
        page.get_by_text("Taken out of the kept copy: where it was taken, the camera's data.").wait_for()
        accessible(page)


def test_naming_the_things_brings_forward_what_was_kept_of_them(browser: Any, tmp_path: Path) -> None:
    """Two dice were kept as two: named, the next two are two, and a step back is as it was."""
    looked = look.look(SAMPLES / "dice-fives.jpg")
    two = next(k for k, one in enumerate(looked.readings) if len(one.things) == 2)
    words = {"thing": "die", "things": "dice", "place": "table", "checked_by": "teacher"}
    here = tmp_path / "catalog"
    kept = prompts.make(looked, reading=two, **words)  # type: ignore[arg-type]
    catalog.add(here, kept, photos.encode_clean(photos.load_large(SAMPLES / "dice-fives.jpg")))
    with served(here) as (address, site), tab(browser) as page:
        page.goto(address + ready(here, site, "dice-sixes.jpg"))
        page.locator("#readings li").first.wait_for(state="attached")
        fact = page.locator("#fact")
        assert fact.inner_text() == "6+6=12"
        page.get_by_label("What are they?").fill("cubes")  # nothing of that name is kept
        with page.expect_response(re.compile("/named")):
            page.keyboard.press("Tab")
        page.get_by_label("What are they?").fill("dice")
        with page.expect_response(re.compile("/named")):
            page.keyboard.press("Tab")
        page.locator("#fact", has_text="1+1=2").wait_for()  # the list beside it names it before
        assert "without them 12 would be counted" in str(page.locator("#reasons").text_content())
        assert "please look at each" in page.locator("#grade").inner_text()
        page.locator("#undo").click()
        assert fact.inner_text() == "6+6=12"
        page.locator("#redo").click()
        one = page.evaluate("one.id")
        page.get_by_role("button", name="Keep and next").click()
        new = catalog.load(here, kept_slug(page, here, one))
        assert (str(new.fact), new.things, len(new.dots)) == ("1+1=2", "dice", 2)


def test_the_next_photo_is_in_sight_on_a_phone(browser: Any, fresh: Any) -> None:
    address, site = fresh
    first = ready(site.catalog, site, "bare-planks.jpg")
    ready(site.catalog, site, "three-mugs.jpg")
    with tab(browser, "phone") as page:
        page.goto(address + first)
        page.locator("#readings button").first.wait_for()
        page.evaluate("scrollTo(0, 500)")
        assert page.locator(".stage").bounding_box()["y"] < 0
        page.get_by_role("button", name="Keep and next").click()
        page.locator("h1", has_text="three-mugs.jpg").wait_for()
        assert page.locator(".stage").bounding_box()["y"] > -1


def test_that_it_is_no_double_is_said_once(browser: Any, fresh: Any) -> None:
    address, site = fresh
    at = ready(site.catalog, site, "five-oranges.jpg")
    with tab(browser) as page:
        sent = page.request.get(address + at).text()
        assert re.search(r'<p id="grade">5 counted\.</p>', sent)
        page.goto(address + at)
        page.locator("#readings button").first.wait_for()
        assert page.locator("#fact").inner_text() == "No double"
        assert page.locator("#grade").inner_text() == "5 counted."

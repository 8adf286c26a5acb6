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

from curator.catalog.store import folder as catalog
from curator.web import inbox
from tests.seeing.test_likeness import two_kinds
from tests.web_kit import MARKS, accessible, chromium, looked_at, ready, served, tab

pytestmark = MARKS


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("look") / "catalog"


@pytest.fixture(scope="module")
def server(here: Path) -> Iterator[Any]:
    with served(here) as one:
        yield one


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with chromium() as one:
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
    box = page.locator("#marks").bounding_box()
    return box["x"] + x * box["width"], box["y"] + y * box["height"]


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
    assert "same number on both sides" in page.locator("#reasons").inner_text()
    page.keyboard.press("u")
    assert page.locator("#fact").inner_text() != "No double"
    assert page.evaluate("now.line") == line
    for key, back in (("[", "]"), (",", ".")):
        keyed(page, key)
        assert page.evaluate("now.line") != line
        keyed(page, back)
    ends = state(page)["line"]
    assert np.allclose(ends, line, atol=0.02)
    drag(page, tuple(ends[0]), (0.9, 0.9), "again")  # an end turns the line about the other
    assert np.allclose(state(page)["line"], [(0.9, 0.9), ends[1]], atol=0.01)


def test_arrows_walk_the_dots_and_every_change_has_a_key(page: Any) -> None:
    start = dots(page)
    page.locator("#marks").focus()
    seen = set()
    for key in ["ArrowRight"] * 8 + ["ArrowDown"] + ["ArrowLeft"] * 8:
        page.keyboard.press(key)
        seen.add(page.evaluate("at"))
    assert len(seen) >= len(start) // 2
    assert page.locator(".dot.on").count() == 1
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
    if len(page.evaluate("now.readings")) > 1:
        page.keyboard.press("2")
        assert page.evaluate("now.reading") == 1
    page.keyboard.press("k")
    assert page.evaluate("document.activeElement.name") == "thing"
    page.keyboard.press("u")  # a letter in a word, no undo
    assert page.locator("[name=thing]").input_value() == "u"


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


def test_more_like_one_thing_by_holding_or_by_key(
    browser: Any, photo: str, server: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    class StandIn:
        def ask(self, job: str, *args: Any) -> Any:
            if job != "like":
                return worker.ask(job, *args)
            asked.append(args[1])
            return [(0.2, 0.3), (0.2, 0.7), (0.6, 0.3), (0.6, 0.7)]

        def stop(self) -> None:
            worker.stop()

    worker = server[1].asking
    monkeypatch.setattr(server[1], "asking", StandIn())
    with tab(browser) as page:
        page.goto(photo)
        where = dots(page)[0]
        page.mouse.move(*at(page, *where))
        with page.expect_response("**/like"):
            page.mouse.down()
        page.mouse.up()
        settled(page)
        assert np.allclose(asked[0], where, atol=0.01)
        assert page.locator("#fact").inner_text() == "2+2=4"
        page.keyboard.press("u")
        assert len(dots(page)) > 4
        keyed(page, "m", "like")
        assert len(dots(page)) == 4
        page.get_by_role("button", name="More like this").click()
        with page.expect_response("**/like"):
            page.mouse.click(*at(page, 0.5, 0.5))
        assert np.allclose(asked[2], (0.5, 0.5), atol=0.01)
        accessible(page)


def test_more_like_one_of_the_buttons_finds_the_others(page: Any) -> None:
    before = dots(page)
    page.get_by_role("button", name="More like this").click()
    with page.expect_response("**/like"):
        page.mouse.click(*at(page, *before[0]))
    settled(page)
    after = np.array(dots(page))
    found = sum(np.hypot(*(after - one).T).min() < 0.03 for one in before)
    assert found >= 0.8 * len(before), (before, after)


@pytest.fixture(scope="module")
def kinds(here: Path, server: Any) -> str:
    """The address of a drawn photo with six discs and four squares, looked at."""
    import io

    data = io.BytesIO()
    Image.fromarray(two_kinds()).save(data, "PNG")
    item = inbox.put(here, "discs-and-squares.png", data.getvalue())
    return server[0] + looked_at(here, server[1], item["id"])


def tapped(page: Any, x: float, y: float) -> None:
    with page.expect_response("**/again"):
        page.mouse.click(*at(page, x, y))
    settled(page)


def everything(page: Any) -> list[list[float]]:
    """Chooses the reading that counts discs and squares together."""
    page.get_by_role("button", name="5+5=10").first.click()
    found = dots(page)
    assert len(found) == 10
    return found


OFFER = "Count again from my dots"


def test_a_dot_taken_off_teaches_the_rest_and_one_undo_takes_that_back(browser: Any, kinds: str) -> None:
    with tab(browser) as page:
        page.goto(kinds)
        offer, heard = page.get_by_role("button", name=OFFER), page.locator("#heard")
        start = everything(page)
        assert not offer.is_visible()
        tapped(page, *max(start))  # the rightmost: a square
        assert len(dots(page)) == 9
        assert heard.inner_text() == "More to set right in the same way?"
        accessible(page)
        with page.expect_response("**/told") as asked:
            offer.click()
        settled(page)
        body = asked.value.request.post_data_json
        assert np.allclose(body["no"], [max(start)])
        assert (body["yes"], len(body["dots"]), body["area"]) == ([], 9, None)
        assert page.locator("#fact").inner_text() == "3+3=6"
        assert (
            page.locator("#grade").inner_text() == "Please check the dots. 6 counted."
        )  # not her own dots alone: never sure
        assert all(x < 0.65 for x, _ in dots(page))
        assert heard.inner_text() == "Took 3 away, crossed out. Undo takes this back."
        assert page.locator("path.mark:not(.dark)").count() == 3
        assert not offer.is_visible()
        assert page.evaluate("document.activeElement.id") == "marks"  # the button is gone: the focus is not lost
        accessible(page)
        page.keyboard.press("u")
        assert same(dots(page), [d for d in start if d != max(start)])
        assert offer.is_visible()
        assert page.locator(".mark").count() == 0
        page.keyboard.press("r")
        assert len(dots(page)) == 6


def test_what_is_shown_after_teaching_is_what_is_kept(browser: Any, kinds: str, here: Path) -> None:
    with tab(browser) as page:
        page.goto(kinds)
        tapped(page, *max(everything(page)))
        keyed(page, "l", "told")
        page.get_by_role("button", name="Keep", exact=True).click()
        page.wait_for_url("**/prompts/**")
        kept = catalog.load(here, page.url.split("/")[-1].split("?")[0])
        assert (str(kept.fact), kept.touched) == ("3+3=6", 1)


def test_teaching_by_keys_alone_and_dots_found_are_ringed(page: Any) -> None:
    start = dots(page)
    page.locator("#marks").focus()
    page.keyboard.press("l")  # nothing was told: nothing is asked
    assert page.evaluate("calls") == 0
    for _ in range(3):
        keyed(page, "Delete")
    page.keyboard.press("u")
    keyed(page, "a")
    keyed(page, "Shift+ArrowLeft")
    told = page.evaluate("[now.yes, now.no]")
    assert (len(told[0]), len(told[1])) == (
        1,
        2,
    )  # the dot that was added is where it was moved to; what was undone is not told
    more = [*dots(page), [0.01, 0.02], [0.99, 0.02]]
    answer_with(page, {"readings": [reading(more)], "found": more[-2:], "gone": []})
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "told":
            break
    keyed(page, "Enter", "told")
    assert page.locator("#heard").inner_text() == "Found 2 more, ringed. Undo takes this back."
    assert page.locator("circle.mark:not(.dark)").count() == 2
    assert same(dots(page), more)
    page.keyboard.press("u")
    assert len(dots(page)) == len(start) - 1


def test_when_nothing_else_is_found_it_is_said_and_there_is_no_step_to_undo(page: Any) -> None:
    answer_with(page, {"readings": [], "found": [], "gone": []})
    tapped(page, 0.5, 0.95)
    mine = dots(page)
    keyed(page, "l", "told")
    page.get_by_text("Nothing else was found; your dots stay as they are.").wait_for()
    assert same(dots(page), mine)
    assert not page.get_by_role("button", name=OFFER).is_visible()
    page.keyboard.press("u")
    assert len(dots(page)) == len(mine) - 1


def test_another_set_she_may_mean_is_one_click_and_what_was_shown_stays_to_choose(page: Any) -> None:
    tapped(page, 0.5, 0.95)
    mine = dots(page)
    other = {**reading(mine[:3]), "other": True, "grade": "check", "fact": None}
    answer_with(page, {"readings": [reading(mine), other], "found": [], "gone": []})
    keyed(page, "l", "told")
    page.get_by_text("Your dots stay as they are; other ways to count are under Readings.").wait_for()
    assert same(dots(page), mine)
    page.get_by_role("button", name="No double: 3 counted").click()
    assert same(dots(page), mine[:3])
    assert "3 counted" in page.locator("#grade").inner_text()
    assert page.get_by_role("button", name=OFFER).is_hidden()
    accessible(page)
    page.keyboard.press("2")  # what was shown before
    assert same(dots(page), mine)
    page.keyboard.press("u")
    page.keyboard.press("u")
    assert same(dots(page), mine)


def test_what_was_left_out_on_purpose_stays_out_until_it_is_tapped(here: Path, server: Any, browser: Any) -> None:
    at_beetle = server[0] + ready(here, server[1], "beetle-six-spots.jpg")
    with tab(browser) as page:
        page.goto(at_beetle)
        left_out = page.evaluate("now.readings.findIndex((r) => r.dots.length > (r.total || 0))")
        page.keyboard.press(str(left_out + 1))
        counted, (out,) = dots(page), page.evaluate("now.out.map((d) => [d.x, d.y])")
        assert f"{len(counted)} counted" in page.locator("#grade").inner_text()
        tapped(page, 0.9, 0.05)  # another dot
        assert len(dots(page)) == len(counted) + 1
        assert page.evaluate("now.out.map((d) => [d.x, d.y])") == [out]
        tapped(page, *out)
        assert len(dots(page)) == len(counted) + 2
        assert page.evaluate("[now.out.length, now.yes.length]") == [0, 2]
        assert f"{len(counted) + 2} counted" in page.locator("#grade").inner_text()
        page.keyboard.press("u")
        assert page.evaluate("now.out.map((d) => [d.x, d.y])") == [out]
        page.keyboard.press("1")
        assert page.evaluate("now.out.length") == 0


def test_only_what_was_told_since_the_last_fresh_answer_is_sent(page: Any) -> None:
    told = "[now.yes.length, now.no.length, untold()]"
    tapped(page, 0.5, 0.95)
    tapped(page, *dots(page)[0])
    assert page.evaluate(told) == [1, 1, True]
    tapped(page, 0.5, 0.95)  # her own dot off again is no correction
    assert page.evaluate(told) == [0, 1, True]
    answer_with(page, {"readings": [reading(dots(page)[:-1])], "found": [], "gone": dots(page)[-1:]})
    keyed(page, "l", "told")
    assert page.evaluate(told) == [0, 1, False]  # remembered, but answered
    tapped(page, 0.5, 0.95)
    assert page.evaluate(told) == [1, 1, True]
    page.get_by_role("button", name="More like this").click()
    with page.expect_response("**/like"):
        page.mouse.click(*at(page, *dots(page)[0]))
    settled(page)
    assert page.evaluate(told) == [1, 0, False]
    page.keyboard.press("f")
    keyed(page, "Enter", "area")
    assert page.evaluate(told) == [0, 0, False]


def test_no_answer_to_teaching_leaves_the_dots(page: Any) -> None:
    tapped(page, 0.5, 0.95)
    mine = dots(page)
    page.route("**/told", lambda route: route.abort())
    page.keyboard.press("l")
    page.get_by_text("The page does not answer.").wait_for()
    assert same(dots(page), mine)
    assert page.get_by_role("button", name=OFFER).is_visible()


def answer_with(page: Any, answer: dict[str, Any]) -> None:
    page.route("**/told", lambda route: route.fulfill(json=answer))


def reading(places: list[list[float]]) -> dict[str, Any]:
    found = [{"x": x, "y": y, "side": 0} for x, y in places]
    return {
        "grade": "no",
        "fact": None,
        "total": len(found),
        "kind": None,
        "line": None,
        "dots": found,
        "reasons": ["Drawn."],
    }


def test_a_finger_on_a_phone(browser: Any, photo: str) -> None:
    with tab(browser, "phone") as page:
        page.goto(photo)
        before = len(dots(page))
        for left, place in ((before - 1, dots(page)[0]), (before, dots(page)[0])):
            with page.expect_response("**/again"):
                page.touchscreen.tap(*at(page, *place))
            settled(page)
            assert len(dots(page)) == left
        accessible(page)


def test_blur_is_in_the_kept_picture_and_a_twin_is_told_without_losing_the_dots(
    browser: Any, here: Path, server: Any
) -> None:
    address = server[0] + ready(here, server[1], "dice-sixes.jpg")
    with tab(browser) as page:
        page.goto(address)
        page.get_by_role("button", name="Blur").click()
        drag(page, (0.05, 0.05), (0.3, 0.3))
        drag(page, (0.6, 0.6), (0.9, 0.9))
        page.mouse.click(*at(page, 0.75, 0.75))  # a tap takes it off
        assert page.locator("rect.blur").count() == 1
        page.keyboard.press("b")
        page.keyboard.press("Enter")
        assert page.locator("rect.blur").count() == 2
        page.keyboard.press("u")
        page.keyboard.press("d")
        if page.get_by_label("it is no face").count():
            page.get_by_label("it is no face").check()
        page.get_by_label("Many of them").fill("dice")
        page.get_by_label("Licence").select_option("CC0-1.0")
        page.get_by_role("button", name="Keep", exact=True).click()
        page.wait_for_url("**/prompts/**")
        kept = catalog.load(here, page.url.split("/")[-1].split("?")[0])
        assert (kept.faces, kept.touched, kept.license) == ("blurred", 0, "CC0-1.0")
        shown = np.asarray(Image.open(catalog.picture_path(here, kept)).convert("L"), float)
        part = shown[
            int(0.08 * shown.shape[0]) : int(0.27 * shown.shape[0]),
            int(0.08 * shown.shape[1]) : int(0.27 * shown.shape[1]),
        ]
        assert np.abs(np.diff(part, axis=1)).max() < 12  # no edge is left

        page.goto(server[0] + ready(here, server[1], "dice-sixes.jpg"))
        assert "You have this photo." in page.inner_text("main")
        assert page.get_by_role("link", name="Dice").count() == 1
        with page.expect_response("**/again"):
            page.mouse.click(*at(page, 0.5, 0.97))
        settled(page)
        now = dots(page)
        if page.get_by_label("it is no face").count():
            page.get_by_label("it is no face").check()
        page.get_by_role("button", name="Keep", exact=True).click()
        page.get_by_text(re.compile("The same photo is there already")).wait_for()
        assert same(dots(page), now)
        accessible(page)


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

"""The site in a real Chromium from a file: found as one types, shown to a class, clean by axe-core in every state."""

from __future__ import annotations

import functools
import http.server
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import drawn_catalog as drawn
import pytest

from curator.catalog.search import index
from curator.catalog.search.query import TAUGHT, is_beyond, parse
from curator.classroom.text.questions import tells
from curator.site.build import Built, build
from curator.site.prompt_files import Wish, key_of
from tests.web_kit import MARKS, served
from tests.web_kit import tab as a_tab

SIZES = {
    "desktop": (1280, 800),
    "phone": (375, 740),
    "zoomed": (320, 256),
}  # 320 x 256: 1280 x 1024 at 400 % (WCAG 2.2, 1.4.10)
pytestmark = MARKS
QUESTIONS = (
    "7+7",
    "14",
    "half of 14",
    "14-7",
    "14 - 7 = 7",
    "14−7=7",
    "14-7=6",
    "doubles to 10",
    "double six",
    "eggs",
    "EGGS kit",
    "buttons 5+5",
    "flip",
    "slide eggs",
    "split 12",
    "no double",
    "doubles",
    "leaf",
    "lea",
    "eggs buttons",
    "3+4",
    "4+4=9",
    "seven plus seven",
    "half of ten is five",
    "the eggs in the kitchen",
    "porch",
    "école",
    "a b c",
    "<b>",
    "((",
    "\\",
    '"',
    "+",
    "7 + 7 = 14 eggs",
    "not a double shells",
    "9 take away 4",
    "99+99",
    "room",
    "eggs-7",
    "egg 2",
    "twenty four",
    "double 6 jars porch",
    *("egs", "huevos", "mitad de 12", "twelve", "double six", "2x7", "7x2", "3x4", "twice 6", "13+13", "0+0", "?!"),
    *("buttns", "doce huevos", "dos veces 6", "6 más 6", "6 mas 6 = 12", "doble de 7", "dobles hasta 10", "one", "uno"),
    *("sin doble", "half a dozen", "2·8", "30", "kitchne eggs", "of", "x", "once", "flip egs", "porchh 7", "zzzzz"),
)


@pytest.fixture(scope="module")
def catalog(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drawn.build(tmp_path_factory.mktemp("site") / "catalog")


@pytest.fixture(scope="module")
def made(catalog: Path) -> Built:
    return build(catalog, "", catalog.parent / "site", Wish())


def tab_of(browser: Any, size: str = "desktop", **more: Any) -> Any:
    """A page without network, and what went wrong or left the folder in `said`."""
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, has_touch=True, **more)
    context.set_offline(True)
    tab = context.new_page()
    tab.said = []
    tab.on("console", lambda message: tab.said.append(message.text))
    tab.on("pageerror", lambda error: tab.said.append(str(error)))
    tab.on(
        "request", lambda request: None if request.url.startswith(("file:", "data:")) else tab.said.append(request.url)
    )
    return tab


@pytest.fixture
def tab(browser: Any) -> Iterator[Any]:
    opened = tab_of(browser)
    yield opened
    opened.context.close()
    assert opened.said == []


def address(made: Built, page: str) -> str:
    return f"file://{made.path}/{page}"


def keys_shown(tab: Any) -> list[str]:
    links = tab.eval_on_selector_all("#cards a", "all => all.map(a => a.getAttribute('href'))")
    return [link.removeprefix("prompts/").removesuffix(".html") for link in links]


def test_typing_finds_what_curator_find_finds(tab: Any, made: Built, catalog: Path) -> None:
    tab.goto(address(made, "index.html"))
    for typed in QUESTIONS:
        tab.fill("#words", typed)
        found = index.find(catalog, typed, limit=100)
        wanted = [key_of(p.slug) for p in found.prompts]
        assert keys_shown(tab) == wanted, typed
        count = f"{len(wanted)} picture{'' if len(wanted) == 1 else 's'}."
        none = TAUGHT if is_beyond(parse(typed)) else "Try fewer words."
        said = [f" Nothing is called “{word}”; this is “{near}”." for word, near in found.instead]
        assert tab.inner_text("#said") == (count if wanted else f"No picture. {none}") + "".join(said)
    assert tab.is_hidden("#board")
    tab.fill("#words", "")
    assert tab.is_visible("#board")
    assert not keys_shown(tab)


def test_back_comes_back_to_what_was_found(tab: Any, made: Built) -> None:
    tab.goto(address(made, "index.html"))
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.className") == "skip"
    tab.get_by_role("searchbox", name="Find").press_sequentially("7+7 eggs")
    tab.wait_for_url("**#7%2B7%20eggs")
    tab.get_by_role("link", name="Eggs, kitchen").click()
    assert tab.inner_text("h1") == "Eggs, kitchen"
    tab.get_by_role("link", name="Show to the class").click()
    assert tab.title() == "Doubles"
    tab.get_by_role("link", name="Close").click()
    tab.go_back()
    tab.go_back()
    tab.go_back()
    tab.wait_for_function("document.querySelectorAll('#cards li').length === 1")
    assert tab.input_value("#words") == "7+7 eggs"


def test_many_results_come_in_parts(browser: Any, made: Built) -> None:
    tab = tab_of(browser)
    tab.goto(address(made, "index.html"))
    tab.evaluate("catalog.rows.push(...catalog.rows, ...catalog.rows, ...catalog.rows)")
    tab.fill("#words", "kitchen")
    assert len(keys_shown(tab)) == 48
    tab.click("#more")
    assert len(keys_shown(tab)) == 96
    assert tab.evaluate("document.activeElement.closest('li') === document.querySelectorAll('#cards li')[48]")
    assert tab.is_hidden("#more")
    tab.context.close()


def test_without_scripts_everything_can_be_read(browser: Any, made: Built) -> None:
    tab = tab_of(browser, java_script_enabled=False)
    tab.goto(address(made, "index.html"))
    assert tab.is_hidden("#find")
    tab.get_by_role("link", name="7+7=14", exact=True).click()
    tab.get_by_role("link", name="Buttons, kitchen").click()
    assert tab.inner_text("h1") == "Buttons, kitchen"
    assert "7+7=14" in tab.inner_text("main")
    tab.get_by_role("link", name="Credits", exact=True).click()
    assert "Porch School" in tab.inner_text("main")
    tab.context.close()


def seen(tab: Any) -> str:
    """All that the class can read or hear: words, texts of pictures, the tab, addresses that are told on hovering."""
    told = tab.evaluate(
        """() => [...document.querySelectorAll("img, a")].filter((e) => e.checkVisibility())
        .map((e) => `${e.alt ?? ""} ${e.title} ${e.getAttribute("aria-label") ?? ""} ${e.getAttribute("href") ??
        ""}`).join(" ")"""
    )
    return f"{tab.inner_text('main')} {told} {tab.title()} {tab.url.rpartition('/')[2]}"


def test_the_class_sees_picture_flash_dots_rings_covers_and_the_equation_last(tab: Any, made: Built) -> None:
    tab.goto(address(made, f"show/{key_of('eggs-7')}.html"))
    tab.select_option("#seconds", "1", force=True)
    for _ in range(2):  # the start, then Look
        assert tab.is_hidden("#photo")
        assert not tells(seen(tab), 7, 14), seen(tab)
        tab.keyboard.press("PageDown")
    for _ in range(2):
        assert tab.is_visible("#photo")
        assert not tells(seen(tab), 7, 14)
        tab.wait_for_selector("#photo", state="hidden", timeout=4000)
        tab.keyboard.press("s")  # flash it again
    tab.keyboard.press("k")  # keep it on
    tab.keyboard.press("PageDown")  # asked on, still on the plain picture
    assert tab.is_visible("#photo")
    assert tab.is_hidden("#over")
    tab.keyboard.press("h")
    rings = tab.get_attribute("#over", "src")
    tab.keyboard.press("d")
    assert tab.get_attribute("#over", "src") != rings
    assert tab.get_attribute("#dots", "aria-pressed") == "true"
    assert tab.get_attribute("#photo", "alt") == "The same picture with a mark on each thing."
    assert not tells(seen(tab), 7, 14)
    tab.mouse.move(300, 300)  # brings the controls
    tab.tap("#dots")
    assert tab.is_hidden("#over")
    tab.keyboard.press("r")
    assert "7 + 7 = 14" in tab.inner_text("#sums").replace("\xa0", " ")
    assert tab.get_attribute("#over", "src") == rings  # the answer is ringed
    while tab.is_hidden("#cover2"):  # one half covered: the whole is told, the half is not
        assert tab.is_enabled("#next")
        tab.keyboard.press("PageDown")
    assert tab.is_hidden("#dots")
    assert not tells(seen(tab), 7)
    upper = tab.locator("#over").bounding_box()
    tab.keyboard.press("d")  # marks would show what is hidden
    assert tab.locator("#over").bounding_box() == upper
    tab.keyboard.press("o")
    assert tab.locator("#over").bounding_box()["y"] > upper["y"] + upper["height"]
    tab.keyboard.press("r")
    assert "14 − 7 = 7" in tab.inner_text("#sums").replace("\xa0", " ")


def test_a_web_server_shows_the_same(browser: Any, made: Built) -> None:
    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *_: object) -> None: ...

    handler = functools.partial(Quiet, directory=str(made.path))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        here = f"http://127.0.0.1:{server.server_port}/"
        context = browser.new_context()
        tab = context.new_page()
        asked: list[str] = []
        tab.on("request", lambda request: asked.append(request.url))
        tab.goto(here)
        tab.fill("#words", "eggs 3+3")
        assert len(keys_shown(tab)) == 1
        tab.get_by_role("link", name="Eggs, kitchen").click()
        tab.get_by_role("link", name="Show to the class").click()
        assert tab.title() == "Doubles"
        assert all(one.startswith((here, "data:")) for one in asked)
        context.close()
        server.shutdown()


def test_a_site_wears_what_the_local_page_wears(browser: Any, tab: Any, made: Built, catalog: Path) -> None:
    """The same letters, ink, ground, button and card, so that a colleague knows her way at once."""
    parts = ("body", "h1", "nav a[aria-current]", ".button.main", ".card", ".card strong", "input")
    told = """(part) => { const e = document.querySelector(part), s = e && getComputedStyle(e);
    return s && ["fontFamily", "fontSize", "fontWeight", "color", "backgroundColor", "borderColor", "borderRadius",
    "minHeight"].map((one) => s[one]); }"""

    def worn(page: Any) -> dict[str, Any]:
        return {part: found for part in parts if (found := page.evaluate(told, part))}

    tab.goto(address(made, f"prompts/{key_of('eggs-7')}.html"))
    site = worn(tab)
    tab.goto(address(made, "index.html"))
    tab.fill("#words", "eggs")
    site |= worn(tab)
    with served(catalog) as (at, _), a_tab(browser) as page:
        page.goto(f"{at}/prompts/eggs-7")
        local = worn(page)
        page.goto(f"{at}/find?q=eggs")
        local |= worn(page)
    assert local == site
    assert set(local) == set(parts)
    assert tab.evaluate("document.fonts.check('16px Rubik')")
    assert "Rubik" in tab.evaluate(
        "[...document.fonts].filter((f) => f.status === 'loaded').map((f) => f.family).join()"
    )


@pytest.mark.parametrize("size", list(SIZES))
def test_no_page_violates_the_accessibility_rules(browser: Any, made: Built, size: str) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is missing").Axe()
    tab = tab_of(browser, size)
    tab.emulate_media(reduced_motion="reduce")  # on a busy machine a fade may begin after the others were ended

    def clean(where: str) -> None:  # preload: axe-core would fetch the style sheet, which the page's policy forbids
        tab.evaluate("document.getAnimations().forEach((one) => one.finish())")  # colours half faded are no finding
        broken = [
            (v["id"], v["nodes"][0]["html"][:120])
            for v in axe.run(tab, options={"preload": False}).response["violations"]
        ]
        assert broken == [], where
        assert tab.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0], where

    def clean_in_both(where: str) -> None:
        for scheme in ("dark", "light"):
            tab.emulate_media(color_scheme=scheme)
            clean(f"{where}, {scheme}")

    for page in (
        "index.html",
        "facts/7.html",
        "facts/11.html",
        "facts/none.html",
        f"prompts/{key_of('eggs-7')}.html",
        f"prompts/{key_of('shells')}.html",
        "credits.html",
    ):
        tab.goto(address(made, page))
        clean_in_both(page)
        targets = tab.locator(".board a:visible, header a:visible, button:visible, input:visible")
        if page == "index.html":
            assert all(one.bounding_box()["height"] >= 44 for one in targets.all())  # WCAG 2.2, 2.5.5
    tab.goto(address(made, "index.html"))
    for typed in ("eggs", "nothing at all"):
        tab.fill("#words", typed)
        clean_in_both(f"find {typed}")
    tab.goto("about:blank")
    if size != "zoomed":  # the page for the class has its own tests of this
        tab.goto(address(made, f"show/{key_of('eggs-7')}.html"))
        tab.select_option("#seconds", "0", force=True)
        for n in range(9):
            clean(f"show {n}")
            if tab.is_visible("#dots"):
                tab.keyboard.press("d")
                clean(f"show {n}, dots")
            tab.keyboard.press("PageDown")
    assert tab.said == []
    tab.context.close()

"""What a teacher does, in a real browser: upload, set right by two taps, keep, find, show, make a lesson."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
SIZES = {"desktop": {"width": 1440, "height": 900}, "phone": {"width": 390, "height": 844}}
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium found: install the package chromium to run these"),
    pytest.mark.filterwarnings("ignore"),
]


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "curator", "serve", "--port", str(port), "-c", str(tmp_path / "catalog")]
    server = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL)
    try:
        for _ in range(150):
            with socket.socket() as one:
                if one.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(10)


@pytest.fixture(params=list(SIZES))
def page(request: pytest.FixtureRequest) -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        opened = browser.new_page(viewport=SIZES[request.param])
        opened.set_default_timeout(20_000)
        opened.wrong = []
        opened.on("pageerror", lambda error: opened.wrong.append(str(error)))
        opened.size = request.param
        yield opened
        browser.close()
        assert opened.wrong == []


def accessible(page: Any) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page).response["violations"]
    told = [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found]
    assert not told, f"{page.url}: {told}"


def shot(page: Any, name: str, tmp_path: Path) -> None:
    page.screenshot(path=tmp_path / f"{page.size}-{name}.png", full_page=True)


def test_a_teacher_s_way_from_photos_to_a_lesson(page: Any, address: str, tmp_path: Path) -> None:
    samples = ROOT / "sample_images"
    page.goto(f"{address}/photos")
    names = ("buttons-sixteen.jpg", "dice-sixes.jpg", "three-mugs.jpg")
    page.locator("input[type=file]").first.set_input_files([samples / n for n in names])
    for name in names:
        page.get_by_role("link", name=f"Look at {name}").wait_for()
    accessible(page)
    shot(page, "photos", tmp_path)

    page.get_by_role("link", name="Look at buttons-sixteen.jpg").click()
    marks = page.locator("#marks")
    before = marks.locator(".dot").count()
    box = marks.locator(".dot").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    for left in (before - 1, before):
        with page.expect_response("**/again"):
            page.mouse.click(x, y)
        page.locator("#grade", has_text=f"{left} counted").wait_for()
        assert marks.locator(".dot").count() == left
    accessible(page)
    shot(page, "look", tmp_path)
    fact = page.locator("#fact").inner_text()
    page.get_by_label("Many of them").fill("buttons")
    page.get_by_label("Place").fill("kitchen")
    if page.get_by_label("it is no face").count():
        page.get_by_label("it is no face").check()
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("heading", name="Buttons, kitchen").wait_for()
    accessible(page)
    shot(page, "prompt", tmp_path)

    assert "+" in fact
    half = fact.split("+")[0]
    for words in (f"{half}+{half}", "buttons"):
        page.goto(f"{address}/find")
        page.get_by_role("searchbox").press_sequentially(words)
        page.locator("#results").get_by_text("1 picture.").wait_for()
    accessible(page)
    page.get_by_role("button", name="Add Buttons, kitchen to the lesson").click()
    page.goto(f"{address}/")
    accessible(page)
    shot(page, "board", tmp_path)
    page.goto(f"{address}/lesson")
    accessible(page)
    with page.expect_download() as got:
        page.get_by_role("link", name="Slides").click()
    assert got.value.path().stat().st_size > 10_000

    page.get_by_role("link", name="Show it").click()
    page.wait_for_url("**/show/**", wait_until="load")
    assert half not in page.title()
    assert fact not in page.inner_text("body")
    with page.expect_response("**/cover1.webp"):
        page.keyboard.press("1")
    page.keyboard.press("e")
    n = int(half)
    assert page.locator("#equation").inner_text() == f"{2 * n} − {n} = {n}"
    accessible(page)
    page.wait_for_timeout(300)
    shot(page, "show", tmp_path)

"""What the tests of the page in a real browser share: the page served, Chromium opened, axe-core asked."""

from __future__ import annotations

import contextlib
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from curator.web import inbox

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "sample_images"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SIZES = {
    "desktop": (1280, 800),
    "old": (1024, 768),  # what many projectors have
    "wall": (1920, 1080),
    "phone": (390, 844),
    "zoomed": (320, 256),
}  # 320 x 256: 1280 x 1024 at 400 % (WCAG 2.2, 1.4.10)
MARKS = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium found: install the package chromium to run these"),
    pytest.mark.filterwarnings("ignore"),
]


@contextlib.contextmanager
def served(catalog: Path) -> Iterator[Any]:
    """(address, site) of the page on a free port, in a thread of this process."""
    import uvicorn

    from curator.web.app import make_app

    app = make_app(catalog)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="critical", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{listener.getsockname()[1]}", app.state.site
    finally:
        server.should_exit = True
        thread.join(15)
        listener.close()


@contextlib.contextmanager
def chromium() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield opened
        opened.close()


@contextlib.contextmanager
def tab(browser: Any, size: str = "desktop", **more: Any) -> Iterator[Any]:
    """A fresh page; a script's error or a refused request to another host fails the test."""
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height}, has_touch=size in {"phone", "zoomed"}, **more
    )
    page = context.new_page()
    page.set_default_timeout(40_000)  # two busy cores answer late
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("request", lambda r: wrong.append(r.url) if not r.url.startswith(("http://127.0.0.1:", "blob:")) else None)
    yield page
    context.close()
    assert not wrong, "\n".join(wrong)  # no test module: pytest would not tell what it holds


def ready(catalog: Path, site: Any, name: str) -> str:
    """A sample photo put in and looked at: its address."""
    return looked_at(catalog, site, inbox.put(catalog, name, (SAMPLES / name).read_bytes())["id"])


def looked_at(catalog: Path, site: Any, one: str) -> str:
    """The address of a photo put in, as soon as it is looked at."""
    site.wake(one)
    for _ in range(600):
        if inbox.get(catalog, one)["state"] in ("ready", "error"):
            break
        time.sleep(0.05)
    return f"/photos/{one}"


def accessible_in_both(page: Any) -> None:
    """`accessible` in light and dark, of which the second changes colours alone."""
    for scheme, rules in (("light", ()), ("dark", ("color-contrast",))):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")  # what fades is there at once
        accessible(page, *rules)


def accessible(page: Any, *rules: str) -> None:
    """No violation that axe-core knows (of these rules only, where some are named), and nothing to scroll sideways."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"runOnly": list(rules)} if rules else None).response["violations"]
    told = [(v["id"], [n["html"][:120] for n in v["nodes"]][:3]) for v in found]
    assert not told, f"{page.url}: {told}"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{page.url} is wider than the screen"

"""The guide's pictures of the page, made anew from the sample pictures: .docs/screen-*.png.

python -m tests.screens
"""

from __future__ import annotations

import io
import shutil
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

from tests.web_kit import ROOT, SAMPLES, chromium, served, tab

PHOTOS = ("eggs-dozen", "oranges-nine-and-nine", "porch-boots", "window-three-and-three")
PHOTOS += ("leaf-eight", "trays-six-and-six", "moth-two-and-two", "three-mugs")
LOOKED_AT = "eggs-dozen.jpg"
FACTS = (3, 5, 6)
WIDTH, COLOURS = 1000, 256  # of a picture in the guide


def main() -> None:
    """Photos as they come in, one of them, and Home with facts ticked."""
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        with served(Path(folder) / "new") as (address, _), tab(browser) as page:
            page.goto(f"{address}/photos")
            page.locator("input[type=file]").first.set_input_files([SAMPLES / f"{name}.jpg" for name in PHOTOS])
            page.locator("#count", has_text=f"{len(PHOTOS)} of {len(PHOTOS)}: ").wait_for()
            page.get_by_role("button", name="Sort into the groups").wait_for()
            page.evaluate("scrollTo(0, 0)")
            taken(page, "photos")
            page.locator(".shot", has_text=LOOKED_AT).locator("a").first.click()
            page.locator("#readings button").first.wait_for()
            taken(page, "look")
        shutil.copytree(ROOT / "catalog", Path(folder) / "kept")
        with served(Path(folder) / "kept") as (address, _), tab(browser) as page:
            page.goto(address)
            for half in FACTS:
                page.locator(f"[name=fact][value='{half}']").check()
            taken(page, "home")


def taken(page: Any, name: str) -> None:
    """The page as it is, made smaller, with few colours."""
    page.wait_for_load_state("networkidle")
    with Image.open(io.BytesIO(page.screenshot())) as seen:
        small = seen.convert("RGB").resize((WIDTH, round(WIDTH * seen.height / seen.width)), Image.Resampling.LANCZOS)
    small.quantize(COLOURS, Image.Quantize.MAXCOVERAGE).save(ROOT / ".docs" / f"screen-{name}.png", optimize=True)


if __name__ == "__main__":
    main()

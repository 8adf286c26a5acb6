"""From photos to the lesson on the wall: clicks and seconds, as a teacher who does not stop to think would go.

    python tests/bench/wall_bench.py --photos 12

Every click is a real one in Chromium; choosing files in the system's own dialog counts as one more.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent.parent)]

from tests.web_kit import SAMPLES, chromium, served, tab  # noqa: E402

TWELVE = (
    "eggs-dozen.jpg",
    "eggs-ten.jpg",
    "eggs-eight.jpg",
    "bun-tin-six.jpg",
    "dice-sixes.jpg",
    "dice-fives.jpg",
    "buttons-sixteen.jpg",
    "bulbs-fourteen.jpg",
    "window-four-panes.jpg",
    "pots-eighteen.jpg",
    "tins-ten-and-ten.jpg",
    "knobs-twenty-two.jpg",
)


def walked(page: Any, address: str, photos: list[Path]) -> dict[str, Any]:
    """Choose the photos on Home, make the lesson of all of them, show it full screen: what it took."""
    clicks, marks, start = 0, {}, time.perf_counter()

    def done(name: str) -> None:
        marks[name] = round(time.perf_counter() - start, 2)

    def click(place: Any) -> None:
        nonlocal clicks
        place.click()
        clicks += 1

    page.goto(address)
    with page.expect_file_chooser() as dialog:
        click(page.get_by_text("Choose photos"))
    dialog.value.set_files(photos)
    clicks += 1  # the dialog's own button
    page.wait_for_url("**/photos")
    ready = page.locator(".shot[data-state=ready]")
    page.wait_for_function(
        "(n) => document.querySelectorAll('.shot[data-state=ready]').length === n", arg=len(photos), timeout=300_000
    )
    done("read")
    for box in page.locator("#group-check input[type=checkbox]:not(:checked)").all():
        click(box)
    assert ready.count() == len(photos)
    click(page.get_by_role("button", name="Make a lesson"))
    page.wait_for_url("**/lesson", timeout=300_000)
    done("kept")
    click(page.get_by_role("link", name="Show it to the class"))
    page.wait_for_url("**/show", wait_until="load")
    click(page.get_by_role("button", name="Full screen"))
    click(page.get_by_role("button", name="Start"))
    click(page.get_by_role("button", name="Look"))
    page.locator("#photo").wait_for(timeout=120_000)
    done("on the wall")
    return {"photos": len(photos), "clicks": clicks, "seconds": marks}


def main() -> None:
    """Print what the way took."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--photos", type=int, default=len(TWELVE))
    photos = [SAMPLES / name for name in TWELVE[: asked.parse_args().photos]]
    with tempfile.TemporaryDirectory() as folder:
        where = Path(folder) / "catalog"
        with served(where) as (address, _), chromium() as one, tab(one) as page:
            print(json.dumps(walked(page, address, photos)))


if __name__ == "__main__":
    main()

"""Taps that mend wrongly read photos on the look page, in a real browser, by a person who always chooses best.

    python tests/bench/mend_bench.py FOLDER DOTS.json [--count 10] [--seed 0]

FOLDER has images/ and labels.csv, DOTS.json the true places (fractions). Of the clear photos of doubles whose first
reading is not the label's (number of things, or fact), `count` are drawn by the seed. On each the person takes the best
of: a reading (one tap, two where it stands behind the fold), a dot added or taken off (one tap each). Mended is a photo
whose dots are all on true things, none missing (within half the usual spacing), and whose fact is the label's.
*Keep and next* is not counted: one tap, or the Enter key, for each.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from curator.learning.fit import person
from curator.seeing import look, photo
from curator.seeing.evaluation import scoring
from curator.web import inbox
from tests.web_kit import chromium, looked_at, served, tab

MOST = 30  # taps on one photo


def things_at(dots: list[list[float]], size: tuple[int, int]) -> Any:
    return look.by_hand(
        photo.Photo(Path("x"), "0" * 64, np.zeros((*size, 3), np.uint8), 1.0), [(x, y) for x, y in dots]
    )


def wrong(rows: list[Any], folder: Path) -> Any:
    """The rows whose first reading is not the label's, one after the other."""
    for row in rows:
        best = look.look(scoring.picture_of(folder, row), row.area).best
        if best.total != row.total or (best.fact.half if best.fact else None) != row.half:
            yield row


class Sitting:
    """One photo on the page and what is true of it."""

    def __init__(self, page: Any, row: Any, truth: list[list[float]]) -> None:
        self.page, self.row = page, row
        width, height = page.evaluate("[box.width, box.height]")
        self.size = (round(height), round(width))
        self.truth = np.array(truth)[:, ::-1] * np.array(self.size, dtype=np.float64)
        self.reach = person.reach_of(self.truth, self.size)

    def errors(self, dots: list[list[float]]) -> int:
        return person.errors(things_at(dots, self.size), self.truth, self.reach) if dots else len(self.truth)

    def shown(self) -> list[list[float]]:
        found: list[list[float]] = self.page.evaluate("places(now.dots)")
        return found

    def fact(self) -> str:
        return str(self.page.locator("#fact").inner_text())

    def is_mended(self) -> bool:
        half = self.row.half
        return self.errors(self.shown()) == 0 and self.fact() == (f"{half}+{half}={2 * half}" if half else "No double")

    def click(self, x: float, y: float) -> None:
        at = self.page.evaluate(
            "([x, y]) => [svg.getScreenCTM()].flatMap((m) => [m.e + x * box.width * m.a, m.f + y * box.height * m.d])",
            [x, y],
        )
        self.page.mouse.click(*at)

    def settled(self) -> None:
        self.page.locator("#fact:not([aria-busy])").wait_for()

    def choices(self) -> list[tuple[int, bool]]:
        """Errors of each reading offered, and whether its fact is the label's."""
        every = self.page.evaluate("options().map((r) => [places(parted(r).dots), r.fact])")
        half = self.row.half
        want = f"{half}+{half}={2 * half}" if half else None
        return [(self.errors(dots), fact == want) for dots, fact in every]

    def tap(self) -> int:
        """The best next thing to do; how many taps it took."""
        left, offered = self.errors(self.shown()), self.choices()
        k = min(range(len(offered)), key=lambda i: (offered[i][0], not offered[i][1]))
        if offered[k][0] + 1 < left or (offered[k][0] == 0 and (left > 1 or (left == 0 and offered[k][1]))):
            self.page.locator(".readings button").nth(k).evaluate(
                "(b) => { b.closest('details')?.setAttribute('open', ''); }"
            )
            self.page.locator(".readings button").nth(k).click()
            return 1 if k < 3 else 2  # those behind the fold cost a tap to open
        if left == 0:
            return MOST  # the dots are right and no offered halves are: not to be mended by taps on dots
        self._edit()
        return 1

    def _edit(self) -> None:
        dots = self.shown()
        missing, over = person.fitted(things_at(dots, self.size), self.truth, self.reach)
        if missing:
            y, x = self.truth[missing[0]] / np.array(self.size)
            self.click(x, y)
        else:
            self.click(*dots[over[0]])
        self.page.wait_for_timeout(50)
        self.settled()


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("folder", type=Path)
    asked.add_argument("dots", type=Path)
    asked.add_argument("--count", type=int, default=10)
    asked.add_argument("--seed", type=int, default=0)
    given = asked.parse_args()
    truth = json.loads(given.dots.read_text())
    rows = [
        r for r in scoring.labels(given.folder) if r.clear and r.total and r.half and not r.area and r.file in truth
    ]
    random.Random(given.seed).shuffle(rows)
    chosen = []
    for row in wrong(rows, given.folder):
        chosen.append(row)
        if len(chosen) == given.count:
            break
    with tempfile.TemporaryDirectory() as place:
        here = Path(place) / "catalog"
        with served(here) as (address, site), chromium() as browser, tab(browser) as page:
            taps = sum(mended(page, address, here, site, given.folder, row, truth) for row in chosen)
            print(f"{len(chosen)} photos: {taps} taps")


def mended(page: Any, address: str, here: Path, site: Any, folder: Path, row: Any, truth: Any) -> int:
    path = scoring.picture_of(folder, row)
    page.goto(address + looked_at(here, site, inbox.put(here, path.name, path.read_bytes())["id"]))
    page.locator("#readings button").first.wait_for(timeout=300_000)
    sitting, taps = Sitting(page, row, truth[row.file]), 0
    first = sitting.fact()
    while not sitting.is_mended() and taps < MOST:
        taps += sitting.tap()
        sitting.settled()
    said = "mended" if sitting.is_mended() else "NOT mended"
    print(
        f"{row.file:<24} {first:>10} -> {sitting.fact():>10} (label {row.total}, half {row.half}): {taps} taps, {said}",
        flush=True,
    )
    return taps


if __name__ == "__main__":
    main()

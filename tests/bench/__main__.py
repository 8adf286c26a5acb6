"""One table of figures, made in one run on one machine, as ratios with their floor and peers.

    python -m tests.bench [--part line ...] [--prompts 1000 10000 100000] [-o .docs/figures.md] [--chart FILE.svg]

Every time is a median over turns that go A B A B, so that a machine which slows down slows both; a figure that has a
floor (the least that anybody would have to do) is told as times that floor.
"""

from __future__ import annotations

import argparse
import platform
from datetime import date
from pathlib import Path

from tests.bench import figures_catalog, figures_line, figures_starts
from tests.bench.rows import Row, as_markdown, as_svg

PARTS = {
    "line": figures_line.line,
    "recipes": figures_line.recipes,
    "batch": figures_line.batch,
    "find": figures_catalog.find,
    "starts": figures_starts.starts,
    "lesson": figures_starts.lesson,
    "site": figures_starts.site,
}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--part", nargs="+", choices=PARTS, default=list(PARTS))
    options.add_argument("--prompts", nargs="+", type=int, default=[1_000, 10_000, 100_000])
    options.add_argument("--pages", nargs="+", type=int, default=[50, 100, 200])
    options.add_argument("-o", "--output", type=Path)
    options.add_argument("--chart", type=Path)
    chosen = options.parse_args()
    rows: list[Row] = []
    for part in chosen.part:
        more = {"find": (chosen.prompts,), "site": (chosen.pages,)}.get(part, ())
        rows += PARTS[part](*more)
        print(as_markdown(rows), flush=True)
    if chosen.output:
        where = f"{platform.machine()}, Python {platform.python_version()}, {date.today()}"
        head = "# Figures\n\nMade by `python -m tests.bench` in one run. Trust the ratios, not the milliseconds.\n"
        chosen.output.write_text(f"{head}\n{where}\n\n{as_markdown(rows)}")
    if chosen.chart:
        chosen.chart.write_text(as_svg(rows))


if __name__ == "__main__":
    main()

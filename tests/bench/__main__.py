"""One table of figures, as ratios with their floor and peers.

    python -m tests.bench [--part line ...] [-o .docs/figures.md] [--chart FILE.svg] [--made FOLDER]

Times are of processor time; where many calls are compared they take turns A B A B, so that a machine which slows down
slows both, and the medians are told (the file's head says where). A figure that has a floor (the least that anybody
would have to do) is told as times that floor. With --part only those parts are
measured; the file's other parts stay as they are, each with the day and hour when it was measured.
"""

from __future__ import annotations

import argparse
import os
import platform
import re
import time
from pathlib import Path

from tests.bench import figures_catalog, figures_line, figures_starts
from tests.bench.rows import Row, Took, as_markdown, as_svg, read, timed

PARTS = {
    "line": figures_line.line,
    "recipes": figures_line.recipes,
    "batch": figures_line.batch,
    "index": figures_catalog.build,
    "find": figures_catalog.find,
    "starts": figures_starts.starts,
    "lesson": figures_starts.lesson,
    "site": figures_starts.site,
}
_TITLES = {
    "line": "A photo, from file to answer",
    "recipes": "Counting a small sample",
    "batch": "Many photos of 12 megapixels",
    "index": "The index of a catalog",
    "find": "A question to a catalog",
    "starts": "A command from its start",
    "lesson": "A lesson of 12 pictures",
    "site": "A site of a catalog",
}
_HEAD = """# Figures

Made by `python -m tests.bench`; one part is measured anew with `--part NAME -o` this file. Trust the ratios: they
are of processor time, of all threads and processes together. Under line, find, starts and lesson what is compared took
turns, so that a machine which slowed down slowed both. The rows of all other parts were measured one after the other
and most of them once, those of index beside their floors too. The clock's times hold whatever else ran. In italics
what is only compared with.
"""


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--part", nargs="+", choices=PARTS, default=list(PARTS))
    options.add_argument("--prompts", nargs="+", type=int, default=[1_000, 100_000, 1_000_000])
    options.add_argument("--pages", nargs="+", type=int, default=[15, 30, 60])
    options.add_argument("--photos", type=int, help="of the line and of a batch, where there is little time")
    options.add_argument("--made", type=Path, help="keep the made-up catalogs here, and take those that are there")
    options.add_argument("-o", "--output", type=Path)
    options.add_argument("--chart", type=Path)
    chosen = options.parse_args()
    kept = sections(chosen.output.read_text(encoding="utf-8")) if chosen.output and chosen.output.exists() else {}
    for part in chosen.part:
        more = {"find": (chosen.prompts, chosen.made), "index": (chosen.prompts, chosen.made), "site": (chosen.pages,)}
        more |= dict.fromkeys(("line", "batch"), (chosen.photos,)) if chosen.photos else {}
        rows: list[Row] = []
        took = timed(lambda part=part, rows=rows, more=more: rows.extend(PARTS[part](*more.get(part, ()))))  # type: ignore[misc]
        kept[part] = section(rows, took)
        print(f"## {part}\n\n{kept[part]}", flush=True)
        if chosen.output:
            parts = [f"## {name}\n\n{kept[name]}" for name in PARTS if name in kept]
            chosen.output.write_text("\n".join([_HEAD, *parts]), encoding="utf-8")
        if chosen.chart:
            chosen.chart.write_text(as_svg({_TITLES[name]: read(kept[name]) for name in PARTS if name in kept}))


def section(rows: list[Row], took: Took) -> str:
    """A part's table, and when, on what and in what time it was measured."""
    busy = f", {os.getloadavg()[1]:.0f} processes wanted them" if hasattr(os, "getloadavg") else ""
    told = f"measured in {took.clock / 1000:.0f} s, {took.cpu / 1000:.0f} s of processor"
    where = f"{platform.machine()}, {os.cpu_count()} cores{busy}, Python {platform.python_version()}"
    return f"{time.strftime('%Y-%m-%d %H:%M')}, {where}; {told}.\n\n{as_markdown(rows)}"


def sections(text: str) -> dict[str, str]:
    """The parts of such a file by their names."""
    found = re.split(r"^## (\w+)\n\n", text, flags=re.MULTILINE)[1:]
    return {name: body.rstrip("\n") + "\n" for name, body in zip(found[::2], found[1::2], strict=True)}


if __name__ == "__main__":
    main()

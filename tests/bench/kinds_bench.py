"""How often the number and the first half are right, by what is in the photo:

    python -m tests.bench.kinds_bench FOLDER... [--held FOLDER] [--bare FOLDER] [--cache FOLDER]

Folders are labelled as for `curator score`, with a column `thing` in words. Each photo is judged without its own
source, as in the fit (`learning/fit/calibrate.py`); a photo may be of several kinds, or of none.
"""

from __future__ import annotations

import argparse
import csv
import re
from pathlib import Path

from curator.learning.fit import cases
from curator.learning.fit.calibrate import out_of_fold
from curator.learning.fit.gate import Answer, mean
from curator.learning.photos import boxed

KINDS = {
    "legs, wings": r"(?<!table )\b(legs?|wings?|claws?|pincers?|tick|spider)\b",
    "windows": r"window|pane",
    "chairs, drawers, lamps, candles": r"chair|drawer|lamp|candle",
    "eggs": r"\beggs?\b",
    "hands": r"finger|hand\b|hands\b",
    "cups, bottles, cans": r"\bcups?\b|bottle|\bcans?\b|\bmugs?\b|\bglass(es)?\b",
    "dice": r"pip|dice|domino",
    "wheels": r"wheel",
    "buns": r"bun|cake|cookie|sweets?\b(?! pot)|biscuit|bread",
    "sofas": r"cushion",
    "people, animals": r"people|person|dog|bird|owl|zebra|sheep|cow|horse|\bcats?\b|duck",
    "plants": r"plant|leaf|leaves|leaflet|flower|rose|dais",
    "fruit, vegetables": r"tomat|carrot|potato|onion|banana|apple|orange|cucumber|fruit|vegetable|lemon|pear",
    "parcels, bins": r"parcel|\bbins?\b|box",
}
"""Words of a label, by what is reported together."""


def kinds_of(thing: str) -> list[str]:
    """The kinds that a label's words are of."""
    return [kind for kind, words in KINDS.items() if re.search(words, thing.lower())]


def table(answers: list[Answer], things: dict[tuple[str, str], str]) -> list[str]:
    """A row for each kind: photos with a number, exact in, photos with a half, first in."""
    rows = []
    for kind in KINDS:
        own = [a for a in answers if kind in kinds_of(things.get((a.folder, a.name), ""))]
        known = [sum(v is not None for v in values) for values in ([a.total for a in own], [a.first for a in own])]
        exact, first = mean([a.total for a in own]), mean([a.first for a in own])
        rows.append(f"{kind:32} {known[0]:4} {exact:5.2f} {known[1]:5} {first:5.2f}")
    return rows


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("--held", type=Path, help="boxed photos that take part in the fit")
    options.add_argument("--bare", type=Path, help="pictures in which nothing repeats, which take part")
    options.add_argument("--cache", type=Path, help="where measured photos are kept")
    chosen = options.parse_args()
    every = cases.gather(chosen.folders, chosen.cache)
    every += boxed.held(chosen.held, chosen.cache) if chosen.held else []
    every += cases.bare(chosen.bare, chosen.cache) if chosen.bare else []
    things = {
        (folder.name, row["file"]): row["thing"]
        for folder in chosen.folders
        for row in csv.DictReader((folder / "labels.csv").open(newline="", encoding="utf-8"))
    }
    print(f"{'kind':32} {'n':>4} exact {'n':>5} first", *table(out_of_fold(every), things), sep="\n")


if __name__ == "__main__":
    main()

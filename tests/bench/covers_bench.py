"""How clean covers are on real photos, by outlines drawn by hand: `python -m tests.bench.covers_bench FOLDER...`.

`tests/outlines_of_photos.json`: file -> one polygon a thing, x, y by turns, in fractions of the upright photo; of
things that lie on each other the last one is on top. The photos are not part of the project. Of each photo the first
reading is taken that has the label's half and each dot in a thing of its own; both its halves are covered. A cover is
clean if at most `covers.PEEPS` of a covered thing shows, and no more of another is hidden.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.catalog import prompt as prompts
from curator.classroom import pictures
from curator.classroom.marking import covers, extents, outlines
from curator.records import Prompt
from curator.seeing import look
from curator.seeing.evaluation.scoring import labels, picture_of
from curator.seeing.photo import load_large

DRAWN = json.loads((Path(__file__).parents[1] / "outlines_of_photos.json").read_text(encoding="utf-8"))
LONGER = 1000
Labels = NDArray[np.uint8]


class Covered(NamedTuple):
    """One covered half."""

    file: str
    side: int
    shows: float  # of the covered thing that is worst off
    hides: float  # of the other thing that is worst off
    clean: bool  # what the cover says of itself
    straight: bool

    @property
    def right(self) -> bool:
        return max(self.shows, self.hides) <= covers.PEEPS


def truth(file: str, size: tuple[int, int]) -> Labels:
    """(H, W) 0 for no thing, n for the n-th polygon."""
    found = np.zeros(size, np.uint8)
    for n, line in enumerate(DRAWN[file], 1):
        cv2.fillPoly(found, [np.round(np.array(line).reshape(-1, 2) * size[::-1]).astype(np.int32)], (n,))
    return found


def things_under(prompt: Prompt, true: Labels) -> list[int]:
    """The polygon under each dot."""
    height, width = true.shape
    return [int(true[min(height - 1, int(d.y * height)), min(width - 1, int(d.x * width))]) for d in prompt.dots]


def right_prompt(seen: Any, half: int, true: Labels) -> Prompt | None:
    """The first reading with that half and each dot in a thing of its own."""
    for n, reading in enumerate(seen.readings):
        if reading.fact and reading.fact.half == half:
            prompt = prompts.make(seen, reading=n, slug="photo")
            under = [n for n, d in zip(things_under(prompt, true), prompt.dots, strict=True) if d.side]
            if 0 not in under and len(set(under)) == len(under):
                return prompt
    return None


def covered(file: str, photo: NDArray[np.uint8], prompt: Prompt, true: Labels) -> list[Covered]:
    """Both halves of one photo."""
    own = outlines.outlines(photo, prompt)
    there = pictures.cropped(photo, prompt, own)
    area = extents.crop(prompt, (own.shape[0], own.shape[1]), own)
    top, left = int(area.top * photo.shape[0]), int(area.left * photo.shape[1])
    under, found = things_under(prompt, true), []
    for side in (1, 2):
        card = covers.cover(*there, [i for i, d in enumerate(prompt.dots) if d.side == side])
        sheet = np.zeros(true.shape, np.bool_)
        part = sheet[top : top + card.mask.shape[0], left : left + card.mask.shape[1]]
        part[:] = card.mask[: part.shape[0], : part.shape[1]]
        shows = hides = 0.0
        for n, dot in zip(under, prompt.dots, strict=True):
            if not n or not dot.side:
                continue
            share = float(sheet[true == n].mean())
            shows, hides = (max(shows, 1 - share), hides) if dot.side == side else (shows, max(hides, share))
        found.append(Covered(file, side, shows, hides, card.clean, card.straight))
    return found


def main() -> None:
    rows: list[Covered] = []
    used = 0.0
    for folder in map(Path, sys.argv[1:]):
        for label in labels(folder):
            if label.file not in DRAWN or not label.half:
                continue
            photo = load_large(picture_of(folder, label), longer=LONGER)
            true = truth(label.file, (photo.shape[0], photo.shape[1]))
            prompt = right_prompt(look.look(picture_of(folder, label), label.area), label.half, true)
            if prompt is None:
                print(f"{label.file}: no right reading")
                continue
            start = time.process_time()
            rows += covered(label.file, photo, prompt, true)
            used += time.process_time() - start
    for row in (r for r in rows if not (r.right and r.clean)):
        print(f"{row.file} side {row.side}: shows {row.shows:.2f}, hides {row.hides:.2f}, says clean: {row.clean}")
    laid = [row for row in rows if row.clean]
    print(f"{len(rows)} halves: {len(laid)} laid, {sum(r.right for r in laid)} of them clean; "
          f"{sum(r.straight for r in laid)} plain cards; {sum(r.right for r in rows if not r.clean)} clean ones left "
          f"out; {used / max(1, len(rows)):.2f} s of processor each")  # fmt: skip


if __name__ == "__main__":
    main()

"""Label where the counted things are on a folder of labelled photos: makes tests/dots_of_photos.json.

    python tests/label_dots.py sheets FOLDER OUT [--choice a]   contact sheets of what the finders offer, tile by tile
    python tests/label_dots.py grids FOLDER OUT FILE...                          photos with a 10 x 10 grid, to place
    dots by eye
    python tests/label_dots.py check FOLDER OUT                                  contact sheets of what would be written
    python tests/label_dots.py write FOLDER OUT                                  write the dots

A person looks at the sheets and writes OUT/decided.txt, one photo a line; x,y are fractions of the framed photo as
the sheets show it:

    FILE a                      offer a is right: every dot on one counted thing, each thing has one
    FILE a 3:0.41,0.20          offer a, dot 3 moved
    FILE 0.10,0.20 0.30,0.22    dots placed by eye
    FILE skip WHY               left out

Sets of the right length are offered, found by the trained finder first, then the best supported. The pictures are not
part of the project;
the dots, fractions (x, y) of the whole upright picture, are our own.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.seeing import photo, set_matching
from curator.seeing.evaluation.scoring import Label, labels, picture_of, working
from curator.seeing.finders import find_all
from curator.seeing.judging import features
from curator.seeing.view import view_of

Pixels = NDArray[np.uint8]
Dots = NDArray[np.float64]  # (n, 2): x, y in fractions of the framed photo
MADE = Path(__file__).with_name("dots_of_photos.json")
TOTALS = range(2, 26)
TILE, ACROSS, DOWN = 400, 3, 3
SAME = 0.02  # offers whose dots lie this near each other, in fractions, are one offer
WHITE, RED, BLACK = (255, 255, 255), (230, 0, 60), (0, 0, 0)


def wanted(folder: Path) -> list[Label]:
    """Labels that nearly everyone or most would give, of photos with something to count."""
    return [label for label in labels(folder) if label.clear and label.total in TOTALS]


def offers(pixels: Pixels, found: list[Any], total: int) -> list[list[list[float]]]:
    """Up to three unlike sets of `total` things, as dots in reading order of the finder."""
    kept: list[Dots] = []
    for things in sorted((s for s in found if len(s) == total), key=lambda s: (s.found_by != "learned", -s.support)):
        dots = np.asarray(things.centers, dtype=np.float64)[:, ::-1] / (pixels.shape[1], pixels.shape[0])
        if not any(np.abs(dots[:, None] - other).max(-1).min(1).max() < SAME for other in kept):
            kept.append(dots)
    return [dots.round(4).tolist() for dots in kept[:3]]


def gather(folder: Path, out: Path) -> dict[str, Any]:
    """The offers of every photo; kept in OUT/offers.json."""
    kept = out / "offers.json"
    if kept.exists():
        return dict(json.loads(kept.read_text(encoding="utf-8")))
    answer = {}
    for label in wanted(folder):
        pixels = working(folder, label)
        answer[label.file] = offers(pixels, features.distinct(find_all(view_of(pixels))), label.total or 0)
    kept.write_text(json.dumps(answer), encoding="utf-8")
    return answer


def framed(folder: Path, label: Label, longer: int) -> Pixels:
    """The framed photo, its longer side `longer`."""
    seen = photo.load(picture_of(folder, label))
    box = set_matching.area_box(seen.size, label.area)
    inside = seen.pixels[box.top : box.bottom, box.left : box.right]
    scale = longer / max(inside.shape[:2])
    size = (max(1, round(inside.shape[1] * scale)), max(1, round(inside.shape[0] * scale)))
    return np.asarray(
        cv2.resize(inside, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC), dtype=np.uint8
    )


def _text(picture: Pixels, words: str, at: tuple[int, int], size: float = 0.4) -> None:
    for colour, thick in ((WHITE, 3), (BLACK, 1)):
        cv2.putText(picture, words, at, cv2.FONT_HERSHEY_SIMPLEX, size, colour, thick, cv2.LINE_AA)


def tile(folder: Path, label: Label, dots: list[list[float]], title: str) -> Pixels:
    """TILE square: the framed photo with numbered dots, its name above."""
    inside = framed(folder, label, TILE - 20)
    for number, (x, y) in enumerate(dots, 1):
        at = (round(x * inside.shape[1]), round(y * inside.shape[0]))
        cv2.circle(inside, at, 5, WHITE, -1, cv2.LINE_AA)
        cv2.circle(inside, at, 3, RED, -1, cv2.LINE_AA)
        _text(inside, str(number), (at[0] + 5, at[1] - 4), 0.35)
    square = np.full((TILE, TILE, 3), 235, np.uint8)
    square[18 : 18 + inside.shape[0], : inside.shape[1]] = inside
    _text(square, title, (2, 13), 0.42)
    return square


def grid(folder: Path, label: Label) -> Pixels:
    """The framed photo, large, with lines at every tenth."""
    inside = framed(folder, label, 1000)
    height, width = inside.shape[:2]
    for k in range(1, 10):
        x, y = round(k * width / 10), round(k * height / 10)
        faint = inside.copy()
        cv2.line(faint, (x, 0), (x, height), (255, 255, 0) if k != 5 else (255, 0, 255), 1)
        cv2.line(faint, (0, y), (width, y), (255, 255, 0) if k != 5 else (255, 0, 255), 1)
        inside = np.asarray(cv2.addWeighted(faint, 0.6, inside, 0.4, 0), dtype=np.uint8)
        _text(inside, f".{k}", (x + 2, 12), 0.42)
        _text(inside, f".{k}", (2, y - 3), 0.42)
    _text(inside, f"{label.file} {label.total}", (4, height - 6), 0.5)
    return inside


def save(out: Path, name: str, tiles: list[Pixels]) -> None:
    for number, start in enumerate(range(0, len(tiles), ACROSS * DOWN), 1):
        part = tiles[start : start + ACROSS * DOWN]
        part += [np.full_like(part[0], 255)] * (-len(part) % ACROSS)
        rows = [np.hstack(part[k : k + ACROSS]) for k in range(0, len(part), ACROSS)]
        cv2.imwrite(str(out / f"{name}-{number:02d}.png"), np.vstack(rows)[:, :, ::-1])


def decided(out: Path) -> dict[str, list[str]]:
    """File: its words in decided.txt; a later line overrules an earlier one."""
    notes = out / "decided.txt"
    lines = notes.read_text(encoding="utf-8").splitlines() if notes.exists() else []
    return {words[0]: words[1:] for words in (line.split() for line in lines) if len(words) > 1}


def _point(text: str) -> list[float]:
    x, y = (float(v) for v in text.split(","))
    return [x, y]


def dots_of(words: list[str], offered: list[list[list[float]]]) -> list[list[float]]:
    """The dots a decision stands for, in fractions of the framed photo; none for a skipped photo."""
    if words[0] == "skip":
        return []
    if words[0] not in "abc":
        return [_point(word) for word in words]
    dots = [list(dot) for dot in offered["abc".index(words[0])]]
    for word in words[1:]:
        number, place = word.split(":")
        dots[int(number) - 1] = _point(place)
    return dots


def settled(folder: Path, out: Path, offered: dict[str, Any]) -> list[tuple[Label, list[list[float]]]]:
    """Every decided photo and its dots; says so where their number is not the label's total."""
    notes, answer = decided(out), []
    for label in wanted(folder):
        dots = dots_of(notes[label.file], offered[label.file]) if label.file in notes else []
        if dots and len(dots) != label.total:
            raise SystemExit(f"{label.file}: {len(dots)} dots, the label says {label.total}")
        if dots:
            answer.append((label, dots))
    return answer


def whole(folder: Path, label: Label, dots: list[list[float]]) -> list[list[float]]:
    """Dots of the framed photo as fractions of the whole upright picture."""
    height, width = photo.load(picture_of(folder, label)).size
    box = set_matching.area_box((height, width), label.area)
    return [
        [round((box.left + x * box.width) / width, 4), round((box.top + y * box.height) / height, 4)] for x, y in dots
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("step", choices=("sheets", "grids", "check", "write"))
    parser.add_argument("folder", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("files", nargs="*")
    parser.add_argument("--choice", default="a", choices=("a", "b", "c"))
    given = parser.parse_args()
    given.out.mkdir(parents=True, exist_ok=True)
    offered = gather(given.folder, given.out)
    if given.step == "sheets":
        nth, notes = "abc".index(given.choice), decided(given.out)
        open_ = [n for n in wanted(given.folder) if n.file not in notes and len(offered[n.file]) > nth]
        save(
            given.out,
            f"sheet-{given.choice}",
            [tile(given.folder, n, offered[n.file][nth], f"{n.file}  {n.total}  {given.choice}") for n in open_],
        )
    elif given.step == "grids":
        for label in (n for n in wanted(given.folder) if n.file in given.files):
            cv2.imwrite(str(given.out / f"grid-{label.file}.png"), grid(given.folder, label)[:, :, ::-1])
    elif given.step == "check":
        save(
            given.out,
            "check",
            [
                tile(given.folder, n, dots, f"{n.file}  {n.total}")
                for n, dots in settled(given.folder, given.out, offered)
            ],
        )
    else:
        made = {
            label.file: whole(given.folder, label, dots) for label, dots in settled(given.folder, given.out, offered)
        }
        MADE.write_text(
            "{\n" + ",\n".join(f"{json.dumps(file)}: {json.dumps(dots)}" for file, dots in made.items()) + "\n}\n",
            encoding="utf-8",
        )
        print(f"{len(made)} photos, {sum(map(len, made.values()))} dots in {MADE.name}")


if __name__ == "__main__":
    main()

"""`curator score`: how often the answers are right on a folder of labelled photos."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.errors import PhotoError
from curator.parallel import Progress, watched
from curator.records import Area
from curator.seeing.evaluation import miss_causes

MARGIN = 0.02  # round a label's box, as a teacher would frame it
COLUMNS = ("file", "total", "half", "kind")


@dataclass(frozen=True, slots=True)
class Label:
    """One row of labels.csv."""

    file: str
    total: int | None
    half: int | None
    kind: str
    allowed: frozenset[int]  # halves that a careful person could defend
    clear: bool
    difficulty: str
    source: str
    area: Area | None
    repo: str = ""  # the collection it came from, owner/name; "" where the folder does not say


def _number(text: str) -> int | None:
    return int(text) if text.strip().isdigit() else None


def _area(text: str) -> Area | None:
    if not text.strip():
        return None
    left, top, right, bottom = (float(v) for v in text.split(","))
    return Area(max(0.0, left - MARGIN), max(0.0, top - MARGIN), min(1.0, right + MARGIN), min(1.0, bottom + MARGIN))


def _label(row: dict[str, str]) -> Label:
    half = _number(row["half"])
    also = {_number(part.split(":")[-1]) for part in (row.get("also") or "").split(";") if part}
    allowed = frozenset(n for n in also | {half} if n)
    return Label(
        row["file"],
        _number(row["total"]),
        half,
        row["kind"] or "none",
        allowed,
        row.get("clear", "1") in ("1", "2"),
        row.get("difficulty") or "-",
        row.get("source") or "-",
        _area(row.get("box") or ""),
        row.get("source_repo") or "",
    )


def labels(folder: Path) -> list[Label]:
    """The folder's labels.csv; PhotoError where it is missing or lacks a column."""
    file = folder / "labels.csv"
    doing = f"Reading the labels of {folder}."
    if not file.is_file():
        raise PhotoError(doing, "There is no labels.csv in it.", "Put one beside the photos: file,total,half,kind.")
    try:
        with file.open(newline="", encoding="utf-8") as lines:
            rows = list(csv.DictReader(lines))
        missing = [c for c in COLUMNS if not rows or c not in rows[0]]
        if missing:
            raise PhotoError(doing, f"Its labels.csv lacks {', '.join(missing)}.", "Add the column to the first line.")
        return [_label(row) for row in rows]
    except (ValueError, UnicodeDecodeError, csv.Error) as error:
        raise PhotoError(doing, f"Its labels.csv cannot be understood ({error}).", "Mend that line by hand.") from error


def picture_of(folder: Path, label: Label) -> Path:
    """The photo beside labels.csv, or in images/ under it."""
    inside = folder / "images" / label.file
    return inside if inside.exists() else folder / label.file


def working(folder: Path, label: Label) -> NDArray[np.uint8]:
    """The pixels the finders see of a labelled photo: cut to its box, longer side WORKING."""
    from curator.seeing import look, photo

    return look.framed(photo.load(picture_of(folder, label)), label.area)[0]


def _numbers(total: int | None, half: int | None) -> str:
    """A number of things and the double they make: "14 = 7+7", "9", "7+7"."""
    return " = ".join(part for part in (str(total or ""), f"{half}+{half}" if half else "") if part) or "no number"


def verdict(label: Label, answer: dict[str, Any]) -> dict[str, Any]:
    """What one answer is worth; None where a figure does not apply."""
    total, half, grade = answer.get("total"), answer.get("half"), answer.get("grade")
    counted = label.total is not None and label.total >= 2
    readings = answer.get("readings") or []
    double = label.half is not None
    if half is None:
        outcome = "right" if not double else "missed"
    elif grade == "check":
        outcome = "asked"
    else:
        outcome = "right" if half in label.allowed else "wrong"
    found: dict[str, Any] = {
        "file": label.file,
        "difficulty": label.difficulty,
        "kind": label.kind,
        "source": label.source,
        "grade": grade or "error",
        "outcome": outcome,
        "total": (total == label.total) if counted else None,
        "taps": abs((total or 0) - (label.total or 0)) if counted else None,
        "fact": (half == label.half) if double else None,
        "fair": (half in label.allowed) if double else None,
        "top3": any(r.get("half") == label.half for r in readings[:3]) if double else None,
        "sure": grade == "sure",
        "wrong_sure": grade == "sure" and half not in label.allowed,
        "double": double,
        "labelled": _numbers(label.total, label.half),
        "answered": f"{_numbers(total, half)} ({grade or 'error'}, {answer.get('found_by')})",
    }
    claimed = not double and half is not None and half not in label.allowed
    missed = claimed or found["wrong_sure"] or found["total"] is False or found["fact"] is False
    return {
        **found,
        "claimed": claimed,
        "cause": miss_causes.cause(answer, label.total if counted else None, label.half) if missed else "",
    }


def upper_bound(wrong: int, asked: int, level: float = 0.95) -> float:
    """One-sided Clopper-Pearson upper bound of a share; 1 where nothing was asked."""
    from scipy.stats import beta

    return 1.0 if asked == 0 or wrong >= asked else float(beta.ppf(level, wrong + 1, asked - wrong))


def _mean(rows: list[dict[str, Any]], name: str) -> float | None:
    known = [float(r[name]) for r in rows if r[name] is not None]
    return round(sum(known) / len(known), 3) if known else None


def figures(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Every figure of a group of verdicts."""
    sure, wrong = sum(r["sure"] for r in rows), sum(r["wrong_sure"] for r in rows)
    doubles = [r for r in rows if r["double"]]
    return {
        "photos": len(rows),
        "right": sum(r["outcome"] == "right" for r in rows),
        "wrong": sum(r["outcome"] == "wrong" for r in rows),
        "asked": sum(r["outcome"] == "asked" for r in rows),
        "missed": sum(r["outcome"] == "missed" for r in rows),
        "total": _mean(rows, "total"),
        "fact": _mean(rows, "fact"),
        "fair": _mean(rows, "fair"),
        "top3": _mean(rows, "top3"),
        "taps": _mean(rows, "taps"),
        "sure": sure,
        "coverage": round(sure / len(rows), 3) if rows else None,
        "sure_doubles": round(sum(r["sure"] for r in doubles) / len(doubles), 3) if doubles else None,
        "wrong_sure": wrong,
        "wrong_sure_upper": round(upper_bound(wrong, sure), 3),
    }


def _answer(path: Path, area: Area | None, total: int | None) -> dict[str, Any]:
    from curator.seeing import look
    from curator.seeing.batch import answered

    def answer() -> dict[str, Any]:
        seen = look.look(path, area)
        return {**look.as_json(seen), "instead": miss_causes.instead(seen, total)}

    return answered(path, answer)


def score(
    folder: Path, *, everything: bool = False, contact_sheet: Path | None = None, progress: Progress | None = None
) -> dict[str, Any]:
    """Figures over all photos and by grade, kind and difficulty; `misses` lists what went wrong, `causes` counts it."""
    if contact_sheet is not None and not contact_sheet.absolute().parent.is_dir():
        wrong = f"There is no folder {contact_sheet.parent}."
        raise PhotoError(f"Writing the contact sheet {contact_sheet.name}.", wrong, "Name a folder that is there.")

    chosen = [label for label in labels(folder) if everything or label.clear]
    jobs = [(picture_of(folder, label), label.area, label.total) for label in chosen]
    by_name = {answer["photo"]: answer for answer in watched(_answer, jobs, progress)}
    rows = [verdict(label, by_name.get(label.file, {})) for label in chosen]
    groups: dict[str, dict[str, Any]] = {"all": {"all": figures(rows)}}
    for name in ("difficulty", "kind", "grade"):
        parts: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in rows:
            parts[row[name]].append(row)
        groups[name] = {key: figures(part) for key, part in sorted(parts.items())}
    misses = {name: [r for r in rows if r["cause"] == name] for name in miss_causes.CAUSES}
    if contact_sheet is not None:
        _sheet(folder, chosen, misses, contact_sheet)
    counts = {
        name: {"photos": len(part), **{key: sum(r[key] for r in part) for key in ("claimed", "sure")}}
        for name, part in misses.items()
    }
    return {"folder": folder.name, **groups, "causes": counts, "misses": [r for part in misses.values() for r in part]}


def _sheet(folder: Path, chosen: list[Label], misses: dict[str, list[dict[str, Any]]], output: Path) -> None:
    from curator.seeing.evaluation import contact_sheet as sheet

    by_name = {label.file: label for label in chosen}

    def tile(row: dict[str, Any]) -> sheet.Tile:
        label = by_name[row["file"]]
        words = (label.file, f"labelled {row['labelled']}", f"got {row['answered']}")
        return sheet.Tile(picture_of(folder, label), label.area, words)

    sheet.save({miss_causes.CAUSES[name]: [tile(r) for r in found] for name, found in misses.items()}, output)

"""What corrected photos teach: `python -m tests.bench.teach_bench FOLDER... [--boxed FOLDER] --cache DIR`.

Of each source with TWELVE photos or more some are kept as labelled, and the others are counted by what these teach: as
if a teacher named them alike. Several random draws; each photo is judged by weights fitted without its source.
Photos without dots are kept by the likeliest reading of the labelled number.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from curator.learning.fit import calibrate, cases
from curator.learning.fit.cases import Case
from curator.learning.photos import boxed, folds, real
from curator.records import ThingSet
from curator.seeing import look, photo
from curator.seeing.evaluation.scoring import Label, labels, working
from curator.seeing.judging import models, readings, taught
from curator.seeing.judging.pooled import Judge
from curator.seeing.judging.taught import Example

TWELVE = 12
KEPT = (0, 1, 3, 10)
REST = 4  # photos at least that are left to be counted
HELD = ("fish", "nuts", "pair", "tin")  # boxed sources of which the net has seen none, or not these photos
MOST = 24  # photos of a boxed source


class Taken(NamedTuple):
    """A photo, the source it is grouped by, and what it teaches where it is kept."""

    case: Case
    group: str
    example: Example | None


def hers(size: tuple[int, int], dots: Sequence[Sequence[float]]) -> ThingSet:
    """A person's dots, x and y in fractions, in pixels of a picture of that size."""

    class Sized:  # all that `by_hand` asks of a photo
        pass

    seen: Any = Sized()
    seen.size = size
    return look.by_hand(seen, [(x, y) for x, y in dots])


def taught_by(case: Case, dots: Sequence[Sequence[float]] | None) -> Example | None:
    sets = case.seen.sets
    if not sets or case.total is None:
        return None
    if dots:
        return taught.example(sets, hers(sets[0].things.size, dots))
    right = [m for m in sets if len(m.things) == case.total]
    best = max(right, key=lambda m: models.weighted(m.features, models.COUNT), default=None)
    return None if best is None else taught.example(sets, best.things)


def of_folder(folder: Path, dots: dict[str, Any], cache: Path) -> list[Taken]:
    chosen = [label for label in labels(folder) if label.clear and label.total is not None]
    sources = defaultdict(list)
    for label in chosen:
        sources[label.source].append(label)
    found = []
    for source, own in sources.items():
        for label in own if len(own) >= TWELVE else ():
            seen = cases.kept(
                cache, f"{folder.name}-{label.file}", lambda label=label: cases.measure(working(folder, label))
            )
            case = cases.labelled(seen, folder, label)
            found.append(Taken(case, f"{folder.name}: {source}", taught_by(case, inside(dots.get(label.file), label))))
    return [one for one in found if one.case.seen.sets]


def inside(dots: list[list[float]] | None, label: Label) -> list[list[float]] | None:
    """Dots of the whole photo as fractions of the label's area."""
    if dots is None or label.area is None:
        return dots
    a = label.area
    return [[(x - a.left) / (a.right - a.left), (y - a.top) / (a.bottom - a.top)] for x, y in dots]


def of_boxes(folder: Path, cache: Path) -> list[Taken]:
    boxes = json.loads((folder / "boxes.json").read_text())
    found = []
    for source in HELD:
        names = [n for n in sorted(boxes) if real.source_of(n) == source and (source != "pair" or folds.held_out(n))]
        for name in names[:MOST]:
            pixels, _ = look.framed(photo.load(folder / "images" / name), None)
            seen = cases.kept(cache, f"{folder.name}-{name}", lambda pixels=pixels: cases.measure(pixels))
            (truth, *_) = boxed.meant(boxes[name]["boxes"], (pixels.shape[0], pixels.shape[1])) or (None,)
            if truth is None or not seen.sets:
                continue
            hits = np.array([boxed._is(m.things, truth) for m in seen.sets])
            n, known = len(truth), [bool(hit) for hit in hits]
            half = n // 2 if n % 2 == 0 else None
            case = Case(name, folder.name, f"boxed-{source}", seen, hits, known, known, half, n, boxed=True)  # type: ignore[arg-type]
            dots = ((truth[:, :2] + truth[:, 2:]) / 2 / pixels.shape[:2])[:, ::-1]
            found.append(Taken(case, f"boxed: {source}", taught_by(case, dots.tolist())))
    return found


def out_of_fold(found: list[Taken], before: dict[str, float] | None) -> dict[str, models.Features]:
    """COUNT's weights for each group, fitted without its fold."""
    every = [one.case for one in found]
    counting, fold = calibrate.Counting(every, before=before), calibrate.folds(every)
    named = {k: counting.named(counting.fitted(fold != k)) for k in np.unique(fold)}
    return {one.group: named[k] for one, k in zip(found, fold, strict=True)}


class Counted(NamedTuple):
    exact: float
    half: float  # not a number where no double is labelled
    sure: float
    wrong: float  # while sure
    moved: float  # whether what was taught changed the answer


def counted(one: Taken, kept: Sequence[Example], count: models.Features) -> Counted:
    """One photo as the line would answer it; `sure` as the judge's gate has it."""
    sets = one.case.seen.sets
    believed = models.beliefs([m.features for m in sets], [len(m.things) for m in sets], count)
    order = readings.ranked(sets, believed)
    if models.empty(believed):
        return Counted(0.0, 0.0 if one.case.half else np.nan, 0.0, 0.0, 0.0)
    now = readings.leaned(sets, believed, order, tuple(kept))[0] if kept else order
    n, same = len(sets[now[0]].things), now[0] == order[0]
    gate = calibrate.judged(one.case, Judge(count), models.FACT)
    sure = same and not gate.reasons and gate.things > 0 and gate.confidence >= models.surely(gate.things)
    half = float(n == 2 * one.case.half) if one.case.half else np.nan
    return Counted(float(n == one.case.total), half, float(sure), float(sure and not gate.right), float(not same))


def simulate(found: list[Taken], counts: dict[str, models.Features], draws: int) -> dict[str, dict[int, Counted]]:
    """Means by group and number of kept photos; the same photos are counted for every number of a draw."""
    groups = defaultdict(list)
    for one in found:
        groups[one.group].append(one)
    table: dict[str, dict[int, Counted]] = {}
    for group, own in sorted(groups.items()):
        models.COUNT = counts[group]  # what an example's sets are scored by
        rng, rows = np.random.default_rng(1), defaultdict(list)
        bare = [counted(one, (), counts[group]) for one in own]
        for _ in range(draws):
            order = rng.permutation(len(own))
            for k in KEPT:
                if len(own) - k >= REST:
                    kept = [one.example for i in order[:k] if (one := own[i]).example is not None]
                    rows[k] += [(counted(own[i], kept, counts[group]) if kept else bare[i], bare[i]) for i in order[k:]]
        table[group] = {
            k: tuple(Counted(*np.nanmean(np.array([pair[j] for pair in pairs]), axis=0)) for j in (0, 1))  # type: ignore[misc]
            for k, pairs in rows.items()
        }
    return table


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("--boxed", type=Path)
    options.add_argument("--cache", type=Path, required=True)
    options.add_argument("--before", type=Path, help="judge.json of an earlier fit, to which the weights are drawn")
    options.add_argument("--draws", type=int, default=6)
    chosen = options.parse_args()
    own = json.loads((Path(__file__).parents[1] / "dots_of_photos.json").read_text())
    found: list[Taken] = []
    for folder in chosen.folders:
        beside = folder / "dots.json"
        found += of_folder(folder, json.loads(beside.read_text()) if beside.exists() else own, chosen.cache)
    found += of_boxes(chosen.boxed, chosen.cache) if chosen.boxed else []
    before = json.loads(chosen.before.read_text())["count"] if chosen.before else None
    table: Any = simulate(found, out_of_fold(found, before), chosen.draws)
    heads = ("exact", "half first", "sure", "wrong while sure")
    print(f"| source | photos | k | {' | '.join(f'{head} (without)' for head in heads)} | changed |")
    print("|---|---|---|---|---|---|---|---|")
    sizes = defaultdict(int)
    for one in found:
        sizes[one.group] += 1
    means = defaultdict(list)
    for group, by_kept in table.items():
        for k, pair in by_kept.items():
            means[k].append(pair)
            print(row(group, sizes[group], k, *pair))
    for k, pairs in means.items():
        with_it, without = (Counted(*np.nanmean(np.array([pair[j] for pair in pairs]), axis=0)) for j in (0, 1))
        print(row(f"**mean of {len(pairs)}**", "", k, with_it, without))


def row(group: str, photos: Any, k: int, now: Counted, bare: Counted) -> str:
    pairs = (f"{a:.2f} ({b:.2f})" for a, b in zip(now[:4], bare[:4], strict=True))
    return f"| {group} | {photos} | {k} | {' | '.join(pairs)} | {now.moved:.2f} |"


if __name__ == "__main__":
    main()

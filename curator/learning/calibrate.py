"""Fit the judge's two logistic models on labelled folders: `python -m curator.learning.calibrate FOLDER... [-o weights.py]`.

Every figure it prints is out of fold: a photo is judged by weights fitted without its source (leave one source out).
The threshold for `sure` is walked from strict to loose and stops before the first wrong fact (fixed sequence).
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.seeing import halves, judge
from curator.seeing.finders import find_all
from curator.seeing.scoring import Label, labels, working

Array = NDArray[np.float64]


@dataclass
class Case:
    """One photo: its candidate sets with their measurements."""

    source: str
    label: Label
    sets: list[Any] = field(default_factory=list)  # (features, split, things)
    pixels: Any = None


def gather(folder: Path) -> list[Case]:
    """Measure every candidate set of every photo with a clear label."""
    cases = []
    for label in labels(folder):
        if not label.clear:
            continue
        pixels = working(folder, label)
        every = judge.distinct([s for s in find_all(pixels) if 1 <= len(s) <= 64])
        case = Case(f"{folder.name}-{label.source}", label, [], pixels)
        for things in every:
            fitted = halves.fit(things, most=3)
            case.sets.append((judge.set_features(things, every, fitted[0] if fitted else None), fitted, things))
        cases.append(case)
    return cases


def logistic(x: Array, y: Array, weight: Array, ridge: float = 1.0) -> Array:
    """Ridge logistic regression by Newton's method; the first column is the bias and is not shrunk."""
    w = np.zeros(x.shape[1])
    shrink = np.full(x.shape[1], ridge)
    shrink[0] = 1e-3
    for _ in range(40):
        p = 1 / (1 + np.exp(-np.clip(x @ w, -30, 30)))
        gradient = x.T @ (weight * (p - y)) + shrink * w
        curve = (x * (weight * p * (1 - p) + 1e-9)[:, None]).T @ x + np.diag(shrink)
        step = np.linalg.solve(curve, gradient)
        w -= step
        if np.abs(step).max() < 1e-6:
            break
    return w


def table(rows: list[dict[str, float]], names: list[str]) -> Array:
    return np.array([[1.0, *(row.get(name, 0.0) for name in names)] for row in rows])


def fit_count(cases: list[Case]) -> dict[str, float]:
    """Weights of COUNT: each photo weighs the same, right and wrong sets alike."""
    rows, y, weight = [], [], []
    for case in cases:
        hits = [len(things) == case.label.total for _, _, things in case.sets]
        for (features, _, _), hit in zip(case.sets, hits, strict=True):
            rows.append(features)
            y.append(float(hit))
            weight.append(1.0 / len(hits) * (2.0 if hit else 1.0))
    names = sorted({name for row in rows for name in row})
    w = logistic(table(rows, names), np.array(y), np.array(weight) * 3, 1.0)
    return {"bias": float(w[0]), **{n: float(v) for n, v in zip(names, w[1:], strict=True)}}


def best_set(case: Case, count: dict[str, float]) -> tuple[float, Any, Any, dict[str, float]] | None:
    scored = [(judge.weigh(f, count), fitted, things, f) for f, fitted, things in case.sets]
    return max(scored, key=lambda item: item[0], default=None)


def fact_rows(case: Case, count: dict[str, float]) -> list[tuple[dict[str, float], bool]]:
    """Readings with halves of the most believed sets, and whether a careful person would defend their fact."""
    rows = []
    scored = sorted(((judge.weigh(f, count), fitted, things, f) for f, fitted, things in case.sets), key=lambda item: -item[0])
    for belief, fitted, things, features in scored[:3]:
        if fitted and len(things) <= 24:
            f = judge.fact_features(features, belief, fitted[0], case.pixels, things)
            rows.append((f, len(things) // 2 in case.label.allowed))
    return rows


def fit_fact(cases: list[Case], count: dict[str, float]) -> dict[str, float]:
    pairs = [pair for case in cases for pair in fact_rows(case, count)]
    names = sorted({name for row, _ in pairs for name in row})
    w = logistic(table([row for row, _ in pairs], names), np.array([float(hit) for _, hit in pairs]), np.ones(len(pairs)), 2.0)
    return {"bias": float(w[0]), **{n: float(v) for n, v in zip(names, w[1:], strict=True)}}


def out_of_fold(cases: list[Case]) -> list[tuple[float, bool, bool, bool, bool]]:
    """(confidence, fact right, is double, total right, has total) of each photo's best reading, judged without its source."""
    answers = []
    for source in sorted({case.source for case in cases}):
        rest = [c for c in cases if c.source != source]
        count = fit_count([c for c in rest if c.label.total])
        fact = fit_fact(rest, count)
        for case in (c for c in cases if c.source == source):
            best = best_set(case, count)
            total = best is not None and len(best[2]) == case.label.total
            confidence, right = 0.0, False
            if best is not None and best[1] and len(best[2]) <= 24:
                f = judge.fact_features(best[3], best[0], best[1][0], case.pixels, best[2])
                confidence, right = judge.weigh(f, fact), len(best[2]) // 2 in case.label.allowed
            answers.append((confidence, right, case.label.half is not None, total, bool(case.label.total and case.label.total > 1)))
    return answers


def report(answers: list[tuple[float, bool, bool, bool, bool]]) -> float:
    """Print figures and return the threshold for `sure`: above the most confident wrong fact, with a margin."""
    confidence = np.array([a[0] for a in answers])
    right, double, total, has = (np.array([a[k] for a in answers]) for k in (1, 2, 3, 4))
    print(f"photos {len(answers)}; exact total {total[has].mean():.2f} of {has.sum()}; fact right {right[double].mean():.2f} of {double.sum()} doubles")
    wrong = np.sort(confidence[~right & (confidence > 0)])[::-1]
    for threshold in (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95):
        taken = confidence >= threshold
        print(f"  at {threshold:.2f}: taken {taken.sum()}, wrong {(taken & ~right).sum()}, of doubles {(taken & double & right).sum() / max(1, double.sum()):.2f}")
    print("most confident wrong facts", np.round(wrong[:6], 3))
    bins = np.clip((confidence * 10).astype(int), 0, 9)
    asked = confidence > 0
    error = sum(abs(confidence[asked & (bins == b)].mean() - right[asked & (bins == b)].mean()) * (asked & (bins == b)).sum() for b in range(10) if (asked & (bins == b)).any())
    print(f"ECE {error / max(1, asked.sum()):.3f}")
    return float(wrong[0] + 0.25 * (1 - wrong[0])) if len(wrong) else 0.9


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("-o", "--output", type=Path)
    chosen = options.parse_args()
    cases = [case for folder in chosen.folders for case in gather(folder)]
    sure = report(out_of_fold(cases))
    count = fit_count([c for c in cases if c.label.total])
    fact = fit_fact(cases, count)
    if chosen.output:
        names = " and ".join(folder.name for folder in chosen.folders)
        lines = ['"""The judge\'s numbers, written by curator/learning/calibrate.py; see DEVELOPERS.md for the photos behind them."""', ""]
        for title, weights in (("COUNT", count), ("FACT", fact)):
            lines += [f"{title} = {{", *(f'    "{k}": {v:.3f},' for k, v in weights.items() if abs(v) >= 0.005), "}", ""]
        lines += [f"FACT_SURE = {sure:.3f}  # {len(cases)} photos ({names}), none wrong above it when judged without its own source", "OFFER = 0.06", ""]
        chosen.output.write_text("\n".join(lines))


if __name__ == "__main__":
    main()

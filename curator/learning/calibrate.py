"""Fit the judge's two models on labelled folders: `python -m curator.learning.calibrate FOLDER... [-o weights.py]`.

Every figure it prints is out of fold: a photo is judged by weights fitted without its source (leave one source out).
The threshold for `sure` is walked from strict to loose and stops before the first wrong fact (fixed sequence).
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.stats import beta, binom

from curator.seeing import judge
from curator.seeing.finders import find_all
from curator.seeing.scoring import Label, labels, working

Array = NDArray[np.float64]
SMALLER, QUALITY = 0.94, 85  # of a photo passed on: its longer side, and its JPEG quality
MARGIN = 0.5  # of the way from the most confident wrong fact to certainty: the reasons that cap were chosen after looking at wrong facts of these same photos


@dataclass
class Case:
    """One photo: its candidate sets with their measurements."""

    source: str
    label: Label
    sets: list[Any] = field(default_factory=list)  # (features, split, things)
    pixels: Any = None
    passed_on: bool = False


def case_of(folder: Path, label: Label, *, passed_on: bool = False) -> Case:
    """Measure every candidate set of one photo; `passed_on` as a message service hands it on, a little smaller and saved again."""
    pixels = working(folder, label)
    if passed_on:
        pixels = _passed_on(pixels)
    every = [(m.features, m.fitted, m.things) for m in judge.measured(find_all(pixels))]
    return Case(f"{folder.name}-{label.source}", label, every, pixels, passed_on)


def _passed_on(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    import cv2

    size = (round(pixels.shape[1] * SMALLER), round(pixels.shape[0] * SMALLER))
    _, data = cv2.imencode(".jpg", cv2.cvtColor(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return np.asarray(cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB), np.uint8)


def gather(folder: Path) -> list[Case]:
    """Every photo of a folder with a clear label, measured as it is and as passed on: what turns on so little must not be believed."""
    return [case_of(folder, label, passed_on=again) for label in labels(folder) if label.clear for again in (False, True)]


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


def choice(x: list[Array], y: list[Array], ridge: float) -> Array:
    """Conditional logit: which row of each photo is right; columns are measured in deviations while it is fitted."""
    spread = np.concatenate(x).std(0) + 1e-6
    scaled = [rows / spread for rows in x]

    def loss(w: Array) -> tuple[float, Array]:
        value, slope = ridge * float(w @ w) / 2, ridge * w
        for rows, right in zip(scaled, y, strict=True):
            score = rows @ w
            p = np.exp(score - score.max())
            p /= p.sum()
            share = p * right
            value -= float(np.log(share.sum() + 1e-12))
            slope = slope - rows.T @ (share / share.sum().clip(1e-12) - p)
        return value, slope

    return np.asarray(minimize(loss, np.zeros(x[0].shape[1]), jac=True, method="L-BFGS-B").x / spread)


def fit_count(cases: list[Case], ridge: float = 30.0) -> dict[str, float]:
    """Weights of COUNT, from photos of which some set has the right number."""
    names = sorted({name for case in cases for features, _, _ in case.sets for name in features})
    x, y = [], []
    for case in cases:
        hits = np.array([float(len(things) == case.label.total) for _, _, things in case.sets])
        if hits.any():
            x.append(table([features for features, _, _ in case.sets], names)[:, 1:])
            y.append(hits)
    return {n: float(v) for n, v in zip(names, choice(x, y, ridge), strict=True)}


def ranked(case: Case, count: dict[str, float]) -> list[tuple[judge.Belief, Any, Any, dict[str, float]]]:
    """The case's sets, the most believed first."""
    believed = judge.beliefs([f for f, _, _ in case.sets], [len(things) for _, _, things in case.sets], count)
    every = [(b, fitted, things, f) for b, (f, fitted, things) in zip(believed, case.sets, strict=True)]
    return sorted(every, key=lambda item: -item[0].own)


def fact_rows(case: Case, count: dict[str, float]) -> list[tuple[dict[str, float], bool]]:
    """Readings with halves of the most believed sets, and whether a careful person would defend their fact."""
    rows = []
    for belief, fitted, things, features in ranked(case, count)[:3]:
        if fitted and len(things) <= 24:
            f = judge.fact_features(features, belief, fitted[0], case.pixels, things)
            rows.append((f, len(things) // 2 in case.label.allowed))
    return rows


def fit_fact(cases: list[Case], count: dict[str, float]) -> dict[str, float]:
    pairs = [pair for case in cases for pair in fact_rows(case, count)]
    names = sorted({name for row, _ in pairs for name in row})
    w = logistic(table([row for row, _ in pairs], names), np.array([float(hit) for _, hit in pairs]), np.ones(len(pairs)), 2.0)
    return {"bias": float(w[0]), **{n: float(v) for n, v in zip(names, w[1:], strict=True)}}


def _defensible(label: Label, n: int) -> bool:
    """Whether n things in two halves may be tagged without asking: where the labels see no double, only if n is the labelled total."""
    return n // 2 in label.allowed and (label.half is not None or label.total == n)


class Answer(NamedTuple):
    """A case's best reading, judged without its source."""

    confidence: float
    right: bool  # the fact
    double: bool  # whether the label sees one
    total: bool  # right
    counted: bool  # whether the label has a total above one
    capped: bool  # some reason forbids `sure`
    passed_on: bool  # not the photo itself: no witness of its own


def out_of_fold(cases: list[Case]) -> list[Answer]:
    """Each case's best reading, by weights fitted without its source."""
    answers = []
    for source in sorted({case.source for case in cases}):
        rest = [c for c in cases if c.source != source]
        count = fit_count([c for c in rest if c.label.total])
        fact = fit_fact(rest, count)
        for case in (c for c in cases if c.source == source):
            best = next(iter(ranked(case, count)), None)
            total = best is not None and len(best[2]) == case.label.total
            confidence, right, capped = 0.0, False, True
            if best is not None and best[1] and len(best[2]) <= 24:
                f = judge.fact_features(best[3], best[0], best[1][0], case.pixels, best[2])
                confidence, right = judge.weigh(f, fact), _defensible(case.label, len(best[2]))
                capped = judge.capped(judge.reasons_against(f, best[0], best[1][0], len(best[2])))
            label = case.label
            answers.append(Answer(confidence, right, label.half is not None, total, bool(label.total and label.total > 1), capped, case.passed_on))
    return answers


def bound(wrong: int, taken: int, miss: float = 0.1) -> float:
    """Upper bound on the error rate that holds with probability 1 - miss (Clopper and Pearson 1934)."""
    return 1.0 if wrong >= taken else float(beta.ppf(1 - miss, wrong + 1, taken - wrong))


def fixed_sequence(confidence: Array, right: NDArray[np.bool_], risk: float, miss: float = 0.1) -> float:
    """Learn then Test (Angelopoulos et al. 2021): thresholds from strict to loose, stopping at the first that cannot be shown to err less than `risk`.

    Starts at the strictest threshold that takes enough photos to be shown at all; returns a number above 1 where none can.
    """
    enough = math.ceil(math.log(miss) / math.log(1 - risk))
    chosen = 1.01
    for threshold in np.sort(confidence)[::-1][enough - 1 :]:
        taken = confidence >= threshold
        if binom.cdf(int((taken & ~right).sum()), int(taken.sum()), risk) > miss:
            break
        chosen = float(threshold)
    return chosen


def risk_coverage(confidence: Array, right: NDArray[np.bool_]) -> Array:
    """(n, 2): share of photos answered, and share of all photos answered wrongly, from strict to loose."""
    order = np.argsort(-confidence, kind="stable")
    n = len(order)
    return np.column_stack([np.arange(1, n + 1) / n, np.cumsum(~right[order]) / n])


def curve_svg(curve: Array, sure: float) -> str:
    """The risk-coverage curve as a small SVG: wrong answers among all photos against photos answered."""
    points = " ".join(f"{40 + 400 * c:.1f},{260 - 240 * r:.1f}" for c, r in curve)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 460 300" font-family="sans-serif" font-size="12">'
        '<rect width="460" height="300" fill="#fff"/><path d="M40 20V260H440" fill="none" stroke="#333"/>'
        f'<polyline points="{points}" fill="none" stroke="#0b5fa5" stroke-width="2"/>'
        f'<text x="240" y="290" text-anchor="middle">share of photos answered (sure at {sure:.2f})</text>'
        '<text x="14" y="140" transform="rotate(-90 14 140)" text-anchor="middle">wrong, of all photos</text>'
        '<text x="440" y="274" text-anchor="end">1</text><text x="34" y="24" text-anchor="end">1</text></svg>'
    )


def report(every: list[Answer]) -> float:
    """Print figures and return the threshold for `sure`: above the most confident wrong fact that no reason caps, with a margin.

    The threshold minds the photos passed on too; the figures count each photo once, as it is.
    """
    answers = [a for a in every if not a.passed_on]
    confidence = np.array([a.confidence for a in answers])
    right, double, total, has, capped = (np.array([a[k] for a in answers]) for k in (1, 2, 3, 4, 5))
    print(f"photos {len(answers)}; exact total {total[has].mean():.2f} of {has.sum()}; fact right {right[double].mean():.2f} of {double.sum()} doubles")
    wrong = np.array(sorted((a.confidence for a in every if not a.right and not a.capped), reverse=True))
    for threshold in (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95):
        taken = confidence >= threshold
        print(f"  at {threshold:.2f}: taken {taken.sum()}, wrong {(taken & ~right).sum()}, of doubles {(taken & double & right).sum() / max(1, double.sum()):.2f}")
    print("most confident wrong facts that no reason caps", np.round(wrong[:6], 3))
    bins = np.clip((confidence * 10).astype(int), 0, 9)
    asked = confidence > 0
    error = sum(abs(confidence[asked & (bins == b)].mean() - right[asked & (bins == b)].mean()) * (asked & (bins == b)).sum() for b in range(10) if (asked & (bins == b)).any())
    curve = risk_coverage(confidence, right)
    print(f"ECE {error / max(1, asked.sum()):.3f}; AUGRC {float(np.trapezoid(curve[:, 1], curve[:, 0])):.3f}")
    print("of the answers that no reason caps:")
    for risk in (0.05, 0.1, 0.15, 0.2):
        print(f"  Learn then Test, at most {risk:.2f} wrong with probability 0.9: threshold {fixed_sequence(confidence[~capped], right[~capped], risk):.3f}")
    sure = float(wrong[0] + MARGIN * (1 - wrong[0])) if len(wrong) else 0.9
    taken = (confidence >= sure) & ~capped
    print(f"sure at {sure:.3f}: {taken.sum()} taken, {(taken & ~right).sum()} wrong, at most {bound((taken & ~right).sum(), taken.sum()):.3f} wrong with probability 0.9")
    print(f"  coverage: {taken.mean():.2f} of all photos, {(taken & double).sum() / max(1, double.sum()):.2f} of doubles")
    return sure


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("-o", "--output", type=Path)
    options.add_argument("--plot", type=Path, help="the risk-coverage curve as SVG")
    chosen = options.parse_args()
    cases = [case for folder in chosen.folders for case in gather(folder)]
    answers = out_of_fold(cases)
    sure = report(answers)
    if chosen.plot:
        own = [a for a in answers if not a.passed_on]
        curve = risk_coverage(np.array([a.confidence for a in own]), np.array([a.right for a in own]))
        chosen.plot.write_text(curve_svg(curve, sure))
    count = fit_count([c for c in cases if c.label.total])
    fact = fit_fact(cases, count)
    if chosen.output:
        names = " and ".join(folder.name for folder in chosen.folders)
        lines = ['"""The judge\'s numbers, written by curator/learning/calibrate.py; see DEVELOPERS.md for the photos behind them."""', ""]
        for title, weights in (("COUNT", count), ("FACT", fact)):
            lines += [f"{title} = {{", *(f'    "{k}": {v:.3f},' for k, v in weights.items() if abs(v) >= 0.005), "}", ""]
        lines += [f"FACT_SURE = {sure:.3f}  # {len(cases) // 2} photos ({names}), each also passed on, none wrong above it when judged without its own source", "OFFER = 0.06", ""]
        chosen.output.write_text("\n".join(lines))


if __name__ == "__main__":
    main()

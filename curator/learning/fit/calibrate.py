"""Fit the judge's two models on labelled folders: `python -m curator.learning.fit.calibrate FOLDER... [--boxed
../shared/train --nets FOLDER] [-o judge.json]`.

Every figure it prints is out of fold: a photo is judged by weights fitted without its source (leave one source out).
With `--boxed`
the photos that the net was trained on take part too, each seen by a net that has not seen its source (`boxed.py`).
"""

from __future__ import annotations

import argparse
import json
import math
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.stats import beta, binom

from curator.learning.fit.cases import Array, Case, gather
from curator.learning.photos import boxed
from curator.seeing.judging import feature_table, models, readings, reasons
from curator.seeing.judging import features as measuring
from curator.seeing.judging.models import OFFER

# of the way from the most confident wrong fact to certainty: some reasons that cap were chosen after looking at wrong
# facts of the same photos
MARGIN = 0.25


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


def choice(x: list[Array], y: list[Array], ridge: float, weight: Sequence[float] | None = None) -> Array:
    """Conditional logit: which row of each photo is right; columns are measured in deviations while it is fitted."""
    weights = [1.0] * len(x) if weight is None else weight
    spread = np.concatenate(x).std(0) + 1e-6
    scaled = [rows / spread for rows in x]

    def loss(w: Array) -> tuple[float, Array]:
        value, slope = ridge * float(w @ w) / 2, ridge * w
        for rows, right, much in zip(scaled, y, weights, strict=True):
            score = rows @ w
            p = np.exp(score - score.max())
            p /= p.sum()
            share = p * right
            value -= much * float(np.log(share.sum() + 1e-12))
            slope = slope - much * (rows.T @ (share / share.sum().clip(1e-12) - p))
        return value, slope

    return np.asarray(minimize(loss, np.zeros(x[0].shape[1]), jac=True, method="L-BFGS-B").x / spread)


def fit_count(cases: list[Case], ridge: float = 60.0) -> dict[str, float]:
    """Weights of COUNT, from photos of which some set is the one meant."""
    names = sorted({name for case in cases for m in case.sets for name in m.features})
    fit = [case for case in cases if case.hits.any()]
    x = [table([m.features for m in case.sets], names)[:, 1:] for case in fit]
    weights = choice(x, [case.hits.astype(float) for case in fit], ridge, [case.share for case in fit])
    return {n: float(v) for n, v in zip(names, weights, strict=True)}


def ranked(case: Case, count: dict[str, float]) -> list[tuple[models.Belief, int]]:
    """What is believed of each of the case's sets, and which it is; in the order in which they are read."""
    believed = models.beliefs([m.features for m in case.sets], [len(m.things) for m in case.sets], count)
    return [(believed[i], i) for i in readings.ranked(case.sets, believed)]


def _fact(case: Case, belief: models.Belief, i: int) -> dict[str, float] | None:
    """What FACT weighs of one set; None where it shows no double."""
    things, fitted, features = case.sets[i]
    if not measuring.halved(case.sets[i]):
        return None
    if i not in case.looks:  # what the pixels say does not depend on the weights
        looks = feature_table.looks(case.pixels, things)
        shown = feature_table.Shown(case.pixels, things, fitted[0], belief)
        case.looks[i] = feature_table.fact_features(features, looks, shown)
    return {**case.looks[i], "belief": belief.own, "number": belief.number, "ahead": belief.ahead}


def fact_rows(case: Case, count: dict[str, float]) -> list[tuple[dict[str, float], bool]]:
    """Readings with halves of the most believed sets, and whether a careful person would defend their fact."""
    rows = [(_fact(case, belief, i), case.named[i]) for belief, i in ranked(case, count)[:3]]
    return [(features, named) for features, named in rows if features is not None and named is not None]


def fit_fact(cases: list[Case], count: dict[str, float]) -> dict[str, float]:
    pairs = [(*pair, case.share) for case in cases for pair in fact_rows(case, count)]
    names = sorted({name for row, _, _ in pairs for name in row})
    hits, shares = np.array([float(hit) for _, hit, _ in pairs]), np.array([share for _, _, share in pairs])
    w = logistic(table([row for row, _, _ in pairs], names), hits, shares, 2.0)
    return {"bias": float(w[0]), **{n: float(v) for n, v in zip(names, w[1:], strict=True)}}


class Answer(NamedTuple):
    """A case's best reading, judged without its source."""

    confidence: float
    right: bool  # the fact
    double: bool  # whether the label sees one
    total: bool  # right
    counted: bool  # whether the label has a total above one
    capped: bool  # some reason forbids `sure`
    passed_on: bool  # not the photo itself: no witness of its own
    boxed: bool
    things: int
    source: str = ""


def _judged(case: Case, count: dict[str, float], fact: dict[str, float]) -> Answer | None:
    """The case's best reading; None where nobody knows whether it is right."""
    best = next(iter(ranked(case, count)), None)
    confidence, right, capped = 0.0, False, True
    features = None if best is None else _fact(case, *best)
    if best is not None and features is not None:
        belief, i = best
        known, (things, fitted, _) = case.strict[i], case.sets[i]
        if known is None:
            return None
        confidence, right = models.weigh(features, fact), known
        doubted = reasons.Doubted(features, belief, fitted[0], len(things), things.clues.seen is not None)
        capped = reasons.capped(reasons.reasons_against(doubted))
    total = best is not None and bool(case.hits[best[1]])
    things = 0 if best is None else len(case.sets[best[1]].things)
    return Answer(
        confidence, right, case.double, total, case.counted, capped, case.passed_on, case.boxed, things, case.source
    )


def out_of_fold(cases: list[Case]) -> list[Answer]:
    """Each case's best reading, by weights fitted without its source."""
    answers = []
    for source in sorted({case.source for case in cases}):
        rest = [c for c in cases if c.source != source]
        count = fit_count(rest)
        fact = fit_fact(rest, count)
        answers += [answer for c in cases if c.source == source if (answer := _judged(c, count, fact)) is not None]
    return answers


def bound(wrong: int, taken: int, miss: float = 0.1) -> float:
    """Upper bound on the error rate that holds with probability 1 - miss (Clopper and Pearson 1934)."""
    return 1.0 if wrong >= taken else float(beta.ppf(1 - miss, wrong + 1, taken - wrong))


def fixed_sequence(confidence: Array, right: NDArray[np.bool_], risk: float, miss: float = 0.1) -> float:
    """Learn then Test (Angelopoulos et al. 2021): thresholds from strict to loose, stopping at the first that cannot
    be shown to err less than `risk`.

    Starts at the strictest threshold that takes enough photos to be shown at all; returns a number above 1 where none
    can.
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
        f'<text x="240" y="290" text-anchor="middle">share of photos answered (sure at {sure:.2f}, if no '
        f"reason caps)</text>"
        '<text x="14" y="140" transform="rotate(-90 14 140)" text-anchor="middle">wrong, of all photos</text>'
        '<text x="440" y="274" text-anchor="end">1</text><text x="34" y="24" text-anchor="end">1</text></svg>'
    )


def report(every: list[Answer]) -> tuple[float, float]:
    """Print figures and return the thresholds for `sure`, of more than two things and of two.

    Each lies above the most confident wrong fact of its sort that no reason caps, with a margin (a threshold a
    category, after
    Vovk et al. 2003, Mondrian confidence machine). They mind the photos passed on and the boxed ones too; the figures
    count each
    photo once, as it is, and the boxed ones apart.
    """
    own = [a for a in every if not a.passed_on]
    for title, answers in (
        ("labelled", [a for a in own if not a.boxed]),
        ("boxed, seen by a stranger", [a for a in own if a.boxed]),
    ):
        if answers:
            print(f"{title}:")
            _figures(answers)
    more, two = thresholds(every)
    for title, sure, pair in (("more things", more, False), ("two things", two, True)):
        _described([a for a in every if (a.things == 2) == pair], title, sure)
    _taken(
        "sure, by the thresholds above (no error is left above them by construction)",
        own,
        [a for a in own if _is_sure(a, more, two)],
    )
    _taken("sure, by thresholds from the other sources alone", own, sure_elsewhere(every))
    return more, two


def thresholds(answers: list[Answer]) -> tuple[float, float]:
    """For more than two things and for two:

    MARGIN of the way from the most confident wrong fact that no reason caps to certainty.
    """
    found = []
    for pair in (False, True):
        wrong = max(
            (a.confidence for a in answers if (a.things == 2) == pair and not a.right and not a.capped), default=None
        )
        found.append(0.9 if wrong is None else wrong + MARGIN * (1 - wrong))
    return found[0], found[1]


def sure_elsewhere(every: list[Answer]) -> list[Answer]:
    """The answers that are `sure` by thresholds from the photos of all other sources; photos passed on only help to
    choose them.

    The one figure of errors that the choice of the thresholds does not flatter.
    """
    found = []
    for source in sorted({a.source for a in every}):
        more, two = thresholds([a for a in every if a.source != source])
        found += [a for a in every if a.source == source and not a.passed_on and _is_sure(a, more, two)]
    return found


def _is_sure(answer: Answer, more: float, two: float) -> bool:
    return not answer.capped and answer.confidence >= (two if answer.things == 2 else more)


def _taken(title: str, own: list[Answer], taken: list[Answer]) -> None:
    """Print how many of them are wrong, and how many of the doubles they are."""
    wrong = sum(not a.right for a in taken)
    print(
        f"{title}: {len(taken)} of {len(own)} photos, {wrong} wrong, at most "
        f"{bound(wrong, len(taken)):.3f} wrong with probability 0.9"
    )
    for kind in (False, True):
        doubles = sum(a.double for a in own if a.boxed == kind)
        mine = sum(a.double and a.right for a in taken if a.boxed == kind)
        print(f"  {'boxed' if kind else 'labelled'}: {mine} of {doubles} doubles, {mine / max(1, doubles):.2f}")


def _described(answers: list[Answer], title: str, sure: float) -> None:
    """Print what lies behind a threshold."""
    wrong = np.array(sorted((a.confidence for a in answers if not a.right and not a.capped), reverse=True))
    print(f"{title}: most confident wrong facts that no reason caps {np.round(wrong[:8], 3)}; sure at {sure:.3f}")
    free = [a for a in answers if not a.capped and not a.passed_on]
    for risk in (0.02, 0.05, 0.1):
        threshold = fixed_sequence(np.array([a.confidence for a in free]), np.array([a.right for a in free]), risk)
        print(f"  Learn then Test, at most {risk:.2f} wrong with probability 0.9: threshold {threshold:.3f}")


def _figures(answers: list[Answer]) -> None:
    """Print what these answers are worth."""
    confidence = np.array([a.confidence for a in answers])
    right, double, total, has, capped = (np.array([a[k] for a in answers]) for k in (1, 2, 3, 4, 5))
    print(
        f"  photos {len(answers)}; exact total {total[has].mean():.3f} of {has.sum()}; fact right "
        f"{right[double].mean():.2f} of {double.sum()} doubles"
    )
    for threshold in (0.5, 0.7, 0.8, 0.85, 0.9, 0.95):
        taken, free = confidence >= threshold, (confidence >= threshold) & ~capped
        print(
            f"  at {threshold:.2f}: taken {taken.sum()}, wrong {(taken & ~right).sum()}; not capped "
            f"{free.sum()}, wrong {(free & ~right).sum()}"
        )
    bins = np.clip((confidence * 10).astype(int), 0, 9)
    asked = confidence > 0
    error = sum(
        abs(confidence[asked & (bins == b)].mean() - right[asked & (bins == b)].mean()) * (asked & (bins == b)).sum()
        for b in range(10)
        if (asked & (bins == b)).any()
    )
    curve = risk_coverage(confidence, right)
    print(f"  ECE {error / max(1, asked.sum()):.3f}; AUGRC {float(np.trapezoid(curve[:, 1], curve[:, 0])):.3f}")


def rounded(weights: dict[str, float]) -> dict[str, float]:
    """Weights as they are written; what is nearly nothing is left out."""
    return {name: round(value, 3) for name, value in weights.items() if abs(value) >= 0.005}


def write(
    output: Path,
    folders: list[str],
    photos: int,
    count: dict[str, float],
    fact: dict[str, float],
    sure: tuple[float, float],
) -> None:
    """The fitted numbers as data, with the photos behind them."""
    about = {
        "fitted_by": "curator/learning/fit/calibrate.py",
        "date": f"{date.today()}",
        "folders": folders,
        "photos": photos,
        "evidence": "none wrong above `sure` when judged without its own source",
    }
    fitted = {
        "sure": round(sure[0], 3),
        "sure_two": round(sure[1], 3),
        "offer": OFFER,
        "count": rounded(count),
        "fact": rounded(fact),
    }
    output.write_text(json.dumps({**about, **fitted}, indent=1) + "\n")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("--boxed", type=Path, help="photos with boxes that the net was trained on")
    options.add_argument(
        "--nets",
        type=Path,
        nargs="+",
        default=[Path(".learn/cross")],
        help="folders of a.onnx and b.onnx, each a stranger to half of them",
    )
    options.add_argument("-o", "--output", type=Path)
    options.add_argument("--plot", type=Path, help="the risk-coverage curve as SVG")
    chosen = options.parse_args()
    cases = gather(chosen.folders)
    if chosen.boxed:
        cases += boxed.gather(chosen.boxed, chosen.nets)
    answers = out_of_fold(cases)
    sure = report(answers)
    if chosen.plot:
        own = [a for a in answers if not a.passed_on and not a.boxed]
        curve = risk_coverage(np.array([a.confidence for a in own]), np.array([a.right for a in own]))
        chosen.plot.write_text(curve_svg(curve, sure[0]))
    count = fit_count(cases)
    fact = fit_fact(cases, count)
    if chosen.output:
        folders = [*(folder.name for folder in chosen.folders), *([chosen.boxed.name] if chosen.boxed else [])]
        write(chosen.output, folders, sum(not case.passed_on for case in cases), count, fact, sure)


if __name__ == "__main__":
    main()

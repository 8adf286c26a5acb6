"""Fit the judge: `python -m curator.learning.fit.calibrate FOLDER... [--held FOLDER] [--cache DIR]`.

COUNT (which set is meant), CHECK (the same, with what the checker says) and FACT (is this the fact a person would name)
are fitted on labelled folders; every figure it prints is out of fold: a photo is judged by weights fitted without its
owner's photos. With `--boxed` the photos that the net was trained on take part too, each seen by a net that has not
seen its source (`boxed.py`).
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.learning.fit import gate
from curator.learning.fit.cases import Case, bare, gather
from curator.learning.fit.gate import Answer, Thresholds
from curator.learning.fit.logits import Array, Choice, logistic, table
from curator.learning.photos import boxed
from curator.records import LARGEST_HALF
from curator.seeing.judging import checked, feature_table, features, models, readings, reasons
from curator.seeing.judging.features import halved
from curator.seeing.judging.models import OFFER, Features
from curator.seeing.judging.pooled import Judge

RIDGE_COUNT, RIDGE_FACT, RIDGE_CHECK = 60.0, 2.0, 10.0
FOLDS = 12
READ = 3  # sets of a photo whose facts FACT is fitted on
NOTHING = models.NOTHING
COUNT_NAMES = (NOTHING, *(row.name for row in feature_table.OF_A_SET))
FACT_NAMES = tuple(row.name for row in feature_table.OF_A_FACT)


class Before(NamedTuple):
    """Weights of an earlier fit, on photos that are not at hand: the new ones are drawn to them."""

    count: Features
    fact: Features


NO_FIT = Before({}, {})


class Counting:
    """COUNT over all cases: the sets of each photo, and after them that nothing is there."""

    def __init__(self, cases: list[Case], names: Iterable[str] = COUNT_NAMES, before: Features | None = None) -> None:
        self.names = list(names)
        rows = [table([*(m.features for m in case.seen.sets), {NOTHING: 1.0}], self.names) for case in cases]
        right = [np.append(case.hits.astype(float), float(case.total is None)) for case in cases]
        sizes = np.array([len(one) for one in right])
        share = np.array([case.share for case in cases])
        prior = None if before is None else np.array([before.get(name, 0.0) for name in self.names])
        self.choice = Choice(np.concatenate(rows), sizes, np.concatenate(right), share, RIDGE_COUNT, prior)
        self.every = self.choice.fitted(np.ones(len(cases), bool))

    def fitted(self, keep: NDArray[np.bool_]) -> Array:
        """Weights from the cases in `keep`."""
        return self.choice.fitted(keep, self.every)

    def named(self, weights: Array) -> Features:
        """The weights by the names of their features."""
        return {n: float(v) for n, v in zip(self.names, weights, strict=True)}

    def without_each(self, of: NDArray[np.intp]) -> dict[int, Features]:
        """For each fold of the cases the weights fitted without it, by name."""
        return {k: self.named(self.fitted(of != k)) for k in sorted(set(of.tolist()))}


class Checking:
    """CHECK over all cases: what COUNT, fitted without the case's own source, believes of each set beside what the
    checker says of it; drawn to believing COUNT alone.
    """

    def __init__(self, cases: list[Case], counts: list[Features]) -> None:
        rows, right = [], []
        for case, count in zip(cases, counts, strict=True):
            alone = models.beliefs(*features.weighed(case.seen.sets), count)
            asked = checked.worth(alone)
            rows.append(checked.measures(alone, dict(zip(asked, case.seen.asked(asked), strict=True))))
            right.append(np.append(case.hits.astype(float), float(case.total is None)))
        sizes, share = np.array([len(one) for one in right]), np.array([case.share for case in cases])
        prior = np.array([float(name == "log") for name in checked.NAMES])
        self.choice = Choice(np.concatenate(rows), sizes, np.concatenate(right), share, RIDGE_CHECK, prior)
        self.every = self.choice.fitted(np.ones(len(cases), bool))

    def fitted(self, keep: NDArray[np.bool_]) -> Features:
        """Weights from the cases in `keep`."""
        return self.named(self.choice.fitted(keep, self.every))

    def named(self, weights: Array) -> Features:
        """The weights by the names of what they weigh."""
        return {n: float(v) for n, v in zip(checked.NAMES, weights, strict=True)}


def ranked(case: Case, believed: list[models.Belief]) -> list[tuple[models.Belief, int]]:
    """What is believed of each of the case's sets, and which it is (-1: nothing is there); as they are read."""
    sets = case.seen.sets
    order = [(believed[i], i) for i in readings.listed(readings.ranked(sets, believed), sets, believed)]
    if models.empty(believed):
        none = models.nothing(believed)
        return [(models.Belief(none, none, 1.0), -1), *order]
    return order


def fact_of(case: Case, belief: models.Belief, i: int) -> Features | None:
    """What FACT weighs of one set; None where it shows no double."""
    if i < 0 or not halved(case.seen.sets[i]) or i not in case.seen.facts:
        return None
    told = {"belief": belief.own, "number": belief.number, "ahead": belief.ahead, "alone": belief.alone}
    return {**case.seen.facts[i], **told, "checked": belief.by_eye}


class Facts:
    """FACT over all cases: the readings with halves of each case's most believed sets, by that case's own judge."""

    def __init__(
        self,
        cases: list[Case],
        judges: list[Judge],
        names: Iterable[str] = FACT_NAMES,
        before: Features | None = None,
    ) -> None:
        self.names = list(names)
        rows: list[Features] = []
        right: list[float] = []
        of: list[int] = []
        for k, (case, judge) in enumerate(zip(cases, judges, strict=True)):
            for belief, i in ranked(case, case.seen.believed(judge))[:READ]:
                weighed = fact_of(case, belief, i)
                if weighed is not None and case.named[i] is not None:
                    rows.append(weighed)
                    right.append(float(bool(case.named[i])))
                    of.append(k)
        self.of, self.right, self.rows = np.array(of), np.array(right), table(rows, self.names)
        self.share = np.array([cases[k].share for k in of])
        known = before or {}
        self.prior = np.array([known.get(name, 0.0) for name in ("bias", *self.names)])

    def fitted(self, keep: NDArray[np.bool_]) -> Features:
        """Weights from the cases in `keep`."""
        own = keep[self.of]
        w = logistic(self.rows[own], self.right[own], self.share[own], RIDGE_FACT, self.prior)
        return {"bias": float(w[0]), **{n: float(v) for n, v in zip(self.names, w[1:], strict=True)}}


def judged(case: Case, judge: Judge, fact: Features, rules: tuple[reasons.Rule, ...] = reasons.RULES) -> Answer:
    """The case's best reading, and where the labelled half stands."""
    believed = case.seen.believed(judge)
    order = ranked(case, believed)
    sizes = [0 if i < 0 else len(case.seen.sets[i].things) for _, i in order]
    halves = [n // 2 if n % 2 == 0 and 0 < n // 2 <= LARGEST_HALF else 0 for n in sizes]
    counted = [half for half, n in zip(halves, sizes, strict=True) if n]  # that nothing repeats takes no place
    stands = {} if case.half is None else {"first": halves[:1] == [case.half], "three": case.half in counted[:3]}
    total = None if case.total is None else sizes[:1] == [case.total]
    confidence, right, caps, things = 0.0, True, tuple[str, ...](), 0
    if order and (weighed := fact_of(case, *order[0])) is not None:
        belief, i = order[0]
        one = case.seen.sets[i]
        things = len(one.things)
        confidence, right = models.weigh(weighed, fact), bool(case.strict[i])
        looked = one.things.clues.seen is not None
        beside = readings.beside(i, case.seen.sets, believed)
        doubted = reasons.Doubted(weighed, belief, one.fitted[0], things, looked, beside)
        caps = tuple(r.name for r in reasons.reasons_against(doubted, rules) if r.caps)
        if case.strict[i] is None:
            caps = (*caps, "unknown")
        rows = {j: fact_of(case, b, j) for b, j in order}
        named = {j: models.weigh(row, fact) for j, row in rows.items() if row is not None}
        if readings.open_wholes(i, case.seen.sets, believed, named):
            caps = (*caps, "wholes")
    return Answer(
        case.name,
        case.folder,
        case.source,
        confidence,
        right,
        caps,
        things,
        total,
        stands.get("first"),
        stands.get("three"),
        case.passed_on,
        case.boxed,
    )


def folds(cases: list[Case]) -> NDArray[np.intp]:
    """Each case's fold, FOLDS in all and about as large: the photos of one source lie in one."""
    size = Counter(case.source for case in cases)
    full, fold = [0] * FOLDS, dict[str, int]()
    for source in sorted(size, key=lambda s: (-size[s], s)):
        fold[source] = int(np.argmin(full))
        full[fold[source]] += size[source]
    return np.array([fold[case.source] for case in cases])


def out_of_fold(
    cases: list[Case],
    without: frozenset[str] = frozenset(),
    rules: tuple[reasons.Rule, ...] = reasons.RULES,
    before: Before = NO_FIT,
) -> list[Answer]:
    """Each case's best reading, by weights fitted without its source; features in `without` are left out."""
    of = folds(cases)
    counting = Counting(cases, [n for n in COUNT_NAMES if n not in without], before.count)
    count = counting.without_each(of)
    checking = Checking(cases, [count[k] for k in of.tolist()])
    judge = {k: Judge(count[k], {} if "checked" in without else checking.fitted(of != k)) for k in count}
    names = [n for n in FACT_NAMES if n not in without]
    facts = Facts(cases, [judge[k] for k in of.tolist()], names, before.fact)
    fact = {k: facts.fitted(of != k) for k in count}
    return [judged(case, judge[k], fact[k], rules) for case, k in zip(cases, of.tolist(), strict=True)]


def rounded(weights: Features) -> Features:
    """Weights as they are written; what is nearly nothing is left out."""
    return {name: round(value, 3) for name, value in weights.items() if abs(value) >= 0.005}


def write(output: Path, folders: list[str], photos: int, judge: Judge, fact: Features, sure: Thresholds) -> None:
    """The fitted numbers as data, with the photos behind them; what another program fitted stays."""
    before = json.loads(output.read_text()) if output.exists() else {}
    about = {
        "fitted_by": "curator/learning/fit/calibrate.py",
        "date": f"{date.today()}",
        "folders": folders,
        "photos": photos,
        "evidence": f"{gate.EDGE} of the answers at `sure` are wrong when judged without their own source",
    }
    numbers = {
        "sure": round(sure.more, 3),
        "sure_two": round(sure.two, 3),
        "sure_four": round(sure.four, 3),
        "offer": OFFER,
        "kind": before.get("kind", {}),
        "count": rounded(judge.count),
        "check": rounded(judge.check),
        "fact": rounded(fact),
    }
    output.write_text(json.dumps({**about, **numbers}, indent=1) + "\n")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folders", nargs="+", type=Path)
    options.add_argument("--held", type=Path, help="boxed photos; those that the shipped net was kept from take part")
    options.add_argument("--boxed", type=Path, help="photos with boxes that the net was trained on")
    options.add_argument(
        "--nets",
        type=Path,
        nargs="+",
        default=[Path(".learn/cross")],
        help="folders of a.onnx and b.onnx, each a stranger to half of them",
    )
    options.add_argument("--bare", type=Path, help="a folder of pictures in which nothing repeats")
    options.add_argument("--before", type=Path, help="judge.json of an earlier fit, on photos that are not at hand")
    options.add_argument("--again", action="store_true", help="each photo also as passed on")
    options.add_argument("--cache", type=Path, help="where measured photos are kept, outside the project")
    options.add_argument("-o", "--output", type=Path)
    chosen = options.parse_args()
    cases = gather(chosen.folders, chosen.cache, again=chosen.again)
    if chosen.held:
        cases += boxed.held(chosen.held, chosen.cache)
    if chosen.boxed:
        cases += boxed.gather(chosen.boxed, chosen.nets, chosen.cache)
    if chosen.bare:
        cases += bare(chosen.bare, chosen.cache)
    earlier = json.loads(chosen.before.read_text()) if chosen.before else {}
    before = Before(earlier.get("count", {}), earlier.get("fact", {}))
    sure = gate.report(out_of_fold(cases, before=before))
    if chosen.output:
        counting = Counting(cases, before=before.count)
        count = counting.named(counting.every)
        of = folds(cases)
        strangers = counting.without_each(of)
        checking = Checking(cases, [strangers[k] for k in of.tolist()])
        judge = Judge(count, checking.named(checking.every))
        fact = Facts(cases, [judge] * len(cases), before=before.fact).fitted(np.ones(len(cases), bool))
        more = [f"{chosen.held.name} (held out)"] if chosen.held else []
        folders = [*(folder.name for folder in [*chosen.folders, chosen.boxed, chosen.bare] if folder), *more]
        write(chosen.output, folders, sum(not case.passed_on for case in cases), judge, fact, sure)


if __name__ == "__main__":
    main()

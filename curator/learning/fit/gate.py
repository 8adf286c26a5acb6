"""From judged answers to the thresholds of `sure`, and what they are worth: coverage, errors and their bounds."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.stats import beta, binom

from curator.learning.fit.logits import Array, logistic

RISKS = (0.01, 0.02, 0.05)  # that Learn then Test is asked about
# of answers as doubtful as the least that is tagged without asking so many are wrong; of all that are tagged about a
# quarter of that (`.docs/experiments.md`)
EDGE = 0.05
EDGES = (0.03, EDGE, 0.09)  # that the report shows
RIDGE = 1.0  # draws sorts to each other, and confidences to what they say
LEAST = 0.5  # no threshold lies below: what is not likelier than not is asked
STRICTEST = 0.995  # where nothing of a sort can be shown


class Answer(NamedTuple):
    """A case's best reading, judged without its source."""

    name: str
    folder: str
    source: str
    confidence: float  # of its fact; 0 where it has none
    right: bool  # the fact, where it is tagged without asking
    reasons: tuple[str, ...]  # that cap
    things: int
    total: bool | None  # right; None where the label has none
    first: bool | None  # the labelled half comes first; None where the label has no double
    three: bool | None  # it is among the first three
    passed_on: bool = False  # not the photo itself: no witness of its own
    boxed: bool = False

    @property
    def double(self) -> bool:
        return self.first is not None

    @property
    def capped(self) -> bool:
        return bool(self.reasons)


class Thresholds(NamedTuple):
    """Confidence from which a double is `sure`: of two things, of four, and of any other number."""

    more: float
    two: float
    four: float

    def takes(self, a: Answer) -> bool:
        """Whether the answer is tagged without asking."""
        return not a.capped and a.confidence >= {2: self.two, 4: self.four}.get(a.things, self.more)


def bound(wrong: int, taken: int, miss: float = 0.05) -> float:
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


def _rows(confidence: Array, things: NDArray[np.intp]) -> Array:
    """(n, 3) what a chance of being wrong is worked out from: two things, four things, the odds that are given."""
    clipped = np.clip(confidence, 1e-4, 1 - 1e-4)
    return np.column_stack([things == 2, things == 4, np.log(clipped / (1 - clipped))]).astype(float)


def thresholds(answers: list[Answer], edge: float = EDGE) -> Thresholds:
    """For each sort the confidence at which an answer is wrong `edge` of the time, by a logistic model of all of them
    (Platt 1999, Probabilistic outputs for support vector machines): one wrong answer moves it a little, and a sort
    of which little is known leans on the rest. Any two things make 1+1, and four are often two parts each of two: these
    are sorts of their own (a threshold a category, after Vovk et al. 2003).

    Photos passed on count: what turns on so little is not believed. What a reason caps, is below LEAST, or names no
    double does not. STRICTEST where nothing is known.
    """
    free = [a for a in answers if not a.capped and a.confidence >= LEAST]
    if not free:
        return Thresholds(STRICTEST, STRICTEST, STRICTEST)
    rows = _rows(np.array([a.confidence for a in free]), np.array([a.things for a in free]))
    right = np.array([float(a.right) for a in free])
    more, two, four, slope = logistic(rows, right, np.ones(len(free)), RIDGE, np.array([0.0, 0.0, 0.0, 1.0])).tolist()
    if slope <= 0:
        return Thresholds(STRICTEST, STRICTEST, STRICTEST)
    wanted = math.log((1 - edge) / edge)
    odds = (wanted - more - np.array([0.0, two, four])) / slope
    return Thresholds(*np.clip(1 / (1 + np.exp(-np.clip(odds, -30, 30))), LEAST, STRICTEST).tolist())


def elsewhere(every: list[Answer], edge: float = EDGE) -> list[Answer]:
    """The answers that are `sure` by thresholds from all other sources: what a new source may bring."""
    found = []
    for source in sorted({a.source for a in every}):
        chosen = thresholds([a for a in every if a.source != source], edge)
        found += [a for a in every if a.source == source and not a.passed_on and chosen.takes(a)]
    return found


def mean(values: list[bool | None]) -> float:
    """Share of what is known; nan where nothing is."""
    known = [v for v in values if v is not None]
    return float(np.mean(known)) if known else math.nan


def figures(answers: list[Answer]) -> str:
    """Exact totals, labelled half first and among the first three, of photos as they are."""
    own = [a for a in answers if not a.passed_on]
    cells = (mean([a.total for a in own]), mean([a.first for a in own]), mean([a.three for a in own]))
    return f"{len(own)} photos: total, half first, top three " + " ".join(f"{c:.3f}" for c in cells)


def covered(answers: list[Answer], taken: list[Answer]) -> str:
    """How many doubles are `sure`, how many wrong, and the bound."""
    doubles = sum(a.double and not a.passed_on for a in answers)
    wrong = [a for a in taken if not a.right]
    share = sum(a.double and a.right for a in taken) / max(1, doubles)
    return (
        f"{share:.3f} of {doubles} doubles sure; {len(wrong)} of {len(taken)} wrong, "
        f"at most {bound(len(wrong), len(taken)):.3f} (95 %)"
    )


def report(every: list[Answer]) -> Thresholds:
    """Print what the answers are worth, by folder and at each edge; return the thresholds that are shipped."""
    for folder in sorted({a.folder for a in every}):
        print(f"{folder}: {figures([a for a in every if a.folder == folder])}")
    print(f"all: {figures(every)}")
    for edge in EDGES:
        taken = elsewhere(every, edge)
        print(f"{edge} wrong at the edge, thresholds from other sources: {covered(every, taken)}")
        for folder in sorted({a.folder for a in every}):
            own = [a for a in every if a.folder == folder]
            print(f"   {folder}: {covered(own, [a for a in taken if a.folder == folder])}")
        print("   wrong:", [(a.name, a.things, round(a.confidence, 3)) for a in taken if not a.right])
    chosen = thresholds(every)
    own = [a for a in every if not a.passed_on]
    print(f"shipped {chosen}: {covered(own, [a for a in own if chosen.takes(a)])}")
    free = [a for a in own if not a.capped]
    for level in RISKS:
        said = fixed_sequence(np.array([a.confidence for a in free]), np.array([a.right for a in free]), level)
        print(f"   Learn then Test, at most {level} wrong with probability 0.9: threshold {said:.3f}")
    return chosen

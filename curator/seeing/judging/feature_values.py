"""The values of the judge's features (`feature_table.py`): what each is measured from, and how."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from curator.clues import HandSet, NetSet, Seen
from curator.records import Halves, ThingSet
from curator.seeing import halves, set_matching
from curator.seeing.features import pixel_evidence
from curator.seeing.features.pixel_evidence import Picture
from curator.seeing.judging.levels import Nests
from curator.seeing.judging.models import Belief
from curator.seeing.judging.shared_places import Places

NOT_FOUND = NetSet(0.0, 0.0, 0.0, 0.0, 0.0)  # by the net's own finder
NO_HAND = HandSet()
NOT_SEEN = Seen()  # the trained file is missing
PARTS = 0.5  # support of what was found in each thing: with more it may be what is meant, as the pips of two dice
SOON = 4  # so many things that lie about come to good halves too often to tell anything
PARTS_EACH = 4  # fewer in each thing are rather its own parts (a shoe's opening and toe) than what is counted
MOST_WITH_PARTS = 6  # more things than that are seldom large enough to show theirs


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One candidate set of a photo, with all that its features are measured from."""

    things: ThingSet
    every: Sequence[ThingSet]  # of the photo
    split: Halves | None  # its best halves
    boxes: NDArray[np.float64]  # (n, 4) top, left, bottom, right
    areas: NDArray[np.float64]  # (n,) of the boxes
    steps: NDArray[np.float64]  # (n,) pixels from each thing to the nearest other; empty for one thing
    nests: Nests  # the sets of other levels about it
    places: Places  # what the other sets have of its things and beside them

    @classmethod
    def of(
        cls, things: ThingSet, every: Sequence[ThingSet], split: Halves | None, nests: Nests, places: Places
    ) -> Candidate:
        boxes = things.boxes
        areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
        return cls(things, every, split, boxes, areas, things.steps if len(things) > 1 else np.empty(0), nests, places)

    @property
    def n(self) -> int:
        return len(self.things)

    @property
    def others(self) -> list[ThingSet]:
        """The sets of other finders."""
        own = (self.things.found_by, "kinds")  # what is taken from another set is no witness
        return [s for s in self.every if s is not self.things and s.found_by not in own]

    @property
    def net(self) -> NetSet:
        return self.things.clues.net or NOT_FOUND

    @property
    def hand(self) -> HandSet:
        return self.things.clues.hand or NO_HAND

    @property
    def seen(self) -> Seen:
        return self.things.clues.seen or NOT_SEEN


@dataclass(frozen=True, slots=True, eq=False)
class Pictured:
    """A set in its photo."""

    picture: Picture
    things: ThingSet
    goes_on: tuple[float, float]  # `pixel_evidence.goes_on`

    @property
    def seen(self) -> Seen:
        return self.things.clues.seen or NOT_SEEN


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """A set with one pair of halves."""

    picture: Picture
    things: ThingSet
    split: Halves
    belief: Belief


def parts_found(things: ThingSet, every: Sequence[ThingSet], each: int = 2) -> float:
    """Support of the best set that lies in these things, at least `each` in each: pips on two dice. 0 where none has
    much.
    """
    enough = [s for s in every if s.support > PARTS / 2 and len(s) >= each * len(things)]
    likeliest_first = sorted(enough, key=lambda s: -s.support)
    return next((s.support for s in likeliest_first if parts_of(things, s)), 0.0)


def parts_of(wholes: ThingSet, parts: ThingSet) -> bool:
    """Whether the parts lie in the wholes, several in each."""
    n = len(wholes)
    if len(parts) < 2 * n or not any(t.box.holds(parts.things[0].center) for t in wholes.things):
        return False
    return set_matching.holding(wholes, parts) == (1.0, n)


def parts(c: Candidate) -> float:
    return parts_found(c.things, c.every) if 2 <= c.n <= MOST_WITH_PARTS else 0.0


def parts_many(c: Candidate) -> float:
    return parts_found(c.things, c.every, PARTS_EACH) if 2 <= c.n <= MOST_WITH_PARTS else 0.0


def covered(c: Candidate) -> float:
    return min(1.0, float(c.areas.sum()) / (c.things.size[0] * c.things.size[1]))


def reach(c: Candidate) -> float:
    return float(((c.boxes[:, 2:].max(axis=0) - c.boxes[:, :2].min(axis=0)) / np.array(c.things.size)).max())


def even(c: Candidate) -> float:
    return _evenly(np.sqrt(c.areas).tolist())


def _evenly(values: list[float]) -> float:
    """1 where all are alike; less the larger their deviation over their mean."""
    mean = sum(values) / len(values)
    deviation = math.sqrt(sum((value - mean) ** 2 for value in values) / len(values))
    return math.exp(-2 * deviation / max(1e-6, mean))


def size(c: Candidate) -> float:
    return math.log(max(1.0, median(np.sqrt(c.areas).tolist()) / (0.02 * max(c.things.size)))) / 3


def step_wide(c: Candidate) -> float:
    """Logarithmic: .73 where the nearest things lie two widths apart, middle to middle."""
    if c.n < 2:
        return 0.0
    return min(1.5, math.log1p(median(c.steps.tolist()) / median(c.things.widths.tolist())) / 1.5)


def step_least(c: Candidate) -> float:
    return float(c.steps.min() / max(1e-6, median(c.steps.tolist()))) if c.n > 2 else 0.0


def step_most(c: Candidate) -> float:
    return float(median(c.steps.tolist()) / max(1e-6, c.steps.max())) if c.n > 2 else 0.0


def step_even(c: Candidate) -> float:
    return _evenly(c.steps.tolist()) if c.n > 2 else 0.0


def step_even_many(c: Candidate) -> float:
    return step_even(c) * math.log(c.n) / 3


def lead(c: Candidate) -> float:
    return c.things.support - max((s.support for s in c.every if len(s) != c.n), default=0.0)


def witness(c: Candidate) -> float:
    return float(any(set_matching.mostly_same(c.things, s, 0.85) for s in c.others))


def agree(c: Candidate) -> float:
    return float(any(len(s) == c.n for s in c.others))


def held_up(c: Candidate) -> float:
    hands = (s.clues.hand or NO_HAND for s in c.every if len(s) == c.n)
    return max((hand.raised * hand.clear for hand in hands), default=0.0)


def edge(c: Candidate) -> float:
    return set_matching.cut_by_edge(c.things) / c.n


def number_log(c: Candidate) -> float:
    return math.log(c.seen.number + 1e-3) / 7 + 1 if c.things.clues.seen else 0.0


def pairs(c: Candidate) -> float:
    return 0.0 if c.split is None else 1 - c.split.chance


def by_chance(split: Halves) -> float:
    """How often halves as good come about by chance, each time that the gap between them is as wide as the steps within
    counting as a tenth.
    """
    return float(split.chance * 10**-split.apart)


def shown(c: Candidate) -> float:
    """Logarithmic: 1 where halves of more than SOON things come about so once in a million times."""
    if c.split is None or c.n <= SOON:
        return 0.0
    return min(1.0, max(0.0, -math.log10(max(by_chance(c.split), 1e-6)) / 6))


def loose(c: Candidate) -> float:
    return 0.0 if c.split is None else min(1.0, c.split.gap)


def row(c: Candidate) -> float:
    return float(halves.plain_row(c.things.centers))


def oddest(p: Pictured) -> float:
    return min(1.0, pixel_evidence.oddest(p.picture, p.things) / 4)


def partners(s: Shown) -> float:
    return pixel_evidence.partners_alike(s.picture, s.things, s.split)


def mirror(s: Shown) -> float:
    return pixel_evidence.mirror_on_pixels(s.picture, s.split, s.things)


def chance(s: Shown) -> float:
    return -math.log10(max(s.split.chance, 1e-6)) / 6


def clears(s: Shown) -> float:
    return pixel_evidence.line_clears(s.things, s.split)

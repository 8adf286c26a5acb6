"""Doubles facts from 1+1 to 12+12: families, near doubles, odd and even, and the standard codes each may claim.

The codes and their limits are paraphrased from the Common Core State Standards for Mathematics (© Copyright 2010.
National Governors Association Center for Best Practices and Council of Chief State School Officers. All rights
reserved.) and, for addends up to 12, from Florida's grade 2 benchmark MA.2.AR.3.1.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from curator.records import LARGEST_HALF, PROMPT_KINDS, Fact, PromptKind, expect

Arrangement = Literal["rows", "line", "circle", "scattered"]
ARRANGEMENTS: tuple[Arrangement, ...] = get_args(Arrangement)
CCSSM = "CCSSM, NGA/CCSSO 2010"
FLORIDA = "Florida B.E.S.T. Standards for Mathematics"
KIND_WORDS: dict[PromptKind, str] = {
    "flip": "flip: mirrored over a line",
    "slide": "slide: moved along",
    "turn": "turn: turned half round",
    "split": "split: two groups apart",
    "none": "no double",
}
FACTS: tuple[Fact, ...] = tuple(Fact(n) for n in range(1, LARGEST_HALF + 1))


@dataclass(frozen=True, slots=True)
class Standard:
    """A code that a picture may claim, what it asks in our own words, and the document it stands in."""

    code: str
    asks: str
    source: str


def is_even(n: int) -> bool:
    """Whether n things pair up with none left over."""
    return n % 2 == 0


def family(fact: Fact) -> tuple[str, ...]:
    """The ways to say the fact: ("7+7=14", "14-7=7", "half of 14 is 7")."""
    return (str(fact), f"{fact.total}-{fact.half}={fact.half}", f"half of {fact.total} is {fact.half}")


def near(fact: Fact) -> tuple[str, ...]:
    """The near doubles one step away, smaller first: ("6+7=13", "7+8=15"). 1+1 has only 1+2=3."""
    n = fact.half
    below = (f"{n - 1}+{n}={2 * n - 1}",) if n > 1 else ()
    return (*below, f"{n}+{n + 1}={2 * n + 1}")


@dataclass(frozen=True, slots=True)
class _Rule:
    standard: Standard
    least: int
    most: int
    arrangements: tuple[Arrangement, ...] = ARRANGEMENTS


def _rule(code: str, asks: str, least: int, most: int, *only: Arrangement, source: str = CCSSM) -> _Rule:
    return _Rule(Standard(code, asks, source), least, most, only or ARRANGEMENTS)


# The least and most half that each code's own limit allows.
_RULES: tuple[_Rule, ...] = (
    _rule("K.CC.B.5", "say how many: up to 20 things in a line, an array or a circle", 1, 10, "rows", "line", "circle"),
    _rule("K.CC.B.5", "say how many: up to 10 scattered things", 1, 5, "scattered"),
    _rule("K.CC.C.6", "compare two groups of up to 10 by matching or counting", 1, 10),
    _rule("K.OA.A.2", "add and subtract within 10 with pictures of things", 1, 5),
    _rule("K.OA.A.3", "split a total up to 10 into two parts in more than one way", 1, 5),
    _rule("K.OA.A.4", "find the partner that makes 10", 5, 5),
    _rule("K.OA.A.5", "add and subtract fluently within 5", 1, 2),
    _rule("1.OA.A.1", "solve a story within 20, whichever number is missing", 1, 10),
    _rule("1.OA.B.4", "see a subtraction as a missing addend", 1, 10),
    _rule("1.OA.C.6", "add and subtract within 20 by strategies, with sums already known", 1, 10),
    _rule("2.OA.B.2", "know sums of two one-digit numbers by heart", 1, 9),
    _rule("2.OA.C.3", "tell odd from even up to 20 things; an even number as two equal addends", 1, 10),
    _rule("2.OA.C.4", "total an array of up to 5 rows and 5 columns as equal addends", 1, 5, "rows"),
    _rule("2.OA.A.1", "solve a story within 100", 11, LARGEST_HALF),
    _rule("2.NBT.B.5", "add and subtract fluently within 100", 11, LARGEST_HALF),
    _rule("MA.2.AR.3.1", "show an even number as two equal groups, addends up to 12", 1, LARGEST_HALF, source=FLORIDA),
)


def standards(half: int, kind: PromptKind = "split", arrangement: Arrangement | None = None) -> tuple[Standard, ...]:
    """The codes that a picture of half + half may claim, kindergarten first; none for a picture without a double.

    Where the arrangement is not said, the one that claims least for the kind is meant: scattered. Two rows (an array of
    two rows of `half`) have to be said, for "slide" also covers two loose groups.
    """
    expect(1 <= half <= LARGEST_HALF, "half", f"a whole number from 1 to {LARGEST_HALF}", half)
    expect(kind in PROMPT_KINDS, "kind", " or ".join(PROMPT_KINDS), repr(kind))
    said = arrangement is None or arrangement in ARRANGEMENTS
    expect(said, "arrangement", " or ".join(ARRANGEMENTS), repr(arrangement))
    if kind == "none":
        return ()
    return tuple(_allowed(half, arrangement or "scattered"))


def _allowed(half: int, arrangement: Arrangement) -> Iterator[Standard]:
    for rule in _RULES:
        if rule.least <= half <= rule.most and arrangement in rule.arrangements:
            yield rule.standard


def wrong_claims(codes: tuple[str, ...], half: int, kind: PromptKind, arrangement: Arrangement) -> tuple[str, ...]:
    """Of the codes that somebody put on a picture, those whose limits it does not keep. Codes not listed here pass."""
    known = {rule.standard.code for rule in _RULES}
    fit = {standard.code for standard in standards(half, kind, arrangement)}
    return tuple(code for code in codes if code in known and code not in fit)

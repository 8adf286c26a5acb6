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
    """A code that a picture may claim and the document it stands in; the wordings' "standards" say what it asks."""

    code: str
    source: str
    lying: str = ""  # where the code says one thing of scattered things and another of others

    @property
    def key(self) -> str:
        """Its key in the wordings."""
        return f"{self.code} {self.lying}".strip()


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


def _rule(code: str, least: int, most: int, *only: Arrangement, source: str = CCSSM, lying: str = "") -> _Rule:
    return _Rule(Standard(code, source, lying), least, most, only or ARRANGEMENTS)


# The least and most half that each code's own limit allows.
_RULES: tuple[_Rule, ...] = (
    _rule("K.CC.B.5", 1, 10, "rows", "line", "circle"),
    _rule("K.CC.B.5", 1, 5, "scattered", lying="scattered"),
    _rule("K.CC.C.6", 1, 10),
    _rule("K.OA.A.2", 1, 5),
    _rule("K.OA.A.3", 1, 5),
    _rule("K.OA.A.4", 5, 5),
    _rule("K.OA.A.5", 1, 2),
    _rule("1.OA.A.1", 1, 10),
    _rule("1.OA.B.4", 1, 10),
    _rule("1.OA.C.6", 1, 10),
    _rule("2.OA.B.2", 1, 9),
    _rule("2.OA.C.3", 1, 10),
    _rule("2.OA.C.4", 1, 5, "rows"),
    _rule("2.OA.A.1", 11, LARGEST_HALF),
    _rule("2.NBT.B.5", 11, LARGEST_HALF),
    _rule("MA.2.AR.3.1", 1, LARGEST_HALF, source=FLORIDA),
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

"""Every record that flows, with its checks; no work.

(row, col) order, rows down from the top left; boxes half-open; lengths in working pixels. Prompts alone use fractions
of the picture's width (x) and height (y). Likeness and confidence run 0 to 1.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from curator.arrays import Arrays
from curator.clues import Clues

if TYPE_CHECKING:  # help on the command line must not wait for numpy
    import numpy as np
    from numpy.typing import NDArray

Kind = Literal["flip", "slide", "turn", "split"]
PromptKind = Literal["flip", "slide", "turn", "split", "none"]
Grade = Literal["sure", "check", "no"]
People = Literal["none", "consented", "unknown"]
KINDS: tuple[Kind, ...] = get_args(Kind)
PROMPT_KINDS: tuple[PromptKind, ...] = get_args(PromptKind)
GRADES: tuple[Grade, ...] = get_args(Grade)
PEOPLE: tuple[People, ...] = get_args(People)
LARGEST_HALF = 12
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_SHA256 = re.compile(r"[0-9a-f]{64}")
_FILE_NAME = re.compile(r"[^/\\\x00]{1,120}")


def expect(ok: bool, what: str, wanted: str, got: object) -> None:
    """Raise ValueError "what: expected wanted, got got" unless ok."""
    if not ok:
        raise ValueError(f"{what}: expected {wanted}, got {got}")


class Box(NamedTuple):
    """Half-open pixel box: rows top..bottom-1, columns left..right-1."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def height(self) -> int:
        return self.bottom - self.top

    @property
    def width(self) -> int:
        return self.right - self.left

    @property
    def center(self) -> tuple[float, float]:
        return ((self.top + self.bottom) / 2, (self.left + self.right) / 2)

    def holds(self, place: tuple[float, float]) -> bool:
        """Whether a place (row, col) lies in it."""
        return self.top <= place[0] < self.bottom and self.left <= place[1] < self.right


class Area(NamedTuple):
    """Fractions of width and height: only what lies inside is looked at."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """One picture file from a teacher, upright, before anything is known about it."""

    path: Path
    sha256: str  # of the teacher's file, 64 hex digits
    pixels: NDArray[np.uint8]  # (H, W, 3) sRGB, longer side <= 1600
    scale: float  # working pixels per pixel of the upright file, <= 1

    def __post_init__(self) -> None:
        p = self.pixels
        expect(
            p.ndim == 3 and p.shape[2] == 3 and p.dtype == "uint8", "pixels", "uint8 (H, W, 3)", f"{p.dtype} {p.shape}"
        )
        expect(bool(_SHA256.fullmatch(self.sha256)), "sha256", "64 hex digits", repr(self.sha256))
        expect(0 < self.scale <= 1, "scale", "a number in (0, 1]", self.scale)
        p.setflags(write=False)

    @property
    def size(self) -> tuple[int, int]:
        """Height and width in working pixels."""
        return int(self.pixels.shape[0]), int(self.pixels.shape[1])


@dataclass(frozen=True, slots=True, eq=False)
class Thing:
    """One of the repeated objects."""

    box: Box
    center: tuple[float, float]  # row, col in pixels
    likeness: float = 1.0  # to the others of its set

    def __post_init__(self) -> None:
        expect(self.box.height > 0 and self.box.width > 0, "box", "top < bottom and left < right", tuple(self.box))
        expect(0 <= self.likeness <= 1, "likeness", "a number from 0 to 1", self.likeness)


_NO_ARRAYS = Arrays(())


@dataclass(frozen=True, slots=True, eq=False)
class ThingSet:
    """Things that are alike: one candidate answer to "what can be counted here?"."""

    things: tuple[Thing, ...]
    size: tuple[int, int]  # height, width of the photo they lie in
    found_by: str  # the finder's name, or "person"
    alike: float = 1.0  # how alike they are to each other
    aside: tuple[Thing, ...] = ()  # look-alikes left out on purpose (feelers, tails)
    axis: NDArray[np.float64] | None = None  # the body's own axis, (2, 2) row, col ends, where a finder knows one
    support: float = 0.5  # the finder's own belief that these are all and only the things, 0 to 1
    clues: Clues = field(default_factory=Clues)  # what was measured of them, for the judge
    arrays: Arrays = field(default=_NO_ARRAYS, repr=False)  # a copy with other clues keeps them

    def __post_init__(self) -> None:
        if self.arrays.things is not self.things:
            object.__setattr__(self, "arrays", Arrays(self.things))
        expect(0 <= self.alike <= 1, "alike", "a number from 0 to 1", self.alike)
        expect(0 <= self.support <= 1, "support", "a number from 0 to 1", self.support)
        if self.axis is not None:
            expect(self.axis.shape == (2, 2), "axis", "shape (2, 2)", self.axis.shape)

    def __len__(self) -> int:
        return len(self.things)

    @property
    def centers(self) -> NDArray[np.float64]:
        """(n, 2) row, col."""
        return self.arrays.centers

    @property
    def widths(self) -> NDArray[np.float64]:
        """(n,) mean of height and width of each thing's box, in pixels."""
        return self.arrays.widths

    @property
    def boxes(self) -> NDArray[np.float64]:
        """(n, 4) top, left, bottom, right."""
        return self.arrays.boxes

    @property
    def steps(self) -> NDArray[np.float64]:
        """(n,) pixels from each thing to the nearest other; infinite for one thing."""
        return self.arrays.steps


@dataclass(frozen=True, slots=True, eq=False)
class Halves:
    """A fair split of the things: one[i] and other[i] are partners (indices into the things)."""

    kind: Kind
    one: tuple[int, ...]
    other: tuple[int, ...]
    line: NDArray[np.float64]  # (2, 2): two ends, row, col, of the dividing line
    gap: float  # root mean square misfit of the partners, in thing widths
    chance: float = 1.0  # expected number of fits as good among as many random dots (false alarms); small is good
    apart: float = 0.0  # split: gap between the groups over the largest gap within one

    def __post_init__(self) -> None:
        expect(self.kind in KINDS, "kind", " or ".join(KINDS), self.kind)
        expect(
            len(self.one) == len(self.other),
            "halves",
            "as many on one side as on the other",
            (len(self.one), len(self.other)),
        )
        every = self.one + self.other
        expect(len(set(every)) == len(every), "halves", "each thing once", every)
        expect(self.line.shape == (2, 2), "line", "shape (2, 2)", self.line.shape)


@dataclass(frozen=True, slots=True, order=True)
class Fact:
    """A doubles fact; `str(Fact(7))` is "7+7=14"."""

    half: int

    def __post_init__(self) -> None:
        ok = isinstance(self.half, int) and not isinstance(self.half, bool) and 1 <= self.half <= LARGEST_HALF
        if not ok:
            expect(ok, "half", f"a whole number from 1 to {LARGEST_HALF}", repr(self.half))

    def __str__(self) -> str:
        return f"{self.half}+{self.half}={2 * self.half}"

    @property
    def total(self) -> int:
        return 2 * self.half

    @classmethod
    def parse(cls, text: str) -> Fact:
        """The inverse of str(); blanks are allowed. ValueError for anything else."""
        match = re.fullmatch(r"\s*(\d{1,2})\s*\+\s*(\d{1,2})\s*=\s*(\d{1,2})\s*", text)
        ok = match is not None and match[1] == match[2] and 2 * int(match[1]) == int(match[3])
        expect(ok, "fact", 'a doubles fact like "7+7=14"', repr(text))
        assert match is not None
        return cls(int(match[1]))


@dataclass(frozen=True, slots=True)
class Reason:
    """Something that speaks against a reading, in a teacher's words."""

    name: str
    caps: bool  # forbids tagging without asking, however high the confidence
    note: str


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One honest way to see the photo."""

    things: ThingSet
    halves: Halves | None
    fact: Fact | None
    grade: Grade
    confidence: float
    reasons: tuple[Reason, ...] = ()  # gravest first

    def __post_init__(self) -> None:
        expect(self.grade in GRADES, "grade", " or ".join(GRADES), self.grade)
        expect(0 <= self.confidence <= 1, "confidence", "a number from 0 to 1", self.confidence)
        expect(
            (self.fact is None) == (self.grade == "no"),
            "fact",
            "a fact unless the grade is no",
            (self.fact, self.grade),
        )
        expect(self.fact is not None or self.halves is None, "halves", "none without a fact", self.halves)
        if self.fact is not None:
            whole = self.halves is not None and len(self.halves.one) == self.fact.half
            expect(
                whole and len(self.things) == self.fact.total,
                "fact",
                "halves of that number, none left over",
                str(self.fact),
            )

    @property
    def total(self) -> int | None:
        """How many things were counted; None where nothing repeats."""
        return len(self.things) if len(self.things) >= 1 else None

    @property
    def sides(self) -> tuple[int, ...]:
        """1 or 2 for each thing, 0 for a thing in neither half."""
        side = [0] * len(self.things)
        if self.halves is not None:
            for number, members in ((1, self.halves.one), (2, self.halves.other)):
                for i in members:
                    side[i] = number
        return tuple(side)


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """All that one look at a photo says; the first reading is the chosen one."""

    photo: Photo
    readings: tuple[Reading, ...]  # best first, at least one; the first may say that nothing repeats
    area: Area | None = None
    ms: int = 0

    def __post_init__(self) -> None:
        expect(len(self.readings) > 0, "readings", "at least one", "none")

    @property
    def best(self) -> Reading:
        return self.readings[0]

    @property
    def counted(self) -> tuple[Reading, ...]:
        """What a person may choose among, by number: the readings in which something is counted, best first."""
        return tuple(reading for reading in self.readings if reading.total)


class Dot(NamedTuple):
    """One counted thing of a prompt, in fractions of the picture. side 1 or 2; 0 is left over or left out."""

    x: float
    y: float
    side: int
    w: float = 0.0  # the thing's width and height, 0 where unknown
    h: float = 0.0


@dataclass(frozen=True, slots=True)
class FacesSeen:
    """What the search for faces found in a prompt's picture, and in which one it searched."""

    boxes: tuple[Area, ...]  # likeliest first
    day: str  # YYYY-MM-DD
    detector: str
    picture: str  # first 16 hex digits of the SHA-256 of the picture's file


@dataclass(frozen=True, slots=True)
class Prompt:
    """A tagged picture, ready for a class: one YAML file and one picture.

    A double: as many dots on side 1 as on side 2 as the fact's half (dots on side 0 are left out on purpose).
    No double (fact None, kind "none"): kept to ask "is it a double?"; its sides differ, or something is left over.
    """

    slug: str
    title: str
    fact: Fact | None
    kind: PromptKind
    picture: str  # file name beside the YAML
    dots: tuple[Dot, ...]
    line: tuple[tuple[float, float], tuple[float, float]] | None = None  # x, y ends
    tags: tuple[str, ...] = ()
    thing: str = ""  # singular, the teacher's word
    things: str = ""  # plural
    place: str = ""
    grade: Grade = "check"
    confidence: float = 0.0
    checked_by: str = ""
    touched: int = 0  # dots a person had to add, move or take off
    credit: str = ""
    license: str = ""
    people: People = "unknown"
    faces: str = ""  # what a person did about faces that were pointed out: "", "blurred", "consented", "none" (no face)
    seen: FacesSeen | None = None  # written on the same line as `faces`, which older versions take for words
    alt_before: str = ""  # gives no number away
    alt_after: str = ""
    area: Area | None = None  # the part of the teacher's photo that was looked at
    source_sha256: str = ""
    phash: str = ""  # 16 hex digits, perceptual hash of the picture
    added: str = ""  # date, YYYY-MM-DD
    notes: str = ""

    def __post_init__(self) -> None:
        expect(
            len(self.slug) <= 80 and bool(_SLUG.fullmatch(self.slug)),
            "slug",
            "words-with-dashes",
            repr(self.slug),
        )
        expect(self.kind in PROMPT_KINDS, "kind", " or ".join(PROMPT_KINDS), repr(self.kind))
        expect(self.grade in GRADES, "grade", " or ".join(GRADES), repr(self.grade))
        expect(self.people in PEOPLE, "people", " or ".join(PEOPLE), repr(self.people))
        expect(0 <= self.confidence <= 1, "confidence", "a number from 0 to 1", self.confidence)
        expect(
            self.source_sha256 == "" or bool(_SHA256.fullmatch(self.source_sha256)),
            "source_sha256",
            "64 hex digits",
            repr(self.source_sha256),
        )
        expect(
            bool(_FILE_NAME.fullmatch(self.picture)) and not self.picture.startswith("."),
            "picture",
            "a plain file name",
            repr(self.picture),
        )
        for x, y, side, _, _ in self.dots:  # tens of thousands are read from an index: what is right costs no words
            if not (side in (0, 1, 2) and 0 <= x <= 1 and 0 <= y <= 1):
                expect(side in (0, 1, 2), "side", "0, 1 or 2", side)
                expect(False, "dots", "x and y from 0 to 1", (x, y))
        sides = [dot.side for dot in self.dots]
        one, other = sides.count(1), sides.count(2)
        if self.fact is None:
            expect(self.kind == "none", "kind", "none where there is no fact", self.kind)
            unequal = one != other or one + other < len(sides) or not sides
            expect(unequal, "dots", "unequal sides where there is no fact", (one, other))
        else:
            expect(self.kind != "none", "kind", "a kind of halves where there is a fact", self.kind)
            if not one == other == self.fact.half:
                expect(False, "dots", f"{self.fact.half} on each side for {self.fact}", (one, other))

    def count(self, side: int) -> int:
        """How many dots lie on that side."""
        return sum(dot.side == side for dot in self.dots)

    @property
    def total(self) -> int:
        """How many things a class counts in the picture."""
        return self.fact.total if self.fact else len(self.dots)

"""What was typed -> what is asked: numbers, kinds, and words. Nothing typed can fail."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from curator.numbers_in_text import typed_numbers
from curator.records import LARGEST_HALF, PROMPT_KINDS, Prompt, PromptKind

_NUMBER = typed_numbers()
_N = r"(\d{1,4}|" + "|".join(sorted(_NUMBER, key=len, reverse=True)) + r")(?![\d\w])"
_START = r"(?<![\d\w])"
_EQUALS = rf"(?:\s*=\s*{_N})?"
_PATTERNS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(_START + pattern, re.I))
    for name, pattern in (
        ("sum", rf"{_N}\s*(?:\+|plus\b|and\b)\s*{_N}{_EQUALS}"),
        ("difference", rf"{_N}\s*(?:[-−–]|minus\b|take away\b)\s*{_N}{_EQUALS}"),
        ("half of", rf"half of\s+{_N}(?:\s*(?:=|is\b)\s*{_N})?"),
        ("up to", rf"doubles?\s+(?:up\s+)?(?:to|within)\s+{_N}"),
        ("double", rf"doubles?\s+{_N}{_EQUALS}"),
        ("number", r"(\d{1,4})(?![\d\w])"),
    )
)
_NO_DOUBLE = re.compile(r"\b(?:no|not a|without)\s+doubles?\b", re.I)
_DOUBLES = re.compile(r"\bdoubles?\b(?!\s*-)", re.I)
_DOUBLE_KINDS: tuple[PromptKind, ...] = ("flip", "slide", "turn", "split")
_MOST_WORDS = 32
_SMALL_WORDS = frozenset(
    {
        "a",
        "an",
        "the",
        "of",
        "with",
        "and",
        "or",
        "for",
        "in",
        "on",
        "at",
        "to",
        "is",
        "as",
        "half",
        "halves",
        "picture",
        "pictures",
        "photo",
        "photos",
        "show",
        "shows",
        "showing",
    }
)


@dataclass(frozen=True, slots=True)
class Numbers:
    """One thing asked of the numbers; None leaves it open. A prompt passes when all that is said holds."""

    half: int | None = None
    total: int | None = None
    either: int | None = None  # the half or the total
    most: int | None = None  # the largest total of a double
    double: bool | None = None

    def passes(self, half: int, total: int) -> bool:
        """half is 0 where the picture shows no double."""
        return (
            (self.half is None or half == self.half)
            and (self.total is None or total == self.total)
            and (self.either is None or self.either in (half or -1, total))
            and (self.most is None or (half > 0 and total <= self.most))
            and (self.double is None or (half > 0) == self.double)
        )


@dataclass(frozen=True, slots=True)
class Asked:
    """Any of the numbers, any of the kinds, and all of the words (each the beginning of a word in the prompt)."""

    numbers: tuple[Numbers, ...] = ()
    kinds: tuple[PromptKind, ...] = ()
    words: tuple[str, ...] = ()

    def passes(self, prompt: Prompt) -> bool:
        """The plain filter that the index has to equal."""
        half = prompt.fact.half if prompt.fact else 0
        if self.numbers and not any(n.passes(half, prompt.total) for n in self.numbers):
            return False
        if self.kinds and prompt.kind not in self.kinds:
            return False
        there = words_of(prompt) if self.words else []
        return all(any(word.startswith(typed) for word in there) for typed in self.words)


def tokens(text: str) -> list[str]:
    """Words without case and accents, split at everything that is no letter or digit."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = unicodedata.normalize("NFKD", plain.casefold())
    kept = "".join(c if c.isalnum() else "" if unicodedata.combining(c) else " " for c in plain)
    return kept.split()


def words_of(prompt: Prompt) -> list[str]:
    """The words that a prompt is found by."""
    p = prompt
    return tokens(" ".join((p.title, p.thing, p.things, p.place, *p.tags, p.kind, p.notes, p.credit, p.slug)))


def parse(typed: str) -> Asked:
    """What a person asks by these words. Any text gives an answer."""
    rest = typed[:1000]
    numbers: list[Numbers] = []
    for name, pattern in _PATTERNS:
        while match := pattern.search(rest):
            numbers.append(_numbers(name, [_value(group) for group in match.groups()]))
            rest = f"{rest[: match.start()]} \x00 {rest[match.end() :]}"
    rest = _NO_DOUBLE.sub(" none ", rest)
    rest, doubles = _DOUBLES.subn(" ", rest)
    words = tokens(rest)
    kinds = tuple(kind for kind in PROMPT_KINDS if kind in words) or (_DOUBLE_KINDS if doubles else ())
    left = dict.fromkeys(word for word in words if word not in PROMPT_KINDS and word not in _SMALL_WORDS)
    return Asked(tuple(dict.fromkeys(numbers))[:_MOST_WORDS], kinds, tuple(left)[:_MOST_WORDS])


def _value(text: str | None) -> int | None:
    if text is None:
        return None
    named = _NUMBER.get(text.lower())
    return int(text) if named is None else named


def _numbers(name: str, n: list[int | None]) -> Numbers:
    first = n[0]
    assert first is not None
    if name == "up to":
        return Numbers(most=first)
    if name == "half of":
        return Numbers(half=n[1] if n[1] is not None else None, total=first, double=True)
    if name == "double":
        return Numbers(half=first, total=n[1])
    if name == "number":
        return Numbers(either=first)
    return _sum(first, n) if name == "sum" else _difference(first, n)


def _sum(first: int, n: list[int | None]) -> Numbers:
    second, total = n[1], n[2]
    assert second is not None
    if first == second:
        return Numbers(half=first, total=total)
    return Numbers(total=first + second) if total in (None, first + second) else _NOTHING


def _difference(first: int, n: list[int | None]) -> Numbers:
    second, left = n[1], n[2]
    assert second is not None
    if left not in (None, first - second):
        return _NOTHING
    return Numbers(half=second, total=first) if first == 2 * second else Numbers(total=first)


_NOTHING = Numbers(most=0)


def grammar() -> dict[str, object]:
    """What a script needs to read typed words as `parse` does: patterns in order, number words, kinds, small words."""
    return {
        "patterns": [(name, pattern.pattern) for name, pattern in _PATTERNS],
        "none": _NO_DOUBLE.pattern,
        "doubles": _DOUBLES.pattern,
        "numbers": _NUMBER,
        "kinds": PROMPT_KINDS,
        "small": sorted(_SMALL_WORDS),
        "most": _MOST_WORDS,
    }


def halves_asked(asked: Asked) -> tuple[int, ...]:
    """The halves from 1 to 12 that the numbers name, for telling a teacher what was understood."""
    if not asked.numbers:
        return ()
    every = range(1, LARGEST_HALF + 1)
    return tuple(n for n in every if any(number.passes(n, 2 * n) for number in asked.numbers))

"""What was typed -> what is asked: numbers, kinds, and words. Nothing typed can fail."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, replace

from curator.catalog.face_words import is_quiet
from curator.catalog.search import days
from curator.nouns import elsewhere
from curator.numbers_in_text import WORDS, typed_numbers
from curator.records import LARGEST_HALF, PROMPT_KINDS, Prompt, PromptKind

# Number words as they are typed, both languages: beside + or "half of" all of them, alone those that mean nothing else.
_NUMBER = {
    **typed_numbers(),
    **{word: n for n, word in enumerate(WORDS["es"][:25]) if n},
    **{"dieciseis": 16, "veintidos": 22, "veintitres": 23, "dozen": 12, "docena": 12, "half a dozen": 6},
    **{"media docena": 6, "zero": 0, "cero": 0},
}
_ALONE = {word for word in _NUMBER if word not in ("one", "uno", "once", "zero", "cero")}


def _either(words: Iterable[str]) -> str:
    return "|".join(sorted(words, key=lambda word: (-len(word), word)))


_N = rf"(\d{{1,4}}|{_either(_NUMBER)})(?![\d\w])"
_START = r"(?<![\d\w])"
_EQUALS = rf"(?:\s*=\s*{_N})?"
_PATTERNS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(_START + pattern, re.I))
    for name, pattern in (
        ("sum", rf"{_N}\s*(?:\+|plus\b|and\b|m[aá]s\b|y\b)\s*{_N}{_EQUALS}"),
        ("difference", rf"{_N}\s*(?:[-−–]|minus\b|take away\b|menos\b)\s*{_N}{_EQUALS}"),
        ("half of", rf"(?:half of|(?:la\s+)?mitad de)\s+{_N}(?:\s*(?:=|is\b|es\b)\s*{_N})?"),
        ("up to", rf"(?:doubles?\s+(?:up\s+)?(?:to|within)|dobles?\s+hasta)\s+{_N}"),
        ("double", rf"(?:doubles?|dobles?(?:\s+de)?|twice|(?:2|two)\s+times|dos\s+veces)\s+{_N}{_EQUALS}"),
        ("double", rf"(?:2|two)\s*[x×*·]\s*{_N}{_EQUALS}"),
        ("product", rf"(\d{{1,4}}|{_either(_NUMBER)})\s*[x×*·]\s*{_N}{_EQUALS}"),
        ("number", rf"(\d{{1,4}}|{_either(_ALONE)})(?![\d\w])"),
    )
)
_NO_DOUBLE = re.compile(r"\b(?:no|not a|without|sin)\s+dou?bles?\b", re.I)
_DOUBLES = re.compile(r"\bdou?bles?\b(?!\s*-)", re.I)
_DOUBLE_KINDS: tuple[PromptKind, ...] = ("flip", "slide", "turn", "split")
_MOST_WORDS = 32
# fmt: off
_SMALL_WORDS = frozenset({
    "a", "an", "the", "of", "with", "and", "or", "for", "in", "on", "at", "to", "is", "as", "half", "halves", "picture",
    "pictures", "photo", "photos", "show", "shows", "showing", "de", "del", "la", "el", "los", "las", "con", "en", "y",
    "o", "un", "una", "para", "por", "mitad", "mitades", "foto", "fotos",
})
# fmt: on
_FEW, _LONG = 3, 7  # letters from which one wrong is forgiven, and two


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
    """Any of the numbers, any of the kinds, and all of the words (each the beginning of a word in the prompt), kept
    within some days.
    """

    numbers: tuple[Numbers, ...] = ()
    kinds: tuple[PromptKind, ...] = ()
    words: tuple[str, ...] = ()
    nothing: bool = False  # signs alone were typed, and they ask for nothing that there is
    instead: tuple[tuple[str, str], ...] = ()  # a word that nothing has, and the one that was taken for it
    since: str = ""  # kept on this day or later, as 2025-09-01; "" leaves it open
    until: str = ""  # kept on this day or earlier
    outside: bool = False  # asked by others on the network: only what they are shown is looked in, and quiet pictures

    @property
    def kept(self) -> tuple[int, int]:
        """The first and the last day (`days.number`) that it may have been kept on."""
        return days.number(self.since), days.number(self.until) if self.until else days.LAST

    def passes(self, prompt: Prompt) -> bool:
        """The plain filter that the index has to equal."""
        if self.nothing:
            return False
        half = prompt.fact.half if prompt.fact else 0
        if self.numbers and not any(n.passes(half, prompt.total) for n in self.numbers):
            return False
        if self.kinds and prompt.kind not in self.kinds:
            return False
        if self.outside and not is_quiet(prompt):
            return False
        first, last = self.kept
        if not first <= days.number(prompt.added) <= last:
            return False
        there = (shown_words(prompt) if self.outside else words_of(prompt)) if self.words else []
        return all(any(word.startswith(typed) for word in there) for typed in self.words)


_ASCII_WORD = re.compile(r"[a-z0-9]+")


def tokens(text: str) -> list[str]:
    """Words without case and accents, split at everything that is no letter or digit."""
    if text.isascii():
        return _ASCII_WORD.findall(text.lower())
    plain = unicodedata.normalize("NFKD", text.casefold())
    plain = unicodedata.normalize("NFKD", plain.casefold())
    kept = "".join(c if c.isalnum() else "" if unicodedata.combining(c) else " " for c in plain)
    return kept.split()


def words_apart(prompt: Prompt) -> tuple[list[str], list[str], list[str]]:
    """The words of a prompt: those that anybody finds it by (title, way of halves, name), those for the school alone,
    common things in the other languages too, and those for others on the network alone (alt text, licence).
    """
    p = prompt
    ours = (p.thing, p.things, p.place, *p.tags, p.notes, p.credit, *elsewhere(p.thing, p.things))
    return tokens(f"{p.title} {p.kind} {p.slug}"), tokens(" ".join(ours)), tokens(f"{p.alt_before} {p.license}")


def words_of(prompt: Prompt) -> list[str]:
    """The words that a prompt is found by."""
    anybody, ours, _ = words_apart(prompt)
    return anybody + ours


def shown_words(prompt: Prompt) -> list[str]:
    """The words that others on the network find it by: what they are shown."""
    anybody, _, theirs = words_apart(prompt)
    return anybody + theirs


def parse(typed: str) -> Asked:
    """What a person asks by these words. Any text gives an answer."""
    rest = unicodedata.normalize("NFC", typed[:1000])
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
    asked = Asked(tuple(dict.fromkeys(numbers))[:_MOST_WORDS], kinds, tuple(left)[:_MOST_WORDS])
    return replace(asked, nothing=not (numbers or kinds or words) and bool(typed.strip()))


def mended(asked: Asked, has: Callable[[str], bool], vocabulary: Callable[[], Collection[str]]) -> Asked:
    """The same with each word that nothing begins with replaced by the nearest one that is there.

    has: whether any prompt has a word that begins so. vocabulary: all words of all prompts; asked for only when needed.
    """
    swaps = {word: near for word in asked.words if not has(word) and (near := _nearest(word, vocabulary()))}
    words = tuple(dict.fromkeys(swaps.get(word, word) for word in asked.words))
    return replace(asked, words=words, instead=tuple(swaps.items())) if swaps else asked


def _nearest(word: str, vocabulary: Collection[str]) -> str:
    """The word a slip away: one letter, or two in a long word; the same first letter goes before; "" for none."""
    is_exact = word in _NUMBER or len(word) < _FEW or any(c.isdigit() for c in word)
    allowed = 0 if is_exact else 1 if len(word) < _LONG else 2
    if not allowed:
        return ""
    near = [
        (slips, other[0] != word[0], other)
        for other in vocabulary
        if len(other) >= _FEW
        and other not in PROMPT_KINDS
        and abs(len(other) - len(word)) <= allowed
        and (slips := _slips(word, other)) <= allowed
    ]
    return min(near)[2] if near else ""


def _slips(one: str, other: str) -> int:
    """Letters left out, added, changed, or swapped with their neighbour, between two words (Damerau, restricted)."""
    rows = [list(range(len(other) + 1))]
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(other, 1):
            best = min(rows[-1][j] + 1, row[-1] + 1, rows[-1][j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                best = min(best, rows[-2][j - 2] + 1)
            row.append(best)
        rows.append(row)
    return rows[-1][-1]


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
        return _double(first, n[1])
    if name == "number":
        return Numbers(either=first)
    if name == "product":
        return _product(first, n)
    return _sum(first, n) if name == "sum" else _difference(first, n)


def _double(half: int, total: int | None) -> Numbers:
    """0+0 is asked for, and no picture is a double of nothing."""
    return Numbers(half=half, total=total, double=None if half else True)


def _sum(first: int, n: list[int | None]) -> Numbers:
    second, total = n[1], n[2]
    assert second is not None
    if first == second:
        return _double(first, total)
    return Numbers(total=first + second) if total in (None, first + second) else _NOTHING


def _product(first: int, n: list[int | None]) -> Numbers:
    second, total = n[1], n[2]
    assert second is not None
    if second == 2:
        return _double(first, total)
    return Numbers(total=first * second) if total in (None, first * second) else _NOTHING


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
        "few": _FEW,
        "long": _LONG,
        "largest": LARGEST_HALF,
        "taught": TAUGHT,
    }


def halves_asked(asked: Asked) -> tuple[int, ...]:
    """The halves from 1 to 12 that the numbers name, for telling a teacher what was understood."""
    if not asked.numbers:
        return ()
    every = range(1, LARGEST_HALF + 1)
    return tuple(n for n in every if any(number.passes(n, 2 * n) for number in asked.numbers))


def half_asked(asked: Asked) -> int:
    """The one half that the numbers name; 0 where they name several or none, or words stand beside them."""
    halves = halves_asked(asked)
    return halves[0] if len(halves) == 1 and not asked.words else 0


TAUGHT = f"Doubles from 1+1 to {LARGEST_HALF}+{LARGEST_HALF} are taught here."


def is_beyond(asked: Asked) -> bool:
    """Whether a number is asked for that no double taught here has."""

    def beyond(n: int | None, most: int) -> bool:
        return n is not None and not 1 <= n <= most

    largest = 2 * LARGEST_HALF
    return any(
        beyond(n.half, LARGEST_HALF) or beyond(n.total, largest) or beyond(n.either, largest) for n in asked.numbers
    )

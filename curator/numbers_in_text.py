"""Number words, English and Spanish: a number as a word, and whether a text gives a number away. The one list there is.

A language of the wording files has its number words here. "once" is a number in Spanish and none in English; it counts
where the language is known to be Spanish.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator

# fmt: off
WORDS: dict[str, tuple[str, ...]] = {  # by the number itself, from 0
    "en": (
        "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
        "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen", "twenty", "twenty-one",
        "twenty-two", "twenty-three", "twenty-four", "twenty-five", "twenty-six", "twenty-seven", "twenty-eight",
        "twenty-nine", "thirty",
    ),
    "es": (
        "cero", "uno", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez", "once", "doce",
        "trece", "catorce", "quince", "dieciséis", "diecisiete", "dieciocho", "diecinueve", "veinte", "veintiuno",
        "veintidós", "veintitrés", "veinticuatro", "veinticinco", "veintiséis", "veintisiete", "veintiocho",
        "veintinueve", "treinta",
    ),
}
ALSO: dict[str, dict[int, tuple[str, ...]]] = {  # other words that say a number
    "en": {2: ("pair", "pairs", "couple", "both", "twin", "twins"), 6: ("half-dozen",), 12: ("dozen", "dozens")},
    "es": {2: ("par", "pares", "pareja", "parejas", "ambos", "ambas"), 6: ("media docena",), 12: ("docena", "docenas")},
}
DOUBLING = {
    "en": ("double", "doubles", "half", "halves", "twice"),
    "es": ("doble", "dobles", "mitad", "mitades", "medio", "media"),
}
# fmt: on
_MARKED = {"en": "", "es": "once"}  # words that are a number in this language and something else in another


def _bare(text: str) -> str:
    """Small letters without accents."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in plain if not unicodedata.combining(c))


def says(n: int, language: str | None = None) -> Iterator[str]:
    """Every word that says n, in small letters: in one language, or in all."""
    for code in (language,) if language in WORDS else WORDS:
        names = WORDS[code]
        if n < len(names):
            yield names[n]
            if code == "en":
                yield from _english_plurals(names[n])
        yield from ALSO.get(code, {}).get(n, ())


def _english_plurals(word: str) -> Iterator[str]:
    """ "threes", "sixes", "twenties": how titles name pips and dominoes."""
    yield word + ("es" if word.endswith("x") else "s")
    if word.endswith("y"):
        yield word[:-1] + "ies"


def tells(words: str, *given: int, language: str | None = None) -> bool:
    """True where a text names one of these numbers. Articles ("un", "una") do not count as the number one."""
    low = words.casefold()
    for n in (n for n in given if n > 0):
        if re.search(rf"(?<!\d){n}(?!\d)", low):
            return True
        for word in says(n, language):
            if re.search(rf"(?<!\w)(?<!twenty-){re.escape(word)}(?!\w|-(?:one|two|three|four|five|six)\b)", low):
                return True
    return False


def _any_number() -> re.Pattern[str]:
    """Digits, and any word of either list, without accents."""
    every = {
        _bare(word)
        for code in WORDS
        for n in range(1, len(WORDS[code]))
        for word in says(n, code)
        if word != _MARKED[code]
    }
    longest_first = sorted(every, key=len, reverse=True)
    return re.compile(r"\d+|(?<!\w)(?:" + "|".join(map(re.escape, longest_first)) + r")(?!\w)")


_ANY = _any_number()
_DOUBLING = re.compile(r"(?<!\w)(?:" + "|".join(w for words in DOUBLING.values() for w in words) + r")(?!\w)")


def names_number(text: str, *, doubling: bool = False) -> bool:
    """True where a text says any number, in digits or words of any language; doubling: also "double", "half"."""
    bare = _bare(text)
    return bool(_ANY.search(bare) or (doubling and _DOUBLING.search(bare)))


def without_numbers(text: str) -> str:
    """The text with a blank in place of every number, "double" and "half"."""
    kept = list(unicodedata.normalize("NFC", text))
    bare = "".join(_bare(c)[:1] or " " for c in kept)  # one sign for one sign
    for pattern in (_ANY, _DOUBLING):
        for match in pattern.finditer(bare):
            kept[match.start() : match.end()] = " " * (match.end() - match.start())
    return "".join(kept)


def typed_numbers(most: int = 24) -> dict[str, int]:
    """English number words as they are typed to search: "seven", "twenty two", "twenty-two"."""
    found = {word: n for n, word in enumerate(WORDS["en"][: most + 1]) if n}
    return found | {word.replace("-", " "): n for word, n in found.items() if "-" in word}

"""Nouns, numbers and sentence patterns: one YAML file a language, filled so that everything agrees.

A pattern holds {half} (a number as a word), {Half} (with a capital), {total things} (counted), {things}, {a thing},
{the things}, {hidden:was|were} (by number), {~o|a} (by the noun's gender)
and {#total} (the number itself, which agrees with nothing).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

from curator.errors import LessonError
from curator.numbers_in_text import WORDS

FOLDER = Path(__file__).parent / "wording"
ARTICLES = {
    "en": {"a": "", "an": "", "the": "", "one": ""},
    "es": {"el": "m", "los": "m", "un": "m", "unos": "m", "la": "f", "las": "f", "una": "f", "unas": "f"},
}
# fmt: off
IRREGULAR = {
    "foot": "feet", "tooth": "teeth", "mouse": "mice", "goose": "geese", "child": "children", "die": "dice",
    "person": "people", "man": "men", "woman": "women", "leaf": "leaves", "shelf": "shelves", "loaf": "loaves",
    "knife": "knives", "calf": "calves", "wolf": "wolves", "scarf": "scarves", "half": "halves", "ox": "oxen",
    "sheep": "sheep", "fish": "fish", "deer": "deer", "scissors": "scissors", "potato": "potatoes",
    "tomato": "tomatoes", "echo": "echoes",
}
FEMININE = frozenset((
    "mano", "foto", "moto", "radio", "llave", "nube", "calle", "noche", "leche", "torre", "carne", "clase", "fuente",
    "gente", "nieve", "parte", "tarde", "suerte", "flor", "sal", "piel", "red", "pared", "imagen", "nariz", "luz",
    "cruz", "raíz", "nuez", "vez", "voz", "col", "miel", "labor",
))
MASCULINE = frozenset((
    "día", "mapa", "sofá", "planeta", "problema", "tema", "clima", "programa", "idioma", "sistema", "poema", "panda",
    "pijama", "papá", "pez", "lápiz", "arroz", "maíz", "buzón", "corazón",
))
STRESSED_A = frozenset((  # feminine, yet "el ala" and "un ala"
    "ala", "agua", "águila", "hacha", "arma", "ancla", "alma", "aula", "hada", "arpa", "área", "asa", "haba",
))
# Words that name two ordinary things in one of the languages; a translation picks one of them, and the teacher is told.
TWO_MEANINGS = frozenset((
    "brush", "bucket", "bulb", "card", "glass", "horn", "key", "leg", "light", "nail", "nut", "orange", "peg",
    "pine cone", "pip", "plate", "pot", "ring", "shell", "spot", "switch", "tile", "tin",
))
# fmt: on


class Noun(NamedTuple):
    """A thing's name; gender "m", "f" or ""."""

    one: str
    many: str
    gender: str


def languages() -> tuple[str, ...]:
    """The languages there is a wording file for."""
    return _listed(FOLDER, FOLDER.stat().st_mtime_ns)


@lru_cache(maxsize=4)
def _listed(folder: Path, _changed: int) -> tuple[str, ...]:
    """Each sentence asks for them: the folder is read again only when a file came or went."""
    return tuple(sorted(p.stem for p in folder.glob("*.yaml")))


def load(language: str) -> dict[str, Any]:
    """The whole wording of a language."""
    if language not in languages():
        known = ", ".join(languages())
        raise LessonError(
            "Choosing the language of a lesson.", f'There is no wording for "{language}".', f"Choose one of: {known}."
        )
    return _read(FOLDER / f"{language}.yaml")


@lru_cache(maxsize=16)
def _read(path: Path) -> dict[str, Any]:
    import yaml

    doing, again = f"Reading the wording {path.name}.", "Compare the file with en.yaml, which is complete."
    try:
        found = yaml.load(path.read_text(encoding="utf-8"), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        raise LessonError(doing, f"It cannot be read: {str(error).splitlines()[0]}.", again) from error
    if not isinstance(found, dict):
        raise LessonError(doing, "It does not hold named lines.", again)
    return found


def text(language: str, key: str) -> str:
    """The pattern under a dotted key such as "label.next"."""
    value = section(language, key)
    if isinstance(value, str):
        return value
    raise LessonError(
        f"Reading the wording {language}.yaml.", f'"{key}" is not a sentence.', "Compare the file with en.yaml."
    )


def section(language: str, key: str) -> Any:
    """What stands under a dotted key; LessonError names a key that is missing."""
    value: Any = load(language)
    for part in key.split("."):
        if not isinstance(value, dict) or part not in value:
            raise LessonError(
                f"Reading the wording {language}.yaml.",
                f'It lacks the key "{key}".',
                "Add it as en.yaml has it, in this language.",
            )
        value = value[part]
    return value


# ---- nouns


def clean(word: str, longest: int = 60) -> str:
    """One line without control characters; a right-to-left word is isolated so that the sentence stays as it is."""
    plain = "".join(c if unicodedata.category(c)[0] != "C" or c == "\u200d" else " " for c in word)
    plain = " ".join(plain.split())[:longest].strip()
    if any(unicodedata.bidirectional(c) in ("R", "AL") for c in plain):
        return f"\u2068{plain}\u2069"
    return plain


def noun(language: str, thing: str = "", things: str = "") -> Noun:
    """The thing's name in this language: the teacher's words (an article tells the gender), a common thing translated.

    Nothing given: thing, things; cosa, cosas.
    """
    one, gender_one = _bare(language, clean(thing))
    many, gender_many = _bare(language, clean(things))
    gender = gender_many or gender_one
    if not one and not many:
        return _entry(language, "thing")
    key, own = _known(language, one, many)
    if key and not own:
        return _entry(language, key)
    if key and own:
        entry = _entry(language, key)
        return Noun(one or entry.one, many or entry.many, gender or entry.gender)
    one = one or _singular(language, many)
    many = many or _plural(language, one)
    return Noun(one, many, gender or _gender(language, one))


def is_known(language: str, thing: str, things: str = "") -> bool:
    """True where the word stands in the language's own list, or can be translated into it."""
    return _known(language, _bare(language, clean(thing))[0], _bare(language, clean(things))[0])[0] != ""


def doubtful(language: str, thing: str, things: str = "") -> str:
    """The translation of a word that names two ordinary things; "" where there is no doubt."""
    key, own = _known(language, _bare(language, clean(thing))[0], _bare(language, clean(things))[0])
    return _entry(language, key).one if key in TWO_MEANINGS and not own else ""


def _entry(language: str, key: str) -> Noun:
    found = section(language, f"nouns.{key}")
    return Noun(str(found["one"]), str(found["many"]), str(found["gender"]))


def _bare(language: str, word: str) -> tuple[str, str]:
    """The word without its article, and the gender that the article shows."""
    first, _, rest = word.partition(" ")
    articles = ARTICLES.get(language, {})
    if rest and first.lower() in articles:
        return rest.strip(), articles[first.lower()]
    return word, ""


@lru_cache(maxsize=8)
def _by_word(language: str, folder: Path) -> dict[str, str]:
    nouns = section(language, "nouns")
    return {str(entry[form]).casefold(): key for key, entry in reversed(nouns.items()) for form in ("one", "many")}


def _known(language: str, one: str, many: str) -> tuple[str, bool]:
    """The key in the list of common things, and whether the word is this language's own."""
    for other in (language, *(x for x in languages() if x != language)):
        words = _by_word(other, FOLDER)
        for word in (one, many):
            key = words.get(_bare(other, word)[0].casefold(), "")
            if key and (other == language or key in section(language, "nouns")):
                return key, other == language
    return "", False


def _plural(language: str, one: str) -> str:
    if language == "es":
        return _spanish_plural(one)
    head, _, last = one.rpartition(" ")
    return f"{head} {_english_plural(last)}".strip()


def _english_plural(word: str) -> str:
    low = word.lower()
    if low in IRREGULAR:
        return IRREGULAR[low]
    if not low[-1:].isalpha():
        return word
    if re.search(r"(s|x|z|ch|sh)$", low):
        return word + "es"
    if re.search(r"[^aeiou]y$", low):
        return word[:-1] + "ies"
    return word + "s"


def _spanish_plural(one: str) -> str:
    words = one.split()
    stop = next(
        (i for i, w in enumerate(words) if w in ("de", "del", "con", "en", "sin", "para", "a", "al")), len(words)
    )
    return " ".join([_spanish_plural_word(w) for w in words[:stop]] + words[stop:])


def _spanish_plural_word(word: str) -> str:
    low = word.lower()
    if not low[-1:].isalpha():
        return word
    if low.endswith("z"):
        return word[:-1] + "ces"
    if low[-1] in "aeiouáéó":
        return word + "s"
    if low.endswith("s"):
        return word[:-2] + "eses" if low.endswith("és") else word
    for accented, plain in (("ón", "on"), ("án", "an"), ("én", "en"), ("ín", "in"), ("ún", "un")):
        if low.endswith(accented):
            return word[:-2] + plain + "es"
    return word + "es"


def _singular(language: str, many: str) -> str:
    back = {v: k for k, v in IRREGULAR.items()}
    if language == "es":
        return (
            re.sub(r"(?<=[lnrd])es\b", "", many)
            if re.search(r"[lnrd]es\b", many)
            else re.sub(r"ces\b", "z", re.sub(r"s\b", "", many) if not many.endswith("ces") else many)
        )
    head, _, last = many.rpartition(" ")
    low = last.lower()
    if low in back:
        last = back[low]
    elif low.endswith("ies") and len(low) > 4:
        last = last[:-3] + "y"
    elif re.search(r"(s|x|ch|sh)es$", low):
        last = last[:-2]
    elif low.endswith("s") and not low.endswith("ss"):
        last = last[:-1]
    return f"{head} {last}".strip()


def _gender(language: str, one: str) -> str:
    if language != "es":
        return ""
    first = one.split()[0].lower() if one.split() else ""
    if first in FEMININE:
        return "f"
    if first in MASCULINE:
        return "m"
    return "f" if re.search(r"(a|ción|sión|dad|tad|umbre|ez)$", first) else "m"


# ---- numbers and sentences


def number(language: str, n: int, gender: str = "m") -> str:
    """A number as a word: "seven", "siete"; in Spanish one agrees ("uno", "una"). Digits past the list."""
    words = _number_words(language)
    word = words[n] if 0 <= n < len(words) else str(n)
    if language == "es" and gender == "f" and word.endswith("uno"):
        return word[:-1] + "a"
    return word


def _number_words(language: str) -> tuple[str, ...]:
    if language not in WORDS:
        raise LessonError(
            f"Reading the wording {language}.yaml.",
            "Its numbers have no words.",
            f'Add "{language}" to WORDS in curator/numbers_in_text.py.',
        )
    return WORDS[language]


def counted(language: str, n: int, thing: Noun) -> str:
    """A number of things: "one egg", "seven eggs"; "un huevo", "veintiún huevos", "una mano"."""
    name = thing.one if n == 1 else thing.many
    word = number(language, n, thing.gender)
    if language == "es" and word.endswith("uno"):
        word = "un" if n == 1 else word[:-3] + "ún"
    if language == "es" and n == 1:
        word = _spanish_a(thing)
    return f"{word} {name}"


def _spanish_a(thing: Noun) -> str:
    return "una" if thing.gender == "f" and thing.one.split()[0].lower() not in STRESSED_A else "un"


def _with_article(language: str, thing: Noun, which: str) -> str:
    if language == "es":
        if which == "the things":
            return ("las " if thing.gender == "f" else "los ") + thing.many
        return f"{_spanish_a(thing)} {thing.one}"
    if which == "the things":
        return f"the {thing.many}"
    bare = thing.one.strip("\u2068\u2069\"'“”«»").lower()
    vowel = re.match(r"[aeiou]|hour|honest|heir", bare) and not re.match(r"uni|use|eu|one\b|once\b", bare)
    return f"{'an' if vowel else 'a'} {thing.one}"


def fill(language: str, pattern: str, numbers: Mapping[str, int], thing: Noun, **strings: str) -> str:
    """The sentence of a pattern. LessonError names a placeholder that nothing fills."""

    def one(match: re.Match[str]) -> str:
        return _value(language, match[1], numbers, thing, strings)

    return re.sub(r"\{([^{}]+)\}", one, pattern)


def _value(language: str, token: str, numbers: Mapping[str, int], thing: Noun, strings: Mapping[str, str]) -> str:
    if token.startswith("~"):
        masculine, _, feminine = token[1:].partition("|")
        return feminine if thing.gender == "f" else masculine
    if token[1:] in numbers and token.startswith("#"):
        return number(language, numbers[token[1:]])
    name, _, forms = token.partition(":")
    low = name[:1].lower() + name[1:]
    head = low.removesuffix(" things")
    if forms and low in numbers:
        singular, _, plural = forms.partition("|")
        return singular if numbers[low] == 1 else plural
    if low in ("thing", "things"):
        found = thing.one if low == "thing" else thing.many
    elif low in ("a thing", "the things"):
        found = _with_article(language, thing, low)
    elif low.endswith(" things") and head in numbers:
        found = counted(language, numbers[head], thing)
    elif low in strings:
        found = strings[low]
    elif low.endswith("_digits") and low[:-7] in numbers:
        found = str(numbers[low[:-7]])
    elif low in numbers:
        found = number(language, numbers[low], thing.gender)
    else:
        raise LessonError(
            f"Reading the wording {language}.yaml.",
            f"Nothing fills the blank {{{token}}}.",
            "Use the blanks named at the top of the file.",
        )
    return found[:1].upper() + found[1:] if name[:1].isupper() else found

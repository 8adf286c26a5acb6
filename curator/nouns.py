"""Names of common things in every language of the wording files, so that a word finds what the other language calls it.

`classroom/text/wording/*.yaml` holds them under `nouns:`; they are data, read once when first asked for.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "classroom" / "text" / "wording"


@cache
def _every() -> dict[str, dict[str, Any]]:
    """The nouns of each language by their key."""
    import yaml

    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    return {
        path.stem: yaml.load(path.read_text(encoding="utf-8"), Loader=loader).get("nouns", {})
        for path in sorted(FOLDER.glob("*.yaml"))
    }


@cache
def table() -> dict[str, tuple[str, ...]]:
    """Each noun (small letters, one or many) -> the words that other languages have for the same thing."""
    named: dict[str, dict[str, tuple[str, str]]] = {}  # key -> language -> (one, many)
    for code, nouns in _every().items():
        for key, entry in nouns.items():
            named.setdefault(key, {})[code] = (str(entry["one"]), str(entry["many"]))
    found: dict[str, tuple[str, ...]] = {}
    for languages in named.values():
        for code, own in languages.items():
            others = [word for other, words in languages.items() if other != code for word in words]
            for word in own:
                found[word.casefold()] = tuple(dict.fromkeys((*found.get(word.casefold(), ()), *others)))
    return found


def elsewhere(*words: str) -> list[str]:
    """What other languages call these things; a name of several words counts whole, or else its last word."""
    found: list[str] = []
    for word in words:
        low = word.casefold().strip()
        last = low.rpartition(" ")[2]
        found += table().get(low) or table().get(last) or table().get(low.partition(" ")[0]) or ()
    return list(dict.fromkeys(found))


def forms(word: str) -> tuple[str, str] | None:
    """(one, many) of a common thing, whichever of the two was typed, in any language; None for other words."""
    return _forms().get(word.casefold().strip())


def both(one: str, many: str) -> tuple[str, str]:
    """What a thing and several of it are called, where one of the two was said: eggs are an egg each. As they were said
    where both were, or none, or a word that is in no list.
    """
    said = [word for word in (one, many) if word.strip()]
    return (forms(said[0]) if len(said) == 1 else None) or (one, many)


@cache
def _forms() -> dict[str, tuple[str, str]]:
    found: dict[str, tuple[str, str]] = {}
    for nouns in _every().values():
        for entry in nouns.values():
            pair = (str(entry["one"]), str(entry["many"]))
            found |= {word.casefold(): pair for word in pair if word.casefold() not in found}
    return found

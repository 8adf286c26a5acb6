"""The font of printed cards: the signs it has, and a small copy with those of one document.

Rubik (SIL Open Font License 1.1) comes as a package; it has Latin, Cyrillic, Hebrew and Arabic letters. One file holds
all weights, and cutting a weight out of it takes seconds, so the signs in use are picked out first.
"""

from __future__ import annotations

import hashlib
import re
import unicodedata
from contextlib import suppress
from functools import cache, lru_cache
from io import BytesIO
from pathlib import Path

from curator import systems
from curator.catalog import files

REGULAR, BOLD = 400, 650
ALWAYS = "".join(map(chr, range(0x20, 0x7F))) + "\u00a0"
# Latin-1, Latin Extended-A, and the signs that sentences of this project are written with
LATIN = frozenset(ALWAYS) | frozenset(map(chr, (*range(0xA1, 0x180), 0x2D, 0x2212, *range(0x2013, 0x2027))))
_STEERING_CODES = frozenset((*range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x206A), 0xFE0F))


def _file() -> Path:
    import fontpkg_rubik

    return Path(fontpkg_rubik.ROOT) / "files" / "Rubik[wght].ttf"


@lru_cache(maxsize=1)
def _signs() -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(_file(), lazy=True) as font:
        return frozenset(font.getBestCmap())


def printable(words: str) -> str:
    """The words without signs that the font lacks; those that steer the writing's direction stay, and print nothing."""
    plain = unicodedata.normalize("NFC", words)
    kept = "".join(c for c in plain if ord(c) in _signs() or c == "\n" or c in "\u2068\u2069")
    if kept == plain:
        return kept
    return re.sub(r" +(?=[?.,;:!]|$)", "", re.sub(" +", " ", kept)).lstrip(" ")


def lacking(words: str) -> tuple[str, ...]:
    """The signs that `printable` leaves out and a reader would miss, each once."""
    plain = unicodedata.normalize("NFC", words)
    return tuple(dict.fromkeys(c for c in plain if ord(c) not in _signs() | _STEERING_CODES and not c.isspace()))


def runs_leftwards(words: str) -> bool:
    """True where some of it is written from right to left, and its letters may have to be joined."""
    return any(unicodedata.bidirectional(c) in ("R", "AL") for c in words)


def cut(signs: frozenset[str], weight: int) -> bytes:
    """A TrueType font with these signs (and their joined forms, where they have any) in that weight, and perhaps more.

    Cutting takes a second, so a document of Latin letters gets all of those, and the font is kept for the next one.
    """
    return _cut(LATIN if signs <= LATIN else signs, weight)


@lru_cache(maxsize=8)
def _cut(signs: frozenset[str], weight: int) -> bytes:
    if signs != LATIN:
        return _made(signs, weight)
    kept = systems.cache() / f"cards-{weight}-{_version()}.ttf"
    with suppress(OSError):
        return kept.read_bytes()
    font = _made(signs, weight)
    with suppress(OSError):  # where nothing can be kept, it is cut anew each time
        files.make_folder(kept.parent)
        files.write(kept, font)
    return font


@cache
def _version() -> str:
    """Changes with the font's file, with what cuts it and with the signs."""
    from fontTools import version

    told = f"{version} {''.join(sorted(LATIN))}".encode()
    return hashlib.sha256(_file().read_bytes() + told).hexdigest()[:16]


def _made(signs: frozenset[str], weight: int) -> bytes:
    from fontTools.ttLib import TTFont
    from fontTools.varLib import instancer

    font = instancer.instantiateVariableFont(TTFont(BytesIO(_picked(signs))), {"wght": weight})
    out = BytesIO()
    font.save(out)
    return out.getvalue()


@lru_cache(maxsize=4)
def _picked(signs: frozenset[str]) -> bytes:
    """The font of all weights with these signs alone."""
    from fontTools import subset
    from fontTools.ttLib import TTFont

    font = TTFont(_file())
    bare = [] if runs_leftwards("".join(signs)) else ["GSUB", "GPOS", "GDEF"]
    features = [] if bare else ["*"]
    picker = subset.Subsetter(
        subset.Options(layout_features=features, notdef_outline=True, drop_tables=["STAT", *bare])
    )
    picker.populate(unicodes=[ord(c) for c in signs | set(ALWAYS)])
    picker.subset(font)
    out = BytesIO()
    font.save(out)
    return out.getvalue()

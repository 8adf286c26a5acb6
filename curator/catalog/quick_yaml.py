"""A prompt's file as `to_yaml` writes it, read by one pattern: many times quicker than by the YAML reader.

The pattern takes a part of what `to_yaml` writes and nothing that YAML would read otherwise: no escapes but those of a
quote and a backslash, no number whose shortest text is another one. Every other file goes to the YAML reader.
"""

from __future__ import annotations

import json
import re
from typing import Any, NamedTuple

from curator.records import Area, Dot, Fact

MOST_DOTS = 500
# From 0 to 1 as Python and YAML 1.1 both read and write it: below .0001 Python writes 1e-05, beyond 15 digits another
# text may be the shortest.
_PART = r"(?:0\.(?!0000)[0-9]{1,15}+(?<!0)|[01])"
_OTHERWISE = r"(?!(?i:y(?:es)?|no?|o(?:n|ff)|true|false|null)[ ,\]\n])"  # plain words that YAML reads as no words
_PLAIN = _OTHERWISE + r"[A-Za-z][A-Za-z0-9]*+(?:[ -][A-Za-z0-9]++)*+(?:\.[a-z]++)?+"
_QUOTED = r'"[^"\\\x00-\x1f\x7f]*+(?:\\["\\][^"\\\x00-\x1f\x7f]*+)*+"'
_WORDS = f"(?:{_QUOTED}|{_PLAIN})"
_ONE = re.compile(_WORDS)
_POINT = rf"\[{_PART}, {_PART}\]"
_LINES = {
    "slug": _OTHERWISE + r'[a-z][a-z0-9]*+(?:-[a-z0-9]++)*+|"[a-z0-9]++(?:-[a-z0-9]++)*+"',
    "fact": r"null|1\+1=2|2\+2=4|3\+3=6|4\+4=8|5\+5=10|6\+6=12|7\+7=14|8\+8=16|9\+9=18|10\+10=20|11\+11=22|12\+12=24",
    "kind": "flip|slide|turn|split|none",
    "tags": rf"\[(?:{_WORDS}(?:, {_WORDS})*+)?\]",
    "picture": rf'"[A-Za-z0-9][A-Za-z0-9 .-]{{0,100}}+"|{_OTHERWISE}[a-z](?:-?[a-z0-9]){{0,90}}+(?:\.[a-z]{{1,5}}+)?+',
    "people": "none|consented|unknown",
    "grade": 'sure|check|"no"',
    "confidence": _PART,
    "touched": "0|[1-9][0-9]{0,8}",
    "source_sha256": '"(?:[0-9a-f]{64})?"|[a-f][0-9a-f]{63}',
    "area": rf"null|\[{_PART}, {_PART}, {_PART}, {_PART}\]",
    "line": rf"null|\[{_POINT}, {_POINT}\]",
}
_KEYS = (
    "slug title fact kind thing things place tags notes picture alt_before alt_after credit license people faces grade"
    " confidence checked_by touched added source_sha256 phash area line"
)
_DOT = rf"  - \{{x: {_PART}, y: {_PART}, side: [012](?:, w: {_PART}, h: {_PART})?+\}}\n"
_NUMBERS = re.compile(r"x: (.+?), y: (.+?), side: (.)(?:, w: (.+?), h: (.+?))?}")
_NO_SIZE = re.compile(r"(?<=side: .)}")
_SHORT = bytes.maketrans(b"\n", b",")
_FILE = re.compile(
    "format: 1\n" + "".join(f"{key}: ({_LINES.get(key, _WORDS)})\n" for key in _KEYS.split()) + f"dots:\n((?:{_DOT})++)"
)


class Parts(NamedTuple):
    """The fields as they stand in the file: words plain or as JSON, `dots` all their lines."""

    slug: str
    title: str
    fact: str
    kind: str
    thing: str
    things: str
    place: str
    tags: str
    notes: str
    picture: str
    alt_before: str
    alt_after: str
    credit: str
    license: str
    people: str
    faces: str
    grade: str
    confidence: str
    checked_by: str
    touched: str
    added: str
    source_sha256: str
    phash: str
    area: str
    line: str
    dots: str


def parts(text: str) -> Parts | None:
    """The fields of a file that the pattern takes whole; None for every other."""
    match = _FILE.fullmatch(text)
    if match is None or not (text.isascii() or text.replace("\n", "").isprintable()):
        return None
    found = Parts._make(match.groups())
    return found if found.dots.count("\n") <= MOST_DOTS else None


def words(raw: str) -> str:
    """Words without their quotes."""
    if raw[0] != '"':
        return raw
    return str(json.loads(raw)) if "\\" in raw else raw[1:-1]


def in_quotes(raw: str) -> str:
    """Words as JSON."""
    return raw if raw[0] == '"' else f'"{raw}"'


def tags_as_json(raw: str) -> str:
    """The tags as a JSON list."""
    if '"' not in raw:
        return '["' + raw[1:-1].replace(", ", '", "') + '"]' if raw != "[]" else raw
    return _ONE.sub(lambda match: in_quotes(match[0]), raw)


def dots_in_short(raw: str) -> str:
    """The dots' numbers alone, x,y,side,w,h of each, with commas between."""
    if raw.count(", w: ") != raw.count("\n"):
        raw = _NO_SIZE.sub(", w: 0, h: 0}", raw)
    return raw.encode().translate(_SHORT, b" -{}:xysidewh")[:-1].decode()


def area(raw: str) -> Area | None:
    """ValueError where the sides are not in order."""
    if raw == "null":
        return None
    left, top, right, bottom = map(float, json.loads(raw))
    if not (left < right and top < bottom):
        raise ValueError(raw)
    return Area(left, top, right, bottom)


def values(found: Parts) -> dict[str, Any]:
    """The fields by their names, for a Prompt; `faces` as it stands on its line. ValueError where the area is none."""
    named: dict[str, Any] = dict(zip(Parts._fields, map(words, found), strict=True))
    named["fact"] = None if found.fact == "null" else Fact(int(found.fact.partition("+")[0]))
    named["tags"] = tuple(map(words, _ONE.findall(found.tags)))
    named["confidence"] = float(found.confidence)
    named["touched"] = int(found.touched)
    named["area"] = area(found.area)
    named["line"] = None if found.line == "null" else tuple((float(x), float(y)) for x, y in json.loads(found.line))
    named["dots"] = tuple(
        Dot(float(x), float(y), int(side), float(w or 0), float(h or 0))
        for x, y, side, w, h in _NUMBERS.findall(found.dots)
    )
    return named

"""A prompt's file as `to_yaml` writes it, read line by line: many times quicker than by the YAML reader.

What is read here counts only where `to_yaml` gives the same text back (`yamls.from_yaml` sees to it); every other file
goes to the YAML reader.
"""

from __future__ import annotations

import json
import re
from typing import Any

from curator.records import Area, Dot, Fact

_PART = r"([0-9.e+-]+)"
_DOT = re.compile(rf"  - \{{x: {_PART}, y: {_PART}, side: ([012])(?:, w: {_PART}, h: {_PART})?\}}")
_DOTS = "dots:"


def values(text: str) -> dict[str, Any] | None:
    """The fields of a prompt by their names; None where some line is not as `to_yaml` writes it."""
    head, marked, tail = text.partition(f"\n{_DOTS}\n")
    lines = tail.split("\n")
    if not marked or lines.pop() != "":
        return None
    found = [_DOT.fullmatch(line) for line in lines]
    if None in found:
        return None
    try:
        named: dict[str, Any] = {}
        for line in head.split("\n"):
            key, _, value = line.partition(": ")
            named[key] = _VALUES.get(key, _words)(value)
        named["dots"] = tuple(_dot(*match.groups()) for match in found if match)
    except (ValueError, TypeError):
        return None
    return named


def _dot(x: str, y: str, side: str, w: str | None, h: str | None) -> Dot:
    return Dot(float(x), float(y), int(side), float(w or 0), float(h or 0))


def _words(value: str) -> str:
    return str(json.loads(value)) if value.startswith('"') else value


def _tags(value: str) -> tuple[str, ...]:
    inside = value[1:-1]
    if '"' in inside:
        return tuple(json.loads(f"[{re.sub(r'(^|, )([A-Za-z][^,]*)', _in_quotes, inside)}]"))
    return tuple(inside.split(", ")) if inside else ()


def _in_quotes(match: re.Match[str]) -> str:
    return f'{match[1]}"{match[2]}"'


def _line(value: str) -> tuple[tuple[float, ...], ...] | None:
    if value == "null":
        return None
    (x, y), (right, down) = json.loads(value)
    return (float(x), float(y)), (float(right), float(down))


def _area(value: str) -> Area | None:
    if value == "null":
        return None
    left, top, right, bottom = map(float, json.loads(value))
    if not 0 <= left < right <= 1 or not 0 <= top < bottom <= 1:
        raise ValueError(value)
    return Area(left, top, right, bottom)


def _fact(value: str) -> Fact | None:
    return None if value == "null" else Fact.parse(value)


_VALUES: dict[str, Any] = {
    "format": int,
    "fact": _fact,
    "tags": _tags,
    "confidence": float,
    "touched": int,
    "area": _area,
    "line": _line,
}

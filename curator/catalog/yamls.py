"""Prompt <-> YAML: fixed key order, safe loader, every field checked, every mistake named with its line."""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Callable
from dataclasses import fields
from typing import Any, NoReturn

import yaml

from curator.catalog import face_words, quick_yaml
from curator.errors import CatalogError
from curator.records import GRADES, PEOPLE, PROMPT_KINDS, Area, Dot, Fact, Prompt

FORMAT = 1
MOST_CHARACTERS = 400_000
MOST_DOTS = quick_yaml.MOST_DOTS
MOST_OPENERS = 3000  # signs that can open a list or group: the C loader nests that deep without a limit of its own
_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9]*(?:[ -][A-Za-z0-9]+)*(?:\.[a-z]+)?")  # needs no quotes, in a list either
_READ_OTHERWISE = frozenset({"y", "n", "yes", "no", "on", "off", "true", "false", "null"})
_TAG = "tag:yaml.org,2002:"
_READ_AS = {"bool": "yes or no", "int": "a number", "float": "a number", "timestamp": "a date", "null": "nothing"}


class _WrongError(Exception):
    """A mistake in the text: where, what, and what to do."""

    def __init__(self, node: Any, field: str, wrong: str, try_this: str) -> None:
        super().__init__(wrong)
        self.line = node.start_mark.line + 1
        self.field, self.wrong, self.try_this = field, wrong, try_this


def _kind_of(node: Any) -> str:
    return str(node.tag).removeprefix(_TAG)


def _text(node: Any, field: str) -> str:
    if not isinstance(node, yaml.ScalarNode):
        raise _WrongError(node, field, "should be words, and is a list.", f"Write {field}: and the words on one line.")
    if _kind_of(node) != "str":
        raw = str(node.value)
        if raw == "":
            raise _WrongError(node, field, "is empty.", f'Write {field}: "" where there is nothing to say.')
        wrong = f"{raw} is read as {_READ_AS.get(_kind_of(node), 'something else')}, not as words."
        raise _WrongError(node, field, wrong, f"Put it in quotes: {json.dumps(raw, ensure_ascii=False)}.")
    return str(node.value)


def _number(node: Any, field: str) -> float:
    if isinstance(node, yaml.ScalarNode) and _kind_of(node) in ("int", "float"):
        try:
            value = float(str(node.value).replace("_", ""))
        except ValueError:
            value = float("nan")
        if value == value and abs(value) != float("inf"):
            return value
    raise _WrongError(node, field, f"should be a number, and is {_shown(node)}.", "Write a number such as 0.25.")


def _whole(node: Any, field: str) -> int:
    if isinstance(node, yaml.ScalarNode) and _kind_of(node) == "int" and str(node.value).isascii():
        digits = str(node.value).lstrip("-")
        if digits.isdigit() and len(digits) < 10 and (digits == "0" or not digits.startswith("0")):
            return int(str(node.value))
    wrong = f"should be a whole number, and is {_shown(node)}."
    raise _WrongError(node, field, wrong, "Write a number such as 3, without quotes.")


def _shown(node: Any) -> str:
    if isinstance(node, yaml.ScalarNode):
        raw = str(node.value)
        return f'"{raw[:40]}"' if raw else "empty"
    return "a list" if isinstance(node, yaml.SequenceNode) else "a group of keys"


def _items(node: Any, field: str) -> list[Any]:
    if not isinstance(node, yaml.SequenceNode):
        raise _WrongError(node, field, f"should be a list, and is {_shown(node)}.", f"Write it like {field}: [a, b].")
    return list(node.value)


def _pairs(node: Any, where: str, known: tuple[str, ...]) -> dict[str, Any]:
    """Known keys and their nodes, none of them twice. Others are left to `check`, and kept when the file changes."""
    if not isinstance(node, yaml.MappingNode):
        raise _WrongError(
            node, where, f"should be keys and values, and is {_shown(node)}.", "Write it like key: value."
        )
    found: dict[str, Any] = {}
    for key_node, value in node.value:
        key = str(key_node.value) if isinstance(key_node, yaml.ScalarNode) else ""
        if key in found:
            raise _WrongError(key_node, where, f'the key "{key}" stands there twice.', "Keep one of the two lines.")
        if key in known:
            found[key] = value
    return found


def unknown(node: Any, known: tuple[str, ...]) -> list[tuple[int, str, str]]:
    """(line, key, the known key that may be meant or "") of each key of a group that is not known."""
    if not isinstance(node, yaml.MappingNode):
        return []
    keys = [
        (k.start_mark.line + 1, str(k.value) if isinstance(k, yaml.ScalarNode) else "a list") for k, _ in node.value
    ]
    near = {key: difflib.get_close_matches(key[:60], known, 1) for _, key in keys if key not in known}
    return [(line, key, near[key][0] if near[key] else "") for line, key in keys if key in near]


def strange_to(node: Any) -> list[tuple[int, str, str]]:
    """The keys of a prompt's file that are not known."""
    return unknown(node, KEYS)


def _is_nothing(node: Any) -> bool:
    return isinstance(node, yaml.ScalarNode) and _kind_of(node) == "null"


def _fact(node: Any, field: str) -> Fact | None:
    if _is_nothing(node):
        return None
    text = _text(node, field)
    try:
        return Fact.parse(text)
    except ValueError:
        wrong = f'"{text[:40]}" is not a doubles fact.'
        raise _WrongError(node, field, wrong, "Write it like 7+7=14, or null for no double.") from None


def _one_of(*choices: str) -> Callable[[Any, str], str]:
    def read(node: Any, field: str) -> str:
        is_word = isinstance(node, yaml.ScalarNode) and _kind_of(node) in (
            "str",
            "bool",
        )  # the grade `no` reads as False
        text = str(node.value) if is_word else _shown(node)
        if text not in choices:
            wrong = f'"{text[:40]}" is not one of the words allowed.'
            raise _WrongError(node, field, wrong, f"Write {' or '.join(choices)}.")
        return text

    return read


def _tags(node: Any, field: str) -> tuple[str, ...]:
    return tuple(_text(item, field) for item in _items(node, field))


def _dots(node: Any, field: str) -> tuple[Dot, ...]:
    items = _items(node, field)
    if len(items) > MOST_DOTS:
        raise _WrongError(node, field, f"there are {len(items)} dots.", f"Keep at most {MOST_DOTS}.")
    return tuple(_dot(item) for item in items)


def _dot(node: Any) -> Dot:
    found = _pairs(node, "dots", Dot._fields)
    for key in ("x", "y", "side"):
        if key not in found:
            raise _WrongError(node, "dots", f"a dot has no {key}.", "Write it like {x: 0.5, y: 0.5, side: 1}.")
    x, y, w, h = (_number(found[key], f"dots, {key}") if key in found else 0.0 for key in ("x", "y", "w", "h"))
    side = _whole(found["side"], "dots, side")
    if side not in (0, 1, 2) or not (0 <= x <= 1 and 0 <= y <= 1):
        raise _WrongError(node, "dots", "x and y go from 0 to 1, and side is 0, 1 or 2.", "Mend this dot.")
    return Dot(x, y, side, w, h)


def _line(node: Any, field: str) -> tuple[tuple[float, float], tuple[float, float]] | None:
    if _is_nothing(node):
        return None
    ends = [[_number(n, field) for n in _items(end, field)] for end in _items(node, field)]
    if [len(end) for end in ends] != [2, 2]:
        raise _WrongError(node, field, "should be two points.", "Write it like line: [[0.5, 0.0], [0.5, 1.0]].")
    return (ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])


def _area(node: Any, field: str) -> Area | None:
    if _is_nothing(node):
        return None
    sides = [_number(n, field) for n in _items(node, field)]
    ok = len(sides) == 4 and 0 <= sides[0] < sides[2] <= 1 and 0 <= sides[1] < sides[3] <= 1
    if not ok:
        wrong = "should be left, top, right, bottom from 0 to 1."
        raise _WrongError(node, field, wrong, "Write it like area: [0, 0, 0.5, 1].")
    return Area(*sides)


# Key order of the file, and how each value is read. `format` comes first.
_READERS: dict[str, Callable[[Any, str], Any]] = {
    "slug": _text,
    "title": _text,
    "fact": _fact,
    "kind": _one_of(*PROMPT_KINDS),
    "thing": _text,
    "things": _text,
    "place": _text,
    "tags": _tags,
    "notes": _text,
    "picture": _text,
    "alt_before": _text,
    "alt_after": _text,
    "credit": _text,
    "license": _text,
    "people": _one_of(*PEOPLE),
    "faces": _text,
    "grade": _one_of(*GRADES),
    "confidence": _number,
    "checked_by": _text,
    "touched": _whole,
    "added": _text,
    "source_sha256": _text,
    "phash": _text,
    "area": _area,
    "line": _line,
    "dots": _dots,
}
KEYS = ("format", *_READERS)
NEEDED = ("format", "slug", "title", "fact", "kind", "picture", "dots")
assert {*_READERS, "seen"} == {field.name for field in fields(Prompt)}  # `seen` stands on the line `faces`


def _float_text(number: float) -> str:
    """The shortest text that YAML 1.1 reads back as the same number."""
    if float(number).is_integer() and abs(number) < 1e9:
        return str(int(number))
    text = repr(float(number))
    return text.replace("e", ".0e") if "e" in text and "." not in text else text


def _dot_text(dot: Dot) -> str:
    parts = [f"x: {_float_text(dot.x)}", f"y: {_float_text(dot.y)}", f"side: {dot.side}"]
    if dot.w or dot.h:
        parts += [f"w: {_float_text(dot.w)}", f"h: {_float_text(dot.h)}"]
    return "  - {" + ", ".join(parts) + "}"


def _value_text(key: str, value: Any) -> str:
    if value is None:
        return "null"
    if key == "tags":
        return "[" + ", ".join(map(_quoted, value)) + "]"
    if key == "area":
        return "[" + ", ".join(map(_float_text, value)) + "]"
    if key == "line":
        return "[" + ", ".join(f"[{_float_text(x)}, {_float_text(y)}]" for x, y in value) + "]"
    if isinstance(value, float | int):
        return _float_text(value)
    return str(value) if isinstance(value, Fact) else _quoted(value)


def _quoted(text: str) -> str:
    """Plain where that is safe, in a list too; else double quotes on one line."""
    if _PLAIN.fullmatch(text) and text.split()[0].lower() not in _READ_OTHERWISE:
        return text
    if text.isprintable():
        return json.dumps(text, ensure_ascii=False)
    style: str = yaml.dump(text, Dumper=_Dumper, default_style='"', allow_unicode=True, width=10**9)
    return style.removesuffix("\n")


def to_yaml(prompt: Prompt) -> str:
    """The prompt's file, keys in their fixed order, a dot a line. The inverse of from_yaml."""
    lines = [f"format: {FORMAT}"]
    said = {key: getattr(prompt, key) for key in _READERS if key != "dots"}
    said["faces"] = face_words.written(prompt.faces, prompt.seen)
    lines += [f"{key}: {_value_text(key, value)}" for key, value in said.items()]
    lines += ["dots:", *map(_dot_text, prompt.dots)] if prompt.dots else ["dots: []"]
    return "\n".join(lines) + "\n"


def compose(text: str, doing: str) -> Any:
    """The text's YAML nodes; CatalogError where it is none."""
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        wrong = f"Line {line} is not YAML ({error.problem or 'cannot be read'})."
        raise CatalogError(doing, wrong, "Mend the line, or take back the last change.", code="damaged") from None
    except (yaml.YAMLError, RecursionError, ValueError, UnicodeError):
        wrong = "It holds signs that do not belong in a text."
        raise CatalogError(doing, wrong, "Take back the last change.", code="damaged") from None
    if node is None:
        raise CatalogError(doing, "The file is empty.", "Take back the last change.", code="damaged")
    return node


def is_far_too_long(text: str) -> bool:
    """Whether it is not even given to a reader."""
    return len(text) > MOST_OPENERS and (
        len(text) > MOST_CHARACTERS or sum(map(text.count, "[{-?")) > MOST_OPENERS  # no shorter text has as many
    )


def from_yaml(text: str, name: str) -> Prompt:
    """Read a prompt's file. `name` is the file's name, for the message. CatalogError names line and field."""
    doing = f"Reading {name}."
    if is_far_too_long(text):
        raise CatalogError(
            doing, "The file is far too long for a prompt.", "Take it out of the catalog.", code="damaged"
        )
    if (quick := _read_quickly(text)) is not None:
        return quick
    node = compose(text, doing)
    try:
        return _read(node)
    except _WrongError as w:
        raise CatalogError(doing, f"Line {w.line}, {w.field}: {w.wrong}", w.try_this, code="damaged") from None


def _read_quickly(text: str) -> Prompt | None:
    """The prompt of a file that is as to_yaml writes it, without the YAML reader; None for every other file, and for
    one with any mistake, so that it is told as ever.
    """
    found = quick_yaml.parts(text)
    if found is None:
        return None
    try:
        values = quick_yaml.values(found)
        values["faces"], values["seen"] = face_words.read(values["faces"])
        return Prompt(**values)
    except ValueError:
        return None


def _read(node: Any) -> Prompt:
    """The prompt of a file's nodes."""
    found = _pairs(node, "the file", KEYS)
    for key in NEEDED:
        if key not in found:
            wrong = f'the key "{key}" is missing.'
            near = next(
                (f" Is {strange} on line {line} meant?" for line, strange, one in strange_to(node) if one == key), ""
            )
            raise _WrongError(node, key, wrong + near, "Add it, or take back the last change.")
    if _whole(found.pop("format"), "format") != FORMAT:
        raise _WrongError(node, "format", "this is not a format that this version reads.", f"Write format: {FORMAT}.")
    values = {key: _READERS[key](value, key) for key, value in found.items()}
    values["faces"], values["seen"] = face_words.read(values.get("faces", ""))
    try:
        return Prompt(**values)
    except ValueError as error:
        _refuse(error, found, node)


def _refuse(error: ValueError, found: dict[str, Any], node: Any) -> NoReturn:
    """A record's own check failed: "dots: expected ..., got ..." with the line where that field stands."""
    field, _, rest = str(error).partition(": ")
    where = {"side": "dots"}.get(field, field)
    raise _WrongError(found.get(where, node), where, f"{rest}.", "Mend it, or take back the last change.") from None

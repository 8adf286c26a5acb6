"""A prompt's file changed with all else in it left as it was: comments, keys of others, the way values are put."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import yaml

from curator.catalog import yamls
from curator.catalog.yamls import KEYS, from_yaml, to_yaml
from curator.errors import CatalogError
from curator.records import Prompt


@dataclass(slots=True)
class _Block:
    """The lines of one key, and the comments and blank lines that follow it; key "" for what stands on top."""

    key: str
    lines: list[str] = field(default_factory=list)
    after: list[str] = field(default_factory=list)
    remark: str = ""  # a comment behind a value on one line


def rewritten(old: str, prompt: Prompt) -> str:
    """The old file's text with what differs in the prompt changed; the prompt's file anew where that cannot be done."""
    new = to_yaml(prompt)
    try:
        before = to_yaml(from_yaml(old, "x"))
        text = _merged(_blocks(old), _by_key(before), _by_key(new))
        return text if from_yaml(text, "x") == prompt else new
    except (CatalogError, ValueError):
        return new


def _merged(blocks: list[_Block], before: dict[str, list[str]], now: dict[str, list[str]]) -> str:
    """Blocks in their order, those whose value changed put anew; a key that was not there comes after those before."""
    there = {block.key for block in blocks}
    waiting = [key for key in KEYS if key in now and key not in there and now[key] != before.get(key)]
    out: list[str] = []
    for block in blocks:
        if block.key in now and now[block.key] != before.get(block.key):
            out += [line for line in block.lines[1:] if line.lstrip().startswith("#")]
            out += [now[block.key][0] + block.remark, *now[block.key][1:]]
        else:
            out += block.lines
        while waiting and block.key and block.key in KEYS and _is_before(waiting[0], block.key, there):
            out += now[waiting.pop(0)]
        out += block.after
    for key in waiting:
        out += now[key]
    return "\n".join(out) + "\n"


def _is_before(new: str, key: str, there: set[str]) -> bool:
    """Whether `key` is the last of those there that come before the new one."""
    earlier = [one for one in KEYS[: KEYS.index(new)] if one in there]
    return bool(earlier) and earlier[-1] == key


def _blocks(text: str) -> list[_Block]:
    """The file's lines by key; ValueError where keys do not each begin a line."""
    node = yamls.compose(text, "Reading.")
    lines = text.split("\n")[:-1] if text.endswith("\n") else text.split("\n")
    if not isinstance(node, yaml.MappingNode) or node.flow_style or any("\r" in line for line in lines):
        raise ValueError("text: expected keys in lines of their own")
    starts = [key.start_mark.line for key, _ in node.value]
    if len(set(starts)) < len(starts) or any(key.start_mark.column for key, _ in node.value):
        raise ValueError("text: expected each key to begin a line")
    blocks = [_Block("", lines[: starts[0]])]
    for (key, value), start, end in zip(node.value, starts, [*starts[1:], len(lines)], strict=True):
        own = lines[start:end]
        while len(own) > 1 and (not own[-1].strip() or own[-1].startswith(("#", "..."))):
            own.pop()
        blocks.append(_Block(str(key.value), own, lines[start + len(own) : end], _remark(own, value, start)))
    return blocks


def _remark(lines: list[str], value: Any, start: int) -> str:
    if len(lines) > 1 or value.end_mark.line != start:
        return ""
    rest = lines[0][value.end_mark.column :]
    return rest if rest.lstrip().startswith("#") else ""


def _by_key(text: str) -> dict[str, list[str]]:
    """The lines of each key in a file that to_yaml wrote."""
    found: dict[str, list[str]] = {}
    for line in text.splitlines():
        if line.startswith(" "):
            found[next(reversed(found))].append(line)
        else:
            found[line.partition(":")[0]] = [line]
    return found


def strange_keys(text: str) -> list[tuple[int, str, str]]:
    """(line, key, key that may be meant or "") of each key in the file that means nothing here."""
    return yamls.strange_to(yamls.compose(text, "Reading."))

"""Errors: a code that travels, and no command of a shell in the sentences of the rooms below."""

from __future__ import annotations

import ast
import pickle
import re
from pathlib import Path

import pytest

from curator import errors
from curator.errors import BundleError, CuratorError, TwinError

ROOT = Path(errors.__file__).parent
COMMANDS = re.compile(
    r"\bcurator (add|check|edit|find|forget|gaps|lesson|list|look-again|pack|pictures|receive|remove|score|serve|show"
    r"|site|tag)\b|(?<![\w-])--[a-z]"
)


def test_an_error_travels_between_processes_whole() -> None:
    for error in (TwinError("a", "b", "c", slug="eggs"), BundleError("a", "b", "c", code="rights", parts=[1])):
        back = pickle.loads(pickle.dumps(error))
        assert (type(back), back.code, back.slug, back.parts) == (type(error), error.code, error.slug, error.parts)
        assert back.as_dict() == error.as_dict()
    assert CuratorError("a", "b", "c").code == "other"


def _sentences(path: Path) -> list[tuple[int, str]]:
    """String constants that are no docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [
        (node.lineno, node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs
    ]


@pytest.mark.parametrize("room", ["catalog", "classroom", "seeing", "site", "errors.py", "records.py", "parallel.py"])
def test_the_domain_names_no_command(room: str) -> None:
    place = ROOT / room
    found = [
        f"{path.relative_to(ROOT)}:{line}: {text}"
        for path in ([place] if place.is_file() else sorted(place.rglob("*.py")))
        for line, text in _sentences(path)
        if COMMANDS.search(text)
    ]
    assert found == []


def test_no_shell_reads_sentences() -> None:
    reads = re.compile(
        r"\.(wrong|try_this|doing)\b[\w.()]*\s*(==|!=|\bin\b)|\bin \w+\.(wrong|try_this)|search\(\w+\.try_this"
    )
    found = [
        f"{path.name}: {line.strip()}"
        for room in ("web", "commands", "cli.py")
        for path in ([ROOT / room] if room.endswith(".py") else sorted((ROOT / room).rglob("*.py")))
        for line in path.read_text(encoding="utf-8").splitlines()
        if reads.search(line.partition("#")[0])
    ]
    assert found == []


def test_no_bar_below_the_commands() -> None:
    for path in ROOT.rglob("*.py"):
        if "commands" not in path.parts and "learning" not in path.parts:
            assert "rich" not in re.findall(r"^\s*(?:from|import) (\w+)", path.read_text(encoding="utf-8"), re.M), path

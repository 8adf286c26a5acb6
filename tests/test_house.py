"""The house rules: a module imports only what stands above it, none is too long, and nothing heavy is loaded early."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted((ROOT / "curator").rglob("*.py"))
}
ORDER = (
    ("errors",),
    ("records", "systems", "clues", "arrays"),
    ("facts", "numbers_in_text", "nouns", "parallel", "cluster", "cluster_child", "journal", "limited"),
    ("seeing",),
    ("catalog",),
    ("classroom",),
    ("site",),
    ("web",),
    ("commands",),
    ("cli",),
    ("__main__",),
)
INSIDE = {
    "seeing": ("primitives", "net", "view", "features", "finders", "judging", "look", "corrections", "evaluation"),
    "catalog": ("search", "store", "bundles"),
    "classroom": ("text", "marking", "writers"),
}
LONGEST_MODULE, LONGEST_FUNCTION = 400, 60
LONG_MODULES = {  # each with its reason
    "curator.learning": "scenes and training: tables of shapes, read top to bottom",
}


def imported(path: Path) -> Iterator[str]:
    """The modules of ours that a file imports, early or late, those for the type checker left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    unseen = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and id(node) not in unseen and (node.module or "").startswith("curator"):
            for name in node.names:
                full = f"{node.module}.{name.name}"
                yield full if full in MODULES else str(node.module)


EDGES = {name: set(imported(path)) - {name} for name, path in MODULES.items()}


def room(module: str) -> str:
    return module.split(".")[1] if "." in module else ""


def rank(module: str) -> int:
    return next((i for i, rooms in enumerate(ORDER) if room(module) in rooms), -1)


def test_every_room_has_its_place() -> None:
    known = {name for rooms in ORDER for name in rooms} | {"", "learning", "models"}
    assert {room(module) for module in MODULES} <= known


def test_a_module_imports_only_from_the_rooms_above_it() -> None:
    wrong = [(m, e) for m, found in EDGES.items() for e in found if room(m) != "learning" and rank(e) > rank(m)]
    assert wrong == []
    for parent, rooms in INSIDE.items():
        places = {f"curator.{parent}.{name}": i for i, name in enumerate(rooms)}

        def place(module: str, places: dict[str, int] = places) -> int:
            return next((i for name, i in places.items() if module == name or module.startswith(name + ".")), -1)

        inner = [(m, e) for m, found in EDGES.items() for e in found if place(m) >= 0 and place(e) > place(m)]
        assert inner == []


def test_nothing_at_run_time_imports_learning() -> None:
    assert [(m, e) for m, found in EDGES.items() for e in found if room(e) == "learning" != room(m)] == []


def test_no_module_imports_itself_by_way_of_others() -> None:
    done: set[str] = set()

    def visit(module: str, way: tuple[str, ...]) -> None:
        assert module not in way, " -> ".join((*way[way.index(module) :], module))
        if module not in done:
            for other in EDGES.get(module, ()):
                visit(other, (*way, module))
            done.add(module)

    for module in MODULES:
        visit(module, ())


@pytest.mark.parametrize("word", ["import_module", "__import__("])
def test_imports_are_plain(word: str) -> None:
    assert [m for m, path in MODULES.items() if word in path.read_text(encoding="utf-8")] == []


def test_no_module_is_too_long_and_no_function() -> None:
    long_modules, long_functions = [], []
    for module, path in MODULES.items():
        text = path.read_text(encoding="utf-8")
        if text.count("\n") > LONGEST_MODULE and not any(module.startswith(name) for name in LONG_MODULES):
            long_modules.append((module, text.count("\n")))
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                length = (node.end_lineno or 0) - node.lineno + 1
                name = f"{module}.{node.name}"
                if length > LONGEST_FUNCTION and room(module) != "learning":
                    long_functions.append((name, length))
    assert long_modules == []
    assert long_functions == []

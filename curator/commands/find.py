"""`curator find`: prompts found again."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from curator.commands import hints, words
from curator.commands.options import HERE, AsJson, Catalog, Words
from curator.records import Prompt

if TYPE_CHECKING:
    from curator.catalog.search.index import Found

Limit = Annotated[int, typer.Option("--limit", "-n", min=1, help="How many to show.")]


def find(typed: Words = None, catalog: Catalog = HERE, limit: Limit = 20, as_json: AsJson = False) -> None:
    """Find prompts by fact, number, kind and words, in any mix and order."""
    from curator.catalog.search import index

    asked = " ".join(typed or ())
    found = index.find(catalog, asked, limit=limit)
    if as_json:
        for prompt in found.prompts:
            print(json.dumps(as_dict(catalog, prompt), ensure_ascii=False))
    else:
        _show(found, asked, catalog)


def as_dict(folder: Path, prompt: Prompt) -> dict[str, Any]:
    """All fields by name, with the fact as text and where the picture lies."""
    return asdict(prompt) | {
        "fact": str(prompt.fact) if prompt.fact else None,
        "dots": [dot._asdict() for dot in prompt.dots],
        "picture": str(folder / prompt.picture),
    }


def _show(found: Found, typed: str, folder: Path) -> None:
    """A line a prompt, and how many there are."""
    if not found.prompts:
        _nothing(typed)
        return
    for p in found.prompts:
        said = ", ".join(dict.fromkeys(w for w in (p.title, *p.tags) if w))
        line = f"{words.fact_text(p):<10}{p.kind:<7}{words.cut(p.slug, 30):<31}{said}"
        print(words.cut(line, words.WIDTH))
    print(f"\n{words.many(found.total, 'prompt')}. The pictures lie in {folder}.")
    if found.total > len(found.prompts):
        print(f"{found.total - len(found.prompts)} more:")
        hints.lines([hints.command("find", *typed.split(), "--limit", found.total, catalog=folder)])


def _nothing(typed: str) -> None:
    from curator.catalog.search.gaps import IDEAS
    from curator.catalog.search.query import halves_asked, parse

    print(f'Nothing found for "{words.cut(typed, 50)}".' if typed else "The catalog is empty.")
    asked = parse(typed)
    if asked.words and (asked.numbers or asked.kinds):
        print("Fewer words find more.")
    halves = halves_asked(asked)
    if len(halves) == 1:
        words.wrapped(f"Things that come as {halves[0]}+{halves[0]}: {'; '.join(IDEAS[halves[0]])}.")
    elif not typed:
        print("How to add photos:")
        hints.lines([hints.command("add", "--help")])


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("find")(hints.helped(find))

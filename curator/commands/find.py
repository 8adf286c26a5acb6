"""`curator find, list, show`: prompts found again."""

from __future__ import annotations

import json
import time
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from curator.commands import hints, progress, words
from curator.commands.options import HERE, AsJson, Catalog, Slug, Words
from curator.errors import CuratorError
from curator.records import Prompt

if TYPE_CHECKING:
    from collections.abc import Iterable

    from curator.catalog.search.index import Found

Days = tuple[str, str]  # the first and the last on which a prompt may have been kept, "" for any
Limit = Annotated[int, typer.Option("--limit", "-n", metavar="NUMBER", min=1, help="How many to show.")]
Since = Annotated[
    str,
    typer.Option(metavar="DAY", help="Kept on this day or later: 2025, 2025-09 or 2025-09-14.", show_default=False),
]
Until = Annotated[
    str, typer.Option(metavar="DAY", help="Kept on this day or earlier, written the same.", show_default=False)
]


def find(
    typed: Words = None,
    since: Since = "",
    until: Until = "",
    catalog: Catalog = HERE,
    limit: Limit = 20,
    as_json: AsJson = False,
) -> None:
    """Find prompts by fact, number, kind and words, in any mix and order, and by when they were kept."""
    from curator.catalog.search import index

    asked, kept = " ".join(typed or ()), _kept(since, until)
    _until_read(catalog)
    look = partial(index.find, catalog, asked, limit=limit, since=kept[0], until=kept[1])
    found = look(at_once=not as_json)
    if as_json:
        _as_json(found.prompts, catalog)
        return
    _show_found(found, asked, catalog, kept)
    if index.was_behind(catalog) and (now := look()) != found:
        print("\nFiles were changed by hand since the last look. With them:\n")
        _show_found(now, asked, catalog, kept)


def _kept(since: str, until: str) -> Days:
    """The first and the last day asked for, "" where none is; CuratorError for what is no day, or goes backwards."""
    from curator.catalog.search import days

    first, last = days.first(since) if since else "", days.last(until) if until else ""
    if first and last and first > last:
        wrong = f"Nothing is kept from {first} back to {last}."
        raise CuratorError("Looking in the catalog.", wrong, "Change the two about.", code="input")
    return first, last


def _until_read(catalog: Path) -> None:
    """Show how far a large catalog is read that has no index yet, where somebody looks on."""
    from curator.catalog.search import index

    with progress.bar("Reading the catalog") as tell:
        while tell and (far := index.being_read(catalog)):
            tell(*far)
            time.sleep(0.1)


def list_all(catalog: Catalog = HERE, as_json: AsJson = False) -> None:
    """List every prompt by its name, small facts first."""
    from curator.catalog.search import index

    found = index.find(catalog, "", limit=10**6)
    prompts = sorted(found.prompts, key=lambda p: (p.fact.half if p.fact else 99, p.slug))
    if as_json:
        _as_json(prompts, catalog)
        return
    if not prompts:
        _nothing("", catalog)
    for prompt in prompts:
        print(_row(prompt))
    print(f"\n{words.many(len(prompts), 'prompt')} in {catalog}.")
    _damaged(found, catalog)


def show(
    slug: Slug,
    catalog: Catalog = HERE,
    as_json: AsJson = False,
    picture: Annotated[
        bool, typer.Option(help="Draw the picture, where the terminal can show one.", show_default=False)
    ] = True,
) -> None:
    """Show one prompt: what it shows, what is said about it, and what is still missing."""
    from curator.catalog.store import folder

    prompt = folder.load(catalog, slug)
    if as_json:
        _as_json([prompt], catalog)
        return
    path = folder.picture_path(catalog, prompt)
    if picture and path.is_file():
        from curator.commands import terminal_pictures

        terminal_pictures.show(path)
    print(prompt.slug)
    for name, value in _lines(prompt):
        if value:
            words.wrapped(f"{name:<12}{value}", 0, 12)
    print(f"{'picture':<12}{path}")
    print(f"{'text file':<12}{catalog / slug}.yaml")
    _what_next(prompt, catalog)


def _lines(prompt: Prompt) -> Iterable[tuple[str, str]]:
    from curator.facts import KIND_WORDS

    left = prompt.count(0)
    yield "title", prompt.title
    yield "shows", words.fact_text(prompt) + (f", and {left} left out" if prompt.fact and left else "")
    yield "halves", KIND_WORDS[prompt.kind] if prompt.fact else ""
    yield "grade", words.graded(prompt.grade) + (f", checked by {prompt.checked_by}" if prompt.checked_by else "")
    yield "things", words.joined([word for word in (prompt.thing, prompt.things) if word], "/")
    yield "place", prompt.place
    yield "tags", ", ".join(prompt.tags)
    yield "before", prompt.alt_before
    yield "after", prompt.alt_after
    yield "credit", prompt.credit
    yield "licence", prompt.license
    yield "people", prompt.people
    yield "added", prompt.added
    yield "notes", prompt.notes


def _what_next(prompt: Prompt, catalog: Path) -> None:
    from curator.catalog.prompt import lacks
    from curator.catalog.store import folder

    missing = lacks(prompt)
    if missing:
        words.wrapped(f"Before sharing it still needs {words.joined([words.LACKS[field] for field in missing])}:")
        hints.lines([hints.command("edit", prompt.slug, "--ask", catalog=catalog)])
    back, on = folder.history(catalog, prompt.slug)
    if back:
        print(f"Kept of it: {words.many(back, 'earlier version')}, {words.many(on, 'later one')}.")
        hints.lines([hints.command("edit", prompt.slug, "--undo", catalog=catalog)])


def _as_json(prompts: Iterable[Prompt], catalog: Path) -> None:
    for prompt in prompts:
        text = json.dumps(as_dict(catalog, prompt), ensure_ascii=False)
        print("".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in text))  # 8-bit controls too


def as_dict(folder: Path, prompt: Prompt) -> dict[str, Any]:
    """All fields by name, with the fact as text and where the picture lies."""
    return asdict(prompt) | {
        "fact": str(prompt.fact) if prompt.fact else None,
        "dots": [dot._asdict() for dot in prompt.dots],
        "picture": str(folder / prompt.picture),
    }


def _row(p: Prompt, day: str = "") -> str:
    said = day + ", ".join(dict.fromkeys(w for w in (p.title, *p.tags) if w))
    return words.cut(f"{words.fact_text(p):<11}{p.kind:<7}{words.cut(p.slug, 30):<31}{said}", words.WIDTH)


def _show_found(found: Found, typed: str, folder: Path, kept: Days) -> None:
    """A line a prompt, and how many there are."""
    for word, near in found.instead:
        print(f'Nothing is called "{words.cut(word, 30)}"; this is "{near}".')
    for p in found.prompts:
        print(_row(p, f"{p.added}: " if any(kept) else ""))
    if not found.prompts:
        _nothing(typed, folder, kept)
    else:
        print(f"\n{words.many(found.total, 'prompt')}. The pictures lie in {folder}.")
    if found.total > len(found.prompts):
        print(f"{found.total - len(found.prompts)} more:")
        days = [word for name, day in zip(("--since", "--until"), kept, strict=True) if day for word in (name, day)]
        hints.lines([hints.command("find", *typed.split(), *days, "--limit", found.total, catalog=folder)])
    _damaged(found, folder)


def _damaged(found: Found, folder: Path) -> None:
    if found.damaged:
        print(f"{words.many(found.damaged, 'prompt')} cannot be read. What is wrong:")
        hints.lines([hints.command("check", catalog=folder)])


def _nothing(typed: str, folder: Path, kept: Days = ("", "")) -> None:
    from curator.catalog.search.gaps import IDEAS
    from curator.catalog.search.query import TAUGHT, half_asked, is_beyond, parse

    asked = parse(typed)
    if any(kept):
        said = " ".join(f"{name} {day}" for name, day in zip(("since", "until"), kept, strict=True) if day)
        print(f"Nothing found that was kept {said}.")
        print("At any time:")
        hints.lines([hints.command("find", *typed.split(), catalog=folder)])
        return
    if not typed:
        print("The catalog is empty. How to add photos:")
        hints.lines([hints.command("add", "--help")])
        return
    print(f'Nothing found for "{words.cut(typed, 50)}".')
    if is_beyond(asked):
        print(TAUGHT)
    elif asked.nothing:
        print("Type a fact (7+7), a number, a way that halves lie (flip) or a word (eggs).")
    elif asked.words and (asked.numbers or asked.kinds):
        print("Fewer words find more.")
    if half := half_asked(asked):
        words.wrapped(f"Things that come as {half}+{half}: {'; '.join(IDEAS[half])}.")
    else:
        print("All that is there:")
        hints.lines([hints.command("list", catalog=folder)])


def register(app: typer.Typer) -> None:
    """Add these commands."""
    app.command("find")(hints.helped(find))
    app.command("list")(hints.helped(list_all))
    app.command("show")(hints.helped(show))

"""`curator edit, remove, forget`: what is said about prompts, and taking them out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Annotated

import typer

from curator.commands import hints, words
from curator.commands.ask import ask_missing, for_one
from curator.commands.options import (
    HERE,
    Catalog,
    Credit,
    License,
    Notes,
    PeopleWord,
    Place,
    Slugs,
    Tags,
    ThingsWord,
    ThingWord,
    Title,
    Yes,
)
from curator.errors import CuratorError
from curator.records import Prompt

Untag = Annotated[list[str] | None, typer.Option(metavar="WORD", help="A tag to take off.", show_default=False)]
FacesWord = Annotated[
    str | None,
    typer.Option(
        metavar="WORD", help="You looked at the faces pointed out: consented, or none (no face).", show_default=False
    ),
]
KindWord = Annotated[
    str | None, typer.Option(metavar="WORD", help="How the halves lie: flip, slide, turn or split.", show_default=False)
]
AltBefore = Annotated[
    str | None,
    typer.Option(metavar="WORDS", help="What a screen reader says before the answer; no numbers.", show_default=False),
]
AltAfter = Annotated[
    str | None, typer.Option(metavar="WORDS", help="The same for after the answer.", show_default=False)
]
CheckedBy = Annotated[str | None, typer.Option(metavar="WHO", help="Who counted it again.", show_default=False)]
Ask = Annotated[bool, typer.Option("--ask", help="Ask for what is missing before they may be shared.")]
Undo = Annotated[bool, typer.Option("--undo", help="Go back to the version before; again: further back.")]
Redo = Annotated[bool, typer.Option("--redo", help="Go forward again after --undo.")]


def edit(
    slugs: Slugs,
    catalog: Catalog = HERE,
    title: Title = None,
    thing: ThingWord = None,
    things: ThingsWord = None,
    place: Place = None,
    tag: Tags = None,
    untag: Untag = None,
    notes: Notes = None,
    credit: Credit = None,
    license: License = None,
    people: PeopleWord = None,
    faces: FacesWord = None,
    kind: KindWord = None,
    alt_before: AltBefore = None,
    alt_after: AltAfter = None,
    checked_by: CheckedBy = None,
    ask: Ask = False,
    undo: Undo = False,
    redo: Redo = False,
) -> None:
    """Change what is said about prompts. The version before is kept."""
    said = {"title": title, "thing": thing, "things": things, "place": place, "notes": notes, "credit": credit}
    said |= {"license": license, "people": people, "faces": faces, "kind": kind}
    said |= {"alt_before": alt_before, "alt_after": alt_after, "checked_by": checked_by}
    given = tag or untag or any(value is not None for value in said.values())
    if (undo or redo) and (given or ask or (undo and redo)):
        wrong = "Going back, going forward and changing are steps of their own."
        raise CuratorError("Going back.", wrong, "Use --undo or --redo alone.", code="input")
    if undo or redo:
        for slug in slugs:
            _go(catalog, slug, forward=redo)
    else:
        _change(catalog, slugs, said, tag or (), untag or (), ask=ask)


def _change(
    catalog: Path,
    slugs: Sequence[str],
    said: dict[str, str | None],
    tags: Sequence[str],
    untags: Sequence[str],
    *,
    ask: bool,
) -> None:
    """Say the same of each prompt, and what is missing where that is to be asked for."""
    from curator.catalog import edits
    from curator.catalog.store import folder

    answers = ask_missing([folder.load(catalog, slug) for slug in slugs]) if ask else {}
    for slug in slugs:
        more = for_one(folder.load(catalog, slug), answers) if answers else {}
        old, new = edits.edit(catalog, slug, said | more, tags=tags, untag=untags)
        _show_change(old, new, catalog)


def _go(catalog: Path, slug: str, *, forward: bool) -> None:
    """One step back or forward in a prompt's versions: what that changed, and how far the others reach."""
    from curator.catalog.store import folder

    try:
        old = folder.load(catalog, slug)
    except CuratorError:  # damaged, and going back mends it
        old = None
    new = (folder.redo if forward else folder.undo)(catalog, slug)
    print(f"{slug} is one version {'on' if forward else 'back'}.")
    if old is not None:
        _show_fields(old, new)
    back, on = folder.history(catalog, slug)
    print(f"Kept of it: {words.many(back, 'earlier version')}, {words.many(on, 'later one')}.")
    steps = [("--undo", back), ("--redo", on)]
    hints.lines(hints.command("edit", slug, step, catalog=catalog) for step, count in steps if count)


def _show_change(old: Prompt, new: Prompt, catalog: Path) -> None:
    """Each field that changed, and how to take it back."""
    if new == old:
        file = catalog / f"{new.slug}.yaml"
        words.wrapped(f"Nothing is changed. Its file is {file}; it may be edited by hand too.")
        return
    print(f"{new.slug} is saved.")
    _show_fields(old, new)
    print("To take it back:")
    hints.lines([hints.command("edit", new.slug, "--undo", catalog=catalog)])


def _show_fields(old: Prompt, new: Prompt) -> None:
    was = asdict(old)
    for name, value in asdict(new).items():
        if value != was[name] and name not in ("dots", "line"):
            shown = ", ".join(map(str, value)) if isinstance(value, list | tuple) else value
            words.wrapped(f"{name}: {shown or '(nothing)'}", 2, 2)
    if (new.dots, new.line) != (old.dots, old.line):
        print("  dots and line: moved")


def remove(slugs: Slugs, catalog: Catalog = HERE) -> None:
    """Move prompts to the bin, from where check --bring-back fetches them."""
    from curator.catalog.store import folder

    for slug in slugs:
        folder.remove(catalog, slug)
        print(f"{slug} is in the bin. To bring it back:")
        hints.lines([hints.command("check", "--bring-back", slug, catalog=catalog)])


def forget(
    source: Annotated[
        str,
        typer.Argument(metavar="WHAT", help="The photo's file, its SHA-256, or a prompt's name.", show_default=False),
    ],
    catalog: Catalog = HERE,
    yes: Yes = False,
) -> None:
    """Delete all that came from one photo, for good: prompts, bin, earlier versions, index."""
    from curator.catalog.store.forget import forget as take_out

    words.sure(f"Delete all that came from {source}, for good?", yes)
    gone = take_out(catalog, source)
    print(f"Forgotten: {', '.join(gone.slugs)} ({words.many(gone.files, 'file')}).")
    print("Bundles handed out before are not touched.")


def register(app: typer.Typer) -> None:
    """Add these commands."""
    for command in (edit, remove, forget):
        app.command(command.__name__)(hints.helped(command))

"""`curator add, find, edit, remove, gaps, check, forget`: prompts kept in a catalog and found again."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any, cast

import typer

from curator.commands import keep_output
from curator.commands.tag import AreaText, PhotoPaths, parse_area
from curator.errors import CuratorError
from curator.records import KINDS, PEOPLE, People, Prompt, PromptKind

Catalog = Annotated[Path, typer.Option("--catalog", "-c", envvar="CURATOR_CATALOG", help="The catalog's folder.")]
Words = Annotated[
    list[str] | None, typer.Argument(help="7+7, half of 14, flip, eggs ... Left out: all.", show_default=False)
]
Slug = Annotated[str, typer.Argument(help="A prompt's name, as find shows it.", show_default=False)]
Text = Annotated[str | None, typer.Option(show_default=False)]
Tags = Annotated[
    list[str] | None, typer.Option("--tag", help="A word to find it by; may be repeated.", show_default=False)
]
LicenseText = Annotated[
    str | None, typer.Option("--license", help="Such as CC-BY-4.0 or school-only.", show_default=False)
]
PeopleText = Annotated[str | None, typer.Option("--people", help="none, consented or unknown.", show_default=False)]
HERE = Path("catalog")


def _license(text: str | None) -> str | None:
    """The licence's short name, however its letters are written."""
    from curator.catalog.prompt import LICENSES

    if not text:
        return text
    plain = text.strip().lower().replace(" ", "-")
    for short, known in LICENSES.items():
        if plain in (short.lower(), known.name.lower().replace(" ", "-"), short.lower().removesuffix("-4.0")):
            return short
    raise CuratorError(
        "Reading --license.", f'"{text}" is not a licence that curator knows.', f"Say {' or '.join(LICENSES)}."
    )


def _people(text: str | None) -> People | None:
    if text is None:
        return None
    if text not in PEOPLE:
        wrong = f'"{text}" says nothing about the people in the picture.'
        raise CuratorError("Reading --people.", wrong, "Say none (nobody can be recognised), consented, or unknown.")
    return text


def add(
    photos: PhotoPaths,
    catalog: Catalog = HERE,
    area: AreaText = None,
    title: Text = None,
    thing: Annotated[str | None, typer.Option(help="What is counted, for one: egg.", show_default=False)] = None,
    things: Annotated[str | None, typer.Option(help="What is counted: eggs.", show_default=False)] = None,
    place: Annotated[str | None, typer.Option(help="Where it is: kitchen.", show_default=False)] = None,
    tag: Tags = None,
    notes: Text = None,
    credit: Annotated[str | None, typer.Option(help="Who took the photo.", show_default=False)] = None,
    license: LicenseText = None,
    people: PeopleText = None,
    reading: Annotated[int, typer.Option(min=1, help="Which reading of one photo, as tag --json counts them.")] = 1,
    no_double: Annotated[bool, typer.Option("--no-double", help='Keep it to ask "is it a double?".')] = False,
    take_check: Annotated[bool, typer.Option("--take-check", help="Also add what should be looked at.")] = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
) -> None:
    """Tag photos and keep them in the catalog. What is not sure is shown, not added."""
    from curator.catalog.store import add_photos
    from curator.seeing import batch

    paths = batch.wanted(photos)
    within = parse_area(area, len(paths))
    if reading > 1 and len(paths) != 1:
        raise CuratorError("Reading --reading.", "A reading goes with one photo.", "Name one photo, or leave it out.")
    said = {"title": title, "thing": thing, "things": things, "place": place, "notes": notes, "credit": credit}
    words: dict[str, Any] = {key: value for key, value in said.items() if value is not None}
    words |= {"license": _license(license) or "", "people": _people(people) or "unknown", "tags": tag or ()}
    words |= {"no_double": no_double, "reading": reading - 1}
    take = frozenset({"sure", *(["check"] if take_check else []), *(["no"] if no_double else [])})
    faces_ok = yes or people == "consented"
    if len(paths) == 1:
        tally = keep_output.add_one(catalog, paths[0], within, words, take=take, yes=yes, faces_ok=faces_ok)
    else:
        tally = add_photos.take_all(catalog, paths, within, words, take=take, faces_ok=faces_ok)
    keep_output.show_tally(tally, catalog, several=len(paths) > 1)
    if tally.cut:
        sys.exit(130)
    if not tally.added or tally.errors:
        sys.exit(1)


def find(
    words: Annotated[
        list[str] | None, typer.Argument(help="7+7, half of 14, flip, eggs ...", show_default=False)
    ] = None,
    catalog: Catalog = HERE,
    limit: Annotated[int, typer.Option("--limit", "-n", min=1, help="How many to show.")] = 20,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
) -> None:
    """Find prompts by fact, number, kind and words, in any mix and order."""
    from curator.catalog.search import index

    typed = " ".join(words or ())
    found = index.find(catalog, typed, limit=limit)
    if as_json:
        for prompt in found.prompts:
            print(json.dumps(keep_output.as_dict(catalog, prompt), ensure_ascii=False))
    else:
        keep_output.show_found(found, typed, catalog)


def edit(
    slug: Slug,
    catalog: Catalog = HERE,
    title: Text = None,
    thing: Text = None,
    things: Text = None,
    place: Text = None,
    tag: Tags = None,
    untag: Annotated[list[str] | None, typer.Option(help="A tag to take off.", show_default=False)] = None,
    notes: Text = None,
    credit: Text = None,
    license: LicenseText = None,
    people: PeopleText = None,
    kind: Annotated[str | None, typer.Option(help="flip, slide, turn or split.", show_default=False)] = None,
    alt_before: Annotated[
        str | None, typer.Option(help="Text for who does not see it; no numbers.", show_default=False)
    ] = None,
    alt_after: Annotated[str | None, typer.Option(help="The same for after the answer.", show_default=False)] = None,
    checked_by: Annotated[str | None, typer.Option(help="Who counted it again.", show_default=False)] = None,
    undo: Annotated[bool, typer.Option("--undo", help="Take back the last change.")] = False,
) -> None:
    """Change what is said about a prompt. The version before is kept."""
    from curator.catalog.store import folder

    if undo:
        back = folder.undo(catalog, slug)
        print(f"{back.slug} is as it was before the last change.")
        return
    version = folder.version(catalog, slug)
    old = folder.load(catalog, slug)
    said = {
        "title": title,
        "thing": thing,
        "things": things,
        "place": place,
        "notes": notes,
        "credit": credit,
        "license": _license(license),
        "people": _people(people),
        "kind": _kind(kind, old),
        "alt_before": alt_before,
        "alt_after": alt_after,
        "checked_by": checked_by,
    }
    new = keep_output.edited(old, said, tag or [], untag or [])
    if new == old:
        print(f"Nothing is changed. Its file is {catalog / slug}.yaml; it may be edited by hand too.")
        return
    folder.replace(catalog, new, expected=version)
    keep_output.show_change(old, new)


def _kind(text: str | None, old: Prompt) -> PromptKind | None:
    if text is None or text == old.kind:
        return None
    if old.fact is None or text not in KINDS:
        wrong = "It shows no double." if old.fact is None else f'"{text}" is not a way that halves lie.'
        raise CuratorError("Reading --kind.", wrong, "A double is one of flip, slide, turn, split.")
    return cast(PromptKind, text)


def remove(
    slugs: Annotated[list[str], typer.Argument(help="Prompts.", show_default=False)], catalog: Catalog = HERE
) -> None:
    """Move prompts to the bin, from where check --bring-back fetches them."""
    from curator.catalog.store import folder

    for slug in slugs:
        folder.remove(catalog, slug)
        print(f"{slug} is in the bin. To bring it back: curator check --bring-back {slug}")


def gaps(
    catalog: Catalog = HERE, as_json: Annotated[bool, typer.Option("--json", help="The board as JSON.")] = False
) -> None:
    """Show which facts have too few pictures, and what to photograph next."""
    from curator.catalog.search.gaps import gaps as board

    rows = board(catalog)
    if as_json:
        print(
            json.dumps([{"fact": str(r.fact), "counts": r.counts, "ideas": r.ideas} for r in rows], ensure_ascii=False)
        )
    else:
        keep_output.show_gaps(rows)


def check(
    catalog: Catalog = HERE,
    quick: Annotated[bool, typer.Option("--quick", help="Do not open the pictures.")] = False,
    tidy: Annotated[bool, typer.Option("--tidy", help="Take away what cut-off changes left.")] = False,
    bring_back: Annotated[
        str | None, typer.Option(metavar="SLUG", help="Fetch a prompt from the bin.", show_default=False)
    ] = None,
    empty_bin: Annotated[bool, typer.Option("--empty-bin", help="Delete all that lies in the bin, for good.")] = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
) -> None:
    """List each problem of the catalog with its remedy."""
    from curator.catalog.store import folder

    if bring_back is not None:
        print(f"{folder.bring_back(catalog, bring_back).slug} is back in the catalog.")
        return
    if empty_bin:
        keep_output.sure("Delete all that lies in the bin, for good?", yes)
        gone = folder.empty_bin(catalog)
        print(f"{gone} prompt{'' if gone == 1 else 's'} deleted for good.")
        return
    if tidy:
        print(f"{folder.tidy(catalog)} left-over files taken away.")
    problems = folder.check(catalog, pictures=not quick)
    if as_json:
        for p in problems:
            print(
                json.dumps({"name": p.name, "wrong": p.wrong, "remedy": p.remedy, "note": p.note}, ensure_ascii=False)
            )
    else:
        keep_output.show_problems(problems, folder.count(catalog))
    if any(not problem.note for problem in problems):
        sys.exit(1)


def forget(
    source: Annotated[
        str, typer.Argument(help="The photo's file, its SHA-256, or a prompt's name.", show_default=False)
    ],
    catalog: Catalog = HERE,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")] = False,
) -> None:
    """Delete all that came from one photo, for good: prompts, bin, earlier versions, index."""
    from curator.catalog.store.forget import forget as take_out

    keep_output.sure(f"Delete all that came from {source}, for good?", yes)
    gone = take_out(catalog, source)
    print(f"Forgotten: {', '.join(gone.slugs)} ({gone.files} files). Bundles handed out before are not touched.")


def register(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    for command in (add, find, edit, remove, gaps, check, forget):
        app.command(command.__name__)(command)

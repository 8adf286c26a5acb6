"""`curator add`: photos tagged and kept."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from curator.commands import add_output, hints
from curator.commands.options import (
    HERE,
    AreaText,
    Catalog,
    Cluster,
    Credit,
    License,
    Notes,
    PeopleWord,
    PhotoPaths,
    Place,
    Tags,
    ThingsWord,
    ThingWord,
    Title,
    Yes,
    parse_area,
)
from curator.commands.progress import bar
from curator.errors import CuratorError


def add(
    photos: PhotoPaths,
    catalog: Catalog = HERE,
    area: AreaText = None,
    title: Title = None,
    thing: ThingWord = None,
    things: ThingsWord = None,
    place: Place = None,
    tag: Tags = None,
    notes: Notes = None,
    credit: Credit = None,
    license: License = None,
    people: PeopleWord = None,
    reading: Annotated[int, typer.Option(min=1, help="Which reading of one photo, as tag --json counts them.")] = 1,
    no_double: Annotated[bool, typer.Option("--no-double", help='Keep it to ask "is it a double?".')] = False,
    take_check: Annotated[bool, typer.Option("--take-check", help="Also add what should be looked at.")] = False,
    cluster: Cluster = "",
    yes: Yes = False,
) -> None:
    """Tag photos and keep them in the catalog. What is not sure is shown, not added."""
    from curator.catalog import edits
    from curator.catalog.store import add_photos
    from curator.seeing import batch

    paths = batch.wanted(photos)
    within = parse_area(area, len(paths))
    if reading > 1 and len(paths) != 1:
        raise CuratorError("Reading --reading.", "A reading goes with one photo.", "Name one photo, or leave it out.")
    said = {"title": title, "thing": thing, "things": things, "place": place, "notes": notes, "credit": credit}
    words: dict[str, Any] = {key: value for key, value in said.items() if value is not None}
    words |= {"license": edits.license_of(license or ""), "people": edits.people_of(people or "unknown")}
    words |= {"tags": tag or (), "no_double": no_double, "reading": reading - 1}
    take = frozenset({"sure", *(["check"] if take_check else []), *(["no"] if no_double else [])})
    faces_ok = yes or people == "consented"
    if len(paths) == 1:
        tally = add_output.add_one(catalog, paths[0], within, words, take=take, yes=yes, faces_ok=faces_ok)
    else:
        with bar("Looking") as progress:
            tally = add_photos.take_all(
                catalog, paths, within, words, take=take, faces_ok=faces_ok, progress=progress, cluster=cluster
            )
    add_output.show_tally(tally, catalog, several=len(paths) > 1)
    if tally.cut:
        sys.exit(130)
    if not tally.added or tally.errors:
        sys.exit(1)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("add")(hints.helped(add))

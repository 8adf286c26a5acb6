"""`curator add`: photos tagged and kept."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated, Any

import typer

from curator.commands import add_asking, add_output, hints, outputs, settings, words
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
from curator.commands.progress import for_lessons, two_bars
from curator.errors import CuratorError

Sheet = Annotated[
    Path | None,
    typer.Option(
        metavar="FILE", help="Draw what should be looked at here, readings numbered: look.jpg.", show_default=False
    ),
]
Numbered = Annotated[
    int | None,
    typer.Option(
        metavar="NUMBER", min=1, help="Take this reading of one photo, as the sheet numbers them.", show_default=False
    ),
]
NoDouble = Annotated[bool, typer.Option("--no-double", help='Keep it to ask "is it a double?".')]
TakeCheck = Annotated[bool, typer.Option("--take-check", help="Also add what should be looked at.")]


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
    sheet: Sheet = None,
    reading: Numbered = None,
    no_double: NoDouble = False,
    take_check: TakeCheck = False,
    cluster: Cluster = "",
    yes: Yes = False,
    replace: Annotated[bool, outputs.Replace] = False,
) -> None:
    """Tag photos and keep them in the catalog. What is not sure is shown and asked, not added."""
    from curator.seeing import batch

    paths = batch.wanted(photos)
    within = parse_area(area, len(paths))
    if reading is not None and len(paths) != 1:
        wrong = "A reading goes with one photo."
        raise CuratorError("Reading --reading.", wrong, "Name one photo, or leave it out.", code="input")
    said = {"title": title, "thing": thing, "things": things, "place": place, "notes": notes, "credit": credit}
    said |= {"license": license, "people": people}
    told = _told(said, tag or ()) | {"no_double": no_double, "reading": None if reading is None else reading - 1}
    told |= {"checked_by": "teacher"} if reading is not None else {}
    looked = take_check or reading is not None or (yes and len(paths) == 1)
    take = frozenset({"sure", *(["check"] if looked else []), *(["no"] if no_double else [])})
    asking = words.is_terminal() and not yes
    if asking and len(paths) == 1:
        told = add_asking.ask_things(catalog, told)
    names = dict(zip(paths, batch.names(paths), strict=True))
    asked = add_output.Batch(catalog, tuple(photos), names, _once_more(said, tag or (), area))
    free = yes or people == "consented"
    with outputs.kept([sheet], replace) if sheet is not None else nullcontext():
        _add(asked, within, told, take, faces_ok=free, sheet=sheet, asking=asking, cluster=cluster)


def _told(said: dict[str, str | None], tags: Sequence[str]) -> dict[str, Any]:
    """What is said of every photo, checked, with both names of a common thing."""
    from curator.catalog import edits
    from curator.nouns import both

    told: dict[str, Any] = {key: value for key, value in said.items() if value is not None}
    told["thing"], told["things"] = both(said["thing"] or "", said["things"] or "")
    told |= {"license": edits.license_of(said["license"] or ""), "people": edits.people_of(said["people"] or "unknown")}
    return told | {"tags": tags}


def _once_more(said: dict[str, str | None], tags: Sequence[str], area: str | None) -> tuple[str, ...]:
    """The options that say the same again in a command that is shown; what the settings say need not be."""
    usual = settings.read()
    again = [word for key, value in said.items() if value and value != usual.get(key) for word in (f"--{key}", value)]
    again += [word for one in tags for word in ("--tag", one)]
    return (*again, "--area", area) if area else (*again,)


def _add(
    asked: add_output.Batch,
    area: Any,
    told: dict[str, Any],
    take: frozenset[str],
    *,
    faces_ok: bool,
    sheet: Path | None,
    asking: bool,
    cluster: str,
) -> None:
    """Look at all photos, draw and ask about the doubtful ones, say what came of it; ends with the exit status."""
    from curator.catalog.store import add_photos

    paths = list(asked.names)
    with two_bars("Looking at what you kept of these", "Looking", shown=len(paths) > 1) as (before, progress):
        told_to = {"progress": progress, "before": before}
        tally = add_photos.take_all(
            asked.catalog, paths, area, told, take=take, faces_ok=faces_ok, cluster=cluster, **told_to
        )
    drawn = sheet
    if tally.look and (sheet is not None or asking):
        drawn = add_asking.draw_sheet(tally.look, asked, sheet)
    if tally.look and asking and not tally.cut and drawn is not None:
        add_asking.ask_about(tally, asked, drawn)
    add_output.show_tally(tally, asked, sheet=drawn if tally.look else None)
    if tally.cut:
        sys.exit(130)
    if not cluster:  # of so many that a cluster looks at them a lesson shows few
        for_lessons(asked.catalog, [prompt.slug for prompt in tally.added])
    if not tally.added or tally.errors:
        sys.exit(1)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("add")(hints.helped(add))

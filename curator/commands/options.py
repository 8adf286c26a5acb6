"""Arguments and options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from curator.errors import CuratorError
from curator.records import Area

HERE = Path("catalog")
Catalog = Annotated[
    Path,
    typer.Option(
        "--catalog",
        "-c",
        metavar="FOLDER",
        envvar="CURATOR_CATALOG",
        show_envvar=False,  # said once, in the help of `settings`
        help="The catalog's folder.",
    ),
]
PhotoPaths = Annotated[
    list[Path], typer.Argument(metavar="PHOTO", help="Photos, or folders of photos.", show_default=False)
]
Words = Annotated[
    list[str] | None,
    typer.Argument(metavar="WORDS", help="7+7, half of 14, flip, eggs ... Left out: all.", show_default=False),
]


def _names(context: typer.Context, incomplete: str) -> list[str]:
    """Names in the catalog that begin so, for the shell's completion."""
    from curator.catalog import reading
    from curator.commands.settings import usual_catalog

    folder = Path(context.params.get("catalog") or usual_catalog())
    return sorted(slug for slug, _ in reading.slugs(folder) if slug.startswith(incomplete)) if folder.is_dir() else []


Slug = Annotated[
    str,
    typer.Argument(
        metavar="NAME", help="A prompt's name, as list shows it.", show_default=False, autocompletion=_names
    ),
]
Slugs = Annotated[
    list[str],
    typer.Argument(
        metavar="NAME", help="Names of prompts, as list shows them.", show_default=False, autocompletion=_names
    ),
]
Title = Annotated[str | None, typer.Option(metavar="WORDS", help='Its title: "Eggs, kitchen".', show_default=False)]
ThingWord = Annotated[
    str | None, typer.Option(metavar="WORD", help="What is counted, for one: egg.", show_default=False)
]
ThingsWord = Annotated[str | None, typer.Option(metavar="WORD", help="What is counted: eggs.", show_default=False)]
Place = Annotated[str | None, typer.Option(metavar="WORDS", help="Where it is: kitchen.", show_default=False)]
Notes = Annotated[
    str | None, typer.Option(metavar="WORDS", help="Your own notes; they stay with you.", show_default=False)
]
Credit = Annotated[str | None, typer.Option(metavar="WHO", help='Who took the photo: "Room 4".', show_default=False)]
Tags = Annotated[
    list[str] | None,
    typer.Option("--tag", metavar="WORD", help="A word to find it by; may be repeated.", show_default=False),
]
License = Annotated[
    str | None,
    typer.Option("--license", metavar="LICENCE", help="Such as CC-BY-4.0 or school-only.", show_default=False),
]
PeopleWord = Annotated[
    str | None,
    typer.Option(
        "--people",
        metavar="WORD",
        help="none (nobody can be recognised), consented (all were asked), or unknown.",
        show_default=False,
    ),
]
Yes = Annotated[bool, typer.Option("--yes", "-y", help="Do not ask.")]
Cluster = Annotated[
    str,
    typer.Option(
        metavar="ADDRESS",
        help="Hand the photos to a Dask cluster whose workers see the same folders, like tcp://lab:8786.",
        show_default=False,
    ),
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON object a line.")]
AreaText = Annotated[
    str | None,
    typer.Option(
        "--area",
        metavar="NUMBERS",
        help="Look only inside left,top,right,bottom, as fractions of one photo: 0,0,0.5,1.",
        show_default=False,
    ),
]


def parse_area(text: str | None, photos: int) -> Area | None:
    """Four fractions, left < right and top < bottom; CuratorError for anything else."""
    if text is None:
        return None
    doing = "Reading --area."
    if photos != 1:
        raise CuratorError(doing, "An area goes with one photo.", "Name one photo, or leave --area out.", code="input")
    try_this = "Write it like --area 0.1,0.2,0.9,0.8."
    try:
        left, top, right, bottom = (float(part) for part in text.split(","))
    except ValueError:
        raise CuratorError(doing, f'"{text}" is not four numbers.', try_this, code="input") from None
    if not (0 <= left < right <= 1 and 0 <= top < bottom <= 1):
        wrong = f'"{text}" is not left,top,right,bottom between 0 and 1.'
        raise CuratorError(doing, wrong, try_this, code="input")
    return Area(left, top, right, bottom)

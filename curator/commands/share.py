"""`curator pack, receive`: prompts handed to a colleague, and taken from one."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curator.commands import hints, outputs, share_output
from curator.commands.options import HERE, Catalog, Words
from curator.commands.progress import bar, for_lessons

if TYPE_CHECKING:
    from curator.records import Prompt


def pack(
    words: Words = None,
    output: Annotated[Path, typer.Option("--output", "-o", metavar="FILE", help="The bundle: set.zip.")] = Path(
        "set.zip"
    ),
    catalog: Catalog = HERE,
    inside_school: Annotated[
        bool, typer.Option("--inside-school", help="For colleagues of this school: school-only pictures go along.")
    ] = False,
    faces_ok: Annotated[
        list[str] | None,
        typer.Option("--faces-ok", metavar="NAME", help="You looked at the faces in this one.", show_default=False),
    ] = None,
    notes: Annotated[bool, typer.Option("--notes", help="Send your notes along too.")] = False,
    replace: Annotated[bool, outputs.Replace] = False,
    marked: Annotated[
        bool, typer.Option("--marked", help="Also pack each picture ringed, and with one half covered.")
    ] = False,
) -> None:
    """Make a bundle for a colleague: what WORDS find, each with its rights in order."""
    from curator.catalog import bundle

    marks = marked_pictures if marked else None
    with outputs.kept([output], replace), bar("Packing") as progress:
        made = bundle.pack(
            catalog,
            " ".join(words or ()),
            output,
            inside=inside_school,
            faces_ok=faces_ok or (),
            notes=notes,
            marks=marks,
            progress=progress,
        )
    share_output.show_packed(made, catalog)


def receive(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A bundle, from curator pack.", show_default=False)],
    catalog: Catalog = HERE,
    take: Annotated[
        list[str] | None,
        typer.Option("--take", metavar="NAME", help="Take this one as it is in the bundle.", show_default=False),
    ] = None,
    faces_ok: Annotated[
        list[str] | None,
        typer.Option("--faces-ok", metavar="NAME", help="Faces in this one may be shown here.", show_default=False),
    ] = None,
) -> None:
    """Take a colleague's bundle into the catalog. Nothing that is here already is changed unless you say so."""
    from curator.catalog import bundle

    with bar("Receiving") as progress:
        got = bundle.receive(catalog, file, take=take or (), faces_ok=faces_ok or (), progress=progress)
    for_lessons(catalog, [prompt.slug for prompt in got.added])
    share_output.show_received(got, catalog, file)
    if got.refused:
        sys.exit(1)


def marked_pictures(folder: Path, prompt: Prompt) -> dict[str, bytes]:
    """JPEGs with the halves ringed and one half covered; ringed only where there is no double."""
    from curator.classroom import pictures

    made = {"ringed": pictures.ringed(folder, prompt)[0].data} if prompt.dots else {}
    if prompt.fact is not None:
        covered = pictures.covered(folder, prompt)
        made |= {"covered": covered[0].data} if covered else {}
    return made


def register(app: typer.Typer) -> None:
    """Add this group's commands."""
    app.command()(hints.helped(pack))
    app.command()(hints.helped(receive))

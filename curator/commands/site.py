"""`curator site`: the catalog as a folder of pages to read."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from curator.commands import hints, share_output
from curator.commands.options import HERE, Catalog, Words
from curator.commands.progress import bar
from curator.commands.words import many, wrapped


def site(
    words: Words = None,
    output: Annotated[
        Path,
        typer.Option("--output", "-o", metavar="FOLDER", help="The folder for the pages; one made before is updated."),
    ] = Path("site"),
    catalog: Catalog = HERE,
    inside_school: Annotated[
        bool,
        typer.Option(
            "--inside-school",
            help="For colleagues of this school: pictures without a licence, for this school only, "
            "or where nobody said who is in them go along, and each says so.",
        ),
    ] = False,
    faces_ok: Annotated[
        bool, typer.Option("--faces-ok", help="You looked at the pictures where faces may be seen.")
    ] = False,
    language: Annotated[str, typer.Option(metavar="LANGUAGE", help="Of the questions for the class: en or es.")] = "en",
) -> None:
    """Make pages to read on a shared drive or any web server: board, search, classroom view, credits."""
    from curator.classroom.text.language import load
    from curator.site.build import build
    from curator.site.prompt_files import Wish

    load(language)
    wish = Wish(inside_school, faces_ok, language)
    with bar("Making the site") as progress:
        made = build(catalog, " ".join(words or ()), output, wish, progress=progress)
    share_output.show_refused("Left out:", made.refused, hints.of_refused(made.refused, catalog))
    for sentence in made.warned:
        wrapped(sentence, 0, 2)
    same = f", {made.again} of them unchanged" if made.again else ""
    print(f"{many(len(made.shown), 'prompt')}{same}, {made.octets / 1e6:.1f} MB.")
    print(f"Open {output / 'index.html'} in a browser.")


def register(app: typer.Typer) -> None:
    """Add this group's commands."""
    app.command()(hints.helped(site))

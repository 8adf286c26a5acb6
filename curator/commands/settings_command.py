"""`curator settings`: what is taken where nothing is said."""

from __future__ import annotations

from typing import Annotated

import typer

from curator.commands import hints, settings, words
from curator.errors import CuratorError


def show_settings(
    catalog: Annotated[
        str | None, typer.Option("--catalog", "-c", metavar="FOLDER", help="The catalog's folder.", show_default=False)
    ] = None,
    language: Annotated[
        str | None, typer.Option(metavar="LANGUAGE", help="Of lessons and sites: en or es.", show_default=False)
    ] = None,
    credit: Annotated[
        str | None, typer.Option(metavar="WHO", help='Who took the photos: "Room 4".', show_default=False)
    ] = None,
    license: Annotated[
        str | None,
        typer.Option(metavar="LICENCE", help="Of new photos: CC-BY-4.0, school-only ...", show_default=False),
    ] = None,
) -> None:
    """Show what is taken where you do not say it, or set it; "" takes a setting off. The environment variable
    CURATOR_CATALOG goes before the catalog set here.
    """
    said = {"catalog": catalog, "language": language, "credit": credit, "license": license}
    changes = {key: _checked(key, value) for key, value in said.items() if value is not None}
    now = settings.write(changes) if changes else settings.read()
    for key in settings.KEYS:
        print(f"{key:<10}{now.get(key, '(not set)')}")
    words.wrapped(f"They are kept in {settings.file()}")


def _checked(key: str, value: str) -> str:
    """The value as it is stored. CuratorError for one that cannot be."""
    from pathlib import Path

    from curator.catalog import edits
    from curator.catalog.prompt import clean
    from curator.classroom.text.language import load

    if key == "license":
        return edits.license_of(value)
    if key == "language" and value:
        load(value)
    if key == "catalog" and value:
        place = Path(value).expanduser().absolute()
        if place.is_file():
            raise CuratorError(settings.DOING, f"{value} is a file.", "Name a folder for the catalog.", code="input")
        return str(place)
    return clean(value)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("settings")(hints.helped(show_settings))

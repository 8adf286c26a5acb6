"""pictures: all classroom pictures of one prompt, as files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curator.commands import hints, outputs, words
from curator.commands.options import HERE, Catalog, Slug
from curator.errors import LessonError

if TYPE_CHECKING:
    from curator.classroom.pictures import Picture

DOING = "Making the pictures."


def pictures(
    slug: Slug,
    output: Annotated[
        Path,
        typer.Option("--output", "-o", metavar="FOLDER", help="The folder to put them in; made where it is not there."),
    ],
    some: Annotated[
        int,
        typer.Option(
            metavar="NUMBER", help="How many things to cover in cover-some: not half. Left out: one fewer than half."
        ),
    ] = 0,
    catalog: Catalog = HERE,
    replace: Annotated[bool, outputs.Replace] = False,
) -> None:
    """Make the pictures of one prompt: plain, dots, rings, covers, ten frame, number bond."""
    from curator.catalog.store import folder
    from curator.classroom import pictures as made

    prompt = folder.load(catalog, slug)
    try:
        files = made.every(catalog, prompt, k=some)
    except ValueError as error:
        wrong = f'{some} of {prompt.total} things cannot be covered as "not half".'
        raise LessonError(DOING, wrong, "Give a smaller number than the total that is not half of it.") from error
    with outputs.kept([output / f"{one.name}{one.suffix}" for one in files], replace):
        _write(files, output)
    if prompt.fact and not {"cover-one", "cover-other"} <= {one.name for one in files}:
        words.wrapped("Note: Its things overlap; a cover that would not hide just those it should is left out.", 0, 2)
    widest = next(one.width for one in files if one.name == "plain")
    typer.echo(f"{output}: {len(files)} pictures of {prompt.title or slug}.")
    if widest < made.WIDE:
        size = f"the photo is {widest} pixels wide where it counts; a full screen has {made.WIDE}"
        words.wrapped(f"Note: {size}. Nothing was enlarged.", 0, 2)


def _write(files: list[Picture], output: Path) -> None:
    """Each file whole or not at all."""
    from curator.catalog.files import write

    try:
        output.mkdir(parents=True, exist_ok=True)
        for one in files:
            write(output / f"{one.name}{one.suffix}", one.data)
    except OSError as error:
        wrong = f"They cannot be written to {output} ({error.strerror or error})."
        raise LessonError(DOING, wrong, "Choose a folder that you may write to, with room on it.") from error


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command()(hints.helped(pictures))

"""look-again: is a photo fit for the room?"""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from curator.commands import hints, words
from curator.commands.options import HERE, Catalog
from curator.errors import CuratorError, PhotoError

if TYPE_CHECKING:
    from curator.classroom import photo_checks

Seat = Annotated[float, typer.Option(metavar="NUMBER", help="Metres from the screen to the back seat.")]
Screen = Annotated[
    float, typer.Option(metavar="NUMBER", help="Height of the screen in metres: 0.93 for 75 inches, 1.07 for 86.")
]


def look_again(
    slugs: Annotated[
        list[str] | None, typer.Argument(metavar="NAME", help="Names of prompts. Left out: all.", show_default=False)
    ] = None,
    catalog: Catalog = HERE,
    seat: Seat = 8.0,
    screen: Screen = 0.93,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
) -> None:
    """Measure whether photos are fit for the room: size, blur, light, edges, look-alikes, print. Nothing is refused.

    Print is looked for where the optional extra `print` is installed.
    """
    from curator.catalog.store import folder
    from curator.classroom import photo_checks
    from curator.classroom.text.language import text
    from curator.seeing import print_reader

    place = sized(seat, screen)
    prompts = [folder.load(catalog, slug) for slug in slugs] if slugs else list(folder.every(catalog))
    clear, broken = 0, 0
    for prompt in prompts:
        try:
            notes = photo_checks.look_again(catalog, prompt, place)
        except PhotoError as error:
            print(f"{error.doing} {error.wrong} {error.try_this}", file=sys.stderr)
            broken += 1
            continue
        clear += not notes
        _show(prompt.slug, [(note.name, note.value, note.limit, note.say("en")) for note in notes], as_json)
    if not as_json:
        print(_sum(len(prompts) - broken, clear))
        words.wrapped(text("en", "room.looked" if print_reader.installed() else "room.numerals"))
    if broken:
        sys.exit(1)


def _sum(looked: int, clear: int) -> str:
    noted = looked - clear
    found = "something to point out" if noted else "nothing to point out"
    return f"{words.many(looked, 'photo')} looked at: {found}{f' in {noted}' if noted and looked > 1 else ''}."


def _show(slug: str, notes: list[tuple[str, float, float, str]], as_json: bool) -> None:
    if as_json:
        told = [dict(zip(("name", "value", "limit", "note"), note, strict=True)) for note in notes]
        print(json.dumps({"slug": slug, "notes": told}, ensure_ascii=False))
    elif notes:
        print(slug)
        for *_, note in notes:
            words.wrapped(note, 2)


def sized(seat: float, screen: float) -> photo_checks.Room:
    """The room; CuratorError for one that no class fits into."""
    from curator.classroom import photo_checks

    for name, value, least, most in (("--seat", seat, 0.5, 50.0), ("--screen", screen, 0.1, 10.0)):
        if not least <= value <= most:
            raise CuratorError(
                f"Reading {name}.",
                f"{value:g} metres is not a length it can have.",
                f"Give {least:g} to {most:g}, in metres.",
            )
    return photo_checks.Room(seat, screen)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command("look-again")(hints.helped(look_again))

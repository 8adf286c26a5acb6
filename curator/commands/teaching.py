"""The commands that make something to teach with."""

from __future__ import annotations

import typer

from curator.commands.lessons import lesson
from curator.commands.picturing import pictures
from curator.commands.rooms import look_again


def register(app: typer.Typer) -> None:
    """Add this group's commands."""
    app.command()(lesson)
    app.command()(pictures)
    app.command("look-again")(look_again)

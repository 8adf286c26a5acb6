"""The commands that make something to teach with."""

from __future__ import annotations

import typer

from curator.commands.lessons import lesson


def register(app: typer.Typer) -> None:
    """Add this group's commands."""
    app.command()(lesson)

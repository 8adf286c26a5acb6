"""The command line: a thin shell; each group of commands is one file in `commands`."""

from __future__ import annotations

import sys

import typer

from curator.commands import add, check, edit, find, lesson, look_again, pictures, serve, share, site, tag
from curator.errors import CuratorError

app = typer.Typer(
    help="Finds the doubles in the photos you already have, and makes the lesson.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for group in (tag, add, find, edit, check, lesson, pictures, look_again, share, site, serve):
    group.register(app)


def main() -> None:
    """Run a command; every error a person can mend is three short sentences on standard error, exit code 1."""
    try:
        app()
    except CuratorError as error:
        said = (error.doing, error.wrong, error.try_this, *(f"  {line}" for line in getattr(error, "__notes__", ())))
        print("\n".join(said), file=sys.stderr)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(0)

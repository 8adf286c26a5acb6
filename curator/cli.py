"""The command line: a thin shell; each group of commands is one file in `commands`."""

from __future__ import annotations

import sys
from typing import Annotated

import typer
from typer.models import CommandInfo

from curator import __version__
from curator.commands import (
    add,
    check,
    edit,
    find,
    lesson,
    look_again,
    pictures,
    serve,
    settings,
    settings_command,
    share,
    site,
    tag,
    usage,
)
from curator.commands.plain_help import Plain
from curator.errors import CuratorError

app = typer.Typer(
    help="Finds the doubles in the photos you already have, and makes the lesson.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
GROUPS = (tag, add, find, edit, check, lesson, pictures, look_again, share, site, serve, settings_command)
for group in GROUPS:
    group.register(app)
LISTED = {  # the list of commands, in the order in which a teacher meets them; a line each
    "serve": "Open the page for photos, finding, showing and lessons.",
    "tag": "Say which doubles fact each photo shows, and why.",
    "add": "Tag photos and keep them in the catalog.",
    "find": "Find prompts: 7+7, half of 14, flip, eggs ...",
    "list": "List every prompt by its name.",
    "show": "Show one prompt and what is still missing.",
    "edit": "Change what is said about prompts, go back, go forward.",
    "remove": "Move prompts to the bin.",
    "forget": "Delete all that came from one photo, for good.",
    "gaps": "Show what is missing and what to photograph next.",
    "check": "List what is wrong in the catalog, with its remedy.",
    "lesson": "Make a lesson: slides, a page, cards, pictures or a plan.",
    "pictures": "Make the classroom pictures of one prompt.",
    "look-again": "Measure whether photos serve in your room.",
    "pack": "Make a bundle for a colleague.",
    "receive": "Take a colleague's bundle into the catalog.",
    "site": "Make pages to read for colleagues who install nothing.",
    "settings": "Keep your catalog, language, credit and licence.",
    "score": "Compare the answers with a folder of labelled photos.",
}


def _place(info: CommandInfo) -> int:
    name = str(info.name or getattr(info.callback, "__name__", ""))
    info.short_help = LISTED.get(name)
    return list(LISTED).index(name) if name in LISTED else len(LISTED)


app.registered_commands.sort(key=_place)
for listed in app.registered_commands:
    listed.cls = Plain


def _version(asked: bool) -> None:
    if asked:
        print(f"curator {__version__}")
        raise typer.Exit


@app.callback()
def start(
    context: typer.Context,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    """Finds the doubles in the photos you already have, and makes the lesson."""
    context.default_map = settings.defaults()


def main() -> None:
    """Run a command; every error a person can mend is three short sentences on standard error, exit code 1, or 2 where
    the command could not be read.
    """
    _utf8()
    try:
        sys.exit(app(standalone_mode=False))
    except usage.UsageError as error:
        if usage.asks_for_help(error):
            print(error, file=sys.stderr)
        else:
            _say(usage.told(error))
        sys.exit(2)
    except CuratorError as error:
        _say(error)
        sys.exit(1)
    except (typer.Abort, KeyboardInterrupt):
        print("Stopped.", file=sys.stderr)
        sys.exit(1)
    except BrokenPipeError:
        sys.exit(0)


def _say(error: CuratorError) -> None:
    said = (error.doing, error.wrong, error.try_this, *(f"  {line}" for line in getattr(error, "__notes__", ())))
    print("\n".join(said), file=sys.stderr)


def _utf8() -> None:
    """A pipe on Windows has an old encoding in which a title may not be written; there every sign counts the same."""
    for stream in (sys.stdout, sys.stderr):
        if (getattr(stream, "encoding", "") or "").lower().replace("-", "") != "utf8" and hasattr(
            stream, "reconfigure"
        ):
            stream.reconfigure(errors="replace")

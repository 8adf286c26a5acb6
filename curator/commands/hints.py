"""The next command to type, so that it runs as it is printed: curator as it was started, names quoted, -c said."""

from __future__ import annotations

import functools
import os
import shlex
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from curator.commands import settings
from curator.errors import Code, CuratorError

if TYPE_CHECKING:
    from curator.catalog.bundles.rights import Refused
    from curator.catalog.store.check import Problem

Command = TypeVar("Command", bound=Callable[..., Any])


def program() -> str:
    """How to start curator from here: its name where the shell finds it, else the way it was started."""
    me = Path(sys.argv[0])
    if me.name == "__main__.py" and me.parent.name == "curator":
        return f"{quoted(sys.executable)} -m curator"
    found = shutil.which("curator")
    if me.stem.lower() != "curator" or not me.exists() or (found and Path(found).samefile(me)):
        return "curator"
    here = Path(os.path.abspath(me))
    inside = here.is_relative_to(Path.cwd())
    return quoted(str(here.relative_to(Path.cwd())) if inside else str(here))


def quoted(word: str) -> str:
    """One word of a command as this system's shell reads it."""
    return subprocess.list2cmdline([word]) if os.name == "nt" else shlex.quote(word)


def command(*words: object, catalog: Path | None = None) -> str:
    """A whole command; -c is said where the catalog is not the one that is used without it."""
    place = ["-c", catalog] if catalog is not None and str(catalog) != usual_catalog() else []
    return " ".join([program(), *(quoted(str(word)) for word in (*words, *place))])


def usual_catalog() -> str:
    """The catalog that a command takes when none is named."""
    return os.environ.get("CURATOR_CATALOG") or str(settings.usual_catalog())


def of_error(error: CuratorError, catalog: Path | None) -> list[str]:
    """Commands that help after this error; none where there is nothing to type."""
    if error.parts and catalog is not None:
        return of_refused(error.parts, catalog)
    slug = error.slug
    known: dict[Code, tuple[object, ...]] = {
        "no-prompt": ("list",),
        "nothing-found": ("list",),
        "no-catalog": ("add", "--help"),
        "no-pictures": ("add", "--help"),
        "twin": ("show", slug),
        "damaged": ("check",),
        "bin-full": ("check", "--empty-bin"),
        "not-in-bin": ("check",),
        "name-taken": ("remove", slug),
        "rights": ("edit", slug, "--ask"),
    }
    if error.code == "no-prompt" and catalog is not None and (near := names_like(slug, catalog)):
        return [command("show", one, catalog=catalog) for one in near]
    words = known.get(error.code, ())
    if not words or "" in words:
        return []
    return [command(*words, catalog=None if "--help" in words else catalog)]


def names_like(slug: str, catalog: Path) -> list[str]:
    """Up to three names in the catalog that look like this one, the likest first."""
    from difflib import get_close_matches

    from curator.catalog import reading

    if not catalog.is_dir():
        return []
    names = sorted(name for name, _ in reading.slugs(catalog))
    begin = [name for name in names if slug and name.startswith(slug.lower())]
    return list(dict.fromkeys([*begin, *get_close_matches(slug.lower(), names, 3, 0.7)]))[:3]


def of_problem(problem: Problem, catalog: Path) -> list[str]:
    """Commands that mend what check found."""
    slug = problem.slug
    known: dict[str, tuple[tuple[object, ...], ...]] = {
        "damaged": (("edit", slug, "--undo"),),
        "damaged-only": (("remove", slug),),
        "no-picture": (("remove", slug),),
        "bad-picture": (("remove", slug),),
        "bad-license": (("edit", slug, "--ask"),),
        "rights": (("edit", slug, "--ask"),),
        "unused-picture": (("add", catalog / problem.name),),
        "left-over": (("check", "--tidy"),),
        "twice": (("remove", slug),),
        "bin": (("check", "--bring-back", slug), ("check", "--empty-bin")),
    }
    return [command(*words, catalog=catalog) for words in known.get(problem.code, ())]


def of_refused(refused: Iterable[Refused], catalog: Path) -> list[str]:
    """One command for all that want the same said before they may go along."""
    slugs: dict[str, list[str]] = {}
    for one in refused:
        slugs.setdefault(one.code, []).append(one.slug)
    found = []
    if "rights" in slugs:
        found.append(command("edit", *slugs["rights"], "--ask", catalog=catalog))
    if "faces" in slugs:
        found.append(command("edit", *slugs["faces"], "--faces", "consented", catalog=catalog))
    if "damaged" in slugs or "photo" in slugs:
        found.append(command("check", catalog=catalog))
    return found


def helped(function: Command) -> Command:
    """A command whose errors carry the next command to type, as notes; `curator.cli.main` prints them."""

    @functools.wraps(function)
    def run(*args: Any, **kwargs: Any) -> Any:
        try:
            return function(*args, **kwargs)
        except CuratorError as error:
            for part in error.parts if len(error.parts) > 1 else ():
                error.add_note(f"{part.slug}: {part.wrong}")
            for line in of_error(error, kwargs.get("catalog")):
                error.add_note(line)
            raise

    return run  # type: ignore[return-value]


def lines(commands: Iterable[str], indent: str = "  ") -> None:
    """Print commands, each on a line of its own and never broken: it is there to be copied."""
    for one in commands:
        print(indent + one)

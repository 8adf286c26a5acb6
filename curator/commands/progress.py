"""A progress bar on a terminal, nothing in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from curator.parallel import Progress


@contextmanager
def bar(title: str, *, shown: bool = True) -> Iterator[Progress | None]:
    """What a verb tells its progress to, drawn on standard error while it works; None where nobody would see it."""
    if not shown or not sys.stderr.isatty():
        yield None
        return
    with _drawn() as drawn:
        task = drawn.add_task(title, total=None)
        yield lambda done, count: drawn.update(task, completed=done, total=count)


@contextmanager
def two_bars(first: str, then: str, *, shown: bool) -> Iterator[tuple[Progress | None, Progress | None]]:
    """The same for a verb that may have something to do before; of that nothing is drawn where there is nothing.

    shown: whether what comes then has a bar.
    """
    if not sys.stderr.isatty():
        yield None, None
        return
    with _drawn() as drawn:
        before = drawn.add_task(first, total=None, visible=False)
        task = drawn.add_task(then, total=None, visible=shown)
        yield (
            lambda done, count: drawn.update(before, completed=done, total=count, visible=done < count),
            (lambda done, count: drawn.update(task, completed=done, total=count)) if shown else None,
        )


def for_lessons(folder: Path, slugs: Collection[str]) -> None:
    """Have the outlines of prompts that came in together found, so that no lesson waits for them; Ctrl-C leaves them.

    Not of a few: who kept one or two waits for the command, and their lesson is soon made.
    """
    from curator.parallel import FEW

    if len(slugs) < FEW:
        return
    from curator.classroom.marking import kept

    with bar("Getting ready for lessons") as progress:
        kept.prepare(folder, slugs, progress)


def _drawn() -> Any:
    from rich import progress
    from rich.console import Console

    columns = (progress.TextColumn("{task.description}"), progress.BarColumn(), progress.MofNCompleteColumn())
    return progress.Progress(*columns, console=Console(stderr=True), transient=True)

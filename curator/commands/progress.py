"""A progress bar on a terminal, nothing in a pipe."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from curator.parallel import Progress


@contextmanager
def bar(title: str, *, shown: bool = True) -> Iterator[Progress | None]:
    """What a verb tells its progress to, drawn on standard error while it works; None where nobody would see it."""
    if not shown or not sys.stderr.isatty():
        yield None
        return
    from rich import progress
    from rich.console import Console

    columns = (progress.TextColumn("{task.description}"), progress.BarColumn(), progress.MofNCompleteColumn())
    with progress.Progress(*columns, console=Console(stderr=True), transient=True) as drawn:
        task = drawn.add_task(title, total=None)
        yield lambda done, count: drawn.update(task, completed=done, total=count)

"""The page's process for pictures: a hostile file ends it, not the server, which never imports what decodes them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from curator.limited import Process

SECONDS = 150.0  # by the clock; what works all the time is ended sooner (`limited.CPU_SECONDS`)


def jobs() -> Mapping[str, Callable[..., Any]]:
    """What can be asked for, by name; called in the process."""
    from curator.web.sandbox_jobs import JOBS

    return JOBS


def worker() -> Process:
    """One such process. A person waits for it: it uses every core."""
    return Process(jobs, threads=-1, seconds=SECONDS)

"""What all tests of the page share: processes for pictures, which take seconds to start, go from server to server."""

from __future__ import annotations

import functools
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from web_kit import ROOT, served

from curator.errors import PhotoError
from curator.limited import Process
from curator.web import app, context, sandbox, scene_maker

_idle: list[Process] = []
_lock = threading.Lock()


class Lent:
    """A process lent to one server, in the place of one of its own: when the server ends it goes to the next."""

    def __init__(self) -> None:
        with _lock:
            self._one: Process | None = _idle.pop() if _idle else sandbox.worker()

    def ask(self, *job: Any, **more: Any) -> Any:
        one = self._one
        if one is None:
            raise PhotoError("Looking at the photo.", "The server has ended.", "Start it again.")
        return one.ask(*job, **more)

    def end(self) -> None:
        with _lock:
            one, self._one = self._one, None
        if one is None:
            return
        if one._busy.acquire(blocking=False):
            one._busy.release()
        else:
            one.end()  # it starts anew when it is asked
        with _lock:
            _idle.append(one)


@pytest.fixture(scope="session", autouse=True)
def lent() -> Iterator[None]:
    """Each server gets its processes lent; all end with the tests."""
    with pytest.MonkeyPatch.context() as patch:

        @functools.wraps(context.Site)
        def site(*args: Any, **more: Any) -> context.Site:
            return context.Site(*args, **{"looking": Lent(), "asking": Lent()} | more)

        patch.setattr(app, "Site", site)
        patch.setattr(scene_maker, "new_worker", Lent)
        yield
    while _idle:
        _idle.pop().end()


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Any]:
    """(address, site) of a catalog with nothing in it."""
    with served(tmp_path / "catalog") as one:
        yield one


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the project's own catalog."""
    return Path(shutil.copytree(ROOT / "catalog", tmp_path_factory.mktemp("kept") / "catalog"))


@pytest.fixture(scope="module")
def full(kept: Path) -> Iterator[Any]:
    """(address, site) of that catalog."""
    with served(kept) as one:
        yield one

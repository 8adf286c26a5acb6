"""What kept pictures teach is learned between: nothing that a teacher waits for waits for all of them."""

from __future__ import annotations

import asyncio
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from curator.web import app, look
from curator.web.context import Site
from curator.web.rights import Rights


def test_a_picture_that_is_kept_goes_before_what_is_still_to_be_learned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    over = threading.Event()

    def keep_one(here: Site, one: str) -> list[str]:
        done.append(f"keep {one}")
        return ["egg", "eggs"] if one == "first" else []

    def learn(here: Site, names: list[str]) -> bool:
        if not names:
            return False
        done.append(f"learn {' '.join(names)}")
        if done.count("learn egg eggs") == 1:
            here.keep("second")  # she keeps another while the first of three is looked at
        if done.count("learn egg eggs") == 3:
            over.set()
        return not over.is_set()

    monkeypatch.setattr(app, "keep_one", keep_one)
    monkeypatch.setattr(app, "learn", learn)
    made = app.make_app(tmp_path / "catalog", Rights())

    async def while_it_runs() -> None:
        async with made.router.lifespan_context(made):
            made.state.site.keep("first")
            assert await asyncio.to_thread(over.wait, 5)

    with ThreadPoolExecutor(1) as aside:  # a browser's loop may be running in this thread
        aside.submit(asyncio.run, while_it_runs()).result()
    assert done == ["keep first", "learn egg eggs", "keep second", "learn egg eggs", "learn egg eggs"]


def test_a_kept_picture_is_outlined_when_nothing_else_waits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    done: list[str] = []
    over = threading.Event()

    def keep_one(here: Site, one: str) -> list[str]:
        done.append(f"keep {one}")
        here.outline(one)
        return [one]

    def outline(here: Site, slug: str) -> None:
        done.append(f"outline {slug}")
        over.set()

    monkeypatch.setattr(app, "keep_one", keep_one)
    monkeypatch.setattr(app, "learn", lambda here, names: done.append(f"learn {names[0]}"))
    monkeypatch.setattr(app, "outline", outline)
    made = app.make_app(tmp_path / "catalog", Rights())

    async def while_it_runs() -> None:
        async with made.router.lifespan_context(made):
            made.state.site.keep("eggs")
            assert await asyncio.to_thread(over.wait, 5)

    with ThreadPoolExecutor(1) as aside:
        aside.submit(asyncio.run, while_it_runs()).result()
    assert done == ["keep eggs", "learn eggs", "outline eggs"]


def test_a_name_has_kept_pictures_looked_at_one_by_one_with_corrections_between(tmp_path: Path) -> None:
    """Each picture is a job of its own: a correction waits for one of them at most."""

    class Asking:
        def __init__(self) -> None:
            self.jobs: list[str] = []

        def ask(self, job: str, *_: Any) -> Any:
            self.jobs.append(job)
            return self.jobs.count("learned") < 3 if job == "learned" else {"at": 1}

    here = Site(tmp_path, Rights())
    here.asking = asking = Asking()  # type: ignore[assignment]
    assert look._named(here, "source", ["egg", "eggs"], None) == {"at": 1}
    assert asking.jobs == ["learned", "learned", "learned", "named"]

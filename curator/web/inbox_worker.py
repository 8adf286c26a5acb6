"""The batch's work on uploaded photos: what is kept first, then the answers, then what can wait."""

from __future__ import annotations

import contextlib
import threading
import time
from typing import Any

from curator.catalog import face_gate, reading
from curator.errors import CuratorError
from curator.limited import Process
from curator.web import inbox, keeping
from curator.web.context import Site


def look_first(here: Site, one: str) -> bool:
    """The batch's work on one item; an error is its answer. Whether there is more to do for it."""
    try:
        item = inbox.get(here.catalog, one)
        if item["state"] in ("waiting", "looking"):
            inbox.update(here.catalog, one, ("waiting",), state="looking")
            start = time.perf_counter()
            answer = _answer(here, one)
            ms = round((time.perf_counter() - start) * 1000)
            item = inbox.update(here.catalog, one, ("waiting", "looking"), **answer, ms=ms)
            here.changes += 1
    except (CuratorError, OSError):
        return False  # dropped in the meantime
    return item["state"] == "ready" and "faces" not in item


def _answer(here: Site, one: str) -> dict[str, Any]:
    place = inbox.place(here.catalog, one)
    try:
        return {"state": "ready", **here.looking.ask("first", str(place / "source"), str(place))}
    except CuratorError as error:
        return {"state": "error", "error": error.as_dict()}
    except OSError as error:
        return {"state": "error", "error": _refused(error, "Looking.")}


def _refused(error: OSError, doing: str) -> dict[str, str]:
    wrong = f"The disk refuses ({error.strerror or type(error).__name__})."
    return {"doing": doing, "wrong": wrong, "try_this": "Make room on it."}


def look_second(here: Site, one: str) -> None:
    """Faces, and the picture for the look page: after the answers of the whole batch."""
    try:
        whole(here, inbox.get(here.catalog, one), here.looking)
    except (CuratorError, OSError):  # dropped in the meantime, or asked for again by the look page
        with contextlib.suppress(CuratorError, OSError):
            inbox.update(here.catalog, one, second_failed=True)
    here.changes += 1


def search_faces(here: Site, over: threading.Event) -> None:
    """Look for faces in kept pictures that were never searched: others on the network are shown none before that."""
    with contextlib.suppress(CuratorError, OSError):  # no catalog yet, or the drive is away: they stay hidden
        for prompt in reading.every(here.catalog):
            with contextlib.suppress(CuratorError, OSError):
                data = reading.picture_path(here.catalog, prompt).read_bytes()
                if not over.is_set() and face_gate.recorded(prompt, data) is None:
                    face_gate.note(here.catalog, prompt.slug, here.looking.ask("seen", str(here.catalog), prompt))


def whole(here: Site, item: dict[str, Any], worker: Process) -> dict[str, Any]:
    """The item with what `second` finds; nothing may be kept before faces were looked for."""
    if item["state"] in ("ready", "keeping") and "faces" not in item:
        place = inbox.place(here.catalog, item["id"])
        return inbox.update(here.catalog, item["id"], **worker.ask("second", str(place / "source"), str(place)))
    return item


def keep_one(here: Site, one: str) -> list[str]:
    """Keep an item as the teacher said; where that fails it waits again, with the reason. What its things are called,
    for `learn`; [] where nothing was kept now.

    The batch and a form sent without scripts may both come to the same item: the second finds it kept.
    """
    names: list[str] = []
    with here.keeping:
        try:
            item = inbox.get(here.catalog, one)
            if item["state"] != "keeping":
                return []
            item = whole(here, item, here.looking)
            slug = keeping.keep(here, item, here.looking)
            inbox.finish(here.catalog, one, slug)
            here.outline(slug)
            names = [item["draft"]["words"][name] for name in ("thing", "things")]
        except CuratorError as error:
            _failed(here, one, error.as_dict())
        except OSError as error:
            _failed(here, one, _refused(error, "Keeping the photo."))
    here.changes += 1
    return names


def learn(here: Site, names: list[str]) -> bool:
    """Note what one more kept picture of these things teaches, so that nobody waits for it when the next photo of them
    is named; whether another one waits. What is kept and looked at meanwhile comes between.
    """
    with contextlib.suppress(CuratorError, OSError):
        return any(names) and bool(here.looking.ask("learned", str(here.catalog), names))
    return False


def outline(here: Site, slug: str) -> None:
    """Find the outlines of a kept prompt's things, so that nobody waits for them when a lesson first has it."""
    with contextlib.suppress(CuratorError, OSError):
        here.looking.ask("outlined", str(here.catalog), slug)


def _failed(here: Site, one: str, problem: dict[str, str]) -> None:
    with contextlib.suppress(CuratorError, OSError):
        inbox.update(here.catalog, one, ("keeping",), state="ready", problem=problem)

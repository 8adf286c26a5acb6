"""The batch's work on uploaded photos: the answers first, then what can wait."""

from __future__ import annotations

import contextlib
import time
from typing import Any

from curator.errors import CuratorError
from curator.web import inbox
from curator.web.context import Site
from curator.web.sandbox import Worker


def look_first(here: Site, one: str) -> bool:
    """The batch's work on one item; an error is its answer. Whether there is more to do for it."""
    try:
        item = inbox.get(here.catalog, one)
        if item["state"] in ("ready", "error"):  # handed over twice
            return False
        item["state"] = "looking"
        inbox.save(here.catalog, item)
        start = time.perf_counter()
        item |= _answer(here, one)
        item["ms"] = round((time.perf_counter() - start) * 1000)
        inbox.save(here.catalog, item)
        here.changes += 1
    except (CuratorError, OSError):
        return False  # dropped in the meantime
    return bool(item["state"] == "ready")


def _answer(here: Site, one: str) -> dict[str, Any]:
    place = inbox.place(here.catalog, one)
    try:
        return {"state": "ready", **here.looking.ask("first", str(place / "source"), str(place))}
    except CuratorError as error:
        return {"state": "error", "error": error.as_dict()}
    except OSError as error:
        wrong = f"The disk refuses ({error.strerror})."
        return {"state": "error", "error": {"doing": "Looking.", "wrong": wrong, "try_this": "Make room on it."}}


def look_second(here: Site, one: str) -> None:
    """Faces, and the picture for the look page: after the answers of the whole batch."""
    with contextlib.suppress(CuratorError, OSError):  # dropped in the meantime, or asked for again by the look page
        whole(here, inbox.get(here.catalog, one), here.looking)


def whole(here: Site, item: dict[str, Any], worker: Worker) -> dict[str, Any]:
    """The item with what `second` finds; nothing may be kept before faces were looked for."""
    if item["state"] == "ready" and "faces" not in item:
        place = inbox.place(here.catalog, item["id"])
        item |= worker.ask("second", str(place / "source"), str(place))
        inbox.save(here.catalog, item)
    return item

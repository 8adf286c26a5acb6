"""Photos on their way in: one folder each under the catalog's .inbox; a batch survives a reload or a restart."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
import shutil
import threading
import time
from pathlib import Path
from typing import Any

from curator.catalog.store import traces
from curator.errors import CuratorError, PhotoError
from curator.web.lesson_file import change as change_lesson
from curator.web.lesson_file import keys as lesson
from curator.web.lesson_file import save as save_lesson

__all__ = ["change_lesson", "lesson", "save_lesson"]  # the lesson lies in the inbox too

MOST = 200  # photos waiting at once
KEPT_DAYS = 30  # a photo that nobody keeps
DAY = 86_400.0
GONE = ("kept", "dropped")  # no longer waiting, told for a while: a drop can be undone, a keep comes twice
TOLD_SECONDS = 3600.0
_ITEMS = threading.Lock()
ID = traces.ID
DAMAGED = "Its place is damaged."
YOUNG = 60.0  # seconds in which a photo may still be on its way in


def home(catalog: Path) -> Path:
    """The folder for what is on its way, made where it is not there."""
    folder = catalog / traces.INBOX
    catalog.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):
        folder.mkdir(mode=0o700)  # other users of a shared computer have no business here
    return folder


def clear(catalog: Path, now: float | None = None) -> list[str]:
    """Take away what nobody came back for: photos and bundles after KEPT_DAYS, screen copies too, parts after a day."""
    now = time.time() if now is None else now
    gone = []
    for item in _all(catalog, now):
        away = now - item["gone"] > TOLD_SECONDS if item["state"] in GONE else False
        if away or now - item["at"] > (DAY if "kept_as" in item else KEPT_DAYS * DAY):
            drop(catalog, item["id"])
            if not away and "kept_as" not in item:
                gone.append(str(item["name"]))
    for path in traces.copies(catalog):
        days = KEPT_DAYS * DAY if path.suffix == ".zip" or path.parent.name == traces.SCREEN else DAY
        with contextlib.suppress(OSError):  # another server was quicker
            if now - path.stat().st_mtime > days and traces.INBOX in path.parts:
                traces.remove(path)
    return gone


def place(catalog: Path, one: str) -> Path:
    """The folder of an item. PhotoError for an id that is none."""
    folder = catalog / ".inbox" / one
    if not ID.fullmatch(one) or not folder.is_dir():
        raise PhotoError("Opening a photo.", "It is not here any more.", "Upload it again.", code="gone")
    return folder


def put(catalog: Path, name: str, data: bytes, phone: str = "", **more: Any) -> dict[str, Any]:
    """Store an uploaded file under a random name; its own name is only shown. The same bytes sent again are the item
    they were. `more` stands in the item.
    """
    waiting, digest = every(catalog), hashlib.sha256(data).hexdigest()
    for item in waiting if not more else ():
        if item.get("digest") == digest and item["state"] != "error" and item.get("phone", "") == phone:
            return item
    if len(waiting) >= MOST:
        raise PhotoError(
            "Taking the photo in.", f"{MOST} photos are waiting already.", "Keep some first, or put some away."
        )
    one = secrets.token_hex(8)
    folder = home(catalog) / one
    folder.mkdir(mode=0o700)
    try:
        _private(folder / traces.SOURCE, data)
        item = {
            "id": one,
            "name": shown_name(name),
            "state": "waiting",
            "at": time.time(),
            "digest": digest,
            "phone": phone,
            **more,
        }
        save(catalog, item)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return item


def _private(path: Path, data: bytes) -> None:
    """Write a new file that only its owner may read: OSError."""
    with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600), "wb") as file:
        file.write(data)


def shown_name(name: str) -> str:
    """A file's name as text to show: no folders, no control characters, not long."""
    plain = re.split(r"[/\\]", name)[-1]
    plain = "".join(c if c.isprintable() else " " for c in plain).strip()
    return plain[:80] or "photo"


def save(catalog: Path, item: dict[str, Any]) -> None:
    """Write an item's state, whole or not at all."""
    _write(catalog / ".inbox" / str(item["id"]) / "item.json", json.dumps(item, ensure_ascii=True))


def _write(path: Path, text: str) -> None:
    part = path.with_name(f".{path.stem}.{secrets.token_hex(4)}.part")
    _private(part, text.encode())
    os.replace(part, path)


def get(catalog: Path, one: str) -> dict[str, Any]:
    """An item's state. PhotoError where that is damaged or was never written whole."""
    path = place(catalog, one) / traces.ITEM
    try:
        item = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        item = None
    if not isinstance(item, dict) or not _is_whole(item, one):
        raise PhotoError("Opening a photo.", DAMAGED, "Put it away, and upload the photo again.", code="damaged")
    return item


def _is_whole(item: dict[str, Any], one: str) -> bool:
    """Whether all is there that the pages read."""
    at, answer, error = item.get("at"), item.get("answer"), item.get("error")
    if item.get("id") != one or not isinstance(item.get("name"), str) or not isinstance(at, int | float):
        return False
    if item.get("state") in ("ready", "keeping"):
        size = item.get("size")
        return (
            isinstance(answer, dict)
            and {"fact", "grade", "total", "readings", "reasons", "dots", "line"} <= answer.keys()
            and isinstance(answer["readings"], list)
            and all(isinstance(dot, dict) and {"x", "y", "side"} <= dot.keys() for dot in answer["dots"] or ())
            and isinstance(size, list)
            and len(size) == 2
            and all(isinstance(item.get(key), str) for key in ("sha256", "phash"))
        )
    if item.get("state") == "error":
        return isinstance(error, dict) and {"doing", "wrong", "try_this"} == error.keys()
    if item.get("state") in GONE:
        return isinstance(item.get("gone"), int | float)
    return item.get("state") in ("waiting", "looking")


def left(catalog: Path) -> list[dict[str, Any]]:
    """All items that there is something to do with, oldest first; a damaged one is shown as such."""
    return [item for item in _all(catalog) if item["state"] not in GONE]


def every(catalog: Path) -> list[dict[str, Any]]:
    """All photos that wait, oldest first, without kept prompts opened again; a damaged one can be dropped."""
    return [item for item in left(catalog) if "kept_as" not in item]


def gone(catalog: Path) -> list[dict[str, Any]]:
    """What was kept or dropped within the last hour."""
    since = time.time() - TOLD_SECONDS
    return [item for item in _all(catalog) if item["state"] in GONE and item["gone"] > since]


def opened_again(catalog: Path, slug: str, version: str) -> dict[str, Any] | None:
    """The item of a kept prompt that is open already, as it is kept now."""
    same = (one for one in left(catalog) if one.get("kept_as") == slug)
    return next((one for one in same if one["version"] == version), None)


def _all(catalog: Path, now: float | None = None) -> list[dict[str, Any]]:
    now = time.time() if now is None else now
    found = []
    for one in traces.waiting(catalog):
        try:
            found.append(get(catalog, one.place.name))
        except CuratorError as error:
            if error.code != "damaged":
                continue  # dropped in this moment
            if now - one.since < YOUNG:
                continue  # on its way in
            found.append(_damaged(one, error))
    return sorted(found, key=lambda item: (item["at"], item["id"]))


def _damaged(one: traces.Waiting, error: CuratorError) -> dict[str, Any]:
    said = {"state": "error", "error": error.as_dict(), "digest": ""}
    return {"id": one.place.name, "name": "A photo that did not come in whole", "at": one.since, **said}


def update(catalog: Path, one: str, only: tuple[str, ...] = (), **changes: Any) -> dict[str, Any]:
    """Change an item with nobody in between (`only` in these states); the item as it is then."""
    with _ITEMS:
        item = get(catalog, one)
        if not only or item["state"] in only:
            item |= changes
            save(catalog, item)
    return item


def drop(catalog: Path, one: str) -> None:
    """Forget an item with the teacher's file."""
    shutil.rmtree(place(catalog, one), ignore_errors=True)


def set_aside(catalog: Path, one: str) -> None:
    """Drop an item so that it can be brought back within the hour; what was dropped before that goes for good."""
    try:
        was = get(catalog, one)["state"]
    except CuratorError:  # damaged: nothing to bring back
        drop(catalog, one)
        return
    update(catalog, one, ("waiting", "looking", "ready", "error"), state="dropped", was=was, gone=time.time())
    for item in _all(catalog):
        if item["state"] in GONE and item["gone"] < time.time() - TOLD_SECONDS:
            drop(catalog, item["id"])


def bring_back(catalog: Path, one: str) -> dict[str, Any]:
    """A dropped item as it was; one that was being looked at waits again."""
    was = get(catalog, one).get("was", "waiting")
    return update(catalog, one, ("dropped",), state="waiting" if was == "looking" else was)


def finish(catalog: Path, one: str, slug: str) -> None:
    """An item was kept: her file goes, and only where it is kept now stays to be told."""
    item = get(catalog, one)
    for path in place(catalog, one).iterdir():
        if path.name != "item.json":
            path.unlink(missing_ok=True)
    told = {key: item[key] for key in ("id", "name", "at", "kept_as") if key in item}
    save(catalog, told | {"state": "kept", "slug": slug, "gone": time.time()})


def remembered(catalog: Path) -> dict[str, str]:
    """Who took the last photo, and its licence: offered for the next."""
    try:
        found = json.loads((catalog / ".inbox" / "remembered.json").read_text(encoding="utf-8"))
        return {key: str(found.get(key, "")) for key in ("credit", "license")}
    except (OSError, ValueError, AttributeError):
        return {"credit": "", "license": ""}


def remember(catalog: Path, credit: str, license_: str) -> None:
    """Offer these for the next photo."""
    new = {"credit": credit, "license": license_}
    if new != remembered(catalog):
        _write(home(catalog) / "remembered.json", json.dumps(new))

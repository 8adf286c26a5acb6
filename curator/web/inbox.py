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
from collections.abc import Callable
from pathlib import Path
from typing import Any

from curator.errors import CuratorError, PhotoError

MOST = 200  # photos waiting at once
KEPT_DAYS = 30  # a photo that nobody keeps
DAY = 86_400.0
_LESSON = threading.Lock()
ID = re.compile(r"[0-9a-f]{16}")


def home(catalog: Path) -> Path:
    """The folder for what is on its way, made where it is not there."""
    folder = catalog / ".inbox"
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def clear(catalog: Path, now: float | None = None) -> list[str]:
    """Take away what nobody came back for: photos and bundles after KEPT_DAYS, screen copies too, parts after a day."""
    now = time.time() if now is None else now
    gone = []
    for item in every(catalog):
        if now - item["at"] > KEPT_DAYS * DAY:
            drop(catalog, item["id"])
            gone.append(str(item["name"]))
    folder = catalog / ".inbox"
    parts = [*folder.glob("**/*.part"), *folder.glob("lesson-*.*"), *folder.glob("pack-*/*")]
    aged = [(path, DAY) for path in parts] + [
        (p, KEPT_DAYS * DAY) for p in (*folder.glob("*.zip"), *folder.glob("screen/*.webp"))
    ]
    for path, days in aged:
        with contextlib.suppress(OSError):  # another server was quicker
            if now - path.stat().st_mtime > days:
                path.unlink()
    return gone


def place(catalog: Path, one: str) -> Path:
    """The folder of an item. PhotoError for an id that is none."""
    folder = catalog / ".inbox" / one
    if not ID.fullmatch(one) or not folder.is_dir():
        raise PhotoError("Opening a photo.", "It is not here any more.", "Upload it again.", code="gone")
    return folder


def put(catalog: Path, name: str, data: bytes) -> dict[str, Any]:
    """Store an uploaded file under a random name; its own name is only shown. The same bytes sent again are the item
    they were.
    """
    waiting, digest = every(catalog), hashlib.sha256(data).hexdigest()
    for item in waiting:
        if item.get("digest") == digest and item["state"] != "error":
            return item
    if len(waiting) >= MOST:
        raise PhotoError("Taking the photo in.", f"{MOST} photos are waiting already.", "Keep or drop some first.")
    one = secrets.token_hex(8)
    folder = catalog / ".inbox" / one
    folder.mkdir(parents=True)
    try:
        (folder / "source").write_bytes(data)
        item = {"id": one, "name": shown_name(name), "state": "waiting", "at": time.time(), "digest": digest}
        save(catalog, item)
    except OSError:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    return item


def shown_name(name: str) -> str:
    """A file's name as text to show: no folders, no control characters, not long."""
    plain = re.split(r"[/\\]", name)[-1]
    plain = "".join(c if c.isprintable() else " " for c in plain).strip()
    return plain[:80] or "photo"


def save(catalog: Path, item: dict[str, Any]) -> None:
    """Write an item's state, whole or not at all."""
    path = catalog / ".inbox" / str(item["id"]) / "item.json"
    part = path.with_name(f".item.{secrets.token_hex(4)}.part")
    part.write_text(json.dumps(item, ensure_ascii=True), encoding="utf-8")
    os.replace(part, path)


def get(catalog: Path, one: str) -> dict[str, Any]:
    """An item's state."""
    path = place(catalog, one) / "item.json"
    try:
        item: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise PhotoError("Opening a photo.", "Its place is damaged.", "Upload it again.") from error
    return item


def every(catalog: Path) -> list[dict[str, Any]]:
    """All items, oldest first; damaged ones are left out."""
    found = []
    for path in (catalog / ".inbox").glob("*/item.json"):
        try:
            found.append(get(catalog, path.parent.name))
        except CuratorError:
            continue
    return sorted(found, key=lambda item: (item["at"], item["id"]))


def drop(catalog: Path, one: str) -> None:
    """Forget an item with the teacher's file."""
    shutil.rmtree(place(catalog, one), ignore_errors=True)


def lesson(catalog: Path) -> list[str]:
    """The prompts picked into the lesson, in order."""
    try:
        slugs = json.loads((catalog / ".inbox" / "lesson.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return [s for s in slugs if isinstance(s, str)] if isinstance(slugs, list) else []


def change_lesson(catalog: Path, change: Callable[[list[str]], list[str]]) -> None:
    """Read, change and save the lesson with nobody in between."""
    with _LESSON:
        before = lesson(catalog)
        after = change(before)
        if after != before:
            save_lesson(catalog, after)


def save_lesson(catalog: Path, slugs: list[str]) -> None:
    """Keep the lesson's order."""
    folder = home(catalog)
    part = folder / f".lesson.{secrets.token_hex(4)}.part"
    part.write_text(json.dumps(slugs), encoding="utf-8")
    os.replace(part, folder / "lesson.json")

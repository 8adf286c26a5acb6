"""What a teacher says of a photo, read at once and done later: an item of the inbox becomes a prompt."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from curator.catalog import face_gate, face_words
from curator.catalog.edits import edited
from curator.catalog.prompt import LICENSES, alts, title_of
from curator.catalog.store import folder as catalog
from curator.errors import PhotoError
from curator.limited import Process
from curator.nouns import both
from curator.records import PEOPLE, Area, Prompt
from curator.web import inbox
from curator.web.context import Site
from curator.web.payloads import area_of, boxes_of, dots_of, line_of, unreadable

DOING = "Keeping the photo."
AS_KEPT, NOTHING = -1, -2  # a prompt opened again of which nothing was changed; that nothing repeats: no readings
WORDS = ("thing", "things", "place", "credit", "notes", "tags")


def read(sent: Mapping[str, str]) -> dict[str, Any]:
    """The look page's form, checked: dots (None: as found), line, area, reading, blur, words, what was shown."""
    try:
        state = json.loads(sent.get("state") or "{}")
        touched = max(0, min(999, int(state.get("touched") or 0)))
        reading = max(NOTHING, min(50, int(state.get("reading", sent.get("reading") or 0))))
    except (ValueError, TypeError, AttributeError, OverflowError, RecursionError):
        raise unreadable(DOING, "The form is damaged.") from None
    license_, people = sent.get("license", ""), sent.get("people", "unknown")
    if (license_ and license_ not in LICENSES) or people not in PEOPLE:
        raise unreadable(DOING, "The licence or the people is none of those offered.")
    area = area_of(state.get("area"))
    return {
        "dots": dots_of(state["dots"]) if touched and "dots" in state else None,
        "line": line_of(state.get("line")),
        "area": None if area is None else [area.left, area.top, area.right, area.bottom],
        "reading": reading,
        "touched": touched,
        "blur": boxes_of(sent.get("blur", "")),
        "blur_found": bool(sent.get("blur_found")),
        "words": _named(sent) | {"license": license_, "people": people},
        "no_double": bool(sent.get("no_double")),
        "shown": sent.get("shown"),
        "faces": "consented" if sent.get("faces") == "consented" else "none" if sent.get("noface") else "",
        "lesson": bool(sent.get("lesson")),
    }


def _named(sent: Mapping[str, str]) -> dict[str, str]:
    """The words that were sent, with both names of a common thing."""
    words = {name: sent.get(name, "")[:2000] for name in WORDS}
    words["thing"], words["things"] = both(words["thing"], words["things"])
    return words


def begin(here: Site, one: str, draft: dict[str, Any]) -> dict[str, Any]:
    """Hand an item to the batch to be kept; the item as it is then. What is kept or on its way already stays so."""
    item = inbox.update(here.catalog, one, ("ready",), state="keeping", draft=draft, problem=None)
    if item["state"] == "keeping":
        inbox.remember(here.catalog, draft["words"]["credit"], draft["words"]["license"])
        here.changes += 1
        here.keep(one)
    return item


def keep(here: Site, item: dict[str, Any], worker: Process) -> str:
    """The slug under which the item is kept as its draft says. CuratorError where that may not or cannot be."""
    draft = item["draft"]
    if draft["blur_found"]:
        draft["blur"] += face_gate.to_blur([Area(*box) for box in item["faces"]])
    _ask_about_faces(item, draft)
    old = catalog.load(here.catalog, item["kept_as"]) if "kept_as" in item else None
    kept = _kept_again(here, item, old, worker) if old else _kept(here, item, worker)
    if draft["lesson"]:
        inbox.change_lesson(here.catalog, lambda slugs: slugs if kept.slug in slugs else [*slugs, kept.slug])
    return kept.slug


def _ask_about_faces(item: dict[str, Any], draft: dict[str, Any]) -> None:
    if not _left(item) or draft["faces"] or item.get("faces_said") in face_words.ANSWERED:
        return
    if draft["words"]["people"] == "none":
        wrong = "You said that nobody is in it, and a face may be."
    else:
        wrong = "A face may be in it and nothing was said about it."
    raise PhotoError(DOING, wrong, "Blur it, or say that everybody asked agrees, or that it is no face.")


def _left(item: dict[str, Any]) -> tuple[Area, ...]:
    """The likely faces that are not blurred."""
    return face_gate.left_after([Area(*box) for box in item["faces"]], item["draft"]["blur"])


def _made(here: Site, item: dict[str, Any], worker: Process) -> Prompt:
    """The prompt that the draft asks for; PhotoError where it would show another fact than the page did."""
    draft = item["draft"]
    words = draft["words"]
    title = title_of(Path(item["name"]), words["things"], words["place"])
    more: dict[str, Any] = {
        "title": title,
        "touched": draft["touched"],
        "no_double": draft["no_double"],
        "checked_by": "teacher",
    }
    dots = None if draft["dots"] is None else [(x, y) for x, y in draft["dots"]]
    source = str(inbox.place(here.catalog, item["id"]) / "source")
    more["tags"] = tuple(words["tags"].split(","))
    reading = draft["reading"] if draft["reading"] >= 0 else None
    args = (source, dots, line_of(draft["line"]), area_of(draft["area"]), reading)
    prompt: Prompt = worker.ask("make", *args, words | more)
    _same_fact(draft, str(prompt.fact or ""))
    return prompt


def _same_fact(draft: dict[str, Any], fact: str) -> None:
    if draft["shown"] is not None and not draft["no_double"] and draft["shown"] != fact:
        wrong = "The page showed another fact than would be kept."
        raise PhotoError(DOING, wrong, "Reload the page and look again.")


def _kept(here: Site, item: dict[str, Any], worker: Process) -> Prompt:
    draft = item["draft"]
    prompt = _made(here, item, worker)
    source = str(inbox.place(here.catalog, item["id"]) / "source")
    picture = worker.ask("picture", source, draft["blur"])
    left = _left(item)
    faces = draft["faces"] if left else "blurred" if draft["blur"] else ""
    return catalog.add(here.catalog, replace(prompt, faces=faces, seen=face_gate.record(left, picture)), picture)


def _kept_again(here: Site, item: dict[str, Any], old: Prompt, worker: Process) -> Prompt:
    """A kept prompt with what was changed."""
    draft = item["draft"]
    words = {name: text for name, text in draft["words"].items() if name != "tags"}
    if title_of(Path(), old.things, old.place) == old.title:
        words["title"] = title_of(Path(), words["things"], words["place"])
    new = edited(old, words)
    if draft["dots"] is not None or draft["reading"] != AS_KEPT or (draft["no_double"] and old.fact):
        made = _made(here, item, worker)
        names = ("fact", "kind", "dots", "line", "grade", "confidence", "area")
        new = replace(new, **{name: getattr(made, name) for name in names}, touched=max(1, draft["touched"]))
    else:
        _same_fact(draft, str(old.fact or ""))
    if new.dots != old.dots or new.fact != old.fact:  # a text written by hand may tell the answer that was
        before, after = alts(new)
        new = replace(new, alt_before=before, alt_after=after)
    new = replace(new, checked_by=new.checked_by or "teacher", faces=draft["faces"] or new.faces)
    kept = catalog.replace(here.catalog, new, expected=item["version"])
    if draft["blur"]:
        picture = worker.ask("picture", str(catalog.picture_path(here.catalog, kept)), draft["blur"])
        left = _left(item)
        faces, seen = new.faces if left else "blurred", face_gate.record(left, picture)
        kept = catalog.replace_picture(here.catalog, kept.slug, picture, faces=faces, seen=seen)
    return kept

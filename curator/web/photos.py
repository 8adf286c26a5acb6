"""The photos that wait: taken in, told of as their answers come, kept together, dropped and brought back."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from curator.catalog.prompt import LICENSES
from curator.errors import CuratorError, PhotoError
from curator.seeing.photo import MOST_BYTES
from curator.web import inbox, keeping
from curator.web.context import Site, page, site, wants_json
from curator.web.payloads import object_of, unreadable

MOST_FILES = 60  # in one post
GROUPS = {"ready": "Ready", "check": "Please check", "error": "Not taken", "wait": "Just in"}


def photos(request: Request) -> Response:
    """The upload page and the photos that wait, in their groups."""
    here = site(request).catalog
    items = listed(request)
    if wants_json(request):
        return JSONResponse({"items": items})
    groups = [(key, name, [one for one in items if one["group"] == key]) for key, name in GROUPS.items()]
    last, lesson = inbox.remembered(here), len(inbox.lesson(here))
    return page(request, "photos.html", groups=groups, licenses=LICENSES, last=last, lesson=lesson)


def listed(request: Request) -> list[dict[str, Any]]:
    """What the pages say of each photo that waits, in the order of the groups; to a phone only of its own."""
    order = list(GROUPS)
    items = seen_by(request, inbox.every(site(request).catalog))
    return sorted(map(summary, items), key=lambda one: order.index(one["group"]))


def seen_by(request: Request, items: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What the one who asks may see: a phone only what it sent itself."""
    state = request.scope.get("state", {})
    if state.get("role") != "phone":
        return items
    return [item for item in items if item.get("phone") and item["phone"] == state.get("phone")]


def summary(item: dict[str, Any]) -> dict[str, Any]:
    """What the pages say of an item: its state, group, fact in words, dots [x, y, side] and line in fractions."""
    told = {"id": item["id"], "name": item["name"], "state": item["state"], "faces": len(item.get("faces") or ())}
    said = {"words": "Looking ...", "grade": "wait", "group": "wait", "dots": [], "line": None, "size": [4, 3]}
    said["problem"] = ""
    if item["state"] in inbox.GONE:
        return told | said | {"words": "", "slug": item.get("slug", "")}
    if item["state"] == "error":
        said |= {"words": f"{item['error']['wrong']} {item['error']['try_this']}", "grade": "error", "group": "error"}
    elif item["state"] in ("ready", "keeping"):
        said |= _answer(item)
    problem = item.get("problem")
    if problem:
        said |= {"group": "check", "problem": f"{problem['wrong']} {problem['try_this']}"}
    return told | said


def _answer(item: dict[str, Any]) -> dict[str, Any]:
    best = item["answer"]
    total = best.get("total")
    grade = best["grade"] if best["fact"] else "no"
    words = best["fact"] or (f"No double ({total} counted)" if total else "No double: nothing repeats")
    counted = best["dots"][: total or 0]
    return {
        "words": words,
        "grade": grade,
        "group": "ready" if grade == "sure" and not item.get("faces") else "check",
        "dots": [[d["x"], d["y"], d["side"]] for d in counted],
        "line": best["line"] if best["fact"] else None,
        "size": item["size"],
    }


async def upload(request: Request) -> Response:
    """Take photos in; each is stored and handed to the batch."""
    here = site(request)
    answers = []
    async with request.form(max_files=MOST_FILES, max_fields=20) as form:
        files = [f for f in form.getlist("photo") if isinstance(f, UploadFile) and (f.filename or f.size)]
        if not files:
            raise PhotoError("Taking photos in.", "No photo came.", "Choose one or more photos first.")
        for file in files:
            answers.append(await _take(here, file, request.scope.get("state", {}).get("phone", "")))
    if wants_json(request):
        return JSONResponse({"items": answers})
    return RedirectResponse("/photos", 303)


async def _take(here: Site, file: UploadFile, phone: str) -> dict[str, Any]:
    name = file.filename or "photo"
    if not file.size or file.size > MOST_BYTES:
        wrong = "The file is empty." if not file.size else f"It has more than {MOST_BYTES // 1_000_000} MB."
        told = {"id": "", "name": inbox.shown_name(name), "state": "error", "words": wrong, "grade": "error"}
        return told | {"group": "error", "dots": [], "line": None, "size": [4, 3], "faces": 0}
    item = await run_in_threadpool(inbox.put, here.catalog, name, await file.read(), phone)
    here.changes += 1
    here.wake(item["id"])
    return summary(item)


async def events(request: Request) -> Response:
    """Server-sent events: each item whenever what is said of it changes, then `done` when nothing is in work."""
    return StreamingResponse(_events(request), media_type="text/event-stream")


async def _events(request: Request) -> AsyncIterator[str]:
    here, told = site(request), dict[str, dict[str, Any]]()
    seen, since = -1, 0.0
    while not await request.is_disconnected():
        if here.changes != seen or time.monotonic() - since > 1:  # another server may be at work in the same folder
            seen, since = here.changes, time.monotonic()
            items = seen_by(request, await run_in_threadpool(inbox.every, here.catalog))
            gone = seen_by(request, await run_in_threadpool(inbox.gone, here.catalog))
            for item in map(summary, [*items, *gone]):
                if told.get(item["id"]) != item:
                    told[item["id"]] = item
                    yield f"data: {json.dumps(item)}\n\n"
            if all(map(_rests, items)):
                yield "event: done\ndata: {}\n\n"
                return
        await asyncio.sleep(0.02)


def _rests(item: dict[str, Any]) -> bool:
    """Whether nothing is in work for an item."""
    return item["state"] == "error" or (item["state"] == "ready" and ("faces" in item or "second_failed" in item))


def small(request: Request) -> Response:
    """The photo at screen size, or its thumbnail."""
    place = inbox.place(site(request).catalog, request.path_params["id"])
    size = request.path_params["size"]
    path = place / f"{size}.webp"
    if not seen_by(request, [inbox.get(site(request).catalog, request.path_params["id"])]):
        raise PhotoError("Showing a photo.", "It is not here any more.", "Send it again.", code="gone")
    if size not in ("view", "thumb") or not path.is_file():
        wrong = "It is not here any more, or not looked at yet."
        raise PhotoError("Showing a photo.", wrong, "Wait a moment.", code="gone")
    return FileResponse(path, media_type="image/webp", headers={"cache-control": "private, max-age=3600"})


async def keep_many(request: Request) -> Response:
    """Keep photos, each as its best reading and called what its card says, with one word on rights and people."""
    here, sent = site(request), await object_of(request)
    ids, said = sent.get("ids"), {k: str(sent.get(k, ""))[:2000] for k in ("credit", "license", "people", "lesson")}
    if not isinstance(ids, list) or len(ids) > inbox.MOST:
        raise unreadable(keeping.DOING, "Which photos is not said.")
    said["people"] = said["people"] or "unknown"
    things = sent.get("things")
    named = {str(one): str(name)[:60] for one, name in things.items()} if isinstance(things, dict) else {}

    def work() -> list[dict[str, Any]]:
        return [_keep_as_found(here, str(one), said | {"things": named.get(str(one), "")}) for one in ids]

    return JSONResponse({"items": await run_in_threadpool(work)})


def _keep_as_found(here: Site, one: str, said: dict[str, str]) -> dict[str, Any]:
    try:
        item = inbox.get(here.catalog, one)
    except CuratorError as error:
        return {"id": one, "error": error.as_dict()}
    if item["state"] == "ready":
        fact = item["answer"]["fact"] or ""
        item = keeping.begin(here, one, keeping.read(said | {"shown": fact, "no_double": "" if fact else "1"}))
    return summary(item)


def drop(request: Request) -> Response:
    """Do not keep it; within the hour it can be brought back."""
    return _put(request, lambda here, one: inbox.set_aside(here.catalog, one))


def restore(request: Request) -> Response:
    """Bring back what was dropped."""

    def back(here: Site, one: str) -> None:
        if inbox.bring_back(here.catalog, one)["state"] != "error":
            here.wake(one)

    return _put(request, back)


def retry(request: Request) -> Response:
    """Look once more at a photo that could not be looked at."""

    def once_more(here: Site, one: str) -> None:
        if inbox.update(here.catalog, one, ("error",), state="waiting")["state"] == "waiting":
            here.wake(one)

    return _put(request, once_more)


def _put(request: Request, change: Callable[[Site, str], None]) -> Response:
    here, one = site(request), request.path_params["id"]
    change(here, one)
    here.changes += 1
    if not wants_json(request):
        return RedirectResponse("/photos", 303)
    try:
        return JSONResponse(summary(inbox.get(here.catalog, one)))
    except CuratorError:  # it was damaged, and is gone for good
        return JSONResponse({"id": one, "state": "dropped"})


ROUTES = [
    Route("/photos", photos, methods=["GET"]),
    Route("/photos", upload, methods=["POST"]),
    Route("/photos/events", events),
    Route("/photos/keep", keep_many, methods=["POST"]),
    Route("/photos/{id:str}/{size:str}.webp", small),
    Route("/photos/{id:str}/drop", drop, methods=["POST"]),
    Route("/photos/{id:str}/restore", restore, methods=["POST"]),
    Route("/photos/{id:str}/retry", retry, methods=["POST"]),
]

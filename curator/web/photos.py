"""Upload, look, set right, keep."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from curator.catalog import face_gate
from curator.catalog.prompt import LICENSES, title_of
from curator.catalog.store import folder as catalog
from curator.errors import PhotoError
from curator.records import PEOPLE, Area, Prompt
from curator.seeing.photo import MOST_BYTES
from curator.web import inbox
from curator.web.context import GRADE_WORDS, Site, page, site, wants_json
from curator.web.inbox_worker import whole
from curator.web.payloads import area_of, boxes_of, dots_of, line_of, object_of, point_of, unreadable

MOST_FILES = 60  # in one post


def photos(request: Request) -> Response:
    """The upload page and the photos that wait."""
    waiting = inbox.every(site(request).catalog)
    return page(request, "photos.html", items=[summary(item) for item in waiting])


def summary(item: dict[str, Any]) -> dict[str, Any]:
    """What the list says of an item."""
    best = item.get("answer", {})
    total = best.get("total")
    if item["state"] == "error":
        words, grade = f"{item['error']['wrong']} {item['error']['try_this']}", "error"
    elif item["state"] != "ready":
        words, grade = "Looking ...", "wait"
    elif best["fact"]:
        words, grade = best["fact"], best["grade"]
    else:
        words, grade = f"No double ({total} counted)" if total else "No double: nothing repeats", "no"
    return {"id": item["id"], "name": item["name"], "state": item["state"], "words": words, "grade": grade}


async def upload(request: Request) -> Response:
    """Take photos in; each is stored and handed to the batch."""
    here = site(request)
    answers = []
    async with request.form(max_files=MOST_FILES, max_fields=20) as form:
        files = [f for f in form.getlist("photo") if isinstance(f, UploadFile) and (f.filename or f.size)]
        if not files:
            raise PhotoError("Taking photos in.", "No photo came.", "Choose one or more photos first.")
        for file in files:
            answers.append(await _take(here, file))
    if wants_json(request):
        return JSONResponse({"items": answers})
    return RedirectResponse("/photos", 303)


async def _take(here: Site, file: UploadFile) -> dict[str, Any]:
    name = file.filename or "photo"
    if not file.size or file.size > MOST_BYTES:
        wrong = "The file is empty." if not file.size else f"It has more than {MOST_BYTES // 1_000_000} MB."
        return {"id": "", "name": inbox.shown_name(name), "state": "error", "words": wrong, "grade": "error"}
    item = await run_in_threadpool(inbox.put, here.catalog, name, await file.read())
    here.changes += 1
    here.wake(item["id"])
    return summary(item)


async def events(request: Request) -> Response:
    """Server-sent events: each item whenever its state changes, then `done` when nothing is in work."""
    return StreamingResponse(_events(request), media_type="text/event-stream")


async def _events(request: Request) -> AsyncIterator[str]:
    here, told = site(request), dict[str, str]()
    seen, since = -1, 0.0
    while not await request.is_disconnected():
        if here.changes != seen or time.monotonic() - since > 1:  # another server may be at work in the same folder
            seen, since = here.changes, time.monotonic()
            items = await run_in_threadpool(inbox.every, here.catalog)
            for item in map(summary, items):
                if told.get(item["id"]) != item["state"]:
                    told[item["id"]] = item["state"]
                    yield f"data: {json.dumps(item)}\n\n"
            if all(item["state"] in ("ready", "error") for item in items):
                yield "event: done\ndata: {}\n\n"
                return
        await asyncio.sleep(0.02)


def look(request: Request) -> Response:
    """One photo with its dots, to be set right and kept."""
    here, one = site(request), request.path_params["id"]
    item = inbox.get(here.catalog, one)
    if item["state"] == "error":
        raise PhotoError(**item["error"])
    if item["state"] != "ready":
        return page(request, "wait.html", item=summary(item))
    item = whole(here, item, here.asking)
    return page(request, "look.html", **_look_values(here, item, request.query_params.get("reading", "0")))


def _look_values(here: Site, item: dict[str, Any], chosen: str) -> dict[str, Any]:
    readings = item["answer"]["readings"]
    k = int(chosen) if chosen.isdecimal() and int(chosen) < len(readings) else 0
    near = catalog.near_twins(here.catalog, item["phash"]) if here.catalog.is_dir() else []
    same = [p for p in near if p.source_sha256 == item["sha256"]]
    start = {"line": readings[k]["line"], "readings": readings, "reading": k}
    return {
        "item": item,
        "readings": readings,
        "k": k,
        "reading": readings[k],
        "near": (same or near)[:2],
        "same": bool(same),
        "licenses": LICENSES,
        "state": json.dumps(start),
        "faces": json.dumps(item["faces"]),
        "grades": json.dumps(GRADE_WORDS),
    }


def small(request: Request) -> Response:
    """The photo at screen size, or its thumbnail."""
    place = inbox.place(site(request).catalog, request.path_params["id"])
    size = request.path_params["size"]
    path = place / f"{size}.webp"
    if size not in ("view", "thumb") or not path.is_file():
        wrong = "It is not here any more, or not looked at yet."
        raise PhotoError("Showing a photo.", wrong, "Wait a moment.", code="gone")
    return FileResponse(path, media_type="image/webp", headers={"cache-control": "private, max-age=3600"})


async def change(request: Request) -> Response:
    """again: the teacher's dots; area: a frame; like: more like one thing; told: what was added and taken off. Answers
    readings, best first.
    """
    here, one = site(request), request.path_params["id"]
    sent, what = await object_of(request), request.path_params["what"]
    if what not in ("again", "area", "like", "told"):
        raise HTTPException(404)
    source = str(inbox.place(here.catalog, one) / "source")
    area = area_of(sent.get("area"))

    def work() -> Any:
        if what == "area":
            return {"readings": here.asking.ask("within", source, area)}
        dots, line = dots_of(sent.get("dots", [])), line_of(sent.get("line"))
        if what == "told":
            return here.asking.ask(
                "told", source, dots, dots_of(sent.get("yes", [])), dots_of(sent.get("no", [])), area
            )
        if what == "like":
            dots, line = here.asking.ask("like", source, point_of(sent.get("at")), area), None
        return {"readings": here.asking.ask("again", source, dots, line, area, what != "like")}

    return JSONResponse(await run_in_threadpool(work))


async def keep(request: Request) -> Response:
    """Keep what the page shows as a prompt of the catalog."""
    here, one = site(request), request.path_params["id"]
    item = inbox.get(here.catalog, one)
    if item["state"] != "ready":
        raise PhotoError("Keeping the photo.", "It is not looked at yet.", "Wait a moment.")
    async with request.form(max_files=0, max_fields=40) as form:
        sent = {key: str(value) if key in ("state", "blur") else str(value)[:2000] for key, value in form.items()}
    kept = await run_in_threadpool(_keep, here, item, sent)
    at = f"/prompts/{kept.slug}?kept=1"
    return JSONResponse({"at": at}) if wants_json(request) else RedirectResponse(at, 303)


def _keep(here: Site, item: dict[str, Any], sent: dict[str, str]) -> Prompt:
    from dataclasses import replace
    from pathlib import Path

    item = whole(here, item, here.asking)
    try:
        state = json.loads(sent.get("state") or "{}")
        touched = max(0, min(999, int(state.get("touched") or 0)))
        reading = max(0, min(50, int(state.get("reading", sent.get("reading") or 0))))
    except (ValueError, TypeError, AttributeError, OverflowError, RecursionError):
        raise unreadable("Keeping the photo.", "The form is damaged.") from None
    blur = boxes_of(sent.get("blur", ""))
    blur += face_gate.to_blur([Area(*box) for box in item["faces"]]) if sent.get("blur_found") else []
    words = _words(sent, Path(item["name"]), touched)
    dots = dots_of(state["dots"]) if touched and "dots" in state else None
    source = str(inbox.place(here.catalog, item["id"]) / "source")
    args = (source, dots, line_of(state.get("line")), area_of(state.get("area")), reading, words)
    prompt: Prompt = here.asking.ask("make", *args)
    if "shown" in sent and not sent.get("no_double") and sent["shown"] != str(prompt.fact or ""):
        raise PhotoError(
            "Keeping the photo.", "The page showed another fact than would be kept.", "Reload the page and look again."
        )
    left = face_gate.left_after([Area(*box) for box in item["faces"]], blur)
    said = "consented" if sent.get("faces") == "consented" else "none" if sent.get("noface") else ""
    if left and not said:
        wrong = "A face may be in it and nothing was said about it."
        raise PhotoError(
            "Keeping the photo.", wrong, "Blur it, or say that everybody asked agrees, or that it is no face."
        )
    picture = here.asking.ask("picture", source, blur)
    seen = face_gate.record(left, picture)
    faces = said if left else "blurred" if blur else ""
    kept = catalog.add(here.catalog, replace(prompt, faces=faces, seen=seen), picture)
    inbox.drop(here.catalog, item["id"])
    return kept


def _words(sent: dict[str, str], name: Any, touched: int) -> dict[str, Any]:
    license_, people = sent.get("license", ""), sent.get("people", "unknown")
    if (license_ and license_ not in LICENSES) or people not in PEOPLE:
        raise unreadable("Keeping the photo.", "The licence or the people is none of those offered.")
    things, place = sent.get("things", ""), sent.get("place", "")
    return {
        "thing": sent.get("thing", ""),
        "things": things,
        "place": place,
        "credit": sent.get("credit", ""),
        "license": license_,
        "people": people,
        "notes": sent.get("notes", ""),
        "touched": touched,
        "title": title_of(name, things, place),
        "no_double": bool(sent.get("no_double")),
        "checked_by": "teacher",
        "tags": tuple(sent.get("tags", "").split(",")),
    }


def drop(request: Request) -> Response:
    """Do not keep it."""
    inbox.drop(site(request).catalog, request.path_params["id"])
    return RedirectResponse("/photos", 303)


ROUTES = [
    Route("/photos", photos, methods=["GET"]),
    Route("/photos", upload, methods=["POST"]),
    Route("/photos/events", events),
    Route("/photos/{id:str}", look),
    Route("/photos/{id:str}/{size:str}.webp", small),
    Route("/photos/{id:str}/keep", keep, methods=["POST"]),
    Route("/photos/{id:str}/drop", drop, methods=["POST"]),
    Route("/photos/{id:str}/{what:str}", change, methods=["POST"]),
]

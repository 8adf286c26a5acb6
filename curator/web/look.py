"""One photo looked at closely: its readings, set right, kept; a kept one opened again."""

from __future__ import annotations

import contextlib
import time
from typing import Any

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from curator.catalog.prompt import LICENSES
from curator.catalog.store import folder as catalog
from curator.errors import CatalogError, CuratorError, PhotoError
from curator.records import Area, Prompt
from curator.web import inbox, keeping
from curator.web.context import GRADE_WORDS, Site, page, site, thumb, wants_json
from curator.web.inbox_worker import keep_one, whole
from curator.web.payloads import area_of, dots_of, line_of, names_of, object_of, point_of, sets_of
from curator.web.photos import listed, summary

BETWEEN = 0.02  # seconds in which who waits for the process gets it


def look(request: Request) -> Response:
    """One photo with its dots, to be set right and kept; as JSON for the script that goes on to the next."""
    here, one = site(request), request.path_params["id"]
    item = inbox.get(here.catalog, one)
    if item["state"] == "error":
        raise PhotoError(**item["error"])
    if item["state"] == "dropped":
        raise PhotoError("Opening a photo.", "It was put away.", "Bring it back under Photos, or upload it again.")
    if item["state"] == "kept":
        at = f"/prompts/{item['slug']}"
        return JSONResponse({"kept": at}) if wants_json(request) else RedirectResponse(at, 303)
    if item["state"] != "ready":
        told = summary(item)
        return JSONResponse({"wait": told}) if wants_json(request) else page(request, "wait.html", item=told)
    start = values(here, whole(here, item, here.asking))
    ready = BackgroundTask(_warm, here, str(inbox.place(here.catalog, one) / "source"))
    if wants_json(request):
        return JSONResponse(start, background=ready)
    batch = [] if "kept_as" in item else listed(request)
    answer = page(request, "look.html", one=start, batch=batch, licenses=LICENSES, grades=GRADE_WORDS)
    answer.background = ready
    return answer


def _warm(here: Site, source: str) -> None:
    with contextlib.suppress(CuratorError, OSError):  # dropped in the meantime
        here.asking.ask("warm", source)


def values(here: Site, item: dict[str, Any]) -> dict[str, Any]:
    """All that the look page shows of an item; readings as `offered`, before them what was kept."""
    near = [] if "kept_as" in item else catalog.near_twins(here.catalog, item["phash"])
    same = [p for p in near if p.source_sha256 == item["sha256"]]
    readings, first = offered(item["answer"]), item.get("as_kept")
    words = inbox.remembered(here.catalog) | item.get("words", {})
    return {
        **{key: item[key] for key in ("id", "name", "size", "faces", "removed")},
        "readings": [first, *(one | {"first": False} for one in readings)] if first else readings,
        "area": item.get("area"),
        "kept_as": item.get("kept_as", ""),
        "faces_said": item.get("faces_said", ""),
        "words": {name: words.get(name, "") for name in (*keeping.WORDS, "license", "people")},
        "near": [_told(p) for p in (same or near)[:2]],
        "same": bool(same),
        "draft": item.get("draft"),
        "problem": item.get("problem"),
    }


def offered(answer: dict[str, Any]) -> list[dict[str, Any]]:
    """The readings of an answer, best first; `at` is a reading's number for keeping it, `first` which one is shown.

    That nothing repeats takes no place of theirs: it can be chosen too, after them all.
    """
    readings = [reading | {"at": k, "first": False} for k, reading in enumerate(answer["readings"])]
    if answer["total"]:
        return [readings[0] | {"first": True}, *readings[1:]]
    nothing: dict[str, Any] = {"grade": "no", "fact": None, "total": None, "kind": None, "line": None, "dots": []}
    return [*readings, nothing | {"reasons": answer["reasons"], "at": keeping.NOTHING, "first": True}]


def _told(prompt: Prompt) -> dict[str, str]:
    alt = prompt.alt_before or "A kept photo"
    fact = str(prompt.fact or "no double")
    return {"slug": prompt.slug, "title": prompt.title, "fact": fact, "picture": thumb(prompt), "alt": alt}


async def change(request: Request) -> Response:
    """again: the teacher's dots; area: a frame; like: more like one thing, but none of the dots that were
    shown. Answers readings, best first (area: as `offered`).

    named: what the things are called. Answers which reading kept pictures of that name speak for, where not the first.
    """
    here, one = site(request), request.path_params["id"]
    sent, what = await object_of(request), request.path_params["what"]
    if what not in ("again", "area", "like", "named"):
        raise HTTPException(404)
    source = str(inbox.place(here.catalog, one) / "source")
    area = area_of(sent.get("area"))

    def work() -> Any:
        if what == "named":
            return _named(here, source, names_of(sent.get("names")), area)
        if what == "area":
            return {"readings": offered(here.asking.ask("within", source, area))}
        if what == "like":
            at, shown = point_of(sent.get("at")), sets_of(sent.get("shown", []))
            return {"readings": here.asking.ask("like", source, at, area, shown)}
        dots, line = dots_of(sent.get("dots", [])), line_of(sent.get("line"))
        return {"readings": here.asking.ask("again", source, dots, line, area)}

    return JSONResponse(await run_in_threadpool(work))


def _named(here: Site, source: str, names: list[str], area: Area | None) -> Any:
    """Kept pictures that nobody looked at yet are looked at first, one by one: her corrections come between."""
    while here.asking.ask("learned", str(here.catalog), names):
        time.sleep(BETWEEN)
    return here.asking.ask("named", source, str(here.catalog), names, area)


async def keep(request: Request) -> Response:
    """Keep what the page shows: a script is answered at once and the work goes on behind it."""
    here, one = site(request), request.path_params["id"]
    async with request.form(max_files=0, max_fields=40) as form:
        sent = {key: str(value) if key in ("state", "blur") else str(value)[:2000] for key, value in form.items()}
    item = inbox.get(here.catalog, one)
    if item["state"] in ("waiting", "looking", "error"):
        raise PhotoError("Keeping the photo.", "It is not looked at yet.", "Wait a moment.")
    if item["state"] == "dropped":
        raise PhotoError("Keeping the photo.", "It was put away.", "Bring it back first.")
    if item["state"] == "ready":
        item = await run_in_threadpool(keeping.begin, here, one, keeping.read(sent))
    if wants_json(request):
        return JSONResponse(summary(item))
    await run_in_threadpool(keep_one, here, one)
    item = inbox.get(here.catalog, one)
    if item["state"] != "kept":
        raise PhotoError(**item["problem"])
    return RedirectResponse(f"/prompts/{item['slug']}?kept=1", 303)


async def open_again(request: Request) -> Response:
    """A kept prompt opened with its dots and halves, to be set right like a photo that waits."""
    here, slug = site(request), request.path_params["slug"]
    item = await run_in_threadpool(_opened, here, slug)
    return RedirectResponse(f"/photos/{item['id']}", 303)


def _opened(here: Site, slug: str) -> dict[str, Any]:
    if not catalog.has(here.catalog, slug):
        raise CatalogError("Opening a prompt.", "There is no such prompt.", "Look for it with Find.", code="no-prompt")
    version = catalog.version(here.catalog, slug)
    open_already = inbox.opened_again(here.catalog, slug, version)
    if open_already:
        return open_already
    prompt = catalog.load(here.catalog, slug)
    data = catalog.picture_path(here.catalog, prompt).read_bytes()
    same = {"digest": prompt.source_sha256} if prompt.source_sha256 else {}  # what forgets the photo forgets this too
    item = inbox.put(here.catalog, prompt.title, data, kept_as=slug, version=version, state="looking", **same)
    place = inbox.place(here.catalog, item["id"])
    try:
        first = here.asking.ask("first", str(place / "source"), str(place))
        if prompt.area:
            first["answer"] = here.asking.ask("within", str(place / "source"), prompt.area)
    except BaseException:
        inbox.drop(here.catalog, item["id"])
        raise
    words = {name: getattr(prompt, name) for name in (*keeping.WORDS, "license", "people") if name != "tags"}
    more: dict[str, Any] = {
        "words": words,
        "as_kept": _as_kept(prompt),
        "area": prompt.area,
        "faces_said": prompt.faces,
    }
    return inbox.update(here.catalog, item["id"], **first, **more, state="ready")


def _as_kept(prompt: Prompt) -> dict[str, Any]:
    """A prompt's dots and halves as a reading."""
    counted = [d for d in prompt.dots if d.side or prompt.fact is None]
    dots = [*counted, *(d for d in prompt.dots if d not in counted)]
    return {
        "at": keeping.AS_KEPT,
        "first": True,
        "grade": prompt.grade,
        "touched": prompt.touched,
        "fact": str(prompt.fact) if prompt.fact else None,
        "total": len(counted),
        "kind": prompt.kind if prompt.fact else None,
        "line": prompt.line,
        "dots": [{"x": d.x, "y": d.y, "side": d.side} for d in dots],
        "reasons": [],
    }


ROUTES = [
    Route("/photos/{id:str}", look),
    Route("/photos/{id:str}/keep", keep, methods=["POST"]),
    Route("/photos/{id:str}/{what:str}", change, methods=["POST"]),
    Route("/prompts/{slug:str}/look", open_again, methods=["POST"]),
]

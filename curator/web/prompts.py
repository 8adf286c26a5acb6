"""Find, and one prompt with its words."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from curator.catalog import edits, face_gate
from curator.catalog.face_words import is_answered, is_quiet
from curator.catalog.prompt import LICENSES
from curator.catalog.search import days, index, query
from curator.catalog.search.gaps import IDEAS
from curator.catalog.search.index import Found
from curator.catalog.store import folder as catalog
from curator.catalog.store.bin import binned
from curator.errors import CatalogError, ChangedError, PhotoError
from curator.records import KINDS, PEOPLE, Prompt
from curator.web import inbox, lesson_file
from curator.web.bins import prompt_in
from curator.web.context import WIDTHS, being_read, is_outside, page, site
from curator.web.payloads import boxes_of

PER_PAGE = 24
EDITED = ("title", "thing", "things", "place", "credit", "license", "people", "notes")


def find(request: Request) -> Response:
    """One box; with part=1 only the results, for the script that answers as one types."""
    if (reading := being_read(request)) is not None:
        return reading
    sent = request.query_params
    words = sent.get("q", "")[:300]
    number = min(max(int(sent["page"]), 1), 100_000) if sent.get("page", "").isdecimal() else 1
    kind, kept = sent.get("kind", "")[:20], {name: _day(sent.get(name, "")) for name in ("since", "until")}
    asked = " ".join(part for part in (words, kind) if part)
    here = site(request)
    found = Found(0, ())
    if here.catalog.is_dir():
        found = index.find(
            here.catalog,
            asked,
            limit=PER_PAGE,
            offset=(number - 1) * PER_PAGE,
            outside=is_outside(request),
            at_once=True,
            **kept,
        )
    values: dict[str, Any] = {
        "q": words,
        "kind": kind,
        **kept,
        "asked": {"q": words, "kind": kind, **kept},
        "found": found,
        "number": number,
        "kinds": (*KINDS, "none"),
        "pages": max(1, -(-found.total // PER_PAGE)),
        "licenses": LICENSES,
        "picked": lesson_file.slugs(here.catalog),
        "gone": _gone(here.catalog, sent.get("gone", "")) if not is_outside(request) else None,
    }
    if not found.total:
        values |= _instead(words, kind, kept)
    return page(request, "_results.html" if sent.get("part") else "find.html", **values)


def _day(typed: str) -> str:
    """A day as the browser sends it; "" for anything else."""
    return typed if days.number(typed) else ""


def _instead(words: str, kind: str, kept: dict[str, str]) -> dict[str, Any]:
    """What to say where nothing is found: that no such double is taught, or what shows the one fact asked for."""
    asked = query.parse(words)
    half = 0 if asked.kinds or kind or any(kept.values()) else query.half_asked(asked)
    return {"beyond": query.TAUGHT if query.is_beyond(asked) else "", "half": half, "ideas": IDEAS.get(half, ())}


def _gone(here: Path, slug: str) -> dict[str, str] | None:
    """The prompt that was removed just now, where it can be brought back."""
    there = None if not slug or catalog.has(here, slug) else next((o for o in binned(here) if o.slug == slug), None)
    prompt = prompt_in(there) if there else None
    return {"slug": slug, "title": prompt.title if prompt else slug} if there else None


def prompt(request: Request) -> Response:
    """One prompt with its words."""
    here, one = site(request).catalog, shown_prompt(request)
    kept = bool(request.query_params.get("kept"))
    waiting = [item for item in inbox.every(here) if item["state"] == "ready"] if kept else []
    return _shown(request, one, kept=kept, back=bool(request.query_params.get("back")), waiting=waiting)


def _shown(request: Request, one: Prompt, status: int = 200, **more: Any) -> Response:
    """A prompt's own page; `more` is what has just happened to it."""
    here, slug = site(request).catalog, one.slug
    earlier, later = catalog.history(here, slug)
    said: dict[str, Any] = {"kept": False, "back": False, "waiting": [], "changed": [], **more}
    return page(
        request,
        "prompt.html",
        status,
        p=one,
        version=catalog.version(here, slug),
        licenses=LICENSES,
        people=PEOPLE,
        earlier=earlier,
        later=later,
        picked=slug in lesson_file.slugs(here),
        **said,
    )


def shown_prompt(request: Request) -> Prompt:
    """The prompt of the address; others on the network get none that may show an unanswered face."""
    here, slug = site(request).catalog, request.path_params["slug"]
    if not catalog.has(here, slug):
        raise _none()
    one = catalog.load(here, slug)
    if is_outside(request) and not may_be_seen(here, one):
        raise _none()
    return one


def _none() -> CatalogError:
    return CatalogError("Opening a prompt.", "There is no such prompt.", "Look for it with Find.", code="no-prompt")


def may_be_seen(here: Path, one: Prompt) -> bool:
    """Whether the picture as it lies there was searched for faces, and each was answered for."""
    try:
        return is_answered(one) or (
            is_quiet(one) and face_gate.recorded(one, catalog.picture_path(here, one).read_bytes()) is not None
        )
    except OSError:
        return False


async def edit(request: Request) -> Response:
    """Save changed words; who saves second is told what changed meanwhile."""
    async with request.form(max_files=0, max_fields=20) as form:
        sent = {key: str(value)[:2000] for key, value in form.items()}
    return await run_in_threadpool(_edit, request, sent)


def _edit(request: Request, sent: dict[str, str]) -> Response:
    here = site(request).catalog
    old = shown_prompt(request)
    try:
        edits.edit(here, old.slug, _said(sent), expected=sent.get("version", ""))
    except ChangedError:
        now = catalog.load(here, old.slug)
        differ = [
            (name, getattr(now, name), sent[name])
            for name in EDITED
            if name in sent and getattr(now, name) != sent[name]
        ]
        return _shown(request, now, 409, changed=differ or [("", "", "")])
    return RedirectResponse(f"/prompts/{old.slug}?kept=1", 303)


async def step(request: Request) -> Response:
    """One version back, or with `forward` on again: what was saved by mistake is taken back."""
    async with request.form(max_files=0, max_fields=5) as form:
        version, forward = str(form.get("version", "")), bool(form.get("forward"))
    return await run_in_threadpool(_step, request, version, forward)


def _step(request: Request, version: str, forward: bool) -> Response:
    here, slug = site(request).catalog, shown_prompt(request).slug
    if catalog.version(here, slug) != version:
        wrong = "Somebody else changed this prompt since you opened it."
        raise ChangedError(f"Going back with {slug}.", wrong, "Open it again and look.")
    (catalog.redo if forward else catalog.undo)(here, slug)
    return RedirectResponse(f"/prompts/{slug}?{'kept' if forward else 'back'}=1", 303)


def _said(sent: dict[str, str]) -> dict[str, str]:
    return {name: sent[name] for name in EDITED if name in sent}


def blur(request: Request) -> Response:
    """A kept picture with the faces found pointed out, to draw a blur over."""
    here, one = site(request), shown_prompt(request)
    seen = here.asking.ask("people", str(here.catalog), one)
    version, boxes = catalog.version(here.catalog, one.slug), json.dumps(seen["faces"])
    return page(request, "blur.html", p=one, faces=seen["faces"], size=seen["size"], boxes=boxes, version=version)


async def blurred(request: Request) -> Response:
    """Make the boxes unrecognisable, with `found` all that were found too; the picture before is gone for good."""
    async with request.form(max_files=0, max_fields=5) as form:
        boxes, version = boxes_of(str(form.get("blur", ""))), str(form.get("version", ""))
        found = bool(form.get("found"))
    slug = request.path_params["slug"]
    await run_in_threadpool(_blurred, request, boxes, version, found)
    return RedirectResponse(f"/prompts/{slug}?kept=1", 303)


def _blurred(request: Request, boxes: list[list[float]], version: str, found: bool) -> None:
    here, one = site(request), shown_prompt(request)
    doing = f"Blurring the picture of {one.slug}."
    if catalog.version(here.catalog, one.slug) != version:
        raise ChangedError(doing, "Somebody else changed this prompt since you opened it.", "Open it again and look.")
    faces = here.asking.ask("people", str(here.catalog), one)["faces"]
    boxes = [*boxes, *face_gate.to_blur(faces)] if found else boxes
    if not boxes:
        raise PhotoError(doing, "No place was marked.", "Draw a box over what must not be seen.")
    picture = here.asking.ask("picture", str(catalog.picture_path(here.catalog, one)), boxes)
    seen = face_gate.record(face_gate.left_after(faces, boxes), picture)
    catalog.replace_picture(here.catalog, one.slug, picture, faces="blurred", seen=seen)


def remove(request: Request) -> Response:
    """Move it to the bin."""
    here, one = site(request).catalog, shown_prompt(request)
    catalog.remove(here, one.slug)
    lesson_file.drop(here, one.slug)
    return RedirectResponse(f"/find?gone={one.slug}", 303)


def thumb(request: Request) -> Response:
    """A prompt's picture as WebP at one of the screen's widths, made once."""
    width = request.path_params["width"]
    if width not in WIDTHS:
        raise CatalogError("Showing a picture.", "There is none of that width.", "Go back.", code="gone")
    one = shown_prompt(request)
    here = site(request)
    source = catalog.picture_path(here.catalog, one)
    stamp = source.stat().st_mtime_ns if source.is_file() else 0
    folder = here.catalog / ".inbox" / "screen"
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{hashlib.sha256(f'{one.picture} {stamp} {width}'.encode()).hexdigest()[:32]}.webp"
    if not path.is_file():
        part = path.with_suffix(f".{id(request):x}.part")
        here.asking.ask("small", str(source), str(part), width)
        part.replace(path)
    return FileResponse(path, media_type="image/webp", headers={"cache-control": "private, max-age=3600"})


ROUTES = [
    Route("/find", find),
    Route("/prompts/{slug:str}", prompt, methods=["GET"]),
    Route("/prompts/{slug:str}", edit, methods=["POST"]),
    Route("/prompts/{slug:str}/step", step, methods=["POST"]),
    Route("/prompts/{slug:str}/blur", blur, methods=["GET"]),
    Route("/prompts/{slug:str}/blur", blurred, methods=["POST"]),
    Route("/prompts/{slug:str}/remove", remove, methods=["POST"]),
    Route("/thumb/{slug:str}/{width:int}", thumb),
]

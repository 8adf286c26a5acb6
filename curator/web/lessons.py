"""The lesson made: its order, and its downloads."""

from __future__ import annotations

import asyncio
import json
import re
import tempfile
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from curator.catalog.prompt import slug_of
from curator.catalog.store import folder as catalog
from curator.classroom.plan import LONGEST_NAME, Plan, Step, lesson_name
from curator.classroom.text.questions import label
from curator.errors import CatalogError, ChangedError, CuratorError, LessonError
from curator.records import Fact, Prompt
from curator.systems import RESERVED
from curator.web import lesson_file, scene_maker
from curator.web.context import Site, has_any, page, site, wants_json
from curator.web.showing import ask_all, ready

NAMES = {
    "pptx": "Slides",
    "html": "A page to open anywhere",
    "pdf": "Cards to print",
    "zip": "The pictures alone",
    "yaml": "The plan, to change by hand",
}
ASKED = {"see": "see it", "cover": "cover one half", "near": "and one more", "is_it": "is it a double?"}


def lesson(request: Request) -> Response:
    """The pictures in order with what is asked, and the downloads. Its pictures begin to be made."""
    asked = request.query_params
    here = site(request)
    plan, keys, prompts = lesson_file.plan(here.catalog)
    ask_all(here, plan, prompts)
    rows = [_row(*one) for one in zip(keys, plan.steps, prompts, strict=True)]
    moved = (asked.get("moved", ""), asked.get("way", ""))  # whose arrow keeps the focus
    days = len({step.day for step in plan.steps})
    usual = label(plan.language, "title")
    return page(
        request,
        "lesson.html",
        rows=rows,
        kept=has_any(here.catalog),
        plan=plan,
        days=days,
        kinds=NAMES,
        moved=moved,
        longest=LONGEST_NAME,
        usual=usual,
    )


def _row(key: str, step: Step, prompt: Prompt | None) -> dict[str, Any]:
    words = [ASKED.get(stage, f"cover {step.hide}, not half") for stage in step.stages]
    name = prompt.title if prompt else "Ten frame"
    fact = prompt.fact if prompt else Fact(step.frame)
    return {"key": key, "day": step.day, "p": prompt, "name": name, "fact": fact, "asked": " · ".join(words)}


async def change(request: Request) -> Response:
    """add, remove, up, down: a picture; order: all of them; sort: small facts first; name: what it is called."""
    here = site(request).catalog
    async with request.form(max_files=0, max_fields=500) as form:
        what, slug = str(form.get("what", "")), str(form.get("slug", ""))
        order = [str(one) for one in form.getlist("order")]
        back = str(form.get("back", "/lesson"))
        name = str(form.get("name", ""))
    if what == "name":
        await run_in_threadpool(lesson_file.rename, here, lesson_name("Naming the lesson.", name))
    if what == "sort":
        order = await run_in_threadpool(_small_to_large, here)
        what = "order"
    if what == "add" and not catalog.has(here, slug):
        raise CatalogError(
            "Adding to the lesson.", "There is no such prompt.", "Look for it with Find.", code="no-prompt"
        )
    await run_in_threadpool(lesson_file.change, here, lambda keys: _moved(keys, what, slug, order))
    if wants_json(request):
        return JSONResponse({"order": lesson_file.keys(here)})
    if what in ("up", "down") and slug.isascii() and slug.replace("-", "").replace(":", "").isalnum():
        back = f"/lesson?moved={slug}&way={what}"
    own = back.startswith("/") and not back.startswith("//") and "\\" not in back and back.isprintable()
    return RedirectResponse(back[:300] if own else "/lesson", 303)


def _small_to_large(here: Path) -> list[str]:
    """The keys by their fact; pictures that are no double come last, for they ask to be compared."""
    plan, keys, prompts = lesson_file.plan(here)
    halves = [step.frame or (p.fact.half if p and p.fact else 99) for step, p in zip(plan.steps, prompts, strict=True)]
    placed = [key for _, key in sorted(zip(halves, keys, strict=True), key=lambda one: one[0])]
    return [*placed, *(key for key in lesson_file.keys(here) if key not in placed)]


def _moved(keys: list[str], what: str, slug: str, order: list[str]) -> list[str]:
    if what == "add":
        return keys if any(lesson_file.AGAIN.sub("", key) == slug for key in keys) else [*keys, slug]
    if what == "order":
        if sorted(order) != sorted(keys):
            wrong = "Somebody else changed the lesson since you opened it."
            raise ChangedError("Putting the lesson in order.", wrong, "Open the lesson again and order it there.")
        return order
    if slug in keys and what in ("remove", "up", "down"):
        at = keys.index(slug)
        rest = keys[:at] + keys[at + 1 :]
        if what == "remove":
            return rest
        to = max(0, at - 1) if what == "up" else at + 1
        return [*rest[:to], slug, *rest[to:]]
    return keys


async def progress(request: Request) -> Response:
    """Server-sent events while the lesson's pictures are made: how many of how many, then `done`, or `failed`."""
    return StreamingResponse(_progress(site(request)), media_type="text/event-stream")


async def _progress(here: Site) -> AsyncIterator[str]:
    plan, _, prompts = await run_in_threadpool(lesson_file.plan, here.catalog)
    pairs = list(zip(plan.steps, prompts, strict=True))
    jobs = [here.making.ask(here.catalog, *pair, scene_maker.NOW)[1] for pair in pairs]
    going = {asyncio.wrap_future(job) for job in jobs}
    while True:
        yield f"data: {json.dumps({'done': len(pairs) - len(going), 'of': len(pairs)})}\n\n"
        if not going:
            break
        ended, going = await asyncio.wait(going, return_when=asyncio.FIRST_COMPLETED)
        failed = next((error for one in ended if (error := one.exception())), None)
        if failed is not None:
            words = f"{failed.wrong} {failed.try_this}" if isinstance(failed, CuratorError) else "A picture failed."
            yield f"event: failed\ndata: {json.dumps(words)}\n\n"
            return
    yield "event: done\ndata: {}\n\n"


def download(request: Request) -> Response:
    """The lesson as slides, page, cards, pictures or plan."""
    kind = request.path_params["kind"]
    if kind not in NAMES:
        raise LessonError("Making the lesson.", "That kind of lesson cannot be made here.", "Choose another.")
    plan, _, prompts = lesson_file.plan(site(request).catalog)
    path = _write(site(request), kind, plan, prompts)
    done = BackgroundTask(lambda: path.unlink(missing_ok=True))
    return FileResponse(path, filename=f"{_file_name(plan.name)}.{kind}", background=done)


def _file_name(name: str) -> str:
    """The lesson's name as a file may have it on every system; "lesson" where nothing is left of it."""
    found = slug_of(name) if re.search(r"[a-z0-9]", name, re.IGNORECASE) else "lesson"
    return f"{found}-lesson" if found in RESERVED else found


def _write(here: Site, kind: str, plan: Plan, prompts: list[Prompt | None]) -> Path:
    from curator.classroom import lesson as lessons

    if not plan.steps:
        raise LessonError("Making the lesson.", "No picture is picked.", "Choose facts on Home and make one.")
    for step, prompt in zip(plan.steps, prompts, strict=True):
        here.making.ask(here.catalog, step, prompt, scene_maker.NOW)[1].result()
    made = lessons.lesson(here.catalog, plan, made=lambda step, prompt: ready(here, step, prompt, plan.language))
    path = Path(tempfile.mkstemp(prefix="lesson-", suffix=f".{kind}", dir=here.catalog / ".inbox")[1])
    try:
        return lessons.write(made, path)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


ROUTES = [
    Route("/lesson", lesson, methods=["GET"]),
    Route("/lesson", change, methods=["POST"]),
    Route("/lesson/progress", progress),
    Route("/lesson/lesson.{kind:str}", download),
]

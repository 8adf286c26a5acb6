"""The class view: the viewer of the exported lesson, its pictures made when they are near."""

from __future__ import annotations

import asyncio
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from curator.classroom import frames
from curator.classroom.plan import Plan, Step
from curator.classroom.views import Views, names
from curator.errors import LessonError
from curator.records import Fact, Prompt
from curator.web import lesson_file, scene_maker, scenes
from curator.web.context import Site, is_outside, site
from curator.web.prompts import may_be_seen, shown_prompt

KEY = re.compile(r"[0-9a-f]{32}")
NAMES = re.compile(rf"frame|(over-)?({'|'.join(scenes.WHOLE)})")
BLANK = b"-"  # stands where a picture will be


def show_lesson(request: Request) -> Response:
    """The lesson, from its first picture to its last in one document."""
    here = site(request).catalog
    plan, _, prompts = lesson_file.plan(here)
    if is_outside(request):  # a phone sees no picture with a face that nobody answered for
        shown = [(s, p) for s, p in zip(plan.steps, prompts, strict=True) if p is None or may_be_seen(here, p)]
        plan, prompts = replace(plan, steps=tuple(s for s, _ in shown)), [p for _, p in shown]
    if not plan.steps:
        raise LessonError("Showing the lesson.", "No picture is in it yet.", "Choose facts on Home and make one.")
    return _viewer(request, plan, prompts, "/lesson" if request.scope["state"]["role"] == "teacher" else "/find")


def show(request: Request) -> Response:
    """One prompt, in the language of the lesson made last. Nothing in the title or address tells the answer."""
    one = shown_prompt(request)
    slug = one.slug
    step = Step(1, slug, stages=("see", "cover") if one.fact else ("is_it",))
    return _viewer(
        request, Plan(lesson_file.stored(site(request).catalog).language, (step,)), [one], f"/prompts/{slug}"
    )


def _viewer(request: Request, plan: Plan, prompts: list[Prompt | None], close: str) -> Response:
    from curator.classroom import lesson as lessons
    from curator.classroom.writers import page

    here = site(request)
    keys = ask_all(here, plan, prompts)
    made = lessons.lesson(here.catalog, plan, made=lambda step, prompt: ready(here, step, prompt, plan.language))
    if request.scope["state"]["role"] != "teacher":  # names of who took a picture stay on the teacher's machine
        made = replace(made, scenes=tuple(replace(s, credit="", license_url="") for s in made.scenes))
    return HTMLResponse(page.html(made, close=close, linked=[f"/show/made/{key}" for key in keys]))


def ask_all(here: Site, plan: Plan, prompts: list[Prompt | None]) -> list[str]:
    """Have all pictures of a plan made, the first ones first; their keys."""
    return [
        here.making.ask(here.catalog, step, prompt, scene_maker.SOON if n < 2 else scene_maker.LATER)[0]
        for n, (step, prompt) in enumerate(zip(plan.steps, prompts, strict=True))
    ]


def ready(here: Site, step: Step, prompt: Prompt | None, language: str) -> tuple[Views, tuple[str, ...]]:
    """A scene's views where they are made, else blanks of the same kinds; with what was measured, in words."""
    path = scenes.file(here.catalog, scenes.key(here.catalog, step, prompt))
    try:
        views, notes = scenes.read(path)
    except LessonError:
        shown = prompt or frames.frame(Fact(step.frame), 120)[1]
        blank: dict[str, Any] = dict.fromkeys(names(shown, (*step.stages, *(("dots",) if prompt else ()))), BLANK)
        return Views((4, 3), BLANK, **blank), ()
    return views, tuple(note.say(language) for note in notes)


async def made(request: Request) -> Response:
    """Where a scene's pictures are, as soon as they are made."""
    here, one = site(request), request.path_params["key"]
    if not KEY.fullmatch(one):
        raise LessonError("Showing a picture.", "There is no such picture.", "Reload the page.", code="gone")
    path = scenes.file(here.catalog, one)
    if not path.is_file() and (job := here.making.hurry(one)) is not None:
        await asyncio.wrap_future(job)
    return JSONResponse(await asyncio.to_thread(_told, path, one))


def _told(path: Path, one: str) -> dict[str, Any]:
    from curator.classroom.writers import page

    views, _ = scenes.read(path)
    told = page.pictures(views, None, address=lambda name, _: f"/show/made/{one}/{name}")
    if scenes.has(path, "frame"):
        told["whole"]["frame"] = f"/show/made/{one}/frame"
    return told


def picture(request: Request) -> Response:
    """One picture of a scene."""
    one, name = request.path_params["key"], request.path_params["name"]
    if not (KEY.fullmatch(one) and NAMES.fullmatch(name)):
        raise LessonError("Showing a picture.", "There is no such picture.", "Reload the page.", code="gone")
    data = scenes.part(scenes.file(site(request).catalog, one), name)
    kept = {"cache-control": "private, max-age=3600"}
    return Response(data, media_type=scenes.TYPES.get(data[:2], "application/octet-stream"), headers=kept)


ROUTES = [
    Route("/show", show_lesson),
    Route("/show/made/{key:str}", made),
    Route("/show/made/{key:str}/{name:str}", picture),
    Route("/show/{slug:str}", show),
]

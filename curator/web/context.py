"""What every page shares: the catalog, the workers, templates, and errors as pages in plain words."""

from __future__ import annotations

import errno
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from curator.catalog import reading
from curator.catalog.search import index
from curator.errors import Code, CuratorError
from curator.facts import KIND_WORDS
from curator.limited import Process
from curator.records import Grade, People, Prompt
from curator.web.rights import Rights, TooMuchError, TooSlowError
from curator.web.sandbox import worker
from curator.web.scene_maker import Maker

GRADE_WORDS: dict[Grade, str] = {
    "sure": "Ready: nothing speaks against it.",
    "check": "Please check the dots.",
    "no": "",  # "No double" stands above it
}
AGAIN = "Go back and try again."
PEOPLE_WORDS: dict[People, str] = {"unknown": "not known", "none": "none", "consented": "yes, all have agreed"}
WIDTHS = (320, 1280)
STATUS: dict[Code, int] = {"no-prompt": 404, "gone": 404, "twin": 409, "changed": 409, "disk-full": 507}


@dataclass(slots=True)
class Site:
    """One server: its catalog, its rights and its two picture processes."""

    catalog: Path
    rights: Rights
    looking: Process = field(default_factory=worker)  # the batch
    asking: Process = field(default_factory=worker)  # the teacher's corrections, never behind the batch
    making: Maker = field(default_factory=Maker)  # pictures of lessons
    wake: Callable[[str], None] = lambda _: None  # hand an item to the batch
    keep: Callable[[str], None] = lambda _: None  # and one to be kept
    outline: Callable[[str], None] = lambda _: None  # and a prompt whose things may be outlined when nothing else waits
    keeping: threading.Lock = field(default_factory=threading.Lock)  # one is kept at a time: asked twice, kept once
    changes: int = 0  # goes up with each answer of the batch
    address: str = ""  # for the phone
    door: Any = None  # the second server, opened for phones while the page runs


def site(request: Request) -> Site:
    """The server that this request came to."""
    found: Site = request.app.state.site
    return found


@cache
def templates() -> Any:
    """Jinja2 with everything escaped."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    loader = FileSystemLoader(Path(__file__).parent / "templates")
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.globals.update(kind_words=KIND_WORDS, grade_words=GRADE_WORDS, people_words=PEOPLE_WORDS, thumb=thumb)
    return made


def thumb(prompt: Prompt, width: int = 320) -> str:
    """Address of a prompt's picture at one of WIDTHS; changes with the picture."""
    return f"/thumb/{prompt.slug}/{width}?p={quote(prompt.picture)}"


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """A template as a page."""
    who = request.scope.get("state", {}).get("role", "")
    common = {"who": who, "path": request.url.path, "network": who == "teacher" and site(request).rights.network}
    return HTMLResponse(templates().get_template(template).render(**common, **values), status)


def being_read(request: Request) -> Response | None:
    """The page that says how far a large catalog is read that has no index yet; None for one that can be asked."""
    here = site(request).catalog
    if not here.is_dir() or (far := index.being_read(here)) is None:
        return None
    part = bool(request.query_params.get("part"))
    return page(request, "_reading.html" if part else "reading.html", read=far[0], count=far[1])


def has_any(catalog: Path) -> bool:
    """Whether a prompt is kept, readable or not."""
    return catalog.is_dir() and any(True for _ in reading.slugs(catalog))


def is_outside(request: Request) -> bool:
    """Whether somebody else on the network asks."""
    return bool(request.scope.get("state", {}).get("role") != "teacher")


def wants_json(request: Request) -> bool:
    """Whether a script of ours asks, not a person's browser."""
    return "application/json" in request.headers.get("accept", "")


def refusal(request: Request, status: int, wrong: str, try_this: str, doing: str = "") -> Response:
    """An error in three sentences: a page, or JSON for a script."""
    if wants_json(request):
        return JSONResponse({"error": {"doing": doing, "wrong": wrong, "try_this": try_this}}, status)
    who = request.scope.get("state", {}).get("role", "")
    values = {
        "who": who,
        "path": request.url.path,
        "network": False,
        "doing": doing,
        "wrong": wrong,
        "try_this": try_this,
    }
    return HTMLResponse(templates().get_template("error.html").render(values), status)


def status_of(error: CuratorError) -> int:
    """The HTTP status that fits."""
    cause = error.__cause__
    if isinstance(cause, OSError) and cause.errno in (errno.ENOSPC, errno.EDQUOT):
        return STATUS["disk-full"]
    return STATUS.get(error.code, 422)


def _elsewhere(request: Request) -> str:
    """Where to look for what is not at an address; only she has the bin."""
    look = "Look for it under Find." if is_outside(request) else "Look under Find; the bin is there too."
    return f"The picture or page may have been moved or put away. {look}"


async def told(request: Request, error: Exception) -> Response:
    """Every error a person can mend."""
    if isinstance(error, CuratorError):
        return refusal(request, status_of(error), error.wrong, error.try_this, error.doing)
    if isinstance(error, TooMuchError):
        return refusal(request, 413, "That is more than 90 MB at once.", "Send fewer or smaller photos.")
    if isinstance(error, TooSlowError):
        return refusal(request, 408, "What was sent came too slowly.", "Come nearer to the network, and send it again.")
    if isinstance(error, OSError):
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            return refusal(
                request, 507, "The disk is full.", "Make room on it, then do this again. Nothing kept is lost."
            )
        wrong = f"The catalog's folder cannot be used ({error.strerror or type(error).__name__})."
        return refusal(request, 503, wrong, "Check that the drive is there and may be written to.")
    if isinstance(error, HTTPException):
        known = {404: "There is no such page.", 405: "That cannot be done here.", 400: "What was sent cannot be read."}
        wrong = known.get(error.status_code, str(error.detail))
        return refusal(request, error.status_code, wrong, _elsewhere(request) if error.status_code == 404 else AGAIN)
    return refusal(request, 500, "Something went wrong in the program.", f"{AGAIN} Nothing kept is lost.")

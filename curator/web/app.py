"""The page's application: routes, the gate, and the batch that looks at photos one after the other."""

from __future__ import annotations

import contextlib
import itertools
import json
import queue
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse
from starlette.routing import Route

from curator.classroom.writers import page
from curator.errors import CuratorError
from curator.web import bins, home, inbox, lessons, look, network, phones, photos, prompts, sharing, showing
from curator.web.context import Site, told
from curator.web.guard import Guard
from curator.web.inbox_worker import keep_one, learn, look_first, look_second, outline, search_faces
from curator.web.rights import Rights, TooMuchError, TooSlowError

STATIC = Path(__file__).parent / "static"
CLEARED_EVERY = 1800.0  # seconds
KEEP, FIRST, SECOND, LEARN, OUTLINE = range(5)  # what is kept first, then the answers, then what can wait
VIEWER = Path(page.__file__).parent / "page_files"  # style, scripts and typeface of the class view
TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


def static(request: Request) -> FileResponse:
    """One of our own files."""
    known = {p.name: p for folder in (STATIC, VIEWER) for p in folder.iterdir() if p.suffix in TYPES}
    path = known.get(request.path_params["name"])
    if path is None:
        raise HTTPException(404)
    kept = "private, max-age=31536000, immutable" if path.suffix == ".woff2" else "no-cache"
    return FileResponse(path, media_type=TYPES[path.suffix], headers={"cache-control": kept})


def _clear_now_and_then(catalog: Path, over: threading.Event) -> None:
    """What waits too long goes while the page is open too."""
    while not over.wait(CLEARED_EVERY):
        with contextlib.suppress(OSError):  # the drive is away
            inbox.clear(catalog)


def make_app(catalog: Path, rights: Rights | None = None, address: str = "") -> Starlette:
    """The application for one catalog folder (made with the first prompt)."""
    here = Site(catalog, rights or Rights(), address=address)
    waiting: queue.PriorityQueue[tuple[int, int, str]] = queue.PriorityQueue()
    count = itertools.count()
    here.wake = lambda one: waiting.put((FIRST, next(count), one))
    here.keep = lambda one: waiting.put((KEEP, next(count), one))

    here.outline = lambda slug: waiting.put((OUTLINE, next(count), slug))

    def batch() -> None:
        while (task := waiting.get())[2]:
            if task[0] == KEEP:
                waiting.put((LEARN, next(count), json.dumps(keep_one(here, task[2]))))
            elif task[0] == LEARN:
                if learn(here, json.loads(task[2])):
                    waiting.put((LEARN, next(count), task[2]))
            elif task[0] == OUTLINE:
                outline(here, task[2])
            elif task[0] == SECOND:
                look_second(here, task[2])
            elif look_first(here, task[2]):
                waiting.put((SECOND, next(count), task[2]))

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        inbox.clear(catalog)
        for item in inbox.left(catalog):  # left from before a restart
            (here.keep if item["state"] == "keeping" else here.wake)(item["id"])
        thread = threading.Thread(target=batch, daemon=True)
        thread.start()
        over = threading.Event()
        threading.Thread(target=_clear_now_and_then, args=(catalog, over), daemon=True).start()
        if here.rights.network_read:
            threading.Thread(target=search_faces, args=(here, over), daemon=True).start()
        yield
        over.set()
        waiting.put((-1, 0, ""))
        here.looking.end()
        here.asking.end()
        here.making.stop()
        await run_in_threadpool(network.shut, here)

    handlers: dict[Any, Any] = dict.fromkeys(
        (CuratorError, OSError, HTTPException, TooMuchError, TooSlowError, Exception), told
    )
    pages = (home, photos, look, prompts, showing, lessons, sharing, bins, phones)
    routes = [Route("/static/{name:str}", static), *(route for one in pages for route in one.ROUTES)]
    app = Starlette(
        routes=routes,
        lifespan=lifespan,
        exception_handlers=handlers,
        middleware=[Middleware(Guard, rights=here.rights)],
    )
    app.state.site = here
    return app

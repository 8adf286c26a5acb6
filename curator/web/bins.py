"""The bin: what was removed, with its pictures, and bringing it back."""

from __future__ import annotations

import contextlib
import tempfile
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from curator.catalog import reading
from curator.catalog.store import bin as store
from curator.errors import CatalogError, CuratorError
from curator.records import Prompt
from curator.web.context import page, site

MOST = 120  # shown


def listed(request: Request) -> Response:
    """What lies in the bin, newest first."""
    here = site(request).catalog
    found: list[dict[str, Any]] = []
    for one in store.binned(here) if here.is_dir() else ():
        if all(one.slug != other["slug"] for other in found):  # an earlier one of the name comes when this is back
            found.append({"slug": one.slug, "day": one.day, "p": prompt_in(one)})
    return page(request, "bin.html", found=found[:MOST], total=len(found))


def prompt_in(one: store.Binned) -> Prompt | None:
    with contextlib.suppress(CuratorError, OSError):
        source = one.place / f"{one.slug}{reading.SUFFIX}"
        return reading.parse(reading.read_text(source, source.name), one.slug)
    return None


def picture(request: Request) -> Response:
    """A small copy of a picture in the bin; it is not kept."""
    here, slug = site(request), request.path_params["slug"]
    one = next((one for one in store.binned(here.catalog) if one.slug == slug), None)
    prompt = prompt_in(one) if one else None
    if one is None or prompt is None:
        raise CatalogError("Showing a picture.", "It is not in the bin.", "Go back.", code="not-in-bin")
    with tempfile.TemporaryDirectory() as folder:
        small = Path(folder) / "small.webp"
        here.asking.ask("small", str(one.place / prompt.picture), str(small), 320)
        return Response(small.read_bytes(), media_type="image/webp")


async def bring_back(request: Request) -> Response:
    """Put one back into the catalog."""
    async with request.form(max_files=0, max_fields=5) as form:
        slug = str(form.get("slug", ""))[:200]
    back = await run_in_threadpool(store.bring_back, site(request).catalog, slug)
    return RedirectResponse(f"/prompts/{back.slug}", 303)


ROUTES = [
    Route("/bin", listed),
    Route("/bin/back", bring_back, methods=["POST"]),
    Route("/bin/{slug:str}.webp", picture),
]

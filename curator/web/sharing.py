"""Sharing: pack a selection for a colleague, receive a bundle, with what was left out and why."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from curator.catalog import edits
from curator.catalog.prompt import LICENSES
from curator.catalog.store import folder as catalog
from curator.errors import BundleError
from curator.web import inbox, lesson_file
from curator.web.context import has_any, page, site

if TYPE_CHECKING:
    from curator.catalog.bundle import Refused

PACKED, RECEIVED = "set.zip", "received.zip"  # in .inbox; `curator forget` takes both away


def share(request: Request) -> Response:
    """Pack a selection, receive a bundle."""
    return _page(request)


def _page(request: Request, status: int = 200, **values: Any) -> Response:
    start = {
        "words": "",
        "inside": False,
        "notes": False,
        "packed": None,
        "got": None,
        "refused": [],
        "error": None,
        "which": "words",
        "licenses": LICENSES,
        "last": inbox.remembered(site(request).catalog),
        "kept": has_any(site(request).catalog),
    }
    picked = len(lesson_file.slugs(site(request).catalog))
    return page(request, "share.html", status, **start | {"picked": picked} | values)


def _told(here: Path, refused: tuple[Refused, ...] | list[Refused]) -> list[dict[str, Any]]:
    """Each that was left out; faces: a look and a tick would let it through; missing: what the one form can say."""
    return [
        {
            "slug": one.slug,
            "wrong": one.wrong,
            "faces": one.code == "faces",
            "missing": one.missing,
            "p": catalog.load(here, one.slug) if one.missing else None,
        }
        for one in refused
    ]


def _told_of_others(refused: tuple[Refused, ...] | list[Refused]) -> list[dict[str, Any]]:
    """The same of a bundle that came in: nothing of it is here to be mended."""
    return [{"slug": one.slug, "wrong": one.wrong, "faces": one.code == "faces", "missing": ()} for one in refused]


def _names(form: FormData, field: str) -> list[str]:
    return [str(one)[:200] for one in form.getlist(field)][:5000]


async def pack(request: Request) -> Response:
    """A bundle of what the words find, or of the lesson's pictures."""
    async with request.form(max_files=0, max_fields=5000) as form:
        asked, looked = _asked(form), _names(form, "faces_ok")
    return await run_in_threadpool(_pack, request, asked, looked)


def _asked(form: FormData) -> dict[str, Any]:
    return {
        "which": "lesson" if form.get("which") == "lesson" else "words",
        "words": str(form.get("words", ""))[:300],
        "inside": bool(form.get("inside")),
        "notes": bool(form.get("notes")),
    }


async def mend(request: Request) -> Response:
    """Say for all ticked pictures at once what nobody said of them yet, and pack again."""
    async with request.form(max_files=0, max_fields=5000) as form:
        asked, looked, slugs = _asked(form), _names(form, "faces_ok"), _names(form, "slug")
        said = {name: str(form.get(name, ""))[:200] for name in ("license", "credit", "people")}
    return await run_in_threadpool(_mend, request, asked, looked, slugs, said)


def _mend(
    request: Request, asked: dict[str, Any], looked: list[str], slugs: list[str], said: dict[str, str]
) -> Response:
    here = site(request).catalog
    for slug in slugs:
        if not catalog.has(here, slug):
            continue  # removed since
        old = catalog.load(here, slug)
        lacks = {"license": old.license not in LICENSES, "credit": not old.credit, "people": old.people == "unknown"}
        new = {name: text for name, text in said.items() if text and lacks[name]}
        if new:
            edits.edit(here, slug, new)
    if said["license"] or said["credit"]:
        was = inbox.remembered(here)
        inbox.remember(here, said["credit"] or was["credit"], said["license"] or was["license"])
    return _pack(request, asked, looked)


def _pack(request: Request, asked: dict[str, Any], looked: list[str]) -> Response:
    from curator.catalog import bundle

    here = site(request).catalog
    inbox.home(here)
    which = lesson_file.slugs(here) if asked["which"] == "lesson" else str(asked["words"])
    try:
        made = bundle.pack(
            here,
            which,
            here / ".inbox" / PACKED,
            inside=bool(asked["inside"]),
            faces_ok=looked,
            notes=bool(asked["notes"]),
        )
    except BundleError as error:
        return _page(request, 422, error=error, refused=_told(here, error.parts), looked=looked, **asked)
    return _page(request, packed=made, refused=_told(here, made.refused), looked=looked, **asked)


def packed(request: Request) -> Response:
    """The bundle packed last."""
    path = site(request).catalog / ".inbox" / PACKED
    if not path.is_file():
        raise BundleError("Sharing.", "Nothing is packed yet.", "Choose what to pack first.")
    return FileResponse(path, filename=PACKED)


async def receive(request: Request) -> Response:
    """A bundle from a colleague: trusted in nothing, by the bundle's verb. It stays until the next one, for choices."""
    async with request.form(max_files=1, max_fields=5) as form:
        file = form.get("bundle")
        if not isinstance(file, UploadFile) or not file.size:
            raise BundleError("Receiving a bundle.", "No file came.", "Choose the bundle's file first.")
        data = await file.read()
    await run_in_threadpool(_store, site(request).catalog, data)
    return await run_in_threadpool(_receive, request, [], [])


def _store(here: Path, data: bytes) -> None:
    folder = inbox.home(here)
    with tempfile.NamedTemporaryFile(dir=folder, prefix=".received-", suffix=".part", delete=False) as part:
        try:
            part.write(data)
            part.flush()
            Path(part.name).replace(folder / RECEIVED)
        except BaseException:
            Path(part.name).unlink(missing_ok=True)
            raise


async def choose(request: Request) -> Response:
    """What the teacher ticked of the bundle received last: take theirs, faces looked at."""
    async with request.form(max_files=0, max_fields=5000) as form:
        take, looked = _names(form, "take"), _names(form, "faces_ok")
    return await run_in_threadpool(_receive, request, take, looked)


def _receive(request: Request, take: list[str], looked: list[str]) -> Response:
    from curator.catalog import bundle

    open_site = site(request)
    here = open_site.catalog
    path = here / ".inbox" / RECEIVED
    if not path.is_file():
        raise BundleError("Receiving a bundle.", "It is not here any more.", "Choose its file again.")
    try:
        got = bundle.receive(here, path, take=take, faces_ok=looked)
    except BundleError:
        path.unlink(missing_ok=True)
        raise
    for prompt in got.added:
        open_site.outline(prompt.slug)
    return _page(
        request,
        got=got,
        refused=_told_of_others(got.refused),
        renamed={new: was for was, new in got.renamed},
        looked=looked,
    )


ROUTES = [
    Route("/share", share),
    Route("/share/pack", pack, methods=["POST"]),
    Route("/share/mend", mend, methods=["POST"]),
    Route("/share/set.zip", packed),
    Route("/share/receive", receive, methods=["POST"]),
    Route("/share/choose", choose, methods=["POST"]),
]

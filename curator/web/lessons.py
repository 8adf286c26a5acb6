"""The lesson, and the phone."""

from __future__ import annotations

import tempfile
from pathlib import Path

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.routing import Route

from curator.catalog.store import folder as catalog
from curator.errors import CatalogError, ChangedError, LessonError
from curator.records import Prompt
from curator.web import inbox
from curator.web.context import page, refusal, site
from curator.web.guard import is_own
from curator.web.pairing import COOKIE, DEAD, TOKEN_SECONDS

NAMES = {"pptx": "Slides", "html": "A page to open anywhere", "pdf": "Cards to print", "zip": "The pictures alone"}


def _prompts(here: Path) -> list[Prompt]:
    found = []
    for slug in inbox.lesson(here):
        try:
            found.append(catalog.load(here, slug))
        except CatalogError:
            continue  # removed since
    return found


def lesson(request: Request) -> Response:
    """The prompts picked, in order, and the downloads."""
    asked = request.query_params
    moved = (asked.get("moved", ""), asked.get("way", ""))  # whose arrow keeps the focus
    return page(request, "lesson.html", prompts=_prompts(site(request).catalog), kinds=NAMES, moved=moved)


async def change(request: Request) -> Response:
    """add, remove, up, down: a prompt; order: all of them."""
    here = site(request).catalog
    async with request.form(max_files=0, max_fields=500) as form:
        what, slug = str(form.get("what", "")), str(form.get("slug", ""))
        order = [str(one) for one in form.getlist("order")]
        back = str(form.get("back", "/lesson"))
    if what == "add" and not catalog.has(here, slug):
        raise CatalogError(
            "Adding to the lesson.", "There is no such prompt.", "Look for it with Find.", code="no-prompt"
        )
    await run_in_threadpool(inbox.change_lesson, here, lambda slugs: _moved(slugs, what, slug, order))
    if what in ("up", "down") and slug.isascii() and slug.replace("-", "").isalnum():
        back = f"/lesson?moved={slug}&way={what}"
    own = back.startswith("/") and not back.startswith("//") and "\\" not in back and back.isprintable()
    return RedirectResponse(back[:300] if own else "/lesson", 303)


def _moved(slugs: list[str], what: str, slug: str, order: list[str]) -> list[str]:
    if what == "add":
        return slugs if slug in slugs else [*slugs, slug]
    if what == "order":
        if sorted(order) != sorted(slugs):
            wrong = "Somebody else changed the lesson since you opened it."
            raise ChangedError("Putting the lesson in order.", wrong, "Open the lesson again and order it there.")
        return order
    if slug in slugs and what in ("remove", "up", "down"):
        at = slugs.index(slug)
        rest = slugs[:at] + slugs[at + 1 :]
        if what == "remove":
            return rest
        to = max(0, at - 1) if what == "up" else at + 1
        return [*rest[:to], slug, *rest[to:]]
    return slugs


def download(request: Request) -> Response:
    """The lesson as slides, page, cards or pictures."""
    kind = request.path_params["kind"]
    if kind not in NAMES:
        raise LessonError("Making the lesson.", "That kind of lesson cannot be made here.", "Choose another.")
    prompts = _prompts(site(request).catalog)
    if not prompts:
        raise LessonError("Making the lesson.", "No picture is picked.", "Find some and add them first.")
    path = _write(site(request).catalog, prompts, kind)
    done = BackgroundTask(lambda: path.unlink(missing_ok=True))
    return FileResponse(path, filename=f"lesson.{kind}", background=done)


def _write(here: Path, prompts: list[Prompt], kind: str) -> Path:
    from curator.classroom import lesson as lessons
    from curator.classroom.plan import Plan, Step

    steps = tuple(Step(1, slug=p.slug, stages=("see", "cover") if p.fact else ("is_it",)) for p in prompts)
    made = lessons.lesson(here, Plan("en", steps), room=lessons.Room())
    folder = here / ".inbox"
    path = Path(tempfile.mkstemp(prefix="lesson-", suffix=f".{kind}", dir=folder)[1])
    try:
        return lessons.write(made, path)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def phone(request: Request) -> Response:
    """The address and code for the teacher's phone, as text and QR code."""
    here = site(request)
    code = here.rights.pairing.code() if here.rights.network else ""
    return page(request, "phone.html", address=here.address, code=code, phones=here.rights.pairing.phones())


def new_code(request: Request) -> Response:
    """A fresh code; the one before it is void."""
    site(request).rights.pairing.code(new=True)
    return RedirectResponse("/phone", 303)


async def revoke(request: Request) -> Response:
    """A phone that was paired may send nothing more."""
    async with request.form(max_files=0, max_fields=5) as form:
        site(request).rights.pairing.revoke(str(form.get("phone", ""))[:20])
    return RedirectResponse("/phone", 303)


def qr(request: Request) -> Response:
    """The phone's address with the code, as an SVG."""
    import io

    import segno

    here = site(request)
    buffer = io.BytesIO()
    segno.make(f"{here.address}/pair?code={here.rights.pairing.code()}", error="m").save(
        buffer, kind="svg", scale=6, border=4, light="#fff", dark="#000"
    )
    return Response(buffer.getvalue(), media_type="image/svg+xml")


def pair(request: Request) -> Response:
    """Where a phone that scanned the code lands; without the right code a refusal."""
    code = request.query_params.get("code", "")[:20]
    if not is_own(request.client.host if request.client else "") and not site(request).rights.pairing.knows_code(code):
        return _dead(request, code)
    return page(request, "pair.html", code=code)


def _dead(request: Request, code: str) -> Response:
    """Why a code opens nothing."""
    if not code:
        return refusal(request, 403, "This device is not paired.", "Scan the code on the teacher's screen.")
    wrong = DEAD[site(request).rights.pairing.why_dead(code)]
    return refusal(request, 403, wrong, "Ask for a new one on the teacher's screen (Phone, New code).")


async def pair_done(request: Request) -> Response:
    """The code is used up; the phone gets its token."""
    async with request.form(max_files=0, max_fields=5) as form:
        code = str(form.get("code", ""))[:20]
    token = site(request).rights.pairing.pair(code)
    if not token:
        return _dead(request, code)
    answer = RedirectResponse("/photos", 303)
    answer.set_cookie(COOKIE, token, max_age=int(TOKEN_SECONDS), httponly=True, samesite="strict")
    return answer


ROUTES = [
    Route("/lesson", lesson, methods=["GET"]),
    Route("/lesson", change, methods=["POST"]),
    Route("/lesson/lesson.{kind:str}", download),
    Route("/phone", phone, methods=["GET"]),
    Route("/phone", new_code, methods=["POST"]),
    Route("/phone/revoke", revoke, methods=["POST"]),
    Route("/phone/qr.svg", qr),
    Route("/pair", pair, methods=["GET"]),
    Route("/pair", pair_done, methods=["POST"]),
]

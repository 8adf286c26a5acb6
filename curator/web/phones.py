"""Phones: the code that pairs one, which are paired, and letting them in while the page runs."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from curator.web import network
from curator.web.context import page, refusal, site
from curator.web.guard import is_own
from curator.web.pairing import COOKIE, DEAD, TOKEN_SECONDS


def phone(request: Request) -> Response:
    """The address and code for the teacher's phone, as text and QR code."""
    here = site(request)
    code = here.rights.pairing.code() if here.rights.network else ""
    return page(
        request,
        "phone.html",
        address=here.address,
        code=code,
        phones=here.rights.pairing.phones(),
        own=here.door is not None,
    )


def new_code(request: Request) -> Response:
    """A fresh code; the one before it is void."""
    site(request).rights.pairing.code(new=True)
    return RedirectResponse("/phone", 303)


async def let_in(request: Request) -> Response:
    """Phones of this network may be paired from now on, or no more: without starting the page again."""
    async with request.form(max_files=0, max_fields=5) as form:
        wanted = str(form.get("what", "")) == "open"
    here = site(request)
    if wanted:
        await run_in_threadpool(network.open_door, request.app, here, request.url.port or 80)
    else:
        await run_in_threadpool(network.shut, here)
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
    Route("/phone", phone, methods=["GET"]),
    Route("/phone", new_code, methods=["POST"]),
    Route("/phone/network", let_in, methods=["POST"]),
    Route("/phone/revoke", revoke, methods=["POST"]),
    Route("/phone/qr.svg", qr),
    Route("/pair", pair, methods=["GET"]),
    Route("/pair", pair_done, methods=["POST"]),
]

"""The gate before every page: Host names, cross-site posts, size of what is sent, who may do what, and headers."""

from __future__ import annotations

import asyncio
import re
import secrets
import time
from http.cookies import CookieError, SimpleCookie
from typing import NamedTuple
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from curator.web.context import refusal, wants_json
from curator.web.locked import locked
from curator.web.pairing import COOKIE
from curator.web.rights import Rights, TooMuchError, TooSlowError

MOST_BODY = 90_000_000  # one photo of the largest size allowed, and its form
SILENT_SECONDS, BODY_SECONDS = 20.0, 300.0  # without a byte; for all of a body: 90 MB over a weak network
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; font-src 'self'; "
    "connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=(self)",
}
PHONE = re.compile(r"/(photos|photos/events|photos/[0-9a-f]{16}/thumb\.webp|static/[a-z0-9.-]+|pair)")
READ = re.compile(r"/|/(find|show/.*|prompts/[a-z0-9-]+|thumb/[a-z0-9-]+/\d+|static/[a-z0-9.-]+)")
OPEN = re.compile(r"/(pair|static/(dress\.css|style\.css|face\.css|rubik\.woff2))")
OPEN_IT = "Open the whole link that curator serve printed."


def is_own(host: str) -> bool:
    """Whether a peer's address is this machine."""
    return host in ("127.0.0.1", "::1", "testclient") or host.startswith("127.")


def role(scope: Scope, rights: Rights) -> str:
    """ "teacher", "phone", "reader" or "" for one who asks."""
    client = scope.get("client")
    if client and is_own(client[0]) and _has_key(scope, rights):
        return "teacher"
    if not rights.network:
        return ""
    if phone_of(scope, rights):
        return "phone"
    return "reader" if rights.network_read else ""


def phone_of(scope: Scope, rights: Rights) -> str:
    """The id of the paired phone that asks; "" for any other."""
    token = _cookie(scope, COOKIE)
    return rights.pairing.whose(token) if token else ""


def _cookie(scope: Scope, name: str) -> str:
    try:
        found = SimpleCookie(Headers(scope=scope).get("cookie", "")).get(name)
    except CookieError:
        return ""
    return found.value if found else ""


def key_cookie(scope: Scope) -> str:
    """The name of the cookie that holds the key: browsers keep cookies by host alone, and two pages may be open."""
    port = re.search(r":(\d+)$", Headers(scope=scope).get("host", ""))
    return f"curator_key_{port[1] if port else 80}"


def _has_key(scope: Scope, rights: Rights) -> bool:
    """On a shared computer other users reach this address too; only who was shown the key is the teacher."""
    return not rights.key or secrets.compare_digest(_cookie(scope, key_cookie(scope)).encode(), rights.key.encode())


def brings_key(scope: Scope, rights: Rights) -> bool:
    """Whether the address that was printed is opened on this computer."""
    client = scope.get("client")
    if not rights.key or not client or not is_own(client[0]) or scope["method"] != "GET":
        return False
    given = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("key", [""])[0]
    return secrets.compare_digest(given.encode("utf-8", "replace"), rights.key.encode())


def may(who: str, method: str, path: str, rights: Rights) -> bool:
    """The teacher's machine anything; a phone uploads, finds and shows; a reader reads."""
    if who == "teacher":
        return True
    reads = method in ("GET", "HEAD")
    if who == "phone" and PHONE.fullmatch(path):
        return reads or path in ("/photos", "/pair")
    if who == "phone" and reads and (path == "/show" or READ.fullmatch(path)):
        return True
    if who and rights.network_read and reads and READ.fullmatch(path):
        return True
    return rights.network and bool(OPEN.fullmatch(path))


def _foreign(headers: Headers, method: str) -> bool:
    """A post that another site's page sent: its Sec-Fetch-Site or Origin says so."""
    if method in ("GET", "HEAD"):
        return False
    site = headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return True
    origin = headers.get("origin")
    return origin is not None and (not origin.startswith("http") or urlsplit(origin).netloc != headers.get("host"))


class Refused(NamedTuple):
    """Why somebody is not let in."""

    status: int
    wrong: str
    try_this: str
    at_the_door: bool = False  # the link with the key lets in, so the page says where it stands


class Guard:
    """Plain ASGI around the application."""

    def __init__(self, app: ASGIApp, rights: Rights) -> None:
        self.app = app
        self.rights = rights

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                sent = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    sent[name] = value
                sent.setdefault("cache-control", "no-store")
            await send(message)

        if self._host_is_known(scope) and brings_key(scope, self.rights):
            answer = RedirectResponse(scope["path"] if re.fullmatch(r"(/[a-z0-9-]+)*/?", scope["path"]) else "/", 303)
            answer.set_cookie(key_cookie(scope), self.rights.key, httponly=True, samesite="strict")
            await answer(scope, receive, with_headers)
            return
        said = self._refusal(scope)
        if said is not None:
            if said.at_the_door and not wants_json(Request(scope)):
                await locked(scope, said.status, said.wrong, HEADERS)(scope, receive, send)
            else:
                await refusal(Request(scope), *said[:3])(scope, receive, with_headers)
            return
        await self.app(scope, _bounded(receive), with_headers)

    def _host_is_known(self, scope: Scope) -> bool:
        return re.sub(r":\d+$", "", Headers(scope=scope).get("host", "").lower()) in self.rights.hosts

    def _refusal(self, scope: Scope) -> Refused | None:
        headers = Headers(scope=scope)
        if not self._host_is_known(scope):
            return Refused(421, "This page does not answer to that name.", OPEN_IT, True)
        if _foreign(headers, scope["method"]):
            return Refused(403, "Another site tried to send this.", "Open the page itself and do it there.")
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BODY:
            return Refused(413, "That is more than 90 MB at once.", "Send fewer photos at a time, or smaller copies.")
        who = role(scope, self.rights)
        state = scope.setdefault("state", {})
        state["role"], state["phone"] = who, phone_of(scope, self.rights) if who == "phone" else ""
        if not may(who, scope["method"], scope["path"], self.rights):
            client = scope.get("client")
            if client and is_own(client[0]) and self.rights.key:
                return Refused(403, "Only the person who started this page can open it.", OPEN_IT, True)
            return Refused(
                403, "This device may not do that.", "On the teacher's computer, open Phone and use its code here."
            )
        return None


def _bounded(receive: Receive) -> Receive:
    """Count what comes, and wait only so long for it; what comes after the body (that somebody left) is waited for."""
    got, until = 0, time.monotonic() + BODY_SECONDS
    whole = False

    async def counted() -> Message:
        nonlocal got, whole
        if whole:
            return await receive()
        try:
            message = await asyncio.wait_for(receive(), min(SILENT_SECONDS, max(0.0, until - time.monotonic())))
        except TimeoutError:
            raise TooSlowError from None
        got += len(message.get("body", b""))
        whole = not message.get("more_body", False)
        if got > MOST_BODY:
            raise TooMuchError
        return message

    return counted

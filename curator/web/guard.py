"""The gate before every page: Host names, cross-site posts, size of what is sent, who may do what, and headers."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from curator.web.pairing import COOKIE, Pairing

MOST_BODY = 90_000_000  # one photo of the largest size allowed, and its form
OWN = frozenset({"127.0.0.1", "localhost", "[::1]"})
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; font-src 'self'; "
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
OPEN = re.compile(r"/(pair|static/(style\.css|rubik\.woff2))")


@dataclass(frozen=True, slots=True)
class Rights:
    """What the server was started with."""

    hosts: frozenset[str] = OWN  # names it answers to, without port
    network: bool = False
    network_read: bool = False
    pairing: Pairing = field(default_factory=Pairing)


def is_own(host: str) -> bool:
    """Whether a peer's address is this machine."""
    return host in ("127.0.0.1", "::1", "testclient") or host.startswith("127.")


def role(scope: Scope, rights: Rights) -> str:
    """ "teacher", "phone", "reader" or "" for one who asks."""
    client = scope.get("client")
    if client and is_own(client[0]):
        return "teacher"
    if not rights.network:
        return ""
    try:
        cookie = SimpleCookie(Headers(scope=scope).get("cookie", "")).get(COOKIE)
    except CookieError:
        cookie = None
    if cookie is not None and rights.pairing.knows(cookie.value):
        return "phone"
    return "reader" if rights.network_read else ""


def may(who: str, method: str, path: str, rights: Rights) -> bool:
    """The teacher's machine anything; a phone uploads; a reader reads."""
    if who == "teacher":
        return True
    reads = method in ("GET", "HEAD")
    if who == "phone" and PHONE.fullmatch(path):
        return reads or path in ("/photos", "/pair")
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

        said = self._refusal(scope)
        if said is not None:
            from curator.web.context import refusal

            await refusal(Request(scope), *said)(scope, receive, with_headers)
            return
        await self.app(scope, _bounded(receive), with_headers)

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        headers = Headers(scope=scope)
        host = re.sub(r":\d+$", "", headers.get("host", "").lower())
        if host not in self.rights.hosts:
            return 421, "This page does not answer to that name.", "Use the address that curator serve printed."
        if _foreign(headers, scope["method"]):
            return 403, "Another site tried to send this.", "Open the page itself and do it there."
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > MOST_BODY:
            return 413, "That is more than 90 MB at once.", "Send fewer photos at a time, or smaller copies."
        who = role(scope, self.rights)
        scope.setdefault("state", {})["role"] = who
        if not may(who, scope["method"], scope["path"], self.rights):
            return 403, "This device may not do that.", "On the teacher's computer, open Phone and use its code here."
        return None


class TooMuchError(Exception):
    """More bytes came than were announced or allowed."""


def _bounded(receive: Receive) -> Receive:
    got = 0

    async def counted() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > MOST_BODY:
            raise TooMuchError
        return message

    return counted

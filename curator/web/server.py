"""The server with limits: how many may be connected, and how long one may take to say what it wants."""

from __future__ import annotations

import asyncio
import socket
from typing import Any, ClassVar

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from curator.web.guard import is_own

MOST_EACH = 40  # connections from one address; a browser opens six
MOST_OTHERS = 120  # from all other machines together, so that they cannot shut out the teacher's own
HEADER_SECONDS = 10.0  # for a request's head, or for the next request


class Limited(H11Protocol):
    """One connection, ended when it asks for nothing, and at once where there are too many."""

    most_each: ClassVar[int] = MOST_EACH
    most_others: ClassVar[int] = MOST_OTHERS
    patience: ClassVar[float] = HEADER_SECONDS

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._before: object = None
        self._tick: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Refuse one too many without a word: an answer would cost what the limit saves."""
        super().connection_made(transport)
        host = self.client[0] if self.client else ""
        hosts = [other.client[0] for other in self.connections if isinstance(other, Limited) and other.client]
        others = sum(not is_own(one) for one in hosts)
        if hosts.count(host) > self.most_each or (not is_own(host) and others > self.most_others):
            transport.abort()
            return
        self._tick = self.loop.call_later(self.patience, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        """No more looking after it."""
        super().connection_lost(exc)
        if self._tick is not None:
            self._tick.cancel()

    def _look(self) -> None:
        """End it where no request has come whole since the last look and none is being answered."""
        busy = self.cycle is not None and not self.cycle.response_complete
        if not busy and self.cycle is self._before:
            self.transport.close()
            return
        self._before = self.cycle
        self._tick = self.loop.call_later(self.patience, self._look)


def server(app: Any, protocol: type[Limited] = Limited) -> uvicorn.Server:
    """The server of an application; nothing about anybody is logged."""
    config = uvicorn.Config(
        app,
        http=protocol,
        ws="none",
        log_level="error",
        access_log=False,
        timeout_graceful_shutdown=2,
        proxy_headers=False,
        server_header=False,
    )
    return uvicorn.Server(config)


def listen(host: str, port: int) -> socket.socket:
    """A socket bound there: OSError."""
    # IPPROTO_TCP is said, for only then asyncio sets TCP_NODELAY: without it each answer waits 40 ms for a delayed ACK
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    # on Windows SO_REUSEADDR would let a second server take the same port; there the exclusive one is its twin
    reuse = getattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_REUSEADDR)
    listener.setsockopt(socket.SOL_SOCKET, reuse, 1)
    try:
        listener.bind((host, port))
    except OSError:
        listener.close()
        raise
    return listener

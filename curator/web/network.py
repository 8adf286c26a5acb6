"""Letting phones in while the page runs: a second socket on this machine's own address, closed again when wanted."""

from __future__ import annotations

import socket
import threading
import time
from typing import Any, NamedTuple

import uvicorn

from curator.errors import CuratorError
from curator.web.context import Site
from curator.web.rights import OWN
from curator.web.server import listen, server

DOING = "Letting phones in."
LOOP = "127."  # an address that leads nowhere else
CLOSING_SECONDS = 10.0  # far more than it takes: a thread that hangs does not hold up the page


class Door(NamedTuple):
    """The second server, and the thread that it runs in."""

    server: uvicorn.Server
    thread: threading.Thread


def address() -> str:
    """This machine's address on its network, found without sending anything; its own name where there is none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737); UDP connect sends nothing
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def open_door(app: Any, here: Site, port: int) -> None:
    """Answer on the network too, at the same port where it is free. CuratorError where there is no network."""
    if here.rights.network:
        return
    own = address()
    if own.startswith(LOOP):
        raise CuratorError(DOING, "This computer is on no network.", "Join the phone's network, then try again.")
    try:
        try:
            listener = listen(own, port)
        except OSError:
            listener = listen(own, 0)
    except OSError as error:
        wrong = f"The network cannot be used ({error.strerror})."
        raise CuratorError(DOING, wrong, "Look at the computer's network settings.") from error
    second = server(app)
    second.config.lifespan = "off"  # the page runs already
    thread = threading.Thread(target=second.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    until = time.monotonic() + 10
    while not second.started and time.monotonic() < until:
        time.sleep(0.02)
    here.door = Door(second, thread)
    here.address = f"http://{own}:{listener.getsockname()[1]}"
    here.rights.hosts = OWN | {own}
    here.rights.network = True


def shut(here: Site) -> None:
    """Answer on the network no more, and forget the phones. A page that was started with a network keeps it.

    When it comes back nothing listens there: what a phone has under way is given two seconds (`server`). It waits for
    that, so it is not for the thread that answers.
    """
    door = here.door
    if door is None:
        return
    here.rights.network = False
    here.rights.hosts = OWN
    here.address = ""
    for phone in here.rights.pairing.phones():
        here.rights.pairing.revoke(str(phone["id"]))
    here.door = None
    door.server.should_exit = True
    door.thread.join(CLOSING_SECONDS)

"""`curator serve`: the page a teacher uses."""

from __future__ import annotations

import secrets
import socket
from pathlib import Path
from typing import Annotated

import typer

from curator.commands import hints
from curator.commands.options import Catalog
from curator.errors import CuratorError


def serve(
    catalog: Catalog = Path("catalog"),
    port: Annotated[
        int,
        typer.Option(
            metavar="NUMBER", help="The number in its address; take another where it is in use.", min=1, max=65535
        ),
    ] = 8300,
    network: Annotated[
        bool, typer.Option("--network", help="Let a paired phone on the same network send photos.")
    ] = False,
    network_read: Annotated[
        bool, typer.Option("--network-read", help="Let everyone on the network look, and change nothing.")
    ] = False,
) -> None:
    """Open the page for photos, finding, showing and lessons in your browser."""
    from curator.web.app import make_app
    from curator.web.rights import OWN, Rights
    from curator.web.server import server

    network = network or network_read
    own = address_on_network() if network else ""
    rights = Rights(OWN | ({own} if own else frozenset()), network, network_read, key=secrets.token_urlsafe(24))
    listener = _listen("0.0.0.0" if network else "127.0.0.1", port)
    typer.echo(f"Open http://127.0.0.1:{port}/?key={rights.key} in your browser. Ctrl-C ends it.")
    if network:
        typer.echo(f"On the network: http://{own}:{port} (pair a phone under Phone on the page).")
        typer.echo("What a phone sends is not encrypted on its way: use a network that you trust.")
    app = make_app(catalog.absolute(), rights, f"http://{own}:{port}" if own else "")
    server(app).run(sockets=[listener])


def _listen(host: str, port: int) -> socket.socket:
    from curator.web.server import listen

    try:
        return listen(host, port)
    except OSError as error:
        wrong = f"Port {port} cannot be used ({error.strerror})."
        raise CuratorError("Starting the page.", wrong, f"Try another: --port {port % 65000 + 1}.") from error


def address_on_network() -> str:
    """This machine's address on its network, found without sending anything."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # a documentation address (RFC 5737); UDP connect sends nothing
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def register(app: typer.Typer) -> None:
    """Add this command to the command line."""
    app.command("serve")(hints.helped(serve))

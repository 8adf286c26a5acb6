"""What the server was started with, and what ends a request that goes beyond it."""

from __future__ import annotations

from dataclasses import dataclass, field

from curator.web.pairing import Pairing

OWN = frozenset({"127.0.0.1", "localhost", "[::1]"})


@dataclass(slots=True)
class Rights:
    """What the server was started with; hosts and network change when the teacher lets phones in."""

    hosts: frozenset[str] = OWN  # names it answers to, without port
    network: bool = False
    network_read: bool = False
    pairing: Pairing = field(default_factory=Pairing)
    key: str = ""  # of the address that was printed; "" lets in everybody on this computer


class TooMuchError(Exception):
    """More bytes came than were announced or allowed."""


class TooSlowError(Exception):
    """What was sent came too slowly."""

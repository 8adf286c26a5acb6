"""Bundles: prompts handed to a colleague as one zip, and taken from a stranger trusting nothing."""

from __future__ import annotations

from curator.catalog.bundles.pack import Packed, pack
from curator.catalog.bundles.receive import Offer, Received, receive
from curator.catalog.bundles.rights import Refused

__all__ = ["Offer", "Packed", "Received", "Refused", "pack", "receive"]

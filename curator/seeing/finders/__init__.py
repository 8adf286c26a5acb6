"""Ways to find things that repeat. Each file has one function, `find(pixels) -> candidate sets, best first`.

To add a finder: write the file, put its name here. Nothing after the finders needs touching.
"""

from __future__ import annotations

import threading
from importlib import import_module

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing import network
from curator.seeing.finders import attest

FINDERS: tuple[str, ...] = ("blobs", "cells", "marks", "limbs", "learned")


def find_all(pixels: NDArray[np.uint8]) -> list[ThingSet]:
    """Candidate sets of every finder, in the order of FINDERS; pixels uint8 (H, W, 3), about 512 on the longer side."""
    if network.available():  # the net looks beside the others, and its own finder waits for it
        threading.Thread(target=network.sights, args=(pixels,), daemon=True).start()
    found = [things for name in FINDERS for things in import_module(f"curator.seeing.finders.{name}").find(pixels)]
    return attest.attested(pixels, found)

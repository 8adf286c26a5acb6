"""Ways to find things that repeat. Each file has one function, `find(pixels) -> candidate sets, best first`.

To add a finder: write the file, put it into FINDERS. Nothing after the finders needs touching.
"""

from __future__ import annotations

import threading

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet
from curator.seeing.features import net_agreement
from curator.seeing.finders import blobs, cells, learned, limbs, marks
from curator.seeing.net import runtime

FINDERS = {"blobs": blobs.find, "cells": cells.find, "marks": marks.find, "limbs": limbs.find, "learned": learned.find}


def find_all(pixels: NDArray[np.uint8]) -> list[ThingSet]:
    """Candidate sets of every finder, in the order of FINDERS; pixels uint8 (H, W, 3), about 512 on the longer side."""
    if runtime.available():  # the net looks beside the others, and its own finder waits for it
        threading.Thread(target=runtime.sights, args=(pixels,), daemon=True).start()
    found = [things for find in FINDERS.values() for things in find(pixels)]
    return net_agreement.attested(pixels, found)

"""Ways to find things that repeat. Each file has one function, `find(view) -> candidate sets, best first`.

To add a finder: write the file, put it into FINDERS. Nothing after the finders needs touching.
"""

from __future__ import annotations

from curator.records import ThingSet
from curator.seeing.features import net_agreement
from curator.seeing.finders import blobs, cells, hands, learned, limbs, marks
from curator.seeing.view import View

FINDERS = {
    "blobs": blobs.find,
    "cells": cells.find,
    "marks": marks.find,
    "limbs": limbs.find,
    "learned": learned.find,  # those that ask for the nets last: the others work beside them
    "hands": hands.find,
}


def find_all(view: View) -> list[ThingSet]:
    """Candidate sets of every finder, in the order of FINDERS, and each kind of those that hold two."""
    every = [things for find in FINDERS.values() for things in find(view)]
    said = net_agreement.heard(view) if view.sights else None
    found = net_agreement.attested(view, every, said=said)
    return [*found, *net_agreement.parted(view, found, said)]

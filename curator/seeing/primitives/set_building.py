"""Candidate sets made and compared: shared by the finders (not a finder)."""

from __future__ import annotations

import dataclasses
from statistics import median

import numpy as np
from numpy.typing import NDArray

from curator.records import ThingSet


def merged(found: list[ThingSet]) -> list[ThingSet]:
    """One of each set, best first; where two ways give the same things, the better one's support is raised."""
    kept: list[ThingSet] = []
    for things in sorted(found, key=lambda s: -s.support):
        twin = next((i for i, k in enumerate(kept) if same(k, things)), None)
        if twin is None:
            kept.append(things)
        else:
            old = kept[twin]
            raised = old.support + 0.5 * things.support * (1 - old.support)
            stable = things.clues.stable if old.clues.stable is None else old.clues.stable
            clues = dataclasses.replace(old.clues, stable=stable)
            kept[twin] = dataclasses.replace(old, support=raised, clues=clues)
    return sorted(kept, key=lambda s: -s.support)


def as_bits(rows: NDArray[np.bool_]) -> list[int]:
    """Each row as one number, its first value the lowest bit: many are or-ed and asked for one bit."""
    return [int.from_bytes(row.tobytes(), "little") for row in np.packbits(rows, axis=1, bitorder="little")]


def same(a: ThingSet, b: ThingSet) -> bool:
    """As many things, each within half a width of one of the other set."""
    if len(a) != len(b):
        return False
    apart = np.hypot(*(a.centers[:, None] - b.centers[None]).transpose(2, 0, 1)).min(axis=1)
    return bool((apart < 0.5 * min(median(a.widths.tolist()), median(b.widths.tolist()))).mean() > 0.9)

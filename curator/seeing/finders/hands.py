"""The fingers that hands hold up, and the hands themselves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from curator.clues import Clues, HandSet
from curator.records import Box, Thing, ThingSet
from curator.seeing.net.hands import FINGERS, MIDDLE, WRIST, Hand
from curator.seeing.view import View

THICK = 0.1  # of the palm's length: half a finger's width (of an adult's hand, from memory)
WITHIN = 0.25  # of a finger's outer joint: so far inside its tip lies the dot, as a person taps it
THUMB = 0
UNCLEAR = 0.5  # a finger less clear than that is counted the other way too


def find(view: View) -> list[ThingSet]:
    """Candidate sets, best first: all raised fingers; those without the thumbs; those with the least clear finger taken
    the other way; the hands.
    """
    seen = view.hands
    if not seen:
        return []
    found = [s for s in _fingers(seen, view.size) if len(s)]
    return [*found, _wholes(seen, view.size)]


def _fingers(seen: Sequence[Hand], size: tuple[int, int]) -> Iterator[ThingSet]:
    """Sets of fingers; all that are raised come first."""
    raised = [list(hand.raised) for hand in seen]
    yield _as_set(seen, raised, size, HandSet(raised=1.0, **_sure(seen)))
    if any(one[THUMB] for one in raised):
        yield _as_set(seen, [[False, *one[1:]] for one in raised], size, HandSet(thumbless=1.0, **_sure(seen)))
    clear, at, finger = min((c, i, f) for i, hand in enumerate(seen) for f, c in enumerate(hand.clear))
    if clear < UNCLEAR:
        raised[at][finger] = not raised[at][finger]
        yield _as_set(seen, raised, size, HandSet(other=1.0, **_sure(seen)))


def _sure(seen: Sequence[Hand]) -> dict[str, float]:
    """How sure the least sure of the hands is."""
    return {
        "present": min(hand.present for hand in seen),
        "clear": min(min(hand.clear) for hand in seen),
        "large": min(1.0, min(hand.large for hand in seen)),
    }


def _as_set(seen: Sequence[Hand], fingers: list[list[bool]], size: tuple[int, int], own: HandSet) -> ThingSet:
    things = tuple(
        _finger(hand, k, size)
        for hand, up in zip(seen, fingers, strict=True)
        for k in range(len(FINGERS))
        if up[k] and _inside(hand.joints[FINGERS[k][1]], size)
    )
    support = 0.5 + 0.4 * own.clear if own.raised else 0.3 + 0.2 * (1 - own.clear)
    return ThingSet(things, size, "hands", support=support, clues=Clues(hand=own))


def _dot(hand: Hand, k: int) -> NDArray[np.float64]:
    outer, tip = hand.joints[list(FINGERS[k][2:])]
    return np.asarray(tip + WITHIN * (outer - tip), np.float64)


def _inside(place: NDArray[np.float64], size: tuple[int, int]) -> bool:
    """Whether a place is in the picture: a finger whose middle joint lies beyond its edge is guessed."""
    return bool((place >= 0).all() and (place < np.array(size)).all())


def _finger(hand: Hand, k: int, size: tuple[int, int]) -> Thing:
    """A finger from its middle joint to its tip, with the dot near the tip."""
    half = THICK * float(np.linalg.norm(hand.joints[MIDDLE] - hand.joints[WRIST]))
    row, col = _dot(hand, k).clip(0, np.array(size) - 1).tolist()  # a tip may be cut off
    return Thing(_box(hand.joints[list(FINGERS[k][1:])], half, size), (row, col))


def _wholes(seen: Sequence[Hand], size: tuple[int, int]) -> ThingSet:
    things = []
    for hand in seen:
        box = _box(hand.joints, THICK * float(np.linalg.norm(hand.joints[MIDDLE] - hand.joints[WRIST])), size)
        things.append(Thing(box, ((box.top + box.bottom) / 2, (box.left + box.right) / 2)))
    return ThingSet(tuple(things), size, "hands", support=0.4, clues=Clues(hand=HandSet(whole=1.0, **_sure(seen))))


def _box(places: NDArray[np.float64], more: float, size: tuple[int, int]) -> Box:
    """The box of some places and as much around as `more`, inside the picture."""
    low = np.clip(np.floor(places.min(axis=0) - more), 0, np.array(size) - 2).astype(int)
    high = np.clip(np.ceil(places.max(axis=0) + more), low + 2, np.array(size)).astype(int)
    return Box(int(low[0]), int(low[1]), int(high[0]), int(high[1]))

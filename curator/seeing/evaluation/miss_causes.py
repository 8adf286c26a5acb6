"""Why an answer is not as labelled, said from what the readings hold: one cause for each miss."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.records import Look, ThingSet
from curator.seeing import set_matching

CAUSES = {  # in the order in which they are asked and told
    "unread": "The photo could not be read",
    "absent": "The right number is in no reading",
    "wholes": "Wholes counted where their parts are meant",
    "parts": "Parts counted where their wholes are meant",
    "others": "Other things counted than those meant",
    "one_less": "One too few",
    "one_more": "One too many",
    "less": "Several too few",
    "more": "Several too many",
    "halves": "The number is right, the halves are not",
    "claimed": "A double named where none is labelled",
}
SHARE = 0.8  # of the parts lie in wholes
SAME = 0.5  # of the smaller set are things of the other: less, and they are other things
LARGER = 1.4  # times as wide as its parts is a whole, at least


def cause(answer: dict[str, Any], total: int | None, half: int | None) -> str:
    """The key in CAUSES of an answer (`look_as_json`, with `instead` as `instead` gives it) that is not as labelled."""
    if "readings" not in answer:
        return "unread"
    got = answer["total"] or 0
    if total is None or got == total:
        return "halves" if half is not None else "claimed"
    if all(one["total"] != total for one in answer["readings"]):
        return "absent"
    if answer.get("instead"):
        return str(answer["instead"])
    many = "one" if abs(got - total) == 1 else ""
    return "_".join(part for part in (many, "more" if got > total else "less") if part)


def instead(seen: Look, total: int | None) -> str:
    """What the chosen reading counts instead of a reading with the right number: `wholes`, `parts` or `others`; "" for
    those and too few or too many.
    """
    chosen = seen.best.things
    meant = [r.things for r in seen.readings if len(r.things) == total]
    for right in meant:
        if holds(chosen, right):
            return "wholes"
        if holds(right, chosen):
            return "parts"
    shared = [len(set_matching.partners(chosen, right)[0]) / max(1, min(len(chosen), len(right))) for right in meant]
    return "others" if shared and max(shared) < SAME else ""


def holds(wholes: ThingSet, parts: ThingSet) -> bool:
    """Whether nearly all parts lie inside the boxes of the wholes, two or more in each but one, and are smaller."""
    if not len(wholes) or len(parts) < 2 * len(wholes) or np.median(wholes.widths) < LARGER * np.median(parts.widths):
        return False
    share, full = set_matching.holding(wholes, parts)
    return share >= SHARE and full >= max(1, len(wholes) - 1)

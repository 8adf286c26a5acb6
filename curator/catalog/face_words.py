"""The line `faces:` of a prompt's file: what a person did about faces, and what the search for them found.

    faces: "blurred; 2 found 2026-03-02 by centerface-1 in 0123456789abcdef: 0.41 0.1 0.52 0.24, 0.6 0.1 0.7 0.25"

Versions that know no search take all of it for words, and keep it.
"""

from __future__ import annotations

import re

from curator.records import Area, FacesSeen, Prompt

MOST = 200  # boxes
ANSWERED = ("consented", "none")  # of Prompt.faces: everybody agreed; a person looked and it is no face
_PART = r"(?:[01]|0\.[0-9]{1,8})"
_BOX = rf"{_PART}(?: {_PART}){{3}}"
_SEEN = re.compile(
    r"(?:(?P<said>.+); )?(?P<count>[0-9]{1,3}) found (?P<day>\d{4}-\d\d-\d\d) by (?P<detector>[a-z0-9-]{1,30})"
    rf" in (?P<picture>[0-9a-f]{{16}})(?:: (?P<boxes>{_BOX}(?:, {_BOX})*))?",
    re.DOTALL,
)


def written(said: str, seen: FacesSeen | None) -> str:
    """The line's text; the inverse of `read`."""
    if seen is None:
        return said
    boxes = ", ".join(" ".join(f"{round(value, 4):g}" for value in box) for box in seen.boxes[:MOST])
    found = f"{len(seen.boxes[:MOST])} found {seen.day} by {seen.detector} in {seen.picture}"
    return "; ".join(filter(None, (said, found))) + (f": {boxes}" if boxes else "")


def read(text: str) -> tuple[str, FacesSeen | None]:
    """(what a person did, what was found); any text that is not written so is what a person did."""
    match = _SEEN.fullmatch(text)
    boxes = [Area(*map(float, box.split(" "))) for box in (match["boxes"] or "").split(", ") if box] if match else []
    if match is None or len(boxes) != int(match["count"]) or len(boxes) > MOST:
        return text, None
    return match["said"] or "", FacesSeen(tuple(boxes), match["day"], match["detector"], match["picture"])


def is_quiet(prompt: Prompt) -> bool:
    """Whether the prompt's file alone says that nothing is open: searched, and every face answered for."""
    return is_answered(prompt) or (prompt.seen is not None and not prompt.seen.boxes)


def is_answered(prompt: Prompt) -> bool:
    """Whether a person answered for every face, however many there are."""
    return prompt.people == "consented" or prompt.faces in ANSWERED

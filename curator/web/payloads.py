"""What a page's script sends, read and bounded: places, dots, line, frame, boxes."""

from __future__ import annotations

import json
import math
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request

from curator.errors import PhotoError
from curator.records import Area

MOST_DOTS = 200
MOST_SETS = 40
MOST_JSON = 100_000


def unreadable(doing: str, wrong: str) -> HTTPException:
    """What was sent is not what the page sends."""
    return HTTPException(400, f"{doing} {wrong}")


async def object_of(request: Request) -> dict[str, Any]:
    """The JSON object that the look page's script sends."""
    body = await request.body()
    try:
        found = json.loads(body[:MOST_JSON])
    except (ValueError, RecursionError):
        raise unreadable("Reading the dots.", "It is no JSON.") from None
    if not isinstance(found, dict):
        raise unreadable("Reading the dots.", "It is no JSON object.")
    return found


def names_of(value: Any) -> list[str]:
    """What one thing and many of it are called, as typed."""
    if not isinstance(value, list) or not all(isinstance(name, str) for name in value):
        raise unreadable("Reading the words.", "A name is not text.")
    return [name[:60] for name in value[:2]]


def point_of(value: Any) -> tuple[float, float]:
    try:
        x, y = (float(v) for v in value)
    except (TypeError, ValueError, OverflowError):
        raise unreadable("Reading the dots.", "A place is not two numbers.") from None
    if not (math.isfinite(x) and math.isfinite(y)):
        raise unreadable("Reading the dots.", "A place is not two numbers.")
    return min(max(x, 0.0), 1.0), min(max(y, 0.0), 1.0)


def dots_of(value: Any) -> list[tuple[float, float]]:
    if not isinstance(value, list) or len(value) > MOST_DOTS:
        raise unreadable("Reading the dots.", f"Up to {MOST_DOTS} are taken.")
    return [point_of(one) for one in value]


def sets_of(value: Any) -> list[list[tuple[float, float]]]:
    """The dots of several readings."""
    if not isinstance(value, list) or len(value) > MOST_SETS:
        raise unreadable("Reading the dots.", f"Up to {MOST_SETS} readings are taken.")
    return [dots_of(one) for one in value]


def line_of(value: Any) -> Any:
    if value is None:
        return None
    if not isinstance(value, list) or len(value) != 2:
        raise unreadable("Reading the line.", "It has two ends.")
    one, other = point_of(value[0]), point_of(value[1])
    return None if one == other else (one, other)


def area_of(value: Any) -> Area | None:
    if value is None:
        return None
    if not isinstance(value, list) or len(value) != 4:
        raise unreadable("Reading the frame.", "It has four numbers.")
    (left, top), (right, bottom) = point_of(value[:2]), point_of(value[2:])
    if right - left < 0.02 or bottom - top < 0.02:
        raise PhotoError("Looking inside the frame.", "The frame is too small.", "Draw it larger.")
    return Area(left, top, right, bottom)


def boxes_of(text: str) -> list[list[float]]:
    """Up to 100 boxes (left, top, right, bottom in fractions) that a page's script sent as JSON; HTTPException else."""
    doing = "Reading the blur."
    try:
        found = json.loads(text or "[]")
        boxes = [[min(max(float(v), 0.0), 1.0) for v in one] for one in found]
    except (ValueError, TypeError, OverflowError, RecursionError):
        raise unreadable(doing, "It is no list of boxes.") from None
    if len(boxes) > 100 or any(
        len(b) != 4 or not all(map(math.isfinite, b)) or b[0] >= b[2] or b[1] >= b[3] for b in boxes
    ):
        raise unreadable(doing, "A box has four numbers, and up to 100 are taken.")
    return boxes

"""A look and its readings as plain values: the JSON contract, the same for the command line and the page."""

from __future__ import annotations

from typing import Any

from curator.records import Look, Reading


def _fraction(value: float, of: int) -> float:
    return round(min(max(value / of, 0.0), 1.0), 4)


def reading_as_json(reading: Reading) -> dict[str, Any]:
    """One reading: fractions of width and height; side 0 is left over, or left out on purpose."""
    height, width = reading.things.size
    fact, halves = reading.fact, reading.halves
    counted = zip(reading.things.things, reading.sides, strict=True)
    every = [*counted, *((thing, 0) for thing in reading.things.aside)]
    line = None if halves is None else [[_fraction(c, width), _fraction(r, height)] for r, c in halves.line.tolist()]
    return {
        "grade": reading.grade,
        "fact": None if fact is None else str(fact),
        "half": None if fact is None else fact.half,
        "total": reading.total,
        "confidence": round(reading.confidence, 3),
        "kind": None if halves is None else halves.kind,
        "found_by": reading.things.found_by,
        "line": line,
        "dots": [
            {"x": _fraction(t.center[1], width), "y": _fraction(t.center[0], height), "side": s} for t, s in every
        ],
        "reasons": [reason.note for reason in reading.reasons],
    }


def look_as_json(seen: Look) -> dict[str, Any]:
    """{"photo": ..., the chosen reading's keys, "readings": [...], "reasons": [...], "ms": ...}.

    `readings` are those in which something is counted: that nothing repeats is said, and takes no place among them.
    """
    chosen = reading_as_json(seen.best)
    reasons = chosen.pop("reasons")
    readings = [reading_as_json(reading) for reading in seen.counted]
    return {"photo": seen.photo.path.name, **chosen, "readings": readings, "reasons": reasons, "ms": seen.ms}

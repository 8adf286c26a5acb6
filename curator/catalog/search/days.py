"""Days on which prompts were kept: as they are typed, and as numbers that the index orders by.

A photo's own day goes with its camera data, which no stored picture has; so the day it was kept is what there is.
"""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date

from curator.errors import CuratorError

LAST = 2**16 - 1  # the number of the last day that the index can tell from the next
_FIRST_DAY = date(1970, 1, 1).toordinal()
_TYPED = re.compile(r"(\d{4})(?:-(\d{1,2})(?:-(\d{1,2}))?)?", re.ASCII)


def number(day: str) -> int:
    """Days since 1970 of a day like 2025-09-14; 0 for what is none."""
    try:
        return max(0, min(LAST, date.fromisoformat(day).toordinal() - _FIRST_DAY))
    except ValueError:
        return 0


def first(typed: str) -> str:
    """The first day of a year, a month or a day as it is typed: 2025-09 is 2025-09-01. CuratorError for other text."""
    return _ends(typed)[0].isoformat()


def last(typed: str) -> str:
    """The last day of it: 2025-09 is 2025-09-30."""
    return _ends(typed)[1].isoformat()


def _ends(typed: str) -> tuple[date, date]:
    found = _TYPED.fullmatch(typed.strip())
    try:
        if found is None:
            raise ValueError
        year, month, day = (int(part) if part else 0 for part in found.groups())
        ends = (month or 1, month or 12)
        return date(year, ends[0], day or 1), date(year, ends[1], day or monthrange(year, ends[1])[1])
    except ValueError:
        wrong = f'"{typed[:30]}" is no year, month or day.'
        raise CuratorError(
            "Looking in the catalog.", wrong, "Write 2025, 2025-09 or 2025-09-14.", code="input"
        ) from None

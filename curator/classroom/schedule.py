"""Which picture is shown on which day: it is seen, comes back with a half covered, then with a cover that is not half.

To come back after days, mixed with what is new, is common practice in this trade ("revisit", "see-it days before
cover-it days"); the project's notes have no published number for the days between. That spread practice is remembered
longer than practice in one go: Cepeda et al. 2006, Psychological Bulletin 132(3), from memory.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

MINUTES = 15
PICTURES = 8  # in so many minutes: about two minutes of talk for each (own rule of thumb)
FEW = 4  # new facts a day (own rule of thumb)
GAPS = (2, 2, 3, 3)  # days between the visits of a picture: Monday, Wednesday, Friday, and wider from then on


class Visit(NamedTuple):
    """One showing of a thread's picture."""

    day: int
    thread: int  # from 0, in the order of the facts
    turn: int  # 0 seen, 1 a half covered, 2 a cover that is not half, 3 the other half, 4 not half again


def pictures_a_day(minutes: float) -> int:
    """How many pictures so many minutes hold; at least two."""
    return max(2, round(minutes * PICTURES / MINUTES))


def minutes_for(pictures: int) -> int:
    """How long so many pictures take."""
    return round(pictures * MINUTES / PICTURES)


def gaps(days: int) -> tuple[int, ...]:
    """Days between the visits of a picture; closer together where there are few days."""
    return GAPS if days > 4 else (2, 1) if days == 4 else (1,) * (days - 1)


def new_days(count: int, days: int, most: int) -> int:
    """On how many of the days something new is shown: as long as its cover still comes, unless days grow too full."""
    early = max(1, days - gaps(days)[0]) if days > 1 else 1
    return early if -(-count // early) <= most else days


def starts(count: int, days: int, most: int) -> list[int]:
    """The day on which each thread is seen first, small facts first; the same number a day, more on the first."""
    over = new_days(count, days, most)
    each = -(-count // over)
    return [min(days, 1 + n // each) for n in range(count)]


def visits(count: int, days: int, most: int, *, reserved: int = 0) -> list[Visit]:
    """Every showing of so many threads: all are seen and covered; what comes later, where a day has room.

    most: pictures a day. reserved: places kept free on the last day.
    """
    first = starts(count, days, most)
    found = [Visit(day, n, 0) for n, day in enumerate(first)]
    if days == 1:
        return found
    load = Counter(visit.day for visit in found)
    load[days] += reserved
    turns: list[list[int]] = [_days(day, days) for day in first]
    for turn in range(1, max(map(len, turns), default=0)):
        for n, when in enumerate(turns):
            if turn >= len(when):
                continue
            near = range(when[turn - 1] + 1, when[turn])  # a day or two early rather than never
            room = [day for day in (when[turn], *reversed(near)) if load[day] < most]
            if room or turn == 1:
                when[turn] = room[0] if room else when[turn]
                found.append(Visit(when[turn], n, turn))
                load[when[turn]] += 1
            else:
                del when[turn:]
    return sorted(_squeezed(found, load, days, most))


def _days(first: int, days: int) -> list[int]:
    """The days of one picture's visits."""
    found = [first]
    for gap in gaps(days):
        if found[-1] + gap <= days:
            found.append(found[-1] + gap)
    return found


def _squeezed(found: list[Visit], load: Counter[int], days: int, most: int) -> list[Visit]:
    """A cover that is not half on the last day, too, for pictures whose turn would come after it."""
    for n in sorted({visit.thread for visit in found}):
        last = max(visit for visit in found if visit.thread == n)
        if last.turn == 1 and last.day < days and load[days] < most:
            found.append(Visit(days, n, 2))
            load[days] += 1
    return found


def fits(count: int, days: int, most: int, reserved: int) -> bool:
    """Whether so many threads are seen and covered with no day longer than `most`, and few new a day."""
    load = Counter(visit.day for visit in visits(count, days, most, reserved=reserved))
    load[days] += reserved
    each = max(Counter(starts(count, days, most)).values())
    return max(load.values()) <= most and (days == 1 or each <= FEW)


def empty_days(found: Sequence[Visit], days: int) -> list[int]:
    """Days on which nothing is shown."""
    return [day for day in range(1, days + 1) if all(visit.day != day for visit in found)]

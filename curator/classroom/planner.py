"""Choose and order the pictures of a lesson.

Stated rules: facts small to large, a few new ones a day; a picture is seen, comes back with a half covered and then
with a cover that is not half (`schedule`); another object before another layout; one picture that is no double and
one near double, last; on the first day no half above four without groups inside it. Where no picture serves, the ten
frame of the fact stands in and the plan says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

from curator.classroom import schedule
from curator.classroom.choosing import Chooser
from curator.classroom.groups import grouped, is_near
from curator.classroom.plan import MOST_DAYS, Plan, Step, check_minutes, check_seconds, lesson_name
from curator.classroom.schedule import MINUTES, Visit
from curator.classroom.text.language import load
from curator.classroom.text.questions import SHOW_SECONDS
from curator.errors import LessonError
from curator.records import LARGEST_HALF, Fact, Prompt

DOING = "Planning a lesson."
LOOKED_AT = 40  # prompts of a fact that are weighed


def plan(
    folder: Path,
    *,
    facts: Sequence[int] = (),
    like: str = "",
    days: int = 1,
    language: str = "en",
    seed: int = 0,
    show_seconds: float = SHOW_SECONDS,
    minutes: float = MINUTES,
    name: str = "",
) -> Plan:
    """Choose and order prompts of the catalog. The same catalog, choices and seed give the same plan."""
    name = lesson_name(DOING, name)
    _check(facts, days, show_seconds, minutes)
    load(language)
    halves, doubles, others = _stock(folder, facts, like)
    chooser = Chooser(language, Random(seed), doubles)
    most = schedule.pictures_a_day(minutes)
    reserved = min(_last_places(others), most - 1)
    if not facts:
        halves = _as_many_as_fit(chooser, halves, days, most, minutes, reserved)
    steps = _one_day(chooser, halves) if days == 1 else _many_days(chooser, halves, days, most, reserved)
    steps = _mix_in(chooser, steps, others, days, most)
    shown = {step.slug for step in steps if step.slug}
    chooser.say_words([p for group in (*doubles.values(), others) for p in group if p.slug in shown])
    made = Plan(language, tuple(steps), tuple(halves), like, days, seed, show_seconds, minutes, name=name)
    chooser.say_long_days(made)
    return replace(made, remarks=tuple(dict.fromkeys(chooser.remarks)))


def _check(facts: Sequence[int], days: int, show_seconds: float, minutes: float) -> None:
    wrong = [n for n in facts if not 1 <= n <= LARGEST_HALF]
    if wrong:
        raise LessonError(
            DOING,
            f"{wrong[0]} is not the half of a fact.",
            f"Give numbers from 1 to {LARGEST_HALF}, such as 3,5,8.",
        )
    if not 1 <= days <= MOST_DAYS:
        raise LessonError(DOING, f"A lesson cannot have {days} days.", f"Give a number of days from 1 to {MOST_DAYS}.")
    check_seconds(DOING, show_seconds)
    check_minutes(DOING, minutes)


def _stock(folder: Path, facts: Sequence[int], like: str) -> tuple[list[int], dict[int, list[Prompt]], list[Prompt]]:
    """The halves asked for, the prompts of each, and those that are no double; through the index alone."""
    from curator.catalog.search.index import board, find

    if find(folder, "", limit=0).total == 0:
        wrong = f"The catalog {folder} has no pictures yet."
        raise LessonError(DOING, wrong, "Add some photos first.", code="no-pictures")
    halves = sorted(set(facts)) or sorted({half for half, _ in board(folder)})
    doubles = {
        n: [p for p in find(folder, f"{n}+{n} {like}", limit=LOOKED_AT).prompts if p.fact and p.fact.half == n]
        for n in halves
    }
    others = [p for p in find(folder, f"none {like}", limit=LOOKED_AT).prompts if p.fact is None]
    if like and not others:
        others = [p for p in find(folder, "none", limit=LOOKED_AT).prompts if p.fact is None]
    if not facts:
        halves = [n for n in halves if doubles[n]]
    if not halves:
        wrong = f'No double in the catalog matches "{like}".' if like else "The catalog has no double yet."
        raise LessonError(DOING, wrong, "Try other words, or name the facts you want.", code="nothing-found")
    return halves, doubles, others


def _last_places(others: Sequence[Prompt]) -> int:
    """How many pictures that are no double come in on the last day: one, and a near double where there is one more."""
    return min(1, len(others)) + (len(others) > 1 and any(map(is_near, others)))


def _as_many_as_fit(
    chooser: Chooser, halves: list[int], days: int, most: int, minutes: float, reserved: int
) -> list[int]:
    """The small facts first, no more than the days hold; the others wait, and the plan says so."""
    count = len(halves)
    while count > 1 and not schedule.fits(count, days, most, reserved):
        count -= 1
    if count < len(halves):
        waiting = ", ".join(str(Fact(n)) for n in halves[count:])
        chooser.say("waits", facts=waiting, count=str(most), minutes=f"{minutes:g}")
    return halves[:count]


# ---- one day


def _one_day(chooser: Chooser, halves: Sequence[int]) -> list[Step]:
    """Each fact once, small to large; halves that have to be counted come last."""
    picked = [(half, chooser.photo(half)) for half in halves]
    picked.sort(key=lambda hp: (hp[1] is not None and not grouped(hp[1]), hp[0]))
    return [_at_once(chooser, half, p, alone=len(halves) == 1) for half, p in picked]


def _at_once(chooser: Chooser, half: int, p: Prompt | None, *, alone: bool) -> Step:
    """Seen and covered in one go: by turns a half, and not half."""
    base = _base(1, half, p)
    chooser.covers += 1
    if half > 1 and (alone or chooser.covers % 2 == 0):
        stages = ("see", "cover", "not_half") if alone else ("see", "not_half")
        return replace(base, stages=stages, hide=_not_half(half, chooser.chance))
    return replace(base, stages=("see", "cover"), side=chooser.chance.choice((1, 2)))


def _base(day: int, half: int, p: Prompt | None) -> Step:
    return Step(day, p.slug) if p else Step(day, frame=half)


def _not_half(half: int, chance: Random) -> int:
    """How many to cover so that it is not half: near the half, so that a look does not settle it."""
    near = [k for k in range(max(1, half - 3), min(2 * half - 1, half + 3) + 1) if k != half]
    return chance.choice(near)


# ---- several days


def _many_days(chooser: Chooser, halves: list[int], days: int, most: int, reserved: int) -> list[Step]:
    """Every showing in order, what comes back mixed with what is new."""
    threads = _threads(chooser, halves, days, most)
    found = schedule.visits(len(threads), days, most, reserved=reserved)
    steps: list[Step] = []
    for day in range(1, days + 1):
        of_day = [visit for visit in found if visit.day == day]
        new, back = ([v for v in of_day if (v.turn > 0) == again] for again in (False, True))
        steps += [_visit(chooser, threads, visit) for visit in _by_turns(back, new)]
    return steps


def _threads(chooser: Chooser, halves: list[int], days: int, most: int) -> list[tuple[int, Prompt | None, bool]]:
    """(half, its photo or None, photo waits for the cover) for each picture that will come back.

    Few facts get a second picture, so that each day has something.
    """
    wanted = list(halves)
    spare = [n for n in halves for _ in chooser.doubles[n][1:]]
    while len(wanted) < 2 * schedule.new_days(len(wanted), days, most) and spare:
        wanted.append(spare.pop(0))
    while schedule.empty_days(schedule.visits(len(wanted), days, most), days) and len(wanted) < 2 * len(halves):
        wanted.append(halves[len(wanted) % len(halves)])
    first = schedule.starts(len(wanted), days, most)
    wanted = [*halves, *sorted(wanted[len(halves) :])]
    return [_thread(chooser, half, first=day == 1) for half, day in zip(wanted, first, strict=True)]


def _thread(chooser: Chooser, half: int, *, first: bool) -> tuple[int, Prompt | None, bool]:
    """On the first day a plain row is shown as its ten frame; its photo comes with the cover."""
    photo = chooser.photo(half)
    waits = first and photo is not None and not grouped(photo)
    if waits:
        chooser.say("plain_first_day", fact=str(Fact(half)))
    return half, photo, waits


def _by_turns(back: list[Visit], new: list[Visit]) -> list[Visit]:
    """Something known, something new, and so on."""
    mixed = [v for pair in zip(back, new, strict=False) for v in pair]
    done = len(mixed) // 2
    return [*mixed, *back[done:], *new[done:]]


def _visit(chooser: Chooser, threads: Sequence[tuple[int, Prompt | None, bool]], visit: Visit) -> Step:
    half, photo, waits = threads[visit.thread]
    base = _base(visit.day, half, None if waits and visit.turn == 0 else photo)
    if visit.turn == 0:
        return base
    fresh = ("see",) if waits and visit.turn == 1 else ()
    side = 1 + (visit.thread + visit.turn // 2) % 2
    if visit.turn % 2 == 1 or half == 1:
        return replace(base, stages=(*fresh, "cover"), side=side)
    return replace(base, stages=(*fresh, "not_half"), hide=_not_half(half, chooser.chance))


# ---- pictures that are no double


def _mix_in(chooser: Chooser, steps: list[Step], others: Sequence[Prompt], days: int, most: int) -> list[Step]:
    """One picture that is no double among the last day's and every second day's before; a near double at the end."""
    others = chooser.by_turns(others)
    near = next((p for p in others if is_near(p)), None)
    plain = [p for p in others if p is not near]
    if not plain and near is not None:
        plain, near = [near], None
    last = len(steps) - 1
    if near is None:
        steps[last] = replace(steps[last], stages=(*steps[last].stages, "near"))
    if not plain:
        chooser.say("no_double")
    for day in range(days, 1 if days > 1 else 0, -2):
        room = day == days or sum(step.day == day for step in steps) < most
        if plain and room:
            steps = _with_no_double(steps, plain.pop(0), day)
    if near is not None:
        steps.append(Step(days, near.slug, stages=("near",)))
    return steps


def _with_no_double(steps: list[Step], p: Prompt, day: int) -> list[Step]:
    """That picture past the middle of the day; "is it a double?" must not always mean no, so a true double of the day
    is asked the same way.
    """
    of_day = [n for n, step in enumerate(steps) if step.day == day]
    if not of_day:
        return [*steps, Step(day, p.slug, stages=("is_it",))]
    at = min(of_day[-1] + 1, of_day[0] + max(1, (len(of_day) + 1) // 2))
    if len(of_day) > 1:
        seen = [n for n in of_day if "see" in steps[n].stages]
        n = max((n for n in seen or of_day if n < at), default=of_day[0])
        steps[n] = replace(steps[n], stages=("is_it", *(s for s in steps[n].stages if s != "see")))
    return [*steps[:at], Step(day, p.slug, stages=("is_it",)), *steps[at:]]

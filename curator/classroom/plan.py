"""The plan of a lesson: which pictures, in which order, asked what; a small YAML file that a teacher can edit.

Stated rules: facts small to large; another object before another layout; see-it before cover-it; covers that are not
half mixed in; one picture that is no double and one near double, last; no photo twice; on the first day no half above
four without groups inside it. Where no picture serves, the ten frame of the fact stands in and the plan says so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from random import Random

from curator.classroom.text.language import Noun, doubtful, fill, is_known, load, text
from curator.classroom.text.questions import SHOW_SECONDS, STAGES
from curator.errors import LessonError
from curator.records import LARGEST_HALF, Dot, Fact, Prompt, expect

DOING = "Planning a lesson."
AT_ONCE = (
    4  # things seen without counting: at most four (Trick & Pylyshyn 1994), three at six years (Jansen et al. 2014)
)
LOOKED_AT = 40  # prompts of a fact that are weighed
MOST_DAYS = 10


@dataclass(frozen=True, slots=True)
class Step:
    """One picture of a lesson, or the ten frame of a fact, and what is asked about it."""

    day: int
    slug: str = ""  # "" where the ten frame stands in
    frame: int = 0  # the half whose ten frame is shown
    stages: tuple[str, ...] = ("see",)
    hide: int = 0  # things under the cover at the stage not_half
    side: int = 1  # the half that is covered first
    thing: str = ""  # other words than the prompt's
    things: str = ""

    def __post_init__(self) -> None:
        expect(bool(self.slug) != bool(self.frame), "step", "a prompt or a frame", "both" if self.slug else "neither")
        expect(0 <= self.frame <= LARGEST_HALF, "frame", f"1 to {LARGEST_HALF}", self.frame)
        expect(1 <= self.day <= MOST_DAYS, "day", f"1 to {MOST_DAYS}", self.day)
        expect(self.side in (1, 2), "side", "1 or 2", self.side)
        expect(
            len(self.stages) > 0 and all(s in STAGES for s in self.stages),
            "stages",
            f"some of {', '.join(STAGES)}",
            self.stages,
        )
        expect(len(set(self.stages)) == len(self.stages), "stages", "each once", self.stages)
        expect(
            ("not_half" in self.stages) == (self.hide > 0),
            "hide",
            "a number with the stage not_half, and only there",
            self.hide,
        )


@dataclass(frozen=True, slots=True)
class Plan:
    """A lesson before its pictures are made."""

    language: str
    steps: tuple[Step, ...]
    facts: tuple[int, ...] = ()
    like: str = ""
    days: int = 1
    seed: int = 0
    show_seconds: float = SHOW_SECONDS
    remarks: tuple[str, ...] = ()


def plan(
    folder: Path,
    *,
    facts: Sequence[int] = (),
    like: str = "",
    days: int = 1,
    language: str = "en",
    seed: int = 0,
    show_seconds: float = SHOW_SECONDS,
) -> Plan:
    """Choose and order prompts of the catalog. The same catalog, choices and seed give the same plan."""
    _check(facts, days, show_seconds)
    load(language)
    chance = Random(seed)
    halves, doubles, others = _stock(folder, facts, like)
    chooser = _Chooser(language, chance, doubles)
    steps = [step for day in range(1, days + 1) for step in _one_day(chooser, halves, day, days)]
    steps = _mix_in(chooser, steps, others, days)
    shown = {step.slug for step in steps if step.slug}
    chooser.say_words([p for group in (*doubles.values(), others) for p in group if p.slug in shown])
    return Plan(
        language, tuple(steps), tuple(halves), like, days, seed, show_seconds, tuple(dict.fromkeys(chooser.remarks))
    )


def _check(facts: Sequence[int], days: int, show_seconds: float) -> None:
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


def check_seconds(doing: str, show_seconds: float) -> None:
    """LessonError unless 0 (stay on) or 1 to 5 seconds."""
    if show_seconds != 0 and not 1 <= show_seconds <= 5:
        raise LessonError(
            doing, f"A picture cannot show for {show_seconds:g} seconds.", "Give 1 to 5, or 0 to leave it on."
        )


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


class _Chooser:
    """What has been used so far in a plan that is being made, and what there is to say about it."""

    def __init__(self, language: str, chance: Random, doubles: dict[int, list[Prompt]]) -> None:
        self.language, self.chance, self.doubles = language, chance, doubles
        self.used: set[str] = set()
        self.objects: Counter[str] = Counter()
        self.layouts: dict[int, str] = {}
        self.remarks: list[str] = []
        self.covers = 0

    def say(self, key: str, **strings: str) -> None:
        self.remarks.append(fill(self.language, text(self.language, f"remark.{key}"), {}, Noun("", "", ""), **strings))

    def say_words(self, prompts: Sequence[Prompt]) -> None:
        """Name the words that have no translation, and those that may mean something else."""
        for p in prompts:
            if self.language != "en" and p.thing and not is_known(self.language, p.thing, p.things):
                self.say("word_kept", word=p.thing)
            elif read := doubtful(self.language, p.thing, p.things):
                self.say("word_read_as", word=p.thing or p.things, read=read)

    def pick(self, half: int, *, grouped_only: bool) -> Prompt | None:
        """The next photo of a fact: groups inside a half first, then another object, then the layout kept."""
        left = [p for p in self.doubles[half] if p.slug not in self.used and (not grouped_only or grouped(p))]
        if not left:
            return None
        return self._take(half, min(left, key=lambda p: self._rank(half, p)))

    def _rank(self, half: int, p: Prompt) -> tuple[bool, int, bool, bool, float]:
        other_layout = self.layouts.get(half, p.kind) != p.kind
        return (not grouped(p), self.objects[_object(p)], other_layout, not _checked(p), self.chance.random())

    def _take(self, half: int, p: Prompt) -> Prompt:
        self.used.add(p.slug)
        self.objects[_object(p)] += 1
        self.layouts.setdefault(half, p.kind)
        if not _checked(p):
            self.say("unchecked", title=_named(p))
        return p


def _object(p: Prompt) -> str:
    return (p.things or p.thing or p.title).casefold()


def _named(p: Prompt) -> str:
    return f"{p.title} ({p.fact})" if p.fact else p.title


def _checked(p: Prompt) -> bool:
    return bool(p.checked_by) or p.grade == "sure"


def _one_day(chooser: _Chooser, halves: Sequence[int], day: int, days: int) -> list[Step]:
    """Each fact once, small to large; in a lesson of one day, halves that have to be counted come last."""
    picked = [(half, _photo_of(chooser, half, day, days)) for half in halves]
    if days == 1:
        picked.sort(key=lambda hp: (hp[1] is not None and not grouped(hp[1]), hp[0]))
    sees_only = days > 1 and day <= days // 2
    return [_step(chooser, half, p, day, sees_only=sees_only, alone=len(halves) == 1) for half, p in picked]


def _photo_of(chooser: _Chooser, half: int, day: int, days: int) -> Prompt | None:
    """A photo for this day; None, with the reason said, where the ten frame stands in."""
    first = days > 1 and day == 1
    photo = chooser.pick(half, grouped_only=first)
    fact = str(Fact(half))
    if photo is None and not chooser.doubles[half]:
        chooser.say("no_picture", fact=fact)
    elif photo is None:
        chooser.say("plain_first_day" if first else "few_pictures", fact=fact, day=str(day))
    elif not grouped(photo):
        chooser.say("plain_row", title=_named(photo))
    return photo


def _step(chooser: _Chooser, half: int, p: Prompt | None, day: int, *, sees_only: bool, alone: bool) -> Step:
    base = Step(day, p.slug) if p else Step(day, frame=half)
    if sees_only:
        return base
    chooser.covers += 1
    if half > 1 and (alone or chooser.covers % 3 == 2):
        stages = ("see", "cover", "not_half") if alone else ("see", "not_half")
        return replace(base, stages=stages, hide=_not_half(half, chooser.chance))
    return replace(base, stages=("see", "cover"), side=chooser.chance.choice((1, 2)))


def _not_half(half: int, chance: Random) -> int:
    """How many to cover so that it is not half: near the half, so that a look does not settle it."""
    near = [k for k in range(max(1, half - 3), min(2 * half - 1, half + 3) + 1) if k != half]
    return chance.choice(near)


def _mix_in(chooser: _Chooser, steps: list[Step], others: Sequence[Prompt], days: int) -> list[Step]:
    """One picture that is no double among the last day's, and a near double at the end."""
    others = sorted(others, key=lambda p: (not _checked(p), chooser.objects[_object(p)], chooser.chance.random()))
    near = next((p for p in others if is_near(p)), None)
    plain = next((p for p in others if p is not near), None)
    if plain is None and near is not None:
        plain, near = near, None
    start = next(i for i, step in enumerate(steps) if step.day == days)
    last = len(steps) - 1
    if near is None and steps[last].stages:
        steps[last] = replace(steps[last], stages=(*steps[last].stages, "near"))
    if plain is None:
        chooser.say("no_double")
    else:
        at = min(len(steps), start + max(1, (len(steps) - start + 1) // 2))
        steps = _ask_of_a_double_too(steps, start, at)
        steps.insert(at, Step(days, plain.slug, stages=("is_it",)))
    if near is not None:
        steps.append(Step(days, near.slug, stages=("near",)))
    return steps


def _ask_of_a_double_too(steps: list[Step], start: int, at: int) -> list[Step]:
    """ "Is it a double?" must not always mean no: one true double of the day is asked the same way."""
    if at - start >= 2:
        before = steps[at - 1]
        steps[at - 1] = replace(before, stages=("is_it", *(s for s in before.stages if s != "see")))
    return steps


def is_near(p: Prompt) -> bool:
    """A picture that is one from a double."""
    one, other, left = p.count(1), p.count(2), p.count(0)
    return p.fact is None and min(one, other) > 0 and abs(one - other) + left == 1


# ---- groups inside a half


def grouped(p: Prompt) -> bool:
    """True where each half can be seen without counting: at most four things, or groups of at most four."""
    if p.fact is None or p.fact.half <= AT_ONCE:
        return True
    return all(_in_groups([d for d in p.dots if d.side == side]) for side in (1, 2))


def _in_groups(dots: list[Dot]) -> bool:
    wide, high = _middle([d.w for d in dots]), _middle([d.h for d in dots])
    points = [(d.x / (wide or 0.1), d.y / (high or 0.1)) for d in dots]
    return any(
        _seen_as_groups(sizes)
        for sizes in (_rows([y for _, y in points]), _rows([x for x, _ in points]), _clusters(points))
    )


def _middle(values: list[float]) -> float:
    return sorted(values)[len(values) // 2] if values else 0.0


def _seen_as_groups(sizes: list[int]) -> bool:
    return 2 <= len(sizes) <= 5 and 2 <= max(sizes) <= AT_ONCE


def _rows(places: list[float]) -> list[int]:
    """Sizes of the rows: neighbours less than half a thing apart lie in one."""
    sizes, ordered = [1], sorted(places)
    for a, b in pairwise(ordered):
        if b - a > 0.5:
            sizes.append(0)
        sizes[-1] += 1
    return sizes


def _clusters(points: list[tuple[float, float]]) -> list[int]:
    """Sizes of the groups left when the tree of shortest links loses those 1.5 times longer than its middle one."""
    parent = list(range(len(points)))

    def root(i: int) -> int:
        while parent[i] != i:
            i = parent[i]
        return i

    pairs = sorted(
        (((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5, i, j)
        for i, (ax, ay) in enumerate(points)
        for j, (bx, by) in enumerate(points[:i])
    )
    links = []
    for length, i, j in pairs:
        if root(i) != root(j):
            parent[root(i)] = root(j)
            links.append((length, i, j))
    middle = _middle([length for length, _, _ in links])
    parent[:] = range(len(points))
    for length, i, j in links:
        if length <= 1.5 * middle:
            parent[root(i)] = root(j)
    return list(Counter(root(i) for i in range(len(points))).values())

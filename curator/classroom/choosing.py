"""Which photo of a fact comes next, what has been used so far, and what there is to say about it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from random import Random

from curator.classroom.groups import grouped
from curator.classroom.plan import Plan
from curator.classroom.schedule import minutes_for
from curator.classroom.text.language import Noun, doubtful, fill, is_known, text
from curator.classroom.text.titles import titled
from curator.records import Fact, Prompt


class Chooser:
    """What has been used so far in a plan that is being made, and what there is to say about it."""

    def __init__(self, language: str, chance: Random, doubles: dict[int, list[Prompt]]) -> None:
        self.language, self.chance, self.doubles = language, chance, doubles
        self.used: set[str] = set()
        self.objects: Counter[str] = Counter()
        self.layouts: dict[int, str] = {}
        self.remarks: list[str] = []
        self.covers = 0

    def say(self, key: str, **strings: str) -> None:
        self.remarks.append(remark(self.language, key, **strings))

    def say_words(self, prompts: Sequence[Prompt]) -> None:
        """Name what has no name, the words that have no translation, and those that may mean something else."""
        named = [p for p in prompts if p.thing or p.things]
        nameless = [_named(self.language, p) for p in prompts if not (p.thing or p.things)]
        if nameless:
            self.say("no_name", title=", ".join(nameless))
        for p in named:
            if self.language != "en" and p.thing and not is_known(self.language, p.thing, p.things):
                self.say("word_kept", word=p.thing)
            elif read := doubtful(self.language, p.thing, p.things):
                self.say("word_read_as", word=p.thing or p.things, read=read)

    def say_long_days(self, plan: Plan) -> None:
        self.remarks += long_days(plan)

    def photo(self, half: int) -> Prompt | None:
        """A photo not yet used; None, with the reason said, where the ten frame stands in."""
        photo = self._pick(half)
        if photo is None and not self.doubles[half]:
            self.say("no_picture", fact=str(Fact(half)))
        elif photo is not None and not grouped(photo):
            self.say("plain_row", title=_named(self.language, photo))
        return photo

    def _pick(self, half: int) -> Prompt | None:
        """The next photo of a fact: groups inside a half first, then another object, then the layout kept."""
        left = [p for p in self.doubles[half] if p.slug not in self.used]
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
            self.say("unchecked", title=_named(self.language, p))
        return p

    def by_turns(self, prompts: Sequence[Prompt]) -> list[Prompt]:
        """Checked ones first, objects not yet shown before others."""
        return sorted(prompts, key=lambda p: (not _checked(p), self.objects[_object(p)], self.chance.random()))


def remark(language: str, key: str, **strings: str) -> str:
    """Something to know before the lesson."""
    return fill(language, text(language, f"remark.{key}"), {}, Noun("", "", ""), **strings)


def long_days(plan: Plan) -> list[str]:
    """A remark for each day that holds more pictures than its minutes."""
    return [
        remark(plan.language, "long_day", day=str(day), count=str(count), minutes=str(minutes_for(count)))
        for day, count in plan.long_days()
    ]


def _object(p: Prompt) -> str:
    return (p.things or p.thing or p.title).casefold()


def _named(language: str, p: Prompt) -> str:
    title = titled(language, p)
    return f"{title} ({p.fact})" if p.fact else title


def _checked(p: Prompt) -> bool:
    return bool(p.checked_by) or p.grade == "sure"

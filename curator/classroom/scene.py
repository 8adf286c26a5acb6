"""The records of a lesson: each picture with all that is asked about it, and the plan they came from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from curator import facts
from curator.classroom import one_more
from curator.classroom.plan import Plan
from curator.classroom.text.language import Noun
from curator.classroom.text.questions import Questions
from curator.classroom.views import Views
from curator.records import Fact, Prompt, PromptKind

NOTICES = {
    facts.CCSSM: "© Copyright 2010. National Governors Association Center for Best Practices and Council of Chief "
    "State School Officers. All rights reserved.",
}


COVERS = {"cover": "cover", "not_half": "some"}  # stages with a cover, and the view that they ask about


class Counters(NamedTuple):
    """The numbers of an answer: two parts of a whole; how its ten frame lies, and how many counters are rings."""

    one: int
    other: int
    rows: tuple[int, int]
    hollow: int = 0


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class Scene:
    """One picture of a lesson with all that is asked about it. Pictures are JPEG (of a ten frame PNG)."""

    number: int  # from 1
    day: int
    prompt: Prompt | None  # None for a ten frame
    fact: Fact | None
    kind: PromptKind
    noun: Noun
    stages: tuple[str, ...]
    asked: dict[str, Questions]
    side: int  # the half covered first
    hide: int  # things covered at the stage not_half
    views: Views
    alts: dict[str, str]  # by view; "after" and "not_half_after", of the answers, alone name numbers
    credit: str
    license: str  # its name
    license_url: str
    standards: tuple[facts.Standard, ...]
    seconds: float  # how long it shows at first; 0 stays on
    look_again: tuple[str, ...] = ()  # what was measured and may not serve in the room
    why: tuple[str, str] = ("", "")  # once a day: why this number suits a double, and what to hear

    @property
    def picture(self) -> bytes:
        """The plain picture."""
        return self.views.plain

    @property
    def rings(self) -> bytes:
        """Each half ringed; for a picture that is no double, its parts."""
        return self.views.rings

    @property
    def alt_before(self) -> str:
        return self.alts["plain"]

    @property
    def alt_after(self) -> str:
        return self.alts["after"]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the pictures in pixels."""
        return self.views.size

    def size_of(self, view: str) -> tuple[int, int]:
        """Width and height of a view: one more stands beside the picture."""
        return one_more.wider(self.size) if view == "one_more" else self.size

    def view(self, name: str) -> bytes:
        """The picture of a view: plain, rings, cover, other_cover, some, other_some, hidden, pairs, one_more, dots."""
        return bytes(getattr(self.views, name))

    def asking_view(self, stage: str) -> str:
        """The view to ask about at that stage."""
        if stage == "near" and self.fact:
            return "one_more"
        return COVERS.get(stage, "plain")

    def other_view(self, stage: str) -> str:
        """The view with the cover on the other side; "" where there is none, or none that is clean."""
        name = {"cover": "other_cover", "not_half": "other_some"}.get(stage, "")
        return name if name and self.views.has(name) else ""

    def answer_view(self, stage: str) -> str:
        """The view that shows the numbers of the answer."""
        wanted = {"not_half": "hidden", "near": "one_more" if self.fact else "pairs"}.get(stage, "rings")
        if stage == "is_it" and not self.fact:
            wanted = "pairs"
        return next((name for name in (wanted, "rings") if self.views.has(name)), "plain")

    def alt(self, view: str) -> str:
        """The alt text of a view before its answer."""
        return self.alts[{"other_cover": "cover", "some": "cover", "other_some": "cover"}.get(view, view)]

    def alt_answer(self, stage: str) -> str:
        """The alt text of the answer, with its numbers."""
        return self.alts["not_half_after" if stage == "not_half" else "after"]

    def covered(self, stage: str) -> bytes:
        """The picture to ask about at that stage."""
        return self.view(self.asking_view(stage))

    def shown(self, stage: str) -> int:
        """How many things still show at that stage."""
        return self.asked[stage].numbers["shown"]

    def hidden(self, stage: str) -> int:
        """How many things are under the cover at that stage."""
        return self.asked[stage].numbers["hidden"]

    def counters(self, stage: str) -> Counters | None:
        """What a ten frame and a number bond beside the answer show; None where there are no two parts."""
        n = self.asked[stage].numbers
        half = n["half"]
        if stage == "not_half":
            return Counters(n["shown"], n["hidden"], (half, half), n["hidden"])
        if stage == "near":
            return Counters(half, half + 1, (half, half + 1), 1)
        if self.fact:
            return Counters(half, half, (half, half), half if stage == "cover" else 0)
        if n["one"] and n["other"]:
            rows = (n["one"], n["other"] + n["left"])
            parts = (n["one"] + n["other"], n["left"]) if n["left"] else rows  # in pairs, and left over
            return Counters(*parts, rows, n["left"])
        return None


@dataclass(frozen=True, slots=True, eq=False)
class Lesson:
    """A plan with its pictures made."""

    plan: Plan
    scenes: tuple[Scene, ...]
    title: str
    remarks: tuple[str, ...]

    @property
    def language(self) -> str:
        return self.plan.language

    def standards(self) -> list[tuple[facts.Standard, list[int]]]:
        """Each standard once, with the numbers of the pictures that may claim it."""
        found: dict[facts.Standard, list[int]] = {}
        for scene in self.scenes:
            for one in scene.standards:
                found.setdefault(one, []).append(scene.number)
        return list(found.items())

    def notices(self) -> list[str]:
        """What the standards' licences ask to be said."""
        sources = dict.fromkeys(standard.source for standard, _ in self.standards())
        return [NOTICES[source] for source in sources if source in NOTICES]

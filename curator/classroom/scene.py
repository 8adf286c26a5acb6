"""The records of a lesson: each picture with all that is asked about it, and the plan they came from."""

from __future__ import annotations

from dataclasses import dataclass

from curator import facts
from curator.classroom.plan import Plan
from curator.classroom.text.language import Noun
from curator.classroom.text.questions import Questions
from curator.classroom.views import Views
from curator.records import Fact, Prompt, PromptKind

NOTICES = {
    facts.CCSSM: "© Copyright 2010. National Governors Association Center for Best Practices and Council of Chief "
    "State School Officers. All rights reserved.",
}


@dataclass(frozen=True, slots=True, eq=False)
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
    alt_before: str
    alt_rings: str
    alt_cover: str
    alt_after: str
    credit: str
    license: str  # its name
    license_url: str
    standards: tuple[facts.Standard, ...]
    look_again: tuple[str, ...] = ()  # what was measured and may not serve in the room

    @property
    def picture(self) -> bytes:
        """The plain picture."""
        return self.views.plain

    @property
    def rings(self) -> bytes:
        """Each half ringed; for a picture that is no double, its parts."""
        return self.views.rings

    @property
    def cover(self) -> bytes:
        """One half covered; b"" where nothing is to be covered."""
        return self.views.cover

    @property
    def other_cover(self) -> bytes:
        """The other half covered."""
        return self.views.other_cover

    @property
    def some(self) -> bytes:
        """`hide` things covered, not half of them."""
        return self.views.some

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the pictures in pixels."""
        return self.views.size

    def covered(self, stage: str) -> bytes:
        """The picture to ask about at that stage."""
        return {"cover": self.cover, "not_half": self.some}.get(stage, self.picture)

    def shown(self, stage: str) -> int:
        """How many things still show at that stage."""
        return self.asked[stage].numbers["shown"]

    def hidden(self, stage: str) -> int:
        """How many things are under the cover at that stage."""
        return self.asked[stage].numbers["hidden"]


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
        """Each standard once, with the halves that may claim it."""
        found: dict[facts.Standard, list[int]] = {}
        for scene in self.scenes:
            for one in scene.standards:
                halves = found.setdefault(one, [])
                if scene.fact and scene.fact.half not in halves:
                    halves.append(scene.fact.half)
        return list(found.items())

    def notices(self) -> list[str]:
        """What the standards' licences ask to be said."""
        sources = dict.fromkeys(standard.source for standard, _ in self.standards())
        return [NOTICES[source] for source in sources if source in NOTICES]

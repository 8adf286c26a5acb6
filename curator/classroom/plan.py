"""The record of a lesson's plan: which pictures on which day, asked what; a small YAML file that a teacher can edit."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from curator.catalog.prompt import clean
from curator.classroom.schedule import MINUTES, pictures_a_day
from curator.classroom.text.questions import SHOW_SECONDS, STAGES
from curator.errors import LessonError
from curator.records import LARGEST_HALF, expect

MOST_DAYS = 10
MOST_MINUTES = 60
LONGEST_NAME = 80  # characters of a lesson's name: two lines of a first slide


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
    show_seconds: float = SHOW_SECONDS  # of a small picture; larger ones show longer
    minutes: float = MINUTES  # a day
    remarks: tuple[str, ...] = ()
    name: str = ""  # the teacher's own; "" for the usual one in the lesson's language

    def long_days(self) -> list[tuple[int, int]]:
        """Days with more pictures than their minutes hold, and how many they have."""
        load = Counter(step.day for step in self.steps)
        return [(day, count) for day, count in sorted(load.items()) if count > pictures_a_day(self.minutes)]


def check_seconds(doing: str, show_seconds: float) -> None:
    """LessonError unless 0 (stay on) or 1 to 5 seconds."""
    if show_seconds != 0 and not 1 <= show_seconds <= 5:
        raise LessonError(
            doing, f"A picture cannot show for {show_seconds:g} seconds.", "Give 1 to 5, or 0 to leave it on."
        )


def check_minutes(doing: str, minutes: float) -> None:
    """LessonError unless from 5 to 60 minutes."""
    if not 5 <= minutes <= MOST_MINUTES:
        raise LessonError(doing, f"A lesson of {minutes:g} minutes cannot be planned.", "Give minutes from 5 to 60.")


def lesson_name(doing: str, name: str) -> str:
    """A teacher's name of a lesson as one line that every file can hold; LessonError for one that is too long."""
    said = clean(name)
    if len(said) > LONGEST_NAME:
        wrong = f"The name of a lesson cannot have {len(said)} letters."
        raise LessonError(doing, wrong, f"Give it {LONGEST_NAME} at most; the rest fits into the notes.")
    return said

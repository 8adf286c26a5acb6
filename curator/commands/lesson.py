"""lesson: from the catalog to slides, a page, cards or pictures."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curator.commands import hints, outputs, words
from curator.commands.look_again import Screen, Seat, sized
from curator.commands.options import HERE, Catalog
from curator.errors import LessonError

if TYPE_CHECKING:
    from curator.classroom.lesson import Plan

Outputs = Annotated[
    list[Path],
    typer.Option(
        "--output",
        "-o",
        metavar="FILE",
        help="lesson.pptx, .html, .pdf (cards), .zip (pictures) or .yaml (the plan). May be given again.",
    ),
]
Facts = Annotated[
    str, typer.Option(metavar="FACTS", help="Which facts, by their half: 3,5,8,9. Left out: all that have a picture.")
]
Like = Annotated[str, typer.Option(metavar="WORDS", help="Words that the pictures are to match, as in curator find.")]
Named = Annotated[
    str,
    typer.Option(
        metavar="WORDS", help='What the lesson is called on its first slide and in its files: "Halves at home".'
    ),
]
Days = Annotated[
    int, typer.Option(metavar="NUMBER", help="Spread over this many days: each picture comes back covered.")
]
Minutes = Annotated[
    float, typer.Option(metavar="NUMBER", help="How long a day's lesson is: 15 minutes hold 8 pictures.")
]
PlanFile = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="A plan made before with -o plan.yaml; the other choices are read from it."),
]
Seed = Annotated[
    int,
    typer.Option(metavar="NUMBER", help="Another number chooses other pictures; the same number chooses the same."),
]
ShowSeconds = Annotated[
    float, typer.Option(metavar="NUMBER", help="How long a small picture shows: 1 to 5; 0 leaves it on.")
]


def lesson(
    output: Outputs,
    facts: Facts = "",
    like: Like = "",
    name: Named = "",
    days: Days = 1,
    minutes: Minutes = 15,
    language: Annotated[str, typer.Option(metavar="LANGUAGE", help="en or es.")] = "en",
    plan: PlanFile = None,
    seed: Seed = 0,
    show_seconds: ShowSeconds = 2.0,
    seat: Seat = 8.0,
    screen: Screen = 0.93,
    paper: Annotated[str, typer.Option(metavar="PAPER", help="For cards: a4 or letter.")] = "a4",
    replace: Annotated[bool, outputs.Replace] = False,
    catalog: Catalog = HERE,
) -> None:
    """Make a lesson: pictures chosen and ordered, with questions, answers and what to listen for."""
    from curator.classroom import lesson as lessons

    _check(output, paper)
    place = sized(seat, screen)
    made = (
        _read(plan, name)
        if plan
        else lessons.plan(
            catalog,
            facts=halves(facts),
            like=like,
            days=days,
            language=language,
            seed=seed,
            show_seconds=show_seconds,
            minutes=minutes,
            name=name,
        )
    )
    with outputs.kept(output, replace):
        if all(path.suffix.lower() in (".yaml", ".yml") for path in output):
            ready = lessons.Lesson(made, (), "", made.remarks)
        else:
            ready = lessons.lesson(catalog, made, room=place, layers=lessons.layered(*(path.suffix for path in output)))
        for path in output:
            lessons.write(ready, path, paper=paper.lower())
    _tell(made, ready.remarks, output)


def _read(path: Path, name: str) -> Plan:
    """The plan in a file, with another name where one is given."""
    from dataclasses import replace

    from curator.classroom.lesson import read_plan
    from curator.classroom.plan import lesson_name

    found = read_plan(path)
    return replace(found, name=lesson_name("Making the lesson.", name)) if name else found


def halves(text: str) -> tuple[int, ...]:
    """The numbers of "3,5,8" or "3 5 8"; "7+7" and "7+7=14" are 7."""
    found = []
    for word in re.split(r"[,;\s]+", text.strip()):
        match = re.fullmatch(r"(\d{1,2})(?:\+(\d{1,2})(?:=\d{1,2})?)?", word)
        if word and not (match and match[2] in (None, match[1])):
            raise LessonError(
                "Planning a lesson.",
                f'"{word[:40]}" is not the half of a fact.',
                "Give numbers with commas: --facts 3,5,8,9.",
            )
        if match:
            found.append(int(match[1]))
    return tuple(found)


def _check(output: list[Path], paper: str) -> None:
    """What can be known to fail is said before any work."""
    from curator.classroom.lesson import check_target

    for path in output:
        check_target(path)
    if paper.lower() not in ("a4", "letter"):
        raise LessonError(
            "Making the cards.", f'"{paper[:40]}" is no paper that is known.', "Use --paper a4 or --paper letter."
        )


TOLD = {  # in the lesson's language, for its remarks are: one language on one screen
    "en": (("picture", "pictures"), "and", ("ten frame", "ten frames"), "Note"),
    "es": (("imagen", "imágenes"), "y", ("marco de diez", "marcos de diez"), "Nota"),
}


def _tell(plan: Plan, remarks: tuple[str, ...], output: list[Path]) -> None:
    pictures, also, frames, note = TOLD.get(plan.language, TOLD["en"])
    photos = len({step.slug for step in plan.steps if step.slug})
    drawn = len({step.frame for step in plan.steps if step.frame})
    more = f" {also} {drawn} {frames[drawn != 1]}" if drawn else ""
    for path in output:
        words.wrapped(f"{path}: {photos} {pictures[photos != 1]}{more}.", 0, 2)
    for remark in dict.fromkeys(remarks):
        words.wrapped(f"{note}: {remark}", 0, 2)


def register(app: typer.Typer) -> None:
    """Add this command."""
    app.command()(hints.helped(lesson))

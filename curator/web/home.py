"""Home: twelve facts with their best pictures, and the lesson made from those that are ticked."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from curator.catalog.search import gaps, index
from curator.classroom.plan import MOST_DAYS, Plan, Step
from curator.classroom.planner import plan as planned
from curator.facts import FACTS
from curator.records import Fact, Prompt
from curator.web import inbox, lesson_file
from curator.web.context import being_read, page, site

LANGUAGES = {"en": "English", "es": "Español"}
# of these a mirrored pair is at hand first (shoes, wings, hands), of others two rows [common practice]
MIRRORED = (1, 2, 5)
FIRST = (5, 3, 6)  # the facts to photograph first: hands and egg boxes are at hand everywhere [common practice]


@dataclass(frozen=True, slots=True)
class Tile:
    """A fact on Home: its best picture (None where there is none), how many there are, what to photograph."""

    fact: Fact
    best: Prompt | None
    total: int
    ideas: tuple[str, ...]


def home(request: Request) -> Response:
    """The tiles and the choices of a lesson."""
    if (reading := being_read(request)) is not None:
        return reading
    here = site(request).catalog
    there = here.is_dir()
    tiles = [_tile(here, fact) for fact in FACTS] if there else [_tile(None, fact) for fact in FACTS]
    found = index.find(here, "", limit=0, at_once=True).total if there else 0
    was = lesson_file.stored(here)
    sent = [item["state"] for item in inbox.every(here)] if there else []
    return page(
        request,
        "home.html",
        tiles=tiles,
        total=found,
        doubles=sum(tile.total for tile in tiles),
        first=[tile for half in FIRST for tile in tiles if tile.fact.half == half],
        was=was,
        waiting=len(sent) - sent.count("error"),
        unread=sent.count("error"),
        lesson=len(lesson_file.keys(here)),
        languages=LANGUAGES,
        most_days=MOST_DAYS,
    )


def _tile(here: Path | None, fact: Fact) -> Tile:
    found = index.find(here, f"{fact.half}+{fact.half}", limit=24, at_once=True) if here else None
    own = [p for p in found.prompts if p.fact == fact] if found else []
    best = max(own, key=lambda p: (bool(p.checked_by) or p.grade == "sure", p.confidence), default=None)
    return Tile(fact, best, found.total if found and own else 0, _at_hand(fact.half))


def _at_hand(half: int) -> tuple[str, ...]:
    """Two things to photograph, the most ordinary first."""
    kinds = gaps.THINGS[half]
    first, then = (kinds.get(kind, ()) for kind in (("flip", "slide") if half in MIRRORED else ("slide", "flip")))
    return (*first, *then)[:2]


async def make(request: Request) -> Response:
    """A lesson from what is ticked on Home; it takes the place of the one before."""
    async with request.form(max_files=0, max_fields=60) as form:
        facts = sorted({int(one) for one in map(str, form.getlist("fact")) if one.isascii() and one.isdecimal()})
        asked = {name: str(form.get(name, ""))[:200] for name in ("days", "language", "like", "covers")}
    await run_in_threadpool(_make, site(request).catalog, facts, asked)
    return RedirectResponse("/lesson", 303)


def _make(here: Path, facts: list[int], asked: dict[str, str]) -> None:
    days = int(asked["days"]) if asked["days"].isdecimal() else 1
    language = asked["language"] if asked["language"] in LANGUAGES else "en"
    made = planned(here, facts=facts, like=asked["like"].strip(), days=days, language=language)
    lesson_file.save_plan(here, made if asked["covers"] else _halves_only(made))


def _halves_only(made: Plan) -> Plan:
    """The plan with every cover over one half."""

    def one(step: Step) -> Step:
        if "not_half" not in step.stages:
            return step
        stages = dict.fromkeys("cover" if stage == "not_half" else stage for stage in step.stages)
        return replace(step, stages=tuple(stages), hide=0)

    return replace(made, steps=tuple(one(step) for step in made.steps))


ROUTES = [Route("/", home), Route("/lesson/make", make, methods=["POST"])]

"""The lesson being made: lesson.json in .inbox lists its pictures in order; lesson.yaml beside it says what is asked.

The list is the truth: a picture taken out of it is out of the lesson, one that came in without a plan gets the usual
questions. A ten frame of the plan is listed as "frame:7", a picture that comes a second time as "eggs:2".
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import secrets
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from curator.catalog.store import folder as catalog
from curator.classroom.plan import Plan, Step
from curator.classroom.plan_yaml import from_yaml, to_yaml
from curator.errors import CatalogError, LessonError
from curator.records import Prompt

FRAME = re.compile(r"frame:(1[0-2]|[1-9])(?::\d{1,2})?")
AGAIN = re.compile(r":\d{1,2}$")
_LOCK = threading.Lock()


def keys(here: Path) -> list[str]:
    """What the lesson shows, in order: names of prompts, and frames."""
    try:
        found = json.loads((here / ".inbox" / "lesson.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return [s for s in found if isinstance(s, str)] if isinstance(found, list) else []


def slugs(here: Path) -> list[str]:
    """The prompts among them, each once."""
    return list(dict.fromkeys(AGAIN.sub("", key) for key in keys(here) if not FRAME.fullmatch(key)))


def save(here: Path, listed: Sequence[str]) -> None:
    """Keep the lesson's order, whole or not at all."""
    _write(here, "lesson.json", json.dumps(list(listed)))


def _write(here: Path, name: str, text: str) -> None:
    folder = here / ".inbox"
    here.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):
        folder.mkdir(mode=0o700)
    part = folder / f".lesson.{secrets.token_hex(4)}.part"
    with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as out:
        out.write(text)
    os.replace(part, folder / name)


def change(here: Path, new: Callable[[list[str]], list[str]]) -> None:
    """Read, change and save the order with nobody in between."""
    with _LOCK:
        before = keys(here)
        after = new(before)
        if after != before:
            save(here, after)


def drop(here: Path, slug: str) -> None:
    """Take a prompt out, wherever it comes."""
    change(here, lambda listed: [key for key in listed if AGAIN.sub("", key) != slug])


def save_plan(here: Path, made: Plan) -> None:
    """A lesson that was planned takes the place of the one before."""
    with _LOCK:
        _write(here, "lesson.yaml", to_yaml(made))
        save(here, [key for key, _ in _keyed(made.steps)])


def rename(here: Path, name: str) -> None:
    """Give the lesson a name, or with "" the usual one; its pictures stay as they are."""
    with _LOCK:
        base = stored(here)
        if not base.steps:  # its pictures were picked one by one
            base = plan(here)[0]
        if base.steps:
            _write(here, "lesson.yaml", to_yaml(replace(base, name=name)))


def _keyed(steps: Sequence[Step]) -> list[tuple[str, Step]]:
    """Each step with its name in the list; what comes again gets a number."""
    found: list[tuple[str, Step]] = []
    times: Counter[str] = Counter()
    for step in steps:
        key = step.slug or f"frame:{step.frame}"
        times[key] += 1
        found.append((f"{key}:{times[key]}" if times[key] > 1 else key, step))
    return found


def plan(here: Path) -> tuple[Plan, list[str], list[Prompt | None]]:
    """The plan as it stands, its keys, and the prompt of each step (None for a ten frame); without those that are gone.

    A plan keeps the number of pictures of each day, however they are put in order.
    """
    base = stored(here)
    known = dict(_keyed(base.steps))
    listed: list[str] = []
    steps: list[Step] = []
    prompts: list[Prompt | None] = []
    for key in keys(here):
        frame = FRAME.fullmatch(key)
        try:
            prompt = None if frame else catalog.load(here, AGAIN.sub("", key))
        except CatalogError:
            continue  # removed since
        step = known.get(key) or (None if prompt is None else _usual(prompt, len(steps), base.days))
        if step is None or not _fits(step, prompt):
            step = _usual(prompt, len(steps), base.days) if prompt else Step(base.days, frame=int(frame[1]))  # type: ignore[index]
        listed.append(key)
        steps.append(step)
        prompts.append(prompt)
    days = sorted(step.day for step in steps)
    steps = [replace(step, day=day) for step, day in zip(steps, days, strict=True)]
    return replace(base, steps=tuple(steps)), listed, prompts


def stored(here: Path) -> Plan:
    """The plan made last; one without steps where there is none."""
    try:
        return from_yaml((here / ".inbox" / "lesson.yaml").read_text(encoding="utf-8"), "of the lesson")
    except (OSError, UnicodeDecodeError, LessonError):
        return Plan("en", ())


def _fits(step: Step, prompt: Prompt | None) -> bool:
    """Whether the plan's questions still suit the picture; a teacher may have changed its dots since."""
    if prompt is None:
        return bool(step.frame)
    doubles = {"see", "cover", "not_half"} & set(step.stages)
    if prompt.fact is None:
        return not doubles
    return not step.hide or (step.hide < prompt.total and step.hide != prompt.fact.half)


def _usual(prompt: Prompt, number: int, day: int) -> Step:
    """See it, cover it; every third cover is not half, so that what still shows is not always the answer."""
    if prompt.fact is None:
        return Step(day, prompt.slug, stages=("is_it",))
    half = prompt.fact.half
    if number % 3 == 2 and half > 1:
        return Step(day, prompt.slug, stages=("see", "not_half"), hide=half - 1 if number % 2 else half + 1)
    return Step(day, prompt.slug, stages=("see", "cover"), side=1 + number % 2)

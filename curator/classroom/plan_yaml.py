"""Plan <-> YAML: a small file beside the lesson; edit it and run it again for the same lesson, changed as you wish."""

from __future__ import annotations

from typing import Any

from curator.catalog.reading import is_slug
from curator.classroom.plan import MOST_DAYS, Plan, Step, check_minutes, check_seconds, lesson_name
from curator.classroom.schedule import MINUTES
from curator.errors import LessonError
from curator.records import LARGEST_HALF

MOST_CHARACTERS, MOST_OPENERS, DEEPEST = 200_000, 1_000, 20  # a plan of ten days has some 5,000, 300 and 3
LONGEST_NUMBER = 12  # signs
_PLAN = {
    "format": int,
    "name": str,
    "language": str,
    "facts": list,
    "like": str,
    "days": int,
    "seed": int,
    "show_seconds": (int, float),
    "minutes": (int, float),
    "steps": list,
}
_STEP = {"day": int, "prompt": str, "frame": int, "stages": list, "hide": int, "side": int, "thing": str, "things": str}
_HEAD = """\
# The plan of a lesson. Change it, then make the lesson of it again.
# name: the lesson's own, on its first slide and in its files (name: Halves in our kitchen).
# A step shows a prompt of the catalog, or the ten frame of a fact (frame: 7).
# stages: see, cover (one half), not_half (hide: how many), near, is_it.  side: the half that is covered first.
# A picture may come back on another day, never twice on one.  show_seconds: of a small picture; larger ones get more.
# thing: la mano    things: las manos      other words than the catalog's, for this lesson
"""


def to_yaml(plan: Plan) -> str:
    """The plan as text, its remarks as comments on top."""
    import yaml

    body: dict[str, Any] = {
        "format": 1,
        **({"name": plan.name} if plan.name else {}),
        "language": plan.language,
        "facts": list(plan.facts),
        "like": plan.like,
        "days": plan.days,
        "seed": plan.seed,
        "show_seconds": _plain(plan.show_seconds),
        "minutes": _plain(plan.minutes),
        "steps": [_step(s) for s in plan.steps],
    }
    remarks = "".join(f"# ! {' '.join(remark.split())}\n" for remark in plan.remarks)
    return (
        _HEAD + remarks + yaml.safe_dump(body, sort_keys=False, allow_unicode=True, width=110, default_flow_style=None)
    )


def _plain(seconds: float) -> int | float:
    return int(seconds) if seconds == int(seconds) else seconds


def _step(step: Step) -> dict[str, Any]:
    found: dict[str, Any] = {"day": step.day}
    found |= {"prompt": step.slug} if step.slug else {"frame": step.frame}
    found["stages"] = list(step.stages)
    if step.hide:
        found["hide"] = step.hide
    if "cover" in step.stages:
        found["side"] = step.side
    return found | {k: v for k, v in (("thing", step.thing), ("things", step.things)) if v}


def from_yaml(text: str, name: str) -> Plan:
    """The plan of a file; LessonError says which line or step is wrong."""
    doing = f"Reading the plan {name}."
    found = _parse(text, doing)
    _fields(found, _PLAN, doing, "The plan")
    if found.get("format") != 1:
        raise LessonError(doing, "Its format is not 1.", "Start from a plan that was written for you.")
    steps = [_read_step(item, number, doing) for number, item in enumerate(found.get("steps") or [], 1)]
    if not steps:
        raise LessonError(doing, "It has no steps.", "Start from a plan that was written for you.")
    seconds = float(found.get("show_seconds", 2))
    check_seconds(doing, seconds)
    minutes = float(found.get("minutes", MINUTES))
    check_minutes(doing, minutes)
    remarks = tuple(line[4:] for line in text.splitlines() if line.startswith("# ! "))
    facts = tuple(n for n in found.get("facts", []) if isinstance(n, int) and 1 <= n <= LARGEST_HALF)
    days = max([min(int(found.get("days", 1)), MOST_DAYS), *(s.day for s in steps)])
    _no_photo_twice(steps, doing)
    return Plan(
        str(found.get("language", "en")),
        tuple(steps),
        facts,
        str(found.get("like", "")),
        days,
        int(found.get("seed", 0)),
        seconds,
        minutes,
        remarks,
        lesson_name(doing, str(found.get("name", ""))),
    )


def _no_photo_twice(steps: list[Step], doing: str) -> None:
    """A picture comes back on another day, not on the same one."""
    seen: set[tuple[int, str]] = set()
    for step in steps:
        if step.slug and (step.day, step.slug) in seen:
            wrong = f'It shows "{step.slug}" twice on day {step.day}.'
            raise LessonError(doing, wrong, "Move one of the two to another day: a class remembers the answer.")
        seen.add((step.day, step.slug))


def _parse(text: str, doing: str) -> dict[str, Any]:
    import yaml

    try:
        if len(text) > MOST_CHARACTERS or sum(map(text.count, "-?")) > MOST_OPENERS or _depth(text) > DEEPEST:
            raise LessonError(doing, "It is far too long for a plan.", "Start from a plan that was written for you.")
        node = yaml.compose(text, Loader=yaml.SafeLoader)
        _plain_nodes(node, doing)
        found = yaml.safe_load(text)
    except LessonError:
        raise
    except (
        yaml.YAMLError,
        ValueError,
        LookupError,
        TypeError,
        AttributeError,
        ArithmeticError,
        RecursionError,
    ) as error:
        mark = getattr(error, "problem_mark", None)
        where = f"line {mark.line + 1}" if mark else "some line"
        raise LessonError(
            doing, f"It is not YAML: {where} cannot be understood.", "Mend that line; blanks at its start matter."
        ) from error
    if not isinstance(found, dict):
        raise LessonError(doing, "It does not hold named lines.", "Start from a plan that was written for you.")
    return found


def _depth(text: str) -> int:
    """How deep lists and groups in brackets lie in each other at most: the reader goes down one call for each."""
    depth = deepest = 0
    for sign in text:
        depth += (sign in "[{") - (sign in "]}")
        deepest = max(deepest, depth)
    return deepest


def _plain_nodes(root: Any, doing: str) -> None:
    """LessonError for what a plan has no use for and a reader can be drowned in: one part named again, long numbers."""
    import yaml

    seen: set[int] = set()
    waiting = [root]
    while waiting:
        node = waiting.pop()
        if node is None:
            continue
        if id(node) in seen:
            wrong = f"Line {node.start_mark.line + 1} is named again elsewhere (& and *)."
            raise LessonError(doing, wrong, "Write it out where it is needed.")
        seen.add(id(node))
        if isinstance(node, yaml.ScalarNode):
            if node.tag.endswith((":int", ":float")) and len(node.value) > LONGEST_NUMBER:
                raise LessonError(
                    doing, f"Line {node.start_mark.line + 1}: the number is too long.", "Write a short one."
                )
        else:
            pairs = isinstance(node, yaml.MappingNode)
            waiting += [one for pair in node.value for one in pair] if pairs else node.value


def _fields(found: dict[Any, Any], known: dict[str, Any], doing: str, what: str) -> None:
    for key, value in found.items():
        if key not in known:
            raise LessonError(doing, f'{what} has a line "{key}", which nothing reads.', f"Use: {', '.join(known)}.")
        if not isinstance(value, known[key]) or isinstance(value, bool):
            raise LessonError(
                doing,
                f'{what}: "{key}" holds {value!r}, which it cannot.',
                "Put words in quotes and numbers in digits.",
            )


def _read_step(item: Any, number: int, doing: str) -> Step:
    what = f"Step {number}"
    if not isinstance(item, dict):
        raise LessonError(doing, f"{what} does not hold named lines.", "Write each step as the others are.")
    _fields(item, _STEP, doing, what)
    words = dict(item)
    slug = words.get("prompt", "")
    if slug and not is_slug(slug):
        raise LessonError(doing, f'{what}: "{slug[:60]}" is not the name of a prompt.', "Give a name that find shows.")
    try:
        return Step(
            int(words.pop("day", 1)), words.pop("prompt", ""), stages=tuple(words.pop("stages", ("see",))), **words
        )
    except (ValueError, TypeError) as error:
        raise LessonError(doing, f"{what}: {error}.", "Mend that step, or take it out.") from error

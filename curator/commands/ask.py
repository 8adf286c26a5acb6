"""Questions to a teacher: what is missing before a picture may be shared."""

from __future__ import annotations

from collections.abc import Sequence

from curator.commands import words
from curator.errors import CuratorError
from curator.records import PEOPLE, Prompt


def ask_missing(prompts: Sequence[Prompt]) -> dict[str, str | None]:
    """Ask once for licence, credit and people where any of the prompts lacks them, and for the name of one's things.

    What was answered, by field. CuratorError where nobody can answer.
    """
    from curator.catalog.prompt import lacks

    missing = {field for prompt in prompts for field in lacks(prompt)}
    if len(prompts) == 1 and not prompts[0].things:
        missing.add("things")
    if not missing:
        return {}
    if not words.is_terminal():
        options = words.joined(
            [f"--{field}" for field in ("things", "license", "credit", "people") if field in missing]
        )
        raise CuratorError(
            "Asking what is missing.", "There is no interactive terminal.", f"Say it with {options}.", code="input"
        )
    said: dict[str, str | None] = {}
    if "things" in missing:
        said |= _things(prompts[0].slug)
    if missing == {"things"}:
        return {field: answer for field, answer in said.items() if answer}
    print(f"About {words.joined([prompt.slug for prompt in prompts])}:")
    if "license" in missing:
        said["license"] = _license()
    if "credit" in missing:
        said["credit"] = _typed("Who took it (as the credit is to read)")
    if "people" in missing:
        print("Who can be recognised: none (nobody), consented (all were asked), unknown.")
        said["people"] = _one_of("People", PEOPLE, "unknown")
    return {field: answer for field, answer in said.items() if answer}


def for_one(prompt: Prompt, said: dict[str, str | None]) -> dict[str, str | None]:
    """Of the answers those that this prompt lacks: what it has already stays."""
    from curator.catalog.prompt import lacks

    open_ = {*lacks(prompt), *(() if prompt.things else ("thing", "things"))}
    return {field: answer for field, answer in said.items() if field in open_}


def _things(slug: str) -> dict[str, str | None]:
    """What is counted, one and many, where it was not said: a lesson asks for its name."""
    from curator.nouns import both

    answer = _typed(f"What are these in {slug} (Enter leaves it open)")
    return dict(zip(("thing", "things"), both("", answer), strict=True)) if answer else {}


def _license() -> str:
    from curator.catalog.prompt import LICENSES

    print("What others may do with it:")
    for short, license in LICENSES.items():
        words.wrapped(f"{short:<17}{license.allows}", 2, 17)
    return _one_of("Licence", tuple(LICENSES), "")


def _typed(question: str, usual: str = "") -> str:
    import typer

    return str(typer.prompt(question, default=usual, show_default=bool(usual))).strip()


def _one_of(question: str, choices: Sequence[str], usual: str) -> str:
    """One of the choices, or "" for nothing said; asked again for any other word."""
    while True:
        answer = _typed(question, usual)
        found = next((one for one in choices if one.lower() == answer.lower()), None)
        if found is not None or not answer:
            return found or ""
        print(f"Say one of {', '.join(choices)}.")

"""What may be handed on: the reasons against, prompt by prompt, and what to know about a mixed set.

Licences as `prompt.LICENSES` has them. Nothing here is legal advice: the school's policy and the local law decide.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from curator.catalog.prompt import LICENSES
from curator.errors import Code
from curator.records import Prompt


@dataclass(frozen=True, slots=True)
class Refused:
    """One prompt (or file of a bundle) that was left out: why, and what to try."""

    slug: str
    wrong: str
    try_this: str
    code: Code = "other"
    missing: tuple[str, ...] = ()  # fields of the prompt that nobody said yet: license, credit, people


_SAID = {"license": "what may be done with it", "credit": "who took it", "people": "who is in it"}


def refusal(prompt: Prompt, *, marked: bool, inside: bool) -> Refused | None:
    """Why this prompt may not be packed, or None. marked: with drawings on it; inside: for the same school only."""
    missing = list(_missing(prompt))
    if missing:
        wrong = " ".join(sentence for sentence, _ in missing)
        fields = tuple(field for _, field in missing)
        said = " and ".join(", ".join(_SAID[field] for field in fields).rsplit(", ", 1))
        return Refused(prompt.slug, wrong, f"Say {said}.", "rights", fields)
    license = LICENSES[prompt.license]
    if not license.share and not inside:
        wrong = "Its licence keeps it in this school."
        return Refused(prompt.slug, wrong, "It may go to colleagues of this school.", "school-only")
    if marked and not license.change:
        wrong = f"Its licence ({license.name}) forbids handing on a picture with marks on it."
        return Refused(prompt.slug, wrong, "Pack it without the marked pictures.", "no-marks")
    return None


def _missing(prompt: Prompt) -> Iterator[tuple[str, str]]:
    """What nobody said yet, and the field of the prompt that says it."""
    if not prompt.license:
        yield "It has no licence.", "license"
    elif prompt.license not in LICENSES:
        yield f'Its licence "{prompt.license[:40]}" is not one that curator knows.', "license"
    if prompt.people == "unknown":
        yield "Nobody said whether people are in it.", "people"
    if not prompt.credit and (prompt.license.startswith("CC-BY") or prompt.license not in LICENSES):
        asks = "Its licence asks for a credit" if prompt.license in LICENSES else "Most licences ask for a credit"
        yield f"{asks}, and it has none.", "credit"


def beware(prompts: Sequence[Prompt]) -> tuple[str, ...]:
    """What the receiver of a mixed set has to know: one sentence for each kind of condition."""
    known = [(p, LICENSES[p.license]) for p in prompts if p.license in LICENSES]
    same = [p.slug for p, license in known if license.same]
    unsold = [p.slug for p, license in known if not license.sell]
    bound = [p.slug for p, license in known if not license.change]
    kept = [p.slug for p, license in known if not license.share]
    said = []
    if len({p.license for p, license in known if license.same}) > 1:
        said.append(f"Two share-alike licences: do not join pictures of both in one picture ({_names(same)}).")
    if same and len(same) < len(known):
        said.append(f"What is made from these carries their own licence, the others do not: {_names(same)}.")
    if unsold and len(unsold) < len(known):
        said.append(f"Not for money, and so the set as a whole is not: {_names(unsold)}.")
    if bound:
        said.append(f"To be shown and handed on only without marks: {_names(bound)}.")
    if kept:
        said.append(f"For this school only: {_names(kept)}.")
    return tuple(said)


def _names(slugs: Sequence[str]) -> str:
    shown = ", ".join(slugs[:5])
    return f"{shown} and {len(slugs) - 5} more" if len(slugs) > 5 else shown


def why_none(refused: Sequence[Refused]) -> str:
    """Of pictures that all stay here: the first with its reason, how many more, and whether theirs is the same."""
    first, others = refused[0], len(refused) - 1
    if not others:
        return f"{first.slug}. {first.wrong}"
    if len({one.wrong for one in refused}) == 1:
        return f"{first.slug} and {others} more, each for the same reason. {first.wrong}"
    return f"{first.slug} and {others} more, each with its own reason. Of {first.slug}: {first.wrong}"

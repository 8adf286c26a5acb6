"""build: what WORDS find -> a folder of pages, whole or not at all; what did not change is used again."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from curator.catalog import reading
from curator.catalog.bundles.rights import Refused, beware, refusal, why_none
from curator.catalog.search import index
from curator.errors import CatalogError, CuratorError
from curator.parallel import Progress, watched
from curator.records import Prompt
from curator.site import pages
from curator.site.pages import Entry
from curator.site.prompt_files import Part, Picture, Wish, digest_of, is_ours, make, may_be_marked, stamp_of
from curator.site.publish import DOING, MANIFEST, placed, read_manifest

FOLDERS = ("prompts", "facts", "show", "pictures")


@dataclass(frozen=True, slots=True)
class Built:
    """What the site holds, what was left out and why, and what to know."""

    path: Path
    shown: tuple[str, ...]  # slugs
    again: int  # of them taken over from the site that was there
    refused: tuple[Refused, ...]
    warned: tuple[str, ...]  # whole sentences
    octets: int


def build(folder: Path, words: str, output: Path, wish: Wish, *, progress: Progress | None = None) -> Built:
    """Write the site of what the words find (""= all) to output, or update it. Changes nothing in the catalog.

    Without `wish.inside` a prompt that may not be handed on (no licence, people unknown, for this school only) is left
    out and named. CuratorError where nothing may be shown or output cannot be written; CatalogError without a catalog.
    """
    output = output.resolve()
    before = read_manifest(output)
    prompts, refused = _asked(folder, words)
    against = {p.slug: None if wish.inside else refusal(p, marked=False, inside=False) for p in prompts}
    refused += [reason for reason in against.values() if reason]
    wanted = [p for p in prompts if not against[p.slug]]
    with placed(output) as target:
        for name in FOLDERS:
            (target / name).mkdir()
        parts, again = _parts(folder, target, wanted, wish, _reusable(before, output), progress)
        refused = sorted(
            [*refused, *(part.refused for part in parts.values() if part.refused)], key=lambda one: one.slug
        )
        entries = [Entry(p, parts[p.slug]) for p in wanted if not parts[p.slug].refused]
        if not entries:
            raise _nothing(refused)
        pages.write(target, entries, words=words, wish=wish)
        octets = _write_manifest(target, [e.part for e in entries])
    slugs = tuple(e.prompt.slug for e in entries)
    return Built(output, slugs, again, tuple(refused), _warnings([e.prompt for e in entries], wish), octets)


def _asked(folder: Path, words: str) -> tuple[list[Prompt], list[Refused]]:
    """The prompts in the order of find, fresh from their files, and those that cannot be read."""
    found = index.find(folder, words, limit=10**6).prompts
    if not found:
        wrong = f'Nothing is found for "{words[:50]}".' if words else "There is no prompt."
        raise CuratorError(DOING, wrong, "Look what there is.", code="nothing-found")
    prompts, refused = [], []
    for one in found:
        try:
            prompts.append(reading.load(folder, one.slug))
        except CatalogError as error:
            refused.append(Refused(one.slug, error.wrong, error.try_this, error.code))
    return prompts, refused


def _parts(
    folder: Path,
    target: Path,
    prompts: Sequence[Prompt],
    wish: Wish,
    old: dict[str, tuple[Part, Path]],
    progress: Progress | None,
) -> tuple[dict[str, Part], int]:
    """Each prompt's files by its slug, and how many of them were taken over."""
    parts = {p.slug: part for p in prompts if (part := _taken_over(folder, target, p, wish, old)) is not None}
    again = len(parts)
    jobs = [(folder, target, p, wish) for p in prompts if p.slug not in parts]
    for part in watched(make, jobs, progress):
        parts[part.slug] = part
    if len(parts) < len(prompts):  # Ctrl-C
        raise CuratorError(DOING, "It was stopped.", "What was there is as it was; start it again.", code="stopped")
    return parts, again


def _reusable(manifest: dict[str, Any], output: Path) -> dict[str, tuple[Part, Path]]:
    """What the site that is there holds, by slug."""
    found = {}
    for slug, row in manifest.get("prompts", {}).items():
        try:
            row |= {name: Picture(**row[name]) for name in ("small", "large")}
            part = Part(**row)
        except (TypeError, KeyError, AttributeError):
            continue
        if is_ours(part):
            found[slug] = (part, output)
    return found


def _taken_over(
    folder: Path, target: Path, prompt: Prompt, wish: Wish, old: dict[str, tuple[Part, Path]]
) -> Part | None:
    """The part that was there, its files linked into target; None where anything changed or is missing."""
    part, output = old.get(prompt.slug, (None, target))
    try:
        if part is None or part.stamp != stamp_of(folder, prompt.slug, prompt.picture, wish):
            return None
        if digest_of(output, part.files) != part.digest:
            return None
        for name in part.files:
            _link(output / name, target / name)
    except FileNotFoundError:
        return None
    return part


def _link(source: Path, target: Path) -> None:
    """A second name for the same bytes, or a copy where the drive has no second names."""
    if target.exists():  # two prompts of one picture
        return
    try:
        os.link(source, target)
    except FileNotFoundError:
        raise
    except OSError:
        shutil.copyfile(source, target)


def _write_manifest(target: Path, parts: Sequence[Part]) -> int:
    """List all files; how many bytes they have together."""
    files = sorted(p for p in target.rglob("*") if p.is_file())
    rows = {part.slug: {k: v for k, v in asdict(part).items() if k != "refused"} for part in parts}
    said = {"format": 1, "files": [p.relative_to(target).as_posix() for p in files], "prompts": rows}
    (target / MANIFEST).write_text(json.dumps(said, separators=(",", ":")), encoding="utf-8")
    return sum(p.stat().st_size for p in files)


def _warnings(prompts: Sequence[Prompt], wish: Wish) -> tuple[str, ...]:
    said = list(beware(prompts))
    bare = [p.slug for p in prompts if not may_be_marked(p)]
    if bare:
        said.append(f"{len(bare)} without a page for the class, for the licence forbids marks ({', '.join(bare[:3])}).")
    if wish.inside:
        said.append("For this school only: do not put it on a public web server.")
    return tuple(said)


def _nothing(refused: Sequence[Refused]) -> CuratorError:
    first = refused[0]
    wrong = f"Nothing may be shown: {why_none(refused)}"
    return CuratorError(DOING, wrong, first.try_this, code=first.code, slug=first.slug, parts=refused)

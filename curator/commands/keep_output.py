"""What the catalog's commands show, at most 80 columns wide."""

from __future__ import annotations

import sys
import textwrap
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from curator.errors import CuratorError
from curator.records import KINDS, Area, Prompt

if TYPE_CHECKING:
    from curator.catalog.search.gaps import Gap
    from curator.catalog.search.index import Found
    from curator.catalog.store.add_photos import Seen, Tally
    from curator.catalog.store.check import Problem

WIDTH = 79


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def wrapped(text: str, indent: int = 2) -> None:
    """Print a text at most WIDTH wide."""
    pad = " " * indent
    print("\n".join(textwrap.wrap(text, WIDTH, initial_indent=pad, subsequent_indent=pad, break_on_hyphens=False)))


def _many(count: int, one: str) -> str:
    return f"{count} {one}" if count == 1 else f"{count} {one}s"


def sure(question: str, yes: bool) -> None:
    """Ask before what cannot be taken back; CuratorError where nobody can answer or the answer is no."""
    if yes:
        return
    if not sys.stdin.isatty():
        raise CuratorError("Asking before deleting.", "Nobody is there to answer.", "Add --yes if it is meant.")
    if not typer.confirm(question):
        raise CuratorError(
            "Asking before deleting.", "The answer was no; nothing was deleted.", "Do it again if it is meant."
        )


def fact_text(prompt: Prompt) -> str:
    """The fact, or how many things make no double."""
    return str(prompt.fact) if prompt.fact else f"{len(prompt.dots)} things" if prompt.dots else "no double"


def as_dict(folder: Path, prompt: Prompt) -> dict[str, Any]:
    """All fields by name, with the fact as text and where the picture lies."""
    return asdict(prompt) | {
        "fact": str(prompt.fact) if prompt.fact else None,
        "dots": [dot._asdict() for dot in prompt.dots],
        "picture": str(folder / prompt.picture),
    }


def show_found(found: Found, typed: str, folder: Path) -> None:
    """A line a prompt, and how many there are."""
    if not found.prompts:
        _nothing(typed)
        return
    for p in found.prompts:
        words = ", ".join(dict.fromkeys(w for w in (p.title, *p.tags) if w))
        print(_cut(f"{fact_text(p):<10}{p.kind:<7}{_cut(p.slug, 30):<31}{words}", WIDTH))
    more = found.total - len(found.prompts)
    tail = f"; {more} more with --limit {found.total}" if more > 0 else ""
    print(f"\n{_many(found.total, 'prompt')}{tail}. The pictures lie in {folder}.")


def _nothing(typed: str) -> None:
    from curator.catalog.search.gaps import IDEAS
    from curator.catalog.search.query import halves_asked, parse

    print(f'Nothing found for "{_cut(typed, 50)}".' if typed else "The catalog is empty.")
    asked = parse(typed)
    if asked.words and (asked.numbers or asked.kinds):
        print("Fewer words find more.")
    halves = halves_asked(asked)
    if len(halves) == 1:
        wrapped(f"Things that come as {halves[0]}+{halves[0]}: {'; '.join(IDEAS[halves[0]])}.", 0)
    elif not typed:
        print("Add photos: curator add PHOTOS.")


def edited(old: Prompt, said: dict[str, Any], tags: list[str], untag: list[str]) -> Prompt:
    """The prompt with what was said; the two alt texts follow along unless somebody wrote their own."""
    from curator.catalog.prompt import alts, clean

    given: dict[str, Any] = {k: v if k == "notes" else clean(v) for k, v in said.items() if v is not None}
    off = {clean(tag) for tag in untag}
    kept = dict.fromkeys(tag for tag in (*old.tags, *map(clean, tags)) if tag and tag not in off)
    new = replace(old, **given, tags=tuple(kept))
    before, after = alts(new)
    if old.alt_before == alts(old)[0] and "alt_before" not in given:
        new = replace(new, alt_before=before)
    if old.alt_after == alts(old)[1] and "alt_after" not in given:
        new = replace(new, alt_after=after)
    return new


def show_change(old: Prompt, new: Prompt) -> None:
    """Each field that changed, and how to take it back."""
    print(f"{new.slug} is saved.")
    for name, value in asdict(new).items():
        if value != asdict(old)[name]:
            shown = ", ".join(value) if isinstance(value, list | tuple) else value
            wrapped(f"{name}: {shown or '(nothing)'}")
    print(f"To take it back: curator edit {new.slug} --undo")


def add_one(
    folder: Path,
    path: Path,
    area: Area | None,
    words: dict[str, Any],
    *,
    take: frozenset[str],
    yes: bool,
    faces_ok: bool,
) -> Tally:
    """One photo: what is not sure is asked about, where somebody can answer."""
    from curator.catalog.store import add_photos

    seen = add_photos.see(path, area, words)
    tally = add_photos.Tally()
    asking = sys.stdin.isatty() and seen.prompt is not None
    if seen.faces and not faces_ok and asking:
        faces_ok = typer.confirm(f"{add_photos.faces_text(seen.faces)}. Keep it all the same?")
    if seen.prompt is not None and seen.prompt.grade == "check" and "check" not in take:
        question = f"{seen.note or 'It is not sure.'} Keep it as {seen.prompt.fact} ({seen.prompt.kind})?"
        if yes or (asking and typer.confirm(question)):
            take |= {"check"}
    add_photos.keep(folder, seen, tally, take=take, faces_ok=faces_ok)
    return tally


def show_tally(tally: Tally, folder: Path, *, several: bool) -> None:
    """What was added, what was not and why, and what is missing before the new ones may be shared."""
    from curator.catalog.store.add_photos import faces_text

    for prompt in tally.added:
        print(_cut(f"{fact_text(prompt):<10}{prompt.kind:<7}{_cut(prompt.slug, 30):<31}{prompt.title}", WIDTH))
    for slug, other in tally.near:
        print(f"  {slug} looks much like {other}.")
    for slug, faces in tally.faces:
        print(f"  {slug}: {faces_text(faces).lower()}.")
    _show_refused(tally)
    if several:
        print()
    wrapped(_sum(tally), 0)
    _show_missing(tally, folder)


def _show_refused(tally: Tally) -> None:
    if tally.look:
        print("\nLook at these (add one by itself with --yes, or all with --take-check):")
        for seen in tally.look:
            _show_seen(seen)
    if tally.none:
        print('\nNo double found (to keep one for "is it a double?": --no-double):')
        for seen in tally.none:
            _show_seen(seen)
    if tally.twins:
        print("\nThere already:")
        for seen, slug in tally.twins:
            print(f"  {_cut(seen.path.name, 36):<37}is {slug}")
    if tally.errors:
        print("\nNot read:")
        for seen in tally.errors:
            error = seen.error
            print(f"  {_cut(seen.path.name, 70)}")
            wrapped(f"{error.wrong} {error.try_this}" if error else "", 4)


def _show_seen(seen: Seen) -> None:
    assert seen.prompt is not None
    print(f"  {_cut(seen.path.name, 36):<37}{fact_text(seen.prompt):<10}{seen.prompt.kind}")
    if seen.note:
        wrapped(seen.note, 4)


def _sum(tally: Tally) -> str:
    because = [
        f"{count} {_be(count, word)}"
        for count, word in (
            (len(tally.look), "should be looked at"),
            (len(tally.none), "show no double"),
            (len(tally.twins), "were there already"),
            (len(tally.errors), "could not be read"),
        )
        if count
    ]
    text = f"{len(tally.added)} added"
    if because:
        text += f", {tally.refused} not, because " + " and ".join(", ".join(because).rsplit(", ", 1))
    return text + (". Stopped; what was added is kept." if tally.cut else ".")


def _be(count: int, words: str) -> str:
    return words.replace("show ", "shows ").replace("were ", "was ") if count == 1 else words


def _show_missing(tally: Tally, folder: Path) -> None:
    from curator.catalog.store.add_photos import lacks

    missing = {option: None for prompt in tally.added for option in lacks(prompt)}
    if missing:
        place = "" if folder == Path("catalog") else f" -c {folder}"
        slug = tally.added[0].slug if len(tally.added) == 1 else "NAME"
        which = "it still needs" if len(tally.added) == 1 else "they still need"
        wrapped(f"Before sharing {which} {', '.join(missing)}:", 0)
        print(f"  curator edit {slug}{place} {next(iter(missing))} ...")


def show_gaps(rows: list[Gap]) -> None:
    """The board, and what to photograph for its empty places."""
    print(f"{'':<10}" + "".join(f"{kind:>7}" for kind in KINDS) + f"{'all':>7}")
    for row in rows:
        counts = "".join(f"{row.counts[kind] or '.':>7}" for kind in KINDS)
        print(f"{row.fact!s:<10}{counts}{row.total or '.':>7}")
    empty = [row for row in rows if not row.total]
    if empty:
        print("\nNo picture yet. Ordinary things that come this way:")
        for row in empty:
            _show_ideas(f"{row.fact.half}+{row.fact.half}", [t for things in row.ideas.values() for t in things], row)
    thin = [row for row in rows if row.total and row.ideas]
    if thin:
        print("\nOther ways the halves could lie:")
        for row in thin:
            _show_ideas(f"{row.fact.half}+{row.fact.half}", [f"{k}: {t[0]}" for k, t in row.ideas.items() if t], row)
    print("\nCount what the photo really shows: packs and animals differ.")


def _show_ideas(name: str, ideas: list[str], row: Gap) -> None:
    from curator.catalog.search.gaps import BEWARE

    text = "; ".join(ideas) + (f" (beware: {BEWARE[row.fact.half]})" if not row.total else "")
    print("\n".join(textwrap.wrap(text, WIDTH, initial_indent=f"  {name:<7}", subsequent_indent=" " * 9)))


def show_problems(problems: list[Problem], prompts: int) -> None:
    """Each problem, its remedy under it; notes last."""
    for problem in problems:
        if not problem.note:
            print(_cut(problem.name, WIDTH))
            wrapped(problem.wrong)
            wrapped(f"> {problem.remedy}")
    notes = [problem for problem in problems if problem.note]
    if notes:
        print(("\n" if len(notes) < len(problems) else "") + "Good to know:")
        for problem in notes:
            wrapped(f"{problem.name}: {problem.wrong} {problem.remedy}")
    wrong = len(problems) - len(notes)
    print(f"{_many(prompts, 'prompt')}, " + (_many(wrong, "problem") if wrong else "no problems") + ".")

"""What `curator add` shows when it is done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from curator.commands import hints
from curator.commands.words import LACKS, WIDTH, colour, cut, fact_text, joined, many, wrapped, wrapping

if TYPE_CHECKING:
    from curator.catalog.store.add_photos import Seen, Tally

STUCK = "\u00a0"  # a blank at which no line is broken
SEVERAL = 8  # commands on one screen; more photos are told by one command for all


@dataclass(frozen=True, slots=True)
class Batch:
    """What was asked for: the catalog, the photos as they were named, and what each found file is called."""

    catalog: Path
    asked: tuple[Path, ...]
    names: dict[Path, str]
    said: tuple[object, ...] = ()  # the options that say something about the photos; they are said again

    def name(self, seen: Seen) -> str:
        return self.names.get(seen.path, seen.path.name)

    def again(self, paths: Sequence[Path], *options: object) -> str:
        """The command that adds these photos once more, with options."""
        return hints.command("add", *paths, *self.said, *options, catalog=self.catalog)


def show_tally(tally: Tally, batch: Batch, *, sheet: Path | None = None) -> None:
    """What was added, what was not and why, and what is missing before the new ones may be shared."""
    from curator.catalog.face_gate import faces_text

    for prompt in tally.added:
        line = f"{fact_text(prompt):<10}{prompt.kind:<7}{cut(prompt.slug, 30):<31}{prompt.title}"
        print(colour(cut(line, WIDTH), prompt.grade))
    for slug, other in tally.near:
        print(f"  {slug} looks much like {other}.")
    for slug, faces in tally.faces:
        print(f"  {slug}: {faces_text(faces).lower()}.")
    _show_look(tally, batch, sheet)
    _show_others(tally, batch)
    if len(batch.names) > 1:
        print()
    wrapped(_sum(tally))
    _show_missing(tally, batch)


def _show_look(tally: Tally, batch: Batch, sheet: Path | None) -> None:
    """The doubtful ones with their readings, and how to keep one or to see them all."""
    if not tally.look:
        return
    print(f"\n{colour('check', 'check')}: look at these.")
    for seen in tally.look:
        show_seen(seen, batch)
    if sheet is not None:
        print(f"They are drawn in {sheet}.")
    else:
        print("To see them with their readings numbered:")
        hints.lines([batch.again([seen.path for seen in tally.look], "--sheet", "look-at-these.jpg")])
    if len(tally.look) <= SEVERAL:
        print("To keep one as it is numbered:")
        hints.lines(batch.again([seen.path], *_kept_by(seen)) for seen in tally.look)
    else:
        print("To keep all as number 1, after a look:")
        hints.lines([batch.again([seen.path for seen in tally.look], "--take-check")])


def _kept_by(seen: Seen) -> tuple[object, ...]:
    assert seen.prompt is not None
    take: tuple[object, ...] = {"check": ("--reading", 1), "no": ("--no-double",)}.get(seen.prompt.grade, ())
    return (*take, "--people", "consented") if seen.faces else take


def _show_others(tally: Tally, batch: Batch) -> None:
    if tally.declined:
        print("\nNot kept:")
        for seen in tally.declined:
            print(f"  {cut(batch.name(seen), 70)}")
        print("To set the dots yourself, drag the photo onto the page:")
        hints.lines([hints.command("serve", catalog=batch.catalog)])
    if tally.none:
        print(f"\n{colour('no', 'no')}: no double found.")
        for seen in tally.none:
            show_seen(seen, batch)
        print('To keep them to ask "is it a double?":')
        hints.lines([batch.again([seen.path for seen in tally.none][:SEVERAL], "--no-double")])
    if tally.twins:
        print("\nThere already:")
        for seen, slug in tally.twins:
            print(f"  {cut(batch.name(seen), 36):<37}is {slug}")
    unread, without = _errors(tally)
    for title, errors in (("Not read:", unread), ("No such reading:", without)):
        if errors:
            print(f"\n{title}")
        for seen in errors:
            print(f"  {cut(batch.name(seen), 70)}")
            wrapped(f"{seen.error.wrong} {seen.error.try_this}" if seen.error else "", 4)


def _errors(tally: Tally) -> tuple[list[Seen], list[Seen]]:
    """Those that could not be read, and those that were read and have no reading of the number asked for."""
    parts: tuple[list[Seen], list[Seen]] = [], []
    for seen in tally.errors:
        parts[seen.error is not None and seen.error.code == "input"].append(seen)
    return parts


def show_seen(seen: Seen, batch: Batch) -> None:
    """A photo's name, its readings by number, and the first reason to look."""
    from curator.catalog.store.reading_sheet import reading_words

    assert seen.prompt is not None
    print(f"  {cut(batch.name(seen), WIDTH - 2)}")
    if seen.prompt.grade == "check" and seen.choices:
        each = (reading_words(n, one).replace(" ", STUCK) for n, one in enumerate(seen.choices, 1))
        print(wrapping("   ".join(each), 4).replace(STUCK, " "))
    else:
        print(f"    {fact_text(seen.prompt)} {seen.prompt.kind if seen.prompt.fact else ''}".rstrip())
    if seen.note:
        wrapped(seen.note, 4)


def _sum(tally: Tally) -> str:
    unread, without = _errors(tally)
    because = [
        f"{count} {_be(count, word)}"
        for count, word in (
            (len(tally.look), "should be looked at"),
            (len(tally.declined), "were turned down"),
            (len(tally.none), "show no double"),
            (len(tally.twins), "were there already"),
            (len(unread), "could not be read"),
            (len(without), "have no reading of that number"),
        )
        if count
    ]
    text = f"{len(tally.added)} added"
    if because:
        text += f", {tally.refused} not, because {joined(because)}"
    if not tally.cut:
        return f"{text}."
    unseen = f"{many(tally.unseen, 'photo')} {'was' if tally.unseen == 1 else 'were'} not looked at"
    return f"{text}. Stopped: {unseen}; what was added is kept."


def _be(count: int, words: str) -> str:
    if count != 1:
        return words
    return words.replace("show ", "shows ").replace("were ", "was ").replace("have ", "has ")


def _show_missing(tally: Tally, batch: Batch) -> None:
    from curator.catalog.prompt import lacks

    missing = {field: None for prompt in tally.added for field in lacks(prompt)}
    if any(not prompt.things for prompt in tally.added):
        wrapped("Nobody said what the things are; a lesson asks for their name.")
    if missing:
        which = "it still needs" if len(tally.added) == 1 else "they still need"
        wrapped(f"Before sharing {which} {joined([LACKS[field] for field in missing])}:")
        slugs = [prompt.slug for prompt in tally.added]
        hints.lines([hints.command("edit", *slugs, "--ask", catalog=batch.catalog)])

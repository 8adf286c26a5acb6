"""`curator check, gaps`: what is wrong in the catalog, and what is missing in it."""

from __future__ import annotations

import json
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from curator.commands import hints, outputs, words
from curator.commands.options import HERE, AsJson, Catalog, Yes
from curator.commands.progress import bar
from curator.records import KINDS

if TYPE_CHECKING:
    from curator.catalog.search.gaps import Gap
    from curator.catalog.store.check import Problem


MOST_NAMES = 12  # in one command


def gaps(
    catalog: Catalog = HERE,
    chart: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the board as a picture: board.png.", show_default=False)
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="The board as JSON.")] = False,
    replace: Annotated[bool, outputs.Replace] = False,
) -> None:
    """Show which facts have too few pictures, and what to photograph next."""
    from curator.catalog.search.gaps import gaps as board

    rows = board(catalog)
    if chart is not None:
        _draw(rows, chart, replace)
        return
    if as_json:
        said = [{"fact": str(r.fact), "counts": r.counts, "ideas": r.ideas} for r in rows]
        print(json.dumps(said, ensure_ascii=False))
    else:
        _show_gaps(rows)


def _draw(rows: list[Gap], chart: Path, replace: bool) -> None:
    from curator.catalog import files
    from curator.catalog.search import board_chart

    form = board_chart.suffix_of(chart)
    with outputs.kept([chart], replace):
        try:
            files.write(chart, board_chart.chart(rows, form))
        except OSError as error:
            raise files.unwritable(board_chart.DOING, error) from error
    print(f"The board is drawn in {chart}.")


def _show_gaps(rows: list[Gap]) -> None:
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
    print("\n".join(textwrap.wrap(text, words.WIDTH, initial_indent=f"  {name:<7}", subsequent_indent=" " * 9)))


def check(
    catalog: Catalog = HERE,
    quick: Annotated[bool, typer.Option("--quick", help="Do not open the pictures.")] = False,
    tidy: Annotated[bool, typer.Option("--tidy", help="Take away what cut-off changes left.")] = False,
    bring_back: Annotated[
        str | None, typer.Option(metavar="NAME", help="Fetch a prompt from the bin.", show_default=False)
    ] = None,
    empty_bin: Annotated[bool, typer.Option("--empty-bin", help="Delete all that lies in the bin, for good.")] = False,
    faces: Annotated[
        bool, typer.Option("--faces", help="Look for faces in pictures that were never searched.")
    ] = False,
    yes: Yes = False,
    as_json: AsJson = False,
) -> None:
    """List each problem of the catalog with its remedy, and what is still to be said before sharing."""
    from curator.catalog.store import folder

    if bring_back is not None:
        print(f"{folder.bring_back(catalog, bring_back).slug} is back in the catalog.")
        return
    if empty_bin:
        words.sure("Delete all that lies in the bin, for good?", yes)
        print(f"{words.many(folder.empty_bin(catalog), 'prompt')} deleted for good.")
        return
    if faces:
        _search_faces(catalog)
        return
    if tidy:
        print(f"{words.many(folder.tidy(catalog), 'left-over file')} taken away.")
    problems = [*folder.check(catalog, pictures=not quick), *folder.to_say(catalog)]
    if as_json:
        for p in problems:
            said = {"name": p.name, "wrong": p.wrong, "remedy": p.remedy, "note": p.note, "code": p.code}
            print(json.dumps(said, ensure_ascii=False))
    else:
        _show_problems(problems, folder.count(catalog), catalog)
    if any(not problem.note for problem in problems):
        sys.exit(1)


def _search_faces(catalog: Path) -> None:
    from curator.catalog.face_gate import search_all

    with bar("Looking for faces") as progress:
        searched, open_ = search_all(catalog, progress)
    print(f"{words.many(searched, 'picture')} searched.")
    if open_:
        words.wrapped(f"A face may be in {words.joined(open_)}. Look, blur it, or say what it is:")
        hints.lines([hints.command("edit", open_[0], "--faces", "consented", catalog=catalog)])
        hints.lines([hints.command("edit", open_[0], "--faces", "none", catalog=catalog)])


def _show_problems(problems: list[Problem], prompts: int, catalog: Path) -> None:
    """Each problem, its remedy under it; notes last."""
    for problem in problems:
        if not problem.note:
            print(words.cut(problem.name, words.WIDTH))
            words.wrapped(problem.wrong, 2)
            words.wrapped(f"> {problem.remedy}", 2, 2)
            hints.lines(hints.of_problem(problem, catalog), "    ")
    notes = [problem for problem in problems if problem.note and problem.code != "rights"]
    _show_to_say([problem for problem in problems if problem.code == "rights"], catalog)
    if notes:
        print("\nGood to know:" if len(notes) < len(problems) else "Good to know:")
        for problem in notes:
            words.wrapped(f"{problem.name}: {problem.wrong} {problem.remedy}", 2, 2)
            hints.lines(hints.of_problem(problem, catalog), "    ")
    wrong = sum(not problem.note for problem in problems)
    print(f"{words.many(prompts, 'prompt')}, {words.many(wrong, 'problem') if wrong else 'no problems'}.")


def _show_to_say(notes: list[Problem], catalog: Path) -> None:
    """What is still to be said before sharing, one paragraph for all that lack the same."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for note in notes:
        groups.setdefault(note.missing, []).append(note.slug)
    for missing, slugs in groups.items():
        said = words.joined([words.LACKS[field] for field in missing])
        shown = words.joined(slugs if len(slugs) <= MOST_NAMES else [*slugs[:MOST_NAMES], "others"])
        words.wrapped(
            f"Before sharing, {words.many(len(slugs), 'prompt')} still need{'s' * (len(slugs) == 1)} {said}: {shown}."
        )
        hints.lines([hints.command("edit", *slugs[:MOST_NAMES], "--ask", catalog=catalog)])


def register(app: typer.Typer) -> None:
    """Add these commands."""
    for command in (gaps, check):
        app.command(command.__name__)(hints.helped(command))

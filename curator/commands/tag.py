"""`curator tag` and `curator score`: what photos show, and how often that is right."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from curator.errors import CuratorError
from curator.records import Area

PhotoPaths = Annotated[list[Path], typer.Argument(help="Photos, or folders of photos.", show_default=False)]
AreaText = Annotated[
    str | None,
    typer.Option(
        "--area", help="left,top,right,bottom as fractions of one photo: look only inside.", show_default=False
    ),
]


def parse_area(text: str | None, photos: int) -> Area | None:
    """Four fractions, left < right and top < bottom; CuratorError for anything else."""
    if text is None:
        return None
    doing = "Reading --area."
    if photos != 1:
        raise CuratorError(doing, "An area goes with one photo.", "Name one photo, or leave --area out.")
    try:
        left, top, right, bottom = (float(part) for part in text.split(","))
    except ValueError:
        raise CuratorError(doing, f'"{text}" is not four numbers.', "Write it like --area 0.1,0.2,0.9,0.8.") from None
    if not (0 <= left < right <= 1 and 0 <= top < bottom <= 1):
        wrong = f'"{text}" is not left,top,right,bottom between 0 and 1.'
        raise CuratorError(doing, wrong, "Write it like --area 0.1,0.2,0.9,0.8.")
    return Area(left, top, right, bottom)


def tag(
    photos: PhotoPaths,
    area: AreaText = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON object a line.")] = False,
    draw: Annotated[
        Path | None, typer.Option(help="Write each photo with its dots and dividing line here.", show_default=False)
    ] = None,
) -> None:
    """Say which doubles fact each photo shows, and why."""
    from curator.seeing import batch

    paths = batch.wanted(photos)
    within = parse_area(area, len(paths))
    failed = False
    answers: list[dict[str, Any]] = []
    for answer in batch.tag_all(paths, within, draw, progress=not as_json and len(paths) > 1):
        failed = failed or "error" in answer
        if as_json:
            print(json.dumps(answer, ensure_ascii=False), flush=True)
        answers.append(answer)
    if not as_json:
        from curator.commands.tables import tag_table

        tag_table(answers)
    if failed:
        sys.exit(1)


def score(
    folder: Annotated[Path, typer.Argument(help="A folder with photos and labels.csv.", show_default=False)],
    everything: Annotated[bool, typer.Option("--all", help="Also count labels marked debatable.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="The figures as JSON.")] = False,
    contact_sheet: Annotated[
        Path | None, typer.Option(help="Write a picture of what went wrong, by cause.", show_default=False)
    ] = None,
) -> None:
    """Compare the answers with a folder of labelled photos."""
    from curator.seeing.evaluation import scoring

    figures = scoring.score(folder, everything=everything, contact_sheet=contact_sheet, progress=not as_json)
    if as_json:
        print(json.dumps(figures, indent=1))
    else:
        from curator.commands.tables import score_table

        score_table(figures)


def register(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    app.command("tag")(tag)
    app.command("score")(score)

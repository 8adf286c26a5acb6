"""`curator tag` and `curator score`: what photos show, and how often that is right."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from curator.commands import hints, outputs
from curator.commands.options import AreaText, AsJson, Cluster, PhotoPaths, parse_area
from curator.commands.progress import bar
from curator.commands.words import many


def tag(
    photos: PhotoPaths,
    area: AreaText = None,
    as_json: AsJson = False,
    draw: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER",
            help="Write each photo with its dots and dividing line into this folder.",
            show_default=False,
        ),
    ] = None,
    replace: Annotated[bool, outputs.Replace] = False,
    cluster: Cluster = "",
    journal: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Note each answer in this file; a stopped run goes on where it was.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Say which doubles fact each photo shows, and why."""
    from curator.seeing import batch

    paths = batch.wanted(photos)
    within = parse_area(area, len(paths))
    failed = False
    answers: list[dict[str, Any]] = []
    targets = batch.drawings(paths, draw) if draw is not None else []
    with outputs.kept(targets, replace), bar("Looking", shown=not as_json and len(paths) > 1) as progress:
        for answer in batch.tag_all(paths, within, draw, progress=progress, cluster=cluster, log=journal):
            failed = failed or "error" in answer
            if as_json:
                print(json.dumps(answer, ensure_ascii=False), flush=True)
            answers.append(answer)
    if not as_json:
        from curator.commands.tables import tag_table

        tag_table(answers)
    if len(answers) < len(paths):
        left = len(paths) - len(answers)
        print(f"Stopped: {many(left, 'photo')} {'was' if left == 1 else 'were'} not looked at.", file=sys.stderr)
        sys.exit(130)
    if failed:
        sys.exit(1)


def score(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A folder with photos and labels.csv.", show_default=False)
    ],
    everything: Annotated[bool, typer.Option("--all", help="Also count labels marked debatable.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="The figures as JSON.")] = False,
    contact_sheet: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write a picture of what went wrong, by cause.", show_default=False),
    ] = None,
    replace: Annotated[bool, outputs.Replace] = False,
) -> None:
    """Compare the answers with a folder of labelled photos."""
    from curator.seeing.evaluation import scoring

    with outputs.kept([contact_sheet] if contact_sheet else [], replace), bar("Scoring", shown=not as_json) as progress:
        figures = scoring.score(folder, everything=everything, contact_sheet=contact_sheet, progress=progress)
    if as_json:
        print(json.dumps(figures, indent=1))
    else:
        from curator.commands.tables import score_table

        score_table(figures)


def register(app: typer.Typer) -> None:
    """Add these commands to the command line."""
    app.command("tag")(hints.helped(tag))
    app.command("score")(hints.helped(score))

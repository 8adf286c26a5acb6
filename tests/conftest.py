"""What every test shares; its folder is on the path, so that helpers (`drawn`, `catalog_made`, ...) are found."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture(autouse=True)
def nobodys_settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """No test reads or writes the settings of whoever runs it."""
    place = tmp_path_factory.getbasetemp() / "settings" / "none"
    monkeypatch.setenv("CURATOR_SETTINGS", str(place))
    monkeypatch.delenv("CURATOR_CATALOG", raising=False)
    return place


@pytest.fixture(autouse=True)
def hinted(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """Every command that any test makes the program print is one that the program takes, to the last option."""
    from curator.commands import hints

    found: list[str] = []
    real = hints.command

    def command(*words: object, catalog: Path | None = None) -> str:
        found.append(real(*words, catalog=catalog))
        return found[-1]

    monkeypatch.setattr(hints, "command", command)
    yield found
    for line in found:
        parsed(line)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One real Chromium for all tests of this process; each opens a context of its own in it."""
    import web_kit

    if web_kit.CHROMIUM is None:
        pytest.skip("no Chromium found: install the package chromium")
    pytest.importorskip("playwright.sync_api", reason="playwright is missing: pip install playwright")
    with web_kit.chromium() as one:
        yield one


def parsed(line: str) -> Any:
    """The click context of a printed command; click.UsageError where the program would not take it."""
    import typer

    from curator.cli import app

    group: Any = typer.main.get_command(app)
    program, *words = shlex.split(line)
    assert program == "curator", line
    asks = bool({"--help", "-h"} & set(words))
    words = [word for word in words if word not in ("--help", "-h")]
    with group.make_context("curator", words, resilient_parsing=True) as context:
        if not words:  # the help of all
            return context
        name, command, rest = group.resolve_command(context, words)
        return command.make_context(name, rest, parent=context, resilient_parsing=asks)

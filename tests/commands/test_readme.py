"""The README is true: every block runs, in order, in one folder; its figures are those of the experiments."""

from __future__ import annotations

import re
import shlex
import shutil
import socket
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from curator.cli import app
from curator.seeing.judging.reasons import RULES

HERE = Path(__file__).parents[2]
README = (HERE / "README.md").read_text(encoding="utf-8")
LINES = re.findall(r"^    curator (.+)$", README, re.M)
RUN = CliRunner()


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder as a reader has it after the set-up: sample pictures and the sample catalog."""
    (tmp_path / "sample_images").mkdir()
    for name in set(re.findall(r"sample_images/([\w.-]+\.jpg)", README)):
        shutil.copy(HERE / "sample_images" / name, tmp_path / "sample_images")
    shutil.copytree(HERE / "catalog", tmp_path / "catalog", ignore=shutil.ignore_patterns(".*"))
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_every_block_runs_in_order_in_one_folder(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import uvicorn

    served: list[Any] = []
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: served.append([s.close() for s in sockets]))
    said = {}
    with socket.socket() as probe:  # the page's own port may be in use on this machine
        probe.bind(("127.0.0.1", 0))
        free = ["--port", str(probe.getsockname()[1])]
    for line in LINES:
        result = RUN.invoke(app, shlex.split(line) + (free if line.split()[0] == "serve" else []))
        assert result.exit_code == 0, (line, result.output, result.exception)
        said[line.split()[0]] = " ".join(result.output.split())
    assert len(served) == 1
    assert "eggs-kitchen" in said["find"]
    assert "6+6=12" in said["find"]
    assert said["pack"].endswith("set.zip: 1 prompt.")
    assert said["receive"].endswith("1 prompt came in.")
    for name in ("board.png", "monday.pptx", "monday.html", "plan.yaml", "week.html", "cards.pdf", "doubles-site"):
        assert (home / name).exists(), name
    shutil.rmtree(home / "eggs")


def test_every_command_and_option_named_is_there() -> None:
    words = set(re.findall(r"`curator ([a-z][a-z-]*)", README)) | {line.split()[0] for line in LINES}
    commands = RUN.invoke(app, ["-h"]).output
    told = commands
    for name in words:
        assert re.search(rf"^  {name}\b", commands, re.M), name
        told += RUN.invoke(app, [name, "-h"], terminal_width=200).output
    options = set(re.findall(r"(?<![\w-])--[a-z][a-z-]+", README))
    assert [option for option in options if option not in told] == []


def test_it_is_short_and_starts_with_the_job_and_the_page() -> None:
    assert len(README.split()) <= 1300
    assert "cover one half" in README.split("##")[0]
    titles = re.findall(r"^## (.+)$", README, re.M)
    assert titles[:2] == ["Set up", "The page: start here"]
    for picture in re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README):
        assert (HERE / picture).is_file(), picture


def test_its_figures_are_the_newest() -> None:
    experiments = (HERE / ".docs" / "experiments.md").read_text(encoding="utf-8")
    figures = README.split("## What it gets wrong")[1].split("\n## ")[0]
    lines = " ".join(figures.split("\n\n")[2].split())
    for bullet in lines.split("- ")[1:3]:
        assert bullet.strip() in " ".join(experiments.split()), bullet


def test_the_licence_lies_in_the_package() -> None:
    import curator

    text = (Path(curator.__file__).parent / "LICENSE").read_text(encoding="utf-8")
    assert text.startswith("MIT License")


def test_developers_fits_ten_minutes_and_names_every_reason() -> None:
    text = (HERE / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert len(text.encode()) <= 12_000
    judging = HERE / "curator" / "seeing" / "judging"
    code = "".join(path.read_text(encoding="utf-8") for path in sorted(judging.glob("*.py")))
    names = set(re.findall(r'(?:Reason|Rule)\(\s*"([a-z]+)"', code))
    names |= {rule.name for rule in RULES}
    assert len(names) > 15
    assert [name for name in sorted(names) if not re.search(rf"\b{name}\b", text)] == []
    for path in re.findall(r"`(curator/[\w/]+(?:\.py)?|tests/[\w/]+(?:\.py)?)`", text):
        assert (HERE / path).exists(), path

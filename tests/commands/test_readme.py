"""The README's session is run; its commands exist; the job stands at the top."""

import re
import shlex
from pathlib import Path

from typer.testing import CliRunner

from curator.cli import app

HERE = Path(__file__).parents[2]
README = (HERE / "README.md").read_text(encoding="utf-8")


def test_session_runs(tmp_path: Path) -> None:
    session = README.split("<!-- session -->")[1].split("`tag` says")[0]
    lines = re.findall(r"^    curator (.+)$", session, re.M)
    assert len(lines) == 6
    outputs = []
    for line in lines:
        words = shlex.split(
            line.replace("sample_images/", f"{HERE}/sample_images/").replace("my-catalog", str(tmp_path / "kept"))
        )
        result = CliRunner().invoke(app, words)
        assert result.exit_code == 0, (line, result.output)
        outputs.append(result.output)
    assert "6+6=12" in outputs[0]
    assert "6+6=12" in outputs[2]
    assert "6+6=12" in outputs[3]


def test_sharing_runs(tmp_path: Path) -> None:
    session = README.split("<!-- sharing -->")[1].split("A bundle is one zip")[0]
    said = []
    for line in re.findall(r"^    curator (.+)$", session, re.M):
        words = line.replace("my-catalog", str(HERE / "catalog")).replace("their-catalog", str(tmp_path / "theirs"))
        result = CliRunner().invoke(app, shlex.split(words.replace("set.zip", str(tmp_path / "set.zip"))))
        assert result.exit_code == 0, (line, result.output)
        said.append(" ".join(result.output.split()))
    assert said[0].endswith("set.zip: 3 prompts.")
    assert said[1].endswith("3 prompts came in.")
    options = set(re.findall(r"--[a-z-]+", README.split("## Sharing with colleagues")[1].split("##")[0]))
    help_text = " ".join(
        CliRunner().invoke(app, [name, "--help"], terminal_width=200).output for name in ("pack", "receive")
    )
    assert [option for option in options if option not in help_text] == []


def test_every_command_named_is_there_and_has_help() -> None:
    help_text = CliRunner().invoke(app, ["--help"]).output
    for name in set(re.findall(r"^    curator ([a-z-]+)", README, re.M)):
        assert name in help_text, name
        assert CliRunner().invoke(app, [name, "--help"]).exit_code == 0


def test_the_job_stands_first_and_words_are_explained() -> None:
    assert "cover one half" in README.split("##")[0]
    developers = (HERE / "DEVELOPERS.md").read_text(encoding="utf-8")
    judge = "".join(
        (HERE / "curator" / "seeing" / "judging" / f"{name}.py").read_text(encoding="utf-8")
        for name in ("reasons", "readings")
    )
    for name in re.findall(r'Reason\("([a-z]+)"', judge):
        assert name in developers, name


def test_every_option_of_lessons_is_there() -> None:
    section = README.split("## From the catalog to a lesson")[1].split("\n## ")[0]
    options = set(re.findall(r"--[a-z-]+", section))
    names = set(re.findall(r"^    curator ([a-z-]+)", section, re.M))
    assert {"lesson", "look-again"} <= names
    help_text = " ".join(CliRunner().invoke(app, [name, "--help"], terminal_width=200).output for name in names)
    assert {"--seat", "--screen", "--paper"} <= options
    assert [option for option in options if option not in help_text] == []

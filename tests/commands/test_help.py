"""Help as a teacher sees it, 80 columns wide: every command and option says what it does, and nothing runs over the
edge.
"""

from __future__ import annotations

import inspect
import re

import click
import pytest
import typer
from typer.testing import CliRunner

from curator.cli import app

COMMANDS: dict[str, click.Command] = typer.main.get_command(app).commands  # type: ignore[attr-defined]
RUNNER = CliRunner()


def shown(*words: str) -> str:
    result = RUNNER.invoke(
        app, [*words, "--help"], terminal_width=80, env={"COLUMNS": "80", "TERM": "dumb", "NO_COLOR": "1"}
    )
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_help_of_a_command(name: str) -> None:
    command = COMMANDS[name]
    text = shown(name)
    assert max(map(len, text.splitlines())) <= 80
    first = inspect.cleandoc(command.help or "").split("\n\n")[0]
    assert first.endswith(".")
    assert len(first) < 200
    for option in command.params:
        if option.param_type_name == "option" and option.name != "help":
            assert option.help, f"{name} {option.opts[0]} says nothing"
            assert any(opt in text for opt in option.opts), option.opts


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_what_to_put_is_said_in_words_not_as_a_type(name: str) -> None:
    text = shown(name)
    assert not re.search(r"[<>{}]|x>=|\b(TEXT|INTEGER|FLOAT|PATH|DIRECTORY|FILENAME)\b", text), text
    for param in COMMANDS[name].params:
        if not getattr(param, "is_flag", False):
            assert param.metavar, f"{name} {param.name}: say what to put"
            assert param.metavar.isalpha(), param.metavar
            assert param.metavar.isupper(), param.metavar
            assert param.metavar in text


def test_the_list_of_commands_fits_and_names_each() -> None:
    text = shown()
    assert max(map(len, text.splitlines())) <= 80
    assert not set("<>{}") & set(text)
    for name in COMMANDS:
        assert name in text
    assert "..." not in text.split("Commands:")[1].replace("eggs ...", "")
    for wanted in (
        "tag",
        "add",
        "find",
        "edit",
        "remove",
        "gaps",
        "check",
        "score",
        "lesson",
        "serve",
        "pack",
        "receive",
        "site",
        "forget",
        "list",
        "show",
        "settings",
    ):
        assert wanted in COMMANDS


@pytest.mark.parametrize("words", [["tag"], ["find", "--catalog"], ["nothing-like-it"], ["add", "--half", "many"]])
def test_a_slip_of_the_hand_is_answered_without_a_traceback(words: list[str]) -> None:
    result = RUNNER.invoke(app, words)
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)


@pytest.mark.parametrize("words", [["-h"], ["find", "-h"], ["--version"]])
def test_short_help_and_the_version(words: list[str]) -> None:
    result = RUNNER.invoke(app, words)
    assert result.exit_code == 0
    assert result.output.startswith("curator 0." if words == ["--version"] else "Usage:")


def test_a_command_a_letter_off_is_guessed_and_a_name_too() -> None:
    assert "Did you mean 'edit'" in RUNNER.invoke(app, ["edti"]).output
    assert "--things" in RUNNER.invoke(app, ["edit", "eggs", "--thigns", "x"]).output


def test_completion_can_be_had_for_the_usual_shells() -> None:
    text = shown()
    assert "--install-completion" in text
    assert "--show-completion" in text


def test_the_variable_that_names_a_catalog_is_said_where_the_catalog_is_set() -> None:
    assert [name for name in COMMANDS if "CURATOR_CATALOG" in shown(name)] == ["settings"]

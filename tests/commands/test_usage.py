"""What was typed and cannot be read is answered like every other error: three short sentences, none of a program."""

from __future__ import annotations

import sys

import pytest

from curator import cli

TYPED = {
    "lesson -o x.pdf --days many": "--days takes a whole number.",
    "find --limit 0": "-n/--limit takes a whole number from 1 on.",
    "tag": "PHOTO is missing.",
    "lesson": "-o/--output is missing.",
    "nosuch": 'There is no command "nosuch".',
    "find --nosuch": "There is no --nosuch here.",
    "settings nosuch": "There is a word too many: nosuch.",
    "find --limit": "--limit wants a word after it.",
}


def _run(typed: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    monkeypatch.setattr(sys, "argv", ["curator", *typed.split()])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return int(ended.value.code or 0), capsys.readouterr().err


@pytest.mark.parametrize("typed", TYPED)
def test_what_cannot_be_read_is_told_in_three_sentences(
    typed: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = _run(typed, monkeypatch, capsys)
    doing, wrong, try_this = said.splitlines()
    assert code == 2
    assert doing.startswith("Reading the command")
    assert wrong == TYPED[typed]
    assert try_this.startswith("See what it takes: curator")
    assert try_this.endswith("-h")


def test_the_command_that_is_named_shows_its_help(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _, said = _run("find --nosuch", monkeypatch, capsys)
    assert "curator find -h" in said


def test_nothing_typed_shows_the_help(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    code, said = _run("", monkeypatch, capsys)
    assert code == 2
    assert said.startswith("Usage:")
    assert "lesson" in said


def test_a_command_that_works_ends_with_nought(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = _run("--version", monkeypatch, capsys)
    assert (code, said) == (0, "")

"""Answers as tables for people, at most 80 columns wide."""

from __future__ import annotations

from typing import Any

WIDTH = 80


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"


def _wrapped(text: str, indent: int) -> str:
    import textwrap

    pad = " " * indent
    return "\n".join(textwrap.wrap(text, WIDTH - 1, initial_indent=pad, subsequent_indent=pad))


def tag_line(answer: dict[str, Any]) -> str:
    """One photo: name, grade, fact, how its halves lie, how sure; the first reason below."""
    name = _cut(answer["photo"], 30)
    if "error" in answer:
        error = answer["error"]
        return f"{name:<31}unread\n" + _wrapped(f"{error['wrong']} {error['try_this']}", 4)
    fact = answer["fact"] or (f"{answer['total']} things" if answer["total"] else "-")
    how = answer["kind"] if answer["fact"] else ""
    confident = f"{min(answer['confidence'], 0.99):.0%}" if answer["fact"] else ""  # nothing is certain
    line = f"{name:<31}{answer['grade']:<7}{fact:<10}{how or '':<7}{confident:>4}"
    if answer["reasons"] and answer["grade"] != "sure":
        line += "\n" + _wrapped(answer["reasons"][0], 4)
    return line.rstrip()


def tag_table(answers: list[dict[str, Any]]) -> None:
    """Every photo, and a last line of sums."""
    print(f"{'photo':<31}{'grade':<7}{'fact':<10}{'kind':<7}sure?")
    for answer in sorted(answers, key=lambda a: a["photo"]):
        print(tag_line(answer))
    grades = [a.get("grade", "unread") for a in answers]
    sums = ", ".join(f"{grades.count(g)} {g}" for g in ("sure", "check", "no", "unread") if grades.count(g))
    print(f"\n{len(answers)} photo{'s' if len(answers) != 1 else ''}: {sums}")


SCORE_COLUMNS = (
    ("photos", "photos"),
    ("right", "right"),
    ("asked", "asked"),
    ("wrong", "wrong"),
    ("missed", "missed"),
    ("total", "total"),
    ("fact", "fact"),
    ("top3", "top3"),
    ("taps", "taps"),
)


def _score_row(name: str, figures: dict[str, Any]) -> str:
    cells = []
    for _, key in SCORE_COLUMNS:
        value = figures[key]
        cells.append(f"{'-' if value is None else f'{value:.2f}' if isinstance(value, float) else value:>7}")
    return f"{_cut(name, 10):<10}" + "".join(cells)


def score_table(figures: dict[str, Any]) -> None:
    """The scoreboard: all photos, then by difficulty, kind and grade, then the misses."""
    print(f"{figures['folder'][:10]:<10}" + "".join(f"{title:>7}" for title, _ in SCORE_COLUMNS))
    print(_score_row("all", figures["all"]["all"]))
    for name in ("difficulty", "kind", "grade"):
        print(f"\nby {name}")
        for key, part in figures[name].items():
            print(_score_row(key, part))
    every = figures["all"]["all"]
    print(f"\nsure: {every['sure']} of {every['photos']} photos (of the doubles {every['sure_doubles'] or 0:.2f});")
    print(f"wrong while sure: {every['wrong_sure']} (95 % upper bound {every['wrong_sure_upper']:.3f})")
    _misses(figures["causes"], figures["misses"])


def _misses(causes: dict[str, dict[str, int]], misses: list[dict[str, Any]]) -> None:
    """What is not as labelled: how many of each cause, then every photo under its cause."""
    from curator.seeing.evaluation.miss_causes import CAUSES

    named = [name for name in CAUSES if causes[name]["photos"]]
    if not named:
        return
    print(f"\n{'not as labelled, by cause':<48}{'photos':>8}{'double':>8}{'sure':>8}")
    for name in named:
        count = causes[name]
        print(f"{CAUSES[name]:<48}{count['photos']:>8}{count['claimed']:>8}{count['sure']:>8}")
    print("(double: one is named where none is labelled; sure: tagged without asking)")
    for name in named:
        print(f"\n{CAUSES[name]}")
        for miss in misses:
            if miss["cause"] == name:
                print(f"  {_cut(miss['file'], 26):<27}{miss['labelled']:<13}got {_cut(miss['answered'], 34)}")

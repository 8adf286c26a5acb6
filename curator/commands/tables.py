"""Answers as tables for people, at most 80 columns wide."""

from __future__ import annotations

from typing import Any

from curator.commands.words import colour, cut, many, wrapping

MEANS = {"sure": "", "check": " (look at them)", "no": " (no double shown)", "unread": ""}


def tag_line(answer: dict[str, Any]) -> str:
    """One photo: name, grade, fact, how its halves lie, how sure; the first reason below."""
    name = cut(answer["photo"], 30)
    if "error" in answer:
        error = answer["error"]
        return f"{name:<31}{colour('unread', 'unread')}\n" + wrapping(f"{error['wrong']} {error['try_this']}", 4)
    fact = answer["fact"] or (many(answer["total"], "thing") if answer["total"] else "-")
    how = answer["kind"] if answer["fact"] else ""
    confident = f"{min(answer['confidence'], 0.99):.0%}" if answer["fact"] else ""  # nothing is certain
    grade = colour(f"{answer['grade']:<7}", answer["grade"])
    line = f"{name:<31}{grade}{fact:<10}{how or '':<7}{confident:>4}".rstrip()
    if answer["reasons"] and answer["grade"] != "sure":
        line += "\n" + wrapping(answer["reasons"][0], 4)
    return line.rstrip()


def tag_table(answers: list[dict[str, Any]]) -> None:
    """Every photo, and a last line of sums."""
    print(f"{'photo':<31}{'grade':<7}{'fact':<10}{'kind':<7}sure?")
    for answer in sorted(answers, key=lambda a: a["photo"]):
        print(tag_line(answer))
    grades = [a.get("grade", "unread") for a in answers]
    sums = [colour(f"{grades.count(g)} {g}", g) + MEANS[g] for g in MEANS if grades.count(g)]
    print(f"\n{many(len(answers), 'photo')}: {', '.join(sums)}")


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
    return f"{cut(name, 10):<10}" + "".join(cells)


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
                print(f"  {cut(miss['file'], 26):<27}{miss['labelled']:<13}got {cut(miss['answered'], 34)}")

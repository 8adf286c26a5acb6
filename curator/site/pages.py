"""The pages around the pictures: board, a page for each fact and each prompt, credits, and the words to find by."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from curator.catalog.bundles.rights import beware
from curator.catalog.prompt import LICENSES
from curator.catalog.search.query import grammar, words_of
from curator.classroom.writers import page
from curator.facts import FACTS, KIND_WORDS, family
from curator.records import KINDS, Prompt
from curator.site.prompt_files import Part, Wish

HERE = Path(__file__).parent
STATIC = ("site.css", "find.js", "icon.svg")
FACE = "/* Rubik. Copyright 2015 The Rubik Project Authors; SIL Open Font License 1.1, https://scripts.sil.org/OFL */\n"
# `file:` beside 'self': browsers differ in whether a page opened from a drive is of one origin with its own files
POLICY = (
    "default-src 'none'; script-src 'self' file:; style-src 'self' file:; img-src 'self' file:; font-src data:; "
    "base-uri 'none'; form-action 'none'"
)


@dataclass(frozen=True, slots=True)
class Entry:
    """A prompt of the site and its files."""

    prompt: Prompt
    part: Part

    @property
    def title(self) -> str:
        """The prompt's title, for a tab that the class may see: without its number."""
        from curator.classroom.text.alt_texts import secret, tells

        return "A picture" if tells(self.prompt.title, *secret(self.prompt)) else self.prompt.title

    @property
    def unchecked(self) -> bool:
        """Whether nobody looked, and the program was not sure."""
        return not self.prompt.checked_by and self.prompt.grade != "sure"

    @property
    def page(self) -> str:
        return f"prompts/{self.part.key}.html"

    @property
    def fact_page(self) -> str:
        return f"facts/{self.prompt.fact.half if self.prompt.fact else 'none'}.html"


def write(target: Path, entries: Sequence[Entry], *, words: str, wish: Wish) -> None:
    """All pages into target, whose folders are there: OSError."""
    for name in STATIC:
        (target / name).write_bytes((HERE / "static" / name).read_bytes())
    (target / "dress.css").write_bytes((page.FILES / "dress.css").read_bytes())
    (target / "face.css").write_text(FACE + page.face(), encoding="utf-8")
    (target / "index.js").write_text(_index(entries, wish.language), encoding="utf-8")
    made = _Pages(
        target,
        {
            "inside": wish.inside,
            "language": wish.language,
            "today": date.today().isoformat(),
            "policy": POLICY,
            "total": len(entries),
        },
    )
    by_half: dict[int, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_half[entry.prompt.fact.half if entry.prompt.fact else 0].append(entry)
    made.put("index.html", "board.html", words=words, rows=_rows(entries), others=len(by_half[0]))
    for fact in FACTS:
        made.put(
            f"facts/{fact.half}.html",
            "fact.html",
            fact=fact,
            family=[said.replace("-", "−") for said in family(fact)[1:]],  # to be read: a true minus sign
            groups=_by_kind(by_half[fact.half]),
        )
    made.put("facts/none.html", "fact.html", fact=None, family=(), groups=_by_kind(by_half[0]))
    for entry in entries:
        made.put(entry.page, "prompt.html", e=entry, p=entry.prompt, license=LICENSES.get(entry.prompt.license))
    made.put("credits.html", "credits.html", groups=_by_license(entries), beware=beware([e.prompt for e in entries]))


class _Pages:
    """Templates written as files."""

    def __init__(self, target: Path, common: dict[str, Any]) -> None:
        self._target = target
        self._common = common

    def put(self, name: str, template: str, **values: Any) -> None:
        up = "../" * name.count("/")
        text = _templates().get_template(template).render(**self._common, here=name, up=up, **values)
        (self._target / name).write_text(text, encoding="utf-8")


@cache
def _templates() -> Any:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    loader = FileSystemLoader(HERE / "templates")
    made = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    made.globals.update(kinds=KINDS, kind_words=KIND_WORDS, facts=FACTS)
    return made


def _rows(entries: Sequence[Entry]) -> list[dict[str, Any]]:
    counts = Counter((e.prompt.fact.half, e.prompt.kind) for e in entries if e.prompt.fact)
    rows = [{"fact": fact, "counts": {kind: counts[fact.half, kind] for kind in KINDS}} for fact in FACTS]
    return [{**row, "total": sum(row["counts"].values())} for row in rows]  # type: ignore[attr-defined]


def _by_kind(entries: Sequence[Entry]) -> list[tuple[str, list[Entry]]]:
    groups = [(kind, [e for e in entries if e.prompt.kind == kind]) for kind in (*KINDS, "none")]
    return [(kind, found) for kind, found in groups if found]


def _by_license(entries: Sequence[Entry]) -> list[tuple[Any, list[Entry]]]:
    """Pictures under each known licence, and those without one last (None)."""
    names = (*LICENSES, *sorted({e.prompt.license for e in entries} - set(LICENSES)))
    groups = [(LICENSES.get(name), [e for e in entries if e.prompt.license == name]) for name in names]
    return [(license, found) for license, found in groups if found]


def _index(entries: Sequence[Entry], language: str) -> str:
    """A script that holds the words of every prompt, for a page opened from a drive may not fetch a file.

    One row a prompt: key, title, half (0 for no double), total, kind, words to find by, small picture and its size,
    alt text, whether it still has to be checked. Notes are left out of the words: they are the teacher's own.
    """
    rows = []
    for entry in entries:
        p, small = entry.prompt, entry.part.small
        assert small is not None
        found_by = " ".join(dict.fromkeys(words_of(replace(p, notes=""))))
        rows.append(
            [
                entry.part.key,
                p.title,
                p.fact.half if p.fact else 0,
                p.total,
                p.kind,
                found_by,
                small.name,
                small.width,
                small.height,
                entry.part.before,
                int(entry.unchecked),
            ]
        )
    said = {"language": language, "grammar": grammar(), "kindWords": KIND_WORDS, "rows": rows}
    return "var catalog = " + json.dumps(said, ensure_ascii=False, separators=(",", ":")) + ";\n"

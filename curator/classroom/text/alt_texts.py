"""Alt texts: before the reveal without a number, and after it with all of them.

WCAG 2.2, success criterion 1.1.1, exception for tests: where a text would give the answer away it says at least what
the picture is.
"""

from __future__ import annotations

from itertools import pairwise

from curator.classroom.text.language import fill, languages, noun
from curator.classroom.text.questions import clean, gives_away, safe_noun, tells, text
from curator.facts import Arrangement
from curator.records import Prompt

__all__ = ["after", "arrangement", "before", "cover", "gives_away", "is_own", "rings", "secret", "tells"]


def before(prompt: Prompt, language: str = "en") -> str:
    """What the picture is; no number, no fact."""
    numbers = secret(prompt)
    named = safe_noun(language, prompt.thing, prompt.things, *numbers)
    place = clean(prompt.place)
    known = bool(place) and not tells(place, *numbers)
    pattern = text(language, "alt.before_place" if known else "alt.before")
    return fill(language, pattern, {}, named, layout=_layout(prompt, language), place=place)


def after(prompt: Prompt, language: str = "en") -> str:
    """The picture with its halves, its total and its fact."""
    named = noun(language, prompt.thing, prompt.things)
    one, other, left = prompt.count(1), prompt.count(2), prompt.count(0)
    if prompt.fact is not None:
        half, total = prompt.fact.half, prompt.fact.total
        pattern = text(language, "alt.two" if half == 1 else f"alt.{prompt.kind}")
        return fill(language, pattern, {"half": half, "total": total}, named, equation=f"{half} + {half} = {total}")
    if not prompt.dots:
        return f"{before(prompt, language)} {text(language, 'alt.no_dots')}"
    key = "no_plain" if not one and not other else "no_left" if left else "no_sides"
    return fill(
        language,
        text(language, f"alt.{key}"),
        {"sum": len(prompt.dots), "one": one, "other": other, "left": left},
        named,
    )


def part_shown(prompt: Prompt, language: str, shown: int, hidden: int) -> str:
    """The answer to a cover that is not half: how many showed, how many were hidden."""
    numbers = {"total": shown + hidden, "shown": shown, "hidden": hidden}
    named = noun(language, prompt.thing, prompt.things)
    equation = f"{shown + hidden} - {shown} = {hidden}"
    return fill(language, text(language, "alt.not_half"), numbers, named, equation=equation)


def cover(prompt: Prompt, language: str = "en", *hidden: int) -> str:
    """The covered picture; no number, nor those that are hidden."""
    named = safe_noun(language, prompt.thing, prompt.things, *secret(prompt), *hidden)
    return fill(language, text(language, "alt.cover"), {}, named)


def rings(prompt: Prompt, language: str = "en") -> str:
    """The picture with its halves ringed; no number."""
    return text(language, "alt.rings" if prompt.fact else "alt.rings_none")


def is_own(prompt: Prompt, which: str = "before") -> bool:
    """True where a person wrote the text: it is none that this program makes, in any language."""
    from curator.catalog.prompt import alts

    written = prompt.alt_before if which == "before" else prompt.alt_after
    made = {alts(prompt)[0 if which == "before" else 1]}
    made |= {before(prompt, code) if which == "before" else after(prompt, code) for code in languages()}
    return bool(written) and written not in made


def secret(prompt: Prompt) -> tuple[int, ...]:
    """The numbers that a text before the reveal must not name."""
    half = (prompt.fact.half,) if prompt.fact else (prompt.count(1), prompt.count(2))
    return (*half, prompt.total)


def _layout(prompt: Prompt, language: str) -> str:
    """How the things lie, where that is plain: in straight rows, in a line."""
    rows = _straight_rows(prompt)
    if not rows:
        return ""
    return text(language, "alt.rows" if rows > 1 else "alt.line")


def arrangement(prompt: Prompt) -> Arrangement | None:
    """ "rows" for two straight rows of one half each, "line" for a single one, None where neither is plain."""
    rows = _straight_rows(prompt)
    return "line" if rows == 1 else "rows" if rows == 2 else None


def _straight_rows(prompt: Prompt) -> int:
    """How many level rows of as many things each; 0 where they do not lie so."""
    dots = sorted((d for d in prompt.dots if d.side), key=lambda d: d.y)
    tall = max((d.h for d in dots), default=0.0)
    if len(dots) < 3 or tall <= 0:
        return 0
    rows = [[dots[0]]]
    for above, below in pairwise(dots):
        if below.y - above.y > 0.5 * tall:
            rows.append([])
        rows[-1].append(below)
    straight = all(max(d.y for d in row) - min(d.y for d in row) < 0.5 * tall for row in rows)
    same = len({len(row) for row in rows}) == 1 and len(rows[0]) > 1
    return len(rows) if straight and same else 0

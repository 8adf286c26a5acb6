"""What a class is asked and what a teacher listens for: questions, answers, frames and equations of one stage.

In n + n - n = n the answer equals the half that still shows, so naming what is seen passes as subtracting. A covered
picture therefore asks what is hidden and how one knows, in the same words whether or not the cover is half.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from curator.classroom.text.language import Noun, clean, counted, fill, languages, load, noun, number, section, text
from curator.errors import LessonError
from curator.numbers_in_text import tells
from curator.records import Fact, expect

__all__ = [
    "STAGES",
    "Answer",
    "LessonError",
    "Noun",
    "Questions",
    "clean",
    "counted",
    "gives_away",
    "label",
    "languages",
    "load",
    "noun",
    "number",
    "questions",
    "safe_noun",
    "section",
    "tells",
    "text",
    "typeset",
]

STAGES = ("see", "cover", "not_half", "near", "is_it")
WAIT_SECONDS = 3.0  # Rowe 1986: at least 3 s after a question and after an answer; gains appear from 2.7 s
SHOW_SECONDS = 2.0  # common practice in classrooms; 1 to 5, 0 stays on
LISTEN = {
    "see": ("something_else", "parts", "half_total", "odd", "pair", "equal"),
    "cover": ("half_total", "counts_in_ones", "odd"),
    "not_half": ("half_total", "counts_in_ones"),
    "near": ("something_else", "counts_in_ones"),
    "one_more": ("counts_in_ones", "odd"),
    "is_it": ("equal", "something_else", "odd"),
}


@dataclass(frozen=True, slots=True)
class Answer:
    """What a child may say, and what it shows."""

    says: str
    shows: str


@dataclass(frozen=True, slots=True)
class Questions:
    """All that one stage of one picture needs; `question` never holds the answer."""

    stage: str
    question: str
    answers: tuple[Answer, ...]  # the right one first
    listen: tuple[str, ...]
    follow_up: str
    frame: str  # with ___ blanks
    equation: str  # with its blank: "14 - 7 = ?"; "" where there is none
    more: tuple[str, ...]  # further ways to write it: "7 + ? = 14"
    solved: str  # "14 - 7 = 7"
    reveal: str
    family: tuple[str, ...] = ()  # the same three numbers, written the other ways
    family_note: str = ""  # what a teacher may hear instead of `solved`
    story: str = ""  # one line; "" where the things have no name
    other_side: str = ""  # asked when the cover lies on the other things
    partners: str = ""  # what to do before the answer to "is it a double?"; gives none away
    wait_s: float = WAIT_SECONDS
    show_s: float = SHOW_SECONDS  # 0: stays on
    numbers: dict[str, int] = field(default_factory=dict)


def questions(
    language: str,
    stage: str,
    fact: Fact | None,
    kind: str,
    thing: str = "",
    things: str = "",
    *,
    shown: int = 0,
    hidden: int = 0,
    sides: tuple[int, int] = (0, 0),
    left_over: int = 0,
    show_s: float = SHOW_SECONDS,
) -> Questions:
    """Everything to ask about one picture at one stage.

    cover and not_half take shown and hidden (half and half where not given). A picture without a fact takes the number
    on its two sides and what is left over, and has the stages near (one from a double) and is_it.
    """
    expect(stage in STAGES, "stage", " or ".join(STAGES), repr(stage))
    expect(fact is not None or stage in ("near", "is_it"), "stage", "near or is_it where there is no fact", stage)
    if fact is not None and stage in ("cover", "not_half") and not shown and not hidden:
        shown = hidden = fact.half
    if fact is None and stage == "near":
        near = abs(sides[0] - sides[1]) + left_over == 1 and min(sides) > 0
        expect(near, "sides and left over", "one from a double", f"{sides}, {left_over}")
    numbers = _numbers(fact, shown, hidden, sides, left_over)
    secret = [numbers[k] for k in ("half", "total", "shown", "hidden", "one", "other")]
    named = safe_noun(language, thing, things, *secret, sum(sides) + left_over)
    if stage in ("cover", "not_half"):
        expect(shown + hidden == numbers["total"], "shown + hidden", str(numbers["total"]), f"{shown} + {hidden}")
    form = "one_more" if stage == "near" and fact is not None else stage
    return _put_together(language, stage, form, kind, numbers, named, show_s)


def _numbers(fact: Fact | None, shown: int, hidden: int, sides: tuple[int, int], left_over: int) -> dict[str, int]:
    """Every number that a pattern may name."""
    half = fact.half if fact else min(sides)
    total = 2 * half
    every = total + 1 if fact else sum(sides) + left_over
    if fact is None and not any(sides) and left_over % 2:
        sides, left_over = (left_over // 2, left_over // 2), 1  # an odd number: partners, and one without
    return {
        "half": half,
        "total": total,
        "shown": shown,
        "hidden": hidden,
        "less": half - 1,
        "more": half + 1,
        "next": half + 1,
        "half_plus_two": half + 2,
        "sum": every,
        "half_of_sum": every // 2,
        "sum_plus_one": every + 1,
        "one": sides[0],
        "other": sides[1],
        "left": left_over,
        "is_fact": int(fact is not None),
    }


def _put_together(
    language: str, stage: str, form: str, kind: str, numbers: dict[str, int], named: Noun, show_s: float
) -> Questions:
    def say(key: str) -> str:
        return fill(language, text(language, key), numbers, named)

    two = numbers["is_fact"] and numbers["half"] == 1  # two boots have no groups, and mirror each other
    see = "see_two" if two else f"see_{kind}"
    follow = {"see": see, "is_it": "is_it_yes" if numbers["is_fact"] else "is_it"}.get(form, form)
    told = _verdict(numbers) if form == "is_it" else form
    equation, more, solved = _equations(language, form, numbers)
    hiding = form in ("cover", "not_half")
    return Questions(
        stage,
        say("questions.see_two" if form == "see" and two else f"questions.{form}"),
        tuple(
            Answer(say(f"answers.{form}.{a}.says"), say(f"answers.{form}.{a}.shows")) for a in _answers(form, numbers)
        ),
        tuple(say(f"listen.{k}") for k in LISTEN[form] if _fits(k, numbers)),
        say(f"follow_up.{follow}"),
        say(f"frame.{form}"),
        equation,
        more,
        solved,
        say("reveal.is_it_yes" if told == "match" else f"reveal.{told}"),
        tuple(_family(language, form, numbers)),
        _family_note(language, numbers, named) if form == "not_half" else "",
        _story(language, form, numbers, named),
        say("questions.other_side") if hiding else "",
        say("questions.partners") if form == "is_it" else "",
        show_s=show_s,
        numbers=numbers,
    )


def _family(language: str, form: str, numbers: dict[str, int]) -> Iterator[str]:
    """The other ways to write what was found; a child who takes the covered ones away writes the first of not_half."""
    half, total, shown, hidden, every = (numbers[k] for k in ("half", "total", "shown", "hidden", "sum"))
    if form == "not_half":
        yield from (f"{total} - {hidden} = {shown}", f"{shown} + {hidden} = {total}", f"{hidden} + {shown} = {total}")
    elif form in ("near", "one_more"):
        yield from (f"{half} + {half} = {total}", f"{total} + 1 = {every}")
    elif form != "is_it" or numbers["is_fact"]:
        yield f"{half} + {half} = {total}" if form == "cover" else f"{total} - {half} = {half}"
        yield fill(language, text(language, "half_of_solved"), numbers, Noun("", "", ""))


def _family_note(language: str, numbers: dict[str, int], named: Noun) -> str:
    equation = f"{numbers['total']} - {numbers['hidden']} = {numbers['shown']}"
    return fill(language, text(language, "note.family"), numbers, named, equation=typeset(equation))


def _story(language: str, form: str, numbers: dict[str, int], named: Noun) -> str:
    """One line of a story that the picture can stand for; none of things without a name, or without a double."""
    key = {"is_it": "see", "not_half": "cover"}.get(form, form)
    if named == noun(language) or (form == "is_it" and not numbers["is_fact"]):
        return ""
    return fill(language, text(language, f"story.{key}"), numbers, named)


def why(asked: Questions, language: str, named: Noun) -> tuple[str, str]:
    """Why this number suits a double, and what to hear: the total of a double is even."""
    return tuple(fill(language, text(language, key), asked.numbers, named) for key in ("questions.why", "note.why"))  # type: ignore[return-value]


def _verdict(numbers: dict[str, int]) -> str:
    if numbers["is_fact"]:
        return "match"
    if not numbers["one"] and not numbers["other"]:
        return "no_plain"
    if numbers["left"]:
        return "no_left"
    return "no_sides" if numbers["one"] != numbers["other"] else "no_plain"


def _answers(form: str, numbers: dict[str, int]) -> Iterator[str]:
    """The answers worth waiting for, the right one first; those that make no sense for this number left out."""
    if form == "is_it":
        yield _verdict(numbers)
        if not numbers["is_fact"] and numbers["sum"] % 2 == 0:
            yield "can_make"
        yield "by_looks"
        return
    every = {
        "see": ("right", "counted", "other_split", "half", "plus_two"),
        "cover": ("right", "fill_up", "named_seen", "counted", "total"),
        "not_half": ("right", "from_double", "half", "named_seen", "total"),
        "near": ("right", "above", "counted", "double"),
        "one_more": ("right", "counted", "twice", "double"),
    }[form]
    small, half = numbers["total"] <= 4, numbers["half"]
    dropped = {"counted"} if small else set()
    dropped |= {"other_split"} if half < 2 else set()
    dropped |= {"plus_two"} if half == 2 else set()
    yield from (a for a in every if a not in dropped)


def _fits(listen: str, numbers: dict[str, int]) -> bool:
    half = numbers["half"]
    if listen == "odd":
        return half % 2 == 1 and half > 1
    return half == 1 if listen == "pair" else True


def _equations(language: str, form: str, numbers: dict[str, int]) -> tuple[str, tuple[str, ...], str]:
    """The equation with its blank, further ways to write it, and the solved one."""
    half, total, shown, hidden = (numbers[k] for k in ("half", "total", "shown", "hidden"))
    if form == "see" or (form == "is_it" and numbers["is_fact"]):
        return f"{half} + {half} = ?", (f"? + ? = {total}",), f"{half} + {half} = {total}"
    if form in ("cover", "not_half"):
        more = [f"{shown} + ? = {total}"]
        if shown == hidden:
            more.append(text(language, "half_of").replace("{total_digits}", str(total)))
        return f"{total} - {shown} = ?", tuple(more), f"{total} - {shown} = {hidden}"
    if form in ("near", "one_more"):
        return f"{half} + {half + 1} = ?", (f"{half} + {half} + 1 = ?",), f"{half} + {half + 1} = {numbers['sum']}"
    parts = [str(n) for n in (numbers["one"], numbers["other"], numbers["left"]) if n]
    if len(parts) < 2:
        return "", (), ""
    return f"{' + '.join(parts)} = ?", (), f"{' + '.join(parts)} = {numbers['sum']}"


def label(language: str, key: str, **strings: str) -> str:
    """A word on a screen, card or page."""
    return fill(language, text(language, f"label.{key}"), {}, Noun("", "", ""), **strings)


def typeset(equation: str) -> str:
    """With a true minus sign and blanks that do not break."""
    return equation.replace(" - ", " − ").replace(" ", "\u00a0")


def safe_noun(language: str, thing: str, things: str, *given: int) -> Noun:
    """The thing's name; the plain word where the teacher's own gives one of the numbers away ("six-pack")."""
    found = noun(language, thing, things)
    return noun(language) if tells(f"{found.one} {found.many}", *given) else found


def gives_away(words: str, fact: Fact | None, language: str | None = None) -> bool:
    """True where a text names the half or the total: digits, number words, dozen, pair; in any language."""
    return fact is not None and tells(words, fact.half, fact.total, language=language)

"""The scenes of a lesson: each picture with its questions, alt texts, rights and standards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from curator import facts
from curator.classroom import groups
from curator.classroom.plan import Plan, Step
from curator.classroom.scene import COVERS, Scene
from curator.classroom.text import alt_texts
from curator.classroom.text.language import Noun, fill, load, text
from curator.classroom.text.questions import Questions, label, questions, safe_noun, why
from curator.classroom.views import Views
from curator.records import Fact, Prompt, PromptKind

STORIES = ("1.OA.A.1", "2.OA.A.1")  # claimed where a story is told, and only there
SEEN = {"see", "is_it"}  # stages at which all of a picture shows
PARTS = ("1.OA.B.4",)  # claimed where something is covered


def make_scene(
    plan: Plan, number: int, step: Step, prompt: Prompt | None, views: Views, looked: tuple[str, ...]
) -> Scene:
    """One picture of the plan with all that is asked about it."""
    language, step = plan.language, _without_unclean(step, views)
    fact = prompt.fact if prompt else Fact(step.frame)
    kind: PromptKind = prompt.kind if prompt else "slide"
    thing, things = _names(language, step, prompt)
    secret = (fact.half, fact.total) if fact else (prompt.total,) if prompt else ()
    noun = safe_noun(language, thing, things, *secret)
    credit, license_name, url = _rights(language, prompt)
    seconds = _seconds(plan, prompt, fact)
    stages = step.stages if SEEN & set(step.stages) else (*step.stages, *(("see",) if fact else ()))  # if covers fail
    asked = {stage: _ask(plan, stage, step, prompt, fact, kind, thing, things, seconds) for stage in stages}
    return Scene(
        number=number,
        day=step.day,
        prompt=prompt,
        fact=fact,
        kind=kind,
        noun=noun,
        stages=step.stages,
        asked=asked,
        side=step.side,
        hide=step.hide,
        views=views,
        alts=_alts(language, step, prompt, fact, noun),
        credit=credit,
        license=license_name,
        license_url=url,
        standards=tuple(_standards(prompt, fact, asked)),
        seconds=seconds,
        look_again=looked,
    )


def _without_unclean(step: Step, views: Views) -> Step:
    """The step without the covers that cannot be clean; where nothing is left to ask, the picture is seen once more."""
    stages = tuple(s for s in step.stages if COVERS.get(s) not in views.unclean) or ("see",)
    return replace(step, stages=stages, hide=step.hide if "not_half" in stages else 0)


def once_a_day(language: str, scenes: Sequence[Scene]) -> Iterator[Scene]:
    """The scenes, one double of each day with the question why its number suits: another number each day, if it can."""
    chosen: dict[int, int] = {}
    asked: set[Fact] = set()
    for day in sorted({scene.day for scene in scenes}):
        doubles = [(s.fact, s) for s in scenes if s.day == day and s.fact and s.fact.half > 1]
        if doubles:
            fact, scene = min(doubles, key=lambda fs: (fs[0] in asked, not SEEN & set(fs[1].stages), fs[1].number))
            chosen[day] = scene.number
            asked.add(fact)
    for scene in scenes:
        if chosen.get(scene.day) == scene.number:
            yield replace(scene, why=why(scene.asked[scene.stages[0]], language, scene.noun))
        else:
            yield scene


def _names(language: str, step: Step, prompt: Prompt | None) -> tuple[str, str]:
    if prompt:
        return prompt.thing, prompt.things
    counter = load(language)["nouns"]["counter"]
    return step.thing or str(counter["one"]), step.things or ("" if step.thing else str(counter["many"]))


def _seconds(plan: Plan, prompt: Prompt | None, fact: Fact | None) -> float:
    """By how many there are and whether they lie in groups; a ten frame has fives."""
    if prompt is None:
        return groups.seconds(plan.show_seconds, fact.total if fact else 0, seen_as_groups=True)
    return groups.seconds(plan.show_seconds, prompt.total, seen_as_groups=groups.in_groups(prompt))


def _ask(
    plan: Plan,
    stage: str,
    step: Step,
    prompt: Prompt | None,
    fact: Fact | None,
    kind: str,
    thing: str,
    things: str,
    seconds: float,
) -> Questions:
    hidden = {"cover": fact.half if fact else 0, "not_half": step.hide}.get(stage, 0)
    shown = fact.total - hidden if fact and hidden else 0
    sides = (prompt.count(1), prompt.count(2)) if prompt else (0, 0)
    left = prompt.count(0) if prompt and fact is None else 0
    return questions(
        plan.language,
        stage,
        fact,
        kind,
        thing,
        things,
        shown=shown,
        hidden=hidden,
        sides=sides if fact is None else (0, 0),
        left_over=left,
        show_s=seconds,
    )


def _alts(language: str, step: Step, prompt: Prompt | None, fact: Fact | None, noun: Noun) -> dict[str, str]:
    """The alt text of each view."""
    if prompt:
        before, after = _own_alts(prompt, language)
        rings, cover = alt_texts.rings(prompt, language), alt_texts.cover(prompt, language, step.hide)
    else:
        assert fact is not None
        before, rings, cover, after = _frame_alts(language, fact, noun)
    found = {"plain": before, "rings": rings, "cover": cover, "after": after}
    found |= {name: fill(language, text(language, f"alt.{name}"), {}, noun) for name in ("hidden", "pairs", "one_more")}
    if step.hide and fact:
        shown = fact.total - step.hide
        equation = f"{fact.total} - {shown} = {step.hide}"
        found["not_half_after"] = (
            alt_texts.part_shown(prompt, language, shown, step.hide)
            if prompt
            else fill(language, text(language, "alt.frame"), {}, noun, equation=equation)
        )
    return found


def _own_alts(prompt: Prompt, language: str) -> tuple[str, str]:
    """A teacher's own texts where there are any; a before text that names a number is not used."""
    own = alt_texts.is_own(prompt, "before") and not alt_texts.tells(prompt.alt_before, *alt_texts.secret(prompt))
    before = prompt.alt_before if own else alt_texts.before(prompt, language)
    after = prompt.alt_after if alt_texts.is_own(prompt, "after") else alt_texts.after(prompt, language)
    return before, after


def _frame_alts(language: str, fact: Fact, noun: Noun) -> tuple[str, str, str, str]:
    numbers = {"half": fact.half, "total": fact.total}
    equation = f"{fact.half} + {fact.half} = {fact.total}"
    after = fill(language, text(language, "alt.twin"), numbers, noun, equation=equation)
    cover = fill(language, text(language, "alt.cover"), {}, noun)
    return text(language, "alt.before_twin"), text(language, "alt.rings"), cover, after


def _standards(prompt: Prompt | None, fact: Fact | None, asked: dict[str, Questions]) -> Iterator[facts.Standard]:
    """What this picture may claim by what is asked of it: story codes with a story, missing addends with a cover."""
    if fact is None:
        return
    story = any(one.story for one in asked.values())
    covered = bool({"cover", "not_half"} & set(asked))
    kind, lying = (prompt.kind, alt_texts.arrangement(prompt)) if prompt else ("slide", "rows")
    for one in facts.standards(fact.half, kind, lying):
        if (story or one.code not in STORIES) and (covered or one.code not in PARTS):
            yield one


def _rights(language: str, prompt: Prompt | None) -> tuple[str, str, str]:
    """Credit, the licence's name and its address."""
    from curator.catalog.prompt import LICENSES

    if prompt is None:
        return label(language, "drawn"), "", ""
    known = LICENSES.get(prompt.license)
    name = known.name if known else prompt.license or label(language, "no_license")
    return prompt.credit or label(language, "no_credit"), name, known.url if known else ""

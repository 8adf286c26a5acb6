"""From a plan to a lesson: its pictures made once, everything asked about each, and the file that is wanted."""

from __future__ import annotations

import os
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from curator import facts
from curator.classroom.photo_checks import Room, look_again
from curator.classroom.plan import Plan, Step, is_near, plan
from curator.classroom.plan_yaml import from_yaml, to_yaml
from curator.classroom.scene import NOTICES, Lesson, Scene
from curator.classroom.text import alt_texts
from curator.classroom.text.language import Noun, fill, load, text
from curator.classroom.text.questions import Questions, label, questions, safe_noun
from curator.classroom.views import Views, frame_views, photo_views
from curator.errors import CatalogError, LessonError
from curator.records import Fact, Prompt, PromptKind

__all__ = [
    "LONGER",
    "NOTICES",
    "SUFFIXES",
    "Lesson",
    "Plan",
    "Room",
    "Scene",
    "Step",
    "check_target",
    "from_yaml",
    "lesson",
    "plan",
    "read_plan",
    "to_yaml",
    "write",
]

LONGER = 1920  # pixels of a picture's longer side: the width of a full-HD screen
SUFFIXES = (".pptx", ".html", ".pdf", ".zip", ".yaml", ".yml")


def lesson(folder: Path, plan: Plan, *, longer: int = LONGER, dots: bool = False, room: Room | None = None) -> Lesson:
    """Make the pictures of a plan, with `dots` also a mark on each thing; for a `room` measure whether photos serve
    there.

    LessonError names a prompt that is gone or a picture that cannot be read.
    """
    load(plan.language)
    prompts = [_prompt(folder, step) for step in plan.steps]
    _check_stages(plan, prompts)
    with ThreadPoolExecutor(max_workers=2) as pool:
        views = list(pool.map(lambda step, prompt: _views(folder, step, prompt, longer, dots), plan.steps, prompts))
        looked = list(pool.map(lambda prompt: _looked(folder, prompt, plan.language, room), prompts))
    parts = zip(plan.steps, prompts, views, looked, strict=True)
    scenes = tuple(_scene(plan, n, *part) for n, part in enumerate(parts, 1))
    remarks = tuple(dict.fromkeys((*plan.remarks, *_license_remarks(plan.language, prompts))))
    return Lesson(plan, scenes, label(plan.language, "title"), remarks)


def read_plan(path: Path) -> Plan:
    """The plan in a file."""
    try:
        words = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise LessonError(
            f"Reading the plan {path.name}.", "The file cannot be read.", "Check its name and folder."
        ) from error
    return from_yaml(words, path.name)


def _prompt(folder: Path, step: Step) -> Prompt | None:
    from curator.catalog.store import folder as catalog

    if not step.slug:
        return None
    try:
        found = catalog.load(folder, step.slug)
    except CatalogError as error:
        if error.wrong and (folder / f"{step.slug}.yaml").exists():
            raise LessonError(
                "Making the lesson.",
                f"The prompt {step.slug} cannot be read: {error.wrong}",
                "Check the catalog, or take the step out.",
            ) from error
        raise LessonError(
            "Making the lesson.",
            f'The plan names "{step.slug}", which is not in the catalog.',
            "Take that step out of the plan, or add the picture again.",
        ) from error
    return replace(found, thing=step.thing or found.thing, things=step.things or ("" if step.thing else found.things))


def _check_stages(plan: Plan, prompts: list[Prompt | None]) -> None:
    """Each stage must make sense for its picture."""
    for step, prompt in zip(plan.steps, prompts, strict=True):
        half = step.frame or (prompt.fact.half if prompt and prompt.fact else 0)
        name = step.slug or f"the ten frame of {Fact(half)}"
        for stage in step.stages:
            wrong = ""
            if not half and stage in ("see", "cover", "not_half"):
                wrong = f'{name} shows no double, so "{stage}" cannot be asked.'
            elif prompt and not half and stage == "near" and not is_near(prompt):
                wrong = f'{name} is not one away from a double, so "near" cannot be asked.'
            elif stage == "not_half" and not 0 < step.hide < 2 * half:
                wrong = f"{name} cannot have {step.hide} things covered."
            elif stage == "not_half" and step.hide == half:
                wrong = f"{step.hide} is half of {name}."
            if wrong:
                raise LessonError(
                    "Reading the plan of the lesson.", wrong, "Change the stages of that step, or how many it hides."
                )


def _views(folder: Path, step: Step, prompt: Prompt | None, longer: int, dots: bool) -> Views:
    if prompt is None:
        return frame_views(Fact(step.frame), step.stages, step.side, step.hide, longer)
    stages = (*step.stages, "dots") if dots else step.stages
    return photo_views(folder, prompt, stages, step.side, step.hide, longer)


def _looked(folder: Path, prompt: Prompt | None, language: str, room: Room | None) -> tuple[str, ...]:
    if prompt is None or room is None:
        return ()
    return tuple(note.say(language) for note in look_again(folder, prompt, room))


def _scene(plan: Plan, number: int, step: Step, prompt: Prompt | None, views: Views, looked: tuple[str, ...]) -> Scene:
    language = plan.language
    fact = prompt.fact if prompt else Fact(step.frame)
    kind: PromptKind = prompt.kind if prompt else "slide"
    counter = load(language)["nouns"]["counter"]
    thing, things = (
        (prompt.thing, prompt.things)
        if prompt
        else (step.thing or str(counter["one"]), step.things or ("" if step.thing else str(counter["many"])))
    )
    secret = (fact.half, fact.total) if fact else (prompt.total,) if prompt else ()
    noun = safe_noun(language, thing, things, *secret)
    credit, license_name, url = _rights(language, prompt)
    asked = {stage: _ask(plan, stage, step, prompt, fact, kind, thing, things) for stage in step.stages}
    if prompt:
        before, after = _alts(prompt, language)
        rings, cover = alt_texts.rings(prompt, language), alt_texts.cover(prompt, language, step.hide)
    else:
        assert fact is not None
        before, rings, cover, after = _frame_alts(language, fact, noun)
    return Scene(
        number,
        step.day,
        prompt,
        fact,
        kind,
        noun,
        step.stages,
        asked,
        step.side,
        step.hide,
        views,
        before,
        rings,
        cover,
        after,
        credit,
        license_name,
        url,
        _standards(prompt, fact),
        looked,
    )


def _ask(
    plan: Plan, stage: str, step: Step, prompt: Prompt | None, fact: Fact | None, kind: str, thing: str, things: str
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
        show_s=plan.show_seconds,
    )


def _alts(prompt: Prompt, language: str) -> tuple[str, str]:
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


def _standards(prompt: Prompt | None, fact: Fact | None) -> tuple[facts.Standard, ...]:
    if fact is None:
        return ()
    if prompt is None:
        return facts.standards(fact.half, "slide", "rows")
    return facts.standards(fact.half, prompt.kind, alt_texts.arrangement(prompt))


def _rights(language: str, prompt: Prompt | None) -> tuple[str, str, str]:
    """Credit, the licence's name and its address."""
    from curator.catalog.prompt import LICENSES

    if prompt is None:
        return label(language, "drawn"), "", ""
    known = LICENSES.get(prompt.license)
    name = known.name if known else prompt.license or label(language, "no_license")
    return prompt.credit or label(language, "no_credit"), name, known.url if known else ""


def _license_remarks(language: str, prompts: list[Prompt | None]) -> list[str]:
    from curator.catalog.prompt import LICENSES

    found = []
    for prompt in prompts:
        known = LICENSES.get(prompt.license) if prompt else None
        if prompt and known and not (known.share and known.change):
            key = "no_marks" if known.share else "not_shared"
            found.append(fill(language, text(language, f"remark.{key}"), {}, Noun("", "", ""), title=prompt.title))
    return found


def write(lesson: Lesson, path: Path, *, paper: str = "a4") -> Path:
    """The lesson as the file its suffix names: .pptx .html .pdf .zip .yaml. Whole or not at all."""
    check_target(path)
    doing, suffix = f"Writing {path.name}.", path.suffix.lower()
    unfinished: Path | None = None
    try:
        handle, name = tempfile.mkstemp(prefix=".unfinished-", suffix=suffix, dir=path.parent)
        os.close(handle)
        unfinished = Path(name)
        _write_as(lesson, unfinished, suffix, paper)
        os.chmod(unfinished, 0o644)
        os.replace(unfinished, path)
    except OSError as error:
        raise LessonError(
            doing,
            f"It cannot be written there ({error.strerror or error}).",
            "Choose a folder that you may write to, with room on it.",
        ) from error
    finally:
        if unfinished is not None:
            unfinished.unlink(missing_ok=True)
    return path


def check_target(path: Path) -> None:
    """LessonError for a name that no lesson can have, or a folder that is not there."""
    doing, suffix = f"Writing {path.name}.", path.suffix.lower()
    if suffix not in SUFFIXES:
        wrong = f'"{suffix or path.name}" is no kind of lesson.'
        raise LessonError(doing, wrong, "End the name in .pptx, .html, .pdf, .zip or .yaml.")
    if not path.parent.is_dir():
        raise LessonError(doing, f"There is no folder {path.parent}.", "Make the folder first, or choose another.")
    if path.is_dir():
        raise LessonError(doing, "It is a folder.", "Choose another name for the lesson.")
    if not os.access(path.parent, os.W_OK):
        raise LessonError(
            doing, f"The folder {path.parent} cannot be written to.", "Choose a folder that you may write to."
        )


def _write_as(lesson: Lesson, path: Path, suffix: str, paper: str) -> None:
    if suffix in (".yaml", ".yml"):
        path.write_text(to_yaml(lesson.plan), encoding="utf-8")
        return
    # here, for each brings a heavy library with it
    if suffix == ".pptx":
        from curator.classroom.writers import slides

        slides.write(lesson, path)
    elif suffix == ".html":
        from curator.classroom.writers import page

        page.write(lesson, path)
    elif suffix == ".zip":
        from curator.classroom.writers import imageset

        imageset.write(lesson, path)
    else:
        from curator.classroom.writers import cards

        cards.write(lesson, path, paper=paper)

"""From a plan to a lesson: its pictures made once, everything asked about each, and the file that is wanted."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from pathlib import Path

from curator import systems
from curator.catalog.prompt import storable
from curator.classroom.choosing import long_days, remark
from curator.classroom.groups import is_near
from curator.classroom.make_scenes import make_scene, once_a_day
from curator.classroom.photo_checks import Room, look_again
from curator.classroom.pictures import whole
from curator.classroom.plan import Plan, Step
from curator.classroom.plan_yaml import from_yaml, to_yaml
from curator.classroom.planner import plan
from curator.classroom.scene import COVERS, NOTICES, Lesson, Scene
from curator.classroom.text.language import Noun, fill, load, text
from curator.classroom.text.questions import label
from curator.classroom.text.titles import titled
from curator.classroom.views import Views, frame_views, photo_views
from curator.errors import CatalogError, LessonError
from curator.records import Fact, Prompt

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
    "layered",
    "lesson",
    "plan",
    "read_plan",
    "to_yaml",
    "write",
]

LONGER = 1920  # pixels of a picture's longer side: the width of a full-HD screen
PLANS = (".yaml", ".yml")
SUFFIXES = (".pptx", ".html", ".pdf", ".zip", *PLANS)
ON_SLIDES = frozenset({"cover", "other_cover", "some", "other_some", "dots"})
_LAYERED = {".pptx": ON_SLIDES, ".html": ON_SLIDES | {"rings", "hidden", "pairs"}}


def lesson(
    folder: Path,
    plan: Plan,
    *,
    longer: int = LONGER,
    dots: bool = False,
    room: Room | None = None,
    layers: Collection[str] = (),
    made: Callable[[Step, Prompt | None], tuple[Views, tuple[str, ...]]] | None = None,
) -> Lesson:
    """Make the pictures of a plan, with `dots` also a mark on each thing; for a `room` measure whether photos serve
    there. `layers`: the views of which layers over the plain picture serve (`layered`); they are not made whole.

    `made` gives a scene's views and what was measured where somebody else has made them.
    LessonError names a prompt that is gone or a picture that cannot be read.
    """
    load(plan.language)
    prompts = [_prompt(folder, step) for step in plan.steps]
    _check_stages(plan, prompts)
    if made:
        seen = [made(step, prompt) for step, prompt in zip(plan.steps, prompts, strict=True)]
    else:
        seen = _all_seen(folder, plan, prompts, longer, (*layers,), dots=dots, room=room)
    parts = zip(plan.steps, prompts, seen, strict=True)
    scenes = [make_scene(plan, n, step, prompt, *found) for n, (step, prompt, found) in enumerate(parts, 1)]
    rights = (*_license_remarks(plan.language, prompts), *_face_remarks(folder, plan.language, prompts))
    remarks = dict.fromkeys((*plan.remarks, *long_days(plan), *_cover_remarks(plan.language, scenes), *rights))
    return Lesson(
        plan, tuple(once_a_day(plan.language, scenes)), plan.name or label(plan.language, "title"), tuple(remarks)
    )


def layered(*suffixes: str) -> frozenset[str]:
    """The views that files of all these kinds show as layers, never whole."""
    kinds = [_LAYERED.get(one.lower(), frozenset()) for one in suffixes if one.lower() not in PLANS]
    return frozenset.intersection(*kinds) if kinds else frozenset()


def _all_seen(
    folder: Path,
    plan: Plan,
    prompts: Sequence[Prompt | None],
    longer: int,
    layers: Sequence[str],
    *,
    dots: bool,
    room: Room | None,
) -> list[tuple[Views, tuple[str, ...]]]:
    """The views of each step, and what was measured for the room; a photo that comes back is opened once."""
    steps, more = plan.steps, ("dots",) if dots else ()

    def of(prompt: Prompt) -> dict[int, tuple[Views, tuple[str, ...]]]:
        here = [n for n, step in enumerate(steps) if step.slug == prompt.slug]
        wanted = [((*steps[n].stages, *more), steps[n].side, steps[n].hide) for n in here]
        read = whole(folder, prompt, "Making the lesson.") if room else None
        notes = look_again(folder, prompt, room, read.pixels) if read else []
        said = tuple(note.say(plan.language) for note in notes)
        views = photo_views(folder, prompt, wanted, longer, layers=layers, read=read)
        return {n: (one, said) for n, one in zip(here, views, strict=True)}

    once = {prompt.slug: prompt for prompt in prompts if prompt}
    with ThreadPoolExecutor(max_workers=2) as pool:
        photos = {n: seen for found in pool.map(of, once.values()) for n, seen in found.items()}
    return [
        photos[n] if n in photos else (frame_views(Fact(step.frame), step.stages, step.side, step.hide, longer), ())
        for n, step in enumerate(steps)
    ]


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
    said = replace(found, thing=step.thing or found.thing, things=step.things or ("" if step.thing else found.things))
    texts = {field.name: getattr(said, field.name) for field in fields(said)}
    return replace(said, **{name: storable(text) for name, text in texts.items() if isinstance(text, str)})  # type: ignore[arg-type]


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


def _face_remarks(folder: Path, language: str, prompts: list[Prompt | None]) -> list[str]:
    from curator.catalog import face_gate

    def faces(prompt: Prompt | None) -> int:
        return face_gate.open_in(folder, prompt) if prompt else 0

    if len(prompts) == 1:  # a site asks for two thousand lessons of one picture
        seen = [faces(prompts[0])]
    else:
        with ThreadPoolExecutor(max_workers=2) as pool:
            seen = list(pool.map(faces, prompts))
    bare = Noun("", "", "")
    return [
        fill(language, text(language, "remark.faces"), {}, bare, title=titled(language, prompt))
        for prompt, found in zip(prompts, seen, strict=True)
        if prompt and found
    ]


def _cover_remarks(language: str, scenes: Sequence[Scene]) -> list[str]:
    """Scenes that are shown without a cover that was planned, for it would not hide just those it should."""
    return [
        remark(language, "unclean", title=titled(language, scene.prompt), day=str(scene.day))
        for scene in scenes
        if scene.prompt and set(COVERS.values()) & set(scene.views.unclean)
    ]


def _license_remarks(language: str, prompts: list[Prompt | None]) -> list[str]:
    from curator.catalog.prompt import LICENSES

    found = []
    for prompt in prompts:
        known = LICENSES.get(prompt.license) if prompt else None
        if prompt and known and not (known.share and known.change):
            key = "no_marks" if known.share else "not_shared"
            found.append(
                fill(language, text(language, f"remark.{key}"), {}, Noun("", "", ""), title=titled(language, prompt))
            )
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
        systems.replace(unfinished, path)
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
    if suffix in PLANS:
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

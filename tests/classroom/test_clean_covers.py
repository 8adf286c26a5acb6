"""A cover that would show what it hides, or hide what it should not, is left out of every kind of lesson, and said."""

from __future__ import annotations

import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import drawn_catalog as drawn
import numpy as np
import pytest
from pptx import Presentation
from pypdf import PdfReader

from curator.classroom import lesson as lessons
from curator.classroom import pictures
from curator.classroom.marking import covers, overlays
from curator.classroom.marking.outlines import SOFT, outlines
from curator.classroom.plan import Plan, Step
from curator.classroom.views import photo_views
from curator.classroom.writers.page_steps import steps_of
from curator.records import Dot, Fact, Prompt

STAGES = ("see", "cover", "not_half")


@pytest.fixture(scope="module")
def catalog(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return drawn.build(tmp_path_factory.mktemp("clean") / "catalog")


def with_covers(catalog: Path, unclean: tuple[str, ...]) -> lessons.Lesson:
    """A lesson of one photo; the covers of those views cannot be clean."""
    plan = Plan("en", (Step(1, "eggs-3", stages=STAGES, hide=2),))
    real = lessons.lesson(catalog, plan, longer=320).scenes[0].views
    without: dict[str, Any] = dict.fromkeys(unclean, b"")
    if "some" in unclean:
        without |= {"other_some": b"", "hidden": b""}
    layers = {name: layer for name, layer in real.overlays.items() if name not in without}
    flaps = {name: flap for name, flap in real.flaps.items() if name not in without}
    views = replace(real, **without, overlays=layers, flaps=flaps, unclean=unclean)
    return lessons.lesson(catalog, plan, made=lambda *_: (views, ()))


@pytest.mark.parametrize(
    ("unclean", "left"),
    [
        ((), STAGES),
        (("cover", "other_cover"), ("see", "not_half")),
        (("some",), ("see", "cover")),
        (("cover", "other_cover", "some"), ("see",)),
        (("other_cover",), STAGES),
    ],
)
def test_every_writer_leaves_it_out_and_the_plan_says_so(
    catalog: Path, tmp_path: Path, unclean: tuple[str, ...], left: tuple[str, ...]
) -> None:
    made = with_covers(catalog, unclean)
    (scene,) = made.scenes
    assert scene.stages == left
    covered = [stage for stage in left if stage != "see"]
    assert any("would not hide just those" in r for r in made.remarks) == (len(covered) < 2)
    deck = Presentation(str(lessons.write(made, tmp_path / "a.pptx")))
    lying = [shape.name for slide in deck.slides for shape in slide.shapes].count("cover")
    assert lying == 2 * len(covered) - ("other_cover" in unclean and "cover" in left)
    steps = steps_of(made)
    asked = [step for step in steps if step["cover"]]
    assert [step["needs"] for step in asked] == [{"cover": "cover", "not_half": "some"}[stage] for stage in covered]
    assert all(bool(step["other"]) == (step["needs"] != "cover" or "other_cover" not in unclean) for step in asked)
    with zipfile.ZipFile(lessons.write(made, tmp_path / "a.zip")) as file:
        shown = [name for name in file.namelist() if name.endswith(".png")]
    assert len(shown) == sum(bool(scene.view(name)) for name in ("plain", "rings", "cover", "other_cover", "some",
                                                                 "other_some", "hidden"))  # fmt: skip
    words = "".join(page.extract_text() for page in PdfReader(str(lessons.write(made, tmp_path / "a.pdf"))).pages)
    assert ("under the cover" in words) == bool(covered)


def test_a_picture_of_which_only_a_cover_was_planned_is_seen_once_more(catalog: Path) -> None:
    plan = Plan("en", (Step(1, "eggs-3", stages=("not_half",), hide=2),))
    views = replace(with_covers(catalog, ("some",)).scenes[0].views)
    (scene,) = lessons.lesson(catalog, plan, made=lambda *_: (views, ())).scenes
    assert scene.stages == ("see",)
    assert scene.seconds > 0


def test_the_other_half_is_covered_first_where_only_that_is_clean(
    catalog: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from curator.catalog.store.folder import load

    prompt, real = load(catalog, "eggs-3"), overlays.half_cover

    def half_cover(*there: Any, **more: Any) -> covers.Cover:
        card = real(*there, **more)
        return replace(card, clean=False, note="shows") if there[3] == 1 else card

    monkeypatch.setattr(overlays, "half_cover", half_cover)
    (views,) = photo_views(catalog, prompt, [(("cover",), 1, 0)], 320)
    monkeypatch.undo()
    (straight,) = photo_views(catalog, prompt, [(("cover",), 2, 0)], 320)
    assert views.unclean == ("other_cover",)
    assert views.cover == straight.cover
    assert views.other_cover == b""
    assert "other_cover" not in views.overlays


# ---- the pixels


def sticks(apart: int) -> tuple[np.ndarray[Any, np.dtype[np.uint8]], Prompt]:
    """Two sticks: crossed where they are not apart, else side by side."""
    photo = np.full((360, 480, 3), 215, np.uint8)
    ends = (((150, 60), (330, 300)), ((330, 60), (150, 300))) if not apart else (
        ((240 - apart, 60), (240 - apart, 300)), ((240 + apart, 60), (240 + apart, 300)))  # fmt: skip
    for (one, other), color in zip(ends, ((120, 60, 30), (128, 66, 36)), strict=True):
        cv2.line(photo, one, other, color, 34, cv2.LINE_AA)
    places = ((0.47, 0.42), (0.53, 0.58)) if not apart else ((0.5 - apart / 480, 0.5), (0.5 + apart / 480, 0.5))
    wide, high = (0.45, 0.75) if not apart else (0.08, 0.75)
    dots = tuple(Dot(*place, side, wide, high) for side, place in enumerate(places, 1))
    return photo, Prompt("sticks", "Sticks", Fact(1), "slide", "sticks.jpg", dots)


def test_crossed_sticks_have_no_clean_cover_and_sticks_apart_have_two() -> None:
    for apart, clean in ((0, False), (80, True)):
        photo, prompt = sticks(apart)
        own = outlines(photo, prompt)
        assert [overlays.half_cover(photo, prompt, own, side).clean for side in (1, 2)] == [clean, clean]


def test_pictures_of_one_prompt_have_no_unclean_cover(tmp_path: Path) -> None:
    photo, prompt = sticks(0)
    cv2.imwrite(str(tmp_path / prompt.picture), photo[..., ::-1])
    assert pictures.covered(tmp_path, prompt) is None
    names = {one.name for one in pictures.every(tmp_path, prompt)}
    assert {"plain", "rings", "dots"} <= names
    assert not any(name.startswith("cover") for name in names)


def test_a_guess_is_marked_and_counts_for_its_thing_only_where_it_is_sure() -> None:
    """Far discs on a plain ground are no guess; what lies past a box that names only a part of them is one."""
    photo = np.full((240, 480, 3), 230, np.uint8)
    for x in (120, 360):
        cv2.circle(photo, (x, 120), 60, (40, 60, 150), -1, cv2.LINE_AA)
    dots = (Dot(0.25, 0.5, 1, 0.25, 0.5), Dot(0.75, 0.5, 2, 0.25, 0.5))
    prompt = Prompt("discs", "Discs", Fact(1), "slide", "discs.jpg", dots)
    own = outlines(photo, prompt)
    for n, x in ((1, 120), (2, 360)):
        disc = np.zeros(photo.shape[:2], np.uint8)
        cv2.circle(disc, (x, 120), 60, 1, -1)
        mine = np.isin(own, (n, n + SOFT))
        assert (mine & (disc > 0)).sum() / (mine | (disc > 0)).sum() > 0.75

"""Input that nobody thought of: plans, signs that XML refuses, names of devices, links, terminal escapes."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from pathlib import Path

import pytest
from bundles_made import drawn, shared
from typer.testing import CliRunner

from curator.catalog import bundle
from curator.catalog.prompt import clean, storable
from curator.catalog.store import folder
from curator.classroom import lesson as lessons
from curator.classroom.plan import Plan, Step
from curator.classroom.plan_yaml import from_yaml
from curator.cli import app
from curator.errors import CatalogError, LessonError

BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{chr(98 + n)}: &{chr(98 + n)} [{', '.join([f'*{chr(97 + n)}'] * 9)}]\n" for n in range(9)
)
PLANS = {
    "bomb": BOMB,
    "itself": "steps: &a [*a]\n",
    "hex": "format: 1\nsteps: [{day: 0x, frame: 7}]\n",
    "long hex": f"format: 1\nseed: 0x{'f' * 5000}\nsteps: [{{frame: 7}}]\n",
    "huge": "format: 1\nshow_seconds: 1e999\nsteps: [{frame: 7}]\n",
    "long number": f"format: 1\nshow_seconds: {'9' * 400}\nsteps: [{{frame: 7}}]\n",
    "no month": "format: 1\ndays: 2026-13-45\nsteps: [{frame: 7}]\n",
    "a time": "format: 1\ndays: 2026-01-01 25:61:61\nsteps: [{frame: 7}]\n",
    "empty int": "format: !!int ''\nsteps: [{frame: 7}]\n",
    "empty float": "format: 1\nshow_seconds: !!float ''\n",
    "a python": "!!python/object/apply:os.system [echo]\n",
    "a set": "!!set {a, b}\n",
    "key of a list": "? [a]\n: b\n",
    "no name": 'format: 1\nsteps: [{prompt: "\\0"}]\n',
    "far away": "format: 1\nsteps: [{prompt: ../../x}]\n",
    "long name": f"format: 1\nsteps: [{{prompt: {'a' * 5000}}}]\n",
    "binary": "format: !!binary aGk=\n",
    "deep": "[" * 2000,
}


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_that_lies_is_refused_at_once_in_our_words(name: str) -> None:
    start = time.monotonic()
    with pytest.raises(LessonError):
        from_yaml(PLANS[name], "x.yaml")
    assert time.monotonic() - start < 5


def test_signs_that_xml_refuses_stop_no_lesson(tmp_path: Path) -> None:
    odd = "Eggs \ufffe\uffff\x0b\ufdd0 \U0001f95a"
    assert clean(odd) == "Eggs \U0001f95a"
    assert storable("a\tb\n") == "a\tb\n"
    here = tmp_path / "c"
    folder.add(
        here, shared("eggs", title=odd, credit=odd, notes=odd, thing=odd, things=odd, alt_before=odd), drawn("eggs")
    )
    made = lessons.lesson(here, Plan("en", (Step(1, "eggs", stages=("see", "cover"), things=odd),)))
    for name in ("a.pptx", "a.html"):
        assert lessons.write(made, tmp_path / name).stat().st_size > 1000
    assert bundle.pack(here, "", tmp_path / "set.zip", notes=True, faces_ok=True).packed == ("eggs",)


@pytest.mark.parametrize("name", ["con", "nul", "com1"])
def test_a_name_that_windows_keeps_is_given_to_none_and_leaves_in_no_bundle(tmp_path: Path, name: str) -> None:
    assert folder.add(tmp_path / "a", shared(name), drawn(name)).slug == f"{name}-2"
    old = replace(shared(name), picture=f"{name}.jpg")  # of a catalog made before that
    folder.add(tmp_path / "b", shared("eggs"), drawn("eggs"))
    (tmp_path / "b" / f"{name}.jpg").write_bytes(drawn(name))
    from curator.catalog.yamls import to_yaml

    (tmp_path / "b" / f"{name}.yaml").write_text(to_yaml(old), encoding="utf-8")
    bundle.pack(tmp_path / "b", "", tmp_path / f"{name}.zip", faces_ok=True)
    got = bundle.receive(tmp_path / "c", tmp_path / f"{name}.zip", faces_ok=True)
    assert sorted(p.slug for p in got.added) == sorted(["eggs", f"{name}-picture"])


@pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="needs links")
def test_a_lock_that_is_a_link_is_not_followed(tmp_path: Path) -> None:
    folder.add(tmp_path / "c", shared("eggs"), drawn("eggs"))
    precious = tmp_path / "precious"
    precious.write_text("all of it")
    (tmp_path / "c" / ".lock").symlink_to(precious)
    with pytest.raises(CatalogError, match="link"):
        folder.remove(tmp_path / "c", "eggs")
    assert precious.read_text() == "all of it"
    assert folder.load(tmp_path / "c", "eggs").slug == "eggs"


def test_no_text_drives_the_terminal(tmp_path: Path) -> None:
    odd = "Eggs \x1b]0;title\x07 \x1b[2J \x9b31m \u202e"
    folder.add(tmp_path, shared("eggs", title=odd, place=odd, tags=(odd,)), drawn("eggs"))
    for options in (["find", "eggs"], ["show", "eggs"], ["find", "eggs", "--json"]):
        said = CliRunner().invoke(app, [*options, "-c", str(tmp_path)]).output
        assert "Eggs" in said
        assert not {"\x1b", "\x9b", "\x07", "\u202e"} & set(said), options

"""The site: what goes in and what stays out, nothing told early, written whole, quick to update."""

from __future__ import annotations

import html
import json
import os
import random
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from shutil import which

import cv2
import drawn_catalog as drawn
import numpy as np
import pytest
from typer.testing import CliRunner

from curator import parallel
from curator.catalog.store import folder as catalog
from curator.classroom.text.questions import tells
from curator.cli import app
from curator.errors import CuratorError
from curator.site import build as building
from curator.site import publish
from curator.site.build import build
from curator.site.prompt_files import Wish, key_of

SHARED = {"credit": "Room 4", "license": "CC-BY-4.0", "people": "none"}


def add(folder: Path, slug: str, n: int = 3, **more: object) -> None:
    rows = drawn.two_rows(n)
    drawn.add(folder, drawn.prompt(slug, rows, "slide", "egg", "eggs", **{**SHARED, **more}), rows)


@pytest.fixture(autouse=True)
def in_this_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process of its own takes longer to start than four prompts take."""
    monkeypatch.setattr(parallel, "FEW", 100)


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with three prompts that may be shared, a picture without a double, and the site of them."""
    here = tmp_path_factory.mktemp("once")
    folder = here / "catalog"
    for n in (2, 6, 7):
        add(
            folder,
            f"eggs-{n}",
            n,
            title=f"{n} eggs" if n == 6 else "Eggs, porch",
            notes="secretnote",
            checked_by="Somebody",
        )
    parts = drawn.parts(4, 6)
    drawn.add(folder, drawn.prompt("shells", parts, "none", "shell", "shells", **SHARED), parts)
    site(folder)
    return here


@pytest.fixture
def shelf(once: Path, tmp_path: Path) -> Path:
    """That catalog, in a folder without a site."""
    return Path(shutil.copytree(once / "catalog", tmp_path / "catalog"))


@pytest.fixture
def beside(once: Path, shelf: Path) -> Path:
    """The site of it, for a test of what comes after."""
    return Path(shutil.copytree(once / "site", shelf.parent / "site"))


def site(folder: Path, words: str = "", *, to: Path | None = None, **wish: object) -> building.Built:
    return build(folder, words, to or folder.parent / "site", Wish(**wish))  # type: ignore[arg-type]


def pages_of(made: building.Built) -> Iterator[tuple[Path, str]]:
    for path in sorted(made.path.rglob("*.html")):
        yield path, path.read_text(encoding="utf-8")


def test_every_link_and_picture_is_there_with_its_size(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parallel, "FEW", 3)  # this one on all cores
    made = site(shelf)
    assert set(made.shown) == {"eggs-2", "eggs-6", "eggs-7", "shells"}
    count = 0
    for path, text in pages_of(made):
        body = re.sub(r"<script.*?</script>", "", text, flags=re.S)
        for address in re.findall(r'(?:href|src)="([^"#]+)', body):
            if not address.startswith(("https://creativecommons.org/", "data:")):
                assert (path.parent / address).is_file(), (path, address)
                count += 1
        for tag in re.findall(r"<img [^>]*>", body):
            source = re.search(r'src="([^"]+)"', tag)
            if source:
                height, width = cv2.imread(str(path.parent / source[1])).shape[:2]
                assert f'width="{width}" height="{height}"' in tag
    assert count > 60
    board = (made.path / "index.html").read_text()
    assert "<p>14−7=7 · half of 14 is 7</p>" in (made.path / "facts/7.html").read_text(encoding="utf-8")
    assert '<a href="facts/7.html#slide" aria-label="1 of 7+7=14 by slide">1</a>' in board
    assert "1 picture without a double" in board
    credits = (made.path / "credits.html").read_text()
    assert credits.count("Room 4") == 4
    assert "https://creativecommons.org/licenses/by/4.0/" in credits


@pytest.mark.usefixtures("beside")
def test_nothing_from_another_host_and_nothing_private(shelf: Path) -> None:
    made = site(shelf)
    for path in made.path.rglob("*"):
        if path.suffix in (".html", ".js", ".css"):
            text = path.read_text(encoding="utf-8")
            assert "secretnote" not in text, path
            assert "Somebody" not in text, path
            assert not re.search(r"""(?:src|url|import|fetch)\s*[=(]\s*['"]?(?:https?:)?//""", text), path
            if path.suffix == ".html":
                assert "default-src 'none'" in html.unescape(text)


@pytest.mark.usefixtures("beside")
def test_names_tabs_and_texts_for_the_class_tell_no_number(shelf: Path) -> None:
    made = site(shelf)
    for folder in ("show", "prompts", "pictures"):
        for path in (made.path / folder).iterdir():
            assert re.fullmatch(r"[bcdfghjklmnpqrst]{16}\.(html|webp)", path.name)
    for slug in made.shown:
        one = catalog.load(shelf, slug)
        numbers = (one.fact.half, one.fact.total) if one.fact else (one.count(1), one.count(2), one.total)
        for text in [(made.path / kind / f"{key_of(slug)}.html").read_text() for kind in ("show", "prompts")]:
            title = re.search(r"<title>(.*?)</title>", text)
            assert title is not None
            assert not tells(title[1], *numbers)
            for alt in re.findall(r'<img [^>]*alt="([^"]*)"', text):
                assert not tells(html.unescape(alt), *numbers)
    assert "<title>A picture</title>" in (made.path / "prompts" / f"{key_of('eggs-6')}.html").read_text()


def test_what_may_not_be_shared_is_left_out_by_name_unless_it_is_for_the_school(shelf: Path) -> None:
    add(shelf, "bare", license="")
    add(shelf, "who", people="unknown")
    add(shelf, "ours", license="school-only")
    made = site(shelf)
    reasons = {one.slug: one.wrong for one in made.refused}
    assert reasons == {
        "bare": "It has no licence.",
        "ours": "Its licence keeps it in this school.",
        "who": "Nobody said whether people are in it.",
    }
    for slug in reasons:
        assert not list(made.path.rglob(f"{key_of(slug)}*"))
    whole = "".join(text for _, text in pages_of(made)) + (made.path / "index.js").read_text()
    assert "this school only" not in whole

    inside = site(shelf, inside=True)
    assert set(inside.shown) >= set(reasons)
    assert not inside.refused
    assert "For this school only: do not put it on a public web server." in inside.warned
    for path, text in pages_of(inside):
        if path.parent.name != "show":
            assert "For this school only." in text, path
    assert "Nobody said whether people are in it" in (inside.path / "prompts" / f"{key_of('who')}.html").read_text()
    assert "none given: show it in this school only" in (inside.path / "prompts" / f"{key_of('bare')}.html").read_text()


def test_a_licence_against_changes_gets_no_marks(shelf: Path) -> None:
    add(shelf, "bound", license="CC-BY-ND-4.0")
    made = site(shelf)
    assert "bound" in made.shown
    assert not (made.path / "show" / f"{key_of('bound')}.html").exists()
    assert "forbids marks" in (made.path / "prompts" / f"{key_of('bound')}.html").read_text()
    assert any("1 without a page for the class" in sentence for sentence in made.warned)


def test_faces_are_pointed_out_first(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from curator.records import Box
    from curator.seeing import faces

    monkeypatch.setattr(faces, "faces", lambda pixels: [Box(0, 0, 9, 9)])
    add(shelf, "asked", people="consented")
    one = site(shelf, "eggs 6")
    assert one.shown == ("asked",)
    assert [(r.slug, r.wrong) for r in one.refused] == [("eggs-6", "May show a face.")]
    with pytest.raises(CuratorError, match="May show a face"):
        site(shelf, "eggs 2")
    assert site(shelf, "eggs 2", faces_ok=True).shown == ("eggs-2",)


@pytest.mark.skipif(which("exiftool") is None, reason="no exiftool found: install the package libimage-exiftool-perl")
def test_pictures_carry_no_location_and_no_camera(shelf: Path) -> None:
    picture = shelf / "eggs-7.jpg"
    subprocess.run(
        [
            "exiftool",
            "-q",
            "-overwrite_original",
            "-GPSLatitude=12",
            "-GPSLatitudeRef=N",
            "-Make=Maker",
            "-SerialNumber=77",
            "-XMP-dc:Creator=Someone",
            "-Comment=private",
            str(picture),
        ],
        check=True,
    )
    made = site(shelf)
    said = json.loads(
        subprocess.run(
            ["exiftool", "-j", "-G", "-a", "-r", str(made.path / "pictures")], check=True, capture_output=True
        ).stdout
    )
    assert len(said) == 8
    assert {key.partition(":")[0] for one in said for key in one} <= {
        "SourceFile",
        "ExifTool",
        "File",
        "RIFF",
        "Composite",
    }
    raw = b"".join(path.read_bytes() for path in made.path.rglob("*") if path.is_file())
    assert not [trace for trace in (b"GPSLat", b"Maker", b"Someone", b"private") if trace in raw]


def test_words_choose(shelf: Path) -> None:
    made = site(shelf, "7+7")
    assert made.shown == ("eggs-7",)
    assert "What “7+7” finds." in (made.path / "index.html").read_text()
    with pytest.raises(CuratorError, match="Nothing is found for"):
        site(shelf, "nosuchword")
    assert (made.path / "index.html").is_file()


# ---- written whole, updated


def listing(path: Path) -> dict[str, bytes]:
    return {p.relative_to(path).as_posix(): p.read_bytes() for p in path.rglob("*") if p.is_file()}


@pytest.mark.usefixtures("beside")
def test_again_is_the_same_and_makes_only_what_changed(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = listing(site(shelf).path)
    worked: list[str] = []
    real = building.make
    monkeypatch.setattr(
        building,
        "make",
        lambda folder, target, prompt, wish: worked.append(prompt.slug) or real(folder, target, prompt, wish),
    )
    again = site(shelf)
    assert (again.again, worked) == (4, [])
    assert listing(again.path) == first
    catalog.replace(shelf, replace(catalog.load(shelf, "eggs-2"), title="Other eggs"))
    catalog.remove(shelf, "shells")
    other = site(shelf)
    assert (other.again, worked) == (2, ["eggs-2"])
    assert "Other eggs" in (other.path / "facts/2.html").read_text()
    assert not list(other.path.rglob(f"{key_of('shells')}*"))
    assert len(list((other.path / "pictures").iterdir())) == 6
    (other.path / "show" / f"{key_of('eggs-7')}.html").write_text("cut")
    site(shelf)
    assert worked == ["eggs-2", "eggs-7"]


@pytest.mark.usefixtures("beside")
def test_a_list_that_somebody_changed_lets_nothing_else_in(shelf: Path) -> None:
    made = site(shelf)
    (shelf.parent / "private.txt").write_text("private")
    said = json.loads((made.path / publish.MANIFEST).read_text())
    said["prompts"]["eggs-7"]["show"] = "../private.txt"
    (made.path / publish.MANIFEST).write_text(json.dumps(said))
    again = site(shelf)
    assert again.again == 3
    assert not [text for _, text in pages_of(again) if text == "private"]


@pytest.mark.parametrize("where", ["make", "pages.write", "exchange"])
@pytest.mark.usefixtures("beside")
def test_an_error_leaves_the_site_as_it_was(shelf: Path, monkeypatch: pytest.MonkeyPatch, where: str) -> None:
    before = listing(site(shelf).path)
    catalog.replace(shelf, replace(catalog.load(shelf, "eggs-2"), title="Other eggs"))

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    if where == "make":
        monkeypatch.setattr(building, "make", full)
    elif where == "pages.write":
        monkeypatch.setattr(building.pages, "write", full)
    else:
        real = os.rename
        monkeypatch.setattr(os, "rename", lambda a, b: full() if str(a).endswith(".part") else real(a, b))
    with pytest.raises(CuratorError, match="The disk is full; nothing was changed"):
        site(shelf)
    monkeypatch.undo()
    assert listing(shelf.parent / "site") == before
    assert sorted(p.name for p in shelf.parent.iterdir()) == ["catalog", "site"]


@pytest.mark.usefixtures("beside")
def test_ctrl_c_leaves_the_site_as_it_was(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = listing(site(shelf).path)
    catalog.replace(shelf, replace(catalog.load(shelf, "eggs-2"), title="Other eggs"))

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(building, "make", stopped)
    with pytest.raises(CuratorError, match="It was stopped"):
        site(shelf)
    assert listing(shelf.parent / "site") == before
    assert sorted(p.name for p in shelf.parent.iterdir()) == ["catalog", "site"]


@pytest.mark.usefixtures("beside")
def test_what_a_killed_run_left_is_mended(shelf: Path) -> None:
    made = site(shelf)
    made.path.rename(shelf.parent / ".site.1-abcdef.before")
    old = shelf.parent / ".site.1-abcdef.part"
    old.mkdir()
    os.utime(old, (1, 1))
    assert site(shelf).shown == made.shown
    assert sorted(p.name for p in shelf.parent.iterdir()) == ["catalog", "site"]


@pytest.mark.usefixtures("beside")
def test_killed_at_any_moment_there_is_a_whole_site(shelf: Path) -> None:
    output = site(shelf).path
    command = [sys.executable, "-m", "curator", "site", "-o", str(output), "-c", str(shelf)]
    rng, cut = random.Random(3), 0
    for number in range(6):
        catalog.replace(shelf, replace(catalog.load(shelf, "eggs-2"), title=f"Eggs {'abcdef'[number]}"))
        run = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        time.sleep(rng.uniform(0.1, 2.5))
        cut += run.poll() is None
        run.kill()
        run.wait()
        there = [one for one in (output, *output.parent.glob(".site.*.before")) if (one / publish.MANIFEST).exists()]
        assert there
        for one in there:
            assert all((one / name).is_file() for name in json.loads((one / publish.MANIFEST).read_text())["files"])
    assert cut >= 2
    assert len(site(shelf).shown) == 4
    assert sorted(p.name for p in shelf.parent.iterdir()) == ["catalog", "site"]


@pytest.mark.usefixtures("beside")
def test_stopped_while_the_site_before_is_deleted(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    site(shelf)
    catalog.replace(shelf, replace(catalog.load(shelf, "eggs-2"), title="Other eggs"))
    halved: list[Path] = []

    def dies(folder: Path, **_: object) -> None:
        if (folder / publish.MANIFEST).exists():  # the finished site's; not the inside of a record
            next((folder / "show").iterdir()).unlink()
            halved.append(folder)
            raise SystemExit(137)

    monkeypatch.setattr(publish.shutil, "rmtree", dies)
    with pytest.raises(SystemExit):
        site(shelf)
    monkeypatch.undo()
    assert halved
    assert not list(shelf.parent.glob(".site.*.before"))  # nothing that a later run would put back
    assert publish.read_manifest(shelf.parent / "site")["files"]


@pytest.mark.usefixtures("beside")
def test_somebody_s_own_folder_is_never_replaced(shelf: Path, tmp_path: Path) -> None:
    own = tmp_path / "own"
    own.mkdir()
    (own / "letter.txt").write_text("keep me")
    with pytest.raises(CuratorError, match="holds a file that is not of a site"):
        site(shelf, to=own)
    with pytest.raises(CuratorError, match="is not of a site"):
        site(shelf, to=shelf)
    with pytest.raises(CuratorError, match="is a file"):
        site(shelf, to=own / "letter.txt")
    with pytest.raises(CuratorError, match="There is no folder"):
        site(shelf, to=tmp_path / "none" / "site")
    made = site(shelf)
    (made.path / "facts" / "letter.txt").write_text("keep me")
    (made.path / "Thumbs.db").write_text("")
    with pytest.raises(CuratorError, match=r"facts/letter\.txt"):
        site(shelf)
    assert (made.path / "facts" / "letter.txt").is_file()


def test_a_damaged_picture_is_left_out_by_name(shelf: Path) -> None:
    (shelf / "eggs-2.jpg").write_bytes(b"\xff\xd8 cut")
    (shelf / "eggs-6.jpg").unlink()
    made = site(shelf)
    assert [one.slug for one in made.refused] == ["eggs-2", "eggs-6"]
    assert set(made.shown) == {"eggs-7", "shells"}


def test_the_command_says_what_it_did(shelf: Path, tmp_path: Path) -> None:
    add(shelf, "bare", license="")
    run = CliRunner().invoke(app, ["site", "7+7", "-o", str(tmp_path / "site"), "-c", str(shelf), "--language", "es"])
    assert run.exit_code == 0, run.output
    assert "1 prompt, 0." in run.output
    assert (tmp_path / "site" / "index.html").is_file()
    assert "¿Cuántos" in (tmp_path / "site" / "show" / f"{key_of('eggs-7')}.html").read_text(encoding="utf-8")
    assert '<p lang="es">Foto de catorce' in (tmp_path / "site" / "prompts" / f"{key_of('eggs-7')}.html").read_text(
        encoding="utf-8"
    )
    run = CliRunner().invoke(app, ["site", "-o", str(tmp_path / "site"), "-c", str(shelf)])
    assert "Left out:\n  bare\n    It has no licence." in run.output
    assert all(len(line) <= 79 for line in run.output.splitlines() if str(tmp_path) not in line)
    run = CliRunner().invoke(app, ["site", "--inside-school", "-o", str(tmp_path / "inside"), "-c", str(shelf)])
    told = next(line for line in run.output.splitlines() if "web server" in line)
    assert told == "For this school only: do not put it on a public web server."  # one sentence, one colon


def test_pixels_are_as_they_were_but_smaller(shelf: Path) -> None:
    made = site(shelf, "7+7")
    (row,) = json.loads((made.path / "index.js").read_text().removeprefix("var catalog = ").rstrip(";\n"))["rows"]
    small = cv2.imread(str(made.path / row[6]))
    whole = cv2.resize(cv2.imread(str(shelf / "eggs-7.jpg")), (row[7], row[8]), interpolation=cv2.INTER_AREA)
    assert float(np.abs(small.astype(int) - whole).mean()) < 4

"""What kept pictures teach: asked for by the thing's name, made anew on any doubt, gone with the picture."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from catalog_made import picture_bytes

from curator import limited
from curator.catalog import bundle, measured
from curator.catalog import prompt as prompts
from curator.catalog.store import add_photos, folder, taught
from curator.catalog.store.forget import forget
from curator.records import Prompt
from curator.seeing import look, photo
from curator.site import build
from curator.site.prompt_files import Wish

SAMPLES = Path(__file__).parents[2] / "sample_images"
FIVES, SIXES = SAMPLES / "dice-fives.jpg", SAMPLES / "dice-sixes.jpg"
NAMES = ("die", "dice")
PLACE = Path(".index") / "taught"


@pytest.fixture(scope="module")
def fives() -> Prompt:
    """A picture of two dice, kept as two, though their spots were named first."""
    seen = look.look(FIVES)
    number = next(k for k, one in enumerate(seen.readings) if len(one.things) == 2)
    words = {"thing": "die", "things": "dice", "place": "table", "checked_by": "teacher"}
    shared = {"credit": "Room 4", "license": "CC-BY-4.0", "people": "none"}
    return prompts.make(seen, reading=number, **words, **shared)  # type: ignore[arg-type]


@pytest.fixture
def school(tmp_path: Path, fives: Prompt, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(limited, "ON", False)
    folder.add(tmp_path / "c", fives, photo.encode_clean(photo.load_large(FIVES)))
    return tmp_path / "c"


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Path]]:
    """The pictures that were looked at for an example."""
    paths: list[Path] = []
    real = look.example_of

    def noted(seen, kept, area=None):  # type: ignore[no-untyped-def]
        paths.append(seen.path)
        return real(seen, kept, area)

    monkeypatch.setattr(look, "example_of", noted)
    return paths


def noted(school: Path) -> list[str]:
    return sorted(path.name for path in (school / PLACE).glob("*"))


def test_a_kept_picture_is_looked_at_once_and_noted_beside_the_index(school: Path, looked: list[Path]) -> None:
    (one,) = taught.known(school, NAMES)
    assert one.right.any()
    assert noted(school) == ["dice-table.npz"]
    (again,) = taught.known(school, ["Dice "])
    assert len(looked) == 1
    assert again.measures == pytest.approx(one.measures, abs=1e-4)
    assert (again.right == one.right).all()


def test_one_by_one_they_are_looked_at_as_all_at_once(school: Path, fives: Prompt, looked: list[Path]) -> None:
    other = replace(fives, slug="dice-desk", picture="dice-desk.jpg", place="desk")
    folder.add(school, other, photo.encode_clean(photo.load_large(FIVES)), twin_ok=True)
    assert taught.noted(school, NAMES) == ()
    assert looked == []
    assert taught.one_more(school, NAMES)
    assert len(taught.noted(school, NAMES)) == len(looked) == 1
    assert not taught.one_more(school, NAMES)
    assert len(taught.noted(school, NAMES)) == len(looked) == 2
    assert not taught.one_more(school, NAMES)
    assert len(taught.known(school, NAMES)) == len(looked) == 2


def test_one_that_ends_the_process_is_not_looked_at_again(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def ends(*_: object) -> None:
        raise SystemExit  # as a limit would, from without

    monkeypatch.setattr(look, "example_of", ends)
    with pytest.raises(SystemExit):
        taught.one_more(school, NAMES)
    monkeypatch.undo()
    assert not taught.one_more(school, NAMES)
    assert taught.noted(school, NAMES) == ()


def test_nobody_waits_for_ever_where_nothing_can_be_noted(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: Path, data: bytes) -> None:
        raise PermissionError(13, "refused")

    monkeypatch.setattr(measured.files, "put", refused)
    assert not taught.one_more(school, NAMES)


def test_only_what_carries_the_name_and_was_checked_teaches(school: Path, looked: list[Path]) -> None:
    for names in ([], [""], ["table"], ["dic"], ["eggs"]):
        assert taught.known(school, names) == ()
    folder.replace(school, replace(folder.load(school, "dice-table"), checked_by=""))
    assert taught.known(school, NAMES) == ()
    assert taught.known(school / "none", NAMES) == ()
    assert looked == []


def test_what_is_noted_is_made_anew_on_any_doubt(school: Path, looked: list[Path]) -> None:
    taught.known(school, NAMES)
    kept = folder.load(school, "dice-table")
    folder.replace(school, replace(kept, notes="shown on Monday"))
    taught.known(school, NAMES)
    assert len(looked) == 1  # her words say nothing of what is seen
    moved = (kept.dots[0]._replace(x=kept.dots[0].x + 0.01), *kept.dots[1:])
    folder.replace(school, replace(kept, dots=moved))
    taught.known(school, NAMES)
    assert len(looked) == 2
    place = school / PLACE / "dice-table.npz"
    sound = place.read_bytes()
    with np.load(place) as arrays:
        same = dict(arrays)
    for damaged in (b"", b"PK\x03\x04", sound[:200], sound.replace(b"measures", b"measured")):
        place.write_bytes(damaged)
        assert len(taught.known(school, NAMES)) == 1
    np.savez(place, **(same | {"measures": same["measures"][:, :5]}))
    assert len(taught.known(school, NAMES)) == 1
    assert len(looked) == 7


def test_a_picture_that_teaches_nothing_is_looked_at_once(school: Path, looked: list[Path]) -> None:
    kept = folder.load(school, "dice-table")
    away = tuple(dot._replace(x=0.01 + 0.01 * k, y=0.01, w=0.005, h=0.005) for k, dot in enumerate(kept.dots))
    folder.replace(school, replace(kept, dots=away))
    assert taught.known(school, NAMES) == taught.known(school, NAMES) == ()
    assert len(looked) == 1


def test_one_that_takes_too_much_is_not_tried_again(school: Path, looked: list[Path]) -> None:
    kept = folder.load(school, "dice-table")
    assert taught.nothing_learned(school, kept, taught._stamp(school, kept)) == ("dice-table", ())
    assert taught.known(school, NAMES) == ()
    assert looked == []


def test_one_that_fails_in_a_way_nobody_thought_of_stops_nobody(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(look, "example_of", fails)
    assert taught.known(school, NAMES) == ()


def test_what_is_noted_while_a_picture_is_replaced_goes_too(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = folder.files.write

    def meanwhile(path: Path, data: bytes) -> None:
        if path.suffix == ".jpg":
            taught.known(school, NAMES)  # somebody else asks
            assert noted(school) == ["dice-table.npz"]
        real(path, data)

    monkeypatch.setattr(folder.files, "write", meanwhile)
    folder.replace_picture(school, "dice-table", picture_bytes())
    assert noted(school) == []


def test_a_folder_that_cannot_be_written_teaches_all_the_same(school: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: Path, data: bytes) -> None:
        raise PermissionError(13, "refused")

    monkeypatch.setattr(measured.files, "put", refused)
    assert len(taught.known(school, NAMES)) == 1


def test_it_goes_with_the_picture(school: Path, fives: Prompt) -> None:
    taught.known(school, NAMES)
    folder.replace_picture(school, "dice-table", picture_bytes())  # a face was blurred, say
    assert noted(school) == []
    taught.known(school, NAMES)
    folder.remove(school, "dice-table")
    assert noted(school) == []
    assert taught.known(school, NAMES) == ()
    folder.bring_back(school, "dice-table")
    taught.known(school, NAMES)
    assert noted(school) == ["dice-table.npz"]
    forget(school, fives.source_sha256)
    assert not (school / PLACE).exists()


def test_a_picture_forgotten_while_it_is_looked_at_leaves_nothing(
    school: Path, fives: Prompt, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = look.example_of

    def meanwhile(seen, kept, area=None):  # type: ignore[no-untyped-def]
        forget(school, fives.source_sha256)
        return real(seen, kept, area)

    monkeypatch.setattr(look, "example_of", meanwhile)
    taught.known(school, NAMES)
    assert noted(school) == []


def test_what_is_left_of_a_prompt_deleted_by_hand_goes_with_the_next_question(school: Path) -> None:
    taught.known(school, NAMES)
    (school / "dice-table.yaml").unlink()
    assert taught.known(school, NAMES) == ()
    assert noted(school) == []


def test_no_bundle_and_no_site_has_it(school: Path, tmp_path: Path) -> None:
    taught.known(school, NAMES)
    measured = (school / PLACE / "dice-table.npz").read_bytes()
    bundle.pack(school, ["dice-table"], tmp_path / "set.zip", faces_ok=True)
    with zipfile.ZipFile(tmp_path / "set.zip") as archive:
        assert not [name for name in archive.namelist() if name.endswith(".npz")]
        assert all(archive.read(name) != measured for name in archive.namelist())
    build.build(school, "", tmp_path / "site", Wish(faces_ok=True))
    assert not list((tmp_path / "site").rglob("*.npz"))


def test_photos_added_under_that_name_go_by_it_and_it_is_told_what_is_looked_at_first(school: Path) -> None:
    words = {"thing": "die", "things": "dice"}
    before: list[tuple[int, int]] = []

    def added(words: dict[str, str]) -> Prompt:
        told = {"before": lambda done, count: before.append((done, count))}
        tally = add_photos.take_all(school, [SIXES], None, words, take=frozenset(), faces_ok=True, **told)
        (seen,) = tally.look
        assert seen.prompt is not None
        return seen.prompt

    assert str(added({}).fact) == "6+6=12"
    asked = added(words)
    assert (str(asked.fact), asked.grade) == ("1+1=2", "check")
    assert before == [(1, 1)]

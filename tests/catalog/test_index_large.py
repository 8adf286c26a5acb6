"""The index of a large catalog: answered at once, compared aside, filled by several processes, how far it is told."""

from __future__ import annotations

import os
import shutil
import threading
import time
import warnings
from pathlib import Path

import pytest
from catalog_made import prompt_of
from typer.testing import CliRunner

from curator.catalog.search import index, index_compare, index_db, index_rows
from curator.catalog.yamls import to_yaml
from curator.cli import app
from curator.records import Prompt
from curator.web.app import make_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

YEAR_NS = 365 * 86_400 * 10**9


def put(path: Path, prompt: Prompt) -> None:
    (path / f"{prompt.slug}.yaml").write_bytes(to_yaml(prompt).encode())


def age(place: Path) -> None:
    """As if nothing had been touched for a year, so that no date is young."""
    for path in (*place.glob("*.yaml"), place):
        status = path.stat()
        os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns - YEAR_NS))


def new_process(place: Path) -> None:
    """What this process knew of the catalog is forgotten; the index file stays."""
    state = index._OPEN.pop(place.absolute(), None)
    if state is not None:
        index._close(state)


@pytest.fixture
def large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Thirty prompts that count as many, compared once when all was old."""
    monkeypatch.setattr(index, "SMALL", 3)
    monkeypatch.setattr(index, "REST", 1000)
    for n in range(30):
        put(tmp_path, prompt_of(1 + n % 12, f"eggs-{n}", things="eggs", place="kitchen"))
    index.find(tmp_path)  # makes the folder .index
    age(tmp_path)
    new_process(tmp_path)
    index.find(tmp_path)
    new_process(tmp_path)
    return tmp_path


def test_an_unchanged_catalog_is_asked_without_a_look_at_its_files(
    large: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    looked: list[bool] = []
    real = index_compare.compare

    def compare(*given: object) -> index_compare.Compared:
        looked.append(threading.current_thread() is threading.main_thread())
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(index_compare, "compare", compare)
    assert index.find(large, "eggs", at_once=True).total == 30
    assert not index.was_behind(large)
    assert looked == [False]  # aside, and once
    assert index.find(large, "eggs", at_once=True).total == 30
    assert looked == [False]


def test_who_does_not_ask_at_once_gets_every_file_compared(large: Path) -> None:
    path = large / "eggs-7.yaml"
    path.write_bytes(path.read_bytes().replace(b"place: kitchen", b"place: cellar"))  # in its place
    assert index.find(large, "cellar").total == 1


@pytest.mark.parametrize("size", ["same", "other"])
def test_a_file_written_over_in_its_place_is_found_a_moment_later(large: Path, size: str) -> None:
    path = large / "eggs-7.yaml"
    place = b"place: kitchin" if size == "same" else b"place: cellar"
    folder_before = large.stat().st_mtime_ns
    path.write_bytes(path.read_bytes().replace(b"place: kitchen", place))
    assert large.stat().st_mtime_ns == folder_before  # which is why the folder alone cannot tell
    with index._open(large).lock:  # the comparison aside waits
        assert index.find(large, "kitchen", at_once=True).total == 30
    assert index.was_behind(large)
    assert index.find(large, "kitchen", at_once=True).total == 29
    new_process(large)
    assert index.find(large, "kitchen", at_once=True).total == 29
    assert not index.was_behind(large)


@pytest.mark.parametrize("change", ["new", "gone", "moved in", "renamed"])
def test_what_came_or_went_is_seen_at_once(large: Path, change: str) -> None:
    if change == "new":
        put(large, prompt_of(5, "jars", things="jars"))
    elif change == "gone":
        (large / "eggs-3.yaml").unlink()
    elif change == "moved in":
        beside = large / ".eggs-3.part"
        beside.write_bytes((large / "eggs-3.yaml").read_bytes().replace(b"kitchen", b"cellar!"))
        beside.replace(large / "eggs-3.yaml")
    else:
        (large / "eggs-3.yaml").rename(large / "eggs-3.txt")
    want = {"new": 31, "gone": 29, "moved in": 30, "renamed": 29}[change]
    assert index.find(large, "", at_once=True).total == want
    assert index.find(large, "kitchen", at_once=True).total == 29 + (change == "new") * 1


def test_a_folder_whose_date_is_young_is_not_trusted(large: Path) -> None:
    put(large, prompt_of(5, "jars", things="jars"))
    assert index.find(large, "").total == 31
    new_process(large)
    connection = index_db.connect(next(iter(index_db.places(large))))
    assert index_compare.compared(large, connection) == 0  # more may come under the same date
    connection.close()


def test_several_processes_fill_the_same_index(large: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (large / "broken.yaml").write_text("half written")

    def rows() -> list[tuple[object, ...]]:
        connection = index_db.connect(next(iter(index_db.places(large))))
        asked = "SELECT * FROM prompts p JOIN words w ON w.rowid = p.id ORDER BY p.id"
        found = connection.execute(asked).fetchall()
        found += connection.execute("SELECT * FROM files ORDER BY slug").fetchall()
        connection.close()
        return found

    age(large)
    index.forget_index(large)
    assert index.find(large, "").total == 30
    alone = rows()
    index.forget_index(large)
    monkeypatch.setattr(index_compare, "WORTH", 10)
    monkeypatch.setattr(index_compare, "PART", 4)
    monkeypatch.setattr(index_compare, "CHUNK", 11)
    assert index.find(large, "").total == 30
    assert rows() == alone
    assert len(alone) == 30 + 31


def test_who_waited_while_another_filled_the_index_reads_only_what_changed_since(
    large: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = large / "eggs-7.yaml"
    path.write_bytes(path.read_bytes().replace(b"place: kitchen", b"place: cellar!"))
    connection = index_db.connect(next(iter(index_db.places(large))))
    read: list[str] = []
    real = index_compare.read_rows

    def rows(folder: str, files: list[index_compare.Stamped]) -> object:
        read.extend(slug for slug, _ in files)
        return real(folder, files)

    monkeypatch.setattr(index_compare, "read_rows", rows)
    empty = iter([True])  # when it is looked at first, and no longer when its turn comes
    monkeypatch.setattr(index_db, "is_empty", lambda connection: next(empty, False))
    assert index_compare.compare(large, connection) == (30, True)
    connection.close()
    assert read == ["eggs-7"]
    assert index.find(large, "cellar").total == 1


def test_how_far_a_catalog_without_an_index_is_read(large: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    index.forget_index(large)
    assert index.being_read(large) is None  # few are read before anybody waits
    index.forget_index(large)
    monkeypatch.setattr(index_compare, "MANY", 3)
    monkeypatch.setattr(index_compare, "PART", 10)
    go_on = threading.Event()
    real = index_compare.read_rows

    def slowly(folder: str, files: object) -> object:
        if index._open(large).read[0] == 5:  # half of what is read, for nothing is written yet
            go_on.wait(20)
        return real(folder, files)  # type: ignore[arg-type]

    monkeypatch.setattr(index_compare, "read_rows", slowly)
    assert index.being_read(large) in ((0, 30), (5, 30))
    for _ in range(500):
        if index.being_read(large) == (5, 30):
            break
        time.sleep(0.01)
    assert index.being_read(large) == (5, 30)
    go_on.set()
    for _ in range(500):
        if index.being_read(large) is None:
            break
        time.sleep(0.01)
    assert index.being_read(large) is None
    assert index.find(large, "kitchen").total == 30


def test_who_comes_while_another_process_fills_the_index_is_told_at_once(
    large: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    index.forget_index(large)
    monkeypatch.setattr(index_compare, "MANY", 3)
    other = index_db.connect(next(iter(index_db.places(large))))
    other.execute("BEGIN EXCLUSIVE")  # as soon as there is more than it holds in memory
    start = time.monotonic()
    assert index.being_read(large) == (0, 30)
    assert index.being_read(large) == (0, 30)
    assert time.monotonic() - start < 2
    other.execute("ROLLBACK")
    other.close()
    assert index.was_behind(large)
    assert index.being_read(large) is None
    assert index.find(large, "kitchen").total == 30


def test_a_first_filling_that_was_killed_is_undone(large: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = next(iter(index_db.places(large)))
    index.forget_index(large)
    made = [prompt_of(1 + n % 12, f"jars-{n}", things="jars") for n in range(400)]
    connection = index_db.connect(path)
    connection.execute("BEGIN IMMEDIATE")
    with index_db.filling(connection):
        connection.execute("PRAGMA cache_size = 5")  # pages: what does not fit is in the file before the end
        index_db.put_in(connection, sorted(index_rows.row_of(prompt) for prompt in made))
    aside = tmp_path_factory.mktemp("killed")
    for name in path.parent.glob(f"{path.name}*"):
        shutil.copy(name, aside)  # as they lie there now
    connection.execute("ROLLBACK")
    connection.close()
    assert sum(name.stat().st_size for name in aside.iterdir()) > 400_000
    for name in aside.iterdir():
        shutil.copy(name, path.parent)
    assert index.find(large, "jars").total == 0
    assert index.find(large, "kitchen").total == 30


def test_readers_are_not_in_the_way_once_the_index_is_filled(large: Path) -> None:
    path = next(iter(index_db.places(large)))
    writer, reader = index_db.connect(path), index_db.connect(path)
    writer.execute("BEGIN EXCLUSIVE")
    assert not index_db.is_in_use(path)
    assert not index_db.is_empty(reader)
    writer.execute("ROLLBACK")
    writer.close()
    reader.close()


def test_a_reading_that_fails_is_told_by_the_next_question(large: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    index.forget_index(large)
    monkeypatch.setattr(index_compare, "MANY", 3)

    def fails(*given: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(index_compare, "compare", fails)
    assert index.being_read(large) == (0, 30)
    assert index.was_behind(large) is False
    assert index.being_read(large) is None
    with pytest.raises(index.CatalogError, match="cannot be read"):
        index.find(large, "")


def test_find_answers_at_once_and_again_where_a_file_was_changed_by_hand(
    large: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = index_compare.compare

    def later(*given: object) -> index_compare.Compared:
        time.sleep(0.5)  # the answer is quicker
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(index_compare, "compare", later)

    def typed() -> str:
        new_process(large)
        return CliRunner().invoke(app, ["find", "kitchen", "-c", str(large), "-n", "1"]).output

    assert "30 prompts" in typed()
    path = large / "eggs-7.yaml"
    path.write_bytes(path.read_bytes().replace(b"place: kitchen", b"place: cellar"))
    first, _, then = typed().partition("Files were changed by hand since the last look. With them:")
    assert "30 prompts" in first
    assert "29 prompts" in then
    assert "changed by hand" not in typed()


def test_the_page_says_how_far_the_catalog_is_read(large: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index, "being_read", lambda folder: (12_000, 100_000))
    with TestClient(make_app(large), base_url="http://127.0.0.1") as client:
        for address in ("/", "/find?q=eggs"):
            told = client.get(address)
            assert told.status_code == 200
            assert "12,000 of 100,000 prompts are read." in told.text
            assert '<progress max="100000" value="12000"' in told.text
            assert 'http-equiv="refresh"' in told.text
        part = client.get("/find?part=1&q=eggs").text
        assert "12,000 of 100,000" in part
        assert "<html" not in part
        monkeypatch.setattr(index, "being_read", lambda folder: None)
        assert "30 pictures" in client.get("/find?q=eggs").text

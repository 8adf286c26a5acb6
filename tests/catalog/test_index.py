"""find: quick, and the same as a plain look through every prompt."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import threading
from dataclasses import replace
from pathlib import Path

import pytest
from catalog_made import picture_bytes, prompt_of, prompts, sha_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curator.catalog.search import days, index, index_compare, index_db, index_rows
from curator.catalog.search.query import parse
from curator.catalog.store import folder
from curator.catalog.yamls import to_yaml
from curator.errors import CuratorError
from curator.records import Prompt


def put(path: Path, prompt: Prompt) -> None:
    """A prompt written by hand, as it were."""
    (path / f"{prompt.slug}.yaml").write_bytes(to_yaml(prompt).encode())


def slugs(found: index.Found) -> list[str]:
    return [prompt.slug for prompt in found.prompts]


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """One prompt for each half, some words, and two without a double."""
    for n in range(1, 13):
        put(tmp_path, prompt_of(n, f"eggs-{n}", things="eggs", place="kitchen", kind="flip" if n % 2 else "slide"))
    put(tmp_path, prompt_of(7, "panes", title="Porch window", things="panes", tags=("école", "glass")))
    put(tmp_path, prompt_of(0, "mugs", title="Three mugs"))
    return tmp_path


SEVENS = (
    "7+7",
    "7 + 7 = 14",
    "14-7",
    "14 − 7 = 7",
    "double 7",
    "half of 14",
    "14",
    "half of 14 is 7",
    "Double seven",
    "seven plus seven",
    "a picture showing 7+7",
)


@pytest.mark.parametrize("typed", SEVENS)
def test_all_ways_to_say_seven_and_seven(shelf: Path, typed: str) -> None:
    assert sorted(slugs(index.find(shelf, typed))) == ["eggs-7", "panes"]


@pytest.mark.parametrize(
    ("typed", "want"),
    [
        ("doubles to 10", ["eggs-1", "eggs-2", "eggs-3", "eggs-4", "eggs-5"]),
        ("eggs doubles within 4", ["eggs-1", "eggs-2"]),
        ("window", ["panes"]),
        ("WIND", ["panes"]),
        ("ecole 7+7", ["panes"]),
        ("7+7 flip", ["eggs-7"]),
        ("flip kitchen half of 14", ["eggs-7"]),
        ("slide 7+7", ["panes"]),
        ("none", ["mugs"]),
        ("no double", ["mugs"]),
        ("3 mugs", ["mugs"]),
        ("6", ["eggs-3", "eggs-6"]),
        ("6+6 7+7 kitchen", ["eggs-6", "eggs-7"]),
        ("6 + 8", ["eggs-7", "panes"]),
        ("7+7=15", []),
        ("13-7", []),
        ("half of 15", []),
        ("turn", []),
        ("eggs window", []),
        ("doubles eggs 8", ["eggs-4", "eggs-8"]),
    ],
)
def test_what_is_asked_in_any_mix(shelf: Path, typed: str, want: list[str]) -> None:
    found = index.find(shelf, typed)
    assert sorted(slugs(found)) == want
    assert found.total == len(want)


def test_pages_follow_on_one_another(shelf: Path) -> None:
    every = slugs(index.find(shelf, "", limit=100))
    assert len(every) == 14
    pages = [index.find(shelf, "", limit=5, offset=offset) for offset in (0, 5, 10, 15)]
    assert [page.total for page in pages] == [14] * 4
    assert [slug for page in pages for slug in slugs(page)] == every
    assert index.find(shelf, "eggs", limit=0) == index.Found(12, ())


def test_newer_days_come_first(tmp_path: Path) -> None:
    for day in ("2026-01-05", "2026-02-01", "2025-12-31", ""):
        put(tmp_path, prompt_of(3, f"d{day}".rstrip("-"), added=day))
    assert slugs(index.find(tmp_path)) == ["d2026-02-01", "d2026-01-05", "d2025-12-31", "d"]


@pytest.mark.parametrize(
    ("since", "until", "want"),
    [
        ("2025-09-01", "2026-01-31", ["d2026-01-05", "d2025-12-31"]),
        ("2026-01-05", "", ["d2026-02-01", "d2026-01-05"]),
        ("", "2025-12-31", ["d2025-12-31", "d"]),
        ("2026-02-02", "", []),
    ],
)
def test_days_narrow_what_is_found(tmp_path: Path, since: str, until: str, want: list[str]) -> None:
    for day in ("2026-01-05", "2026-02-01", "2025-12-31", ""):
        put(tmp_path, prompt_of(3, f"d{day}".rstrip("-"), added=day))
    for words in ("", "3+3", "flip slide"):
        assert slugs(index.find(tmp_path, words, since=since, until=until)) == want


def test_a_year_a_month_and_a_day_can_be_typed() -> None:
    assert [(days.first(typed), days.last(typed)) for typed in ("2024", "2024-02", " 2024-2-9 ")] == [
        ("2024-01-01", "2024-12-31"),
        ("2024-02-01", "2024-02-29"),
        ("2024-02-09", "2024-02-09"),
    ]
    for typed in ("", "last", "2024-13", "2023-02-29", "0000", "24-02", "2024-02-09-1", "٢٠٢٤"):
        with pytest.raises(CuratorError):
            days.first(typed)


def test_board_counts_halves_and_kinds(shelf: Path) -> None:
    board = index.board(shelf)
    assert board[(7, "flip")] == 1
    assert board[(7, "slide")] == 1
    assert sum(board.values()) == 13


nasty = st.sampled_from(
    [
        '"',
        "AND",
        "OR NOT",
        "NEAR(",
        "*",
        "l'oiseau",
        "7+7",
        "14-7",
        "double",
        "half of",
        "eggs",
        "é",
        "\0",
        "(",
        "^",
        ":",
        "said :",
        "{facts} : half7",
        "half7",
        "totals",
        "-",
        "9" * 40,
        "٣+٣",
        "²",
        "½",
        "ß",
        "İ",
        "none",
        "flip",
        "\ud800",
        "doubles to",
        "a" * 2000,
    ]
)


@settings(
    max_examples=150, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.lists(nasty | st.text(max_size=8), max_size=6).map(" ".join) | st.text(st.characters(), max_size=60))
def test_nothing_typed_fails(shelf: Path, typed: str) -> None:
    assert index.find(shelf, typed).total >= 0


asks = st.lists(
    st.sampled_from(
        [
            "7+7",
            "3",
            "1+1=2",
            "4-2",
            "double 5",
            "half of 6",
            "doubles to 8",
            "flip",
            "none",
            "doubles",
            "e",
            "eggs",
            "Küche",
            "no",
            "12:30",
            "ss",
            "2026",
            "7",
        ]
    )
    | st.text(max_size=3),
    max_size=3,
)


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    some=st.lists(prompts(), max_size=8, unique_by=lambda p: p.slug),
    typed=st.lists(asks, min_size=3, max_size=6),
    since=st.sampled_from(["", "", "2025-12-31", "2026-01-01"]),
    until=st.sampled_from(["", "", "2025-12-31", "2026-03-02"]),
)
def test_find_equals_a_plain_filter(
    tmp_path_factory: pytest.TempPathFactory, some: list[Prompt], typed: list[list[str]], since: str, until: str
) -> None:
    place = tmp_path_factory.mktemp("catalog")
    for prompt in some:
        put(place, prompt)
    for words in map(" ".join, typed):
        asked = replace(parse(words), since=since, until=until)
        want = [prompt for prompt in some if asked.passes(prompt)]
        want.sort(key=lambda p: index_rows.row_of(p).key, reverse=True)
        assert list(index.find(place, words, limit=50, since=since, until=until).prompts) == want


def test_a_deleted_index_gives_the_same_answers(shelf: Path) -> None:
    before = index.find(shelf, "eggs", limit=99)
    for path in (shelf / ".index").iterdir():
        path.unlink()
    assert index.find(shelf, "eggs", limit=99) == before
    index.forget_index(shelf)
    assert index.find(shelf, "eggs", limit=99) == before


@pytest.mark.parametrize("spoil", [b"", b"no database" * 999, None])
def test_a_spoiled_index_is_built_again(shelf: Path, spoil: bytes | None) -> None:
    before = index.find(shelf, "eggs", limit=99)
    (path,) = (shelf / ".index").glob("*.sqlite")
    if spoil is None:
        with sqlite3.connect(path) as connection:
            connection.execute("DROP TABLE words")
        connection.close()
    else:
        path.write_bytes(spoil)
    assert index.find(shelf, "eggs", limit=99) == before


def test_an_index_of_another_version_is_built_again(shelf: Path) -> None:
    (shelf / ".index").mkdir()
    path = next(iter(index_db.places(shelf)))
    connection = sqlite3.connect(path)
    connection.executescript("CREATE TABLE prompts (x); PRAGMA user_version = 99;")
    connection.close()
    assert index.find(shelf, "window").total == 1


def test_a_hand_edit_is_seen_at_once_even_of_equal_length(shelf: Path) -> None:
    path = shelf / "panes.yaml"
    assert index.find(shelf, "glass").total == 1
    status = path.stat()
    path.write_bytes(path.read_bytes().replace(b"glass", b"frost"))
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert index.find(shelf, "glass").total == 0
    assert index.find(shelf, "frost").total == 1


def test_a_damaged_file_is_left_out_until_it_is_mended(shelf: Path) -> None:
    text = (shelf / "panes.yaml").read_text()
    (shelf / "panes.yaml").write_text("half written")
    assert index.find(shelf, "window").total == 0
    (shelf / "panes.yaml").write_text(text)
    assert index.find(shelf, "window").total == 1
    (shelf / "panes.yaml").unlink()
    assert index.find(shelf, "window").total == 0


def test_damaged_files_are_counted_as_they_come_and_go(shelf: Path) -> None:
    def count() -> int:
        return index.find(shelf, "nothing like it").damaged

    (shelf / "one.yaml").write_text("half written")
    assert count() == 1  # found while the index is filled
    text = (shelf / "panes.yaml").read_text()
    (shelf / "panes.yaml").write_text("half")
    (shelf / "two.yaml").write_text("format: 1")
    assert count() == 3
    (shelf / "two.yaml").write_text("format: 2")
    assert count() == 3
    (shelf / "panes.yaml").write_text(text)
    (shelf / "one.yaml").unlink()
    assert count() == 1
    (shelf / "two.yaml").unlink()
    assert count() == 0
    assert index.find(shelf, "window").total == 1


def test_changes_by_the_verbs_are_seen_at_once(tmp_path: Path) -> None:
    old = folder.add(tmp_path, prompt_of(7, "eggs", things="eggs"), picture_bytes())
    assert index.find(tmp_path, "7+7 eggs").total == 1
    folder.replace(tmp_path, replace(old, things="shoes", title="Shoes"))
    assert index.find(tmp_path, "shoes").prompts[0].things == "shoes"
    folder.remove(tmp_path, "eggs")
    assert index.find(tmp_path).total == 0


def test_a_large_folder_is_seen_a_little_later(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index, "SMALL", 3)
    monkeypatch.setattr(index, "REST", 0.05)
    assert index.find(shelf, "eggs").total == 12
    put(shelf, prompt_of(5, "more-eggs", source_sha256=sha_of("more")))
    for _ in range(200):
        if index.find(shelf, "eggs").total == 13:
            break
        threading.Event().wait(0.02)
    assert index.find(shelf, "eggs").total == 13
    assert [p.slug for p in index.by_source(shelf, sha_of("more"))] == ["more-eggs"]


def test_reading_very_many_is_said_once(
    shelf: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(index_compare, "MANY", 3)
    monkeypatch.setattr(index_compare, "YOUNG_NS", 0)
    index.find(shelf, "eggs")
    index.find(shelf, "shoes")
    (said,) = caplog.messages
    assert said.startswith("Reading 14 prompts")


def test_twins_are_found_at_once_in_a_large_folder_too(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index, "SMALL", 3)
    index.find(shelf, "eggs")
    put(shelf, prompt_of(5, "more-eggs", source_sha256=sha_of("more")))
    assert [p.slug for p in index.by_source(shelf, sha_of("more"))] == ["more-eggs"]


def test_own_changes_to_a_large_folder_are_seen_at_once(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index, "SMALL", 3)
    assert index.find(shelf, "eggs").total == 12
    kept = folder.add(shelf, prompt_of(5, "more-eggs", source_sha256=sha_of("more")), b"jpg")
    assert index.find(shelf, "eggs").total == 13
    folder.replace(shelf, replace(kept, tags=("brown",)))
    assert slugs(index.find(shelf, "brown")) == ["more-eggs"]
    folder.remove(shelf, "more-eggs")
    assert index.find(shelf, "eggs").total == 12


def test_many_threads_ask_at_once(shelf: Path) -> None:
    wrong: list[object] = []

    def ask() -> None:
        for _ in range(20):
            got = index.find(shelf, "eggs 7+7")
            if slugs(got) != ["eggs-7"]:
                wrong.append(got)

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong


def test_without_any_place_to_write_it_still_finds(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index_db, "places", lambda folder: [])
    assert slugs(index.find(shelf, "7+7 window")) == ["panes"]


def test_find_starts_without_the_picture_libraries(shelf: Path) -> None:
    code = (
        "import sys; from curator.cli import app\n"
        "try: app(['find', '7+7', '-c', sys.argv[1]])\n"
        "except SystemExit: pass\n"
        "print(sorted({'cv2', 'PIL', 'scipy', 'skimage', 'starlette', 'pptx', 'fpdf', 'jinja2'} & set(sys.modules)))"
    )
    got = subprocess.run([sys.executable, "-c", code, str(shelf)], capture_output=True, text=True, check=True)
    assert "eggs-7" in got.stdout
    assert got.stdout.rstrip().endswith("[]")


def test_a_prompt_removed_while_the_folder_is_read_stops_nobody(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = index_compare.reading.slugs

    def removing(place: Path) -> list[tuple[str, os.DirEntry[str]]]:
        found = list(real(place))
        if (place / "brooms.yaml").exists():
            (place / "brooms.yaml").unlink()
        return found

    before = index.find(shelf, "").total
    monkeypatch.setattr(index_compare.reading, "slugs", removing)
    (shelf / "brooms.yaml").write_text(to_yaml(prompt_of(3, "brooms")), encoding="utf-8")
    assert index.find(shelf, "").total == before
    index.forget_index(shelf)
    (shelf / "brooms.yaml").write_text(to_yaml(prompt_of(3, "brooms")), encoding="utf-8")
    found = index.find(shelf, "")  # while an index is filled, too
    assert (found.total, found.damaged) == (before, 0)


def test_files_just_written_are_read_once_and_a_change_under_the_same_stamp_is_seen(
    shelf: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reads: list[str] = []
    into = index_db.renew
    monkeypatch.setattr(index_db, "renew", lambda connection, row: reads.append(row.slug) or into(connection, row))
    assert index.find(shelf, "kitchen").total == 12
    first = len(reads)
    assert index.find(shelf, "kitchen").total == 12
    assert len(reads) == first  # young, but the same
    path = shelf / "eggs-3.yaml"
    before, status = path.read_bytes(), path.stat()
    path.write_bytes(before.replace(b"place: kitchen", b"place: kitchan"))
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))
    assert path.stat().st_size == status.st_size
    assert index.find(shelf, "kitchen").total == 11
    assert reads[first:] == ["eggs-3"]
    monkeypatch.setattr(index_compare, "YOUNG_NS", -(10**12))  # as some seconds later
    assert index.find(shelf, "kitchen").total == 11
    assert len(reads) == first + 1

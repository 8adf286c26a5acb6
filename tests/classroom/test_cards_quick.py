"""What makes cards quick changes nothing that is printed: the kept font, the size found by halving."""

from __future__ import annotations

from pathlib import Path

import pytest

from curator.classroom.writers import fonts, sheets


@pytest.fixture(autouse=True)
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of the test's own, and nothing remembered in this process."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    fonts._cut.cache_clear()
    return tmp_path / "curator"


def test_the_cut_font_is_kept_for_the_next_document_and_not_made_again(
    kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[int] = []
    monkeypatch.setattr(fonts, "_made", lambda signs, weight: made.append(weight) or b"font %d" % weight)
    assert fonts.cut(frozenset("7+7=14 eggs"), fonts.BOLD) == b"font 650"
    fonts._cut.cache_clear()  # another process
    assert fonts.cut(frozenset("¿Cuántos huevos? “así”"), fonts.BOLD) == b"font 650"
    assert made == [fonts.BOLD]
    assert [path.suffix for path in kept.iterdir()] == [".ttf"]
    assert fonts.cut(frozenset("ביצים"), fonts.BOLD) == b"font 650"
    assert made == [fonts.BOLD] * 2  # other letters are cut for their document alone
    assert len(list(kept.iterdir())) == 1


def test_without_a_place_to_keep_it_the_font_is_cut(
    kept: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept.write_text("a file where the folder should be")
    monkeypatch.setattr(fonts, "_made", lambda signs, weight: b"font")
    assert fonts.cut(frozenset("eggs"), fonts.REGULAR) == b"font"


@pytest.mark.parametrize("room", [400.0, 36.0, 30.0, 24.0, 18.0, 12.0, 6.0, 0.0])
def test_the_size_found_is_the_largest_that_fits(room: float, monkeypatch: pytest.MonkeyPatch) -> None:
    put: list[float] = []

    class Measured:
        _share = sheets.Sheets._share

        def high(self, text: str, style: str, size: float, wide: float, share: float = 1.0) -> float:
            return len(text) * size * share * -(-len(text) * share // 20)

        def _unbroken(self, text: str, style: str, size: float, wide: float, share: float) -> bool:
            return True

        def put(self, text: str, style: str, size: float, *place: float) -> None:
            put.append(size)

    lines = [("two and two", "", 1.0), ("eggs", "B", 1.5)]
    sheets.Sheets._column(Measured(), lines, 0, 0, 40, room)  # type: ignore[arg-type]
    tall = [sum(Measured().high(*line, 40, share) for line in lines) for share in sheets.SHARES]
    want = next((share for share, high in zip(sheets.SHARES, tall, strict=True) if high <= room), sheets.SHARES[-1])
    assert put == [want, 1.5 * want]

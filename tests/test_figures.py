"""The table of figures is read back as it was written, so that one part can be measured anew in its place."""

from __future__ import annotations

from pathlib import Path

from tests.bench.__main__ import section, sections
from tests.bench.rows import Row, Took, as_markdown, as_svg, read

ROWS = [
    Row("whole line, JPEG, 12 MP", 1234.56, 4.25, "reduced decode", "9 photos", 2000.5),
    Row("lesson: drawn", 0.25, None, "", "", 0.5),
    Row("reduced decode, JPEG, 12 MP", 290.5, None, "", "", 295.0, own=False),
]


def test_a_table_is_read_back() -> None:
    assert read(as_markdown(ROWS)) == ROWS


def test_parts_keep_what_stands_in_them() -> None:
    one, other = section(ROWS, Took(9, 12)), section(ROWS[1:], Took(3, 4))
    text = f"# Figures\n\nSaid first.\n\n## line\n\n{one}\n## lesson\n\n{other}"
    found = sections(text)
    assert list(found) == ["line", "lesson"]
    assert read(found["line"]) == ROWS
    assert read(found["lesson"]) == ROWS[1:]
    assert sections("") == {}


def test_the_chart_has_a_bar_for_each_row_and_says_how_many_times_the_floor() -> None:
    drawn = as_svg({"A photo": ROWS[:2], "Beside it": ROWS[2:]})
    assert drawn.count('fill="#2f6f9f"') == 2
    assert drawn.count('fill="#999"') == 1
    assert all(said in drawn for said in (">A photo<", ">1.23 s<", ">4.25 times<", ">0.25 ms<"))
    assert 'height="188"' in drawn  # two headings, three rows


def test_the_kept_figures_can_be_read() -> None:
    kept = sections((Path(__file__).parents[1] / ".docs" / "figures.md").read_text(encoding="utf-8"))
    assert kept
    assert all(read(body) for body in kept.values())

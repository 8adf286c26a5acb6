"""Rows of the table of figures, their Markdown and their chart."""

from __future__ import annotations

import math
import resource
import statistics
import time
from collections.abc import Callable, Mapping, Sequence
from html import escape
from typing import NamedTuple


class Row(NamedTuple):
    """One figure. `ms` is processor time, of all threads and of processes that ended: a median where calls were
    repeated. `floor` names what the ratio is to, and is "" where there is none. `own` is false for what is only
    compared with: a floor, another way.
    """

    name: str
    ms: float
    ratio: float | None = None
    floor: str = ""
    beside: str = ""  # accuracy, memory, how it grows
    clock: float = 0.0  # milliseconds by the clock, which on a busy machine say how busy it was
    own: bool = True


class Took(NamedTuple):
    """Milliseconds of one call."""

    cpu: float
    clock: float


def timed(work: Callable[[], object]) -> Took:
    """One call: processor time of this process and of those that it waited for, and time by the clock."""
    start, used = time.perf_counter(), _used()
    work()
    return Took((_used() - used) * 1000, (time.perf_counter() - start) * 1000)


def _used() -> float:
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def by_turns(works: dict[str, Callable[[], object]], turns: int, *, warm: bool = True) -> dict[str, Took]:
    """Medians of each, after one turn that does not count; they take turns."""
    took: dict[str, list[Took]] = {name: [] for name in works}
    for turn in range(turns + warm):
        for name, work in works.items():
            one = timed(work)
            if turn >= warm:
                took[name].append(one)
    return {name: middle(values) for name, values in took.items()}


def middle(took: Sequence[Took]) -> Took:
    """The median of each of the two."""
    return Took(statistics.median(t.cpu for t in took), statistics.median(t.clock for t in took))


def grows(sizes: list[int], times: list[float]) -> str:
    """The exponent of a power law through the points (least squares of the logarithms)."""
    x, y = [math.log(n) for n in sizes], [math.log(max(t, 1e-6)) for t in times]
    mx, my = statistics.mean(x), statistics.mean(y)
    power = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)
    return f"grows as n^{power:.2f} over {', '.join(f'{n:,}' for n in sizes)}"


HEAD = "| what | ms of processor | times | of what | beside it | ms by the clock |"


def as_markdown(rows: Sequence[Row]) -> str:
    """A table, in italics what is only compared with; `read` is the inverse."""
    lines = [HEAD, "|---|---|---|---|---|---|"]
    for row in rows:
        ratio = "" if row.ratio is None else f"{row.ratio:.2f}"
        name = row.name if row.own else f"*{row.name}*"
        lines.append(f"| {name} | {row.ms:,.2f} | {ratio} | {row.floor} | {row.beside} | {row.clock:,.1f} |")
    return "\n".join(lines) + "\n"


def read(table: str) -> list[Row]:
    """The rows of such a table, whatever stands around it."""
    rows = []
    for line in table.splitlines():
        if line.startswith("| ") and line != HEAD:
            name, ms, ratio, floor, beside, clock = (cell.strip() for cell in line.strip("|").split("|"))
            number = [float(text.replace(",", "")) for text in (ms, clock)]
            times = float(ratio) if ratio else None
            rows.append(Row(name.strip("*"), number[0], times, floor, beside, number[1], not name.startswith("*")))
    return rows


HIGH, LEFT, WIDE, RIGHT = 20, 300, 420, 220  # of a row, the names, the bars, what stands behind them: pixels


def as_svg(parts: Mapping[str, Sequence[Row]]) -> str:
    """A bar for each row under its part's heading, processor time on a logarithmic scale; behind it the time, and in
    bold how many times its floor.
    """
    parts = {title: kept for title, rows in parts.items() if (kept := [row for row in rows if row.ms > 0])}
    every = [row.ms for rows in parts.values() for row in rows]
    low, high = math.floor(math.log10(min(every))), math.ceil(math.log10(max(every)))
    tall = 60 + sum(34 + HIGH * len(rows) for rows in parts.values())

    def across(ms: float) -> float:
        return LEFT + (math.log10(ms) - low) * WIDE / max(1, high - low)

    said = "Processor time; each line is ten times the one before. Bold: times its floor. Grey: only compared with."
    drawn = [_text(LEFT, 18, said)]
    for power in range(low, high + 1):
        x = across(10.0**power)
        drawn.append(f'<line x1="{x:.0f}" y1="28" x2="{x:.0f}" y2="{tall - 26}" stroke="#ddd"/>')
        drawn.append(_text(x, tall - 10, _time(10.0**power), "middle"))
    y = 34
    for title, rows in parts.items():
        drawn.append(_text(LEFT - 8, y + 20, title, "end", weight="bold"))
        y += 28
        for row in rows:
            drawn += _bar(row, y, across(row.ms))
            y += HIGH
        y += 6
    size = f'width="{LEFT + WIDE + RIGHT}" height="{tall}" font-family="sans-serif" font-size="12"'
    ground = '<rect width="100%" height="100%" fill="#fff"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{ground}{"".join(drawn)}</svg>\n'


def _bar(row: Row, y: float, end: float) -> list[str]:
    told = _time(row.ms) + (f", {row.beside}" if row.beside.startswith("exact") else "")
    fill = "#2f6f9f" if row.own else "#999"
    drawn = [
        _text(LEFT - 8, y + 12, row.name, "end"),
        f'<rect x="{LEFT}" y="{y:.0f}" width="{max(1, end - LEFT):.0f}" height="{HIGH - 5}" fill="{fill}"/>',
        _text(end + 6, y + 12, told),
    ]
    if row.ratio is not None:
        drawn.append(_text(end + 16 + 7 * len(told), y + 12, f"{row.ratio:.3g} times", weight="bold"))
    return drawn


def _text(x: float, y: float, said: str, anchor: str = "start", *, weight: str = "normal") -> str:
    style = f'text-anchor="{anchor}" font-weight="{weight}" fill="#222"'
    return f'<text x="{x:.0f}" y="{y:.0f}" {style}>{escape(said)}</text>'


def _time(ms: float) -> str:
    """In milliseconds or seconds, three digits."""
    if ms < 999.5:
        return f"{ms:.3g} ms"
    return f"{ms / 1000:.3g} s" if ms < 999_500 else f"{ms / 1000:,.0f} s"

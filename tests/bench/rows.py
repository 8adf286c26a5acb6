"""Rows of the table of figures, their Markdown and their chart."""

from __future__ import annotations

import math
import resource
import statistics
import time
from collections.abc import Callable, Sequence
from html import escape
from typing import NamedTuple


class Row(NamedTuple):
    """One figure. `ms` is processor time, of all threads and of processes that ended: a median where calls were
    repeated. `floor` names what the ratio is to, and is "" where there is none.
    """

    name: str
    ms: float
    ratio: float | None = None
    floor: str = ""
    beside: str = ""  # accuracy, memory, how it grows
    clock: float = 0.0  # milliseconds by the clock, which on a busy machine say how busy it was


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
    """A table; `read` is the inverse."""
    lines = [HEAD, "|---|---|---|---|---|---|"]
    for row in rows:
        ratio = "" if row.ratio is None else f"{row.ratio:.2f}"
        lines.append(f"| {row.name} | {row.ms:,.2f} | {ratio} | {row.floor} | {row.beside} | {row.clock:,.1f} |")
    return "\n".join(lines) + "\n"


def read(table: str) -> list[Row]:
    """The rows of such a table, whatever stands around it."""
    rows = []
    for line in table.splitlines():
        if line.startswith("| ") and line != HEAD:
            name, ms, ratio, floor, beside, clock = (cell.strip() for cell in line.strip("|").split("|"))
            number = [float(text.replace(",", "")) for text in (ms, clock)]
            rows.append(Row(name, number[0], float(ratio) if ratio else None, floor, beside, number[1]))
    return rows


def as_svg(rows: list[Row]) -> str:
    """A bar for each row, milliseconds of processor time on a logarithmic scale, and how many times its floor."""
    rows = [row for row in rows if row.ms > 0]
    height, left, wide = 20, 360, 420
    low, high = math.floor(math.log10(min(r.ms for r in rows))), math.ceil(math.log10(max(r.ms for r in rows)))
    scale = wide / max(1, high - low)
    said = "ms of processor time, each line ten times the one before; in bold, how many times its floor"
    parts = [f'<text x="{left - 100}" y="14" fill="#444">{said}</text>']
    for power in range(low, high + 1):
        x = left + (power - low) * scale
        parts.append(f'<line x1="{x:.0f}" y1="20" x2="{x:.0f}" y2="{30 + height * len(rows)}" stroke="#ccc"/>')
        parts.append(f'<text x="{x:.0f}" y="{44 + height * len(rows)}" text-anchor="middle">{10.0**power:g}</text>')
    for k, row in enumerate(rows):
        y, long = 26 + height * k, (math.log10(row.ms) - low) * scale
        parts.append(f'<text x="{left - 8}" y="{y + 13}" text-anchor="end">{escape(row.name[:56])}</text>')
        parts.append(f'<rect x="{left}" y="{y}" width="{max(1, long):.0f}" height="{height - 6}" fill="#2f6f9f"/>')
        if row.ratio is not None:
            said = f"{row.ratio:.2f}".rstrip("0").rstrip(".")
            parts.append(f'<text x="{left + long + 6:.0f}" y="{y + 13}" font-weight="bold">{said}</text>')
    size = f'width="{left + wide + 70}" height="{60 + height * len(rows)}"'
    style = 'font-family="sans-serif" font-size="12"'
    ground = '<rect width="100%" height="100%" fill="#fff"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {style}>{ground}{"".join(parts)}</svg>\n'

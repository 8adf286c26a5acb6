"""Rows of the table of figures, their Markdown and their chart."""

from __future__ import annotations

import math
import statistics
import time
from collections.abc import Callable
from html import escape
from typing import NamedTuple


class Row(NamedTuple):
    """One figure. `ms` is a median; `floor` names what the ratio is to, and is "" where there is none."""

    name: str
    ms: float
    ratio: float | None = None
    floor: str = ""
    beside: str = ""  # accuracy, memory, how it grows


def timed(work: Callable[[], object]) -> float:
    """Milliseconds of one call."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def by_turns(works: dict[str, Callable[[], object]], turns: int) -> dict[str, float]:
    """Median milliseconds of each, after one turn that does not count; they take turns."""
    took: dict[str, list[float]] = {name: [] for name in works}
    for turn in range(turns + 1):
        for name, work in works.items():
            ms = timed(work)
            if turn:
                took[name].append(ms)
    return {name: statistics.median(values) for name, values in took.items()}


def grows(sizes: list[int], times: list[float]) -> str:
    """The exponent of a power law through the points (least squares of the logarithms)."""
    x, y = [math.log(n) for n in sizes], [math.log(max(t, 1e-6)) for t in times]
    mx, my = statistics.mean(x), statistics.mean(y)
    power = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)
    return f"grows as n^{power:.2f} over {', '.join(f'{n:,}' for n in sizes)}"


def as_markdown(rows: list[Row]) -> str:
    lines = ["| what | ms | times | of what | beside it |", "|---|---|---|---|---|"]
    for row in rows:
        ratio = "" if row.ratio is None else f"{row.ratio:.2f}"
        lines.append(f"| {row.name} | {row.ms:,.1f} | {ratio} | {row.floor} | {row.beside} |")
    return "\n".join(lines) + "\n"


def as_svg(rows: list[Row]) -> str:
    """A bar for each row, milliseconds on a logarithmic scale."""
    height, left, wide = 22, 300, 420
    low, high = math.floor(math.log10(min(r.ms for r in rows))), math.ceil(math.log10(max(r.ms for r in rows)))
    scale = wide / max(1, high - low)
    parts = [f'<text x="{left}" y="14" fill="#444">milliseconds, each line ten times the one before</text>']
    for power in range(low, high + 1):
        x = left + (power - low) * scale
        parts.append(f'<line x1="{x:.0f}" y1="20" x2="{x:.0f}" y2="{30 + height * len(rows)}" stroke="#ccc"/>')
        parts.append(f'<text x="{x:.0f}" y="{44 + height * len(rows)}" text-anchor="middle">{10.0**power:g}</text>')
    for k, row in enumerate(rows):
        y, long = 26 + height * k, (math.log10(row.ms) - low) * scale
        parts.append(f'<text x="{left - 8}" y="{y + 13}" text-anchor="end">{escape(row.name[:48])}</text>')
        parts.append(f'<rect x="{left}" y="{y}" width="{max(1, long):.0f}" height="{height - 6}" fill="#2f6f9f"/>')
    size = f'width="{left + wide + 30}" height="{60 + height * len(rows)}"'
    style = 'font-family="sans-serif" font-size="12"'
    ground = '<rect width="100%" height="100%" fill="#fff"/>'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {style}>{ground}{"".join(parts)}</svg>\n'

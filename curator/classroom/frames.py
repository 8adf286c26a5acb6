"""The drawn twin of a fact: counters on ten frames; and its number bond.

Up to 5 + 5 on one frame, n over n; above, a frame for each half side by side; past 10 a second one under each. In the
narrow place beside a picture the frames of the halves lie one over the other.
"""

from __future__ import annotations

from html import escape
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.records import Dot, Fact, Prompt

Pixels = NDArray[np.uint8]
INK, COUNTER, GROUND = (20, 20, 20), (178, 44, 52), (250, 250, 250)  # counter on ground 6:1, ink on ground 17:1
COUNTER_SIZE = 0.68  # of a cell
Blank = Literal["whole", "part", "none"]


class Layout(NamedTuple):
    """Lengths in cells from the top left: every cell's corner, and the counters with their side."""

    width: float
    height: float
    cells: tuple[tuple[float, float], ...]
    counters: tuple[tuple[float, float, int], ...]  # x, y of the middle, side


def layout(fact: Fact) -> Layout:
    """Where cells and counters of a double lie."""
    return layout_of(fact.half, fact.half)


def layout_of(one: int, other: int, *, stacked: bool = False) -> Layout:
    """Where cells and counters lie: one row over the other on one frame up to five each, else a frame for each, side by
    side or (stacked) one over the other.
    """
    blocks = _blocks(one, other, stacked)
    wide, tall = (
        max(across for across, _, _ in blocks) + 5,
        max(down + (len(sides) + 4) // 5 for _, down, sides in blocks),
    )
    left = 1.5 if wide == 5 else 1.0
    width, height = wide + 2 * left, tall + 2
    cells: list[tuple[float, float]] = []
    counters: list[tuple[float, float, int]] = []
    for across, down, sides in blocks:
        for n, side in enumerate(sides):
            x, y = left + across + n % 5, 1 + down + n // 5
            cells.append((x, y))
            if side:
                counters.append((x + 0.5, y + 0.5, side))
    return Layout(width, height, tuple(cells), tuple(sorted(counters, key=lambda c: c[2])))


def _blocks(one: int, other: int, stacked: bool) -> list[tuple[float, float, list[int]]]:
    """Each frame's place in cells and the side of the counter in each of its ten cells (0 empty)."""
    if max(one, other) <= 5:
        return [(0, 0, ([1] * one + [0] * (5 - one)) + ([2] * other + [0] * (5 - other)))]
    return [
        (6 * (second if stacked else n), 2.5 * (n if stacked else second), [n + 1] * count + [0] * (10 - count))
        for n, held in enumerate((one, other))
        for second, count in enumerate((min(held, 10), held - 10))
        if count > 0
    ]


def counters(one: int, other: int, hollow: int = 0, longer: int = 900) -> Pixels:
    """The ten frame of two parts beside a picture, frames one over the other.

    The last `hollow` counters are rings: they were hidden, or came.
    """
    import cv2

    plan = layout_of(one, other, stacked=True)
    cell = longer / plan.width
    canvas = _canvas(plan, longer)
    for n, (x, y, _) in enumerate(plan.counters):
        at, radius = (round(x * cell), round(y * cell)), round(COUNTER_SIZE * cell / 2)
        full = n < len(plan.counters) - hollow
        line = max(3, round(cell / 12))
        cv2.circle(canvas, at, radius - (0 if full else line // 2), COUNTER, -1 if full else line, cv2.LINE_AA)
    rim = round(0.6 * cell)  # a narrower margin than a picture of its own has
    side = rim + round((1 if plan.width > 8 else 1.5) * cell) - round(cell)
    return np.ascontiguousarray(canvas[rim : canvas.shape[0] - rim, side : canvas.shape[1] - side])


def _canvas(plan: Layout, longer: int) -> Pixels:
    """The empty cells."""
    import cv2

    cell = longer / plan.width
    canvas: Pixels = np.full((round(plan.height * cell), longer, 3), GROUND, np.uint8)
    for x, y in plan.cells:
        corners = [(round(a * cell), round(b * cell)) for a, b in ((x, y), (x + 1, y + 1))]
        cv2.rectangle(canvas, corners[0], corners[1], INK, max(3, round(cell / 30)))
    return canvas


def frame(fact: Fact, longer: int = 1920) -> tuple[Pixels, Prompt]:
    """The ten frames as pixels, and a prompt with their counters: a picture to ring and cover like a photo."""
    import cv2

    plan = layout(fact)
    cell = longer / plan.width
    canvas = _canvas(plan, longer)
    for x, y, _ in plan.counters:
        at = (round(x * cell), round(y * cell))
        cv2.circle(canvas, at, round(COUNTER_SIZE * cell / 2), COUNTER, -1, cv2.LINE_AA)
    size = (COUNTER_SIZE / plan.width, COUNTER_SIZE / plan.height)
    dots = tuple(Dot(x / plan.width, y / plan.height, side, *size) for x, y, side in plan.counters)
    return canvas, Prompt("ten-frame", "", fact, "slide", "ten-frame.png", dots)


def cells(fact: Fact, size: tuple[int, int]) -> NDArray[np.uint8]:
    """(H, W) the cells of a frame's picture: 1 + i where the counter of dot i lies, its free cells with the last
    counter before them, 0 beside the frames.
    """
    plan = layout(fact)
    out = np.zeros(size, np.uint8)
    scale = np.array([size[1] / plan.width, size[0] / plan.height])
    at = np.array([(x, y) for x, y, _ in plan.counters]) - 0.5
    owner = 0
    for x, y in plan.cells:
        here = np.flatnonzero(np.abs(at - (x, y)).max(axis=1) < 0.1)
        if len(here):
            owner = int(here[0])
        (left, top), (right, bottom) = np.round((x, y) * scale), np.round((x + 1, y + 1) * scale)
        out[int(top) : int(bottom), int(left) : int(right)] = 1 + owner
    return out


def last(prompt: Prompt, k: int) -> list[int]:
    """The last k counters of a frame's prompt, as they are read. ValueError for none or all of them."""
    if not 0 < k < len(prompt.dots):
        raise ValueError(f"k: expected 1 to {len(prompt.dots) - 1}, got {k}")
    return list(range(len(prompt.dots) - k, len(prompt.dots)))


def svg(fact: Fact, *, total_shown: bool = True, cell: int = 120) -> tuple[str, int, int]:
    """The ten frames as SVG with their width and height. The title names no number; total_shown writes it below."""
    plan = layout(fact)
    below = 1.0 if total_shown else 0.0
    width, height = round(plan.width * cell), round((plan.height + below) * cell)
    parts = [
        f'<rect x="{x * cell:g}" y="{y * cell:g}" width="{cell}" height="{cell}" fill="none" '
        f'stroke="{_hex(INK)}" stroke-width="4"/>'
        for x, y in plan.cells
    ]
    parts += [
        f'<circle cx="{x * cell:g}" cy="{y * cell:g}" r="{COUNTER_SIZE * cell / 2:g}" fill="{_hex(COUNTER)}"/>'
        for x, y, _ in plan.counters
    ]
    if total_shown:
        parts.append(_text(width / 2, height - 0.6 * cell, str(fact.total), 0.9 * cell))
    return _svg(width, height, "Ten frame with counters", parts), width, height


def bond(fact: Fact, blank: Blank = "none", *, size: int = 900) -> tuple[str, int, int]:
    """The number bond as SVG: the whole above, the two parts below, with one place left open."""
    whole = "?" if blank == "whole" else str(fact.total)
    return bond_of(whole, str(fact.half), "?" if blank == "part" else str(fact.half), size=size)


def bond_of(whole_said: str, one: str, other: str, *, size: int = 900) -> tuple[str, int, int]:
    """The number bond of any whole and two parts as SVG; "?" stands in a dashed place."""
    whole, left, right = (size / 2, 0.24 * size), (0.24 * size, 0.66 * size), (0.76 * size, 0.66 * size)
    radius, height = 0.19 * size, round(0.9 * size)
    texts = {whole: whole_said, left: one, right: other}
    parts = [
        f'<line x1="{whole[0]:g}" y1="{whole[1]:g}" x2="{x:g}" y2="{y:g}" stroke="{_hex(INK)}" stroke-width="10"/>'
        for x, y in (left, right)
    ]
    for (x, y), words in texts.items():
        dash = ' stroke-dasharray="24 16"' if words == "?" else ""
        parts.append(
            f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="#ffffff" stroke="{_hex(INK)}" '
            f'stroke-width="10"{dash}/>'
        )
        parts.append(_text(x, y, words, radius))
    return _svg(size, height, "Number bond", parts), size, height


def _text(x: float, y: float, words: str, size: float) -> str:
    return (
        f'<text x="{x:g}" y="{y + 0.35 * size:g}" font-family="sans-serif" font-size="{size:g}" font-weight="bold" '
        f'text-anchor="middle" fill="{_hex(INK)}">{escape(words)}</text>'
    )


def _svg(width: int, height: int, title: str, parts: list[str]) -> str:
    body = "".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" '
        f'height="{height}" role="img">'
        f'<title>{escape(title)}</title><rect width="{width}" height="{height}" fill="{_hex(GROUND)}"/>{body}</svg>\n'
    )


def _hex(color: tuple[int, int, int]) -> str:
    return "#{:02x}{:02x}{:02x}".format(*color)

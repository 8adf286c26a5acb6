"""A small catalog of drawn discs whose truth is known, for the tests of lessons."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from curator.catalog.store import folder as catalog
from curator.records import Dot, Fact, Prompt, PromptKind

SIZE = (960, 720)  # width, height
Places = list[tuple[float, float, int]]


def two_rows(n: int) -> Places:
    """n over n."""
    return [((i + 1) / (n + 1), y, side) for side, y in ((1, 0.35), (2, 0.65)) for i in range(n)]


def two_blocks(n: int) -> Places:
    """Two groups apart, each of rows of three."""
    return [
        (left + 0.1 * (i % 3), 0.2 + 0.15 * (i // 3), side) for side, left in ((1, 0.12), (2, 0.62)) for i in range(n)
    ]


def parts(one: int, other: int, left: int = 0) -> Places:
    """Two rows that differ, and what is left over below."""
    rows = [
        ((i + 1) / (max(one, other) + 1), y, side) for side, y, n in ((1, 0.3, one), (2, 0.5, other)) for i in range(n)
    ]
    return rows + [(0.5 + 0.1 * i, 0.8, 0) for i in range(left)]


def picture(places: Places, tint: tuple[int, int, int]) -> bytes:
    """A JPEG of discs on a table."""
    canvas = np.full((SIZE[1], SIZE[0], 3), (208, 222, 228), dtype=np.uint8)
    for x, y, _ in places:
        cv2.circle(canvas, (round(x * SIZE[0]), round(y * SIZE[1])), 22, tint, -1, cv2.LINE_AA)
    return bytes(cv2.imencode(".jpg", canvas)[1].tobytes())


def prompt(slug: str, places: Places, kind: PromptKind, thing: str, things: str, **more: object) -> Prompt:
    """The prompt of such a picture."""
    one = sum(side == 1 for _, _, side in places)
    dots = tuple(Dot(round(x, 4), round(y, 4), side, 44 / SIZE[0], 44 / SIZE[1]) for x, y, side in places)
    fields: dict[str, object] = {
        "title": things.capitalize() + ", kitchen",
        "place": "kitchen",
        "credit": "Porch School",
        "license": "CC0-1.0",
        "people": "none",
        "checked_by": "class 1",
        "grade": "sure" if kind != "none" else "no",
    }
    fact = None if kind == "none" else Fact(one)
    line = ((0.0, 0.5), (1.0, 0.5)) if kind == "slide" else ((0.5, 0.0), (0.5, 1.0)) if kind != "none" else None
    return Prompt(
        slug=slug,
        fact=fact,
        kind=kind,
        picture=f"{slug}.jpg",
        dots=dots,
        line=line,
        thing=thing,
        things=things,
        **{**fields, **more},
    )  # type: ignore[arg-type]


def add(folder: Path, one: Prompt, places: Places, tint: tuple[int, int, int] = (60, 110, 190)) -> Prompt:
    """Put it in the catalog."""
    return catalog.add(folder, one, picture(places, tint), twin_ok=True)


def build(folder: Path) -> Path:
    """Every half but 11, as two rows of eggs and as two blocks of buttons; 4 and 6; a near double, 4 and 5."""
    for n in (*range(1, 11), 12):
        add(folder, prompt(f"eggs-{n}", two_rows(n), "slide", "egg", "eggs"), two_rows(n))
        add(folder, prompt(f"buttons-{n}", two_blocks(n), "split", "button", "buttons"), two_blocks(n), (40, 120, 60))
    add(folder, prompt("shells", parts(4, 6), "none", "shell", "shells"), parts(4, 6), (90, 90, 200))
    add(folder, prompt("leaves", parts(4, 5), "none", "leaf", "leaves"), parts(4, 5), (60, 160, 90))
    return folder

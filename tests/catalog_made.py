"""Prompts and catalogs made up for the tests of the catalog."""

from __future__ import annotations

import hashlib
import io
from functools import cache
from typing import Any

from hypothesis import strategies as st
from PIL import Image

from curator.records import GRADES, PEOPLE, Area, Dot, Fact, Prompt


def sha_of(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


@cache
def picture_bytes(seed: int = 0, side: int = 48) -> bytes:
    """A small real JPEG."""
    image = Image.new("RGB", (side, side), (seed % 256, 120, 200))
    image.paste((20, 20, 20), (4 + seed % 20, 4, 24 + seed % 20, 24))
    buffer = io.BytesIO()
    image.save(buffer, "JPEG")
    return buffer.getvalue()


def prompt_of(half: int = 7, slug: str = "eggs", **more: Any) -> Prompt:
    """A double of `half`, in two rows; half 0 gives three things that make no double."""
    dots = tuple(Dot(round((i // 2 + 1) / 14, 4), 0.3 + 0.4 * (i % 2), 1 + i % 2) for i in range(2 * half))
    if not half:
        dots = (Dot(0.2, 0.5, 1), Dot(0.5, 0.5, 2), Dot(0.8, 0.5, 0))
    values: dict[str, Any] = {
        "slug": slug,
        "title": "Eggs",
        "fact": Fact(half) if half else None,
        "kind": "slide" if half else "none",
        "picture": f"{slug}.jpg",
        "dots": dots,
        "grade": "sure" if half else "no",
        "confidence": 0.9,
        "source_sha256": sha_of(slug),
        "added": "2026-03-02",
    }
    return Prompt(**values | more)


_words = st.text(max_size=20) | st.sampled_from(
    [
        "no",
        "on",
        "12:30",
        "1e5",
        "~",
        "null",
        "7+7",
        "- a",
        "a: b",
        "#x",
        "'",
        '"',
        "eggs",
        "Küche",
        "\u2028",
        "2026-01-01",
    ]
)
_fraction = st.floats(0, 1, allow_nan=False)
_low, _high = st.floats(0, 0.4), st.floats(0.5, 1)
_dot = st.builds(Dot, _fraction, _fraction, st.just(0), _fraction, _fraction)


@st.composite
def prompts(draw: st.DrawFn) -> Prompt:
    """Any prompt that its own checks allow."""
    half = draw(st.integers(0, 12))
    dots = [draw(_dot)._replace(side=side) for side in (1, 2) for _ in range(half)]
    dots += draw(st.lists(_dot, min_size=0 if half else 1, max_size=3))
    line = st.none() | st.tuples(st.tuples(_fraction, _fraction), st.tuples(_fraction, _fraction))
    slug = draw(st.from_regex(r"[a-z0-9]{1,6}(-[a-z0-9]{1,6}){0,2}", fullmatch=True))
    return Prompt(
        slug=slug,
        title=draw(_words),
        fact=Fact(half) if half else None,
        kind=draw(st.sampled_from(["flip", "slide", "turn", "split"])) if half else "none",
        picture=f"{slug}.jpg",
        dots=tuple(draw(st.permutations(dots))),
        line=draw(line),
        tags=tuple(draw(st.lists(_words, max_size=3))),
        thing=draw(_words),
        things=draw(_words),
        place=draw(_words),
        grade=draw(st.sampled_from(GRADES)),
        confidence=draw(_fraction),
        checked_by=draw(_words),
        touched=draw(st.integers(0, 99)),
        credit=draw(_words),
        license=draw(_words),
        people=draw(st.sampled_from(PEOPLE)),
        faces=draw(_words),
        alt_before=draw(_words),
        alt_after=draw(_words),
        area=draw(st.none() | st.builds(Area, _low, _low, _high, _high)),
        source_sha256=draw(st.just("") | st.sampled_from([sha_of("a"), sha_of("b")])),
        phash=draw(st.sampled_from(["", "0123456789abcdef", "0" * 16])),
        added=draw(st.sampled_from(["", "2026-03-02", "2025-12-31", "some day"])),
        notes=draw(_words),
    )

"""The pictures of one scene, made once and kept as files in memory: plain, ringed, covered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.classroom import frames, pictures
from curator.classroom.marking import overlays
from curator.classroom.marking.outlines import boxed
from curator.records import Fact, Prompt

Pixels = NDArray[np.uint8]
QUALITY = 84  # JPEG: about 300 kB for a full-HD photo, no halo to be seen along a ring


class Layer(NamedTuple):
    """What a view adds to the plain picture: a PNG, transparent elsewhere, and where it lies."""

    data: bytes
    place: tuple[float, float, float, float]  # left, top, width, height in fractions of the picture


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """Encoded pictures of one size; b"" where a view is not asked for.

    overlays: what each view adds; the page lays it over the one photo.
    """

    size: tuple[int, int]  # width, height in pixels
    plain: bytes
    rings: bytes = b""
    cover: bytes = b""
    other_cover: bytes = b""
    some: bytes = b""
    dots: bytes = b""
    overlays: dict[str, Layer] = field(default_factory=dict)


def photo_views(folder: Path, prompt: Prompt, stages: Sequence[str], side: int, hide: int, longer: int) -> Views:
    """The views of a photo that these stages need; "dots" among them asks for a mark on each thing."""
    there = pictures.opened(folder, prompt, wide=longer, tall=longer, doing="Making the lesson.")
    return _encoded(_drawn(there, stages, side, hide))


def frame_views(fact: Fact, stages: Sequence[str], side: int, hide: int, longer: int) -> Views:
    """The same views of the fact's ten frame."""
    canvas, prompt = frames.frame(fact, longer)
    small = (canvas.shape[0] // 2, canvas.shape[1] // 2)
    return _encoded(_drawn(pictures.Opened(canvas, prompt, boxed(prompt, small)), stages, side, hide))


def _drawn(there: pictures.Opened, stages: Sequence[str], side: int, hide: int) -> dict[str, Pixels]:
    found = {"plain": there.photo}
    if there.prompt.dots:
        found["rings"] = overlays.ringed(*there)
    if "dots" in stages and there.prompt.dots:
        found["dots"] = overlays.dotted(there.photo, there.prompt)
    if "cover" in stages:
        found["cover"] = overlays.covered(*there, side)
        found["other_cover"] = overlays.covered(*there, 3 - side)
    if "not_half" in stages:
        found["some"] = overlays.covered_some(*there, hide)
    return found


def _encoded(drawn: dict[str, Pixels]) -> Views:
    plain = drawn["plain"]
    layers = {name: _overlay(plain, view) for name, view in drawn.items() if name != "plain"}
    overlays = {name: layer for name, layer in layers.items() if layer is not None}
    height, width = plain.shape[:2]
    return Views((width, height), **{name: _jpeg(view) for name, view in drawn.items()}, overlays=overlays)


def _jpeg(pixels: Pixels) -> bytes:
    import cv2

    ok, data = cv2.imencode(".jpg", np.ascontiguousarray(pixels[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    assert ok
    return bytes(data.tobytes())


def _overlay(plain: Pixels, view: Pixels) -> Layer | None:
    """What view changes of plain, cut to where it does; None where the two differ in size."""
    import cv2

    if plain.shape != view.shape:
        return None
    same = cv2.inRange(cv2.absdiff(plain, view), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    changed = cv2.bitwise_not(same)
    left, top, width, height = cv2.boundingRect(changed)
    if not width:
        return None
    part = np.s_[top : top + height, left : left + width]
    layer = cv2.cvtColor(np.ascontiguousarray(view[part]), cv2.COLOR_RGB2BGRA)
    layer[..., 3] = changed[part]
    out = cv2.bitwise_and(layer, layer, mask=np.ascontiguousarray(changed[part]))
    ok, data = cv2.imencode(".png", out, [cv2.IMWRITE_PNG_COMPRESSION, 2])
    assert ok
    rows, columns = changed.shape
    return Layer(data.tobytes(), (left / columns, top / rows, width / columns, height / rows))

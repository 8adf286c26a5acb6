"""The pictures of one scene, made once and kept as files in memory: plain, ringed, covered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.errors import LessonError, PhotoError
from curator.records import Fact, Prompt

QUALITY = 84  # JPEG: about 300 kB for a full-HD photo, no halo to be seen along a ring


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """Encoded pictures of one size; b"" where a view is not asked for.

    overlays: what a view adds to the plain picture, as a transparent PNG; the page lays it over the one photo.
    """

    size: tuple[int, int]  # width, height in pixels
    plain: bytes
    rings: bytes = b""
    cover: bytes = b""
    other_cover: bytes = b""
    some: bytes = b""
    overlays: dict[str, bytes] = field(default_factory=dict)


def photo_views(folder: Path, prompt: Prompt, stages: Sequence[str], side: int, hide: int, longer: int) -> Views:
    """The views of a photo that these stages need."""
    from curator.catalog.folder import picture_path
    from curator.classroom import pictures
    from curator.seeing.photo import load_large

    try:
        photo = load_large(picture_path(folder, prompt), longer=longer)
    except (PhotoError, OSError) as error:
        wrong = f"The picture of {prompt.slug} ({prompt.picture}) is missing or damaged."
        raise LessonError(
            "Making the lesson.", wrong, "Put the picture back, or take that step out of the plan."
        ) from error
    drawn: dict[str, NDArray[np.uint8]] = {"plain": pictures.plain(photo, prompt)}
    if prompt.dots:
        drawn["rings"] = pictures.rings(photo, prompt)
    if "cover" in stages:
        drawn["cover"] = pictures.cover(photo, prompt, side=side)
        drawn["other_cover"] = pictures.cover(photo, prompt, side=3 - side)
    if "not_half" in stages:
        drawn["some"] = pictures.cover_some(photo, prompt, hide)
    return _encoded(drawn)


def frame_views(fact: Fact, stages: Sequence[str], side: int, hide: int, longer: int) -> Views:
    """The same views of the fact's ten frame."""
    raise NotImplementedError


def _encoded(drawn: dict[str, NDArray[np.uint8]]) -> Views:
    plain = drawn["plain"]
    overlays = {name: _overlay(plain, view) for name, view in drawn.items() if name != "plain"}
    height, width = plain.shape[:2]
    return Views((width, height), **{name: _jpeg(view) for name, view in drawn.items()}, overlays=overlays)


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    import cv2

    ok, data = cv2.imencode(".jpg", np.ascontiguousarray(pixels[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    assert ok
    return bytes(data.tobytes())


def _overlay(plain: NDArray[np.uint8], view: NDArray[np.uint8]) -> bytes:
    """What view changes of plain, the rest transparent; b"" where the two differ in size."""
    import cv2

    if plain.shape != view.shape:
        return b""
    changed: NDArray[Any] = (plain != view).any(axis=2)
    out = np.zeros((*plain.shape[:2], 4), dtype=np.uint8)
    out[changed, :3] = view[changed][:, ::-1]
    out[changed, 3] = 255
    ok, data = cv2.imencode(".png", out, [cv2.IMWRITE_PNG_COMPRESSION, 4])
    assert ok
    return bytes(data.tobytes())

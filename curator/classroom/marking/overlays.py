"""What is laid over a picture for a class: dots, rings, covers. Pixels (H, W, 3) in, pixels of the same size out.

`own` says which pixels are which thing (`outlines.outlines` of the photo, `outlines.boxed` of a drawn picture).
"""

from __future__ import annotations

import numpy as np

from curator.classroom import frames
from curator.classroom.marking import covers, rings
from curator.classroom.marking.card_colors import DARK, LIGHT
from curator.classroom.marking.extents import Pixels, reaches
from curator.classroom.marking.outlines import Labels
from curator.records import Prompt


def ringed(photo: Pixels, prompt: Prompt, own: Labels) -> Pixels:
    """Each half ringed: one ring about it where a line parts the halves, else one about each thing."""
    return rings.ring(photo, prompt, own)


def half_cover(
    photo: Pixels, prompt: Prompt, own: Labels, side: int = 1, *, drawn: bool = False, small: Pixels | None = None
) -> covers.Cover:
    """The cover over one half. ValueError for a picture that is no double.

    small: `card_colors.glanced` of the photo, where it is made already.
    """
    if prompt.fact is None or side not in (1, 2):
        raise ValueError(f"side: expected 1 or 2 of a picture that shows a double, got {side} of {prompt.slug}")
    members = [i for i, dot in enumerate(prompt.dots) if dot.side == side]
    return covers.cover(photo, prompt, own, members, drawn=drawn, small=small)


def some_cover(
    photo: Pixels, prompt: Prompt, own: Labels, k: int, *, drawn: bool = False, small: Pixels | None = None
) -> covers.Cover:
    """The cover over k neighbouring things; `small` as above. ValueError for none or all of them."""
    if drawn:
        return covers.cover(photo, prompt, own, frames.last(prompt, k), drawn=True, small=small)
    return covers.over_some(photo, prompt, own, k, small)


def dotted(photo: Pixels, prompt: Prompt) -> Pixels:
    """A mark on each thing that counts: a disc on one half, a square on the other, a pierced disc on what is left
    over.
    """
    import cv2

    out = photo.copy()
    size = _size(photo)
    one = covers.stroke(size)
    edge = max(1, round(one))
    for dot, (x, y, w, h) in zip(prompt.dots, reaches(prompt, size), strict=True):
        if prompt.fact is not None and not dot.side:
            continue
        radius = max(2, round(float(np.clip(0.34 * min(w, h), 4 * one, 9 * one))))
        for grow, color in ((2 * edge, DARK), (edge, LIGHT), (0, rings.COLORS[dot.side])):
            far = radius + grow
            if dot.side == 2:
                cv2.rectangle(out, (round(x) - far, round(y) - far), (round(x) + far, round(y) + far), color, -1)
            else:
                cv2.circle(out, (round(x), round(y)), far, color, -1, cv2.LINE_AA)
        if not dot.side:
            cv2.circle(out, (round(x), round(y)), radius // 2, LIGHT, -1, cv2.LINE_AA)
    return out


def _size(photo: Pixels) -> tuple[int, int]:
    return int(photo.shape[0]), int(photo.shape[1])

"""The pictures of one scene, made once and kept as files in memory: plain, ringed, covered."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.classroom import frames, one_more, pairs, pictures
from curator.classroom.flaps import Flap, flap
from curator.classroom.marking import card_colors, covers, extents, overlays, rings
from curator.classroom.marking.outlines import SOFT, Labels, boxed
from curator.records import Fact, Prompt

Pixels = NDArray[np.uint8]
Part = tuple[slice, slice]  # rows, columns
EVERYWHERE: Part = (slice(None), slice(None))
QUALITY = 84  # JPEG: about 300 kB for a full-HD photo, no halo to be seen along a ring


class Layer(NamedTuple):
    """What a view adds to the plain picture: a PNG, transparent elsewhere, and where it lies."""

    data: bytes
    place: tuple[float, float, float, float]  # left, top, width, height in fractions of the picture


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """Encoded pictures of one size; b"" where a view is not asked for, its cover cannot be clean (`unclean`), or its
    layer alone is wanted.

    overlays: what each view adds; the page lays it over the one photo.
    """

    size: tuple[int, int]  # width, height in pixels
    plain: bytes
    rings: bytes = b""
    cover: bytes = b""
    other_cover: bytes = b""
    some: bytes = b""
    other_some: bytes = b""  # all but what `some` covers
    hidden: bytes = b""  # what `some` covers ringed, and what it leaves, likewise
    pairs: bytes = b""  # of a picture that is no double: partners joined
    one_more: bytes = b""  # one more drawn beside it
    dots: bytes = b""
    overlays: dict[str, Layer] = field(default_factory=dict)
    flaps: dict[str, Flap] = field(default_factory=dict)  # of the views with a cover, where paper can be folded so
    unclean: tuple[str, ...] = ()  # covers left out: they would show some of what they hide, or hide of the others

    def has(self, name: str) -> bool:
        """Whether there is such a view, whole or as a layer."""
        return bool(getattr(self, name)) or name in self.overlays


def photo_views(
    folder: Path,
    prompt: Prompt,
    wanted: Sequence[tuple[Sequence[str], int, int]],
    longer: int,
    layers: Collection[str] = (),
    read: pictures.Whole | None = None,
) -> list[Views]:
    """The views of one photo for each wanted (stages, side, hide); "dots" among the stages asks for a mark on each.

    layers: the views of which layers serve, so that they are not made whole; read: the picture where it is read
    already.
    """
    read = read or pictures.whole(folder, prompt, "Making the lesson.")
    there = pictures.opened(folder, prompt, wide=longer, tall=longer, read=read)
    return [_views(there, stages, _cards(there, stages, side, hide), layers) for stages, side, hide in wanted]


def frame_views(fact: Fact, stages: Sequence[str], side: int, hide: int, longer: int) -> Views:
    """The same views of the fact's ten frame; covers lie on whole cells."""
    canvas, prompt = frames.frame(fact, longer)
    small = (canvas.shape[0] // 2, canvas.shape[1] // 2)
    cells = pictures.Opened(canvas, prompt, frames.cells(fact, small))
    cards = _cards(cells, stages, side, hide, drawn=True)
    return _views(cells._replace(own=boxed(prompt, small)), stages, cards)


def _cards(
    there: pictures.Opened, stages: Sequence[str], side: int, hide: int, *, drawn: bool = False
) -> dict[str, covers.Cover]:
    """The covers that these stages need; the other half is covered first where only that cover is clean."""
    found: dict[str, covers.Cover] = {}
    if not {"cover", "not_half"} & set(stages):
        return found
    small = card_colors.glanced(there.photo)
    if "cover" in stages:
        one, other = (overlays.half_cover(*there, n, drawn=drawn, small=small) for n in (side, 3 - side))
        found["cover"], found["other_cover"] = (other, one) if other.clean and not one.clean else (one, other)
    if "not_half" in stages:
        found["some"] = overlays.some_cover(*there, hide, drawn=drawn, small=small)
        others = [i for i, dot in enumerate(there.prompt.dots) if dot.side and i not in found["some"].members]
        found["other_some"] = covers.cover(*there, others, drawn=drawn, small=small)
    return found


def names(prompt: Prompt, stages: Sequence[str]) -> set[str]:
    """The views beside the plain one that these stages need of a prompt; they are known before they are made."""
    odd = prompt.fact is None and bool({"is_it", "near"} & set(stages)) and prompt.total % 2 == 1
    found = {"rings"} if prompt.dots else set()
    found |= {"dots"} if prompt.dots and "dots" in stages else set()
    found |= {"cover", "other_cover"} if "cover" in stages else set()
    found |= {"some", "other_some", "hidden"} if "not_half" in stages else set()
    found |= {"pairs"} if odd else set()
    return found | ({"one_more"} if prompt.fact is not None and "near" in stages else set())


def _views(
    there: pictures.Opened, stages: Sequence[str], cards: dict[str, covers.Cover], layers: Collection[str] = ()
) -> Views:
    photo, prompt = there.photo, there.prompt
    size = (int(photo.shape[0]), int(photo.shape[1]))
    found = {"plain": photo}
    if prompt.dots:
        found["rings"] = overlays.ringed(*there)
    if "dots" in stages and prompt.dots:
        found["dots"] = overlays.dotted(photo, prompt)
    unclean = tuple(name for name, card in cards.items() if not card.clean)
    found |= {name: covers.lay(photo, card) for name, card in cards.items() if card.clean}
    if "some" in found:
        parts = _as_parts(prompt, there.own, cards["some"].members, cards["other_some"].members)
        found["hidden"] = rings.ring(photo, *parts)
    if prompt.fact is None and {"is_it", "near"} & set(stages) and prompt.total % 2:
        found["pairs"] = pairs.drawn(photo, prompt)
    if prompt.fact is not None and "near" in stages:
        found["one_more"] = one_more.drawn(photo, prompt)
    flaps = {name: flap(prompt, cards[name].members, size) for name in ("cover", "some") if name in found}
    within = {name: extents.around(card.mask, 0) for name, card in cards.items() if card.clean}
    return _encoded(found, within, {name: one for name, one in flaps.items() if one}, unclean, layers)


def _as_parts(prompt: Prompt, own: Labels, one: Sequence[int], other: Sequence[int]) -> tuple[Prompt, Labels]:
    """The prompt with these two parts for sides, without what is in neither, and the pixels of its things."""
    order = [*one, *other]
    dots = tuple(prompt.dots[i]._replace(side=1 if n < len(one) else 2) for n, i in enumerate(order))
    renamed = np.zeros(256, np.uint8)
    for n, i in enumerate(order):
        renamed[1 + i], renamed[SOFT + 1 + i] = 1 + n, SOFT + 1 + n
    return replace(prompt, fact=None, kind="none", dots=dots, line=None), renamed[own]


def _encoded(
    drawn: dict[str, Pixels],
    within: dict[str, Part],
    flaps: dict[str, Flap],
    unclean: tuple[str, ...],
    layers: Collection[str],
) -> Views:
    """within: where a view may differ from the plain one, if that is known."""
    plain = drawn["plain"]
    laid = {
        name: _overlay(plain, view, within.get(name, EVERYWHERE))
        for name, view in drawn.items()
        if name not in ("plain", "one_more")
    }
    overlays = {name: layer for name, layer in laid.items() if layer is not None}
    height, width = plain.shape[:2]
    files = {name: _jpeg(view) for name, view in drawn.items() if name not in layers or name not in overlays}
    return Views((width, height), **files, overlays=overlays, flaps=flaps, unclean=unclean)


def _jpeg(pixels: Pixels) -> bytes:
    import cv2

    ok, data = cv2.imencode(".jpg", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    assert ok
    return bytes(data.tobytes())


def _overlay(plain: Pixels, view: Pixels, within: Part) -> Layer | None:
    """What view changes of plain in that part, cut to where it does; None where the two differ in size."""
    import cv2

    if plain.shape != view.shape:
        return None
    same = cv2.inRange(cv2.absdiff(plain[within], view[within]), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))
    changed = cv2.bitwise_not(same)
    left, top, width, height = cv2.boundingRect(changed)
    if not width:
        return None
    part = np.s_[top : top + height, left : left + width]
    layer = cv2.cvtColor(view[within][part], cv2.COLOR_RGB2BGRA)
    layer[..., 3] = changed[part]
    out = cv2.bitwise_and(layer, layer, mask=changed[part])
    # flat colours: a filter makes the file larger, and takes most of the time
    options = [cv2.IMWRITE_PNG_COMPRESSION, 2, cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_NONE]
    ok, data = cv2.imencode(".png", out, options)
    assert ok
    rows, columns = plain.shape[:2]
    top, left = top + (within[0].start or 0), left + (within[1].start or 0)
    return Layer(data.tobytes(), (left / columns, top / rows, width / columns, height / rows))

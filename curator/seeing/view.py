"""One photo as every finder sees it: shrunk, scanned for regions, and looked at by the nets. Made once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from curator.seeing.beside import beside
from curator.seeing.net import hands, runtime
from curator.seeing.primitives import colour_sums, stable_regions

Seeking = Callable[[], tuple[hands.Hand, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """All that finders share of one picture; nothing in it is written to again."""

    pixels: NDArray[np.uint8]  # (H, W, 3) sRGB, longer side about 512
    small: NDArray[np.uint8]  # the same with its longer side at most `stable_regions.WORK`
    back: float  # from pixels of `small` to pixels of `pixels`
    scan: stable_regions.Scan  # of `small`
    looks: colour_sums.Looks  # of `pixels`
    looking: tuple[Callable[[], runtime.Sight], ...]  # what the net sees at each of `runtime.SIZES`; waits for it
    seeking: Seeking  # what hands there are; waits for the nets that say so
    model: Path  # the net that looks

    @property
    def sights(self) -> tuple[runtime.Sight, ...]:
        """At every one of `runtime.SIZES`; none where the trained file is missing. Waits for the net."""
        return tuple(one() for one in self.looking)

    @property
    def hands(self) -> tuple[hands.Hand, ...]:
        """The hands in it, large ones only. Waits for the nets."""
        return self.seeking()

    @property
    def size(self) -> tuple[int, int]:
        """Height and width of `pixels`."""
        return self.pixels.shape[0], self.pixels.shape[1]


def view_of(
    pixels: NDArray[np.uint8],
    model: Path = runtime.MODEL,
    seeking: Seeking | None = None,
    begun: tuple[Callable[[], Any], ...] = (),
) -> View:
    """Look at a picture, uint8 (H, W, 3); the nets work beside all else, and go on after. `seeking` says what hands
    there are, where that is known; `begun`: what `nets_on` gave, where they are at work already.
    """
    small, back = stable_regions.shrunk(pixels)
    *looking, sought = begun or nets_on(pixels, model, seeking)
    scan, looks = stable_regions.scan(small), colour_sums.looks_of(pixels)
    return View(pixels, small, back, scan, looks, tuple(looking), sought, model)


def nets_on(
    pixels: NDArray[np.uint8], model: Path = runtime.MODEL, seeking: Seeking | None = None
) -> tuple[Callable[[], Any], ...]:
    """The answers of all looks, from the smallest picture to the largest, and of the search for hands. The largest is
    begun first: it takes as long as all others together.
    """
    sizes = runtime.SIZES[::-1] if model.exists() else ()
    works: list[Callable[[], Any]] = [partial(_seen, pixels, longer, model) for longer in sizes]
    *larger, sought = beside([*works, seeking or partial(hands.hands, pixels)])
    return (*larger[::-1], sought)


def _seen(pixels: NDArray[np.uint8], longer: int, model: Path) -> runtime.Sight:
    """What the net sees, and all its peaks, which the finders come to ask for."""
    sight = runtime.see(pixels, longer, model=model)
    for name in ("main", "whole", "part", "tip"):
        sight.peaks(name)
    return sight

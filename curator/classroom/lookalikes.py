"""Uncounted places that look like the counted things: what a class might count as well."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
LONGER = 384  # pixels of the longer side that is searched: a quarter of the time of 768
SAME = 8.0  # CIE 1976 distance within which a look-alike has the colour of a counted thing (own rule)
OWN = 0.9  # share of the counted things that a search for look-alikes has to find again before it is believed


def places(shown: Pixels, things: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 2) x, y as fractions of the picture (H, W, 3), of uncounted places as like the things as they are to each
    other.

    things: (n, 4) as `extents.reaches` gives them.
    """
    import cv2

    from curator.seeing.primitives import template_matches

    scale = LONGER / max(shown.shape[:2])
    small = cv2.resize(shown, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    view, near = template_matches.prepared(np.asarray(small, dtype=np.uint8)), things * scale
    lists = []
    for i in _some(len(near)):
        sets = (
            _others(r.centers[:, ::-1], near) for r in template_matches.places_like(view, _box(near[i], view.shape[:2]))
        )
        lists.append(next((other for other in sets if other is not None), np.empty((0, 2))))
    agreed = _alike(small, _agreed(lists, float(2 * near[:, 2:].mean())), near)
    return agreed / (view.shape[1], view.shape[0])


def _others(places: NDArray[np.float64], things: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """The places (x, y) that are no counted thing; None where the set misses counted ones and so proves nothing."""
    far = np.abs(places[:, None] - things[None, :, :2]) / np.maximum(things[None, :, 2:], 1)  # in half sizes
    is_thing = far.max(axis=2) < 1.2
    return places[~is_thing.any(axis=1)] if is_thing.any(axis=0).mean() >= OWN else None


def _agreed(lists: list[NDArray[np.float64]], reach: float) -> NDArray[np.float64]:
    """The places of the first list that most lists have."""
    first = max(lists, key=len)
    votes = [sum(bool(len(o)) and np.linalg.norm(o - at, axis=1).min() < reach / 2 for o in lists) for at in first]
    return first[[v > len(lists) / 2 for v in votes]] if len(first) else first


def _alike(small: Pixels, places: NDArray[np.float64], things: NDArray[np.float64]) -> NDArray[np.float64]:
    """The places whose colour is that of the things: a shadow between two things has their shape alone."""
    import cv2

    lab = cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    reach = max(1, int(0.4 * things[:, 2:].mean()))

    def color(x: float, y: float) -> NDArray[np.float32]:
        rows, columns = (
            slice(max(0, int(y) - reach), int(y) + reach + 1),
            slice(max(0, int(x) - reach), int(x) + reach + 1),
        )
        return np.asarray(np.median(lab[rows, columns].reshape(-1, 3), axis=0), dtype=np.float32)

    own = np.array([color(x, y) for x, y in things[:, :2]])
    return (
        places[[bool(np.linalg.norm(own - color(x, y), axis=1).min() < SAME) for x, y in places]]
        if len(places)
        else places
    )


def _some(count: int) -> list[int]:
    """Up to four things, spread over the list."""
    return sorted({round(k * (count - 1) / 3) for k in range(4)})


def _box(thing: NDArray[np.float64], size: tuple[int, int]) -> tuple[int, int, int, int]:
    x, y, w, h = thing
    return max(0, int(y - h)), max(0, int(x - w)), min(size[0], int(y + h) + 1), min(size[1], int(x + w) + 1)

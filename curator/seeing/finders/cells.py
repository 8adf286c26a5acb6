"""Openings of a grid: window panes, cups of a carton, frame cells; filled and empty ones told apart."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Box, Thing, ThingSet
from curator.seeing.primitives import lattice, template_matches
from curator.seeing.primitives import stable_regions as rg
from curator.seeing.primitives.set_building import merged
from curator.seeing.view import View

MOST = 32  # places like one opening; more is a texture


def find(view: View) -> list[ThingSet]:
    """Candidate sets of openings on one lattice (seen straight or at a slant), best first.

    Openings are sought twice: among the stable regions, and as places that look like one of them. A lattice that lacks
    some is reported as it is; nothing is added.
    """
    small, back, size = view.small, view.back, view.size
    area = small.shape[0] * small.shape[1]
    open_ = [
        r for r in view.scan.regions if r.extent > 0.68 and r.solidity > 0.8 and r.area > 0.0008 * area and r.long < 5
    ]
    found: list[ThingSet] = []
    groups = rg.groups(open_, reach=1.5, most=6)
    for members, alike in groups:
        found += _on_lattice(members, alike, back, size, view.scan.lab)
    smooth = template_matches.prepared(small)
    for members, _ in groups[:5]:
        found += _like_one(_middling(members), smooth, back, size)
    return merged(found)[:6]


def _middling(members: list[rg.Region]) -> rg.Region:
    """The member of middle size."""
    return sorted(members, key=lambda r: r.area)[len(members) // 2]


def _on_lattice(
    members: list[rg.Region], alike: float, back: float, size: tuple[int, int], lab: NDArray[np.uint8]
) -> list[ThingSet]:
    """The members that lie on a lattice, and those of them that look filled, and empty, apart."""
    grid = lattice.fit(np.array([r.center for r in members]))
    if grid is None:
        return []
    kept = [m for m, good in zip(members, grid.good, strict=True) if good]
    fill = grid.fill
    stable = float(np.mean([min(r.stable, 8) for r in kept])) / 8
    support = 0.8 * alike**0.5 * (0.35 + 0.65 * stable) * fill * grid.tight
    whole = rg.as_things(kept, back, size, "cells", alike, support, stable)
    return [whole, *_by_filling(kept, back, size, support, lab)]


def _like_one(seed: rg.Region, smooth: NDArray[np.uint8], back: float, size: tuple[int, int]) -> list[ThingSet]:
    """Places that look like one opening; more believed where they lie on a lattice."""
    found = []
    for r in template_matches.places_like(smooth, seed.box):
        if len(r.centers) > MOST:
            continue
        grid = lattice.fit(r.centers)
        fill, full = (0.0, 0.0) if grid is None else (grid.fill, grid.tight * float(grid.good.mean()))
        alike = float(np.mean(r.likeness[1:]))
        support = (0.1 + 0.5 * alike * (0.3 + 0.7 * r.lead)) * (0.7 + 0.3 * fill * full)
        things = tuple(
            _window(c, r.shape, back, size, float(like)) for c, like in zip(r.centers, r.likeness, strict=True)
        )
        found.append(ThingSet(things, size, "cells", alike, support=support))
    return found


def _window(
    center: NDArray[np.float64], shape: tuple[int, int], back: float, size: tuple[int, int], alike: float
) -> Thing:
    row, col = float(center[0]) * back, float(center[1]) * back
    h, w = shape[0] * back / 2.3, shape[1] * back / 2.3
    top, left = min(size[0] - 2, max(0, int(row - h))), min(size[1] - 2, max(0, int(col - w)))
    bottom, right = min(size[0], max(top + 2, round(row + h))), min(size[1], max(left + 2, round(col + w)))
    return Thing(Box(top, left, bottom, right), (row, col), alike)


def _by_filling(
    kept: list[rg.Region], back: float, size: tuple[int, int], support: float, lab: NDArray[np.uint8]
) -> list[ThingSet]:
    """Where the openings fall into two plainly different looks, each look is a candidate too: filled and empty."""
    if len(kept) < 5:
        return []
    looks = np.array(
        [cv2.mean(lab[int(r.box[0]) : int(r.box[2]), int(r.box[1]) : int(r.box[3])])[:3] for r in kept],
        dtype=np.float32,
    )
    _, label, centres = cv2.kmeans(looks, 2, None, (cv2.TERM_CRITERIA_MAX_ITER, 10, 1.0), 2, cv2.KMEANS_PP_CENTERS)
    within = float(np.sqrt(((looks - centres[label.ravel()]) ** 2).sum(1)).mean()) + 2
    if float(np.linalg.norm(centres[0] - centres[1])) < 4 * within:
        return []
    parts = [[r for r, own in zip(kept, label.ravel(), strict=True) if own == k] for k in (0, 1)]
    return [rg.as_things(part, back, size, "cells", 0.9, support * 0.8) for part in parts if len(part) >= 2]

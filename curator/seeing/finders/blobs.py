"""Separate objects on any background: light on dark, dark on light, coloured on coloured."""

from __future__ import annotations

import numpy as np

from curator.records import ThingSet
from curator.seeing.primitives import stable_regions as rg
from curator.seeing.primitives import threshold_votes
from curator.seeing.primitives.set_building import merged
from curator.seeing.view import View

MOST = 7  # candidates handed on


def find(view: View) -> list[ThingSet]:
    """Candidate sets of like separate objects, best first.

    Two ways, each blind where the other sees: components of whole thresholds (things of any shape apart from each
    other), stable regions grouped by likeness (uneven light). A set that both find is believed more.
    """
    return merged(_voted(view) + _grouped(view))[:MOST]


def _voted(view: View) -> list[ThingSet]:
    """Sets that several thresholds and channels agree on."""
    small = view.small
    area = small.shape[0] * small.shape[1]
    found = []
    for v in threshold_votes.vote(view.scan.layers, small.shape)[:8]:
        described = (rg.describe(v.layer, int(i), view.scan.lab, v.lasted) for i in v.members)
        members = [r for r in described if r is not None]
        if len(members) < 2:
            continue
        covered = min(1.0, sum(r.area for r in members) / area)
        solid = float(np.mean([r.solidity for r in members]))
        lasted = 1 - float(np.exp(-v.lasted * (1 + v.channels) / 22))
        support = lasted * (0.35 + 0.55 * v.even) * (0.4 + 0.6 * solid) * min(1.0, 0.45 + 5 * covered)
        support *= 0.7 if len(members) == 2 else 1.0
        found.append(rg.as_things(members, view.back, view.size, "blobs", v.even, support, min(1.0, v.lasted / 12)))
    return found


def _grouped(view: View) -> list[ThingSet]:
    """Stable regions alike in size, shape and colour; then alike in size and shape only."""
    small = view.small
    area = small.shape[0] * small.shape[1]
    solid = [
        r for r in view.scan.regions if r.solidity > 0.72 and r.area > 0.0012 * area and not _on_rim(r, small.shape)
    ]
    found = []
    for members, alike in rg.groups(solid, most=5) + rg.groups(solid, most=3, colour=0.25):
        stable = float(np.mean([min(r.stable, 8) for r in members])) / 8
        covered = min(1.0, sum(r.area for r in members) / area)
        support = 0.7 * alike * (0.35 + 0.65 * stable) * min(1.0, 0.5 + covered * 4)
        found.append(rg.as_things(members, view.back, view.size, "blobs", alike, support, stable))
    return found


def _on_rim(region: rg.Region, shape: tuple[int, ...]) -> bool:
    """More than a third of the region's box lies along the picture's edge: cut off."""
    top, left, bottom, right = region.box
    width, height = right - left, bottom - top
    along = width * ((top <= 1) + (bottom >= shape[0] - 1)) + height * ((left <= 1) + (right >= shape[1] - 1))
    return along > 0.6 * (width + height)

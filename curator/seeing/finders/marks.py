"""Small marks on a face: pips on dice and dominoes, spots on wings, studs, buttonholes."""

from __future__ import annotations

import numpy as np

from curator.records import ThingSet
from curator.seeing.primitives import stable_regions as rg
from curator.seeing.primitives.set_building import merged
from curator.seeing.view import View


def find(view: View) -> list[ThingSet]:
    """Candidate sets of small, solid, nearly round stable regions of one size and colour, best first."""
    small = view.small
    area = small.shape[0] * small.shape[1]
    tiny = [
        r for r in view.scan.regions if r.area < 0.012 * area and r.solidity > 0.82 and r.long < 2.0 and r.round > 0.6
    ]
    found = []
    for members, alike in rg.groups(tiny, reach=0.85, most=5):
        stable = float(np.mean([min(r.stable, 8) for r in members])) / 8
        roundness = float(np.mean([r.round for r in members]))
        if len(members) > 40:
            continue
        support = 0.6 * alike * (0.35 + 0.65 * stable) * roundness * (0.75 if len(members) == 2 else 1.0)
        found.append(rg.as_things(members, view.back, view.size, "marks", alike, support, stable))
    return merged(found)[:5]

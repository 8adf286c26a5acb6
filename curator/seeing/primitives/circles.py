"""Round things, also where they touch: edges vote for the middles of the circles they may lie on (not a finder).

The circle transform with gradient directions, one map a radius; votes are counted in octants, so that a straight edge
or a corner, which votes from one or two directions only, does not pass for a circle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from curator.seeing.primitives.set_building import first_apart

SIDE = 256  # longer side on which circles are looked for
RADII = tuple(float(r) for r in np.geomspace(4.6, 52, 13))
OCTANTS = 8
LEAST = 0.22  # share of an outline under which a peak is noise
CLEAR = 0.38  # that all circles of a set have


@dataclass(slots=True, eq=False)
class Circles:
    """Circles of about one size: middles and radii in pixels, how much of each outline is there (0 to 1)."""

    centers: NDArray[np.float64]  # (n, 2) row, col
    radii: NDArray[np.float64]
    strength: NDArray[np.float64]
    lead: float  # how far the weakest stands above the next one left out, 0 to 1
    weak: NDArray[np.float64]  # (k, 4) row, col, radius, strength of the next ones, left out
    bands: int = 1  # bands of radii (and sides of the edge) that give the same middles


def find_circles(small: NDArray[np.uint8]) -> tuple[Circles, ...]:
    """Sets of like circles, best first; small uint8 (H, W, 3), longer side about SIDE."""
    lab = cv2.GaussianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), (0, 0), 1.2)
    rows, cols, dr, dc = _edges(lab)
    if len(rows) < 20:
        return ()
    octant = np.floor(np.arctan2(dr, dc) / (2 * np.pi) * OCTANTS).astype(int) % OCTANTS
    light, dark = (_maps(rows, cols, sign * dr, sign * dc, octant, lab.shape[:2]) for sign in (1.0, -1.0))
    found: list[Circles] = []
    for maps in (light, dark, np.maximum(light, dark)):
        for first in range(0, len(RADII) - 2, 2):
            for fresh in _peaks(maps[first : first + 4], RADII[first : first + 4]):
                old = next((c for c in found if _same(c, fresh)), None)
                if old is None:
                    found.append(fresh)
                else:
                    old.bands += 1
                    if fresh.strength.mean() > old.strength.mean():
                        old.centers, old.radii, old.strength, old.weak = (
                            fresh.centers,
                            fresh.radii,
                            fresh.strength,
                            fresh.weak,
                        )
                    old.lead = max(old.lead, fresh.lead)
    return tuple(sorted(found, key=lambda c: -belief(c)))


def belief(c: Circles) -> float:
    """How far a set of circles is to be believed, 0 to 1: full outlines, a clear end of the list, bands that agree."""
    strength: list[float] = c.strength.tolist()
    radii: list[float] = c.radii.tolist()
    n, mean = len(radii), sum(radii) / len(radii)
    full = min(1.0, max(0.0, (0.5 * sum(strength) / n + 0.5 * min(strength) - 0.35) / 0.45))
    deviation = math.sqrt(sum((radius - mean) ** 2 for radius in radii) / n)
    return (
        (0.15 + 0.85 * full)
        * (0.35 + 0.65 * c.lead)
        * math.exp(-deviation / mean)
        * (1 - 0.5 * 0.7**c.bands)
        * min(1.0, 0.55 + 0.09 * len(c.radii))
    )


def _same(a: Circles, b: Circles) -> bool:
    if len(a.radii) != len(b.radii):
        return False
    apart = cdist(a.centers, b.centers)
    return bool((apart.min(axis=1) < 0.5 * median(a.radii.tolist())).all())


def _edges(
    lab: NDArray[np.uint8],
) -> tuple[NDArray[np.int_], NDArray[np.int_], NDArray[np.float64], NDArray[np.float64]]:
    """Edge pixels and their unit gradient (of the channel that changes most)."""
    dx, dy = cv2.Sobel(lab, cv2.CV_32F, 1, 0), cv2.Sobel(lab, cv2.CV_32F, 0, 1)
    size = cv2.multiply(dx * dx + dy * dy, (1.0, 2.0, 2.0, 0.0))
    power = cv2.sqrt(np.maximum(np.maximum(size[..., 0], size[..., 1]), size[..., 2]))
    thin = power >= 0.92 * cv2.dilate(power, np.ones((3, 3), np.uint8))
    rows, cols = np.nonzero((power > _usual(power)) & thin)
    strongest = size[rows, cols].argmax(axis=1)
    gx, gy = dx[rows, cols, strongest], dy[rows, cols, strongest]
    norm = np.hypot(gx, gy) + 1e-6
    return rows, cols, (gy / norm).astype(np.float64), (gx / norm).astype(np.float64)


def _usual(power: NDArray[np.float32]) -> float:
    """What the strongest fifth of all pixels has more of, at least 12: as many have more as of numpy's percentile, for
    which it needs ten times as long.
    """
    others = int(0.8 * (power.size - 1))
    return max(12.0, float(np.partition(power.ravel(), others)[others]))


def _maps(
    rows: NDArray[np.int_],
    cols: NDArray[np.int_],
    dr: NDArray[np.float64],
    dc: NDArray[np.float64],
    octant: NDArray[np.int_],
    shape: tuple[int, int],
) -> NDArray[np.float32]:
    """Share of the outline of a circle of each radius that votes for each middle, counted in octants, at half size."""
    h, w = shape[0] // 2 + 1, shape[1] // 2 + 1
    reach = np.array(RADII)[:, None]
    r, c = (np.rint((at + reach * way) / 2).astype(np.int32) for at, way in ((rows, dr), (cols, dc)))
    good = (r >= 0) & (r < h) & (c >= 0) & (c < w)
    flat = (r * w + c) * OCTANTS + octant
    maps = np.empty((len(RADII), h, w), np.float32)
    for radius, own, inside, share in zip(RADII, flat, good, maps, strict=True):
        votes = np.bincount(own[inside], minlength=OCTANTS * h * w).astype(np.uint8)  # nowhere are there 255
        spread = max(3, round(0.3 * radius) | 1)
        near = cv2.boxFilter(votes.reshape(h, w, OCTANTS), -1, (spread, spread), normalize=False)
        full = 2 * np.pi * radius / OCTANTS * 0.6
        _, capped = cv2.threshold(near.astype(np.float32), full, full, cv2.THRESH_TRUNC)
        evenly = np.full(OCTANTS, 1 / (OCTANTS * full), dtype=np.float32)
        np.matmul(capped.reshape(-1, OCTANTS), evenly, out=share.reshape(-1))
    return maps


def _peaks(maps: NDArray[np.float32], radii: tuple[float, ...]) -> list[Circles]:
    """Peaks over a band of radii, cut where the strength falls most: at the widest step and at the next."""
    best = cv2.GaussianBlur(maps.max(axis=0), (0, 0), 0.8)
    if np.count_nonzero(best > CLEAR) < 2:  # a set has two at least
        return []
    reach = max(3, round(0.7 * radii[0]) | 1)
    top = (best >= cv2.dilate(best, np.ones((reach, reach), np.uint8)) - 1e-5) & (best > LEAST)
    rows, cols = np.divmod(np.flatnonzero(top), top.shape[1])
    order = np.argsort(-best[rows, cols], kind="stable")[:48]
    rows, cols = rows[order], cols[order]
    share = maps[:, rows, cols]
    weight = np.maximum(
        share - 0.9 * share.max(axis=0, initial=0.0), 1e-9
    )  # a full outline votes in bands beside its own
    radius = np.exp(np.log(np.array(radii)) @ weight / weight.sum(axis=0))
    down, across = rows[:, None] - rows, cols[:, None] - cols
    kept = first_apart(down * down + across * across <= (0.375 * (radius[:, None] + radius)) ** 2)
    if len(kept) < 2:
        return []
    strength = best[rows[kept], cols[kept]].astype(np.float64)
    centers = np.stack([rows[kept], cols[kept]], axis=1).astype(np.float64) * 2
    radius = radius[kept].astype(np.float64)
    steps = np.append(strength[:-1] - strength[1:], max(0.0, strength[-1] - LEAST))
    found = []
    for at in np.argsort(-steps, kind="stable")[:2]:
        n = int(at) + 1
        if 2 <= n <= 40 and strength[n - 1] > CLEAR:
            weak = np.column_stack([centers[n:], radius[n:], strength[n:]])
            found.append(Circles(centers[:n], radius[:n], strength[:n], float(min(1.0, 4 * steps[at])), weak))
    return found

"""Separate objects on any background: light on dark, dark on light, coloured on coloured; touching ones split."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Box, Thing, ThingSet
from curator.seeing.finders import regions as rg


def find(pixels: NDArray[np.uint8]) -> list[ThingSet]:
    """Candidate sets of like separate objects, best first; pixels uint8 (H, W, 3)."""
    small, back = rg.shrunk(pixels)
    size = (pixels.shape[0], pixels.shape[1])
    area = small.shape[0] * small.shape[1]
    solid = [r for r in rg.pool(small) if r.solidity > 0.72 and r.area > 0.0012 * area and not _on_rim(r, small.shape)]
    found = []
    for members, alike in rg.groups(solid):
        stable = float(np.mean([min(r.stable, 8) for r in members])) / 8
        covered = sum(r.area for r in members) / area
        support = 0.75 * alike * (0.35 + 0.65 * stable) * min(1.0, 0.5 + covered * 4)
        found.append(rg.as_things(members, back, size, "blobs", alike, support, stable=stable, covered=min(1.0, covered)))
    found += _touching(small, back, size)
    return sorted(found, key=lambda s: -s.support)[:6]


def _on_rim(region: rg.Region, shape: tuple[int, ...]) -> bool:
    """More than a third of the region's box lies along the picture's edge: cut off."""
    top, left, bottom, right = region.box
    along = (right - left) * ((top <= 1) + (bottom >= shape[0] - 1)) + (bottom - top) * ((left <= 1) + (right >= shape[1] - 1))
    return along > 0.6 * ((right - left) + (bottom - top))


def _touching(small: NDArray[np.uint8], back: float, size: tuple[int, int]) -> list[ThingSet]:
    """Round things that touch: peaks of the distance to the ground, kept where they agree in size."""
    lab = cv2.cvtColor(cv2.bilateralFilter(small, 5, 30, 3), cv2.COLOR_RGB2LAB).astype(np.float32)
    ground = rg.ground_distance(lab)
    level, mask = cv2.threshold(cv2.GaussianBlur(ground, (0, 0), 1.0), 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    if not 0.04 < mask.mean() < 0.8 or level < 12:
        return []
    mask = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    distance = cv2.distanceTransform(mask, cv2.DIST_L2, 5)
    found = []
    for share in (0.45, 0.62):
        reach = max(3, int(share * distance.max()) | 1)
        smooth = cv2.GaussianBlur(distance, (0, 0), max(0.8, reach / 5))
        peaks = (smooth >= cv2.dilate(smooth, np.ones((reach, reach), np.uint8)) - 1e-4) & (distance > 0.5 * distance.max())
        _, _, _, centres = cv2.connectedComponentsWithStats(peaks.astype(np.uint8))
        at = centres[1:, ::-1]
        if not 2 <= len(at) <= 40:
            continue
        radii = np.array([distance[int(r), int(c)] for r, c in at])
        alike = float(np.exp(-1.5 * radii.std() / radii.mean()))
        things = tuple(_disc(r * back, c * back, radius * back, size, alike) for (r, c), radius in zip(at, radii, strict=True))
        found.append(ThingSet(things, size, "blobs", alike, support=0.42 * alike, clues={"touching": 1.0}))
    return found


def _disc(row: float, col: float, radius: float, size: tuple[int, int], alike: float) -> Thing:
    top, left = max(0, int(row - radius)), max(0, int(col - radius))
    bottom, right = min(size[0], max(top + 2, int(row + radius) + 1)), min(size[1], max(left + 2, int(col + radius) + 1))
    return Thing(Box(min(top, bottom - 1), min(left, right - 1), bottom, right), (float(row), float(col)), None, alike)

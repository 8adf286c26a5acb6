"""What sticks out of one body: fingers, legs, petals; the body's own axis; thin feelers left out."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.records import Box, Thing, ThingSet
from curator.seeing.finders import regions as rg

SIDE = 256  # longer side of the silhouette


def find(pixels: NDArray[np.uint8]) -> list[ThingSet]:
    """Candidate sets of limbs of the largest body, best first; pixels uint8 (H, W, 3).

    Three counts are taken: arcs cut by circles round the body, convexity defects, and peaks of the outline's distance
    from the body; a set is offered where at least two agree.
    """
    small, back = rg.shrunk(pixels, SIDE)
    body = silhouette(small)
    if body is None:
        return []
    distance = cv2.distanceTransform(body, cv2.DIST_L2, 5)
    radius = float(distance.max())
    row, col = (int(v) for v in np.unravel_index(int(distance.argmax()), distance.shape))
    contour = max(cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0], key=len)[:, 0, ::-1].astype(np.float64)
    tips, heights = _tips(contour, (row, col), radius)
    if not 2 <= len(tips) <= 24:
        return []
    arcs = _arcs(body, (row, col), radius)
    defects = _defects(contour, radius) + 1
    votes = sum(abs(v - len(tips)) <= (0 if i == 0 else 1) for i, v in enumerate((arcs, defects)))
    if votes == 0:
        return []
    size = (pixels.shape[0], pixels.shape[1])
    reach = max(4.0, 0.35 * radius)
    things = tuple(_tip(t, back, reach * back, size) for t in tips)
    alike = float(np.exp(-1.2 * np.std(heights) / max(1e-6, float(np.mean(heights)))))
    support = 0.28 + 0.16 * votes * alike
    found = [ThingSet(things, size, "limbs", alike, support=min(0.75, support), clues={"votes": votes / 2})]
    order = np.argsort(heights)
    if len(tips) >= 3 and heights[order[0]] < 0.6 * np.median(heights):
        rest = tuple(things[i] for i in range(len(things)) if i != order[0])
        found.append(ThingSet(rest, size, "limbs", alike, (things[int(order[0])],), support=support * 0.7, clues={"votes": votes / 2}))
    return found


def silhouette(small: NDArray[np.uint8]) -> NDArray[np.uint8] | None:
    """The largest region unlike the picture's rim, holes filled; None where it is too small or fills the picture."""
    lab = cv2.cvtColor(cv2.bilateralFilter(small, 7, 40, 5), cv2.COLOR_RGB2LAB).astype(np.float32)
    ground = cv2.GaussianBlur(rg.ground_distance(lab), (0, 0), 1.0)
    _, mask = cv2.threshold(ground, 0, 1, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask)
    if count < 2:
        return None
    largest = 1 + int(stats[1:, 4].argmax())
    share = stats[largest, 4] / mask.size
    if not 0.03 < share < 0.7:
        return None
    outline, _ = cv2.findContours((labels == largest).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    body = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(body, [max(outline, key=len)], -1, 1, -1)
    return body


def _tips(contour: NDArray[np.float64], centre: tuple[int, int], radius: float) -> tuple[list[tuple[float, float]], NDArray[np.float64]]:
    """Peaks of the outline's distance from the body's middle that rise by half a body radius; and their rise."""
    from scipy.signal import find_peaks

    away = np.hypot(contour[:, 0] - centre[0], contour[:, 1] - centre[1])
    window = max(3, len(away) // 90)
    kernel = np.ones(window) / window
    n = len(away)
    smooth = np.convolve(np.concatenate([away] * 3), kernel, "same")
    peaks, about = find_peaks(smooth, prominence=0.45 * radius, distance=max(3, n // 60))
    own = (peaks >= n) & (peaks < 2 * n) & (smooth[peaks] > 1.35 * radius)
    chosen = peaks[own] - n
    return [(float(contour[i, 0]), float(contour[i, 1])) for i in chosen], about["prominences"][own]


def _arcs(body: NDArray[np.uint8], centre: tuple[int, int], radius: float) -> int:
    """The commonest number of separate pieces on circles of 1.5 to 2.3 body radii."""
    counts = []
    for factor in (1.5, 1.7, 1.9, 2.1, 2.3):
        angle = np.linspace(0, 2 * np.pi, 360, endpoint=False)
        rows = (centre[0] + factor * radius * np.sin(angle)).round().astype(int)
        cols = (centre[1] + factor * radius * np.cos(angle)).round().astype(int)
        inside = (rows >= 0) & (rows < body.shape[0]) & (cols >= 0) & (cols < body.shape[1])
        on = np.zeros(360, bool)
        on[inside] = body[rows[inside], cols[inside]] > 0
        counts.append(int((on & ~np.roll(on, 1)).sum()))
    return int(np.bincount(counts).argmax())


def _defects(contour: NDArray[np.float64], radius: float) -> int:
    """Convexity defects deeper than half a body radius."""
    points = contour[:, ::-1].astype(np.int32)[:, None]
    try:
        hull = cv2.convexHull(points, returnPoints=False)
        hull[::-1].sort(axis=0)
        defects = cv2.convexityDefects(points, hull)
    except cv2.error:  # an outline that crosses itself
        return 0
    return 0 if defects is None else int((defects.reshape(-1, 4)[:, 3] / 256 > 0.5 * radius).sum())


def _tip(tip: tuple[float, float], back: float, reach: float, size: tuple[int, int]) -> Thing:
    row, col = tip[0] * back, tip[1] * back
    top, left = min(size[0] - 2, max(0, int(row - reach))), min(size[1] - 2, max(0, int(col - reach)))
    return Thing(Box(top, left, min(size[0], max(top + 2, int(row + reach))), min(size[1], max(left + 2, int(col + reach)))), (row, col))

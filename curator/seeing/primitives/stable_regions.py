"""Stable regions: what keeps its outline while a threshold moves, in lightness, colour, ground (not a finder)."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.clues import Clues
from curator.records import Box, Thing, ThingSet
from curator.seeing.primitives.layers import Layer, layers
from curator.seeing.primitives.set_building import as_bits

Pixels = NDArray[np.uint8]
WORK = 256  # longer side, in pixels, on which thresholds are tried
LEVELS = 8  # thresholds a channel


@dataclass(frozen=True, eq=False)
class Region:
    """A connected region: box and centroid in pixels of the picture it was found in. Half of all regions are soon
    dropped, so what is asked of the others alone is measured then.
    """

    box: tuple[int, int, int, int]  # top, left, bottom, right
    center: tuple[float, float]
    area: float
    mask: NDArray[np.bool_]  # the size of its box, holes filled
    solidity: float  # area over convex hull area
    stable: int  # thresholds that gave the same region
    outline: NDArray[np.int32]  # as OpenCV has it
    seen: NDArray[np.uint8]  # the size of its box, with its holes
    lab: Pixels  # of its box

    @cached_property
    def sides(self) -> tuple[float, float]:
        """Of its smallest turned rectangle."""
        _, (width, height), _ = cv2.minAreaRect(self.outline)
        return width + 1, height + 1

    @cached_property
    def extent(self) -> float:
        """Area over the area of its smallest turned rectangle."""
        return min(1.0, self.area / (self.sides[0] * self.sides[1]))

    @cached_property
    def round(self) -> float:
        """4 pi area / perimeter^2."""
        return float(min(1.0, 4 * np.pi * self.area / (cv2.arcLength(self.outline, True) + 4) ** 2))

    @property
    def long(self) -> float:
        """Longer over shorter side of its smallest turned rectangle."""
        return max(self.sides) / min(self.sides)

    @cached_property
    def colour(self) -> tuple[float, ...]:
        """Mean Lab."""
        return tuple(cv2.mean(self.lab, self.seen)[:3])


def shrunk(pixels: Pixels, longer: int = WORK) -> tuple[Pixels, float]:
    """The picture with its longer side at most `longer`, and the factor back to the original."""
    scale = longer / max(pixels.shape[:2])
    if scale >= 1:
        return pixels, 1.0
    size = (max(8, round(pixels.shape[1] * scale)), max(8, round(pixels.shape[0] * scale)))
    return cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), 1 / scale


def ground_distance(lab: NDArray[np.float32]) -> NDArray[np.uint8]:
    """How unlike the picture's rim each pixel is: distance to the nearest of three rim colours, 0 to 255."""
    band = max(2, round(0.04 * min(lab.shape[:2])))
    rim = np.concatenate(
        [
            lab[:band].reshape(-1, 3),
            lab[-band:].reshape(-1, 3),
            lab[:, :band].reshape(-1, 3),
            lab[:, -band:].reshape(-1, 3),
        ]
    )
    rim = np.ascontiguousarray(rim[:: max(1, len(rim) // 1500)], dtype=np.float32)
    cv2.setRNGSeed(7)
    _, labels, centres = cv2.kmeans(
        rim, 3, None, (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 12, 1.0), 1, cv2.KMEANS_PP_CENTERS
    )
    share = np.bincount(labels.ravel(), minlength=3) / len(labels)
    weight = np.array([[0.25, 1.0, 1.0]], dtype=np.float32)  # squares; lightness varies with shadows
    nearest = np.full(lab.shape[:2], 1e6, dtype=np.float32)
    for centre, part in zip(centres, share, strict=True):
        if part > 0.15:
            apart = cv2.subtract(lab, (float(centre[0]), float(centre[1]), float(centre[2]), 0.0))
            nearest = cv2.min(nearest, cv2.transform(cv2.multiply(apart, apart), weight))
    distance: NDArray[np.uint8] = np.clip(cv2.sqrt(nearest) * 2.5, 0, 255).astype(np.uint8)
    return distance


def channels(pixels: Pixels) -> dict[str, NDArray[np.uint8]]:
    """Views of the picture in which things may stand out."""
    smooth = cv2.bilateralFilter(pixels, 5, 30, 3)
    lab = cv2.cvtColor(smooth, cv2.COLOR_RGB2LAB)
    light, a, b = cv2.split(lab)  # each in one piece: it is compared with many levels
    reach = int(0.15 * max(light.shape)) | 1
    local = cv2.blur(light, (reach, reach))
    flat = np.clip(light.astype(np.int16) - local.astype(np.int16) + 128, 0, 255).astype(np.uint8)
    return {
        "light": light,
        "flat": flat,
        "a": a,
        "b": b,
        "ground": ground_distance(lab.astype(np.float32)),
    }


def _levels(channel: NDArray[np.uint8]) -> list[int]:
    low, high = _percentiles(channel, (2, 98))
    if high - low < 12:
        return []
    return sorted({int(v) for v in np.linspace(low, high, LEVELS + 2)[1:-1]})


def _percentiles(channel: NDArray[np.uint8], shares: tuple[float, ...]) -> list[float]:
    """What numpy's `percentile` gives, counted from a histogram in a tenth of its time."""
    below = np.cumsum(cv2.calcHist([channel], [0], None, [256], [0, 256]).ravel())
    found = []
    for share in shares:
        at = share / 100 * (channel.size - 1)
        one, other = np.searchsorted(below, [int(at), min(int(at) + 1, channel.size - 1)], side="right").tolist()
        found.append(one + (other - one) * (at - int(at)))
    return found


def describe(layer: Layer, i: int, lab: Pixels, lasted: int) -> Region | None:
    """Component i of a layer, its holes filled and its shape measured; None where its outline is too short."""
    centre = layer.centres[i]
    left, top, width, height, area = layer.stats[i].tolist()
    mask = (layer.labels[top : top + height, left : left + width] == layer.names[i]).view(np.uint8)
    outline, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    contour = max(outline, key=len)
    if len(contour) < 5:
        return None
    filled = np.zeros(mask.shape, np.uint8)
    cv2.drawContours(filled, [contour], -1, 1, -1)
    full = float(cv2.countNonZero(filled))
    hull = cv2.contourArea(cv2.convexHull(contour)) + 0.5 * len(contour) + 1
    if full > area * 1.02:
        moments = cv2.moments(filled, True)
        centre = np.array([left + moments["m10"] / full, top + moments["m01"] / full])
    return Region(
        (top, left, top + height, left + width),
        (float(centre[1]), float(centre[0])),
        full,
        filled.view(np.bool_),
        min(1.0, full / hull),
        lasted,
        contour,
        mask,
        lab[top : top + height, left : left + width],
    )


def _follow(before: Layer, now: Layer) -> NDArray[np.bool_]:
    """Hand on how long each region has lasted; which of the earlier ones ended here."""
    if not len(before) or not len(now):
        return np.ones(len(before), dtype=bool)
    old, new = before.stats[:, 4].astype(float), now.stats[:, 4].astype(float)
    i, j = np.nonzero(
        (new > 0.72 * old[:, None]) & (old[:, None] > 0.72 * new)
    )  # as large: places are compared of these
    off = before.centres[i] - now.centres[j]
    same = np.hypot(off[:, 0], off[:, 1]) < 0.12 * np.sqrt(np.maximum(old[i], new[j])) + 1
    i, j = i[same], j[same]
    lasted = np.zeros(len(now), np.intp)
    np.maximum.at(lasted, j, before.lasted[i])
    now.lasted = 1 + lasted
    ended = np.ones(len(before), np.bool_)
    ended[i] = False
    return ended


def _of_channel(
    channel: NDArray[np.uint8], lab: NDArray[np.uint8], least: float, most: float, sides: tuple[bool, ...]
) -> tuple[list[Region], list[list[Layer]]]:
    """Regions of one channel that persist over at least two neighbouring thresholds; the layers, a list a side."""
    found: list[Region] = []
    every: list[list[Layer]] = []
    levels = _levels(channel)
    for above in sides:
        own = layers(channel, levels[:: 1 if above else -1], above, least, most)
        for before, now in pairwise(own):
            found += _kept(before, _follow(before, now), lab)
        if own:
            found += _kept(own[-1], np.ones(len(own[-1]), dtype=bool), lab)
        every.append(own)
    return found, every


def _kept(layer: Layer, ended: NDArray[np.bool_], lab: Pixels) -> list[Region]:
    chosen = np.flatnonzero(ended & (layer.lasted >= 2))
    described = (describe(layer, k, lab, int(layer.lasted[k])) for k in chosen.tolist())
    return [region for region in described if region is not None]


def _overlap(a: Region, b: Region) -> float:
    top, left = max(a.box[0], b.box[0]), max(a.box[1], b.box[1])
    bottom, right = min(a.box[2], b.box[2]), min(a.box[3], b.box[3])
    if bottom <= top or right <= left:
        return 0.0
    inter = (
        a.mask[top - a.box[0] : bottom - a.box[0], left - a.box[1] : right - a.box[1]]
        & b.mask[top - b.box[0] : bottom - b.box[0], left - b.box[1] : right - b.box[1]]
    )
    shared = np.count_nonzero(inter)
    return shared / (a.area + b.area - shared)


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """All that thresholds of one picture give: stable regions, most stable first; layers by channel and side."""

    lab: Pixels  # the picture in L*a*b*, 0..255 each
    regions: tuple[Region, ...]
    layers: tuple[list[Layer], ...]


def scan(pixels: Pixels) -> Scan:
    """Regions and layers of the picture (already shrunk)."""
    lab = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB), np.uint8)
    area = pixels.shape[0] * pixels.shape[1]
    every: list[Region] = []
    every_layer: list[list[Layer]] = []
    for name, channel in channels(pixels).items():
        sides = (True,) if name == "ground" else (True, False)
        regions, own = _of_channel(channel, lab, max(12.0, 0.00025 * area), 0.30 * area, sides)
        every += regions
        every_layer += own
    every = [r for r in every if r.solidity > 0.55]
    every.sort(key=lambda r: -r.stable * (0.5 + r.solidity))
    return Scan(lab, _distinct(every[:900]), tuple(every_layer))


def _distinct(regions: list[Region], most: int = 320) -> tuple[Region, ...]:
    """Each region once, the earlier of two that overlap; boxes are compared first, at once."""
    near = _shared_boxes([r.box for r in regions])
    area = np.array([r.area for r in regions])
    near &= np.minimum(area[:, None], area) >= 0.55 * np.maximum(area[:, None], area)
    kept: list[int] = []
    taken = np.zeros(len(regions), dtype=bool)
    for i, region in enumerate(regions):
        if all(_overlap(region, regions[k]) < 0.55 for k in np.flatnonzero(near[i] & taken)):
            kept.append(i)
            taken[i] = True
        if len(kept) >= most:
            break
    return tuple(regions[i] for i in kept)


def _shared_boxes(boxes: list[tuple[int, int, int, int]], share: float = 0.0) -> NDArray[np.bool_]:
    """(n, n): whose boxes share more than that share of the smaller one."""
    b = np.array(boxes, dtype=np.float64).reshape(-1, 4)
    down = np.minimum(b[:, None, 2], b[:, 2]) - np.maximum(b[:, None, 0], b[:, 0])
    along = np.minimum(b[:, None, 3], b[:, 3]) - np.maximum(b[:, None, 1], b[:, 1])
    size = (b[:, 2] - b[:, 0]) * (b[:, 3] - b[:, 1])
    shared: NDArray[np.bool_] = (np.maximum(down, 0) * np.maximum(along, 0)) > share * np.minimum(size[:, None], size)
    return shared


def _features(regions: list[Region], colour: float) -> NDArray[np.float64]:
    """(n, 7): log size, colour, elongation, extent, solidity, each scaled so that 1 is a plain difference."""
    return np.array(
        [
            [
                np.log(r.area) / 0.55,
                colour * r.colour[0] / 38,
                colour * r.colour[1] / 16,
                colour * r.colour[2] / 16,
                np.log(r.long) / 0.45,
                r.extent / 0.16,
                r.solidity / 0.15,
            ]
            for r in regions
        ]
    )


def groups(
    regions: list[Region], *, reach: float = 1.15, most: int = 8, colour: float = 1.0
) -> list[tuple[list[Region], float]]:
    """Groups of like regions that do not lie in one another, with how alike they are (0 to 1); largest worth first.

    `colour` weighs likeness of colour against that of size and shape.
    """
    if len(regions) < 2:
        return []
    f = _features(regions, colour)
    apart = np.sqrt(((f[:, None] - f[None]) ** 2).sum(-1))
    nested = as_bits(_shared_boxes([r.box for r in regions], 0.4))
    stable = np.array([min(r.stable, 7) for r in regions])
    area = np.array([r.area for r in regions])
    found: dict[frozenset[int], tuple[float, float]] = {}
    for seed in range(min(len(regions), 120)):
        members, taken = [seed], nested[seed] | 1 << seed
        close = np.flatnonzero(apart[seed] < reach * 1.4)
        for i in close[np.argsort(apart[seed, close], kind="stable")].tolist():
            if not taken >> i & 1:
                members.append(i)
                taken |= nested[i]
        if len(members) < 2:
            continue
        key = frozenset(members)
        if key in found:
            continue
        spread = float(apart[members][:, members].mean())
        alike = float(np.exp(-0.5 * spread))
        lasting = float(stable[members].mean())
        worth = alike * lasting * min(len(members), 8) ** 0.5 * np.sqrt(area[members].sum()) ** 0.5
        found[key] = (worth, alike)
    ranked = sorted(found.items(), key=lambda item: -item[1][0])
    chosen: list[tuple[frozenset[int], float]] = []
    for members_set, (_, alike) in ranked:
        if all(len(members_set & other) < 0.8 * max(len(members_set), len(other)) for other, _ in chosen):
            chosen.append((members_set, alike))
        if len(chosen) >= most:
            break
    return [([regions[i] for i in sorted(members)], alike) for members, alike in chosen]


def enlarged(box: tuple[int, int, int, int], back: float, size: tuple[int, int]) -> Box:
    """The box in the pixels of the full working picture, inside it and at least two pixels wide."""
    top, left = min(size[0] - 2, int(box[0] * back)), min(size[1] - 2, int(box[1] * back))
    bottom, right = min(size[0], max(top + 2, round(box[2] * back))), min(size[1], max(left + 2, round(box[3] * back)))
    return Box(top, left, bottom, right)


def as_things(
    regions: list[Region],
    back: float,
    size: tuple[int, int],
    found_by: str,
    alike: float,
    support: float,
    stable: float | None = None,
) -> ThingSet:
    """Regions as a set of things in the pixels of the full working picture."""
    things = tuple(Thing(enlarged(r.box, back, size), (r.center[0] * back, r.center[1] * back), alike) for r in regions)
    return ThingSet(things, size, found_by, alike, support=float(np.clip(support, 0, 1)), clues=Clues(stable=stable))

"""Things that repeat as the trained net sees them, at several sizes of the same photo.

Large things break into parts in a large picture and small ones vanish in a small one, so each size gives its own sets;
a set that several sizes give is believed more. What is seen at any size gives sets as well (`joined.py`): near and
far things.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import linkage

from curator.clues import Clues, NetSet
from curator.records import Box, Thing, ThingSet
from curator.seeing import set_matching
from curator.seeing.features.missed_peaks import SIZED
from curator.seeing.net import runtime
from curator.seeing.net.merge_scales import joined
from curator.seeing.net.runtime import Peaks, Sight
from curator.seeing.view import View

CUTS = (runtime.CUT, 0.5, 0.22)  # a peak is a thing above it
MOST = 8
SEEN = 0.3  # heat from which a thing is seen at a size
ANY_SIZE = ((0.2, 0.0), (0.0, 0.12), (0.35, 0.0))  # least heat at one size, and on the mean over the sizes
SAME = 0.9  # of the things: two sets with more in common are one
ALIKE = 0.6  # product of two embeddings from which two things are one kind (training pulls to 0.95, pushes to 0.2)


def find(view: View) -> list[ThingSet]:
    """Candidate sets, best first. Empty where the trained file is missing."""
    if not view.looking:
        return []
    size = view.size
    found = agreed([s for one in view.looking for s in _at_one_size(one(), size)])[:MOST]
    more = _at_any_size(view.sights, size)
    return found + [s for s in more if not any(set_matching.same_set(s, one, share=SAME) for one in found)]


def main_sets(sight: Sight, size: tuple[int, int], more: Sequence[float] = ()) -> Iterator[ThingSet]:
    """The things meant as the main map has them, cut at several heights and at `more`; size in pixels."""
    main = runtime.peaks(sight, "main", least=runtime.FAINT)
    seen: set[int] = set()
    for cut in (*more, _widest_gap(main.scores), *CUTS):
        count = int((main.scores >= cut).sum())
        if count >= 1 and count not in seen and len(seen) < 3 + len(more):
            seen.add(count)
            yield _as_set(main, count, sight, size, "main")


def _at_one_size(sight: Sight, size: tuple[int, int]) -> Iterator[ThingSet]:
    yield from main_sets(sight, size)
    for level in ("whole", "part"):
        every = runtime.peaks(sight, level, least=0.3)
        for group in _kinds(every):
            yield _as_set(every.taken(group), len(group), sight, size, level)


def _at_any_size(sights: Sequence[Sight], size: tuple[int, int]) -> Iterator[ThingSet]:
    """Sets of what is as large as the clear things and clear enough at one size, or at all together."""
    every = joined(sights)
    if not len(every.peaks):
        return
    mean, most = every.peaks.scores, every.heat.max(1)
    ratio = every.wide / np.median(every.wide[mean >= 0.5 * mean[0]])
    seen: list[NDArray[np.bool_]] = []
    for at_one, at_all in ANY_SIZE:
        own = (ratio > SIZED[0]) & (ratio < SIZED[1]) & (most >= at_one) & (mean >= at_all)
        if own.any() and not any(np.array_equal(own, one) for one in seen):
            seen.append(own)
            peaks = every.peaks.taken(np.concatenate([np.nonzero(own)[0], np.nonzero(~own)[0]]))
            yield _as_joined(peaks, every.heat[own], sights, size)


def _as_joined(found: Peaks, heat: NDArray[np.float64], sights: Sequence[Sight], size: tuple[int, int]) -> ThingSet:
    """The first of the peaks, as many as there are rows of heat (things, sizes), as a set; belief is the mean over the
    sizes.
    """
    alone, own = _as_set(found, len(heat), sights[0], size, "main"), found.taken(np.arange(len(heat)))
    count, scale = np.mean([_believed(own, sight) for sight in sights], axis=0).tolist()
    at_sizes = float(((heat >= SEEN).sum(1) - 1).clip(0).mean()) / max(1, len(sights) - 1)
    net = dataclasses.replace(_net(alone), count=count, scale=scale, large=0.0, small=0.0, sizes=at_sizes, joined=1.0)
    return dataclasses.replace(alone, clues=Clues(net=net), support=_support(net))


def _widest_gap(scores: NDArray[np.float64]) -> float:
    """The cut between 0.2 and 0.6 that lies in the widest gap of the peaks' scores."""
    inner = np.sort(np.clip(scores, 0.2, 0.6))
    edges = np.concatenate([[0.2], inner, [0.6]])
    k = int(np.argmax(np.diff(edges)))
    return float((edges[k] + edges[k + 1]) / 2)


def _kinds(every: Peaks) -> list[NDArray[np.intp]]:
    """Groups of at least two peaks that look alike, the largest area first."""
    if len(every) < 2:
        return []
    apart = 1 - every.embed @ every.embed.T
    groups = flat(linkage(apart[np.triu_indices(len(every), 1)].clip(0), "average"), 1 - ALIKE)
    return sorted(groups, key=lambda g: -float(every.extents[g].prod(1).sum() * every.scores[g].mean()))[:2]


def flat(merged: NDArray[np.float64], most: float) -> list[NDArray[np.intp]]:
    """Groups of two or more that a `linkage` joins up to that distance, as scipy's `fcluster` gives them in three times
    the time; those come first that hold the first things.
    """
    groups = {k: [k] for k in range(len(merged) + 1)}
    for k, (one, other, apart, _) in enumerate(merged.tolist(), len(merged) + 1):
        if apart <= most:
            groups[k] = groups.pop(int(one)) + groups.pop(int(other))
    return [np.array(own, np.intp) for own in sorted(sorted(g) for g in groups.values()) if len(own) >= 2]


def _as_set(found: Peaks, count: int, sight: Sight, size: tuple[int, int], level: str) -> ThingSet:
    """The first `count` peaks as a set; the others only say how clear the cut is."""
    own = found.taken(np.arange(count))
    beyond = float(found.scores[count]) if len(found) > count else 0.1
    clear = float(np.clip(own.scores[-1] - beyond, 0, 0.6)) / 0.6
    middle = own.embed.mean(0)
    alike = np.clip(own.embed @ middle / max(1e-6, float(np.linalg.norm(middle))), 0, 1)
    each = zip(own.centers.tolist(), own.extents.tolist(), alike.tolist(), strict=True)
    things = tuple(_thing(center, extent, size, likeness) for center, extent, likeness in each)
    number, scale = _believed(own, sight)
    net = NetSet(
        score=float(own.scores.mean()),
        least=float(own.scores.min()),
        clear=clear,
        count=number,
        scale=scale,
        main=float(level == "main"),
        whole=float(level == "whole"),
        part=float(level == "part"),
        large=float(sight.longer >= 512),
        small=float(sight.longer <= 256),
    )
    return ThingSet(things, size, "learned", float(alike.mean()), support=_support(net), clues=Clues(net=net))


def _net(things: ThingSet) -> NetSet:
    assert things.clues.net is not None  # every set of this finder has it
    return things.clues.net


def _believed(own: Peaks, sight: Sight) -> tuple[float, float]:
    """How likely one size takes things of their number, and of their size, to be the ones meant."""
    return float(sight.count[min(len(own), 25)]), sight.belief_in_size(float(np.mean(own.extents.max(1))))


def _support(net: NetSet) -> float:
    return min(0.95, 0.25 * net.score + 0.25 * net.clear + 0.2 * math.sqrt(net.count) + 0.15 * net.scale)


def _thing(center: Sequence[float], extent: Sequence[float], size: tuple[int, int], alike: float) -> Thing:
    height, width = extent
    row, col = min(max(center[0], 0.0), size[0] - 1.0), min(max(center[1], 0.0), size[1] - 1.0)
    top, left = max(0, math.floor(row - height / 2)), max(0, math.floor(col - width / 2))
    top, left = min(top, size[0] - 2), min(left, size[1] - 2)
    bottom, right = (
        min(size[0], max(top + 2, math.ceil(row + height / 2))),
        min(size[1], max(left + 2, math.ceil(col + width / 2))),
    )
    return Thing(Box(top, left, bottom, right), (row, col), alike)


def agreed(found: list[ThingSet]) -> list[ThingSet]:
    """One of each set, with how many sizes and levels gave it; best first."""
    groups: list[list[ThingSet]] = []
    for things in sorted(found, key=lambda s: -s.support):
        home = next((g for g in groups if set_matching.same_set(g[0], things, share=SAME)), None)
        if home is None:
            groups.append([things])
        else:
            home.append(things)
    return sorted((_as_one(g) for g in groups), key=lambda s: -s.support)


def _as_one(group: list[ThingSet]) -> ThingSet:
    best, nets = group[0], [_net(s) for s in group]
    sizes = {(one.large, one.small) for one in nets}
    share = (len(sizes) - 1) / (len(runtime.SIZES) - 1)
    most = NetSet(*(max(values) for values in zip(*(dataclasses.astuple(one) for one in nets), strict=True)))
    levels = most.main + most.whole + most.part
    net = dataclasses.replace(most, sizes=share, all=float(share == 1), levels=float(levels > 1))
    told, told_all = any(s.clues.told for s in group), any(s.clues.told_all for s in group)
    support = min(0.97, best.support + 0.25 * share * (1 - best.support))
    return dataclasses.replace(best, support=support, clues=Clues(told=told, told_all=told_all, net=net))

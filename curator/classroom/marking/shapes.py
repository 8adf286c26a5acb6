"""One smooth shape about some of a picture's things that leaves the others free: what a cover and a ring are made from.

Where a straight line parts the two, the shape ends along it; else it keeps to the middle between them.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from curator.classroom.marking.extents import Floats, Mask, Pixels, around, disc, points, reaches
from curator.classroom.marking.outlines import SOFT, Labels
from curator.records import Prompt

LONGER = 720  # pixels: shapes are worked out at this size and enlarged smoothly
TURNS = np.radians(np.arange(0, 360, 3))
WAYS = np.stack([np.cos(TURNS), np.sin(TURNS)])  # (2, n) x, y
HALF = len(TURNS) // 2  # the other half of the turns looks the other way
UPRIGHT = (0, 30, 60, 90)  # of the turns: level and upright
LEVEL = 0.6  # of the widest gap: with so much, a line is level or upright
TOUCH = 0.05  # of a thing: a gap between outlines that is no wider is none
BOXED, FEW = 0.1, 0.04  # of a thing, of a group: so wide a gap between boxes serves where outlines hardly cross it
OVERLAP = 0.15  # of a thing: so much may lie across a straight line, for an outline is only so exact
# of a group, of a thing: no more of a group may lie past a line, where things share a tray or a stalk
CRUMBS = (0.12, 0.6)
BEYOND = 0.01  # of a group's rim: not looked at when a line is laid
ROOM = 0.3  # of a thing: how far a shape reaches past its things where nothing is in the way
CLEAR = 0.25  # of a thing: how far it keeps from one that is not its own


class Cut(NamedTuple):
    """A straight line: points with x * across + y * down < at lie on the side of the group inside."""

    across: float
    down: float
    at: float
    gap: float  # pixels between the groups, less than 0 where they overlap


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """Two groups of a picture's things, as pixels; nothing in it is written to."""

    inside: Mask  # (h, w)
    outside: Mask
    own: Mask  # inside, without what is only a guess
    other: Mask  # outside, likewise
    thing: float  # the middle size of a thing, in pixels
    labels: Labels  # (h, w) `own` and `other`, thing by thing
    whole: Labels  # (h, w) `inside` and `outside`, likewise
    between: Cut | None  # level or upright, midway between the boxes, where those hardly overlap
    unsure: bool  # whether some of the outlines are a guess
    boxed: Floats  # (n, 4) middles and half sizes x, y of the things inside


def working(size: tuple[int, int]) -> tuple[int, int]:
    """Height and width at which shapes are worked out."""
    scale = min(1.0, LONGER / max(size))
    return max(1, round(size[0] * scale)), max(1, round(size[1] * scale))


def parted(own: Labels, prompt: Prompt, members: Collection[int], size: tuple[int, int]) -> Parted:
    """The things of these dots, and all others; no pixel is in both."""
    return _parted(own.tobytes(), own.shape, prompt, tuple(members), size)


@lru_cache(maxsize=4)  # a ring and a cover ask for the same two halves
def _parted(
    data: bytes, shape: tuple[int, ...], prompt: Prompt, members: tuple[int, ...], size: tuple[int, int]
) -> Parted:
    own = _named(data, shape, prompt, size)
    chosen = np.array([i in set(members) for i in range(len(own.things))], dtype=bool)
    whose = np.zeros((2, 256), np.bool_)
    whose[0, 1 : 1 + len(chosen)], whose[1, 1 : 1 + len(chosen)] = chosen, ~chosen
    mine, theirs = whose[0][own.which], whose[1][own.which]
    inside, outside = _enlarged(mine, size), _enlarged(theirs, size)
    outside &= ~inside
    sure = _surely(mine, own, inside)
    other = _surely(theirs, own, outside)
    unsure = own.guessed is not None
    between = _between(own.things, chosen, own.thing) if unsure else None
    whole = own.large * (inside | outside)
    labels = own.large * (sure | other) if unsure else whole
    return Parted(inside, outside, sure, other, own.thing, labels, whole, between, unsure, own.things[chosen])


class _Named(NamedTuple):
    """The things of a picture, whatever they are parted into."""

    things: Floats  # (n, 4) middles and half sizes x, y at the size that is worked at
    which: Labels  # (h, w) the thing of each pixel from 1, 0 for none
    large: Labels  # the same at the size that is worked at
    guessed: Mask | None  # (h, w) what is only a guess; None where nothing is
    thing: float  # the middle size of a thing


@lru_cache(maxsize=2)
def _named(data: bytes, shape: tuple[int, ...], prompt: Prompt, size: tuple[int, int]) -> _Named:
    import cv2

    own = np.frombuffer(data, np.uint8).reshape(shape)
    things, which, guessed = reaches(prompt, size), things_of(own), own >= SOFT
    large = np.asarray(cv2.resize(which, size[::-1], interpolation=cv2.INTER_NEAREST), dtype=np.uint8)
    return _Named(things, which, large, guessed if guessed.any() else None, _thing(which, things, size))


def _surely(part: Mask, own: _Named, held: Mask) -> Mask:
    """What is held of a part (h, w), without what is only a guess."""
    if own.guessed is None or not (part & own.guessed).any():
        return held
    return _enlarged(part & ~own.guessed, held.shape) & held


def things_of(own: Labels) -> Labels:
    """The thing of each pixel from 1, guessed or not; 0 for none."""
    return np.asarray(np.where(own >= SOFT, own - SOFT, own), dtype=np.uint8)


def _between(things: Floats, chosen: NDArray[np.bool_], thing: float) -> Cut | None:
    """The level or upright line with the widest gap between the boxes of chosen and other things."""
    if chosen.all() or not chosen.any():
        return None
    low, high = things[:, :2] - things[:, 2:], things[:, :2] + things[:, 2:]
    found = []
    for across, down in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)):
        axis, way = (0, across) if across else (1, down)
        near = (high if way > 0 else -low)[chosen, axis].max()
        far = (low if way > 0 else -high)[~chosen, axis].min()
        found.append(Cut(across, down, float(near + far) / 2, float(far - near)))
    best = max(found, key=lambda cut: cut.gap)
    return best if best.gap >= -TOUCH * thing else None


def _thing(which: Labels, things: Floats, size: tuple[int, int]) -> float:
    """The middle size of a thing, in pixels of a picture of that height and width."""
    sizes = np.sqrt(np.bincount(which.ravel(), minlength=2)[1:] * (size[0] * size[1] / which.size))
    grown = float(np.median(sizes[sizes > 0])) if (sizes > 0).any() else 0.0
    return max(grown, 2 * float(np.median(things[:, 2:])) if len(things) else 0.0, 4.0)


def _enlarged(mask: Mask, size: tuple[int, int]) -> Mask:
    import cv2

    if mask.shape == size:
        return mask.copy()
    large = cv2.resize(mask.astype(np.float32), size[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(large > 0.5, dtype=np.bool_)


def straight(groups: Parted) -> Cut | None:
    """The line that parts the two groups best; None where each one reaches into the other."""
    return next(iter(straights(groups)), None)


@lru_cache(maxsize=4)
def straights(groups: Parted) -> tuple[Cut, ...]:
    """Lines that part the two groups, level and upright ones first if they serve, then where the gap is widest."""
    whole = _lines(groups.inside, groups.outside)
    boxed = _lines(groups.own, groups.other) if groups.unsure else whole
    found: list[Cut] = []
    if whole and whole[0].gap > max(0.0, LEVEL * whole[1].gap):
        found.append(whole[0])
    touching = whole is None or whole[1].gap < TOUCH * groups.thing  # then outlines run into each other
    if touching and groups.between and _harmless(groups.between, groups):
        found.append(groups.between)
    if boxed and boxed[0].gap > BOXED * groups.thing and _harmless(boxed[0], groups, CRUMBS[0] if touching else FEW):
        found.append(boxed[0])
    wide = [cuts[1] for cuts in (whole, boxed) if cuts and cuts[1].gap >= -OVERLAP * groups.thing]
    return (*found, *(cut for cut in wide if _harmless(cut, groups)))


def _lines(inside: Mask, outside: Mask) -> tuple[Cut, Cut] | None:
    """The level or upright line with the widest gap, and the line of any direction with the widest."""
    one, other = (_reached(mask.tobytes(), mask.shape) for mask in (inside, outside))
    if one is None or other is None:
        return None
    near, far = one[1], other[0]
    gaps = far - near
    level, best = max(UPRIGHT, key=lambda k: float(gaps[k])), int(gaps.argmax())

    def cut(k: int) -> Cut:
        return Cut(float(WAYS[0, k]), float(WAYS[1, k]), float(near[k] + far[k]) / 2, float(gaps[k]))

    return cut(level), cut(best)


@lru_cache(maxsize=4)  # a cover over one half asks for the same two as a cover over the other
def _reached(data: bytes, shape: tuple[int, int]) -> tuple[Floats, Floats] | None:
    """How far the rim of a mask reaches back and on along each of WAYS, but for BEYOND of it; None of an empty one."""
    at = _rim(np.frombuffer(data, np.bool_).reshape(shape))
    if not len(at):
        return None
    along = WAYS[:, :HALF].T @ at.T
    low, high = np.quantile(along, (BEYOND, 1 - BEYOND), axis=1, overwrite_input=True)
    return np.concatenate([low, -high]), np.concatenate([high, -low])


def _harmless(cut: Cut, groups: Parted, share: float = CRUMBS[0]) -> bool:
    """Whether it cuts off no more than crumbs: so much of a group at most, and less than a thing."""
    past = beyond(cut, (groups.inside.shape[0], groups.inside.shape[1]))
    lost, gained = np.count_nonzero(groups.inside & past), np.count_nonzero(groups.outside & ~past)
    crumbs = [min(share * part, CRUMBS[1] * groups.thing**2)
              for part in (np.count_nonzero(groups.inside), np.count_nonzero(groups.outside))]  # fmt: skip
    return bool(lost <= crumbs[0] and gained <= crumbs[1])


def _rim(mask: Mask) -> Floats:
    """(n, 2) x, y of the pixels along the edges of a mask."""
    import cv2

    inner = cv2.erode(mask.astype(np.uint8), disc(1), borderType=cv2.BORDER_CONSTANT, borderValue=(0,)) > 0
    return points(mask & ~inner)


def ends(mask: Mask) -> Floats:
    """(n, 2) x, y of the first and the last of a mask's pixels in each row: none reaches farther in any direction."""
    rows = np.flatnonzero(mask.any(axis=1))
    held = mask[rows]
    first, last = held.argmax(axis=1), mask.shape[1] - 1 - held[:, ::-1].argmax(axis=1)
    return np.column_stack([np.concatenate([first, last]), np.concatenate([rows, rows])]).astype(np.float64)


def beyond(cut: Cut, size: tuple[int, int], back: float = 0.0) -> Mask:
    """(h, w) what lies past the line, or past one that many pixels nearer to the group inside."""
    columns, rows = np.arange(size[1])[None], np.arange(size[0])[:, None]
    return np.asarray(columns * cut.across + rows * cut.down > cut.at - back, dtype=np.bool_)


def hull(mask: Mask, grown: float) -> Mask:
    """The tightest shape without a dent about a mask, grown by so many pixels with round corners."""
    import cv2

    found = np.zeros(mask.shape, np.bool_)
    if not mask.any():
        return found
    part = around(mask, grown + 2)
    solid: Pixels = np.zeros(mask[part].shape, np.uint8)
    cv2.fillConvexPoly(solid, cv2.convexHull(ends(mask[part]).astype(np.int32)), (1,))
    found[part] = distance(solid.view(np.bool_)) <= grown
    return found


def distance(mask: Mask) -> NDArray[np.float32]:
    """(h, w) pixels from each place to the mask; far everywhere where the mask is empty."""
    import cv2

    if not mask.any():
        return np.full(mask.shape, 1e6, np.float32)
    return np.asarray(cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 5), dtype=np.float32)


def smooth(mask: Mask, sigma: float) -> Mask:
    """Corners rounded, notches filled, what is thinner than that taken off; the picture's edge counts as more of the
    same.
    """
    import cv2

    sigma = max(0.5, sigma)
    found, part = np.zeros(mask.shape, np.bool_), around(mask, 4 * sigma + 2)  # OpenCV's kernel reaches 4 sigma
    if mask.any():
        soft = cv2.GaussianBlur(mask[part].astype(np.float32), (0, 0), sigma, borderType=cv2.BORDER_REPLICATE)
        found[part] = soft > 0.5
    return found


def about(groups: Parted, room: float = ROOM) -> Mask:
    """(h, w) a smooth shape that holds all of the group inside and nothing of the other; room in sizes of a thing."""
    size = (groups.inside.shape[0], groups.inside.shape[1])
    if not groups.inside.any():
        return groups.inside
    shape = hull(groups.inside, room * groups.thing)
    cut = straight(groups)
    if cut is None:
        shape &= distance(groups.outside) > np.minimum(CLEAR * groups.thing, distance(groups.inside))
        own, other = groups.inside, groups.outside
    else:
        shape &= ~beyond(cut, size)
        own, other = groups.own, groups.other
    shape = smooth(shape, 0.06 * groups.thing) | own
    shape = (shape | smooth(shape, 0.04 * groups.thing)) & ~other
    return _held(shape, groups.inside)


def _held(shape: Mask, inside: Mask) -> Mask:
    """Without the pieces that hold nothing."""
    import cv2

    count, parts = cv2.connectedComponents(shape.astype(np.uint8))
    holds = np.zeros(count, np.bool_)
    holds[np.unique(parts[inside & shape])] = True
    holds[0] = False
    return np.asarray(holds[parts], dtype=np.bool_)


def full(mask: Mask, size: tuple[int, int]) -> Mask:
    """The mask at the picture's own size, its edge smooth."""
    import cv2

    if mask.shape == size:
        return mask
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 0.8, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.resize(soft, size[::-1], interpolation=cv2.INTER_LINEAR) > 0.5, dtype=np.bool_)

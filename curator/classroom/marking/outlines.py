"""Which pixels of a picture show which counted thing: the boxes of a prompt are often too small, or name only a part.

Two ways of finding them: what the trained net sees (`seen`), and, where that is not sure, what stands out from the
ground; the one is taken whose edges lie on the steeper edges of the picture. What stands out says nothing of a thing's
own end where it lies on another (a tray, a stalk): past its box it is only a guess, which SOFT marks.

Raised fingers are told by their joints (`fingers`).

The ground is what the rim of the picture shows; a graph cut (Rother et al. 2004, OpenCV's grabCut) tells what lies on
it; what hangs together with one thing is that thing, and what hangs together with several is shared out by a watershed
from their middles. Where nothing stands out from the ground the boxes remain.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from curator.classroom.marking import fingers
from curator.classroom.marking.extents import Floats, Mask, Pixels, boxes, disc, ellipses, reaches
from curator.classroom.marking.seen import Seen, seen
from curator.records import Prompt

Labels = NDArray[np.uint8]  # (h, w): 0 for no thing, 1 + i for the thing of dot i, SOFT more for a guess
SOFT = 128  # a pixel of this much more hangs together with its thing, or lies in its box; it may be something else's

LONGER = 480  # pixels of the copy that is looked at
CORE = 0.75  # of a box, as an ellipse: surely the thing
FAR = 2.0  # of a box: beyond it lies nothing of the thing, as a first guess
SHARED = 2.5  # of a box: no farther does a thing reach into what it shares with others (a tray, a stalk)
RIM = 0.06  # of the longer side: the band that shows the ground
GROUNDS, OF_RIM = 8, 0.04  # colours of the ground, and the least share of the rim that makes a colour ground
UNLIKE = 11.3  # squared Mahalanobis distance to the ground: 99 of 100 of its pixels lie nearer (chi-squared, 3 degrees)
NOISE = (36.0, 6.0, 6.0)  # variance of L, a, b that any ground has
SHADOW = 0.6  # darkness alone counts for so much: a shadow is no thing
# pixels of area, pixels: a piece so large and so near to a thing is a part of it that glare or shade cut off
CRUMB, BROKEN = 30, 20
LARGE, ALIKE = 0.2, 2.5  # of the picture, of the median thing: what is larger is no single thing
EVEN = 10.0  # compactness of the watershed: borders run midway unless an edge is near
BOX = 1.1  # of an ellipse in a box: beyond it a pixel is a guess
RIMS = 0.1  # of a thing: as far past its edge in the net's eyes more of it may lie
SHARES = 0.25  # of a thing seen as another's, too: then they lie over each other, and nothing tells whose a pixel is
MEET = 3  # pixels on each side of where two things meet
SAME = 0.8  # likewise: so much of it that the two are seen as one
HARDLY, ONE = 0.7, 0.6  # the same where halves lie against each other; of a thing: seen as one with another
PLAIN, MIXED = 0.85, 0.1  # intersection over union of two looks about the worst thing; of a thing: the net tells all
# intersection over union of two looks of the net: with less neither is believed, with more both against all edges
AGREED, NEARLY = 0.55, 0.9


def outlines(photo: Pixels, prompt: Prompt) -> Labels:
    """The things of a picture (H, W, 3), on a copy of it at most LONGER pixels long."""
    import cv2

    if not prompt.dots:
        return np.zeros((1, 1), np.uint8)
    size = size_of(photo)
    small = np.asarray(cv2.resize(photo, size[::-1], interpolation=cv2.INTER_AREA), dtype=np.uint8)
    things = reaches(prompt, size)[: SOFT - 1]  # as many as there are numbers for; no class counts so far
    on_fingers = fingers.outlined(small, things)
    if on_fingers is not None:
        return on_fingers
    lab = np.asarray(cv2.cvtColor(cv2.GaussianBlur(small, (3, 3), 0), cv2.COLOR_RGB2LAB), dtype=np.float32)
    steep = np.max([np.hypot(cv2.Sobel(one, cv2.CV_32F, 1, 0), cv2.Sobel(one, cv2.CV_32F, 0, 1))
                    for one in cv2.split(lab)], axis=0)  # fmt: skip
    unlike, by_net = _unlike(lab, things), seen(small, steep, things)
    if by_net is not None and _settled(by_net, prompt):
        return _as_seen(by_net, prompt, np.where(unlike, _nearest(by_net.labels), 0).astype(np.uint8))
    by_ground = _shared_out(steep, _on_the_ground(small, unlike, things), things)
    if by_net is None:
        return _softened(by_ground, things)
    if _open(by_net, prompt):
        found = _softened(by_ground, things)
        return np.asarray(np.where((found > 0) & (found < SOFT), found + SOFT, found), dtype=np.uint8)
    if not _told_apart(by_net, prompt):
        return _softened(by_ground, things)
    if _on_edges(by_net.labels, steep) >= _on_edges(by_ground, steep):
        return _as_seen(by_net, prompt, by_ground)
    return _softened(np.where(by_net.labels > 0, by_net.labels, by_ground), things, by_net.labels)


def _settled(by_net: Seen, prompt: Prompt) -> bool:
    """Whether the net is so sure that nothing else is asked."""
    nearly = by_net.agreed >= NEARLY and not _open(by_net, prompt) and _told_apart(by_net, prompt)
    return nearly or _plain(by_net, prompt)


def _as_seen(by_net: Seen, prompt: Prompt, around: Labels) -> Labels:
    """The things as the net has them; a guess where it is not sure whose a pixel is."""
    found = _with_rims(by_net.labels, around)
    if _plain(by_net, prompt):
        return found
    guessed = _claimed_twice(by_net)
    if by_net.agreed < NEARLY:
        guessed |= _meeting(found) | by_net.doubted
    return np.where(guessed & (found > 0), found + SOFT, found).astype(np.uint8)


def _plain(by_net: Seen, prompt: Prompt) -> bool:
    """Whether two looks agree about every thing, also where it lies against others, and never take what one says is of
    one half for the other.
    """
    apart = _apart(by_net, prompt)
    return bool(by_net.least >= PLAIN and by_net.mixed[apart].max(initial=0.0) <= MIXED)


def _open(by_net: Seen, prompt: Prompt) -> bool:
    """Whether it is open what the things are: some grow into one body, or two of different halves are seen as one."""
    return bool(by_net.agreed < AGREED or by_net.shared[_apart(by_net, prompt)].max(initial=0.0) > ONE)


def _halved(labels: Labels, prompt: Prompt) -> Labels:
    """(h, w) the side of each thing, 3 for what is in neither half."""
    sides = np.array([0, *(dot.side or 3 for dot in prompt.dots)], np.uint8)
    return np.asarray(sides[labels], dtype=np.uint8)


def _apart(by_net: Seen, prompt: Prompt) -> Mask:
    """(n, n) which things are of different halves; all of what is no double."""
    sides = np.array([dot.side for dot in prompt.dots[: len(by_net.shared)]])
    return np.asarray(sides[:, None] * sides == 2 if prompt.fact else np.ones_like(by_net.shared), dtype=np.bool_)


def _told_apart(by_net: Seen, prompt: Prompt) -> bool:
    """Whether the net tells the things of one half from those of the other, and sees no two as one; where they lie
    against each other two looks have to agree well.

    Within a half things may lie over each other: one card covers them all.
    """
    if by_net.agreed < HARDLY and _meeting(_halved(by_net.labels, prompt)).any():
        return False
    sides = np.array([dot.side for dot in prompt.dots[: len(by_net.shared)]])
    counted = by_net.shared[sides > 0][:, sides > 0] if prompt.fact else by_net.shared
    return bool(by_net.shared[_apart(by_net, prompt)].max(initial=0.0) <= SHARES and counted.max(initial=0.0) <= SAME)


def _claimed_twice(by_net: Seen) -> Mask:
    """(h, w) what lies in two things that lie over each other."""
    found = np.zeros(by_net.labels.shape, np.bool_)
    for i, j in np.argwhere(np.triu(by_net.shared > SHARES)):
        found |= by_net.masks[i] & by_net.masks[j]
    return found


def _meeting(labels: Labels) -> Mask:
    """(h, w) where two things meet: looks that do not agree well leave open whose that is."""
    import cv2

    near = np.ones((2 * MEET + 1,) * 2, np.uint8)
    least = cv2.erode(np.where(labels > 0, labels, 255).astype(np.uint8), near)
    return np.asarray((cv2.dilate(labels, near) != least) & (labels > 0), dtype=np.bool_)


def size_of(photo: Pixels) -> tuple[int, int]:
    """Height and width of the copy that is looked at."""
    height, width = photo.shape[:2]
    scale = min(1.0, LONGER / max(height, width))
    return max(1, round(height * scale)), max(1, round(width * scale))


def _with_rims(labels: Labels, around: Labels) -> Labels:
    """What the net sees of each thing, and past its edge, for a little way, what is that thing's by `around`: of small
    things the net loses the outermost pixels.
    """
    import cv2

    found = labels.copy()
    for i in np.unique(labels[labels > 0]):
        mask = (labels == i).astype(np.uint8)
        near = cv2.dilate(mask, disc(max(1, round(RIMS * float(np.sqrt(mask.sum())))))) > 0
        found[near & (labels == 0) & (around == i)] = i
    return found


def _nearest(labels: Labels) -> Labels:
    """(h, w) the thing nearest to each pixel."""
    import cv2

    free = labels == 0
    if free.all():
        return labels
    _, at = cv2.distanceTransformWithLabels(
        free.astype(np.uint8), cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL
    )  # `at`: the number of the nearest pixel of any thing
    whose = np.zeros(int(at.max()) + 1, np.uint8)
    whose[at[~free]] = labels[~free]
    return np.asarray(whose[at], dtype=np.uint8)


def _on_edges(labels: Labels, steep: NDArray[np.float32]) -> float:
    """How steep the picture is along the edges of the middle one of the things; its own rim does not count."""
    import cv2

    found = []
    for i in np.unique(labels[labels > 0]):
        mask = (labels == i).astype(np.uint8)
        edge = cv2.morphologyEx(mask, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)) > 0
        edge[:2], edge[-2:], edge[:, :2], edge[:, -2:] = False, False, False, False
        found.append(float(np.median(steep[edge])) if edge.any() else 0.0)
    return float(np.median(found)) if found else 0.0


def _softened(labels: Labels, things: Floats, core: Labels | None = None) -> Labels:
    """What lies past the things' boxes as a guess; what lies in them, found or not, is theirs. With a core that and no
    more is surely theirs.
    """
    size = (labels.shape[0], labels.shape[1])
    surely, maybe, in_boxes = _cores(things, size, 1.0), np.zeros(size, np.int32), np.zeros(size, np.int32)
    near = np.zeros(size, np.bool_)
    for i, thing in enumerate(things):
        inside = boxes(thing[None], 1.0, size)
        maybe[inside] = i + 1
        in_boxes += inside
        near |= (labels == i + 1) & ellipses(thing[None], BOX, size)
    maybe[in_boxes > 1] = 0
    guess = np.where(labels > 0, labels, maybe)
    sure = np.where(near, labels, np.where(labels == 0, surely, 0)) if core is None else core
    return np.asarray(np.where(sure > 0, sure, np.where(guess > 0, guess + SOFT, 0)), dtype=np.uint8)


def boxed(prompt: Prompt, size: tuple[int, int]) -> Labels:
    """The things as ellipses in their boxes, for a picture that was drawn: those boxes are true."""
    return _cores(reaches(prompt, size), size, 1.0).astype(np.uint8)


def _cores(things: Floats, size: tuple[int, int], grown: float) -> NDArray[np.int32]:
    found = np.zeros(size, np.int32)
    for i, thing in enumerate(things):
        found[ellipses(thing[None], grown, size)] = i + 1
    return found


def _unlike(lab: NDArray[np.float32], things: Floats) -> Mask:
    """Pixels of no colour that the ground has."""
    import cv2

    size = (lab.shape[0], lab.shape[1])
    far = ~boxes(things, FAR, size)
    if far.mean() < 0.08:
        far = ~boxes(things, 1.3, size)
    rim = far.copy()
    band = max(1, round(RIM * max(size)))
    rim[band:-band, band:-band] = False
    if far.sum() < 200 or rim.sum() < 100:
        return np.zeros(size, np.bool_)
    ground = np.ascontiguousarray(lab[far][:: max(1, int(far.sum()) // 4000)])
    cv2.setRNGSeed(0)
    until = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    _, _, middles = cv2.kmeans(ground, GROUNDS, None, until, 1, cv2.KMEANS_PP_CENTERS)
    edge = lab[rim][:: max(1, int(rim.sum()) // 3000)]
    nearest = ((edge[:, None] - middles[None]) ** 2).sum(axis=2).argmin(axis=1)
    share = np.bincount(nearest, minlength=GROUNDS) / len(edge)
    best = np.full(size, np.inf, np.float32)
    for n in np.flatnonzero(share >= OF_RIM):
        part = edge[nearest == n]  # of the rim alone: a colour of the ground may share its cluster with the things
        if len(part) >= 20:
            np.minimum(best, _distance(lab, part), out=best)
    return np.asarray(best > UNLIKE, dtype=np.bool_)


def _distance(lab: NDArray[np.float32], part: NDArray[np.float32]) -> NDArray[np.float32]:
    """Squared Mahalanobis distance of each pixel to that colour of the ground."""
    import cv2

    inverse = np.linalg.inv(np.cov(part.T) + np.diag(NOISE)).astype(np.float32)
    away = lab - part.mean(axis=0)
    away[..., 0] = np.where(away[..., 0] < 0, SHADOW * away[..., 0], away[..., 0])
    weighed = away * np.asarray(cv2.transform(away, inverse), dtype=np.float32)  # a fifth of the time of einsum
    return np.asarray(cv2.transform(weighed, np.ones((1, 3), np.float32)), dtype=np.float32)


def _on_the_ground(small: Pixels, unlike: Mask, things: Floats) -> Mask:
    """What is not ground, after a graph cut that starts from the boxes and from colours unlike the ground; it works on
    a quarter of the pixels.
    """
    import cv2

    size = (unlike.shape[0], unlike.shape[1])
    guess = np.full(size, cv2.GC_BGD, np.uint8)
    guess[boxes(things, FAR, size)] = cv2.GC_PR_BGD
    guess[unlike | boxes(things, 1.0, size)] = cv2.GC_PR_FGD
    guess[ellipses(things, CORE, size)] = cv2.GC_FGD
    coarse = (-(-size[1] // 2), -(-size[0] // 2))
    told = cv2.resize(guess, coarse, interpolation=cv2.INTER_NEAREST)
    if np.isin(told, (cv2.GC_BGD, cv2.GC_PR_BGD)).any():
        things_like, ground_like = np.zeros((1, 65)), np.zeros((1, 65))
        cv2.setRNGSeed(0)
        part = cv2.resize(small, coarse, interpolation=cv2.INTER_AREA)
        cv2.grabCut(part, told, None, ground_like, things_like, 1, cv2.GC_INIT_WITH_MASK)
    held = np.isin(told, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.float32)
    held = cv2.resize(held, size[::-1], interpolation=cv2.INTER_LINEAR) > 0.5
    found = ((held & (guess != cv2.GC_BGD)) | (guess == cv2.GC_FGD)).astype(np.uint8)
    found = cv2.morphologyEx(found, cv2.MORPH_OPEN, disc(1))
    return np.asarray(cv2.morphologyEx(found, cv2.MORPH_CLOSE, disc(2)), dtype=np.bool_)


def _shared_out(steep: NDArray[np.float32], found: Mask, things: Floats) -> Labels:
    """Each pixel of what was found to the thing it belongs to."""
    import cv2
    from skimage.segmentation import watershed

    size = (steep.shape[0], steep.shape[1])
    cores = _cores(things, size, CORE)
    _, parts, stats, _ = cv2.connectedComponentsWithStats(_mended(found, cores).astype(np.uint8), connectivity=4)
    held = {int(c): np.unique(cores[(parts == c) & (cores > 0)]) for c in np.unique(parts[cores > 0])}
    single = {c: int(stats[c, cv2.CC_STAT_AREA]) for c, ids in held.items() if len(ids) == 1 and _whole(stats[c], size)}
    most = ALIKE * float(np.median(list(single.values()))) if single else 0.0
    open_to = boxes(things, SHARED, size) & np.isin(parts, list(held))
    open_to |= np.isin(parts, [c for c, area in single.items() if area <= most]) | (cores > 0)
    shared = watershed(steep, cores, mask=open_to, compactness=EVEN)
    return np.asarray(shared, dtype=np.uint8)


def _mended(found: Mask, cores: NDArray[np.int32]) -> Mask:
    """What was found, with small pieces joined to the thing they are near."""
    import cv2

    solid = (found | (cores > 0)).astype(np.uint8)
    size = (solid.shape[0], solid.shape[1])
    count, parts, stats, _ = cv2.connectedComponentsWithStats(solid, connectivity=4)
    held = np.unique(parts[cores > 0])
    most = float(np.median(stats[held, cv2.CC_STAT_AREA]))
    home = np.argwhere(np.isin(parts, held))
    far = cv2.distanceTransform((~np.isin(parts, held)).astype(np.uint8), cv2.DIST_L2, 3)
    for c in range(1, count):
        if c in held or not CRUMB <= stats[c, cv2.CC_STAT_AREA] <= most or not _whole(stats[c], size):
            continue
        piece = np.argwhere(parts == c)
        end = piece[far[piece[:, 0], piece[:, 1]].argmin()]
        if far[end[0], end[1]] <= BROKEN:
            start = home[((home - end) ** 2).sum(axis=1).argmin()]
            cv2.line(solid, (int(start[1]), int(start[0])), (int(end[1]), int(end[0])), (1,), 3)
    return solid.astype(bool)


def _whole(stats: NDArray[np.int32], size: tuple[int, int]) -> bool:
    """Whether a connected part may be one whole thing: not cut by the picture's edge, not most of the picture."""
    left, top, width, height, area = (int(v) for v in stats)
    inside = left > 0 and top > 0 and left + width < size[1] and top + height < size[0]
    return inside and area < LARGE * size[0] * size[1]

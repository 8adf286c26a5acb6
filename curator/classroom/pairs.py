"""A picture that is no double: partners joined by a line, and what is left over ringed."""

from __future__ import annotations

from itertools import combinations

import numpy as np

from curator.classroom.marking.card_colors import DARK, LIGHT
from curator.classroom.marking.covers import stroke
from curator.classroom.marking.extents import Floats, Pixels, reaches
from curator.classroom.marking.rings import BLUE, ORANGE, widths
from curator.records import Prompt


def partners(prompt: Prompt) -> tuple[list[tuple[int, int]], list[int]]:
    """(partners, left over) as indices of the dots: neighbours over the cut where there are sides, else neighbours."""
    one, other, rest = ([i for i, d in enumerate(prompt.dots) if d.side == side] for side in (1, 2, 0))
    at = np.array([(d.x, d.y) for d in prompt.dots], dtype=np.float64).reshape(-1, 2)
    if one and other:
        found = _across(at, one, other)
        rest += [i for i in (*one, *other) if not any(i in pair for pair in found)]
        return found, rest
    every = one + other + rest
    return _neighbours(at, every) if every else ([], [])


def _across(at: Floats, one: list[int], other: list[int]) -> list[tuple[int, int]]:
    from scipy.optimize import linear_sum_assignment

    cost = np.linalg.norm(at[one][:, None] - at[other][None], axis=2)
    return [(one[i], other[j]) for i, j in zip(*linear_sum_assignment(cost), strict=True)]


def _neighbours(at: Floats, every: list[int]) -> tuple[list[tuple[int, int]], list[int]]:
    """The shortest way to join all in pairs, as far as trying each one as the one left over, and swaps, find it."""
    tries = [[i] for i in every] if len(every) % 2 else [[]]
    found = [(_joined(at, [i for i in every if i not in left]), left) for left in tries]
    return min(found, key=lambda f: sum(float(np.linalg.norm(at[i] - at[j])) for i, j in f[0]))


def _joined(at: Floats, members: list[int]) -> list[tuple[int, int]]:
    """Nearest first, then two pairs exchange partners as long as that makes their lines shorter."""
    free, pairs = set(members), []
    for i, j in sorted(combinations(members, 2), key=lambda p: float(np.linalg.norm(at[p[0]] - at[p[1]]))):
        if i in free and j in free:
            pairs.append((i, j))
            free -= {i, j}
    shorter = True
    while shorter:
        shorter = False
        for a, b in combinations(range(len(pairs)), 2):
            (i, j), (k, m) = pairs[a], pairs[b]
            ways = [((i, j), (k, m)), ((i, k), (j, m)), ((i, m), (j, k))]
            lengths = [sum(float(np.linalg.norm(at[p] - at[q])) for p, q in way) for way in ways]
            best = int(np.argmin(lengths))
            if lengths[best] < lengths[0] - 1e-9:
                pairs[a], pairs[b] = ways[best]
                shorter = True
    return pairs


def drawn(photo: Pixels, prompt: Prompt) -> Pixels:
    """The picture with a line from partner to partner and a ring about each thing left over."""
    import cv2

    out = photo.copy()
    size = (photo.shape[0], photo.shape[1])
    things, one = reaches(prompt, size), stroke(size)
    found, left = partners(prompt)
    for color, wide in zip((DARK, LIGHT, BLUE), widths(one, 1.5), strict=True):
        for i, j in found:
            ends = [(round(16 * things[n, 0]), round(16 * things[n, 1])) for n in (i, j)]
            cv2.line(out, ends[0], ends[1], color, wide, cv2.LINE_AA, 4)
            for end in ends:
                cv2.circle(out, end, round(8 * (6.5 * one + wide)), color, -1, cv2.LINE_AA, 4)
    for x, y, w, h in things[left]:
        axes = (round(1.25 * w + 3 * one), round(1.25 * h + 3 * one))
        for color, wide in zip((DARK, LIGHT, ORANGE), widths(one), strict=True):
            cv2.ellipse(out, (round(x), round(y)), axes, 0, 0, 360, color, wide, cv2.LINE_AA)
    return out

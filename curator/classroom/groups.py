"""Groups inside a half: whether a class sees how many there are or has to count, and how long a picture shows."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from curator.records import Dot, Prompt

# things seen without counting: at most four (Trick & Pylyshyn 1994), three at six years (Jansen et al. 2014)
AT_ONCE = 4
LONGEST = 5.0  # seconds: trade range for a class 1 to 5 [common practice]


def is_near(p: Prompt) -> bool:
    """A picture that is one from a double."""
    one, other, left = p.count(1), p.count(2), p.count(0)
    return p.fact is None and min(one, other) > 0 and abs(one - other) + left == 1


def seconds(show: float, total: int, *, seen_as_groups: bool) -> float:
    """How long a picture shows: `show` where it is small, a second more for each four past eight, two where no groups
    help; 0 stays on. (Own rule of thumb: with equal groups few more are seen at once; without them they are counted.)
    """
    if show == 0:
        return 0.0
    more = max(0, -(-(total - 2 * AT_ONCE) // 4)) / 2 + (0.0 if seen_as_groups else 2.0)
    return min(LONGEST, show + more)


def in_groups(p: Prompt) -> bool:
    """True where the things can be seen without counting each: halves in groups, or few in all."""
    if p.fact is not None:
        return grouped(p)
    return len(p.dots) <= AT_ONCE or _in_groups(list(p.dots))


def grouped(p: Prompt) -> bool:
    """True where each half can be seen without counting: at most four things, or groups of at most four."""
    if p.fact is None or p.fact.half <= AT_ONCE:
        return True
    return all(_in_groups([d for d in p.dots if d.side == side]) for side in (1, 2))


def _in_groups(dots: list[Dot]) -> bool:
    wide, high = _middle([d.w for d in dots]), _middle([d.h for d in dots])
    points = [(d.x / (wide or 0.1), d.y / (high or 0.1)) for d in dots]
    return any(
        _seen_as_groups(sizes)
        for sizes in (_rows([y for _, y in points]), _rows([x for x, _ in points]), _clusters(points))
    )


def _middle(values: list[float]) -> float:
    return sorted(values)[len(values) // 2] if values else 0.0


def _seen_as_groups(sizes: list[int]) -> bool:
    return 2 <= len(sizes) <= 5 and 2 <= max(sizes) <= AT_ONCE


def _rows(places: list[float]) -> list[int]:
    """Sizes of the rows: neighbours less than half a thing apart lie in one."""
    sizes, ordered = [1], sorted(places)
    for a, b in pairwise(ordered):
        if b - a > 0.5:
            sizes.append(0)
        sizes[-1] += 1
    return sizes


def _clusters(points: list[tuple[float, float]]) -> list[int]:
    """Sizes of the groups left when the tree of shortest links loses those 1.5 times longer than its middle one."""
    parent = list(range(len(points)))

    def root(i: int) -> int:
        while parent[i] != i:
            i = parent[i]
        return i

    pairs = sorted(
        (((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5, i, j)
        for i, (ax, ay) in enumerate(points)
        for j, (bx, by) in enumerate(points[:i])
    )
    links = []
    for length, i, j in pairs:
        if root(i) != root(j):
            parent[root(i)] = root(j)
            links.append((length, i, j))
    middle = _middle([length for length, _, _ in links])
    parent[:] = range(len(points))
    for length, i, j in links:
        if length <= 1.5 * middle:
            parent[root(i)] = root(j)
    return list(Counter(root(i) for i in range(len(points))).values())

"""Where things lie on the page: (row, col, turn, side) each, and the room that one thing has (half an extent)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Rng = np.random.Generator
Place = tuple[float, float, float, int]


@dataclass(frozen=True)
class Layout:
    """Places and the half extent at which neighbours would just touch."""

    places: list[Place]
    room: float


def half(rng: Rng, most: int = 12) -> int:
    """One half of a double: small ones are common."""
    weights = np.array([3, 5, 6, 6, 7, 5, 5, 4, 3, 3, 2, 2], float)[:most]
    return 1 + int(rng.choice(len(weights), p=weights / weights.sum()))


def odd(rng: Rng, most: int = 23) -> int:
    """A total without halves: odd, 3 and more."""
    found = 2 * half(rng) + 1
    return min(found, most if most % 2 else most - 1)


def _turned(rng: Rng, places: list[Place]) -> list[Place]:
    """The layout as it is, or on its side."""
    return [(c, r, t, s) for r, c, t, s in places] if rng.random() < 0.4 else places


def rows(rng: Rng, counts: tuple[int, ...], *, sides: bool = True) -> Layout:
    """One row a count, all with the same step; equal two rows are the halves."""
    most = max(counts)
    step = min(0.94 / most, 0.5)
    gap = min(0.9 / len(counts), step * rng.uniform(1.0, 1.9))
    jitter, turn = rng.uniform(0, 0.07) * step, rng.uniform(-0.1, 0.1)
    left = rng.random() < 0.5
    even = sides and len(counts) == 2 and counts[0] == counts[1]
    places: list[Place] = []
    for i, n in enumerate(counts):
        start = 0.5 - (most if left else n) * step / 2
        at = 0.5 + (i - (len(counts) - 1) / 2) * gap
        places += [
            (
                at + rng.normal(0, jitter),
                start + (k + 0.5) * step + rng.normal(0, jitter),
                turn + rng.normal(0, 0.04),
                i + 1 if even else 0,
            )
            for k in range(n)
        ]
    return Layout(_turned(rng, places), min(step, gap) / 2)


def grid(rng: Rng, high: int, wide: int, *, missing: int = 0) -> Layout:
    """A lattice; halves by its rows, else by its columns, none when something is missing."""
    step_r, step_c = 0.92 / max(high, wide), 0.92 / max(high, wide)
    step_r *= rng.uniform(0.8, 1.0)
    jitter = rng.uniform(0, 0.05) * step_c
    gone = set(rng.choice(high * wide, missing, replace=False).tolist()) if missing else set()
    places: list[Place] = []
    for i in range(high * wide):
        r, c = divmod(i, wide)
        side = (1 + (r >= high / 2)) if high % 2 == 0 else (1 + (c >= wide / 2)) if wide % 2 == 0 else 0
        if i not in gone:
            places.append(
                (
                    0.5 + (r - (high - 1) / 2) * step_r + rng.normal(0, jitter),
                    0.5 + (c - (wide - 1) / 2) * step_c + rng.normal(0, jitter),
                    rng.normal(0, 0.03),
                    0 if missing else int(side),
                )
            )
    return Layout(_turned(rng, places), min(step_r, step_c) / 2)


def ring(rng: Rng, n: int) -> Layout:
    """Round a middle; an even ring is halved through it."""
    start, reach = rng.uniform(0, 6.28), rng.uniform(0.26, 0.4)
    places = [
        (0.5 + reach * np.sin(a), 0.5 + reach * np.cos(a), -a, (1 + int(k >= n / 2)) if n % 2 == 0 else 0)
        for k, a in enumerate(start + np.arange(n) * 2 * np.pi / n)
    ]
    return Layout(places, min(reach * np.sin(np.pi / max(n, 3)), 0.2))


def scatter(rng: Rng, n: int, *, tight: float = 1.0, wide: float = 0.92) -> Layout:
    """Thrown down, never nearer than a step; two things are halves of one each."""
    apart = 0.78 / np.sqrt(n) * tight
    found: list[Place] = []
    for trial in range(n * 60):
        r, c = rng.uniform(0.5 - wide / 2, 0.5 + wide / 2, 2)
        near = apart * (1 - 0.35 * trial / (n * 60))
        if all((r - p[0]) ** 2 + (c - p[1]) ** 2 > near**2 for p in found):
            found.append((float(r), float(c), float(rng.uniform(0, 6.28)), 0))
        if len(found) == n:
            break
    if len(found) == 2:
        found = [(*p[:3], i + 1) for i, p in enumerate(found)]
    return Layout(found, apart * 0.36)


def heap(rng: Rng, n: int) -> Layout:
    """Touching things round a middle, each laid against those before it."""
    room = float(rng.uniform(0.3, 0.42) / np.sqrt(n))
    found: list[Place] = [(0.5, 0.5, float(rng.uniform(0, 6.28)), 0)]
    overlap = rng.uniform(0.72, 1.02)
    while len(found) < n:
        best: Place | None = None
        for _ in range(14):
            base = found[int(rng.integers(len(found)))]
            a = rng.uniform(0, 6.28)
            r, c = base[0] + 2 * room * overlap * np.sin(a), base[1] + 2 * room * overlap * np.cos(a)
            if min((r - p[0]) ** 2 + (c - p[1]) ** 2 for p in found) < (2 * room * overlap * 0.9) ** 2:
                continue
            if best is None or (r - 0.5) ** 2 + (c - 0.5) ** 2 < (best[0] - 0.5) ** 2 + (best[1] - 0.5) ** 2:
                best = (float(r), float(c), float(rng.uniform(0, 6.28)), 0)
        if best is None:
            break
        found.append(best)
    order = rng.permutation(len(found)) if rng.random() < 0.5 else np.argsort([p[0] for p in found])
    return Layout([found[int(i)] for i in order], room)


def mirrored(rng: Rng, n: int) -> Layout:
    """n things and their mirror mates over an upright line."""
    own = scatter(rng, n)
    squeeze = 0.45
    right = [(r, 0.53 + (c - 0.04) * squeeze, t, 2) for r, c, t, _ in own.places]
    left = [(r, 1 - c, -t, 1) for r, c, t, _ in right]
    return Layout(_turned(rng, left + right), own.room * 0.6)


def groups(rng: Rng, n: int) -> Layout:
    """The same number twice with a gap between."""
    inner = (ring, scatter, heap)[int(rng.integers(0, 3))](rng, n) if n > 2 else rows(rng, (n,))
    again = inner if rng.random() < 0.6 else scatter(rng, n)
    again = again if len(again.places) == len(inner.places) else inner
    squeeze = rng.uniform(0.4, 0.46)
    places = [
        (0.5 + (r - 0.5) * squeeze, 0.5 + (c - 0.5) * squeeze + (-0.25, 0.25)[s], t, s + 1)
        for s, part in enumerate((inner, again))
        for r, c, t, _ in part.places
    ]
    return Layout(_turned(rng, places), min(inner.room, again.room) * squeeze)


def beside(rng: Rng) -> Layout:
    """Two large things side by side, nearly filling the picture."""
    gap = rng.uniform(0.21, 0.27)
    lift = rng.normal(0, 0.03, 2)
    turn = rng.normal(0, 0.25)
    mirror = -1 if rng.random() < 0.5 else 1
    places = [(0.5 + lift[0], 0.5 - gap, turn, 1), (0.5 + lift[1], 0.5 + gap, mirror * turn, 2)]
    return Layout(_turned(rng, places), float(gap))

"""The cases that a checker learns from, on its GPU: shards are taken in as they are written, while it learns."""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray
from torch import Tensor

from curator.learning.network.checker_cases import MOST, UNKNOWN
from curator.learning.network.checker_cases import SIDE as KEPT

FALLS = 0.15  # a wrong set is drawn as often as e to the minus this times its place in the order of belief
Row = tuple[NDArray[np.float32], int, NDArray[np.float32]]  # things (MOST, 4), how many, right, recall, precision
EMPTY: Row = (np.zeros((MOST, 4), np.float32), 0, np.zeros(3, np.float32))


def spoilt(things: NDArray[np.float32], n: int, chance: np.random.Generator) -> Row:
    """A right set with one or two too few, one more somewhere, or one taken for two."""
    rows, way = things.copy(), chance.integers(3)
    if way == 0 and n >= 2:
        keep = np.sort(chance.choice(n, n - (1 if n < 6 or chance.random() < 0.7 else 2), replace=False))
        rows[:] = 0
        rows[: len(keep)] = things[keep]
        return rows, len(keep), np.array([0, len(keep) / n, 1], np.float32)
    i = chance.integers(n)
    if n >= MOST:
        return rows, n, np.ones(3, np.float32)
    if way == 1:
        extent = rows[i, 2:].copy()
        for _ in range(10):
            at = chance.uniform(0.05, 0.95, 2) * KEPT
            if (np.abs(rows[:n, :2] - at) > 0.45 * (rows[:n, 2:] + extent)).any(1).all():
                break
        rows[n] = (*at, *extent)
        return rows, n + 1, np.array([0, 1, n / (n + 1)], np.float32)
    across = int(rows[i, 3] >= rows[i, 2])
    rows[i, 2 + across] /= 2
    rows[n] = rows[i]
    rows[i, across] -= rows[i, 2 + across] / 2
    rows[n, across] += rows[n, 2 + across] / 2
    return rows, n + 1, np.array([0, (n - 0.5) / n, n / (n + 1)], np.float32)


def source_of(name: str) -> str:
    """The source of a photo, or whether a scene is drawn or rendered."""
    return name.split("/")[0].split("_")[0].split("-")[0].rstrip("0123456789")


class Store:
    """Pictures on the device, their sets beside; the kind of a shard is what its name begins with. A source counts by
    the root of its number of pictures.
    """

    def __init__(self, folder: Path, device: Any, room: int) -> None:
        self.folder, self.room, self.n = folder, room, 0
        self.images = torch.zeros((room, KEPT, KEPT, 3), dtype=torch.uint8, device=device)
        self.sets: list[NDArray[np.float16]] = []
        self.count: list[NDArray[np.uint8]] = []
        self.label: list[NDArray[np.float32]] = []
        self.sources: dict[str, list[str]] = {}
        self.places: dict[str, list[int]] = {}
        self.odds: dict[str, NDArray[np.float64]] = {}  # running sums, to 1
        self.taken: set[str] = set()

    def take(self) -> None:
        """Take in the shards that have come since."""
        for path in sorted(self.folder.glob("*.npz")):
            if path.name not in self.taken:
                self.taken.add(path.name)
                self.add(path)

    def add(self, path: Path) -> None:
        """Take in one shard; what there is no room for is left."""
        one = dict(np.load(path))
        many, kind = min(len(one["used"]), self.room - self.n), path.name.split("-")[0]
        self.images[self.n : self.n + many].copy_(torch.from_numpy(one["image"][:many]))
        for i in range(many):
            used = int(one["used"][i])
            self.sets.append(one["sets"][i, :used].copy())
            self.count.append(one["count"][i, :used].copy())
            self.label.append(one["label"][i, :used].copy())
        self.places.setdefault(kind, []).extend(range(self.n, self.n + many))
        sources = self.sources.setdefault(kind, [])
        sources.extend(source_of(str(name)) for name in one["name"][:many])
        self.n += many
        _, of, each = np.unique(sources, return_inverse=True, return_counts=True)
        weight = 1 / np.sqrt(each[of])
        self.odds[kind] = np.cumsum(weight / weight.sum())

    def watch(self, seconds: float = 3.0) -> None:
        """Take in what comes, from now on, beside all else."""

        def forever() -> None:
            while True:
                self.take()
                time.sleep(seconds)

        threading.Thread(target=forever, daemon=True).start()

    def drawn(self, kind: str, chance: np.random.Generator) -> int:
        """A picture of that kind."""
        odds = self.odds[kind]
        return self.places[kind][min(int(np.searchsorted(odds, chance.random())), len(odds) - 1)]

    def rows(self, i: int, sets: int, chance: np.random.Generator) -> list[Row]:
        """So many sets of one picture: a right one, wrong ones that the judge would believe, perhaps a spoilt one."""
        label, count, things = self.label[i], self.count[i], self.sets[i]
        row = lambda j: (things[j].astype(np.float32), int(count[j]), label[j, :3])  # noqa: E731
        hits, misses = np.nonzero(label[:, 0] != 0)[0], np.nonzero(label[:, 0] == 0)[0]
        found = hits[label[hits, 3] >= 0]
        rows: list[Row] = []
        if len(hits):
            rows.append(row(chance.choice(found if len(found) and chance.random() < 0.75 else hits)))
            if chance.random() < 0.4:
                j = int(chance.choice(hits))
                worse = spoilt(things[j].astype(np.float32), int(count[j]), chance)
                if label[j, 0] == UNKNOWN:
                    worse[2][2] = UNKNOWN
                rows.append(worse)
        if len(misses):
            odds = np.exp(-FALLS * np.arange(len(misses)))
            many = min(len(misses), sets - len(rows))
            rows += [row(j) for j in chance.choice(misses, many, replace=False, p=odds / odds.sum())]
        while len(rows) < sets:
            rows.append(rows[int(chance.integers(len(rows)))] if rows else EMPTY)
        return rows

    def batch(
        self, size: int, sets: int, shares: Mapping[str, float], chance: np.random.Generator
    ) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Which pictures (B,), things (B, sets, MOST, 4), how many (B, sets), labels (B, sets, 3)."""
        kinds = [kind for kind in shares if kind in self.odds]
        weight = np.array([shares[kind] for kind in kinds])
        of = chance.choice(len(kinds), size, p=weight / weight.sum())
        which = [self.drawn(kinds[k], chance) for k in of]
        every = [self.rows(i, sets, chance) for i in which]
        columns = [torch.from_numpy(np.array([[row[k] for row in rows] for rows in every])) for k in range(3)]
        return torch.tensor(which), columns[0], columns[1], columns[2]

"""Train the checker: `python -m curator.learning.network.checker_train CASES.npz... --trunk .learn/trunk.pt -o FILE`.

Each step takes some pictures and a few sets of each: a right one, wrong ones that the judge would believe, and the
truth with one thing too few or too many. A run ends by the clock and saves its averaged weights.
"""

from __future__ import annotations

import argparse
import math
import os
import queue
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812
from numpy.typing import NDArray
from torch import Tensor, nn

from curator.learning.network.batches import _colour
from curator.learning.network.checker import SIDE, Checker, marked
from curator.learning.network.checker_cases import MOST, SETS
from curator.learning.network.checker_cases import SIDE as KEPT

FEEDERS = 6
FALLS = 0.15  # a wrong set is drawn as often as e to the minus this times its place in the order of belief
Row = tuple[NDArray[np.float32], int, NDArray[np.float32]]  # things (MOST, 4), how many, right, recall, precision


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


class Cases:
    """All cases of some files; a source counts by the root of its number of pictures."""

    def __init__(self, paths: list[Path]) -> None:
        self.files = [dict(np.load(path)) for path in paths]
        self.odds = []
        for one in self.files:
            sources = [str(n).split("/")[0].split("_")[0].split("-")[0].rstrip("0123456789") for n in one["name"]]
            share = {s: 1 / sources.count(s) ** 0.5 for s in set(sources)}
            weight = np.array([share[s] for s in sources])
            self.odds.append(weight / weight.sum())

    def picture(self, shares: NDArray[np.float64], sets: int, chance: np.random.Generator) -> tuple[Any, list[Row]]:
        """One picture, and `sets` of its sets."""
        k = int(chance.choice(len(shares), p=shares))
        one, i = self.files[k], int(chance.choice(len(self.odds[k]), p=self.odds[k]))
        used = int(one["used"][i])
        label, count, things = one["label"][i][:used], one["count"][i], one["sets"][i].astype(np.float32)
        row = lambda j: (things[j], int(count[j]), label[j, :3])  # noqa: E731
        hits, misses = np.nonzero(label[:, 0] > 0)[0], np.nonzero(label[:, 0] == 0)[0]
        found = hits[label[hits, 3] >= 0]
        rows: list[Row] = []
        if len(hits):
            rows.append(row(chance.choice(found if len(found) and chance.random() < 0.75 else hits)))
            if chance.random() < 0.4:
                j = int(chance.choice(hits))
                rows.append(spoilt(things[j], int(count[j]), chance))
        if len(misses):
            odds = np.exp(-FALLS * np.arange(len(misses)))
            many = min(len(misses), sets - len(rows))
            rows += [row(j) for j in chance.choice(misses, many, replace=False, p=odds / odds.sum())]
        empty: Row = (np.zeros((MOST, 4), np.float32), 0, np.zeros(3, np.float32))
        while len(rows) < sets:
            rows.append(rows[int(chance.integers(len(rows)))] if rows else empty)
        return one["image"][i], rows

    def batch(self, size: int, sets: int, shares: NDArray[np.float64], chance: np.random.Generator) -> list[Tensor]:
        """Images (B, KEPT, KEPT, 3), things (B, sets, MOST, 4), how many (B, sets), labels (B, sets, 3)."""
        drawn = [self.picture(shares, sets, chance) for _ in range(size)]
        columns = [np.array([[row[k] for row in rows] for _, rows in drawn]) for k in range(3)]
        return [torch.from_numpy(np.ascontiguousarray(v)) for v in (np.stack([image for image, _ in drawn]), *columns)]


def viewed(image: Tensor, things: Tensor) -> tuple[Tensor, Tensor]:
    """Both through one random view: a little nearer or farther, turned, mirrored, in other colours; what a finder
    measures of a place and a size is made as uncertain as it is.
    """
    b, dev = len(image), image.device
    zoom = torch.exp(torch.empty(b, device=dev).uniform_(math.log(0.78), math.log(1.06)))
    angle = torch.empty(b, device=dev).normal_(0, 0.08) * (torch.rand(b, device=dev) < 0.6)
    quarter = (torch.rand(b, device=dev) < 0.2).float() * torch.randint(0, 4, (b,), device=dev)
    mirror = torch.where(torch.rand(b, device=dev) < 0.5, -1.0, 1.0)
    stretch = torch.exp(torch.empty(b, device=dev).uniform_(-0.12, 0.12))
    c, s = torch.cos(angle + quarter * math.pi / 2), torch.sin(angle + quarter * math.pi / 2)
    linear = torch.stack([torch.stack([c, -s * mirror * stretch], 1), torch.stack([s, c * mirror * stretch], 1)], 1)
    linear = linear * zoom[:, None, None]
    shift = torch.empty(b, 2, device=dev).uniform_(-0.08, 0.08)
    grid = (torch.arange(SIDE, device=dev) + 0.5) / SIDE * 2 - 1
    rows, cols = torch.meshgrid(grid, grid, indexing="ij")
    at = torch.stack([rows, cols], -1)[None] - shift[:, None, None]
    source = torch.einsum("bij,bhwj->bhwi", torch.linalg.inv(linear), at)
    fill = torch.empty(b, 3, 1, 1, device=dev).uniform_(60, 200)
    fill = torch.where(torch.rand(b, 1, 1, 1, device=dev) < 0.5, torch.full_like(fill, 127.0), fill)
    moved = F.grid_sample(image.permute(0, 3, 1, 2).float() - fill, source.flip(-1), align_corners=False) + fill
    place = torch.einsum("bij,bknj->bkni", linear, things[..., :2] / KEPT * 2 - 1) + shift[:, None, None]
    extent = torch.einsum("bij,bknj->bkni", linear.abs(), things[..., 2:]) * (SIDE / KEPT)
    each = torch.exp(torch.empty_like(extent[..., :1]).normal_(0, 0.08))
    whole = torch.exp(torch.empty(b, extent.shape[1], 1, 1, device=dev).normal_(0, 0.15))
    place = (place + 1) / 2 * SIDE + torch.randn_like(place) * 0.05 * extent
    return _colour(moved), torch.cat([place, extent * each * whole], -1)


def loss(answer: Tensor, label: Tensor) -> Tensor:
    """Each set by itself, its recall and precision, and the right ones of a picture among its sets."""
    sets = label.shape[1]
    right, rest, true = answer[:, 0].view(-1, sets), answer[:, 1:].view(-1, sets, 2), label[..., 0]
    alone = F.binary_cross_entropy_with_logits(right, true)
    shares = F.binary_cross_entropy_with_logits(rest, label[..., 1:].clamp(0, 1))
    open_ = (true.sum(1) > 0) & (true.sum(1) < sets)
    among = torch.logsumexp(right, 1) - torch.logsumexp(right.masked_fill(true == 0, -1e4), 1)
    return alone + 0.5 * shares + 0.5 * (among * open_).sum() / open_.sum().clamp(min=1)


def _started(chosen: argparse.Namespace, device: Any) -> Checker:
    net = Checker()
    own, state = net.trunk.state_dict(), torch.load(chosen.trunk, map_location="cpu")
    kept = {k: v.float() if v.is_floating_point() else v for k, v in state.items() if k in own}
    net.trunk.load_state_dict(kept, strict=False)
    return net.to(device).to(memory_format=torch.channels_last)


def _optimiser(net: Checker, chosen: argparse.Namespace) -> torch.optim.Optimizer:
    slow = [p for n, p in net.named_parameters() if n.startswith("trunk.")]
    fast = [p for n, p in net.named_parameters() if not n.startswith("trunk.")]
    groups: list[dict[str, Any]] = [{"params": slow, "peak": chosen.rate * chosen.trunk_rate}]
    groups.append({"params": fast, "peak": chosen.rate})
    return torch.optim.AdamW(groups, lr=chosen.rate, weight_decay=0.05)


def run(chosen: argparse.Namespace) -> None:
    """The whole run, on one GPU."""
    device = torch.device(f"cuda:{chosen.gpu}" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(chosen.seed)
    cases, shares = Cases(chosen.cases), np.array([float(v) for v in chosen.shares.split(",")][: len(chosen.cases)])
    net, ahead = _started(chosen, device), queue.Queue[list[Tensor]](FEEDERS)

    def feed(seed: int) -> None:
        chance = np.random.default_rng(seed)
        while True:
            ahead.put(cases.batch(chosen.batch, chosen.sets, shares / shares.sum(), chance))

    for k in range(FEEDERS):
        threading.Thread(target=feed, args=(chosen.seed * 100 + k,), daemon=True).start()
    optimiser = _optimiser(net, chosen)
    average = {k: v.detach().clone() for k, v in net.state_dict().items()}
    begun, step = time.time(), 0
    while (done := (time.time() - begun) / (chosen.minutes * 60)) < 1:
        for group in optimiser.param_groups:
            group["lr"] = group["peak"] * (min(1.0, (step + 1) / 200) * 0.5 * (1 + math.cos(math.pi * done)) + 0.005)
        image, things, count, label = (v.to(device) for v in ahead.get())
        picture, placed = viewed(image, things)
        marks = marked(placed.flatten(0, 1), count.flatten(), SIDE // 2)
        with torch.autocast(device.type, torch.bfloat16):
            answer = net(picture.repeat_interleave(chosen.sets, 0).to(memory_format=torch.channels_last), marks)
        error = loss(answer.float(), label)
        optimiser.zero_grad(set_to_none=True)
        error.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        with torch.no_grad():
            keep = min(0.998, (step + 1) / (step + 10))
            for name, value in net.state_dict().items():
                average[name].lerp_(value, 1 - keep) if value.is_floating_point() else average[name].copy_(value)
        step += 1
        if step % 200 == 0:
            print(f"{done:.2f} step {step} loss {float(error.detach()):.3f}", flush=True)
    half = {k: (v.half() if v.is_floating_point() and v.ndim > 1 else v).cpu() for k, v in average.items()}
    torch.save(half, chosen.output)
    os._exit(0)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("cases", type=Path, nargs="+", help="files of `checker_cases`")
    options.add_argument("--shares", default="0.55,0.45", help="of each file, with commas")
    options.add_argument("--trunk", type=Path, default=Path(".learn/trunk.pt"), help="as `photos.prepare` writes it")
    options.add_argument("--minutes", type=float, default=6.2)
    options.add_argument("--batch", type=int, default=48)
    options.add_argument("--sets", type=int, default=5, help=f"of a picture, at most {SETS}")
    options.add_argument("--rate", type=float, default=1.5e-3)
    options.add_argument("--trunk-rate", type=float, default=0.25, help="of --rate")
    options.add_argument("--gpu", type=int, default=0)
    options.add_argument("--seed", type=int, default=20)
    options.add_argument("-o", "--output", type=Path, required=True)
    run(options.parse_args())


if __name__ == "__main__":
    main()

"""Train the checker: `python -m curator.learning.network.checker_train CASES --start FILE -o FILE`.

CASES is a folder of shards (`checker_cases`), which may still be written to. Each step takes some pictures and a few
sets of each: a right one, wrong ones that the judge would believe, and the truth with one thing too few or too many. A
run ends by the clock, saves its averaged weights, and says how it does on shards `held-*`, which are not learned.
"""

from __future__ import annotations

import argparse
import json
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
from torch import Tensor, nn

from curator.learning.network import averages, recover
from curator.learning.network.checker import SIDE, Checker, folded, marked, viewed
from curator.learning.network.checker_cases import SETS
from curator.learning.network.checker_cases import SIDE as KEPT
from curator.learning.network.checker_store import Store

FEEDERS = 3
HELD = "held"
ROOM = 2_000  # pictures at least before the first step


def loss(answer: Tensor, label: Tensor) -> Tensor:
    """Each set by itself, its recall and precision, and the right ones of a picture among its sets. What is unknown
    (below 0) counts nothing by itself; among the sets of its picture it counts as right.
    """
    sets = label.shape[1]
    right, rest, true = answer[:, 0].view(-1, sets), answer[:, 1:].view(-1, sets, 2), label[..., 0]
    alone = _known(right, true)
    shares = _known(rest, label[..., 1:])
    fair = true != 0
    open_ = fair.any(1) & ~fair.all(1)
    among = torch.logsumexp(right, 1) - torch.logsumexp(right.masked_fill(~fair, -1e4), 1)
    return alone + 0.5 * shares + 0.5 * (among * open_).sum() / open_.sum().clamp(min=1)


def _known(logit: Tensor, true: Tensor) -> Tensor:
    each = F.binary_cross_entropy_with_logits(logit, true.clamp(0, 1), reduction="none")
    return (each * (true >= 0)).sum() / (true >= 0).sum().clamp(min=1)


def started(start: Path, device: Any) -> Checker:
    """The net to go on from: of a checker's file, or a new one on the trunk of a finder's or of ImageNet weights."""
    if start.suffix == ".onnx" and "finder" in start.name:
        net, state = Checker(), recover.recovered(start).trunk.state_dict()
        net.trunk.load_state_dict(state)
    elif start.suffix == ".onnx":
        net = recover.recovered_checker(start, SIDE)
    else:
        net, state = Checker(), averages.load(start)
        whole = any(name.startswith("head.") for name in state)
        (net if whole else net.trunk).load_state_dict(state, strict=whole)
    return net.to(device).to(memory_format=torch.channels_last)


def _optimiser(net: Checker, chosen: argparse.Namespace) -> torch.optim.Optimizer:
    slow = [p for n, p in net.named_parameters() if n.startswith("trunk.")]
    fast = [p for n, p in net.named_parameters() if not n.startswith("trunk.")]
    groups: list[dict[str, Any]] = [{"params": slow, "peak": chosen.rate * chosen.trunk_rate}]
    groups.append({"params": fast, "peak": chosen.rate})
    return torch.optim.AdamW(groups, lr=chosen.rate, weight_decay=0.05)


def _fed(store: Store, chosen: argparse.Namespace) -> queue.Queue[Any]:
    """Batches, made beside the training."""
    shares = {kind: float(share) for kind, share in (one.split("=") for one in chosen.shares.split(","))}
    ahead: queue.Queue[Any] = queue.Queue(2 * FEEDERS)

    def feed(seed: int) -> None:
        chance = np.random.default_rng(seed)
        while True:
            ahead.put(store.batch(chosen.batch, chosen.sets, shares, chance))

    for k in range(FEEDERS):
        threading.Thread(target=feed, args=(chosen.seed * 100 + k,), daemon=True).start()
    return ahead


def _answered(net: Checker, image: Tensor, things: Tensor, count: Tensor) -> Tensor:
    """The answers for the sets (B, sets, MOST, 4) of pictures (B, 3, SIDE, SIDE)."""
    marks = marked(things.flatten(0, 1), count.flatten(), SIDE // 2)
    each = image.repeat_interleave(things.shape[1], 0).to(memory_format=torch.channels_last)
    with torch.autocast(image.device.type, torch.bfloat16):
        answer: Tensor = net(each, marks)
    return answer.float()


def _step(net: Checker, optimiser: torch.optim.Optimizer, store: Store, given: Any) -> Tensor:
    which, *rest = given
    device = store.images.device
    things, count, label = (v.to(device, non_blocking=True) for v in rest)
    picture, placed = viewed(store.images[which.to(device)], things)
    error = loss(_answered(net, picture, placed, count), label)
    optimiser.zero_grad(set_to_none=True)
    error.backward()
    nn.utils.clip_grad_norm_(net.parameters(), 5.0)
    optimiser.step()
    return error.detach()


@torch.no_grad()
def held(net: Checker, store: Store) -> dict[str, float]:
    """On the pictures that are not learned, of the sets that finders found: the log loss of each set by itself, and of
    the right ones among the sets of their picture; how often a right one comes first, and how many pictures it is.
    """
    alone, among, first = list[float](), list[float](), list[float]()
    net.eval()
    torch.backends.cudnn.benchmark = False  # every picture has another number of sets
    for i in store.places.get(HELD, []):
        own = store.label[i][:, 3] >= 0
        true = torch.from_numpy(store.label[i][own, 0])
        things = torch.from_numpy(store.sets[i][own].astype(np.float32))[None].to(store.images.device)
        count = torch.from_numpy(store.count[i][own])[None].to(store.images.device)
        image = F.interpolate(store.images[i][None].permute(0, 3, 1, 2).float(), (SIDE, SIDE), mode="area")
        right = _answered(net, image, things * (SIDE / KEPT), count)[:, 0].cpu()
        alone.append(float(F.binary_cross_entropy_with_logits(right, true)))
        if 0 < true.sum() < len(true):
            among.append(float(torch.logsumexp(right, 0) - torch.logsumexp(right[true > 0], 0)))
            first.append(float(true[right.argmax()]))
    means = [float(np.mean(v)) if v else math.nan for v in (alone, among, first)]
    return dict(zip(("alone", "among", "first"), means, strict=True)) | {"pictures": len(among)}


def _settled(net: Checker, store: Store, fed: queue.Queue[Any]) -> None:
    """Where norms were folded away, give them the means and deviations of a batch."""
    which, things, count, _ = fed.get()
    device = store.images.device
    picture, placed = viewed(store.images[which.to(device)], things.to(device))
    net.eval()
    with torch.autocast(device.type, enabled=False):
        marks = marked(placed.flatten(0, 1), count.to(device).flatten(), SIDE // 2)
        each = picture.repeat_interleave(things.shape[1], 0)
        recover.settle([norm for _, norm in folded(net)], lambda: net(each, marks))


def run(chosen: argparse.Namespace) -> None:
    """The whole run, on one GPU."""
    device = torch.device(f"cuda:{chosen.gpu}" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(chosen.seed)
    torch.backends.cudnn.benchmark = True
    store, net = Store(chosen.cases, device, chosen.room), started(chosen.start, device)
    store.watch()
    while store.n < chosen.first:
        time.sleep(1.0)
    fed = _fed(store, chosen)
    if chosen.start.suffix == ".onnx":
        _settled(net, store, fed)
    net.train()
    optimiser, average = _optimiser(net, chosen), averages.copied(net)
    begun, step = time.time(), 0
    while (done := (time.time() - begun) / (chosen.minutes * 60)) < 1:
        for group in optimiser.param_groups:
            group["lr"] = group["peak"] * (min(1.0, (step + 1) / 200) * 0.5 * (1 + math.cos(math.pi * done)) + 0.005)
        error = _step(net, optimiser, store, fed.get())
        averages.follow(average, net, step, chosen.keep)
        step += 1
        if step % 200 == 0:
            print(f"{done:.2f} step {step} of {store.n} pictures, loss {float(error):.3f}", flush=True)
    averages.save(average, chosen.output)
    net.load_state_dict(average)
    told = held(net, store) | {"steps": step, "learned": store.n}
    chosen.output.with_suffix(".json").write_text(json.dumps(told))
    print(told, flush=True)
    os._exit(0)  # the feeders go on otherwise


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("cases", type=Path, help="a folder of shards")
    options.add_argument("--shares", default="real=0.5,scenes=0.5", help="of the kinds of shards")
    options.add_argument("--start", type=Path, required=True, help="trunk.pt, a checker (.pt, .onnx), or finder.onnx")
    options.add_argument("--minutes", type=float, default=9.0)
    options.add_argument("--batch", type=int, default=48)
    options.add_argument("--sets", type=int, default=5, help=f"of a picture, at most {SETS}")
    options.add_argument("--rate", type=float, default=1.5e-3)
    options.add_argument("--trunk-rate", type=float, default=0.25, help="of --rate")
    options.add_argument("--keep", type=float, default=0.998, help="of the averaged weights in one step")
    options.add_argument("--room", type=int, default=60_000, help="pictures at most")
    options.add_argument("--first", type=int, default=ROOM, help="pictures at least before the first step")
    options.add_argument("--gpu", type=int, default=0)
    options.add_argument("--seed", type=int, default=20)
    options.add_argument("-o", "--output", type=Path, required=True)
    run(options.parse_args())


if __name__ == "__main__":
    main()

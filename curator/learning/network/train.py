"""Train the net: `torchrun --nproc-per-node N -m curator.learning.network.train --minutes 9 -o FOLDER [--resume FILE]`.

One process a GPU. Worker processes draw scenes from their seeds into a ring in shared memory; rendered scenes and real
photos stay in it. A run ends by the clock, saves its averaged weights, and may be continued from them.
"""

from __future__ import annotations

import argparse
import itertools
import math
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import torch
import torch.distributed as dist
from torch import Tensor, nn

from curator.learning.network import averages, batches, feeding, losses, teacher
from curator.learning.network.net import Finder, fitting, freeze_trunk, load_trunk, split_dense

SHARES = {"drawn": 0.4, "real": 0.33, "solid": 0.27, "new": 0.0}  # without --shares
SLOW = 0.2  # of the other layers' rate: a trunk that learns less keeps its batch statistics
TOGETHER = 10  # steps between two looks at the clock
NEW = 160  # drawn scenes that no run sees, to count at the end


def _rates(net: Finder, peak: float, trunk: float) -> list[dict[str, Any]]:
    """The trunk learns at `trunk` times the rate of the rest."""
    slow = [p for n, p in net.named_parameters() if n.startswith("trunk.") and p.requires_grad]
    rest = [p for n, p in net.named_parameters() if not n.startswith("trunk.") and p.requires_grad]
    return [
        {"params": params, "lr": rate, "peak": rate} for params, rate in ((slow, peak * trunk), (rest, peak)) if params
    ]


@torch.no_grad()
def exact_share(net: Finder, store: dict[str, Tensor], slots: list[int], device: Any) -> dict[str, float]:
    """Share of scenes (at least two meant things, no tap) whose peaks of the main map number exactly right."""
    net.eval()
    right = near = seen = 0
    for start in range(0, len(slots), 64):
        picked = torch.tensor(slots[start : start + 64])
        image = store["image"][picked].to(device).permute(0, 3, 1, 2).float()
        with torch.autocast(device.type, torch.bfloat16):
            dense = net(image, torch.zeros_like(image[:, :1]))[0]
        heat = torch.sigmoid(split_dense(dense.float())["main"])
        peaks = (heat == nn.functional.max_pool2d(heat, 3, 1, 1)) & (heat > 0.35)
        found = peaks.sum((1, 2, 3)).cpu()
        things, scene = store["things"][picked], store["scene"][picked]
        meant = (
            (things[..., 11] > 0) & (things[..., 10] == 0) & (things[..., 8] > 0.2) & (things[..., 6] == scene[:, :1])
        )
        true = meant.sum(1)
        ask = true >= 2
        seen += int(ask.sum())
        right += int(((found == true) & ask).sum())
        near += int((((found - true).abs() <= 1) & ask).sum())
    net.train()
    return {"exact": right / max(1, seen), "within 1": near / max(1, seen), "scenes": seen}


def _start(chosen: argparse.Namespace, device: Any) -> Finder:
    net = Finder()
    if chosen.resume:
        lacking = net.load_state_dict(fitting(net, averages.load(chosen.resume)), strict=False).missing_keys
        if any(not name.startswith(_prefixes(chosen) or ("shapes.", "mixes.")) for name in lacking):
            raise SystemExit(f"Going on from weights. They lack {lacking[0]}. Take weights of this build.")
    if chosen.fresh_trunk or not chosen.resume:
        print("trunk tensors", load_trunk(net, averages.load(chosen.material / "trunk.pt")), flush=True)
    return net.to(device).to(memory_format=torch.channels_last)


def _names(joined: str) -> tuple[str, ...]:
    """Names with commas between them."""
    return tuple(filter(None, joined.split(",")))


def _prefixes(chosen: argparse.Namespace) -> tuple[str, ...]:
    """Names of the parts that learn, where not all do."""
    return tuple(f"{name}." for name in _names(chosen.only))


def _set_training(net: Finder, trunk_rate: float, only: tuple[str, ...] = (), still: bool = False) -> None:
    """Training mode; a trunk that learns slowly keeps the means and deviations it had for natural images, and so do
    parts that do not learn at all; all parts where the norms are to be `still`.
    """
    net.train(not still)
    if trunk_rate == 0:
        freeze_trunk(net)
    elif trunk_rate < SLOW:
        net.trunk.eval()
    for name, part in net.named_children():
        if only and f"{name}." not in only:
            part.eval().requires_grad_(False)


def _validation(chosen: argparse.Namespace, slots: int) -> dict[str, Tensor]:
    from curator.learning.drawn import scenes

    store = batches.empty(slots, chosen.size)
    for slot in range(slots):
        batches.put(store, slot, scenes.make(900_000_000 + slot, chosen.size))
    return store


def _shares(chosen: argparse.Namespace) -> dict[str, float]:
    """How much of a batch is drawn, real, rendered, of new kinds."""
    return dict(zip(SHARES, (float(v) for v in chosen.shares.split(",")), strict=True)) if chosen.shares else SHARES


class Run(NamedTuple):
    """One rank of a run that goes on."""

    net: Finder
    model: nn.Module  # the net, shared with the other ranks
    optimiser: torch.optim.Optimizer
    average: averages.State
    taught: Any  # the teacher, or None
    device: Any
    rank: int
    world: int


def lessons(
    run: Run, answers: teacher.Answers, batch: dict[str, Tensor], told: Tensor, chosen: argparse.Namespace
) -> dict[str, Tensor]:
    """The losses by name. Rows that are `told` (B,) learn from the teacher alone and the others by their labels; where
    the choice is not made (--told), all learn both ways.
    """
    every = torch.ones_like(told)
    by_label, by_teacher = (~told, told) if chosen.told else (every, every)
    parts = dict[str, Tensor]()
    if chosen.labels and by_label.any():
        dense, whole, outline = (answer[by_label] for answer in answers)
        given = losses.total(dense, whole, outline, {name: values[by_label] for name, values in batch.items()})
        parts |= {name: chosen.labels * float(by_label.float().mean()) * loss for name, loss in given.items()}
    if run.taught and by_teacher.any():
        with torch.no_grad(), torch.autocast(run.device.type, torch.bfloat16):
            said = run.taught(batch["image"][by_teacher], batch["tap"][by_teacher])
        dense, whole, outline = (answer[by_teacher] for answer in answers)
        given = teacher.total((dense, whole, outline), said)
        parts |= {name: chosen.teaching * float(by_teacher.float().mean()) * loss for name, loss in given.items()}
    return parts


def _learn(run: Run, batch: dict[str, Tensor], told: Tensor, chosen: argparse.Namespace) -> dict[str, Tensor]:
    """One step down on one batch; the losses by name."""
    with torch.autocast(run.device.type, torch.bfloat16):
        answers = run.model(batch["image"].to(memory_format=torch.channels_last), batch["tap"])
    parts = lessons(run, answers, batch, told, chosen)
    run.optimiser.zero_grad(set_to_none=True)
    torch.stack(list(parts.values())).sum().backward()
    nn.utils.clip_grad_norm_(run.net.parameters(), 5.0)
    run.optimiser.step()
    return parts


def _together(done: float, world: int, device: Any) -> float:
    """How far the clock of the slowest rank is; asking waits for the GPU, so it is asked seldom."""
    if world == 1:
        return done
    latest = torch.tensor(done, device=device)
    dist.all_reduce(latest, dist.ReduceOp.MAX)
    return float(latest)


def _run(chosen: argparse.Namespace, rank: int, world: int) -> Run:
    """The net on this rank's GPU, and what makes it learn."""
    if world > 1:
        torch.cuda.set_device(rank)
        dist.init_process_group("nccl")
    device = torch.device(f"cuda:{rank}" if torch.cuda.is_available() else "cpu")
    torch.manual_seed(chosen.seed + rank)
    net = _start(chosen, device)
    _set_training(net, chosen.trunk_rate, _prefixes(chosen), chosen.still)
    model = nn.parallel.DistributedDataParallel(net, device_ids=[rank]) if world > 1 else net
    optimiser = torch.optim.AdamW(
        _rates(net, chosen.rate, chosen.trunk_rate), weight_decay=0.02, fused=device.type == "cuda"
    )
    taught = teacher.opened(chosen.teacher, device) if chosen.teacher else None
    return Run(net, model, optimiser, averages.copied(net), taught, device, rank, world)


def _go_on(run: Run, feed: Iterator[dict[str, Tensor]], chosen: argparse.Namespace, length: float) -> None:
    """Steps for `length` seconds, the rate falling as half a cosine. Twice a minute the averaged weights are saved: a
    run that is stopped can be gone on from with --resume.
    """
    step, sums, begun, done = 0, dict[str, float](), time.time(), 0.0
    last = begun
    while True:
        if step % TOGETHER == 0:
            done = _together((time.time() - begun) / length, run.world, run.device)
        if done >= 1:
            break
        ramp = min(1.0, (step + 1) / 200) * 0.5 * (1 + math.cos(math.pi * done)) + 0.005
        for group in run.optimiser.param_groups:
            group["lr"] = group["peak"] * ramp
        rows = next(feed)
        parts = _learn(run, batches.make(rows, run.device), rows["told"].to(run.device), chosen)
        averages.follow(run.average, run.net, step)
        step += 1
        if step % 20 == 0:
            for name, loss in parts.items():
                sums[name] = 0.95 * sums.get(name, float(loss.detach())) + 0.05 * float(loss.detach())
        if run.rank == 0 and time.time() - last > 30:
            last = time.time()
            averages.save(run.average, chosen.output / "finder.pt")
            rate = step * chosen.batch * run.world / (last - begun)
            said = " ".join(f"{name} {loss:.3f}" for name, loss in sums.items())
            print(f"{done:.2f} step {step} {rate:.0f}/s {said}", flush=True)


def _say(run: Run, new: dict[str, Tensor], store: dict[str, Tensor], fixed: dict[str, list[int]]) -> None:
    """How many scenes the averaged weights count right."""
    final = Finder().to(run.device)
    final.load_state_dict(run.average)
    print("drawn, never seen:", exact_share(final, new, list(range(NEW)), run.device), flush=True)
    for name in ("solid", "new", "real"):
        print(f"{name}, seen in training:", exact_share(final, store, fixed[name][:512], run.device), flush=True)


def run(chosen: argparse.Namespace) -> None:
    """One rank's whole run."""
    started = time.time()
    rank, world = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
    workers = chosen.workers or max(1, (os.cpu_count() or 2) // world - 3)
    store = batches.empty(chosen.slots + feeding.MOST_FIXED, chosen.size)
    rings = feeding.rings_of(chosen, workers)
    fixed = feeding.fixed_scenes(store, chosen.material, chosen.size, rank, _names(chosen.leave_out))
    drawing = feeding.start_drawing(store, rings, workers, rank, chosen)
    going = _run(chosen, rank, world)
    new = _validation(chosen, NEW) if rank == 0 else {}  # while the workers draw the first scenes
    chosen.output.mkdir(parents=True, exist_ok=True)
    feeding.wait_for(store, min(chosen.slots // 6, chosen.first))
    waited = time.time() - started
    known = {name: len(slots) for name, slots in fixed.items()}
    print(f"rank {rank}: {workers} workers, {known}, begins after {waited:.0f} s", flush=True)
    fed = feeding.feed(store, fixed, rings, _shares(chosen), itertools.repeat(chosen.batch), _names(chosen.told))
    _go_on(going, fed, chosen, chosen.minutes * 60 - waited)
    if rank == 0:
        averages.save(going.average, chosen.output / "finder.pt")
        _say(going, new, store, fixed)
    feeding.end(drawing)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("-o", "--output", type=Path, required=True)
    options.add_argument(
        "--material", type=Path, default=Path(".learn"), help="trunk.pt, real/, material/, solids/, new/"
    )
    options.add_argument("--resume", type=Path)
    options.add_argument("--minutes", type=float, default=9.0)
    options.add_argument("--size", type=int, default=384)
    options.add_argument("--batch", type=int, default=64)
    options.add_argument("--slots", type=int, default=12000)
    options.add_argument("--rate", type=float, default=1.6e-3)
    options.add_argument("--trunk-rate", type=float, default=0.4, help="of --rate; 0 leaves the trunk as it is")
    options.add_argument("--fresh-trunk", action="store_true", help="with --resume: the trunk of trunk.pt all the same")
    options.add_argument(
        "--shares", default="", help="of drawn scenes, real photos, rendered scenes (solids/), new kinds of them (new/)"
    )
    options.add_argument("--renderers", type=int, default=0, help="how many of the workers render (needs MuJoCo)")
    options.add_argument("--families", default="", help="what these render, new kinds with commas; all kinds without")
    options.add_argument("--first", type=int, default=1500, help="scenes to wait for before the first step")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--workers", type=int, default=0)
    options.add_argument(
        "--teacher", type=Path, nargs="+", help="a TorchScript net to learn from as well; of several the mean"
    )
    options.add_argument("--labels", type=float, default=1.0, help="how much labels weigh; 0: the teacher alone")
    options.add_argument("--teaching", type=float, default=1.0, help="how much the teacher weighs")
    options.add_argument("--told", default="", help="drawn, real, solid, new: where the teacher alone is learned from")
    options.add_argument("--still", action="store_true", help="norms keep the means and deviations that they had")
    options.add_argument("--only", default="", help="parts of the net that learn, with commas; all others stay")
    options.add_argument("--leave-out", default="", help="sources of real photos to leave out, with commas")
    chosen = options.parse_args()
    seen = {name for name, share in _shares(chosen).items() if share}
    if chosen.told and (not chosen.teacher or not set(_names(chosen.told)) < seen):
        options.error(f"--told goes with --teacher, and names some of {', '.join(sorted(seen))}, not all of them.")
    run(chosen)


if __name__ == "__main__":
    main()

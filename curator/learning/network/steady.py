"""Teach an exported net to say the same of a picture, its mirror image and a worse copy, without labels:

    python -m curator.learning.network.steady finder FINDER.onnx --photos .learn/real -o FINDER.npz --rounded --itself
    python -m curator.learning.network.steady checker SMALL.onnx --teacher CHECKER.onnx --photos .learn/real \
        -o CHECKER.npz --rounded --itself

The teacher is the file itself, or another (of the checker the one for pictures as large as it was trained with), asked
twice: of the clean picture and of its mirror image. With --rounded the layers that `rounded` puts in bytes are rounded
while it learns, and their steps learn too; with --itself as well the teacher is asked of the very copy that the learner
sees, so that the net in bytes answers as the one in 32 bits does. Worker processes draw scenes beside the photos, of
which those held out are left out (`photos.folds`). A run ends by the clock and saves averaged weights (`learned`), and
beside them FILE.pt to go on from: the next run with --resume FILE.pt --begin .5 takes the half cosine up where one with
--end .5 left it.
"""

from __future__ import annotations

import argparse
import copy
import itertools
import math
import os
import time
from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

from curator.learning.network import averages, batches, copies, feeding, graph, learned, rounded, teacher
from curator.learning.network.checker import SIDE, marked
from curator.learning.network.net import DENSE, SCALE_BINS, planes, split_dense
from curator.learning.photos import folds, real
from curator.seeing.net.checker import LONGER

SHARES = {"real": 0.55, "drawn": 0.2, "solid": 0.25}
SIZES = {"finder": (384, 256, 384, 512), "checker": (LONGER,)}
"""Pixels of the nets' inputs, in turn. Of the first --batch pictures are taken, of others as many as cost the same."""
SURE = 9.0  # no logit of the checker is asked to be beyond
WARM = 100  # steps until the rate is full
LATE = 10_000  # as if so many steps were done: averages of a run that goes on
Given = dict[str, Tensor]
Losses = dict[str, Tensor]


@torch.no_grad()
def told_to_finder(taught: nn.Module, given: Given, *, alone: bool = False) -> teacher.Answers:
    """The teacher's answers to pictures and taps; unless `alone`, met with those to their mirror images. Outlines are
    mixed of maps that have no mirror image, and are its own.
    """
    dense, whole, outline = own = answers(taught(**given))
    if alone:
        return own
    other, other_whole, _ = answers(taught(**mirrored(given)))
    both = [
        torch.log((torch.softmax(a, 1) + torch.softmax(b, 1)) / 2 + 1e-9)
        for a, b in zip(_shares(whole), _shares(other_whole), strict=True)
    ]
    return _met(split_dense(dense), split_dense(other.flip(-1))), torch.cat(both, 1), outline


@torch.no_grad()
def told_to_checker(taught: nn.Module, given: Given, *, alone: bool = False) -> Tensor:
    """The teacher's logits (B, 3); unless `alone`, the mean of those of the pictures and of their mirror images."""
    own: Tensor = taught(**given)[0]
    return own if alone else (own + taught(**mirrored(given))[0]) / 2


def mirrored(given: Given) -> Given:
    """All that a net is given, left to right."""
    return {name: value.flip(-1) for name, value in given.items()}


def answers(made: list[Tensor]) -> teacher.Answers:
    """What the finder's file gives, as `teacher` takes it: dense, whole, outline."""
    dense, whole = made
    return dense[:, : sum(DENSE.values())], whole, dense[:, sum(DENSE.values()) :]


def _shares(whole: Tensor) -> tuple[Tensor, Tensor]:
    return whole[:, :SCALE_BINS], whole[:, SCALE_BINS:]


def _met(a: dict[str, Tensor], b: dict[str, Tensor]) -> Tensor:
    """Two dense answers as one: the mean heat, the mean size, the direction between, as long as the first."""
    both = {name: (a[name] + b[name]) / 2 for name in DENSE}
    for name in teacher.HEATS:
        both[name] = torch.logit((torch.sigmoid(a[name]) + torch.sigmoid(b[name])) / 2, eps=1e-6)
    length = a["embed"].norm(dim=1, keepdim=True) / 2
    both["embed"] = (F.normalize(a["embed"], eps=1e-6) + F.normalize(b["embed"], eps=1e-6)) * length
    return torch.cat([both[name] for name in DENSE], 1)


def finder_losses(
    net: nn.Module, taught: nn.Module, image: Tensor, things: Tensor, size: int, *, itself: bool = False
) -> Losses:
    """What the net says of worse copies of pictures (b, S, S, 3), against what it is told of the clean ones; or with
    `itself`, of the same copies.
    """
    view = copies.seen(image, things, size)
    tap, worse = copies.taps(view), copies.worse(view.image)
    told = told_to_finder(taught, {"given": planes(worse if itself else view.image, tap)}, alone=itself)
    return teacher.total(answers(net(given=planes(worse, tap))), told)


def checker_losses(
    net: nn.Module, taught: nn.Module, image: Tensor, things: Tensor, size: int, *, itself: bool = False
) -> Losses:
    """The same of sets in the pictures: each logit by itself, and which of a picture's sets is right. The teacher sees
    them as large as it was trained, SIDE pixels.
    """
    view = copies.seen(image, things, SIDE)
    worse = copies.worse(view.image)
    rows, counts = copies.sets(view, things)
    shown = (worse if itself else view.image).repeat_interleave(copies.SETS, 0)
    told = told_to_checker(taught, {"image": shown, "marks": marked(rows, counts, SIDE // 2)}, alone=itself)
    each = copies.sized(worse, size).repeat_interleave(copies.SETS, 0)
    said = net(image=each, marks=marked(rows * (size / SIDE), counts, size // 2))[0]
    among, told_among = (F.log_softmax(one[:, 0].view(-1, copies.SETS), 1) for one in (said, told))
    return {
        "logits": 2 * F.smooth_l1_loss(said, told.clamp(-SURE, SURE), beta=0.5),
        "among": F.kl_div(among, told_among, reduction="batchmean", log_target=True),
    }


LOSSES: dict[str, Callable[..., Losses]] = {"finder": finder_losses, "checker": checker_losses}


class Run(NamedTuple):
    """A run that goes on."""

    net: graph.Graph
    taught: graph.Graph
    optimiser: torch.optim.Optimizer
    average: averages.State
    resumed: bool
    device: Any


def started(chosen: argparse.Namespace, device: Any) -> Run:
    """The net on its device, its teacher, and what makes it learn."""
    plain = learned.plain(chosen.model)
    names = rounded.ROUNDED[chosen.kind] if chosen.rounded else ()
    steps = rounded.measured(plain, names, rounded.SHOWN[chosen.kind](chosen.photos)) if names else None
    net = graph.Graph(plain, names, steps).to(device).to(memory_format=torch.channels_last)
    optimiser = torch.optim.Adam(net.parameters(), chosen.rate, betas=(0.9, 0.99), fused=device.type == "cuda")
    average = averages.copied(net)
    if chosen.resume:
        state = torch.load(chosen.resume, map_location=device)
        net.load_state_dict(state["net"])
        optimiser.load_state_dict(state["optimiser"])
        average = state["average"]
    return Run(
        net, graph.opened(chosen.teacher or chosen.model, device), optimiser, average, bool(chosen.resume), device
    )


def save(run: Run, path: Path) -> None:
    """The averaged weights and steps, and beside them all that a run needs to go on."""
    settled = copy.deepcopy(run.net)
    settled.load_state_dict(run.average)
    learned.save(settled.learned(), path)
    state = {"net": run.net.state_dict(), "average": run.average, "optimiser": run.optimiser.state_dict()}
    part = path.with_suffix(".pt.part")
    torch.save(state, part)
    part.replace(path.with_suffix(".pt"))


def learn(run: Run, step: int, rate: float, losses: Callable[[nn.Module, nn.Module], Losses]) -> Losses:
    """One step down; the losses by name."""
    for group in run.optimiser.param_groups:
        group["lr"] = rate
    parts = losses(run.net, run.taught)
    run.optimiser.zero_grad(set_to_none=True)
    torch.stack(list(parts.values())).sum().backward()
    nn.utils.clip_grad_norm_(run.net.parameters(), 5.0)
    run.optimiser.step()
    averages.follow(run.average, run.net, LATE if run.resumed else step)
    return parts


def _go_on(run: Run, feed: Iterable[Given], chosen: argparse.Namespace, length: float) -> None:
    """Steps for `length` seconds, from `begin` to `end` of half a cosine; twice a minute what was learned is saved."""
    sums, begun, last = dict[str, float](), time.time(), time.time()
    for step, (size, rows) in enumerate(zip(itertools.cycle(SIZES[chosen.kind]), feed, strict=False)):
        gone = (time.time() - begun) / length
        if gone >= 1:
            break
        done = chosen.begin + gone * (chosen.end - chosen.begin)
        rate = chosen.rate * min(1.0, (step + 1) / WARM) * (0.5 * (1 + math.cos(math.pi * done)) + 0.01)
        image, things = (rows[name].to(run.device, non_blocking=True) for name in ("image", "things"))
        told = partial(LOSSES[chosen.kind], image=image, things=things, size=size, itself=chosen.itself)
        parts = learn(run, step, rate, told)
        if step % 10 == 0:
            for name, loss in parts.items():
                sums[name] = 0.97 * sums.get(name, float(loss.detach())) + 0.03 * float(loss.detach())
        if time.time() - last > 30:
            last = time.time()
            save(run, chosen.output)
            print(f"{done:.2f} step {step}", *(f"{name} {loss:.4f}" for name, loss in sums.items()), flush=True)
    save(run, chosen.output)
    print("ends after", step, "steps", *(f"{name} {loss:.4f}" for name, loss in sums.items()), flush=True)


def counts(kind: str, batch: int) -> Iterable[int]:
    """How many pictures each step takes."""
    usual = SIZES[kind][0]
    return itertools.cycle(max(1, round(batch * (usual / size) ** 2)) for size in SIZES[kind])


def _photos(store: Given, folder: Path, size: int) -> list[int]:
    """Put the packed photos that are not held out into the first slots; which these are."""
    slots = list[int]()
    for scene, complete in real.scenes(folder, size, wanted=lambda name: not folds.held_out(name)):
        batches.put(store, len(slots), scene, complete=complete, one_level=True)
        slots.append(len(slots))
    return slots


def run(chosen: argparse.Namespace) -> None:
    """The whole run, on one GPU."""
    torch.manual_seed(chosen.seed)
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = torch.backends.cudnn.benchmark = True
    workers = chosen.workers or max(1, (os.cpu_count() or 2) - 3)
    store = batches.empty(feeding.MOST_FIXED + chosen.slots, chosen.size)
    rings = feeding.rings_of(chosen, workers)
    fixed = {"real": _photos(store, chosen.photos, chosen.size), "solid": []}
    drawing = feeding.start_drawing(store, rings, workers, 0, chosen)  # before any CUDA context: it forks
    going = started(chosen, torch.device(f"cuda:{chosen.gpu}" if torch.cuda.is_available() else "cpu"))
    feeding.wait_for(store, chosen.first)
    print(len(fixed["real"]), "photos; begins", flush=True)
    asked = {name: store[name] for name in ("image", "things", "scene")}
    feed = feeding.feed(asked, fixed, rings, SHARES, counts(chosen.kind, chosen.batch))
    _go_on(going, feed, chosen, chosen.minutes * 60)
    feeding.end(drawing)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("kind", choices=sorted(LOSSES))
    options.add_argument("model", type=Path, help="the ONNX file in 32 bits")
    options.add_argument("--teacher", type=Path, help="the file that tells, where that is another")
    options.add_argument("--photos", type=Path, default=Path(".learn/real"), help="packed photos")
    options.add_argument("--rounded", action="store_true", help="round the layers that `rounded` puts in bytes")
    options.add_argument("--itself", action="store_true", help="told of the very copy it sees: nothing new is learned")
    options.add_argument("--minutes", type=float, default=9.0)
    options.add_argument("--resume", type=Path, help="the .pt that another run left")
    options.add_argument("--begin", type=float, default=0.0, help="where on the half cosine it begins, 0 to 1")
    options.add_argument("--end", type=float, default=1.0, help="where it ends")
    options.add_argument("--rate", type=float, default=1e-5)
    options.add_argument("--batch", type=int, default=48)
    options.add_argument("--size", type=int, default=512, help="pixels a side of the pictures that are kept")
    options.add_argument("--slots", type=int, default=5000, help="of scenes, which are made anew all the time")
    options.add_argument("--first", type=int, default=200, help="scenes to wait for before the first step")
    options.add_argument("--workers", type=int, default=0, help="processes that make scenes")
    options.add_argument("--renderers", type=int, default=0, help="how many of these render (needs MuJoCo)")
    options.set_defaults(families="")  # of all kinds
    options.add_argument("--gpu", type=int, default=0)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("-o", "--output", type=Path, required=True)
    run(options.parse_args())


if __name__ == "__main__":
    main()

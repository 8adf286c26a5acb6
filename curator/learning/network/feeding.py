"""What nets learn from, in shared memory: worker processes draw scenes from their seeds into rings; rendered scenes and
real photos stay; a thread gathers batches ahead.
"""

from __future__ import annotations

import argparse
import os
import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any, NoReturn

import torch
import torch.multiprocessing as mp
from torch import Tensor

from curator.learning.network import batches
from curator.learning.scene import Scene

MOST_FIXED = 6000  # rendered scenes and photos that stay


def _draw(
    store: dict[str, Tensor], slots: range, seed: int, size: int, rendered: bool, families: tuple[str, ...]
) -> None:
    """Worker: fill the slots one after the other, again and again, each scene from a new seed, drawn or rendered (of
    `families`, or of all).
    """
    import cv2

    from curator.learning.drawn import scenes
    from curator.learning.rendered import solids

    torch.set_num_threads(1)
    cv2.setNumThreads(0)
    make: Callable[[int, int], Scene] = partial(solids.make_solid, among=families) if rendered else scenes.make
    while True:
        for slot in slots:
            try:
                batches.put(store, slot, make(seed, size))
            except Exception as error:  # one bad seed must not end the run
                print("seed", seed, repr(error)[:120], flush=True)
            seed += 1


def _shard(store: dict[str, Tensor], first: int, path: Path, effects: int) -> None:
    """Worker: one shard of rendered scenes into the slots from `first` on."""
    import cv2

    from curator.learning.rendered import solids

    torch.set_num_threads(1)
    cv2.setNumThreads(0)
    for slot, scene in enumerate(solids.photographed(path, effects), first):
        batches.put(store, slot, scene)


def fixed_scenes(
    store: dict[str, Tensor], folder: Path, size: int, rank: int, leave_out: tuple[str, ...]
) -> dict[str, list[int]]:
    """Rendered scenes, new kinds of them, and real photos into the first slots; which hold what. Before any CUDA
    context: it forks.
    """
    from curator.learning.photos import real
    from curator.learning.rendered import solids

    fork, filling, slot = mp.get_context("fork"), [], 0
    slots: dict[str, list[int]] = {"solid": [], "new": [], "real": []}
    for pool, shards in (("solid", folder / "solids"), ("new", folder / "new")):
        for path in sorted(shards.glob("*.npz")):
            filling.append(fork.Process(target=_shard, args=(store, slot, path, rank + 1)))
            filling[-1].start()
            slots[pool] += range(slot, slot + solids.length(path))
            slot += solids.length(path)
    own: dict[str, list[int]] = {}
    if (folder / "real").exists():
        for scene, complete in real.scenes(folder / "real", size, leave_out):
            batches.put(store, slot, scene, complete=complete, one_level=True)
            own.setdefault(scene.family, []).append(slot)
            slot += 1
    if slot > MOST_FIXED:
        raise SystemExit(
            f"Reading scenes and photos that stay. There are {slot}, more than the {MOST_FIXED} there is room for. "
            "Take fewer shards."
        )
    for source in own.values():  # a source is a room or two: a hundred photos of it are not a hundred rooms
        slots["real"] += source * max(1, round(4 * (50 / len(source)) ** 0.5))
    for process in filling:
        process.join()
        if process.exitcode:
            raise SystemExit(
                "A shard of rendered scenes could not be read. Render it again: python -m "
                "curator.learning.rendered.solids."
            )
    return slots


def rings_of(chosen: argparse.Namespace, workers: int) -> dict[str, range]:
    """The slots that are filled again and again: with drawn scenes and rendered ones, of all or of new kinds."""
    middle = MOST_FIXED + chosen.slots * (workers - chosen.renderers) // workers
    rings = {"drawn": range(MOST_FIXED, middle), "solid": range(0), "new": range(0)}
    return rings | {_rendered_pool(chosen): range(middle, MOST_FIXED + chosen.slots)}


def _rendered_pool(chosen: argparse.Namespace) -> str:
    """Where scenes go that are rendered on the way."""
    return "new" if chosen.families else "solid"


def start_drawing(
    store: dict[str, Tensor], rings: dict[str, range], workers: int, rank: int, chosen: argparse.Namespace
) -> list[Any]:
    """Start the worker processes, each with its own slots and seeds, the last `--renderers` of them with rendered
    scenes.
    """
    from curator.learning.rendered.families import named

    fork, drawing = mp.get_context("fork"), []  # before any CUDA context
    families = named(chosen.families)
    for w in range(workers):
        rendered = w >= workers - chosen.renderers
        ring = rings[_rendered_pool(chosen) if rendered else "drawn"]
        k, among = (w - workers + chosen.renderers, chosen.renderers) if rendered else (w, workers - chosen.renderers)
        own = range(ring.start + k * len(ring) // among, ring.start + (k + 1) * len(ring) // among)
        first = chosen.seed * 100_000_000 + (rank * workers + w) * 1_000_000
        arguments = (store, own, first, chosen.size, rendered, families)
        drawing.append(fork.Process(target=_draw, args=arguments, daemon=True))
        drawing[-1].start()
    return drawing


def wait_for(store: dict[str, Tensor], scenes: int) -> None:
    """Until the workers have made so many scenes."""
    while int(store["scene"][MOST_FIXED:, 3].sum()) < scenes:
        time.sleep(0.5)


def end(drawing: list[Any]) -> NoReturn:
    """End this process and its workers at once: the thread that gathers batches would go on."""
    for process in drawing:
        process.kill()
    os._exit(0)


def _picked(
    slots: dict[str, list[int]], shares: dict[str, float], count: int, told: tuple[str, ...] = ()
) -> tuple[Tensor, Tensor]:
    """Slots of one batch, from the pools by their shares, and which of them come from the pools in `told`."""
    pools = {name: pool for name, pool in slots.items() if pool and shares[name]}
    names = list(pools)
    which = torch.multinomial(torch.tensor([shares[name] for name in names]), count, replacement=True).tolist()
    picked = torch.tensor([pools[names[w]][int(torch.randint(len(pools[names[w]]), (1,)))] for w in which])
    return picked, torch.tensor([names[w] in told for w in which])


def _filled(store: dict[str, Tensor], ring: range) -> list[int]:
    """The slots of the ring that hold a scene by now."""
    return (ring.start + torch.nonzero(store["scene"][ring.start : ring.stop, 3] > 0)[:, 0]).tolist()


def feed(
    store: dict[str, Tensor],
    fixed: dict[str, list[int]],
    rings: dict[str, range],
    shares: dict[str, float],
    counts: Iterable[int],
    told: tuple[str, ...] = (),
) -> Iterator[dict[str, Tensor]]:
    """The rows of one batch after the other, as many as `counts` says, gathered ahead by a thread of its own; as `told`
    whether they come from these pools.
    """
    ahead: queue.Queue[dict[str, Tensor]] = queue.Queue(3)
    pinned = torch.cuda.is_available()

    def gather() -> None:
        pools = fixed
        for batch, count in enumerate(counts):
            if batch % 50 == 0:
                pools = fixed | {name: fixed.get(name, []) + _filled(store, ring) for name, ring in rings.items()}
            picked, by_teacher = _picked(pools, shares, count, told)
            rows = {name: values.index_select(0, picked) for name, values in store.items()} | {"told": by_teacher}
            ahead.put({name: values.pin_memory() if pinned else values for name, values in rows.items()})

    threading.Thread(target=gather, daemon=True).start()
    while True:
        yield ahead.get()

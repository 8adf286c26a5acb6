"""What is `sure` of scenes that nobody tuned to, and how much of it is wrong.

    python tests/bench/scenes_bench.py --count 300 --seed 700000 [--rendered]

Each seed gives one scene: drawn, or with --rendered rendered from solids (needs `mujoco`); with the camera's effects,
saved as JPEG and looked at like any photo. Take seeds that no net was trained on (training draws from the run's seed
times 100,000,000 on). A `sure` answer is wrong where no lot of the scene has its number. A lot: all things of one kind,
those included that are seen by a tenth, a quarter or a half, with or without look-alikes; people differ there.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

import cv2

from curator.learning.drawn import scenes
from curator.learning.fit.gate import bound
from curator.learning.rendered import solids
from curator.learning.scene import Scene
from curator.seeing import look

SEEN = (0.1, 0.25, 0.5)  # of a thing, for it to be counted
QUALITY = 92
SIDE = 384  # pixels


class Answered(NamedTuple):
    """One scene, and what was said of it."""

    seed: int
    family: str
    meant: int  # things of the kind that is meant; 0 where nothing repeats
    total: int
    sure: bool
    known: bool  # some lot of the scene has that number

    @property
    def wrong(self) -> bool:
        return self.sure and not self.known


def lots(scene: Scene) -> set[int]:
    """The numbers that a careful person could say of the scene's kinds."""
    found = set[int]()
    for least in SEEN:
        for kept in (scene.visible >= least, (scene.visible >= least) & ~scene.aside):
            found |= set(Counter(scene.kind[kept].tolist()).values())
    return found


def answered(seed: int, rendered: bool = False) -> Answered | None:
    """The answer to one scene; None where the seed gives no fair one."""
    cv2.setNumThreads(1)
    try:
        scene = solids.make_solid(seed, SIDE) if rendered else scenes.make(seed, SIDE)
    except (ValueError, RuntimeError):
        return None
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scene.jpg"
        cv2.imwrite(str(path), scene.image[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
        best = look.look(path).best
    total = best.total or 0
    return Answered(seed, scene.family, scene.total(), total, best.grade == "sure", total in lots(scene))


def told(found: list[Answered]) -> str:
    """The figures, and each wrong one by its seed."""
    sure, wrong = [a for a in found if a.sure], [a for a in found if a.wrong]
    exact = sum(a.total == a.meant for a in found) / max(1, len(found))
    lines = [
        f"{len(found)} scenes: {exact:.2f} counted exactly; {len(sure)} sure, {len(wrong)} of them wrong, "
        f"at most {bound(len(wrong), len(sure)):.3f} (95 %)",
        *(f"  seed {a.seed}, {a.family}: sure of {a.total}, {a.meant} meant" for a in wrong),
    ]
    return "\n".join(lines)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--count", type=int, default=300)
    options.add_argument("--seed", type=int, required=True)
    options.add_argument("--rendered", action="store_true")
    options.add_argument("--processes", type=int, default=2)
    chosen = options.parse_args()
    seeds = range(chosen.seed, chosen.seed + chosen.count)
    with get_context("spawn").Pool(chosen.processes) as pool:
        found = pool.map(partial(answered, rendered=chosen.rendered), seeds, chunksize=4)
    print(told([a for a in found if a is not None]))


if __name__ == "__main__":
    main()

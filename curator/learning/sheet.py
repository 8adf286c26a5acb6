"""A contact sheet of scenes with their truth: `python -m curator.learning.sheet -o sheet.png --seed 0 --count 48`.

Drawn ones are made anew, rendered ones are read from a folder of shards (`--solids .learn/solids`).
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from itertools import islice
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning.drawn import scenes
from curator.learning.rendered.solids import load_solids
from curator.learning.scene import GROUP, PART, Scene

SIDES = {0: (255, 255, 255), 1: (0, 200, 255), 2: (255, 140, 0)}


def over(scene: Scene) -> NDArray[np.uint8]:
    """The picture with large dots for the main kind (by side), small ones for others, lines for limbs and axes."""
    picture = scene.image.copy()
    for i in range(len(scene.kind)):
        row, col = (round(float(v)) for v in scene.centers[i])
        meant = int(scene.kind[i]) == scene.main and not scene.aside[i]
        faint = scene.visible[i] < 0.25
        top, left, bottom, right = (int(v) for v in scene.boxes[i])
        if scene.level[i] == GROUP:
            cv2.rectangle(picture, (left, top), (right, bottom), (200, 0, 200), 1)
            continue
        if meant:
            cv2.rectangle(picture, (left, top), (right - 1, bottom - 1), SIDES[int(scene.side[i])], 1)
            cv2.circle(picture, (col, row), 5, (0, 0, 0), -1)
            cv2.circle(picture, (col, row), 4, (90, 90, 90) if faint else SIDES[int(scene.side[i])], -1)
        else:
            colour = (255, 0, 0) if scene.aside[i] else (0, 255, 0) if scene.level[i] == PART else (255, 0, 255)
            cv2.circle(picture, (col, row), 2, colour, -1)
        if np.isfinite(scene.tips[i]).all():
            cv2.line(picture, (col, row), tuple(round(float(v)) for v in scene.tips[i][::-1]), (255, 255, 0), 1)
    for _, r0, c0, r1, c1, _ in scene.axis:
        cv2.line(picture, (round(float(c0)), round(float(r0))), (round(float(c1)), round(float(r1))), (0, 0, 255), 1)
    halves = int(((scene.kind == scene.main) & (scene.side == 1)).sum())
    text = f"{scene.family}: {scene.total()}" + (f" = {halves}+{halves}" if halves else "")
    cv2.rectangle(picture, (0, 0), (9 * len(text) + 6, 16), (0, 0, 0), -1)
    cv2.putText(picture, text, (3, 12), cv2.FONT_HERSHEY_SIMPLEX, 0.45, (255, 255, 255), 1, cv2.LINE_AA)
    return picture


def sheet(made: Iterable[Scene], *, shown: int = 256, across: int = 8, bare: bool = False) -> NDArray[np.uint8]:
    """(rows * shown, across * shown, 3) RGB."""
    tiles = [cv2.resize(s.image if bare else over(s), (shown, shown), interpolation=cv2.INTER_AREA) for s in made]
    tiles += [np.zeros((shown, shown, 3), np.uint8)] * (-len(tiles) % across)
    return np.concatenate([np.concatenate(tiles[i : i + across], 1) for i in range(0, len(tiles), across)], 0)


def _chosen(chosen: argparse.Namespace) -> Iterable[Scene]:
    if chosen.solids is None:
        return (scenes.make(chosen.seed + k, family=chosen.family) for k in range(chosen.count))
    rendered = (scene for scene in load_solids(chosen.solids) if chosen.family in (None, scene.family))
    return islice(rendered, chosen.seed, chosen.seed + chosen.count)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("-o", "--output", type=Path, default=Path("sheet.png"))
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--count", type=int, default=48)
    options.add_argument("--shown", type=int, default=256, help="pixels a tile")
    options.add_argument("--family", help="only this one")
    options.add_argument("--solids", type=Path, help="rendered scenes of this folder, from the scene --seed on")
    options.add_argument("--bare", action="store_true", help="without the truth")
    chosen = options.parse_args()
    if chosen.solids is None and chosen.family not in (None, *scenes.FAMILIES):
        options.error(f"no family {chosen.family}: {', '.join(sorted(scenes.FAMILIES))}")
    cv2.imwrite(str(chosen.output), sheet(_chosen(chosen), shown=chosen.shown, bare=chosen.bare)[..., ::-1])


if __name__ == "__main__":
    main()

"""The record of one training scene, with the checks that every generator runs before handing it out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

WHOLE, PART, GROUP = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """One picture and everything that can be counted in it; n things, S pixels a side.

    `main` is a value of `kind`, or -1 when nothing in the picture repeats. `visible` below 0.25: a thing to ignore.
    """

    image: NDArray[np.uint8]  # (S, S, 3) RGB
    boxes: NDArray[np.float32]  # (n, 4) top, left, bottom, right of the part that can be seen, pixels
    centers: NDArray[np.float32]  # (n, 2) row, col that a child would point at, pixels
    tips: NDArray[np.float32]  # (n, 2) row, col of a limb's tip, NaN where the thing is no limb
    kind: NDArray[np.int16]  # (n,) alike things share a number
    level: NDArray[np.int8]  # (n,) 0 whole things, 1 parts, 2 groups
    parent: NDArray[np.int16]  # (n,) index of the thing it belongs to, or -1
    visible: NDArray[np.float32]  # (n,) share of the thing that can be seen, 0..1
    side: NDArray[np.int8]  # (n,) 1 or 2 for the halves of its kind, 0 for none
    axis: NDArray[np.float32]  # (k, 6) thing index, row0, col0, row1, col1, 1 if mirrored else 0
    main: int
    aside: NDArray[np.bool_]  # (n,) look-alikes a careful person leaves out
    family: str
    ids: NDArray[np.uint8] | None = (
        None  # (2, S / 2, S / 2) where known: whose whole, whose part each place is; 1 + row
    )

    def total(self) -> int:
        """How many things of the main kind a person would count (0 when nothing repeats)."""
        if self.main < 0:
            return 0
        return int(np.sum((self.kind == self.main) & ~self.aside & (self.visible >= 0.25)))


def check(scene: Scene) -> Scene:
    """Return the scene unchanged, or raise ValueError naming the first thing that is wrong with it."""
    n = len(scene.kind)
    size = scene.image.shape[0]
    shapes = {
        "image": (scene.image.shape, (size, size, 3)),
        "boxes": (scene.boxes.shape, (n, 4)),
        "centers": (scene.centers.shape, (n, 2)),
        "tips": (scene.tips.shape, (n, 2)),
        "axis": (scene.axis.shape, (len(scene.axis), 6)),
    }
    for name, (found, wanted) in shapes.items():
        if found != wanted:
            raise ValueError(f"{scene.family}: {name} has shape {found}, not {wanted}")
    for name in ("level", "parent", "visible", "side", "aside"):
        if getattr(scene, name).shape != (n,):
            raise ValueError(f"{scene.family}: {name} has {getattr(scene, name).shape} for {n} things")
    _check_values(scene, n, size)
    return scene


def _check_values(scene: Scene, n: int, size: int) -> None:
    if scene.image.dtype != np.uint8:
        raise ValueError(f"{scene.family}: the image is {scene.image.dtype}, not uint8")
    if n and (scene.boxes.min() < 0 or scene.boxes.max() > size or not np.isfinite(scene.centers).all()):
        raise ValueError(f"{scene.family}: a box or a centre leaves the frame")
    if n and ((scene.boxes[:, 2:] < scene.boxes[:, :2]).any()):
        raise ValueError(f"{scene.family}: a box is upside down")
    if n and (scene.parent.max() >= n or (scene.parent == np.arange(n)).any()):
        raise ValueError(f"{scene.family}: a parent does not exist")
    if scene.main >= 0 and not (scene.kind == scene.main).any():
        raise ValueError(f"{scene.family}: the main kind {scene.main} is not in the scene")
    counted = (scene.kind == scene.main) & ~scene.aside
    ones, twos = int((scene.side[counted] == 1).sum()), int((scene.side[counted] == 2).sum())
    if ones != twos:
        raise ValueError(f"{scene.family}: the halves of the main kind are {ones} and {twos}")

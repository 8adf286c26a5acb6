"""Real photos with boxes (a folder with boxes.json and images/) as training scenes of one level."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np

from curator.learning.scene import Scene

COMPLETE = (
    "card",
    "kuih",
    "screw",
    "cube",
    "cubeb",
    "cone",
    "pill",
    "nail",
    "bolt",
    "mcu",
    "chess",
    "fridge",
    "coca",
    "fruitb",
    "jcoin",
    "coin",
    "icoin",
    "tool",
    "shop",
    "retail",
    "tomato",
)
"""Sources whose boxes are said to be all there (95 % or more); the others have things without a box."""
ALSO = ("xiang", "stone", "rcone", "tin", "nuts", "fish", "chessb", "htc", "penb", "pair")
"""The same, of the second gathering: for training; the judge does not count on them."""


def pack(
    folder: Path, output: Path, *, longer: int = 384, quality: int = 62, wanted: Callable[[str], bool] = lambda _: True
) -> int:
    """Shrink the photos whose names are `wanted` for a machine with a small allowance; returns how many."""
    (output / "images").mkdir(parents=True, exist_ok=True)
    boxes = {n: e for n, e in json.loads((folder / "boxes.json").read_text()).items() if wanted(n)}
    for name in boxes:
        picture = cv2.imread(str(folder / "images" / name))
        scale = longer / max(picture.shape[:2])
        if scale < 1:
            picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        cv2.imwrite(str(output / "images" / f"{Path(name).stem}.webp"), picture, [cv2.IMWRITE_WEBP_QUALITY, quality])
    (output / "boxes.json").write_text(json.dumps(boxes))
    return len(boxes)


def source_of(name: str) -> str:
    """The source that a file's name begins with."""
    return name.split("_")[0].rstrip("0123456789")


def _square(picture: np.ndarray, size: int) -> tuple[np.ndarray, float]:
    """The picture in a square of mid grey, top left, and its scale."""
    scale = size / max(picture.shape[:2])
    picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    square = np.full((size, size, 3), 127, np.uint8)
    square[: picture.shape[0], : picture.shape[1]] = picture[:size, :size]
    return square, scale


def main_kind(kinds: np.ndarray, areas: np.ndarray) -> int:
    """The kind, of which there are at least two, that covers most; -1 where none repeats."""
    repeated = [k for k in np.unique(kinds) if (kinds == k).sum() >= 2]
    return max(repeated, key=lambda k: float(areas[kinds == k].sum()), default=-1)


def scenes(
    folder: Path, size: int = 384, leave_out: tuple[str, ...] = (), wanted: Callable[[str], bool] = lambda _: True
) -> Iterator[tuple[Scene, bool]]:
    """Every photo whose name is `wanted` as a scene, and whether its boxes are complete."""
    for name, entry in json.loads((folder / "boxes.json").read_text()).items():
        source = source_of(name)
        if source in leave_out or not entry["boxes"] or not wanted(name):
            continue
        raw = cv2.imread(str(folder / "images" / f"{Path(name).stem}.webp"))
        if raw is None:
            continue
        image, _ = _square(cv2.cvtColor(raw, cv2.COLOR_BGR2RGB), size)
        scale = size / max(raw.shape[:2])
        height, width = raw.shape[0] * scale, raw.shape[1] * scale
        names = sorted({b["kind"] for b in entry["boxes"]})
        boxes = np.array(
            [
                [b["box"][1] * height, b["box"][0] * width, b["box"][3] * height, b["box"][2] * width]
                for b in entry["boxes"]
            ],
            np.float32,
        )
        kinds = np.array([names.index(b["kind"]) for b in entry["boxes"]], np.int16)
        n = len(boxes)
        areas = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
        yield (
            Scene(
                image=image,
                boxes=boxes,
                centers=(boxes[:, :2] + boxes[:, 2:]) / 2,
                tips=np.full((n, 2), np.nan, np.float32),
                kind=kinds,
                level=np.zeros(n, np.int8),
                parent=np.full(n, -1, np.int16),
                visible=np.ones(n, np.float32),
                side=np.zeros(n, np.int8),
                axis=np.zeros((0, 6), np.float32),
                main=main_kind(kinds, areas),
                aside=np.zeros(n, bool),
                family=f"real-{source}",
            ),
            source in COMPLETE or source in ALSO,
        )

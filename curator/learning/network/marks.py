"""Nets side by side on photos with dots, by their marks alone, without finders or judge:
`python -m curator.learning.network.marks FOLDER... --nets old.pt new.pt`.

A folder holds dots.json (file: list of x, y as fractions) or boxes.json, and images/. Where labels.csv stands beside
dots.json, the dots are fractions of the labelled frame.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from curator.learning.network.export import load
from curator.learning.network.net import SCALE_BINS, Finder, split_dense
from curator.learning.network.recover import recovered
from curator.learning.photos.real import main_kind
from curator.records import Area
from curator.seeing.evaluation.scoring import labels
from curator.seeing.net.runtime import input_of

SIZES = (256, 384, 512)
CUT = 0.35
Points = NDArray[np.float64]  # (n, 2) row, col


def labelled(folder: Path) -> Iterator[tuple[str, Path, Points]]:
    """Name, path and true places of each photo, as fractions of its height and width."""
    if (folder / "dots.json").exists():
        areas = {one.file: one.area for one in labels(folder)} if (folder / "labels.csv").exists() else {}
        for name, dots in json.loads((folder / "dots.json").read_text()).items():
            yield name, _path(folder, name), _placed(dots, areas.get(name))
        return
    for name, entry in json.loads((folder / "boxes.json").read_text()).items():
        every = np.array([b["box"] for b in entry["boxes"]], float).reshape(-1, 4)
        kinds = np.unique([b["kind"] for b in entry["boxes"]], return_inverse=True)[1]
        areas = (every[:, 2] - every[:, 0]) * (every[:, 3] - every[:, 1])
        own = every[kinds == main_kind(kinds, areas)]
        yield name, _path(folder, name), (own[:, [1, 0]] + own[:, [3, 2]]) / 2


def _placed(dots: list[list[float]], frame: Area | None) -> Points:
    """Dots (x, y) of a frame, or of the whole photo, as fractions (row, col) of the photo."""
    at = np.array(dots, float).reshape(-1, 2)[:, ::-1]
    if frame is None:
        return at
    return at * (frame.bottom - frame.top, frame.right - frame.left) + (frame.top, frame.left)


def _path(folder: Path, name: str) -> Path:
    packed = folder / "images" / f"{Path(name).stem}.webp"
    return packed if packed.exists() else folder / "images" / name


@torch.no_grad()
def marked(net: Finder, picture: NDArray[np.uint8], longer: int, device: Any) -> tuple[Points, Points, int]:
    """Places (n, 2) in fractions, how clear each is, and the number that the count head holds likeliest."""
    shown, scale = input_of(picture, longer)
    given = torch.from_numpy(shown).to(device).permute(2, 0, 1)[None].float()
    dense, whole, _ = net(given, torch.zeros_like(given[:, :1]))
    heat = torch.sigmoid(split_dense(dense)["main"])[0, 0]
    heat = heat[: int(np.ceil(picture.shape[0] * scale / 4)), : int(np.ceil(picture.shape[1] * scale / 4))]
    top = (heat == torch.nn.functional.max_pool2d(heat[None, None], 3, 1, 1)[0, 0]) & (heat >= CUT)
    at = torch.nonzero(top).cpu().numpy() * 4 + 1.5
    clear = heat[top].double().cpu().numpy()
    return at / (np.array(picture.shape[:2]) * scale), clear, int(whole[0, SCALE_BINS:].argmax())


def hits(found: Points, true: Points, size: tuple[int, int]) -> int:
    """How many places meet a true one of their own, within half the way to its neighbour, a tenth of the longer side at
    most."""
    if not len(found) or not len(true):
        return 0
    scale = np.array(size, float) / max(size)
    apart = np.linalg.norm((true[:, None] - true[None]) * scale, axis=2) + 9 * np.eye(len(true))
    away = np.linalg.norm((found[:, None] - true[None]) * scale, axis=2) / np.minimum(0.1, apart.min(1) / 2)
    mine, theirs = linear_sum_assignment(np.minimum(away, 9.0))
    return int((away[mine, theirs] <= 1).sum())


def measured(net: Finder, folder: Path, device: Any) -> dict[str, float]:
    """Mean precision, recall and F1 of the marks over sizes and photos, and shares of exact counts.

    These at each size, at the size whose marks are clearest, and by the count head.
    """
    rows = []
    for _, path, true in labelled(folder):
        raw = cv2.imread(str(path))
        if raw is None or not 2 <= len(true) <= 24:
            continue
        picture = np.asarray(cv2.cvtColor(raw, cv2.COLOR_BGR2RGB), np.uint8)
        row: list[float] = []
        looks = [marked(net, picture, longer, device) for longer in SIZES]
        for at, _, _ in looks:
            right = hits(at, true, picture.shape[:2])
            p, r = right / max(1, len(at)), right / len(true)
            row += [p, r, 2 * p * r / max(1e-9, p + r), len(at) == len(true)]
        best = max(looks, key=lambda look: float(np.abs(2 * look[1] - 1).mean()) if len(look[1]) else 0.0)
        rows.append([*row, len(best[0]) == len(true), looks[1][2] == len(true)])
    mean = np.array(rows, float).mean(0)
    by_size = mean[:12].reshape(3, 4)
    found = dict(zip(("precision", "recall", "f1", "exact"), by_size.mean(0).round(4).tolist(), strict=True))
    for size, one in zip(SIZES, by_size, strict=True):
        found[f"f1 {size}"], found[f"exact {size}"] = round(float(one[2]), 3), round(float(one[3]), 3)
    return {**found, "clearest": round(float(mean[12]), 3), "counted": round(float(mean[13]), 3), "photos": len(rows)}


def opened(path: str) -> Finder:
    """A net of an .onnx file, or of one or several .pt files joined by + (their mean)."""
    return recovered(Path(path)) if path.endswith(".onnx") else load([Path(p) for p in path.split("+")])


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folders", type=Path, nargs="+")
    options.add_argument("--nets", nargs="+", required=True, help=".onnx or .pt; a.pt+b.pt is their mean")
    chosen = options.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    for folder in chosen.folders:
        for name in chosen.nets:
            found = measured(opened(name).to(device), folder, device)
            print(folder.name, Path(name).name, " ".join(f"{k} {v:g}" for k, v in found.items()), flush=True)


if __name__ == "__main__":
    main()

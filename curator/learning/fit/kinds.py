"""Fit how likely two things are of one kind: `python -m curator.learning.fit.kinds ../shared/train [-o judge.json]`.

Learned from photos with boxes of several kinds side by side, of sources that the shipped net has not seen (its
embeddings of the others flatter). Every figure it prints is out of fold, by source.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from curator.learning.fit.logits import Array, logistic
from curator.learning.photos.real import source_of
from curator.seeing import look, photo
from curator.seeing.features import one_kind
from curator.seeing.net import runtime
from curator.seeing.view import view_of

UNSEEN = frozenset(("lego", "okra", "nuts", "chessb", "rcone", "stone", "htc", "tin", "penb", "fish", "gtom"))
MOST, PHOTOS = 40, 40  # boxes of a photo, photos of a source
RIDGE = 1.0


def pairs(folder: Path) -> list[tuple[str, Array, Array]]:
    """Of every photo its source, how each two boxed things differ (pairs, 6), and whether they are of one kind."""
    boxes: dict[str, Any] = json.loads((folder / "boxes.json").read_text())
    found, seen = [], dict.fromkeys(UNSEEN, 0)
    for name, entry in boxes.items():
        source = source_of(name)
        if source in UNSEEN and seen[source] < PHOTOS and len(entry["boxes"]) > 1:
            seen[source] += 1
            found.append((source, *_of(folder / "images" / name, entry["boxes"][:MOST])))
    return found


def _of(path: Path, boxes: list[dict[str, Any]]) -> tuple[Array, Array]:
    pixels, _ = look.framed(photo.load(path), None)
    sides = np.array([*pixels.shape[:2], *pixels.shape[:2]])
    places = np.array([b["box"] for b in boxes], dtype=np.float64)[:, [1, 0, 3, 2]] * sides
    centers = (places[:, :2] + places[:, 2:]) / 2
    view = view_of(pixels)
    embeds = [runtime.embedding(sight, centers) for sight in view.sights]
    apart = one_kind.differences(places, embeds, view.looks)
    _, kind = np.unique([b["kind"] for b in boxes], return_inverse=True)
    above = np.triu_indices(len(boxes), 1)
    return apart[above], (kind[above[0]] == kind[above[1]]).astype(np.float64)


def fitted(every: list[tuple[str, Array, Array]]) -> dict[str, float]:
    """Weights from photos that weigh the same, and in each the pairs of one kind as much as the others."""
    rows, right = np.concatenate([r for _, r, _ in every]), np.concatenate([y for _, _, y in every])
    share = np.concatenate([_share(y) for _, _, y in every])
    w = logistic(rows, right, share, RIDGE)
    return {name: round(float(v), 3) for name, v in zip(("bias", *one_kind.DIFFERENCES), w, strict=True)}


def _share(right: Array) -> Array:
    one, other = max(1.0, right.sum()), max(1.0, (1 - right).sum())
    return np.where(right > 0, 1 / one, 1 / other)


def _said(rows: Array, weights: dict[str, float]) -> Array:
    score = weights["bias"] + rows @ np.array([weights[name] for name in one_kind.DIFFERENCES])
    return np.asarray(1 / (1 + np.exp(-score)), np.float64)


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("folder", type=Path, help="boxes.json and images/")
    options.add_argument("-o", "--output", type=Path, help="judge.json, whose weights of `kind` are replaced")
    chosen = options.parse_args()
    cv2.setNumThreads(1)
    every = pairs(chosen.folder)
    for source in sorted({s for s, _, _ in every}):
        own = [one for one in every if one[0] == source]
        said = [_said(rows, fitted([o for o in every if o[0] != source])) for _, rows, _ in own]
        right, likely = np.concatenate([y for _, _, y in own]), np.concatenate(said)
        same, other = likely[right > 0], likely[right == 0]
        auc = float((same[:, None] > other[None]).mean()) if len(same) and len(other) else float("nan")
        print(f"{source}: {len(own)} photos, one kind {same.mean():.2f}, two {other.mean() if len(other) else 0:.2f}, "
              f"AUC {auc:.3f}")  # fmt: skip
    weights = fitted(every)
    print(weights)
    if chosen.output:
        judge = json.loads(chosen.output.read_text())
        chosen.output.write_text(json.dumps({**judge, "kind": weights}, indent=1) + "\n")


if __name__ == "__main__":
    main()

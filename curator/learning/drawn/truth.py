"""From what was painted to the record: what can be seen, which halves are whole, what a person would mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from curator.learning import paint
from curator.learning.scene import GROUP, PART, WHOLE, Scene

if TYPE_CHECKING:
    from curator.learning.drawn.board import Board

SEEN = 0.25


def _seen(board: Board) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Boxes and visible shares of all rows, by the owners' maps."""
    n = len(board.rows)
    boxes, visible = np.zeros((n, 4), np.float32), np.zeros(n, np.float32)
    for layer, owner in enumerate(board.owners):
        counts = np.bincount((owner + 1).ravel(), minlength=n + 1)[1:]
        for i, found in enumerate(ndimage.find_objects((owner + 1).astype(np.int32), max_label=n)):
            if found is None or board.rows[i]["layer"] != layer:
                continue
            boxes[i] = (found[0].start, found[1].start, found[0].stop, found[1].stop)
            visible[i] = min(1.0, counts[i] / max(1.0, board.rows[i]["full"]))
    for i, row in enumerate(board.rows):
        members = [m for m in row.get("members", ()) if visible[m] > 0]
        if members:
            part = boxes[members]
            boxes[i] = (*part[:, :2].min(0), *part[:, 2:].max(0))
            visible[i] = float(visible[members].sum()) / len(row["members"])
    return boxes, visible


def _halves(rows: list[dict[str, Any]], visible: NDArray[np.float32]) -> NDArray[np.int8]:
    """Sides, kept only where a kind's two halves are equal and everything of the kind belongs to one."""
    side = np.array([r["side"] for r in rows], np.int8)
    kinds = np.array([r["kind"] for r in rows])
    counted = (visible >= SEEN) & ~np.array([r["aside"] for r in rows], bool)
    parts = np.array([r["level"] == PART for r in rows])
    _equal(side, kinds, counted, ~parts)
    for kind in np.unique(kinds[parts]):  # parts of several wholes lie in the halves that their wholes make
        own = np.nonzero((kinds == kind) & parts)[0]
        wholes = [rows[i]["parent"] for i in own]
        if len(set(wholes)) > 1:
            side[own] = [side[w] if w >= 0 else 0 for w in wholes]
    _equal(side, kinds, counted, parts)
    side[~counted] = 0
    return side


def _equal(side: NDArray[np.int8], kinds: NDArray[Any], counted: NDArray[np.bool_], among: NDArray[np.bool_]) -> None:
    """Strike the sides of the kinds whose halves are not whole, in place."""
    for kind in np.unique(kinds[among]):
        own = (kinds == kind) & among
        ones, twos = int((side[own & counted] == 1).sum()), int((side[own & counted] == 2).sum())
        if ones != twos or ones + twos != int((own & counted).sum()):
            side[own] = 0


def _main(
    rows: list[dict[str, Any]], boxes: NDArray[np.float32], visible: NDArray[np.float32], side: NDArray[np.int8]
) -> int:
    """The kind that a person would mean: one that pairs up, else the one that fills the picture; wholes first."""
    best, found = (-1.0, -1.0, -1.0), -1
    kinds = np.array([r["kind"] for r in rows], int)
    level = np.array([r["level"] for r in rows], int)
    counted = (visible >= SEEN) & ~np.array([r["aside"] for r in rows], bool) & (level != GROUP)
    area = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    for kind in np.unique(kinds):
        own = (kinds == kind) & counted
        if own.sum() < 2 or own.sum() > 40:
            continue
        score = (float((side[own] > 0).all()), float(level[own].min() == WHOLE), float(area[own].sum()))
        if score > best:
            best, found = score, int(kind)
    return found


def finish(board: Board, family: str, main: str | None) -> Scene:
    """The scene, without the things that cannot be seen at all."""
    rows = board.rows
    boxes, visible = _seen(board)
    keep = np.nonzero(visible > 0)[0] if rows else np.zeros(0, int)
    moved = {int(old): new for new, old in enumerate(keep)}
    rows = [{**rows[int(i)], "parent": moved.get(rows[int(i)]["parent"], -1)} for i in keep]
    boxes, visible = boxes[keep], visible[keep]
    side = _halves(rows, visible) if rows else np.zeros(0, np.int8)
    middle = (boxes[:, :2] + boxes[:, 2:]) / 2
    at = np.array([middle[i] if r["level"] == GROUP else r["at"] for i, r in enumerate(rows)], np.float32).reshape(
        -1, 2
    )
    outside = (at < 0).any(1) | (at >= board.size).any(1)
    at[outside] = middle[outside]
    tips = np.array([(np.nan, np.nan) if r["tip"] is None else r["tip"] for r in rows], np.float32).reshape(-1, 2)
    axis = [(moved[b], *p.ravel(), float(s)) for b, p, s in board.axes if b in moved]
    counts = np.bincount([r["kind"] for r in rows], minlength=1) if rows else np.zeros(1)
    named = board.kinds.get(main, -1) if main is not None else -1
    meant = named if 0 <= named < len(counts) and counts[named] >= 2 else _main(rows, boxes, visible, side)
    return Scene(
        image=paint.camera(board.rng, board.image)
        if board.style == "photo"
        else paint.camera_light(board.rng, board.image),
        boxes=boxes,
        centers=at,
        tips=tips,
        kind=np.array([r["kind"] for r in rows], np.int16),
        level=np.array([r["level"] for r in rows], np.int8),
        parent=np.array([r["parent"] for r in rows], np.int16),
        visible=visible,
        side=side,
        axis=np.array(axis, np.float32).reshape(-1, 6),
        main=meant,
        aside=np.array([r["aside"] for r in rows], bool),
        family=family,
    )

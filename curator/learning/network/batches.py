"""Scenes as fixed-size arrays in shared memory, and batches with random views, taps and target maps on the GPU."""

from __future__ import annotations

import math
import mmap
from typing import Any

import numpy as np
import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from curator.learning.network.net import SCALE_BINS
from curator.learning.scene import Scene

MOST = 96  # things a scene, the largest first
COLUMNS = 12  # row, col, height, width, tip row, tip col, kind, level, visible, side, aside, used
STRIDE = 4


def _shared(shape: tuple[int, ...], kind: Any) -> Tensor:
    """A zeroed tensor in anonymous memory that forked workers share (no size limit of a shared-memory file system)."""
    memory = mmap.mmap(-1, int(np.prod(shape)) * np.dtype(kind).itemsize)
    return torch.from_numpy(np.frombuffer(memory, dtype=kind).reshape(shape))


def empty(slots: int, size: int) -> dict[str, Tensor]:
    """Shared arrays for `slots` scenes."""
    return {
        "image": _shared((slots, size, size, 3), np.uint8),
        "things": _shared((slots, MOST, COLUMNS), np.float32),
        "axis": _shared((slots, 4, 5), np.float32),  # row0, col0, row1, col1, used
        "scene": _shared((slots, 5), np.float32),  # main, complete boxes, one level only, filled, outlines known
        "ids": _shared((slots, 2, size // 2, size // 2), np.uint8),  # 1 + the row in `things` of the whole, the part
    }


def put(store: dict[str, Tensor], slot: int, scene: Scene, *, complete: bool = True, one_level: bool = False) -> None:
    """Write one scene into its slot."""
    n = len(scene.boxes)
    order = np.argsort(-(scene.boxes[:, 2] - scene.boxes[:, 0]) * (scene.boxes[:, 3] - scene.boxes[:, 1]))[:MOST]
    rows = np.zeros((MOST, COLUMNS), np.float32)
    if n:
        b = scene.boxes[order]
        rows[: len(order)] = np.column_stack(
            [
                scene.centers[order],
                b[:, 2] - b[:, 0],
                b[:, 3] - b[:, 1],
                np.nan_to_num(scene.tips[order], nan=-1e4),
                scene.kind[order],
                scene.level[order],
                scene.visible[order],
                scene.side[order],
                scene.aside[order],
                np.ones(len(order)),
            ]
        )
    axis = np.zeros((4, 5), np.float32)
    for i, line in enumerate(scene.axis[:4]):
        axis[i] = [*line[1:5], 1.0]
    store["image"][slot] = torch.from_numpy(np.ascontiguousarray(scene.image))
    store["things"][slot] = torch.from_numpy(rows)
    store["axis"][slot] = torch.from_numpy(axis)
    known = scene.ids is not None
    if scene.ids is not None:
        place = np.zeros(256, np.uint8)
        place[1 + order[order < 255]] = 1 + np.nonzero(order < 255)[0]
        store["ids"][slot] = torch.from_numpy(place[scene.ids])
    store["scene"][slot] = torch.tensor([float(scene.main), float(complete), float(one_level), 1.0, float(known)])


def any_view(count: int, size: int, device: Any) -> Tensor:
    """Random affine maps (B, 2, 3), output pixel -> input pixel: zoom, turn, mirror, shift; rows first."""
    zoom = torch.exp(torch.empty(count, device=device).uniform_(math.log(0.55), math.log(1.6)))
    keep = torch.rand(count, device=device) < 0.35
    zoom = torch.where(keep, torch.ones_like(zoom), zoom)
    angle = torch.empty(count, device=device).normal_(0, 0.12)
    quarter = (torch.rand(count, device=device) < 0.25).float() * torch.randint(0, 4, (count,), device=device)
    angle = torch.where(keep, torch.zeros_like(angle), angle) + quarter * (math.pi / 2)
    mirror = torch.where(torch.rand(count, device=device) < 0.5, -1.0, 1.0)
    stretch = torch.exp(torch.empty(count, device=device).uniform_(-0.15, 0.15))
    c, s = torch.cos(angle), torch.sin(angle)
    linear = torch.stack([torch.stack([c, -s * mirror], 1), torch.stack([s, c * mirror], 1)], 1) / zoom[:, None, None]
    linear[:, :, 1] = linear[:, :, 1] * stretch[:, None]
    slack = (size * (1 - 1 / zoom)).abs()[:, None] / 2 + 0.03 * size
    middle = (
        size / 2 + torch.empty(count, 2, device=device).uniform_(-1, 1) * slack * torch.where(keep, 0.2, 0.8)[:, None]
    )
    shift = middle[:, :, None] - linear @ torch.full((count, 2, 1), size / 2, device=device)
    return torch.cat([linear, shift], 2)


def warped(image: Tensor, view: Tensor) -> Tensor:
    """(B, S, S, 3) uint8 -> (B, 3, S, S) float through the view; reflections outside half of the time, else grey."""
    size = image.shape[1]
    x = image.permute(0, 3, 1, 2).float()
    grid = torch.arange(size, device=x.device, dtype=torch.float32)
    rows, cols = torch.meshgrid(grid, grid, indexing="ij")
    at = torch.stack([rows, cols, torch.ones_like(rows)], -1)
    source = torch.einsum("bij,hwj->bhwi", view, at)
    flow = torch.stack([source[..., 1], source[..., 0]], -1) / (size - 1) * 2 - 1
    fill = torch.empty(len(x), 3, 1, 1, device=x.device).uniform_(40, 215)
    return F.grid_sample(x - fill, flow, mode="bilinear", padding_mode="zeros", align_corners=True) + fill


def _warped_ids(ids: Tensor, view: Tensor, size: int) -> Tensor:
    """(B, 2, S / 4, S / 4): which row is at each cell's middle after the view, 0 outside."""
    at = torch.arange(size // STRIDE, device=ids.device, dtype=torch.float32) * STRIDE + (STRIDE - 1) / 2
    rows, cols = torch.meshgrid(at, at, indexing="ij")
    source = torch.einsum("bij,hwj->bhwi", view, torch.stack([rows, cols, torch.ones_like(rows)], -1))
    flow = torch.stack([source[..., 1], source[..., 0]], -1) / (size - 1) * 2 - 1
    return F.grid_sample(ids.float(), flow, mode="nearest", padding_mode="zeros", align_corners=True).long()


def _mixing(count: int, device: Any) -> Tensor:
    """(B, 3, 3): colours of another lamp or film, grey stays grey; the channels change places in one of six."""
    turned = torch.eye(3, device=device)[torch.rand(count, 3, device=device).argsort(1)]
    turned = torch.where(torch.rand(count, 1, 1, device=device) < 0.2, turned, torch.eye(3, device=device))
    more = torch.empty(count, 3, 3, device=device).normal_(0, 0.06)
    return turned + more - more.mean(2, keepdim=True)


def colour(x: Tensor) -> Tensor:
    """Pictures (B, 3, H, W) 0..255 in another light, by another camera."""
    b, dev = len(x), x.device
    gain = torch.exp(torch.empty(b, 1, 1, 1, device=dev).normal_(0, 0.18)) * torch.exp(
        torch.empty(b, 3, 1, 1, device=dev).normal_(0, 0.07)
    )
    contrast = torch.exp(torch.empty(b, 1, 1, 1, device=dev).normal_(0, 0.15))
    grey = x.mean(1, keepdim=True)
    vivid = torch.empty(b, 1, 1, 1, device=dev).uniform_(0.3, 1.3)
    vivid = torch.where(torch.rand(b, 1, 1, 1, device=dev) < 0.08, torch.zeros_like(vivid), vivid)
    x = (grey + (x - grey) * vivid) * gain
    x = (x - 127) * contrast + 127
    x = torch.einsum("bij,bjhw->bihw", _mixing(b, dev), x)
    x = torch.where(torch.rand(b, 1, 1, 1, device=dev) < 0.15, F.avg_pool2d(x, 3, 1, 1, count_include_pad=False), x)
    x = x + torch.randn_like(x) * torch.empty(b, 1, 1, 1, device=dev).uniform_(0, 7)
    return x.clamp(0, 255)


def through(points: Tensor, inverse: Tensor) -> Tensor:
    """Points (B, N, 2) row, col of the input -> of the output."""
    return torch.einsum("bij,bnj->bni", inverse[:, :, :2], points) + inverse[:, None, :, 2]


def inverted(view: Tensor) -> Tensor:
    linear = torch.linalg.inv(view[:, :, :2])
    return torch.cat([linear, -linear @ view[:, :, 2:]], 2)


def splat(at: Tensor, reach: Tensor, weight: Tensor, side: int) -> Tensor:
    """(B, side, side): the largest Gaussian at each place; at (B, N, 2) in cells, reach (B, N, 2) its deviations."""
    grid = torch.arange(side, device=at.device, dtype=torch.float32)
    row = torch.exp(-0.5 * ((grid - at[..., :1]) / reach[..., :1]) ** 2)  # B N side
    col = torch.exp(-0.5 * ((grid - at[..., 1:]) / reach[..., 1:]) ** 2) * weight[..., None]
    best = torch.zeros(len(at), side, side, device=at.device)
    for start in range(0, at.shape[1], 16):
        part = row[:, start : start + 16, :, None] * col[:, start : start + 16, None, :]
        best = torch.maximum(best, part.amax(1))
    return best


def _segment_map(ends: Tensor, used: Tensor, side: int) -> Tensor:
    """(B, side, side): 1 on the axis segments, falling off with a deviation of 1.2 cells; ends (B, K, 4) in cells."""
    grid = torch.arange(side, device=ends.device, dtype=torch.float32)
    rows, cols = torch.meshgrid(grid, grid, indexing="ij")
    at = torch.stack([rows, cols], -1)[None, None]
    a, b = ends[:, :, None, None, :2], ends[:, :, None, None, 2:]
    t = (((at - a) * (b - a)).sum(-1) / ((b - a) ** 2).sum(-1).clamp(min=1e-3)).clamp(0, 1)[..., None]
    away = ((at - (a + t * (b - a))) ** 2).sum(-1)
    return (torch.exp(-away / (2 * 1.2**2)) * used[:, :, None, None]).amax(1)


def placed(things: Tensor, back: Tensor) -> tuple[Tensor, Tensor]:
    """Middles and sides (B, N, 2) of things (B, N, COLUMNS) in a view, by its inverse `back`."""
    extent = torch.einsum("bij,bnj->bni", back[:, :, :2].abs(), things[..., 2:4])
    return through(things[..., :2], back), extent


def taps(at: Tensor, extent: Tensor, chosen: Tensor, size: int) -> Tensor:
    """(B, 1, S, S): a small Gaussian in each chosen thing (B, N), not quite in its middle."""
    jitter = at + torch.randn_like(at).clamp(-2, 2) * 0.12 * extent
    reach = torch.full_like(at, 6.0)
    return splat(jitter, reach, chosen.float(), size)[:, None]


def _choose(kind: Tensor, fit: Tensor, main: Tensor) -> tuple[Tensor, Tensor]:
    """Which kind is asked for (B,), and which things are tapped (B, N): no tap in half of the samples."""
    b, n = kind.shape
    dev = kind.device
    pick = torch.multinomial(fit.float() + 1e-6, 1)[:, 0]
    rival = kind[torch.arange(b, device=dev), pick]
    use_tap = (torch.rand(b, device=dev) < 0.5) & fit.any(1)
    asked = torch.where(use_tap, rival, main)
    same = fit & (kind == asked[:, None])
    more = torch.rand(b, n, device=dev) < torch.where(torch.rand(b, 1, device=dev) < 0.3, 0.3, 0.0)
    first = F.one_hot(pick, n).bool()
    return asked, (first | (same & more)) & use_tap[:, None] & same


def make(rows: dict[str, Tensor], device: Any) -> dict[str, Tensor]:
    """One batch from its scenes' rows (as in `empty`): image, tap, and every target; heat maps at stride 4."""
    image, things, axis, scene, ids = (
        rows[name].to(device, non_blocking=True) for name in ("image", "things", "axis", "scene", "ids")
    )
    b, size = len(image), image.shape[1]
    side = size // STRIDE
    view = any_view(b, size, device)
    back = inverted(view)
    at, extent = placed(things, back)
    tips = through(things[..., 4:6], back)
    inside = ((at > 2) & (at < size - 3)).all(-1)
    used = (
        (things[..., 11] > 0)
        & inside
        & (things[..., 8] > 0.2)
        & (extent.amax(-1) > 5)
        & (extent.amax(-1) < 0.95 * size)
    )
    aside = things[..., 10] > 0
    fit = used & ~aside
    kind, level = things[..., 6], things[..., 7]
    asked, tapped = _choose(kind, fit, scene[:, 0])
    meant = fit & (kind == asked[:, None])
    cells = (at - (STRIDE - 1) / 2) / STRIDE
    reach = (extent / STRIDE * 0.13).clamp(min=0.8, max=4.0)
    heat = splat(cells, reach, meant.float(), side)
    levels = torch.stack([splat(cells, reach, (fit & (level == i)).float(), side) for i in range(3)], 1)
    limb = used & (things[..., 4] > -5e3)
    tip = splat((tips - 1.5) / STRIDE, torch.full_like(tips, 0.9), (limb & ~aside).float(), side)
    ends = torch.cat([through(axis[..., :2], back), through(axis[..., 2:4], back)], -1)
    spine = _segment_map((ends - 1.5) / STRIDE, axis[..., 4], side)
    larger = extent.amax(-1)
    mean_size = (larger * meant).sum(1) / meant.sum(1).clamp(min=1)
    span = torch.log(mean_size.clamp(min=1) / size / 0.02) / math.log(40) * (SCALE_BINS - 1)
    return {
        "image": colour(warped(image, view)),
        "tap": taps(at, extent, tapped, size),
        "heat": heat,
        "levels": levels,
        "tip": tip,
        "spine": spine,
        "at": cells,
        "extent": extent,
        "used": used,
        "fit": fit,
        "kind": kind,
        "meant": meant,
        "scale": span.round().clamp(0, SCALE_BINS - 1).long(),
        "any": meant.any(1),
        "count": meant.sum(1).clamp(max=25).long(),
        "complete": scene[:, 1] > 0,
        "one_level": scene[:, 2] > 0,
        "tapped": tapped.any(1),
        "ids": _warped_ids(ids, view, size),
        "level": level,
        "seen": used & (things[..., 8] > 0.3) & (scene[:, 4:] > 0) & (level < 2),
    }

"""What the net is trained to lower."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from curator.learning.network.net import COUNT_BINS, SCALE_BINS, SHAPES, split_dense

REACH = 1.5  # half sizes of a thing round its middle, within which its outline is looked for


def focal(logits: Tensor, target: Tensor, weight: Tensor) -> Tensor:
    """Penalty-reduced focal loss of centre heat maps (as in CenterNet, alpha 2, beta 4), per thing."""
    p = torch.sigmoid(logits.float()).clamp(1e-4, 1 - 1e-4)
    peak = target > 0.96
    gain = -((1 - p) ** 2) * torch.log(p) * peak
    loss = -((1 - target) ** 4) * p**2 * torch.log(1 - p) * ~peak
    return ((gain + loss) * weight).sum() / (peak * (weight > 0)).sum().clamp(min=8)


def _sampled(maps: Tensor, at: Tensor, rows: Tensor | None = None) -> Tensor:
    """(B, N, C): the maps (B, C, h, w) at places (B, N, 2) row, col in cells; of the pictures `rows` where named."""
    maps = maps if rows is None else maps[rows]
    side = maps.shape[-1]
    grid = torch.stack([at[..., 1], at[..., 0]], -1) / (side - 1) * 2 - 1
    found = F.grid_sample(maps.float(), grid[:, None], mode="bilinear", align_corners=True)
    return found[:, :, 0].transpose(1, 2)


def outline_loss(outline: Tensor, batch: dict[str, Tensor], most: int = 8) -> Tensor:
    """Cross entropy and overlap of the outlines of up to `most` things a picture, as one would ask for them: from a
    place near the middle, with a size that is not quite right."""
    fit = batch["seen"] & (batch["extent"].amin(-1) > 10)
    weight, pick = torch.topk(fit * torch.rand_like(fit, dtype=torch.float32), min(most, fit.shape[1]), 1)
    known = weight > 0
    if not bool(known.any()):
        return outline.sum() * 0.0
    rows = torch.arange(len(fit), device=fit.device)[:, None].expand_as(pick)[known]
    pick = pick[known]
    at = batch["at"][rows, pick] + torch.randn(len(rows), 2, device=fit.device).clamp(-2, 2) * 0.4
    extent = batch["extent"][rows, pick] * torch.empty(len(rows), 2, device=fit.device).uniform_(0.85, 1.2)
    target = batch["ids"][rows, batch["level"][rows, pick].long().clamp(max=1)] == (pick + 1)[:, None, None]
    logits, near = mixed(outline, rows, at, extent)
    kept = (near.sum((1, 2)) > 0) & ((target & near).sum((1, 2)) > 6)
    logits, near, target = logits[kept], near[kept].float(), target[kept].float()
    if not len(logits):
        return outline.sum() * 0.0
    entropy = F.binary_cross_entropy_with_logits(logits, target, reduction="none")
    p = torch.sigmoid(logits) * near
    shared = 1 - (2 * (p * target).sum((1, 2)) + 1) / (p.sum((1, 2)) + (target * near).sum((1, 2)) + 1)
    return ((entropy * near).sum((1, 2)) / near.sum((1, 2)) + shared).mean()


def mixed(outline: Tensor, rows: Tensor, at: Tensor, extent: Tensor) -> tuple[Tensor, Tensor]:
    """(m, h, w) logits of the outlines at places (m, 2) in cells of pictures `rows` (m,), and where they hold: within
    REACH half sizes; extent (m, 2) in pixels."""
    maps = outline.float()
    mix = _sampled(maps[:, SHAPES:], at[:, None], rows)[:, 0]
    h, w = maps.shape[2:]
    y = (torch.arange(h, device=at.device) - at[:, :1]) / (extent[:, :1] / 8)
    x = (torch.arange(w, device=at.device) - at[:, 1:]) / (extent[:, 1:] / 8)
    y, x = y[:, :, None].expand(-1, h, w), x[:, None].expand(-1, h, w)
    near = (y.abs() < REACH) & (x.abs() < REACH)
    y, x = y.clamp(-REACH, REACH), x.clamp(-REACH, REACH)
    conic = torch.stack([torch.ones_like(y), y, x, y * y, x * x, x * y], 1)
    logits = torch.einsum("mk,mkhw->mhw", mix[:, :SHAPES], maps[rows, :SHAPES])
    return logits + torch.einsum("mk,mkhw->mhw", mix[:, SHAPES:], conic), near


def likeness_loss(embed: Tensor, kind: Tensor, fit: Tensor) -> Tensor:
    """Pairs of one kind near 1 in cosine, pairs of two kinds below 0.2; each photo weighs the same."""
    unit = F.normalize(embed, dim=-1)
    cosine = unit @ unit.transpose(1, 2)
    pair = fit[:, :, None] & fit[:, None, :]
    same = pair & (kind[:, :, None] == kind[:, None, :])
    other = pair & ~same
    pull = (F.relu(0.95 - cosine) * same).sum((1, 2)) / same.sum((1, 2)).clamp(min=1)
    push = (F.relu(cosine - 0.2) * other).sum((1, 2)) / other.sum((1, 2)).clamp(min=1)
    return (pull + push).mean()


def total(dense: Tensor, whole: Tensor, outline: Tensor, batch: dict[str, Tensor]) -> dict[str, Tensor]:
    """Every loss by name, already weighted; their sum is what is minimised."""
    maps = split_dense(dense)
    complete = torch.where(batch["complete"], 1.0, 0.25)[:, None, None]
    near = torch.maximum(batch["heat"], (batch["levels"].amax(1) > 0.3).float())
    # where boxes may be missing, empty places teach less
    trust = torch.maximum(complete, (near > 0.05).float())
    one = batch["one_level"][:, None, None]
    level_trust = torch.stack([trust, trust * ~one, trust * ~one], 1)
    rich = (~batch["one_level"])[:, None, None].float().expand_as(batch["tip"])
    size = torch.log(batch["extent"].clamp(min=2) / 32)
    sizes = _sampled(maps["size"], batch["at"])
    used = batch["used"][..., None]
    sure = (batch["complete"] | batch["tapped"]).float()
    scale = F.cross_entropy(whole[:, :SCALE_BINS].float(), batch["scale"], reduction="none", label_smoothing=0.1)
    count = F.cross_entropy(
        whole[:, SCALE_BINS:].float(), batch["count"].clamp(max=COUNT_BINS - 1), reduction="none", label_smoothing=0.1
    )
    return {
        "main": 1.0 * focal(maps["main"][:, 0], batch["heat"], trust),
        "levels": 0.5 * focal(maps["levels"], batch["levels"], level_trust),
        "tip": 0.2 * focal(maps["tip"][:, 0], batch["tip"], rich),
        "axis": 0.2
        * (
            F.binary_cross_entropy_with_logits(maps["axis"][:, 0].float(), batch["spine"], reduction="none") * rich
        ).mean()
        * 8,
        "size": 0.4
        * (F.smooth_l1_loss(sizes, size, reduction="none", beta=0.1) * used).sum()
        / used.sum().clamp(min=1)
        / 2,
        "embed": 0.5 * likeness_loss(_sampled(maps["embed"], batch["at"]), batch["kind"], batch["fit"]),
        "outline": 0.15 * outline_loss(outline, batch),
        "scale": 0.08 * (scale * batch["any"] * sure).mean(),
        "count": 0.08 * (count * sure).mean(),
    }

"""What the net is trained to lower."""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from curator.learning.network.net import COUNT_BINS, SCALE_BINS, split_dense


def focal(logits: Tensor, target: Tensor, weight: Tensor) -> Tensor:
    """Penalty-reduced focal loss of centre heat maps (as in CenterNet, alpha 2, beta 4), per thing."""
    p = torch.sigmoid(logits.float()).clamp(1e-4, 1 - 1e-4)
    peak = target > 0.96
    gain = -((1 - p) ** 2) * torch.log(p) * peak
    loss = -((1 - target) ** 4) * p**2 * torch.log(1 - p) * ~peak
    return ((gain + loss) * weight).sum() / (peak * (weight > 0)).sum().clamp(min=8)


def _sampled(maps: Tensor, at: Tensor) -> Tensor:
    """(B, N, C): the maps (B, C, h, w) at places (B, N, 2) row, col in cells."""
    side = maps.shape[-1]
    grid = torch.stack([at[..., 1], at[..., 0]], -1) / (side - 1) * 2 - 1
    found = F.grid_sample(maps.float(), grid[:, None], mode="bilinear", align_corners=True)
    return found[:, :, 0].transpose(1, 2)


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


def total(dense: Tensor, whole: Tensor, batch: dict[str, Tensor]) -> dict[str, Tensor]:
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
        "scale": 0.08 * (scale * batch["any"] * sure).mean(),
        "count": 0.08 * (count * sure).mean(),
    }

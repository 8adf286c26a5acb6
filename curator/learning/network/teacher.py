"""What a net that is good already says of the same pictures, as something to learn: distillation (Hinton et al. 2015,
Distilling the Knowledge in a Neural Network). A cheaper net learns its maps so, without labels or beside them.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from curator.learning.network.net import SCALE_BINS, SHAPES, split_dense

HEATS = ("main", "levels", "tip", "axis")
NEAR = 0.1  # from that heat on a place is one where sizes, likeness and outlines are asked for
Answers = tuple[Tensor, Tensor, Tensor]  # dense, whole, outline: as of `net.Finder`


def opened(paths: Sequence[Path], device: Any) -> Callable[[Tensor, Tensor], Answers]:
    """The teacher of one or more TorchScript files, ready to answer: what they say in the mean. Outlines are the first
    one's, since maps of one net and mixes of another make no outline.
    """
    nets = [torch.jit.load(str(path), map_location=device).float().eval() for path in paths]

    def taught(image: Tensor, tap: Tensor) -> Answers:
        said = [net(image, tap) for net in nets]
        dense, whole = (torch.stack([one[k] for one in said]).mean(0) for k in (0, 1))
        return dense, whole, said[0][2]

    return taught


def written(net: torch.nn.Module, path: Path) -> None:
    """Keep a net as a teacher: its code goes into the file, so that it can teach nets of another build."""
    shown = (torch.zeros(1, 3, 384, 384), torch.zeros(1, 1, 384, 384))
    traced = torch.jit.trace(copy.deepcopy(net).eval(), shown)  # type: ignore[no-untyped-call]
    traced.half().save(str(path))


def _heat_loss(said: Tensor, told: Tensor) -> Tensor:
    """How far two heat maps (B, C, h, w) of logits differ, as entropy beyond the teacher's own, for each thing."""
    heat = torch.sigmoid(told)
    loss = F.binary_cross_entropy_with_logits(said, heat, reduction="none")
    own = F.binary_cross_entropy_with_logits(told, heat, reduction="none")
    return ((loss - own) * (1 + 9 * heat)).sum() / heat.sum().clamp(min=8)


def _spread_loss(said: Tensor, told: Tensor, weight: Tensor) -> Tensor:
    """Smooth distance of maps (B, C, h, w) in deviations of each channel, where `weight` (B, 1, h, w) is."""
    spread = told.std((0, 2, 3), keepdim=True).clamp(min=1e-3)
    far = F.smooth_l1_loss(said / spread, told / spread, reduction="none", beta=0.5)
    return _mean(far.mean(1, keepdim=True), weight)


def _mean(loss: Tensor, weight: Tensor) -> Tensor:
    """The loss at the places of a map (B, 1, h, w), each by its weight; next to no weight in all makes it small."""
    return (loss * weight).sum() / weight.sum().clamp(min=8)


def _share_loss(said: Tensor, told: Tensor) -> Tensor:
    """Divergence of two distributions of logits (B, n)."""
    return F.kl_div(F.log_softmax(said, 1), F.log_softmax(told, 1), reduction="batchmean", log_target=True)


def total(answers: Answers, told: Answers) -> dict[str, Tensor]:
    """Every loss by name, already weighted like those of `losses.total`."""
    said, told_maps = split_dense(answers[0].float()), split_dense(told[0].float())
    heat = torch.sigmoid(torch.cat([told_maps["main"], told_maps["levels"]], 1)).amax(1, keepdim=True)
    near = heat * (heat > NEAR)
    round_it = F.max_pool2d(near, 15, 1, 7) + 0.05
    alike = 1 - F.cosine_similarity(said["embed"], told_maps["embed"], dim=1)[:, None]
    own, theirs = answers[2].float(), told[2].float()
    whole, theirs_whole = answers[1].float(), told[1].float()
    return {
        "like heat": torch.stack([_heat_loss(said[name], told_maps[name]) for name in HEATS]).sum(),
        "like size": _spread_loss(said["size"], told_maps["size"], near),
        "like kind": 2 * _mean(alike, near),
        "like maps": 0.5 * _spread_loss(own[:, :SHAPES], theirs[:, :SHAPES], round_it),
        "like mixes": 0.5 * _spread_loss(own[:, SHAPES:], theirs[:, SHAPES:], near),
        "like whole": 0.3
        * (
            _share_loss(whole[:, :SCALE_BINS], theirs_whole[:, :SCALE_BINS])
            + _share_loss(whole[:, SCALE_BINS:], theirs_whole[:, SCALE_BINS:])
        ),
    }

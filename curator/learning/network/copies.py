"""Pictures seen anew, worse copies of them, and what the two nets are given with them; all on one device.

Rows of things are as `batches.empty` keeps them; b pictures with n rows each.
"""

from __future__ import annotations

from typing import NamedTuple

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor

from curator.learning.network import batches
from curator.learning.network.checker import SIDE

UNMOVED = 0.25  # of the pictures are seen as they are
TAPPED = 0.35  # of the pictures have a tap
SETS = 4  # of each picture, for the checker: all of one kind, and three changed ones
NEW = 0.027  # of the rows of a changed set become marks where nothing is: two or three
EDGE = 10  # pixels from a picture's edge where none of these are


class Seen(NamedTuple):
    """Pictures through a view."""

    image: Tensor  # (b, 3, size, size) 0..255
    at: Tensor  # (b, n, 2) row, col of each thing's middle, pixels
    extent: Tensor  # (b, n, 2) height, width
    fit: Tensor  # (b, n) whether there is a thing, in the picture and large enough


def seen(image: Tensor, things: Tensor, size: int) -> Seen:
    """Pictures (b, S, S, 3) and their things (b, n, COLUMNS), each through a view of its own, `size` pixels a side."""
    side = image.shape[1]
    view = batches.any_view(len(image), side, image.device)
    unmoved = torch.rand(len(image), 1, 1, device=image.device) < UNMOVED
    view = torch.where(unmoved, torch.eye(2, 3, device=image.device), view)
    at, extent = (part * (size / side) for part in batches.placed(things, batches.inverted(view)))
    shown = sized(batches.warped(image, view), size)
    fit = (things[..., 11] > 0) & ((at > 2) & (at < size - 3)).all(-1) & (extent.amax(-1) > 4)
    return Seen(shown.clamp(0, 255), at, extent, fit)


def sized(image: Tensor, size: int) -> Tensor:
    """Square pictures (b, 3, S, S) made `size` pixels a side."""
    if image.shape[-1] == size:
        return image
    return F.interpolate(image, (size, size), mode="bilinear", antialias=True, align_corners=False)


def worse(image: Tensor) -> Tensor:
    """Pictures (b, 3, size, size) as they come from another camera in another light, and sent on: each in none, some or
    all of three ways.
    """
    size = image.shape[-1]
    image = torch.where(_some(image, 0.5), batches.colour(image), image)
    less = int(size * float(torch.empty(1).uniform_(0.6, 1.0)))
    small = F.interpolate(image, (less, less), mode="bilinear", antialias=True)
    image = torch.where(_some(image, 0.4), F.interpolate(small, (size, size), mode="bicubic").clamp(0, 255), image)
    noise = torch.randn_like(image) * torch.empty_like(image[:, :1, :1, :1]).uniform_(0, 5)
    return torch.where(_some(image, 0.5), image + noise, image).clamp(0, 255)


def _some(image: Tensor, share: float) -> Tensor:
    """Which pictures (b, 1, 1, 1): this share of them."""
    return torch.rand_like(image[:, :1, :1, :1]) < share


def taps(view: Seen) -> Tensor:
    """The finder's tap (b, 1, size, size): on one thing in some pictures, on none in the others."""
    pick = torch.multinomial(view.fit.float() + 1e-6, 1)
    asked = (torch.rand(len(pick), 1, device=pick.device) < TAPPED) & view.fit
    one = torch.zeros_like(view.fit).scatter(1, pick, asked.gather(1, pick))
    return batches.taps(view.at, view.extent, one, view.image.shape[-1])


def sets(view: Seen, things: Tensor) -> tuple[Tensor, Tensor]:
    """Sets for the checker (b * SETS, n, 4), a picture's one after the other, row, column, height, width in pixels of
    the view, and how many (b * SETS,) of their first rows count.
    """
    same = _of_a_kind(view, things)
    every = [same, _fewer(same), _fewer(same) | (view.fit & _one_in_two(same)), _fewer(same)]
    made = [_placed(view, same, chosen, NEW if k else 0.0) for k, chosen in enumerate(every)]
    rows, counts = (torch.stack(part, 1).flatten(0, 1) for part in zip(*made, strict=True))
    return rows, counts


def _of_a_kind(view: Seen, things: Tensor) -> Tensor:
    """Which things (b, n) are of the kind and level of one that is picked by chance."""
    kind, level = things[..., 6], things[..., 7]
    pick = torch.multinomial(view.fit.float() + 1e-6, 1)
    return view.fit & (kind == kind.gather(1, pick)) & (level == level.gather(1, pick))


def _one_in_two(chosen: Tensor) -> Tensor:
    """Half of the pictures (b, 1)."""
    return torch.rand(len(chosen), 1, device=chosen.device) < 0.5


def _fewer(chosen: Tensor) -> Tensor:
    """In seven of ten pictures some things left out: one in eight, or two in five."""
    share = torch.where(_one_in_two(chosen), 0.12, 0.4)
    out = torch.rand(chosen.shape, device=chosen.device) < share
    return chosen & ~(out & (torch.rand(len(chosen), 1, device=chosen.device) < 0.7))


def _placed(view: Seen, same: Tensor, chosen: Tensor, new: float) -> tuple[Tensor, Tensor]:
    """The set (b, n, 4) of the chosen things, row, column, height, width, nearly where they are, and how many (b,) of
    its first rows count. At `new` of the other rows there is a mark by chance, as large as the `same` ones are.
    """
    more = (torch.rand(chosen.shape, device=chosen.device) < new) & ~chosen & same.any(1, keepdim=True)
    mean = (view.extent * same[..., None]).sum(1, keepdim=True) / same.sum(1).clamp(min=1)[:, None, None]
    spot = EDGE + torch.rand_like(view.at) * (SIDE - 2 * EDGE)
    at = torch.where(more[..., None], spot, view.at + torch.randn_like(view.at) * 0.05 * view.extent)
    extent = torch.where(more[..., None], mean, view.extent) * torch.exp(0.1 * torch.randn_like(view.at[..., :1]))
    used = chosen | more
    order = torch.argsort(used.float(), dim=1, descending=True, stable=True)[..., None].expand(-1, -1, 4)
    return torch.cat([at, extent], -1).gather(1, order), used.sum(1)

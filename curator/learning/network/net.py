"""The net: an EfficientNet-Lite0 trunk, a feature pyramid to stride 4, and heads for what a person counts.

Fully convolutional, plain ONNX operators, so that one file serves every input size that is a multiple of 32.
"""

from __future__ import annotations

import torch
import torch.nn.functional as F  # noqa: N812
from torch import Tensor, nn

MEAN, DEVIATION = 127.0, 128.0  # what the trunk was trained with
SCALE_BINS = 12  # log-spaced thing sizes, 0.02 to 0.8 of the side
COUNT_BINS = 27  # 0 nothing repeats, 1..24, 25 more; 26 unused
EMBED = 16
DENSE = {"main": 1, "levels": 3, "size": 2, "tip": 1, "axis": 1, "embed": EMBED}
SHAPES = 12  # maps that every outline is mixed from
OUTLINE = SHAPES + SHAPES + 6  # the maps; at each place how much of each, and of 1, y, x, yy, xx, xy round the place
# kernel, stride, expand, out, repeats: the published Lite0 table (squeeze-excite taken out, ReLU6)
STAGES = (
    (3, 1, 1, 16, 1),
    (3, 2, 6, 24, 2),
    (5, 2, 6, 40, 2),
    (3, 2, 6, 80, 3),
    (5, 1, 6, 112, 3),
    (5, 2, 6, 192, 4),
    (3, 1, 6, 320, 1),
)


def _norm(width: int) -> nn.BatchNorm2d:
    return nn.BatchNorm2d(width, eps=1e-3, momentum=0.03)


class Block(nn.Module):
    """Inverted residual; parameter names as in the registry package, so that its weights load as they are."""

    def __init__(self, kernel: int, stride: int, expand: int, into: int, out: int) -> None:
        super().__init__()
        wide = into * expand
        self.expand, self.skip = expand != 1, stride == 1 and into == out
        if self.expand:
            self._expand_conv, self._bn0 = nn.Conv2d(into, wide, 1, bias=False), _norm(wide)
        self._depthwise_conv = nn.Conv2d(wide, wide, kernel, stride, kernel // 2, groups=wide, bias=False)
        self._bn1 = _norm(wide)
        self._project_conv, self._bn2 = nn.Conv2d(wide, out, 1, bias=False), _norm(out)

    def forward(self, x: Tensor) -> Tensor:
        y = F.relu6(self._bn0(self._expand_conv(x))) if self.expand else x
        y = F.relu6(self._bn1(self._depthwise_conv(y)))
        y = self._bn2(self._project_conv(y))
        return x + y if self.skip else y


class Trunk(nn.Module):
    """Features at strides 4, 8, 16 and 32 (24, 40, 112 and 320 channels)."""

    def __init__(self) -> None:
        super().__init__()
        self._conv_stem, self._bn0 = nn.Conv2d(3, 32, 3, 2, 1, bias=False), _norm(32)
        blocks, into = [], 32
        for kernel, stride, expand, out, repeats in STAGES:
            for i in range(repeats):
                blocks.append(Block(kernel, stride if i == 0 else 1, expand, into, out))
                into = out
        self._blocks = nn.ModuleList(blocks)

    def forward(self, x: Tensor, tapped: Tensor) -> list[Tensor]:
        return self.after(F.relu6(self._bn0(self._conv_stem(x)) + tapped))

    def after(self, x: Tensor) -> list[Tensor]:
        """The features, of what the stem makes."""
        kept = []
        for i, block in enumerate(self._blocks):
            x = block(x)
            if i in (2, 4, 10, 15):
                kept.append(x)
        return kept


def conv(into: int, out: int, kernel: int = 3) -> nn.Sequential:
    return nn.Sequential(nn.Conv2d(into, out, kernel, 1, kernel // 2, bias=False), _norm(out), nn.ReLU(inplace=True))


class Wide(nn.Module):
    """A large depthwise kernel and a global mean: every place hears of all the others."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.spread = nn.Conv2d(width, width, 9, 1, 4, groups=width, bias=False)
        self.norm, self.mix, self.whole = _norm(width), nn.Conv2d(width, width, 1), nn.Conv2d(width, width, 1)

    def forward(self, x: Tensor) -> Tensor:
        near = F.relu(self.mix(self.norm(self.spread(x))))
        # a product, not a sum: the mean weighs what is near, and the shipped weights were trained so
        return x + near * torch.sigmoid(self.whole(x.mean((2, 3), keepdim=True)))


class Alike(nn.Module):
    """Compares every place with the tapped places: their mean feature times all features, channel by channel.

    A mean over the taps, not over the picture, says the same however large the picture is and however many the taps
    are.
    """

    def __init__(self, width: int, deep: int, strength: float) -> None:
        super().__init__()
        self.strength = strength
        self.copy, self.key, self.out = (
            nn.Conv2d(1, deep, 1, bias=False),
            nn.Conv2d(width, deep, 1),
            nn.Conv2d(deep, width, 1),
        )
        nn.init.ones_(self.copy.weight)
        self.copy.weight.requires_grad_(False)

    def forward(self, x: Tensor, tap: Tensor) -> Tensor:
        key = self.key(x)
        many = self.copy(tap)  # one channel copied into all by ones that are not trained, as the shipped file has it
        mean = (key * many).mean((2, 3), keepdim=True) / (many.mean((2, 3), keepdim=True) + 1e-6) * self.strength
        return x + self.out(key * mean)


class Finder(nn.Module):
    """image (B, 3, H, W) RGB 0..255 and tap (B, 1, H, W) 0..1 -> dense maps at stride 4, scale and count logits, and
    what outlines are mixed from at stride 4.

    Outlines after CondInst (Tian et al. 2020) and YOLACT (Bolya et al. 2019), with one linear layer and a conic.
    """

    def __init__(self, width: int = 128, fine: int = 64) -> None:
        super().__init__()
        self.trunk = Trunk()
        self.tap_stem = nn.Conv2d(1, 32, 3, 2, 1, bias=False)
        nn.init.zeros_(self.tap_stem.weight)
        self.from32, self.from16, self.from8, self.from4 = (
            nn.Conv2d(c, w, 1) for c, w in ((320, width), (112, width), (40, width), (24, fine))
        )
        self.wide32, self.wide16 = nn.Sequential(Wide(width), Wide(width)), Wide(width)
        self.alike16, self.alike8 = Alike(width, 64, 0.1), Alike(width, 64, 0.05)
        self.join16, self.join8 = conv(width, width), conv(width, width)
        self.down = nn.Conv2d(width, fine, 1)
        self.join4, self.head = conv(fine, fine), nn.Sequential(conv(fine, fine), conv(fine, fine))
        self.dense = nn.Conv2d(fine, sum(DENSE.values()), 1)
        self.shapes, self.mixes = nn.Conv2d(fine, SHAPES, 1), nn.Conv2d(fine, OUTLINE, 1)
        self.globe = nn.Sequential(nn.Conv2d(width, 128, 1), nn.ReLU(), nn.Conv2d(128, SCALE_BINS + COUNT_BINS, 1))
        with torch.no_grad():
            self.dense.bias[: 1 + 3] = -3.0  # type: ignore[index]
            self.dense.bias[6:8] = -4.0  # type: ignore[index]

    def forward(self, image: Tensor, tap: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        return self.answer(self.trunk((image - MEAN) / DEVIATION, self.tap_stem(tap)), tap)

    def answer(self, features: list[Tensor], tap: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        """What it answers, of the trunk's features."""
        f4, f8, f16, f32 = features
        tap8 = F.max_pool2d(tap, 8, 8)
        tap16 = F.max_pool2d(tap8, 2, 2)
        top = self.wide32(self.from32(f32))
        mid = self.from16(f16) + F.interpolate(top, scale_factor=2.0, mode="nearest")
        mid = self.wide16(self.join16(self.alike16(mid, tap16)))
        low = self.from8(f8) + F.interpolate(mid, scale_factor=2.0, mode="nearest")
        low = self.join8(self.alike8(low, tap8))
        fine = self.from4(f4) + F.interpolate(self.down(low), scale_factor=2.0, mode="bilinear", align_corners=False)
        near = self.join4(fine)
        last = self.head(near)
        maps, rest = torch.split(self.mixes(last), [SHAPES, OUTLINE - SHAPES], 1)
        whole = self.globe(mid).mean((2, 3))
        return self.dense(last), whole, torch.cat([maps + self.shapes(near), rest], 1)


def planes(image: Tensor, tap: Tensor) -> Tensor:
    """What the finder's file is given (B, 4, H, W) of pictures 0..255 and taps: all grey is nought."""
    return torch.cat([image - MEAN, tap], 1)


def split_dense(dense: Tensor) -> dict[str, Tensor]:
    """The dense maps by name (DENSE)."""
    return dict(zip(DENSE, torch.split(dense, list(DENSE.values()), 1), strict=True))


def freeze_trunk(net: Finder) -> None:
    """Leave the trunk as it is: features of natural images carry over to photos better than features tuned on drawn
    scenes.

    After Hinterstoisser et al. 2017 (On Pre-Trained Image Features and Synthetic Images). The tap then works through
    `Alike` alone.
    """
    for part in (net.trunk, net.tap_stem):
        part.eval()
        for value in part.parameters():
            value.requires_grad_(False)


def fitting(net: nn.Module, state: dict[str, Tensor]) -> dict[str, Tensor]:
    """Of these weights those that the net has in the same shape."""
    own = net.state_dict()
    return {name: value for name, value in state.items() if name in own and own[name].shape == value.shape}


def load_trunk(net: Finder, state: dict[str, Tensor]) -> int:
    """ImageNet weights into the trunk, and no tap in its stem; how many tensors were taken."""
    nn.init.zeros_(net.tap_stem.weight)
    taken = fitting(net.trunk, state)
    net.trunk.load_state_dict(taken, strict=False)
    return len(taken)


Pairs = list[tuple[nn.Conv2d, nn.BatchNorm2d]]


def folded_trunk(trunk: Trunk) -> Pairs:
    """Each convolution of the trunk, and the norm that follows it, in the order in which they run."""
    pairs = [(trunk._conv_stem, trunk._bn0)]
    for block in trunk._blocks:
        if block.expand:
            pairs.append((block._expand_conv, block._bn0))
        pairs += [(block._depthwise_conv, block._bn1), (block._project_conv, block._bn2)]
    return pairs


def folded(net: Finder) -> Pairs:
    """Each convolution that a norm follows at once, in the order in which they run: an export makes one of the two."""
    pairs = folded_trunk(net.trunk)
    pairs += [(wide.spread, wide.norm) for wide in net.wide32]
    pairs += [(net.join16[0], net.join16[1]), (net.wide16.spread, net.wide16.norm)]
    return [*pairs, *((part[0], part[1]) for part in (net.join8, net.join4, net.head[0], net.head[1]))]


@torch.no_grad()
def fold(pairs: Pairs) -> None:
    """Put each norm into the convolution before it, and leave a norm that changes nothing but adds what is added:
    the answers stay what they were, and means of several nets' weights are means of what they do.
    """
    for convolution, norm in pairs:
        steep = slope(norm)
        convolution.weight *= steep[:, None, None, None]
        norm.bias -= steep * norm.running_mean  # type: ignore[operator]
        plain(norm)


def slope(norm: nn.BatchNorm2d) -> Tensor:
    """(channels,) by what a norm that has settled multiplies."""
    steep: Tensor = norm.weight / torch.sqrt(norm.running_var + norm.eps)  # type: ignore[operator]
    return steep


@torch.no_grad()
def plain(norm: nn.BatchNorm2d) -> None:
    """Let a norm only add its bias."""
    norm.running_mean.zero_()  # type: ignore[union-attr]
    norm.running_var.fill_(1.0)  # type: ignore[union-attr]
    norm.weight.fill_((1.0 + norm.eps) ** 0.5)

"""Surfaces, grounds and what a camera does to a picture; float32 RGB 0..255 until the camera."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import replace as replace

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning import material

Rng = np.random.Generator
Picture = NDArray[np.float32]
GRAIN = 128  # side of a look's grain tile


def noise(rng: Rng, shape: tuple[int, int], *, rough: float = 0.5) -> Picture:
    """Smooth noise of several octaves, about -1 to 1."""
    total = np.zeros(shape, np.float32)
    gain = 1.0
    for cells in (3, 7, 17, 41):
        grid = rng.standard_normal((cells, cells), dtype=np.float32)
        total += gain * cv2.resize(grid, shape[::-1], interpolation=cv2.INTER_LINEAR if cells > 20 else cv2.INTER_CUBIC)
        gain *= rough
    return total / (max(float(total.max()), -float(total.min())) + 1e-6)


def colour(rng: Rng) -> Picture:
    """A random colour; greys and browns are common, as in rooms."""
    kind = rng.random()
    if kind < 0.22:
        h, s, v = rng.integers(0, 180), rng.uniform(0, 0.12), rng.beta(1.3, 1.1)  # greys, white and black
    elif kind < 0.4:
        h, s, v = rng.integers(6, 24), rng.uniform(0.25, 0.8), rng.uniform(0.2, 0.95)  # browns and skins
    else:
        h, s, v = rng.integers(0, 180), rng.beta(2.2, 1.5), rng.beta(3, 1.3)
    return hsv(float(h), float(s), float(v))


def hsv(hue: float, saturation: float, value: float) -> Picture:
    """One RGB colour; hue in 0..180, the others in 0..1."""
    one = np.array([[[int(hue) % 180, int(255 * saturation), int(255 * value)]]], np.uint8)
    return np.asarray(cv2.cvtColor(one, cv2.COLOR_HSV2RGB)[0, 0], np.float32)


def muted(rng: Rng) -> Picture:
    """A colour as walls, tables, floors and cloths have it; a vivid one now and then."""
    if rng.random() < 0.2:
        return colour(rng)
    return hsv(float(rng.choice([rng.integers(5, 30), rng.integers(0, 180)])), rng.beta(1.2, 4.0), rng.beta(2.2, 1.2))


def unlike(rng: Rng, other: Picture, least: float = 70.0) -> Picture:
    """A colour that can be told from the other one."""
    found = colour(rng)
    for _ in range(8):
        if np.abs(found - other).max() > least:
            break
        found = colour(rng)
    return found


@dataclass(frozen=True)
class Look:
    """How a surface is shaded. `bevel` is the share of the way to the middle that is rounded, `bulge` how strongly."""

    tone: Picture
    bulge: float = 0.6
    bevel: float = 1.0
    gloss: float = 0.0
    rim: float = 0.0
    grain: Picture | None = None
    pattern: int = 0  # 0 none, 1 stripes, 2 dots, 3 inner plate, 4 two halves, 5 cross stripes
    second: Picture | None = None
    pitch: float = 5.0
    slant: float = 0.0
    outline: float = 0.0  # width in pixels of a drawn outline, clip-art only
    flat: bool = False


def grain(rng: Rng) -> Picture | None:
    """A square tile about 0, to be multiplied in; from a real texture where there is material."""
    kind = rng.random()
    if kind < 0.3:
        return None
    packed = material.pack()
    if packed is not None and kind < 0.65:
        choices = packed.indices("texture")
        texture = packed.picture(choices[int(rng.integers(len(choices)))]).astype(np.float32).mean(axis=2)
        top, left = rng.integers(0, max(1, texture.shape[0] - GRAIN)), rng.integers(0, max(1, texture.shape[1] - GRAIN))
        tile = texture[top : top + GRAIN, left : left + GRAIN]
        tile = cv2.resize(tile, (GRAIN, GRAIN)) if tile.shape != (GRAIN, GRAIN) else tile
        return np.asarray(((tile - tile.mean()) / 110 * rng.uniform(0.4, 1.2)).clip(-0.5, 0.5), np.float32)
    if kind < 0.85:
        return noise(rng, (GRAIN, GRAIN), rough=float(rng.uniform(0.4, 0.95))) * np.float32(rng.uniform(0.05, 0.3))
    speck = cv2.GaussianBlur(
        rng.standard_normal((GRAIN, GRAIN), dtype=np.float32), (0, 0), float(rng.uniform(0.5, 1.6))
    )
    return np.asarray(speck * rng.uniform(0.05, 0.25), np.float32)


def look(rng: Rng, *, tone: Picture | None = None, plain: bool = False) -> Look:
    """A random surface."""
    base = colour(rng) if tone is None else tone
    pattern = 0 if plain or rng.random() < 0.68 else int(rng.integers(1, 6))
    return Look(
        tone=base,
        bulge=float(rng.uniform(0.05, 1.0)),
        bevel=float(rng.choice([0.15, 0.35, 1.0])),
        gloss=float(rng.uniform(0, 0.9) * (rng.random() < 0.5)),
        rim=float(rng.uniform(0.05, 0.2) * (rng.random() < 0.25)),
        grain=grain(rng),
        pattern=pattern,
        second=unlike(rng, base) if pattern else None,
        pitch=float(rng.uniform(3, 9)),
        slant=float(rng.uniform(0, 3.1)),
    )


def jittered(rng: Rng, style: Look, amount: float = 1.0) -> Look:
    """The look of another thing of the same kind: wear, light and tint of its own."""
    tone = style.tone * (1 + rng.normal(0, 0.05 * amount)) * (1 + rng.normal(0, 0.02 * amount, 3)).astype(np.float32)
    return replace(style, tone=tone.astype(np.float32), slant=style.slant + float(rng.normal(0, 0.15 * amount)))


def _pattern(style: Look, shape: tuple[int, int], depth: Picture) -> Picture | None:
    """A 0/1 map of where the second colour lies."""
    if not style.pattern or style.second is None:
        return None
    if style.pattern == 3:
        return np.asarray(depth > 0.45, np.float32)
    rows = np.linspace(-1, 1, shape[0], dtype=np.float32)[:, None]
    cols = np.linspace(-1, 1, shape[1], dtype=np.float32)[None, :]
    along = rows * np.cos(style.slant) + cols * np.sin(style.slant)
    if style.pattern == 4:
        return np.asarray(along > 0, np.float32)
    across = -rows * np.sin(style.slant) + cols * np.cos(style.slant)
    first, other = np.sin(along * style.pitch * 2), np.sin(across * style.pitch * 2)
    if style.pattern == 1:
        return np.asarray(np.clip(first * 3 + 0.5, 0, 1), np.float32)
    return np.asarray(first * other > 0.45 if style.pattern == 2 else np.maximum(first, other) > 0.75, np.float32)


def _lit(depth: Picture, reach: float, style: Look, light: float) -> tuple[Picture, Picture]:
    """Diffuse factor and highlight (0..1) of a surface that rises from its edge inward."""
    rounded = max(1.0, style.bevel * reach)
    t = np.minimum(depth / rounded, 1)
    height = np.sqrt(np.clip(1 - (1 - t) ** 2, 0, 1)) * (rounded * style.bulge)
    height = cv2.blur(height, (5, 5) if reach > 10 else (3, 3))
    slope_r, slope_c = (
        cv2.Sobel(height, cv2.CV_32F, 0, 1, scale=0.125),
        cv2.Sobel(height, cv2.CV_32F, 1, 0, scale=0.125),
    )
    length = 1 / np.sqrt(1 + slope_r**2 + slope_c**2)
    toward = (-(slope_r * np.sin(light) + slope_c * np.cos(light)) * 0.62 + 0.78) * length
    diffuse = 0.38 + 0.75 * np.clip(toward, 0, None)
    return diffuse, np.clip(toward, 0, 1) ** 24


def shade(rng: Rng, alpha: NDArray[np.uint8], style: Look, light: float) -> Picture:
    """Colours (h, w, 3) of the shape whose coverage is alpha (0..255), lit from `light` radians."""
    height, width = alpha.shape
    if style.flat or max(height, width) < 5:
        return np.broadcast_to(style.tone, (height, width, 3))
    depth = cv2.distanceTransform((alpha > 90).astype(np.uint8), cv2.DIST_L2, 3)
    reach = float(depth.max()) + 1e-3
    surface = np.empty((height, width, 3), np.float32)
    surface[:] = style.tone
    second = _pattern(style, (height, width), depth / reach)
    if second is not None and style.second is not None:
        surface += second[..., None] * (style.second - style.tone)
    diffuse, shine = _lit(depth, reach, style, light)
    if style.grain is not None:
        top, left = rng.integers(0, GRAIN, 2)
        tile = np.take(
            np.take(style.grain, np.arange(top, top + height) % GRAIN, 0), np.arange(left, left + width) % GRAIN, 1
        )
        diffuse = diffuse * (1 + tile)
    if style.rim:
        diffuse = np.where(depth < max(1.2, style.rim * reach), diffuse * 0.55, diffuse)
    surface *= diffuse[..., None]
    if style.gloss:
        surface += (shine * (style.gloss * 190))[..., None]
    return surface


def _drawn_ground(rng: Rng, size: int) -> Picture:
    base = np.empty((size, size, 3), np.float32)
    base[:] = muted(rng)
    kind = rng.integers(0, 5)
    if kind >= 1:
        base += (noise(rng, (size, size), rough=float(rng.uniform(0.3, 0.95))) * np.float32(rng.uniform(4, 40)))[
            ..., None
        ]
    if kind == 2:  # grain of wood
        lines = cv2.resize(
            rng.standard_normal((size, 6), dtype=np.float32), (size, size), interpolation=cv2.INTER_CUBIC
        )
        lines = cv2.GaussianBlur(lines, (0, 0), sigmaX=2.0, sigmaY=float(rng.uniform(0.6, 2.5)))
        base += (lines if rng.random() < 0.5 else lines.T)[..., None] * np.float32(rng.uniform(10, 50))
    if kind == 3:  # tiles or ruled paper
        step, tone = int(rng.integers(size // 16, size // 3)), muted(rng)
        base[int(rng.integers(0, step)) :: step] = tone
        if rng.random() < 0.7:
            base[:, int(rng.integers(0, step)) :: step] = tone
    if kind == 4:
        base += (noise(rng, (size, size)) > rng.uniform(0, 0.5))[..., None] * (muted(rng) - 128) * 0.4
    return base


def _packed_ground(rng: Rng, size: int) -> Picture | None:
    packed = material.pack()
    if packed is None or rng.random() < 0.2:
        return None
    choices = packed.indices("ground" if rng.random() < 0.6 else "texture")
    if not choices:
        return None
    picture = packed.picture(choices[int(rng.integers(len(choices)))])
    side = int(min(picture.shape[:2]) * rng.uniform(0.45, 1.0))
    top, left = rng.integers(0, picture.shape[0] - side + 1), rng.integers(0, picture.shape[1] - side + 1)
    crop = np.rot90(picture[top : top + side, left : left + side], int(rng.integers(0, 4)))
    ground = cv2.resize(np.ascontiguousarray(crop), (size, size), interpolation=cv2.INTER_CUBIC).astype(np.float32)
    if rng.random() < 0.4:
        ground = ground * (1 + rng.normal(0, 0.09, 3) + rng.normal(0, 0.15)).astype(np.float32) + np.float32(
            rng.normal(0, 12)
        )
    return np.asarray(ground, np.float32)


def ground(rng: Rng, size: int) -> Picture:
    """A background: a piece of a real one, a texture, a drawn surface, or two of them that meet at an edge."""
    first = _packed_ground(rng, size)
    base = _drawn_ground(rng, size) if first is None else first
    if rng.random() < 0.16:  # a table's edge
        other = _packed_ground(rng, size)
        other = _drawn_ground(rng, size) if other is None else other
        lean = np.linspace(0, 1, size, dtype=np.float32)
        edge = lean[:, None] + rng.normal(0, 0.2) * (lean[None, :] - 0.5) - rng.uniform(0.1, 0.9)
        base = np.where((edge if rng.random() < 0.6 else edge.T)[..., None] > 0, other, base).astype(np.float32)
    slope = np.linspace(-1, 1, size, dtype=np.float32)
    gain = 1 + np.float32(rng.uniform(-0.3, 0.3)) * slope[:, None] + np.float32(rng.uniform(-0.3, 0.3)) * slope[None, :]
    return np.ascontiguousarray(base * gain[..., None], np.float32)


def paper(rng: Rng, size: int) -> Picture:
    """The ground of a drawing: white or one plain colour."""
    tone = (
        np.full(3, 255, np.float32)
        if rng.random() < 0.6
        else hsv(rng.integers(0, 180), rng.uniform(0, 0.4), rng.uniform(0.7, 1))
    )
    base = np.empty((size, size, 3), np.float32)
    base[:] = tone
    return base


def _light(rng: Rng, picture: Picture) -> Picture:
    """Fall-off, a glare and a broad shadow over the whole picture."""
    size = picture.shape[0]
    axis = np.linspace(-1, 1, size, dtype=np.float32)
    rows, cols = axis[:, None], axis[None, :]
    gain = (
        1
        - np.float32(rng.uniform(0, 0.3)) * (rows**2 + cols**2)
        + np.float32(rng.normal(0, 0.12)) * rows
        + np.float32(rng.normal(0, 0.12)) * cols
    )
    if rng.random() < 0.28:
        angle = rng.uniform(0, 6.28)
        edge = rows * np.float32(np.sin(angle)) + cols * np.float32(np.cos(angle)) - np.float32(rng.uniform(-0.6, 0.6))
        gain = gain * (
            1 - np.float32(rng.uniform(0.15, 0.5)) * np.clip(0.5 + edge / np.float32(rng.uniform(0.02, 0.3)), 0, 1)
        )
    picture = picture * gain[..., None]
    if rng.random() < 0.12:
        at, wide = rng.uniform(-0.8, 0.8, 2).astype(np.float32), np.float32(rng.uniform(0.01, 0.08))
        glow = np.exp(-((rows - at[0]) ** 2) / wide) * np.exp(-((cols - at[1]) ** 2) / wide)
        picture += (glow * np.float32(rng.uniform(40, 150)))[..., None]
    return picture


def _focus(rng: Rng, picture: Picture) -> Picture:
    kind = rng.random()
    if kind < 0.35:
        return np.asarray(cv2.GaussianBlur(picture, (0, 0), float(rng.uniform(0.4, 1.4))), np.float32)
    if kind < 0.43:  # a moving hand
        length = int(rng.integers(3, 8))
        kernel = np.zeros((length, length), np.float32)
        cv2.line(kernel, (0, int(rng.integers(0, length))), (length - 1, int(rng.integers(0, length))), 1.0)
        return np.asarray(cv2.filter2D(picture, -1, kernel / kernel.sum()), np.float32)
    if kind < 0.52:  # sharpened in the telephone
        sharp = np.clip(picture, 0, 255) * 1.6 - cv2.GaussianBlur(np.clip(picture, 0, 255), (0, 0), 1.5) * 0.6
        return np.asarray(sharp, np.float32)
    return picture


def _tone_curve(rng: Rng) -> NDArray[np.uint8]:
    """(1, 256, 3) lookup of white balance, contrast and gamma."""
    level = (
        np.linspace(0, 1, 256)[:, None]
        * np.exp(rng.normal(0, 0.07, 3))
        * np.exp(np.clip(rng.normal(0, 0.12), -0.25, 0.15))
    )
    contrast = np.exp(np.clip(rng.normal(0, 0.13), -0.3, 0.25))
    curved = np.clip((level - 0.5) * contrast + 0.5, 0, 1) ** np.exp(rng.normal(0, 0.22))
    return np.asarray(curved * 255).astype(np.uint8)[None]


def _jpeg(picture: NDArray[np.uint8], quality: int) -> NDArray[np.uint8]:
    _, data = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    found = cv2.imdecode(data, cv2.IMREAD_COLOR)
    return picture if found is None else np.ascontiguousarray(found[..., ::-1], np.uint8)


def camera(rng: Rng, picture: Picture) -> NDArray[np.uint8]:
    """Light, focus, sensor noise, tone and JPEG."""
    size = picture.shape[0]
    picture = _focus(rng, _light(rng, picture))
    speckle = rng.standard_normal((size, size), dtype=np.float32) * np.float32(rng.gamma(1.5, 2.2))
    tinted = (rng.uniform(0.5, 1.2, 3) * rng.choice([-1, 1], 3, p=[0.15, 0.85])).astype(np.float32)
    picture = picture + speckle[..., None] * tinted
    out = cv2.LUT(np.clip(picture, 0, 255).astype(np.uint8), _tone_curve(rng))
    if rng.random() < 0.05:
        out = np.repeat(cv2.cvtColor(out, cv2.COLOR_RGB2GRAY)[..., None], 3, 2)
    if rng.random() < 0.2:  # small picture enlarged
        small = int(size * rng.uniform(0.4, 0.9))
        out = cv2.resize(
            cv2.resize(out, (small, small), interpolation=cv2.INTER_AREA), (size, size), interpolation=cv2.INTER_LINEAR
        )
    return _jpeg(out, int(rng.integers(30, 95))) if rng.random() < 0.6 else out


def camera_light(rng: Rng, picture: Picture) -> NDArray[np.uint8]:
    """A drawing: little noise, sometimes a photo of the paper, often JPEG."""
    if rng.random() < 0.4:
        return camera(rng, picture)
    out = np.clip(picture, 0, 255).astype(np.uint8)
    return _jpeg(out, int(rng.integers(50, 98)))

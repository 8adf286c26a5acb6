"""What solids are made of: geoms, meshes, finishes, and the record of a shape with its parts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning import paint

Rng = np.random.Generator
Point = tuple[float, float, float]
Tone = tuple[float, float, float]
Mesh = tuple[NDArray[np.float64], NDArray[np.int64]]  # (v, 3) vertices, (f, 3) faces, counter-clockwise from outside


class Skin(NamedTuple):
    """A mesh with its own normals, and where on a texture each vertex lies."""

    vertices: NDArray[np.float64]  # (v, 3)
    faces: NDArray[np.int64]  # (f, 3)
    normals: NDArray[np.float64]  # (v, 3)
    spots: NDArray[np.float64] | None = None  # (v, 2) in repeats of the texture


@dataclass(frozen=True)
class Geom:
    """One primitive or mesh in the frame of its shape; angles in degrees about x, y, z."""

    sort: str
    size: tuple[float, ...]
    at: Point
    angles: Point
    tone: Tone
    finish: str
    mesh: str
    part: int
    solid: bool
    unseen: bool = False  # there for contact alone


@dataclass(frozen=True)
class Part:
    """Something of a shape that could be counted by itself."""

    kind: str
    at: Point
    side: int = 0
    aside: bool = False
    tip: Point | None = None


@dataclass
class Shape:
    """A thing standing on z = 0 round the z axis; `reach` is half its width, half its depth, and its height."""

    kind: str
    geoms: list[Geom]
    reach: Point
    parts: list[Part] = field(default_factory=list)
    axis: tuple[Point, Point] | None = None
    aside: bool = False


def lathe(profile: list[tuple[float, float]], steps: int = 28) -> Mesh:
    """A surface turned round z from (radius, height) pairs, from the bottom up the outside (and down the inside)."""
    turn = np.linspace(0, 2 * np.pi, steps, endpoint=False)
    r, z = np.array(profile).T
    rings = np.stack([np.outer(r, np.cos(turn)), np.outer(r, np.sin(turn)), np.repeat(z[:, None], steps, 1)], -1)
    return rings.reshape(-1, 3), _quads(len(profile), steps)


def _quads(rows: int, steps: int) -> NDArray[np.int64]:
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(steps), indexing="ij")
    a, b = i * steps + j, i * steps + (j + 1) % steps
    c, d = a + steps, b + steps
    return np.concatenate([np.stack([a, b, d], -1).reshape(-1, 3), np.stack([a, d, c], -1).reshape(-1, 3)])


def superquadric(half: Point, upright: float, around: float) -> Mesh:
    """A box-like (small exponents) to pointed (large exponents) closed surface round the origin."""
    lift, turn = np.linspace(-np.pi / 2, np.pi / 2, 15), np.linspace(0, 2 * np.pi, 28, endpoint=False)
    power = lambda v, e: np.sign(v) * np.abs(v) ** e  # noqa: E731
    c, s = power(np.cos(lift), upright), power(np.sin(lift), upright)
    x = half[0] * np.outer(c, power(np.cos(turn), around))
    y = half[1] * np.outer(c, power(np.sin(turn), around))
    z = half[2] * np.repeat(s[:, None], len(turn), 1)
    return np.stack([x, y, z], -1).reshape(-1, 3), _quads(len(lift), len(turn))


def tone_of(rng: Rng) -> Tone:
    r, g, b = (paint.colour(rng).reshape(-1)[:3] / 255).tolist()
    return (float(r), float(g), float(b))


def shaded(tone: Tone, share: float) -> Tone:
    """The tone made lighter or darker."""
    return (min(1.0, tone[0] * share), min(1.0, tone[1] * share), min(1.0, tone[2] * share))


def unlike_tone(rng: Rng, other: Tone, least: float = 0.35) -> Tone:
    """A tone that can be told from the other."""
    for _ in range(30):
        found = tone_of(rng)
        if np.abs(np.subtract(found, other)).sum() > 2 * least:
            return found
    return (0.95, 0.95, 0.93) if sum(other) < 1.5 else (0.08, 0.08, 0.1)


def png(picture: NDArray[np.float32]) -> bytes:
    """RGB 0..255 as a PNG."""
    done, data = cv2.imencode(".png", picture.clip(0, 255).astype(np.uint8)[..., ::-1])
    if not done:
        raise ValueError("the texture could not be written as PNG")
    return bytes(data.tobytes())


def _pattern(rng: Rng) -> NDArray[np.float32]:
    """Stripes, checks or dots of another tone on white, to be multiplied by a tone."""
    rows, cols = np.mgrid[0:96, 0:96].astype(np.float32)
    step, lean = float(rng.uniform(9, 26)), float(rng.uniform(0, 3.1))
    along, across = (
        np.sin(2 * np.pi * (rows * np.cos(lean) + cols * np.sin(lean)) / step),
        np.sin(2 * np.pi * (cols * np.cos(lean) - rows * np.sin(lean)) / step),
    )
    kind = rng.integers(0, 4)
    marked = along > rng.uniform(-0.5, 0.7) if kind < 2 else along * across > 0 if kind == 2 else along * across > 0.45
    tone = 255 * np.array(tone_of(rng), np.float32)
    return np.where(marked[..., None], tone, np.float32(255)).astype(np.float32)


def _listed(values: NDArray[np.float64]) -> str:
    return " ".join(f"{v:.4f}" for v in values.ravel())


def side_of(k: int, n: int) -> int:
    """The half, 1 or 2, that thing k of n in a row belongs to; 0 where n is odd."""
    return (1 if k < n / 2 else 2) if n % 2 == 0 else 0


class Kit:
    """The meshes, materials and textures of one scene; `unit` scales and `flip` mirrors what is made next."""

    def __init__(self, rng: Rng) -> None:
        self.rng = rng
        self.unit = 1.0
        self.flip = False
        self.assets: list[str] = []
        self.files: dict[str, bytes] = {}

    def mesh(self, made: Mesh | Skin) -> str:
        vertices, faces = made[:2]
        sign = np.array([-1, 1, 1]) if self.flip else np.ones(3)
        vertices = vertices * self.unit * sign
        if self.flip:
            faces = faces[:, ::-1]
        name = f"m{len(self.assets)}"
        extra = ""
        if isinstance(made, Skin):
            extra = f'normal="{_listed(made.normals * sign)}"'
            extra += "" if made.spots is None else f' texcoord="{_listed(made.spots)}"'
        corners = " ".join(str(f) for f in faces.ravel())
        self.assets.append(
            f'<mesh name="{name}" inertia="shell" vertex="{_listed(vertices)}" face="{corners}" {extra}/>'
        )
        return name

    def texture(self, picture: NDArray[np.float32], sort: str) -> str:
        name = f"t{len(self.assets)}"
        self.files[f"{name}.png"] = png(picture)
        self.assets.append(f'<texture name="{name}" type="{sort}" file="{name}.png"/>')
        return name

    def papered(
        self, picture: NDArray[np.float32], *, across: float = 0.0, shine: float = 0.05, glow: float = 0.0
    ) -> str:
        """A material that carries a picture: on planes once each, or with `across` once every so many units; on meshes
        by their spots.
        """
        name, texture = f"f{len(self.assets)}", self.texture(picture, "2d")
        repeat = f'texuniform="true" texrepeat="{1 / across:.4f} {1 / across:.4f}"' if across else ""
        self.assets.append(
            f'<material name="{name}" texture="{texture}" {repeat} specular="{shine:.2f}" '
            f'shininess="{shine:.2f}" emission="{glow:.2f}"/>'
        )
        return name

    def finish(self) -> str:
        """A material: matt to glossy, plain, speckled, mottled or grained, sometimes with stripes, checks or dots."""
        chance = self.rng.random()
        if chance < 0.15:
            return self._look(self._speckled())
        if chance < 0.45:
            return self.mottled(float(self.rng.uniform(0.1, 0.5)))
        return self._look(f'texture="{self.texture(_pattern(self.rng), "cube")}"') if chance < 0.57 else self._look("")

    def mottled(self, depth: float) -> str:
        """A material that is darker in places, by as much as `depth`; some grained."""
        rng = self.rng
        rough = paint.noise(rng, (96, 96), rough=float(rng.uniform(0.3, 0.95)))
        if rng.random() < 0.4:
            rough = cv2.blur(rough, (1, 41))
        grey = 255 * (1 - depth * (rough - rough.min()) / (np.ptp(rough) + 1e-6))
        return self._look(f'texture="{self.texture(np.repeat(grey[..., None], 3, 2), "cube")}"')

    def calm(self) -> str:
        """A material without marks, for what carries spots, holes or studs of its own."""
        return self.plain() if self.rng.random() < 0.5 else self.mottled(float(self.rng.uniform(0.1, 0.5)))

    def plain(self) -> str:
        """A material of one tone, matt to glossy."""
        return self._look("")

    def glowing(self, glow: float) -> str:
        """A material of one tone that gives off light of its own, 0 none to 1 full."""
        name = f"f{len(self.assets)}"
        self.assets.append(f'<material name="{name}" specular="0.2" shininess="0.3" emission="{glow:.2f}"/>')
        return name

    def _look(self, texture: str) -> str:
        name = f"f{len(self.assets)}"
        specular, shine = self.rng.beta(1, 1.5), self.rng.uniform(0.05, 0.9)
        self.assets.append(f'<material name="{name}" {texture} specular="{specular:.2f}" shininess="{shine:.2f}"/>')
        return name

    def _speckled(self) -> str:
        name = f"t{len(self.assets)}"
        mark = " ".join(f"{v:.2f}" for v in tone_of(self.rng))
        self.assets.append(
            f'<texture name="{name}" type="cube" builtin="flat" rgb1="1 1 1" width="96" height="576" mark="random" '
            f'markrgb="{mark}" random="{self.rng.uniform(0.005, 0.05):.3f}"/>'
        )
        return f'texture="{name}"'

    def geom(
        self,
        sort: str,
        size: tuple[float, ...],
        at: Point,
        tone: Tone,
        finish: str,
        *,
        angles: Point = (0, 0, 0),
        mesh: Mesh | Skin | None = None,
        part: int = -1,
        solid: bool = True,
        unseen: bool = False,
    ) -> Geom:
        """One geom in units; mesh instead of size for sort "mesh"."""
        sign = -1.0 if self.flip else 1.0
        u = self.unit
        return Geom(
            sort,
            tuple(s * u for s in size),
            (sign * at[0] * u, at[1] * u, at[2] * u),
            (angles[0], sign * angles[1], sign * angles[2]),
            tone,
            finish,
            self.mesh(mesh) if mesh else "",
            part,
            solid,
            unseen,
        )

    def shape(
        self,
        kind: str,
        geoms: list[Geom],
        reach: Point,
        parts: list[Part] | None = None,
        axis: tuple[Point, Point] | None = None,
    ) -> Shape:
        """The shape with its measures scaled, and its parts mirrored, like its geoms."""
        sign = -1.0 if self.flip else 1.0
        grown = lambda p: (sign * p[0] * self.unit, p[1] * self.unit, p[2] * self.unit)  # noqa: E731
        scaled = [
            Part(p.kind, grown(p.at), p.side, p.aside, None if p.tip is None else grown(p.tip)) for p in parts or []
        ]
        wide = (reach[0] * self.unit, reach[1] * self.unit, reach[2] * self.unit)
        return Shape(kind, geoms, wide, scaled, None if axis is None else (grown(axis[0]), grown(axis[1])))

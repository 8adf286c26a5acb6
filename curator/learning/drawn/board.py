"""The picture being put together, with its truth. A page of 1 by 1 (row, col) is seen through one homography."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning import paint
from curator.learning.scene import GROUP, PART, WHOLE, Scene, check

Rng = np.random.Generator
Points = NDArray[np.float64]
HOLDER, THING, DETAIL, SPOT = 0, 1, 2, 3  # layers: each hides the ones above its own number, never a lower one


@dataclass(frozen=True)
class Frame:
    """Where a thing lies: its own coordinates run over -1..1 (row, col)."""

    row: float
    col: float
    scale: float = 1.0
    turn: float = 0.0
    flip: bool = False
    stretch: float = 1.0  # how much wider than high

    def to(self, local: Any) -> Points:
        """Own coordinates (k, 2) to the page."""
        p = np.asarray(local, float).reshape(-1, 2)
        r, c = p[:, 0], p[:, 1] * self.stretch * (-1 if self.flip else 1)
        cos, sin = np.cos(self.turn), np.sin(self.turn)
        return np.stack([self.row + self.scale * (r * cos + c * sin), self.col + self.scale * (c * cos - r * sin)], 1)

    def inner(self, row: float, col: float, scale: float, turn: float = 0.0, flip: bool = False) -> Frame:
        """A frame at an own coordinate, of an own size."""
        at = self.to([(row, col)])[0]
        return Frame(
            float(at[0]),
            float(at[1]),
            self.scale * scale,
            self.turn + (-turn if self.flip else turn),
            self.flip != flip,
        )


Drawer = Callable[..., int]  # draw(board, frame, kind=..., side=..., parent=..., level=..., layer=...) -> index


def view(
    rng: Rng, size: int, *, upright: bool = False, slant: float | None = None, zoom: tuple[float, float] = (0.74, 1.22)
) -> Points:
    """A homography from page (row, col, 1) to pixels."""
    lean = (rng.uniform(0.1, 0.75) if rng.random() < 0.5 else 0.0) if slant is None else slant
    turn = float(rng.normal(0, 0.07))
    if not upright:
        turn += float(rng.choice([0.0, np.pi / 2, rng.uniform(0, 6.28)], p=[0.55, 0.15, 0.3]))
    scale = float(np.exp(rng.uniform(np.log(zoom[0]), np.log(zoom[1]))))
    cos, sin = np.cos(turn) * scale, np.sin(turn) * scale
    centre = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]])
    rotate = np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]])
    tilt = np.array([[1 - 0.3 * lean, 0, 0], [0, 1, 0], [-lean * 0.8, lean * rng.normal(0, 0.25), 1]])
    shift = rng.normal(0, 0.045, 2)
    back = np.array([[size, 0, size * (0.5 + shift[0])], [0, size, size * (0.5 + shift[1])], [0, 0, 1]])
    return np.asarray(back @ tilt @ rotate @ centre)


@dataclass
class Board:
    """Shapes and sprites are laid one over the other; who is seen where is kept a layer."""

    rng: Rng
    size: int
    image: paint.Picture
    through: Points
    style: str = "photo"  # photo, flat or line
    light: float = 0.0
    rows: list[dict[str, Any]] = field(default_factory=list)
    axes: list[tuple[int, Points, bool]] = field(default_factory=list)
    owners: list[NDArray[np.int16]] = field(default_factory=list)
    kinds: dict[str, int] = field(default_factory=dict)

    @classmethod
    def new(cls, rng: Rng, size: int, *, drawn: float = 0.1, **seen: Any) -> Board:
        style = str(rng.choice(["photo", "flat", "line"], p=[1 - drawn, drawn * 0.6, drawn * 0.4]))
        ground = paint.ground(rng, size) if style == "photo" else paint.paper(rng, size)
        owners = [np.full((size, size), -1, np.int16) for _ in range(4)]
        return cls(rng, size, ground, view(rng, size, **seen), style, float(rng.uniform(0, 6.28)), owners=owners)

    def kind(self, name: str) -> int:
        """The number of a kind of thing, by a name of the family's own."""
        return self.kinds.setdefault(name, len(self.kinds))

    def pixels(self, page: Any) -> Points:
        """Page (k, 2) to pixels (k, 2), rows first."""
        p = np.asarray(page, float).reshape(-1, 2) @ self.through[:, :2].T + self.through[:, 2]
        return np.asarray(p[:, :2] / np.clip(p[:, 2:], 0.15, None))

    def note(self, kind: int, at: Points, full: float, **truth: Any) -> int:
        """One row of truth; at and tip in pixels."""
        base = {
            "kind": kind,
            "at": at,
            "full": full,
            "level": WHOLE,
            "parent": -1,
            "side": 0,
            "aside": False,
            "tip": None,
            "layer": THING,
        }
        self.rows.append({**base, **truth})
        return len(self.rows) - 1

    def _window(self, points: Points, pad: int = 1) -> tuple[int, int, int, int] | None:
        low, high = np.floor(points.min(0)).astype(int) - pad, np.ceil(points.max(0)).astype(int) + pad + 1
        top, left = max(0, int(low[0])), max(0, int(low[1]))
        bottom, right = min(self.size, int(high[0])), min(self.size, int(high[1]))
        return (top, left, bottom, right) if top < bottom and left < right else None

    def _claim(self, box: tuple[int, int, int, int], covered: NDArray[np.bool_], layer: int, index: int) -> None:
        top, left, bottom, right = box
        for above in range(layer + 1, 4):
            self.owners[above][top:bottom, left:right][covered] = -1
        self.owners[layer][top:bottom, left:right][covered] = index

    def _coverage(self, points: Points, box: tuple[int, int, int, int]) -> NDArray[np.uint8]:
        alpha = np.zeros((box[2] - box[0], box[3] - box[1]), np.uint8)
        inner = np.clip((points[:, ::-1] - (box[1], box[0])) * 16, -3e4, 3e4)
        return np.asarray(cv2.fillPoly(alpha, [np.round(inner).astype(np.int32)], 255, cv2.LINE_AA, 4), np.uint8)

    def shadow(self, points: Points, strength: float, height: float = 0.1) -> None:
        """A soft contact shadow of the outline (pixels)."""
        reach = float(np.ptp(points, axis=0).max())
        away = -np.array([np.sin(self.light), np.cos(self.light)]) * reach * height
        soft = int(np.clip(reach * height * 1.2, 2, 24))
        moved = points + away
        box = self._window(moved, soft)
        if box is None or self.style != "photo":
            return
        alpha = cv2.blur(cv2.blur(self._coverage(moved, box), (soft, soft)), (soft, soft))
        part = self.image[box[0] : box[2], box[1] : box[3]]
        part *= (1 - alpha.astype(np.float32) * (strength / 255))[..., None]

    def shape(
        self,
        page: Any,
        style: paint.Look,
        kind: int | None = None,
        *,
        layer: int = THING,
        shadow: float = 0.0,
        opacity: float = 1.0,
        height: float = 0.1,
        at: Any = None,
        tip: Any = None,
        **truth: Any,
    ) -> int:
        """A closed outline in page coordinates, filled and lit; its index, or -1 when it is not counted."""
        points = self.pixels(page)
        index = -1
        if kind is not None:
            centre = self.pixels(at)[0] if at is not None else points.mean(0)
            end = self.pixels(tip)[0] if tip is not None else None
            area = abs(float(cv2.contourArea(points.astype(np.float32))))
            index = self.note(kind, centre, area, layer=layer, tip=end, **truth)
        if shadow:
            self.shadow(points, shadow, height)
        box = self._window(points)
        if box is None:
            return index
        alpha = self._coverage(points, box)
        colours = paint.shade(self.rng, alpha, self._styled(style), self.light)
        part = self.image[box[0] : box[2], box[1] : box[3]]
        part += (alpha.astype(np.float32) * (opacity / 255))[..., None] * (colours - part)
        if style.outline or self.style != "photo":
            self._outline(points, style)
        if index >= 0 or layer <= THING:
            self._claim(box, alpha > 120, layer, index)
        return index

    def _styled(self, style: paint.Look) -> paint.Look:
        if self.style == "photo":
            return style
        return replace(style, flat=True, tone=style.tone if self.style == "flat" else np.full(3, 250, np.float32))

    def _outline(self, points: Points, style: paint.Look) -> None:
        inner = np.round(np.clip(points[:, ::-1] * 16, -3e4, 3e4)).astype(np.int32)
        ink = (30.0, 30.0, 34.0)
        width = max(1, round(style.outline or (2 if self.style == "line" else 1)))
        cv2.polylines(self.image, [inner], True, ink, width, cv2.LINE_AA, 4)

    def stroke(
        self, page: Any, widths: Sequence[float], style: paint.Look, kind: int | None = None, **truth: Any
    ) -> int:
        """A tapering limb along a path (k, 2) of the page; widths in page units from root to tip."""
        path = smooth(np.asarray(page, float))
        wide = np.interp(np.linspace(0, 1, len(path)), np.linspace(0, 1, len(widths)), widths) / 2
        along = np.gradient(path, axis=0)
        across = np.stack([-along[:, 1], along[:, 0]], 1) / (np.linalg.norm(along, axis=1, keepdims=True) + 1e-9)
        end = path[-1] + along[-1] / (np.linalg.norm(along[-1]) + 1e-9) * wide[-1] * 0.8
        outline = np.concatenate([path + across * wide[:, None], end[None], (path - across * wide[:, None])[::-1]])
        truth = {"at": path[len(path) // 2], "tip": path[-1], **truth}
        return self.shape(outline, style, kind, **truth)

    def sprite(
        self,
        patch: NDArray[np.uint8],
        frame: Frame,
        kind: int | None = None,
        *,
        layer: int = THING,
        shadow: float = 0.0,
        height: float = 0.08,
        gain: paint.Picture | float = 1.0,
        feather: float = 0.0,
        **truth: Any,
    ) -> int:
        """A cut-out (h, w, 4) RGBA; its longer side is twice the frame's scale."""
        tall, wide = patch.shape[0] / max(patch.shape[:2]), patch.shape[1] / max(patch.shape[:2])
        corners = self.pixels(frame.to([(-tall, -wide), (-tall, wide), (tall, wide), (tall, -wide)]))
        area = abs(float(cv2.contourArea(corners.astype(np.float32)))) * float((patch[::4, ::4, 3] > 120).mean())
        index = -1 if kind is None else self.note(kind, corners.mean(0), area, layer=layer, **truth)
        box = self._window(corners)
        if box is None:
            return index
        reach = float(np.ptp(corners, axis=0).max())
        small = patch
        if reach < 0.55 * max(patch.shape[:2]):  # shrink well before turning
            share = max(0.04, 1.25 * reach / max(patch.shape[:2]))
            small = cv2.resize(patch, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)
        h, w = small.shape[:2]
        source = np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float32)
        target = (corners[:, ::-1] - (box[1], box[0])).astype(np.float32)
        warped = cv2.warpPerspective(
            small,
            cv2.getPerspectiveTransform(source, target),
            (box[3] - box[1], box[2] - box[0]),
            flags=cv2.INTER_LINEAR,
        )
        alpha = warped[..., 3].astype(np.float32) / 255
        if shadow:
            self._sprite_shadow(alpha, box, reach, shadow, height)
        soft = cv2.GaussianBlur(alpha, (0, 0), feather) * np.minimum(1, alpha * 2) if feather else alpha
        part = self.image[box[0] : box[2], box[1] : box[3]]
        part += soft[..., None] * (warped[..., :3].astype(np.float32) * gain - part)
        self._claim(box, alpha > 0.45, layer, index)
        return index

    def _sprite_shadow(
        self, alpha: paint.Picture, box: tuple[int, int, int, int], reach: float, strength: float, height: float
    ) -> None:
        away = -np.array([np.sin(self.light), np.cos(self.light)]) * reach * height
        soft = int(np.clip(reach * height, 2, 20))
        wide = cv2.blur(np.pad(alpha, soft), (2 * soft - 1, 2 * soft - 1))
        top, left = box[0] - soft + int(away[0]), box[1] - soft + int(away[1])
        t, le = max(0, top), max(0, left)
        b, r = min(self.size, top + wide.shape[0]), min(self.size, left + wide.shape[1])
        if t < b and le < r:
            self.image[t:b, le:r] *= (1 - strength * wide[t - top : b - top, le - left : r - left])[..., None]

    def group(self, name: str, members: Sequence[int], side: int = 0) -> int:
        """Things that belong together as one of several groups."""
        index = self.note(self.kind(name), np.zeros(2), 0.0, level=GROUP, side=side, members=list(members))
        return index

    def axis(self, body: int, page: Any, symmetric: bool) -> None:
        """The axis of a mirrored body, two points of the page."""
        self.axes.append((body, self.pixels(page), symmetric))

    def done(self, family: str, main: str | None = None) -> Scene:
        """The finished picture through the camera, and its truth."""
        from curator.learning.drawn.truth import finish

        return check(finish(self, family, main))


def smooth(path: Points, steps: int = 10) -> Points:
    """More points along a bent path, its corners rounded."""
    if len(path) < 3:
        return np.stack([np.linspace(path[0, i], path[-1, i], steps) for i in (0, 1)], 1)
    for _ in range(2):
        cut = np.empty((2 * len(path), 2))
        cut[0], cut[-1] = path[0], path[-1]
        cut[1:-1:2] = 0.75 * path[:-1] + 0.25 * path[1:]
        cut[2::2] = 0.25 * path[:-1] + 0.75 * path[1:]
        path = cut
    return path


__all__ = ["DETAIL", "GROUP", "HOLDER", "PART", "SPOT", "THING", "WHOLE", "Board", "Drawer", "Frame", "smooth"]

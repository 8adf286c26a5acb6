"""From a stage to a picture and its truth: MuJoCo compiles, settles, lights and renders it.

The truth comes from renderings whose pixels name the geoms; `mujoco` is needed here and in no other module.
"""

from __future__ import annotations

import os
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from curator.learning.drawn import truth
from curator.learning.rendered.kit import Kit
from curator.learning.rendered.mjcf import HIDDEN, WANTED, mjcf
from curator.learning.rendered.stage import Placed, Stage
from curator.learning.scene import GROUP, PART, WHOLE, Scene

os.environ.setdefault("MUJOCO_GL", "osmesa")

Rng = np.random.Generator
Points = NDArray[np.float64]


class Eye(NamedTuple):
    """A pinhole camera: where it looks at, its distance, its angles in degrees, half its field of view's tangent."""

    aim: Points
    away: float
    azimuth: float
    lift: float
    half: float

    def axes(self) -> tuple[Points, Points, Points]:
        a, e = np.radians(self.azimuth), np.radians(self.lift)
        ahead = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
        up = np.array([-np.sin(e) * np.cos(a), -np.sin(e) * np.sin(a), np.cos(e)])
        return ahead, up, np.cross(ahead, up)

    def seen(self, points: Points) -> Points:
        """(n, 3) world -> (n, 2) row, col in -1..1 of the frame."""
        ahead, up, right = self.axes()
        local = points - (self.aim - self.away * ahead)
        deep = np.maximum(local @ ahead, 1e-3) * self.half
        return np.stack([-(local @ up) / deep, (local @ right) / deep], 1)


def _settled(mujoco: Any, model: Any, stage: Stage) -> Any:
    data = mujoco.MjData(model)
    steps = 450 if stage.walls else 0
    for _ in range(steps):
        mujoco.mj_step(model, data)
    mujoco.mj_forward(model, data)
    return data


def _corners(data: Any, placed: Placed, index: int) -> Points:
    """(8, 3) corners of the box of one thing in the world."""
    x, y, z = placed.shape.reach
    local = np.array([(a * x, b * y, c * z) for a in (-1, 1) for b in (-1, 1) for c in (0, 1)], float)
    return _world(data, index, local)


def _world(data: Any, index: int, local: Points) -> Points:
    body = data.body(f"b{index}")
    moved: Points = np.asarray(local, float) @ body.xmat.reshape(3, 3).T + body.xpos
    return moved


def _eye(rng: Rng, stage: Stage, data: Any) -> Eye:
    """Angles by the stage's look; a distance at which what is framed fills the share asked for."""
    look = stage.look if stage.look != "any" else str(rng.choice(["top", "oblique", "oblique", "oblique", "front"]))
    lift = {"top": rng.uniform(66, 89.5), "oblique": rng.uniform(22, 62), "front": rng.uniform(3, 16)}[look]
    if stage.wall is not None:
        lift = (
            rng.uniform(-4, 14)
            if stage.wall < 0.5 and stage.placed and stage.placed[0].at[2] > 1
            else rng.uniform(2, 16)
        )
    sway = rng.normal(0, 13) if stage.wall is not None else rng.uniform(-40, 40)
    lift = lift if stage.lift is None else rng.uniform(*stage.lift)
    sway = (
        sway if stage.sway is None else float(np.clip(rng.normal(0, stage.sway), -1.9 * stage.sway, 1.9 * stage.sway))
    )
    half = float(np.tan(np.radians(rng.uniform(26, 62)) / 2))
    framed = [_corners(data, p, i) for i, p in enumerate(stage.placed) if p.framed] or [
        np.zeros((1, 3)),
        np.ones((1, 3)),
    ]
    points = np.concatenate(framed)
    aim = (points.min(0) + points.max(0)) / 2
    fill = float(rng.uniform(*stage.fill))
    eye = _backed(Eye(aim, 1.0, 90 + float(sway), -float(lift), half), points, fill)
    lowest = float(np.degrees(np.arcsin(np.clip((0.3 - aim[2]) / eye.away, -1, 1))))
    if lift < 0 and lift < lowest:  # from below, but never below the floor
        eye = _backed(eye._replace(lift=-lowest), points, fill)
    _, up, right = eye.axes()
    slack = max(0.08, 1 - fill) * half * eye.away
    shift = rng.uniform(-0.7, 0.7, 2) * slack
    aim = aim + shift[0] * right + shift[1] * up
    sunk = aim - eye.away * eye.axes()[0]
    if sunk[2] < 0.15:  # never below the floor
        aim = aim + np.array([0, 0, 0.15 - sunk[2]])
    return eye._replace(aim=aim)


def _backed(eye: Eye, points: Points, fill: float) -> Eye:
    """The eye at the distance where the points span the share `fill` of the half frame."""
    low, high = 0.05, 200.0
    ahead = eye.axes()[0]
    for _ in range(40):
        middle = float(np.sqrt(low * high))
        before = ((points - eye.aim) @ ahead).min() + middle  # the nearest corner must lie before the camera
        spread = np.abs(eye._replace(away=middle).seen(points)).max() if before > 0.1 else 9.0
        low, high = (middle, high) if spread > fill else (low, middle)
    return eye._replace(away=high)


class Lens:
    """One renderer over a model, with its picture, smooth, and what says which geom is where. That takes one sample a
    pixel: where a GPU has the mean of several, the mean of two geoms' numbers is that of a third.
    """

    def __init__(self, mujoco: Any, model: Any, data: Any, eye: Eye, size: int) -> None:
        self.mujoco, self.model, self.data, self.eye, self.size = mujoco, model, data, eye, size
        self.renderer = mujoco.Renderer(model, size, size)
        self.options = mujoco.MjvOption()
        self.options.geomgroup[:] = 0
        self.options.geomgroup[WANTED] = 1
        self.picture = self._picture()
        self.renderer._mjr_context.offSamples = 0
        mujoco.mjr_resizeOffscreen(size + 1, size + 1, self.renderer._mjr_context)  # another size, or it stays as it is
        self.renderer.enable_segmentation_rendering()

    def _camera(self, wider: float) -> Any:
        camera = self.mujoco.MjvCamera()
        camera.lookat[:] = self.eye.aim
        camera.distance, camera.azimuth, camera.elevation = self.eye.away, self.eye.azimuth, self.eye.lift
        self.model.vis.global_.fovy = float(np.degrees(2 * np.arctan(self.eye.half * wider)))
        return camera

    def _picture(self) -> NDArray[np.uint8]:
        self.renderer.update_scene(self.data, self._camera(1.0), self.options)
        shown: NDArray[np.uint8] = self.renderer.render().copy()
        return shown

    def named(self, *, wider: float = 1.0, only: NDArray[np.int64] | None = None) -> NDArray[np.int32]:
        """(S, S) geom ids, -1 where there is none; `only` these geoms, all others gone."""
        groups = self.model.geom_group.copy()
        if only is not None:
            self.model.geom_group[:] = HIDDEN
            self.model.geom_group[only] = groups[only]
        self.renderer.update_scene(self.data, self._camera(wider), self.options)
        flags = self.renderer.scene.flags
        shadow = int(self.mujoco.mjtRndFlag.mjRND_SHADOW)
        flags[shadow] = 0
        pixels = self.renderer.render()
        flags[shadow] = 1
        self.model.geom_group[:] = groups
        ids = np.where(pixels[..., 1] == int(self.mujoco.mjtObj.mjOBJ_GEOM), pixels[..., 0], -1)
        return ids.astype(np.int32)

    def close(self) -> None:
        self.renderer.close()


def _listed(stage: Stage, data: Any, eye: Eye, size: int) -> list[dict[str, Any]]:
    """Every thing, part and group as a row of truth, with the points in pixels; `own` tells which geoms are its own."""
    rows: list[dict[str, Any]] = []
    kinds: dict[str, int] = {}

    def pixels(index: int, local: Any) -> Points:
        shown: Points = (eye.seen(_world(data, index, np.array([local])))[0] + 1) * size / 2
        return shown

    def add(name: str, **row: Any) -> int:
        rows.append(
            {"kind": kinds.setdefault(name, len(kinds)), "name": name, "aside": False, "tip": None, "axis": None, **row}
        )
        return len(rows) - 1

    where: dict[int, int] = {}
    for i, p in enumerate(stage.placed):
        z = p.shape.reach[2] / 2
        where[i] = add(
            p.shape.kind,
            level=WHOLE,
            parent=where.get(p.parent, -1),
            side=p.side,
            at=pixels(i, (0, 0, z)),
            own=(i, None),
            aside=p.shape.aside,
        )
        if p.shape.axis:
            rows[-1]["axis"] = [pixels(i, q) for q in p.shape.axis]
        for k, part in enumerate(p.shape.parts):
            tip = None if part.tip is None else pixels(i, part.tip)
            add(
                part.kind,
                level=PART,
                parent=where[i],
                side=part.side,
                at=pixels(i, part.at),
                own=(i, k),
                aside=part.aside,
                tip=tip,
            )
    for name, members in stage.groups:
        at = np.mean([rows[where[m]]["at"] for m in members], 0)
        own = add(name, level=GROUP, parent=-1, side=0, at=at, own=None, members=[where[m] for m in members])
        for m in members:
            rows[where[m]]["parent"] = own
    return rows


def _owned(row: dict[str, Any], owners: list[tuple[int, int]], ids: NDArray[np.int64]) -> NDArray[np.int64]:
    """The geom ids of a row: all of a whole's, or a part's own."""
    i, part = row["own"]
    return np.array([ids[k] for k, (o, p) in enumerate(owners) if o == i and (part is None or p == part)], np.int64)


def _pointed(mask: NDArray[np.bool_], at: Points) -> tuple[float, float]:
    """Where one would point at what is left of a thing: its middle if that can be seen, else the pixel nearest to the
    middle of the rest.
    """
    row, col = (int(v) for v in at)
    if (
        0 <= row < mask.shape[0]
        and 0 <= col < mask.shape[1]
        and mask[max(0, row - 2) : row + 3, max(0, col - 2) : col + 3].all()
    ):
        return float(at[0]), float(at[1])
    spots = np.argwhere(cv2.erode(mask.astype(np.uint8), np.ones((5, 5))) > 0)
    spots = spots if len(spots) else np.argwhere(mask)
    nearest = spots[np.argmin(((spots - np.argwhere(mask).mean(0)) ** 2).sum(1))]
    return float(nearest[0]) + 0.5, float(nearest[1]) + 0.5


def _measure(
    rows: list[dict[str, Any]], lens: Lens, owners: list[tuple[int, int]], ids: NDArray[np.int64]
) -> tuple[Any, Any, NDArray[np.int32]]:
    """Boxes of what can be seen, the visible shares against the same thing rendered alone, and which geom is where."""
    size, n = lens.size, len(rows)
    boxes, visible = np.zeros((n, 4), np.float32), np.zeros(n, np.float32)
    shown = lens.named()
    for k, row in enumerate(rows):
        if row["own"] is None:
            continue
        own = _owned(row, owners, ids)
        mask = np.isin(shown, own)
        count = int(mask.sum())
        if count < 4:
            continue
        r, c = np.nonzero(mask.any(1))[0], np.nonzero(mask.any(0))[0]
        boxes[k] = (r[0], c[0], r[-1] + 1, c[-1] + 1)
        cut = r[0] == 0 or c[0] == 0 or r[-1] == size - 1 or c[-1] == size - 1
        wider = 2.5 if cut else 1.0
        alone = int((lens.named(wider=wider, only=own) >= 0).sum()) * wider**2
        visible[k] = min(1.0, count / max(1.0, alone))
        if cut or visible[k] < 0.75:
            row["seen"] = _pointed(mask, row["at"])
    for k, row in enumerate(rows):
        members = [m for m in row.get("members", ()) if visible[m] > 0]
        if members:
            boxes[k] = (*boxes[members, :2].min(0), *boxes[members, 2:].max(0))
            visible[k] = visible[members].sum() / len(row["members"])
    return boxes, visible, shown


def _ids(rows: list[dict[str, Any]], shown: NDArray[np.int32], owners: list[tuple[int, int]]) -> NDArray[np.uint8]:
    """(2, S / 2, S / 2): at every other pixel 1 + the row of the whole, and of the part, that is seen there."""
    wholes = {row["own"][0]: k for k, row in enumerate(rows) if row["own"] and row["own"][1] is None}
    parts = {row["own"]: k for k, row in enumerate(rows) if row["own"] and row["own"][1] is not None}
    found = np.zeros((2, len(owners) + 1), np.uint8)
    for g, (i, part) in enumerate(owners):
        rank = (wholes.get(i, -1), parts.get((i, part), -1))
        found[:, g] = [k + 1 if k < 254 else 0 for k in rank]
    return np.asarray(found[:, shown[::2, ::2]], np.uint8)


def _record(
    image: NDArray[np.uint8],
    rows: list[dict[str, Any]],
    boxes: Any,
    visible: Any,
    stage: Stage,
    shown: NDArray[np.int32],
    owners: list[tuple[int, int]],
) -> Scene:
    """The rows that can be seen, as a Scene."""
    size = image.shape[0]
    keep = np.nonzero(visible > 0)[0]
    moved = {int(old): new for new, old in enumerate(keep)}
    rows = [{**rows[int(k)], "parent": moved.get(rows[int(k)]["parent"], -1)} for k in keep]
    boxes, visible = boxes[keep], visible[keep]
    side = truth._halves(rows, visible) if rows else np.zeros(0, np.int8)
    at = np.array([r["at"] for r in rows], np.float32).reshape(-1, 2)
    for k, row in enumerate(rows):
        if "seen" in row or (at[k] < 0).any() or (at[k] >= size).any():
            at[k] = np.clip(row.get("seen", (boxes[k, :2] + boxes[k, 2:]) / 2), 0, size - 1)
    tips = np.array([(np.nan, np.nan) if r["tip"] is None else r["tip"] for r in rows], np.float32).reshape(-1, 2)
    axis = [(k, *r["axis"][0], *r["axis"][1], 1.0) for k, r in enumerate(rows) if r["axis"] is not None]
    column = lambda name, sort: np.array([r[name] for r in rows], sort)  # noqa: E731
    kind, aside = column("kind", np.int16), column("aside", bool)
    return Scene(
        image,
        boxes,
        at,
        tips,
        kind,
        column("level", np.int8),
        column("parent", np.int16),
        visible,
        side,
        np.array(axis, np.float32).reshape(-1, 6),
        _meant(rows, boxes, visible, side, stage),
        aside,
        stage.family,
        _ids(rows, shown, owners),
    )


def _meant(rows: list[dict[str, Any]], boxes: Any, visible: Any, side: Any, stage: Stage) -> int:
    """The stage's own kind where two of it can be seen; else wholes where there are two of a kind, else parts."""
    named = stage.main
    if named == "?":
        named = [p.shape.kind for p in stage.placed if p.framed][-1]
    counted = [not r["aside"] and v >= truth.SEEN for r, v in zip(rows, visible, strict=True)]
    own = [r["kind"] for r, c in zip(rows, counted, strict=True) if c and r["name"] == named]
    if len(own) >= 2:
        return int(own[0])
    area = (boxes[:, 2] - boxes[:, 0]) * (boxes[:, 3] - boxes[:, 1])
    wholes = [k for k, r in enumerate(rows) if counted[k] and r["level"] == WHOLE and stage.placed[r["own"][0]].framed]
    kinds = [rows[k]["kind"] for k in wholes]
    found = [
        (sum(area[k] for k in wholes if rows[k]["kind"] == kind), kind) for kind in set(kinds) if kinds.count(kind) >= 2
    ]
    return int(max(found)[1]) if found else truth._main(rows, boxes, visible, side) if rows else -1


def view(kit: Kit, stage: Stage, size: int) -> Scene:
    """Render the stage: a clean picture (no camera effects) and its truth."""
    import mujoco

    text, owners = mjcf(kit, stage)
    model = mujoco.MjModel.from_xml_string(text, kit.files)
    data = _settled(mujoco, model, stage)
    ids = np.array([model.geom(f"g{k}").id for k in range(len(owners))], np.int64)
    eye = _eye(kit.rng, stage, data)
    lens = Lens(mujoco, model, data, eye, size)
    try:
        rows = _listed(stage, data, eye, size)
        boxes, visible, shown = _measure(rows, lens, owners, ids)
    finally:
        lens.close()
    own = np.full(int(ids.max(initial=-1)) + 2, len(owners))  # model ids -> places in `owners`; the last one: nobody's
    own[ids] = np.arange(len(ids))
    shown = own[np.where(np.isin(shown, ids), shown, -1)]
    return _record(lens.picture, rows, boxes, visible, stage, shown, owners)

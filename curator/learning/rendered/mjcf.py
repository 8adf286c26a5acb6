"""From a stage to a model: bodies, grounds, lamps and an unseen pen, as MuJoCo's XML."""

from __future__ import annotations

from typing import Any

import numpy as np

from curator.learning import paint
from curator.learning.rendered.kit import Kit
from curator.learning.rendered.stage import Placed, Stage
from curator.learning.rendered.walls import sky

Rng = np.random.Generator
HIDDEN, WANTED = 4, 0  # geom groups
LARGEST = 512  # pixels a side of a picture


def _numbers(values: Any) -> str:
    return " ".join(f"{v:.5g}" for v in values)


def _turned(placed: Placed) -> str:
    a, b = np.radians(placed.turn) / 2, np.radians(placed.tilt) / 2
    quat = (np.cos(a) * np.cos(b), np.cos(a) * np.sin(b), np.sin(a) * np.sin(b), np.sin(a) * np.cos(b))
    return _numbers(quat)


def _bodies(stage: Stage) -> tuple[str, list[tuple[int, int]]]:
    """MJCF of everything placed, and for each geom g0, g1, ... its placed thing and its part (or -1)."""
    text, owners = [], []
    for i, placed in enumerate(stage.placed):
        text.append(f'<body name="b{i}" pos="{_numbers(placed.at)}" quat="{_turned(placed)}">')
        if placed.free:
            text.append("<freejoint/>")
        for g in placed.shape.geoms:
            tone = np.clip(0.07 + 0.93 * np.array(g.tone) * placed.tint, 0, 1)  # nothing is quite black
            size = f'size="{_numbers(g.size)}"' if g.sort != "mesh" else f'mesh="{g.mesh}"'
            hits = 'condim="6"' if g.solid and stage.walls else 'contype="0" conaffinity="0"'
            hits += f' group="{HIDDEN}"' if g.unseen else ""
            text.append(
                f'<geom name="g{len(owners)}" type="{g.sort}" {size} pos="{_numbers(g.at)}" '
                f'euler="{_numbers(g.angles)}" '
                f'rgba="{_numbers((*tone, 1))}" material="{g.finish}" {hits} friction="0.9 0.02 0.01"/>'
            )
            owners.append((i, g.part))
        text.append("</body>")
    return "".join(text), owners


def _ground(kit: Kit, name: str) -> str:
    """A material of a drawn or plain ground; its texture repeats."""
    rng = kit.rng
    picture = paint.ground(rng, 256)
    picture = picture * rng.uniform(0.55, 0.95)
    texture = kit.texture(picture.astype(np.float32), "2d")
    repeat = rng.uniform(0.08, 0.5)
    kit.assets.append(
        f'<material name="{name}" texture="{texture}" texuniform="true" texrepeat="{repeat:.3f} {repeat:.3f}" '
        f'specular="{rng.beta(1, 4):.2f}" reflectance="{max(0.0, rng.uniform(-0.4, 0.2)):.2f}"/>'
    )
    return name


def _lamps(rng: Rng) -> str:
    """One or two lamps from above or the camera's side, the first with shadows."""
    text = ""
    for k in range(1 + int(rng.random() < 0.45)):
        aim = np.array([rng.normal(0, 0.6), rng.uniform(-0.2, 1.1), -1.0])
        bright = rng.uniform(0.4, 0.85) / (k + 1)
        tone = np.clip(bright * (1 + rng.normal(0, 0.06, 3)), 0, 1)
        text += (
            f'<light directional="true" pos="{_numbers(-aim * 8)}" dir="{_numbers(aim)}" diffuse="{_numbers(tone)}" '
            f'specular="{_numbers(tone * rng.uniform(0.2, 0.8))}" castshadow="{"true" if k == 0 else "false"}"/>'
        )
    return text


def _pen(half: float) -> str:
    if not half:
        return ""
    walls = ""
    for x, y in ((1, 0), (-1, 0), (0, 1), (0, -1)):
        size = (0.1, half + 0.2, 8) if x else (half + 0.2, 0.1, 8)
        walls += (
            f'<geom type="box" group="{HIDDEN}" rgba="0 0 0 0" '
            f'pos="{_numbers((x * (half + 0.1), y * (half + 0.1), 8))}" size="{_numbers(size)}"/>'
        )
    return walls


def mjcf(kit: Kit, stage: Stage) -> tuple[str, list[tuple[int, int]]]:
    """The model as text, and the owner (placed, part) of each geom."""
    rng = kit.rng
    bodies, owners = _bodies(stage)
    far = (
        '<geom name="floor" type="plane" size="60 60 1" material="'
        + (_ground(kit, "floor") if stage.table is None else kit.papered(stage.table, across=4.0))
        + '"/>'
    )
    if stage.sky:
        far += (
            f'<geom type="plane" size="70 25 1" pos="0 34 24" euler="90 0 0" '
            f'material="{kit.papered(sky(rng), glow=0.45)}"/>'
        )
    elif stage.wall is not None or rng.random() < 0.85:
        back = stage.wall if stage.wall is not None else rng.uniform(3, 9)
        far += (
            f'<geom type="plane" size="60 60 1" pos="0 {back:.3f} 0" euler="90 0 0" material="{_ground(kit, "wall")}"/>'
        )
    ambient, front = rng.uniform(0.22, 0.52), rng.uniform(0.1, 0.42)
    text = (
        '<mujoco><compiler angle="degree"/><option timestep="0.006"/><size memory="64M"/><visual>'
        f'<headlight ambient="{_numbers([ambient] * 3)}" diffuse="{_numbers([front] * 3)}" specular="0.1 0.1 0.1"/>'
        '<quality shadowsize="2048" offsamples="4"/>'
        f'<global offwidth="{LARGEST}" offheight="{LARGEST}"/><map znear="0.02" zfar="40" shadowclip="2"/>'
        f'</visual><statistic extent="5" center="0 0 0"/><asset>{"".join(kit.assets)}</asset>'
        f"<worldbody>{_lamps(rng)}{far}{_pen(stage.walls)}{bodies}</worldbody></mujoco>"
    )
    return text, owners

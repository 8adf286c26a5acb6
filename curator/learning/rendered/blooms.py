"""Flowers whose petals count where there is one, else they count themselves."""

from __future__ import annotations

import numpy as np

from curator.learning.rendered import walls
from curator.learning.rendered.kit import Kit, Part, Shape, Tone, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.stage import Stage


def bloom(kit: Kit) -> Shape:
    """A flower that looks up: four to nine petals about its middle, on a short stalk with two leaves."""
    rng, tone = kit.rng, tone_of(kit.rng)
    petals, finish = int(rng.choice([4, 5, 5, 6, 6, 7, 8, 9])), kit.mottled(0.3)
    heart, up = float(rng.uniform(0.08, 0.16)), float(rng.uniform(0.25, 0.6))
    long, wide = (
        float(rng.uniform(0.15, 0.21)),
        min(float(rng.uniform(0.08, 0.15)), (heart + 0.16) * float(np.sin(np.pi / petals)) * 1.15),
    )
    geoms = [
        kit.geom(
            "ellipsoid",
            (heart, heart, heart * 0.6),
            (0, 0, up + 0.03),
            unlike_tone(rng, tone),
            kit.finish(),
            solid=False,
        )
    ]
    parts, cup = [], float(rng.uniform(-25, 20))
    for k in range(petals):
        a = 2 * np.pi * (k + 0.5) / petals + float(rng.normal(0, 0.04))
        c, s, r = float(np.cos(a)), float(np.sin(a)), heart * 0.7 + long
        z = up + float(np.sin(np.radians(cup))) * long
        # along x, raised about y, then carried round z: intrinsic angles of the renderer are x, y, z in turn
        slope = np.radians(cup)
        angles = (
            float(np.degrees(np.arctan2(np.sin(slope) * s, np.cos(slope)))),
            float(np.degrees(-np.arcsin(np.sin(slope) * c))),
            float(np.degrees(a)),
        )
        geoms.append(
            kit.geom(
                "ellipsoid", (long, wide, 0.015), (r * c, r * s, z), tone, finish, angles=angles, part=k, solid=False
            )
        )
        side = (1 if c < 0 else 2) if petals % 2 == 0 else 0
        tip = heart * 0.7 + long + long * float(np.cos(slope))
        parts.append(Part("petal", (r * c, r * s, z), side, tip=(tip * c, tip * s, z + float(np.sin(slope)) * long)))
    green: Tone = (0.25, 0.5, 0.2)
    geoms.append(rod(kit, (0.05, 0.02, 0.0), (0, 0, up), 0.025, green, kit.plain(), -1))
    for s in (-1, 1):
        geoms.append(
            kit.geom(
                "ellipsoid",
                (0.14, 0.05, 0.01),
                (s * 0.16, 0.0, up * 0.3),
                green,
                kit.plain(),
                angles=(0, -s * 25, 0),
                solid=False,
            )
        )
    return kit.shape("bloom", geoms, (heart + 2 * long, heart + 2 * long, up + 0.1), parts)


def blooms(kit: Kit) -> Stage:
    """One flower whose petals count, or several flowers."""
    rng = kit.rng
    n = 1 if rng.random() < 0.55 else int(rng.integers(2, 8))
    stage = Stage(
        "solid bloom", fill=(0.6, 1.1), look="top" if n == 1 else str(rng.choice(["top", "oblique"])), flat=True
    )
    same, alike = bloom(kit), rng.random() < 0.5
    if rng.random() < 0.5:
        stage.table = walls.leaves(rng)
    spots = [(k % 3, k // 3) for k in range(n)]
    for k, (col, row) in enumerate(spots):
        at = ((col + 0.5 * (row % 2)) * 1.05 + float(rng.normal(0, 0.08)), row * 1.0 + float(rng.normal(0, 0.08)), 0.0)
        stage.put(
            same if alike or k == 0 else bloom(kit),
            at,
            turn=float(rng.uniform(0, 360)),
            tilt=float(rng.uniform(-20, 20)),
            side=k + 1 if n == 2 else 0,
        )
    stage.main = "petal" if n == 1 else "bloom"
    return stage

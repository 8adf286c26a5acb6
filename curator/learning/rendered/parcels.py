"""Cardboard boxes with tape, labels and print, in towers as they stand beside a door."""

from __future__ import annotations

from curator.learning.rendered.kit import Geom, Kit, Point, Shape, Tone, tone_of, unlike_tone
from curator.learning.rendered.stage import Stage


def _print(kit: Kit, half: Point, side: int, brown: Tone) -> list[Geom]:
    """Labels and prints on one side of a box that stands on z = 0: 0 the front (-y), 1 and -1 right and left."""
    rng, (x, y, z) = kit.rng, half
    wide, geoms = (y if side else x), list[Geom]()

    def put(along: float, up: float, size: tuple[float, float], tone: Tone) -> None:
        flat: Point = (0.004, size[0], size[1]) if side else (size[0], 0.004, size[1])
        at: Point = (side * x, along, up) if side else (along, -y, up)
        geoms.append(kit.geom("box", flat, at, tone, kit.plain(), solid=False))

    if rng.random() < 0.4:
        size = (wide * float(rng.uniform(0.15, 0.3)), z * float(rng.uniform(0.15, 0.3)))
        put(float(rng.uniform(-0.5, 0.5)) * wide, float(rng.uniform(0.8, 1.2)) * z, size, (0.95, 0.95, 0.93))
    ink: Tone = (0.12, 0.1, 0.08) if rng.random() < 0.7 else unlike_tone(rng, brown)
    for _ in range(int(rng.choice([0, 0, 1, 2, 4]))):  # signs, and lines of print
        size = (wide * float(rng.uniform(0.04, 0.25)), z * float(rng.uniform(0.03, 0.12)))
        put(float(rng.uniform(-0.65, 0.65)) * wide, float(rng.uniform(0.3, 1.6)) * z, size, ink)
    if rng.random() < 0.3:  # the same sign in both lower corners
        for corner in (-1, 1):
            put(corner * 0.75 * wide, 0.4 * z, (0.06 * wide, 0.12 * z), ink)
    return geoms


def parcel(kit: Kit, half: Point, brown: Tone) -> Shape:
    """A cardboard box of half sizes `half` with tape over its top, and a label and prints now and then."""
    rng, (x, y, z) = kit.rng, half
    tape: Tone = (0.1, 0.12, 0.16) if rng.random() < 0.3 else (0.72, 0.58, 0.36)
    geoms = [kit.geom("box", half, (0, 0, z), brown, kit.mottled(float(rng.uniform(0.05, 0.2))))]
    if rng.random() < 0.8:
        thin, along = float(rng.uniform(0.05, 0.1)), rng.random() < 0.5
        strip = (x + 0.004, thin, z + 0.004) if along else (thin, y + 0.004, z + 0.004)
        geoms.append(kit.geom("box", strip, (0, 0, z), tape, kit.plain(), solid=False))
        sides = (x + 0.012, y + 0.012, z * 0.75)  # tape reaches down a quarter
        geoms.append(kit.geom("box", sides, (0, 0, z * 0.75 - 0.001), brown, kit.plain(), solid=False))
    for side in (-1, 0, 1):
        geoms += _print(kit, (x + 0.014, y + 0.014, z), side, brown)
    return kit.shape("parcel", geoms, (x, y, 2 * z))


def _half(kit: Kit) -> Point:
    x, y, z = (float(v) for v in kit.rng.uniform((0.3, 0.25, 0.14), (0.6, 0.5, 0.45)))
    return (x, y, z)


def parcels(kit: Kit) -> Stage:
    """Cardboard boxes of several sizes, in towers beside each other, some with a small one on top."""
    rng = kit.rng
    brown = (float(rng.uniform(0.6, 0.78)), float(rng.uniform(0.45, 0.56)), float(rng.uniform(0.28, 0.38)))
    stage = Stage("solid parcels", main="parcel", fill=(0.6, 1.05), lift=(5, 42), sway=30.0, flat=rng.random() < 0.6)
    towers, right = int(rng.choice([1, 1, 2, 2, 3])), 0.0
    for _ in range(towers):
        halves = sorted((_half(kit) for _ in range(int(rng.integers(1, 5)))), key=lambda h: -h[0] * h[1])
        x, up = right + halves[0][0], 0.0
        for half in halves:
            own = tone_of(rng) if rng.random() < 0.08 else brown
            slip = (float(rng.normal(0, 0.06)), float(rng.normal(0, 0.05)))
            stage.put(parcel(kit, half, own), (x + slip[0], slip[1], up), turn=float(rng.normal(0, 9)))
            up += 2 * half[2]
        right = x + halves[0][0] * float(rng.uniform(1.15, 1.7))
    return stage

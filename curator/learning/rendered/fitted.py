"""Families of things with parts that can be counted: dice, trays, windows, hooks, drawers, bricks, buttons, legs,
wheels.
"""

from __future__ import annotations

import numpy as np

from curator.learning.drawn import places
from curator.learning.rendered import parts
from curator.learning.rendered.kit import Kit, tone_of, unlike_tone
from curator.learning.rendered.laid import two_rows
from curator.learning.rendered.stage import Stage, from_layout, maker, space


def dice(kit: Kit) -> Stage:
    rng = kit.rng
    n = int(rng.choice([1, 2, 2, 2, 3, 4, 5, 6]))
    stage = Stage(
        "solid dice", fill=(0.5, 1.0) if n > 1 else (0.4, 0.8), look=str(rng.choice(["top", "top", "oblique"]))
    )
    tone = (0.93, 0.92, 0.88) if rng.random() < 0.5 else tone_of(rng)
    ink = unlike_tone(rng, tone, 0.55)
    face, apart = int(rng.integers(1, 7)), rng.uniform(1.15, 2.2)
    start = rng.uniform(0, 6.28)
    for k in range(n):
        if n <= 2:
            x, y = (k - 0.5 * (n - 1)) * apart * 1.2, rng.normal(0, 0.15) * (n - 1)
        else:
            a = start + 2 * np.pi * k / n
            x, y = apart * np.cos(a) * n / 4.2, apart * np.sin(a) * n / 4.2
        own = face if rng.random() < 0.5 else int(rng.integers(1, 7))
        side = k + 1 if n == 2 else 0
        stage.put(parts.die(kit, own, tone, ink), (x, y, 0.0), turn=rng.uniform(0, 360), side=side)
    return stage


def dominoes(kit: Kit) -> Stage:
    rng = kit.rng
    n = int(rng.choice([1, 1, 1, 2, 3, 4]))
    stage = Stage("solid dominoes", fill=(0.55, 1.0), look=str(rng.choice(["top", "top", "oblique"])))
    tone = (0.93, 0.9, 0.84) if rng.random() < 0.6 else tone_of(rng)
    ink = unlike_tone(rng, tone, 0.55)
    turn = rng.choice([0, 90]) + rng.normal(0, 8)
    for k in range(n):
        a = int(rng.integers(1, 7))
        b = a if rng.random() < 0.6 else int(rng.integers(0, 7))
        y = (k - (n - 1) / 2) * rng.uniform(0.62, 0.9)
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        shape = parts.domino(kit, (a, b), tone, ink)
        stage.put(shape, (-s * y, c * y, 0.0), turn=float(turn + rng.normal(0, 5)), side=k + 1 if n == 2 else 0)
    return stage


def trays(kit: Kit) -> Stage:
    """A tray with wells, empty, full, or nearly full."""
    rng = kit.rng
    high, wide = int(rng.choice([1, 2, 2, 2, 3])), int(rng.integers(2, 7))
    shape = parts.tray(kit, high, wide, round_wells=bool(rng.random() < 0.65))
    stage = Stage(
        "solid tray", fill=(0.65, 1.15), look=str(rng.choice(["top", "oblique"])), flat=bool(rng.random() < 0.6)
    )
    own = stage.put(shape)
    how = rng.random()
    if how < 0.3:
        stage.main = "well"
        return stage
    kit.unit = 0.8
    make = maker(kit, ("egg", "egg", "ball", "fruit", "muffin"))
    cells = list(shape.parts)
    gone = (
        set()
        if how < 0.72
        else set(rng.choice(len(cells), min(len(cells) - 1, int(rng.integers(1, 3))), replace=False).tolist())
    )
    for k, cell in enumerate(cells):
        if k not in gone:
            where = (cell.at[0], cell.at[1], 0.1)
            stage.put(
                make(),
                where,
                turn=rng.uniform(0, 360),
                side=0 if gone else cell.side,
                parent=own,
                tint=float(rng.uniform(0.9, 1.06)),
            )
    kit.unit = 1.0
    stage.main = "?" if len(cells) - len(gone) >= 2 else None
    return stage


def windows(kit: Kit) -> Stage:
    rng = kit.rng
    high, wide = [(1, 1), (1, 1), (1, 2), (1, 2), (1, 3), (2, 2), (2, 3), (2, 4), (3, 3), (2, 5), (3, 4)][
        int(rng.integers(11))
    ]
    panes = [(1, 2), (2, 2), (2, 2), (3, 2), (2, 3), (3, 3), (4, 2), (1, 3)][int(rng.integers(8))]
    if high * wide >= 6 and rng.random() < 0.5:
        panes = (1, 1)
    tall = rng.uniform(0.9, 1.7)
    frame = (0.92, 0.92, 0.9) if rng.random() < 0.5 else tone_of(rng)
    glass = unlike_tone(rng, frame)
    shape = parts.window(kit, *panes, tall, frame, glass)
    stage = Stage("solid windows", look="front", fill=(0.6, 1.15), wall=0.05, flat=True)
    gap, rise = rng.uniform(1.3, 2.0), tall * rng.uniform(1.2, 1.8)
    gone = int(rng.integers(high * wide)) if high * wide > 3 and rng.random() < 0.25 else -1
    for k, (row, col, side) in enumerate(parts.lattice(high, wide)):
        if k != gone:
            where = (col * wide * gap, 0.0, 2.0 - row * high * rise)
            stage.put(shape, where, side=0 if gone >= 0 else side)
    return stage


def wall_hooks(kit: Kit) -> Stage:
    rng = kit.rng
    n, rows = int(rng.integers(2, 9)), int(rng.choice([1, 1, 2]))
    missing = int(rng.integers(n * rows)) if n * rows > 3 and rng.random() < 0.25 else -1
    stage = Stage("solid hooks", main="hook", look="front", fill=(0.7, 1.15), wall=0.03, flat=True)
    stage.put(parts.hooks(kit, n, rows, missing), (0, 0, 1.5))
    return stage


def drawers(kit: Kit) -> Stage:
    rng = kit.rng
    high, wide = int(rng.integers(2, 6)), int(rng.choice([1, 1, 2, 2, 3]))
    stage = Stage("solid drawers", look="front", fill=(0.65, 1.1), wall=0.4, flat=True)
    knobs = int(rng.choice([0, 1, 1, 2, 2]))
    stage.put(parts.cabinet(kit, high, wide, knobs))
    if knobs == 2 and wide % 2:
        stage.main = "knob"
    elif knobs <= 1:
        stage.main = "drawer"
    return stage


def bricks(kit: Kit) -> Stage:
    rng = kit.rng
    n = int(rng.choice([1, 1, 1, 2, 2, 3, 4]))
    long, wide = int(rng.integers(1, 7)), int(rng.choice([1, 2, 2, 2, 3]))
    stage = Stage("solid bricks", fill=(0.55, 1.1), look=str(rng.choice(["top", "oblique", "oblique"])))
    long = max(2, long) if n == 1 else long
    turn = rng.uniform(-30, 30)
    tone = tone_of(rng)
    for k in range(n):
        own = tone if rng.random() < 0.4 else tone_of(rng)
        y = (k - (n - 1) / 2) * (wide / long + 0.25 + 0.3 * rng.random())
        side = k + 1 if n == 2 else 0
        stage.put(
            parts.brick(kit, long, wide, own),
            (rng.normal(0, 0.08), y, 0.0),
            turn=turn + rng.normal(0, 8) * (n > 1),
            side=side,
        )
    return stage


def buttons(kit: Kit) -> Stage:
    rng = kit.rng
    holes, tone = int(rng.choice([2, 4, 4])), tone_of(rng)
    stage = Stage("solid buttons", fill=(0.5, 1.05), look=str(rng.choice(["top", "top", "oblique"])))
    if rng.random() < 0.3:
        stage.fill = (0.4, 0.85)
        stage.put(parts.button(kit, holes, tone), turn=rng.uniform(0, 90))
        return stage
    mixed = rng.random() < 0.4
    layout = places.scatter(rng, int(rng.integers(2, 12))) if rng.random() < 0.5 else two_rows(rng)
    fixed = parts.button(kit, holes, tone)
    make = (lambda: parts.button(kit, holes, tone_of(rng))) if mixed else lambda: fixed
    from_layout(kit, stage, layout, rng.uniform(1.05, 1.7), make)
    stage.main = "button"
    return stage


def bugs(kit: Kit) -> Stage:
    rng = kit.rng
    stage = Stage("solid bug", main="leg", fill=(0.5, 1.0), look=str(rng.choice(["top", "top", "oblique"])), flat=True)
    stage.put(parts.bug(kit, int(rng.choice([2, 3, 3, 4, 4, 5]))), turn=rng.uniform(0, 360))
    return stage


def stools(kit: Kit) -> Stage:
    rng = kit.rng
    if rng.random() < 0.5:
        stage = Stage("solid wagons", look=str(rng.choice(["front", "oblique"])), fill=(0.5, 1.05), main=None)
        shape = parts.cart(kit)
    else:
        stage = Stage("solid stools", look=str(rng.choice(["front", "oblique"])), fill=(0.5, 1.05))
        shape = parts.stool(kit, int(rng.choice([3, 4, 4])))
    n = int(rng.choice([1, 2, 2, 3, 4, 5]))
    for k in range(n):
        x = (k - (n - 1) / 2) * space(shape) * 1.25
        stage.put(shape, (x, 0.0, 0.0), turn=rng.uniform(-40, 40), side=k + 1 if n == 2 else 0)
    return stage

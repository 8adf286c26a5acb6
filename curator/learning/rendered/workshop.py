"""Small parts on a light table: screws, nuts, washers, hooks, rings, springs, keys, clips."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from curator.learning import paint
from curator.learning.drawn import places
from curator.learning.rendered.kit import Geom, Kit, Shape, Tone, lathe, tone_of, unlike_tone
from curator.learning.rendered.parts import bent
from curator.learning.rendered.stage import Stage, from_layout

Rng = np.random.Generator


def metal(rng: Rng) -> Tone:
    """Steel, brass, copper or black."""
    r, g, b = [(0.72, 0.73, 0.75), (0.55, 0.56, 0.58), (0.8, 0.66, 0.35), (0.72, 0.43, 0.3), (0.16, 0.16, 0.17)][
        int(rng.integers(5))
    ]
    return (r, g, b)


def _ring(kit: Kit, inner: float, outer: float, tall: float, tone: Tone, finish: str, steps: int) -> Geom:
    return kit.geom(
        "mesh",
        (),
        (0, 0, 0),
        tone,
        finish,
        mesh=lathe([(inner, 0), (outer, 0), (outer, tall), (inner, tall), (inner, 0)], steps),
    )


def nut(kit: Kit) -> Shape:
    tone, inner = metal(kit.rng), float(kit.rng.uniform(0.2, 0.3))
    tall = float(kit.rng.uniform(0.2, 0.4))
    return kit.shape(
        "nut", [_ring(kit, inner, 0.5, tall, tone, kit.plain(), int(kit.rng.choice([6, 6, 6, 4])))], (0.5, 0.5, tall)
    )


def washer(kit: Kit) -> Shape:
    tone = metal(kit.rng) if kit.rng.random() < 0.8 else tone_of(kit.rng)
    return kit.shape(
        "washer", [_ring(kit, float(kit.rng.uniform(0.15, 0.34)), 0.5, 0.06, tone, kit.plain(), 40)], (0.5, 0.5, 0.06)
    )


def hoop(kit: Kit) -> Shape:
    """A thick ring."""
    r = float(kit.rng.uniform(0.05, 0.14))
    out = [(0.5 - r + r * float(np.cos(a)), r + r * float(np.sin(a))) for a in np.linspace(0, 2 * np.pi, 10)]
    tone = metal(kit.rng) if kit.rng.random() < 0.4 else tone_of(kit.rng)
    return kit.shape(
        "hoop", [kit.geom("mesh", (), (0, 0, 0), tone, kit.finish(), mesh=lathe(out, 36))], (0.5, 0.5, 2 * r)
    )


def screw(kit: Kit) -> Shape:
    """Lies along y, its head at -y: countersunk, round or hexagonal, with a thread."""
    rng, tone, finish = kit.rng, metal(kit.rng), kit.plain()
    r, head = float(rng.uniform(0.04, 0.08)), float(rng.uniform(0.11, 0.19))
    zig = [(r * (1.0 if k % 2 else 0.72), 0.15 + 0.7 * k / 22) for k in range(23)]
    point = rng.random() < 0.6
    end = [(0.001, 0.99)] if point else [(r * 0.8, 0.9), (0.001, 0.9)]
    kind = int(rng.integers(3))
    top = [
        [(0.001, 0), (head, 0), (r, 0.12)],
        [(0.001, 0), (head * 0.8, 0.02), (head, 0.1), (r, 0.1)],
        [(0.001, 0), (head, 0), (head, 0.11), (r, 0.11)],
    ][kind]
    at = (0.0, -0.5, head)
    geoms = [
        kit.geom("mesh", (), at, tone, finish, angles=(-90, 0, 0), mesh=lathe(top, 6 if kind == 2 else 24)),
        kit.geom("mesh", (), at, tone, finish, angles=(-90, 0, 0), mesh=lathe([*zig, *end], 14)),
    ]
    if kind < 2:
        geoms.append(
            kit.geom("box", (head * 0.8, 0.004, head * 0.12), (0, -0.502, head), (0.1, 0.1, 0.1), finish, solid=False)
        )
    return kit.shape("screw", geoms, (head, 0.5, 2 * head))


def spring(kit: Kit) -> Shape:
    """Lies along y."""
    tone, turns = metal(kit.rng), int(kit.rng.integers(4, 8))
    r, thick = float(kit.rng.uniform(0.12, 0.2)), float(kit.rng.uniform(0.02, 0.035))
    t = np.linspace(0, 1, turns * 8)
    path = [
        (r * float(np.cos(2 * np.pi * turns * v)), float(v - 0.5), r + thick + r * float(np.sin(2 * np.pi * turns * v)))
        for v in t
    ]
    return kit.shape("spring", bent(kit, path, thick, tone, kit.plain()), (r, 0.5, 2 * r))


def key(kit: Kit) -> Shape:
    """Lies along y, its bow at +y."""
    rng, tone, finish = kit.rng, metal(kit.rng), kit.plain()
    big = float(rng.uniform(0.13, 0.2))
    ring = lathe([(big * 0.55, 0), (big, 0), (big, 0.05), (big * 0.55, 0.05), (big * 0.55, 0)], 28)
    geoms = [
        kit.geom("mesh", (), (0, 0.5 - big, 0), tone, finish, mesh=ring),
        kit.geom("box", (0.035, 0.36, 0.025), (0, -0.12, 0.025), tone, finish),
    ]
    for k in range(int(rng.integers(2, 5))):
        geoms.append(
            kit.geom(
                "box", (float(rng.uniform(0.03, 0.07)), 0.025, 0.02), (0.08, -0.46 + 0.075 * k, 0.025), tone, finish
            )
        )
    return kit.shape("key", geoms, (big, 0.5, 0.06))


def hook(kit: Kit) -> Shape:
    """A hook with an eye, lying along y."""
    rng, tone, finish, thick = kit.rng, metal(kit.rng), kit.plain(), float(kit.rng.uniform(0.03, 0.06))
    r = float(rng.uniform(0.13, 0.22))
    bend = [(r * float(np.cos(a)) - r, -0.2 + r * float(np.sin(a)), thick) for a in np.linspace(0, -3.6, 9)]
    eye = [(0.09 * float(np.cos(a)), 0.4 + 0.09 * float(np.sin(a)), thick) for a in np.linspace(0, 6.28, 9)]
    geoms = bent(kit, [(0.0, 0.31, thick), *bend], thick, tone, finish) + bent(kit, eye, thick * 0.8, tone, finish)
    return kit.shape("hook", geoms, (2 * r, 0.5, 2 * thick))


def clip(kit: Kit) -> Shape:
    """A bent wire for papers, lying along y."""
    thick, tone = 0.022, metal(kit.rng) if kit.rng.random() < 0.5 else tone_of(kit.rng)
    flat = [
        (-0.1, 0.1),
        (-0.1, -0.35),
        (-0.05, -0.43),
        (0.05, -0.43),
        (0.12, -0.35),
        (0.12, 0.4),
        (0.05, 0.48),
        (-0.07, 0.48),
        (-0.15, 0.4),
        (-0.15, -0.25),
    ]
    return kit.shape(
        "clip", bent(kit, [(x, y, thick) for x, y in flat], thick, tone, kit.plain()), (0.17, 0.5, 2 * thick)
    )


def gear(kit: Kit) -> Shape:
    rng, tone = kit.rng, tone_of(kit.rng)
    teeth, tall = int(rng.integers(8, 15)), float(rng.uniform(0.1, 0.25))
    vertices, faces = lathe([(0.12, 0), (0.5, 0), (0.5, tall), (0.12, tall), (0.12, 0)], teeth * 4)
    outer = np.hypot(vertices[:, 0], vertices[:, 1]) > 0.3
    low = (np.arange(len(vertices)) % (teeth * 4) % 4 < 2) & outer
    vertices[low, :2] *= 0.8
    return kit.shape(
        "gear", [kit.geom("mesh", (), (0, 0, 0), tone, kit.finish(), mesh=(vertices, faces))], (0.5, 0.5, tall)
    )


def peg(kit: Kit) -> Shape:
    """A clothes peg, lying along y."""
    rng, finish = kit.rng, kit.finish()
    tone = (0.8, 0.63, 0.42) if rng.random() < 0.6 else tone_of(rng)
    geoms = [
        kit.geom("box", (0.035, 0.5, 0.06), (x, 0, 0.06), tone, finish, angles=(0, 0, a))
        for x, a in ((-0.06, -3.5), (0.06, 3.5))
    ]
    geoms.append(kit.geom("cylinder", (0.06, 0.065), (0, 0.08, 0.06), metal(rng), kit.plain(), solid=False))
    return kit.shape("peg", geoms, (0.12, 0.5, 0.12))


def cell(kit: Kit) -> Shape:
    """A battery, lying along y."""
    rng, tone, finish = kit.rng, tone_of(kit.rng), kit.plain()
    r = float(rng.uniform(0.12, 0.18))
    geoms = [
        kit.geom("cylinder", (r, 0.32), (0, -0.14, r), tone, finish, angles=(90, 0, 0)),
        kit.geom("cylinder", (r, 0.14), (0, 0.32, r), unlike_tone(rng, tone), finish, angles=(90, 0, 0)),
        kit.geom(
            "cylinder", (r * 0.35, 0.02), (0, 0.48, r), (0.75, 0.75, 0.76), finish, angles=(90, 0, 0), solid=False
        ),
    ]
    return kit.shape("battery", geoms, (r, 0.5, 2 * r))


PIECES: dict[str, Callable[[Kit], Shape]] = {
    "nut": nut,
    "washer": washer,
    "hoop": hoop,
    "screw": screw,
    "spring": spring,
    "key": key,
    "hook": hook,
    "clip": clip,
    "gear": gear,
    "peg": peg,
    "battery": cell,
}
ALIKE = (
    {"nut", "washer"},
    {"washer", "hoop"},
    {"nut", "hoop"},
    {"screw", "peg"},
    {"gear", "nut"},
    {"hoop", "gear"},
    {"gear", "washer"},
)
"""Pieces that a person might count together."""


def pieces(kit: Kit) -> Stage:
    """Two to nine of one piece, all alike or of several sizes, often with single others beside."""
    rng = kit.rng
    stage = Stage("solid pieces", fill=(0.55, 1.05), look=str(rng.choice(["top", "top", "oblique"])), flat=True)
    name, n = str(rng.choice(list(PIECES))), int(rng.integers(2, 10))
    layout = (
        places.scatter(rng, n) if rng.random() < 0.6 else places.rows(rng, (n,) if n < 5 else ((n + 1) // 2, n // 2))
    )
    first, mixed = PIECES[name](kit), rng.random() < 0.35
    _from(kit, stage, layout, name, first, mixed)
    far = max(float(np.hypot(*p.at[:2])) for p in stage.placed) + 0.6
    a = float(rng.uniform(0, 6.28))
    for _ in range(int(rng.choice([0, 0, 0, 1, 2, 3]))):
        others = [
            o for o in PIECES if o != name and {o, name} not in ALIKE and o not in {p.shape.kind for p in stage.placed}
        ]
        a += float(rng.uniform(1.2, 2.0))
        stage.put(
            PIECES[str(rng.choice(others))](kit),
            (far * float(np.cos(a)), far * float(np.sin(a)), 0.0),
            turn=float(rng.uniform(0, 360)),
            framed=False,
        )
    stage.main, stage.table = first.kind, light(rng) if rng.random() < 0.6 else None
    return stage


def _from(kit: Kit, stage: Stage, layout: places.Layout, name: str, first: Shape, mixed: bool) -> None:
    """The pieces at their places; `mixed` ones differ in size and make."""

    def make() -> Shape:
        if not mixed:
            return first
        kit.unit = float(kit.rng.uniform(0.65, 1.0))
        made = PIECES[name](kit)
        kit.unit = 1.0
        return made

    from_layout(kit, stage, layout, float(np.exp(kit.rng.uniform(np.log(0.95), np.log(1.7)))), make)


def light(rng: Rng) -> paint.Picture:
    """A light table: near white, hardly any grain."""
    picture = np.full((64, 64, 3), 245.0, np.float32) * (1 + 0.03 * paint.noise(rng, (64, 64))[..., None])
    return np.asarray(picture * rng.uniform(0.8, 1.0) * (1 + rng.normal(0, 0.02, 3)), np.float32)

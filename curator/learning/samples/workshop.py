"""Things of a workshop, a sewing box and a cloakroom, each about one unit across, standing on z = 0."""

from __future__ import annotations

import math
import random

import numpy as np

from curator.learning.samples import materials as made_of
from curator.learning.samples.nodes import Colour
from curator.learning.samples.shapes import cut_out, egg_shaped, swept, turned


def button(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A four-hole button: a raised rim, a dished middle, thread-worn holes."""
    horn = made_of.plain(colour, 0.24, bump=0.03, spread=0.12, Coat_Weight=0.3)
    turn += chance.uniform(-0.8, 0.8)
    lean = (chance.gauss(0, 0.02), chance.gauss(0, 0.02), turn)
    turned(
        [
            (0.0, 0.0),
            (0.34, 0.0),
            (0.41, 0.05),
            (0.42, 0.1),
            (0.4, 0.14),
            (0.36, 0.145),
            (0.31, 0.11),
            (0.22, 0.075),
            (0.0, 0.07),
        ],
        horn,
        (x, y, 0.01),
        lean,
        steps=64,
    )
    dark, rim = made_of.plain((0.012, 0.01, 0.009), 0.9), horn
    for k in range(4):
        a = turn + math.pi / 4 + k * math.pi / 2
        at = (x + 0.115 * math.cos(a), y + 0.115 * math.sin(a), 0.082)
        turned([(0.0, 0.0), (0.047, 0.0), (0.05, 0.002)], dark, (at[0], at[1], 0.0845), finer=0, steps=20)
        turned([(0.045, 0.0), (0.052, 0.009), (0.062, 0.0)], rim, (at[0], at[1], 0.08), finer=2, steps=20)


def tin(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A paint tin: rolled rims, a lid with a groove, paint run over the edge, a wire handle laid down."""
    steel = made_of.metal((0.62, 0.62, 0.63), 0.3, 0.5)
    turned(
        [
            (0.0, 0.0),
            (0.375, 0.0),
            (0.39, 0.02),
            (0.375, 0.045),
            (0.375, 0.66),
            (0.392, 0.69),
            (0.385, 0.715),
            (0.36, 0.715),
            (0.35, 0.68),
            (0.33, 0.68),
            (0.32, 0.705),
            (0.3, 0.705),
            (0.29, 0.675),
            (0.0, 0.672),
        ],
        steel,
        (x, y, 0),
        (0, 0, chance.uniform(0, 6)),
        steps=64,
    )
    label = made_of.painted(colour, times(colour, 0.5), worn=0.15, rough=0.4)
    turned(
        [(0.3765, 0.07), (0.3785, 0.075), (0.3785, 0.6), (0.3765, 0.605)],
        label,
        (x, y, 0),
        (0, 0, chance.uniform(0, 6)),
        steps=64,
        finer=0,
    )
    wet = made_of.plain(times(colour, 1.25), 0.28, bump=0.2, spread=0.05)
    start = chance.uniform(0, 6.28)
    arc = [
        (0.305 * math.cos(start + t), 0.305 * math.sin(start + t), 0.69)
        for t in np.linspace(0, chance.uniform(1.2, 3.6), 9)
    ]
    swept(arc, [chance.uniform(0.006, 0.022) for _ in range(9)], wet, (x, y, 0), flat=0.8)
    for _ in range(chance.randrange(1, 4)):
        a, far = chance.uniform(0, 6.28), chance.uniform(0.03, 0.24)
        r = chance.uniform(0.008, 0.035)
        egg_shaped(
            wet, (x + far * math.cos(a), y + far * math.sin(a), 0.675), (r, r * 0.8, 0.006), (0, 0, a), lumps=0.3
        )
    wire = made_of.metal((0.5, 0.5, 0.5), 0.3, 0.5)
    a = chance.uniform(0, 6.28)
    bail = [
        (0.41 * math.cos(t), 0.41 * math.sin(t), 0.56 - 0.36 * math.sin(t))
        for t in np.linspace(0.05, math.pi - 0.05, 9)
    ]
    swept(bail, 0.014, wire, (x, y, 0), (0, 0, a))


def times(colour: Colour, by: float) -> Colour:
    return made_of.times(colour, by)


def crayon(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A wax crayon in a paper sleeve, its point away (+y), each one worn down another way."""
    turn += chance.gauss(0, 0.05)
    wax = made_of.plain(colour, 0.38, bump=0.18, spread=0.1)
    blunt = chance.uniform(0.02, 0.06)
    tip = chance.uniform(0.86, 0.97)
    line = [
        (0.0, -0.78),
        (0.14, -0.78),
        (0.15, -0.76),
        (0.15, 0.68),
        (0.135, 0.7),
        (blunt + 0.01, tip - 0.03),
        (blunt, tip),
        (0.0, tip + 0.02),
    ]
    lay = (-math.pi / 2, 0, turn)
    turned(line, wax, (x, y, 0.155), lay, steps=36)
    paper = made_of.cloth(times(colour, 0.55), weave=90.0)
    end = chance.uniform(0.38, 0.5)
    turned(
        [(0.151, -0.62), (0.158, -0.61), (0.158, end - 0.01), (0.151, end)],
        paper,
        (x, y, 0.155),
        lay,
        steps=36,
        finer=0,
    )
    band = made_of.plain(times(colour, 0.2), 0.6)
    for z in (-0.52, end - 0.1):
        turned(
            [(0.158, z - 0.025), (0.1592, z - 0.02), (0.1592, z + 0.02), (0.158, z + 0.025)],
            band,
            (x, y, 0.155),
            lay,
            steps=36,
            finer=0,
        )


def peg(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A clothes peg on its side: two shaped prongs, a wound spring."""
    turn += chance.gauss(0, 0.05)
    ash = made_of.wood(colour, gloss=0.6, size=1.2)
    side = [
        (0.02, 0.64),
        (0.075, 0.66),
        (0.155, 0.5),
        (0.165, 0.12),
        (0.15, 0.06),
        (0.165, 0.0),
        (0.165, -0.2),
        (0.185, -0.62),
        (0.155, -0.66),
        (0.1, -0.64),
        (0.018, 0.02),
        (0.018, 0.2),
        (0.05, 0.27),
        (0.05, 0.33),
        (0.018, 0.38),
    ]
    for flip in (1, -1):
        outline = [(flip * a, b) for a, b in side]
        # grain runs along x in the material, so the outline is laid along x and turned
        laid = [(b, -a) for a, b in (outline if flip > 0 else outline[::-1])]
        cut_out(laid, 0.2, ash, (x, y, 0.01), (0, 0, turn + math.pi / 2 + flip * 0.005), bevel=0.012)
    steel = made_of.metal((0.5, 0.5, 0.5), 0.3, 0.5)
    coil = [(0.055 * math.cos(a), 0.055 * math.sin(a) + 0.05, 0.24 * a / 25 - 0.01) for a in np.linspace(0, 25, 60)]
    swept(coil, 0.016, steel, (x, y, 0), (0, 0, turn), steps=8, curve=2)
    for flip in (1, -1):
        arm = [
            (0.03 * flip, 0.06, 0.225),
            (0.1 * flip, 0.12, 0.225),
            (0.168 * flip, 0.11, 0.215),
            (0.178 * flip, 0.09, 0.12),
        ]
        swept(arm, 0.015, steel, (x, y, 0), (0, 0, turn), steps=8)


def knob(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A turned brass drawer knob, standing on its foot."""
    brass = made_of.metal(colour, 0.2, 0.55)
    lean = (chance.gauss(0, 0.015), chance.gauss(0, 0.015), 0)
    turned(
        [
            (0.0, 0.0),
            (0.17, 0.0),
            (0.18, 0.03),
            (0.13, 0.06),
            (0.1, 0.13),
            (0.12, 0.19),
            (0.26, 0.24),
            (0.31, 0.3),
            (0.3, 0.36),
            (0.255, 0.4),
            (0.235, 0.395),
            (0.215, 0.415),
            (0.1, 0.44),
            (0.0, 0.445),
        ],
        brass,
        (x, y, 0),
        lean,
        steps=56,
    )


def hook(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A cast coat hook on a back plate with two screws; the wall is z = 0, down is -y."""
    iron = made_of.painted(colour, (0.2, 0.12, 0.07), worn=0.5, rough=0.3)
    plate = [
        (0.11 * math.cos(a), 0.12 * math.sin(a) + (0.3 if math.sin(a) > 0 else -0.08))
        for a in np.linspace(0, 2 * math.pi, 32, endpoint=False)
    ]
    cut_out(plate, 0.035, iron, (x, y, 0.06), (0, 0, chance.gauss(0, 0.015)), bevel=0.012)
    long = [
        (0, 0.12, 0.08),
        (0, 0.06, 0.2),
        (0, -0.08, 0.3),
        (0, -0.24, 0.36),
        (0, -0.33, 0.47),
        (0, -0.27, 0.58),
        (0, -0.2, 0.62),
    ]
    swept(long, [0.055, 0.05, 0.045, 0.042, 0.04, 0.038, 0.04], iron, (x, y, 0))
    egg_shaped(iron, (x, y - 0.2, 0.635), (0.068, 0.068, 0.068))
    top = [(0, 0.18, 0.08), (0, 0.3, 0.19), (0, 0.42, 0.26), (0, 0.5, 0.33)]
    swept(top, [0.05, 0.042, 0.038, 0.036], iron, (x, y, 0))
    egg_shaped(iron, (x, y + 0.51, 0.35), (0.056, 0.056, 0.056))
    screw = made_of.metal((0.5, 0.46, 0.36), 0.3, 0.5)
    for off in (0.36, -0.13):
        turned([(0.0, 0.03), (0.02, 0.028), (0.035, 0.014), (0.037, 0.0)], screw, (x, y + off, 0.094), steps=20)


def pip(x: float, y: float, turn: float, colour: Colour, chance: random.Random) -> None:
    """A painted hollow in the top of a die or domino (z = .55)."""
    paint = made_of.plain(colour, 0.3, bump=0.15, spread=0.02)
    turned(
        [(0.0, 0.004), (0.06, 0.006), (0.098, 0.014), (0.11, 0.012), (0.117, 0.0)],
        paint,
        (x, y, 0.548),
        finer=3,
        steps=32,
        lumps=0.004,
        seed=x * 9 + y,
    )


BUILDERS = {f.__name__: f for f in (button, tin, crayon, peg, knob, hook, pip)}

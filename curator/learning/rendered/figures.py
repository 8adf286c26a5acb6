"""Larger things that come in many looks: jars, teapots, mugs, boots, bags, potted plants, birds and soft animals."""

from __future__ import annotations

import numpy as np

from curator.learning import paint
from curator.learning.rendered.kit import Geom, Kit, Point, Shape, Tone, lathe, superquadric, tone_of, unlike_tone
from curator.learning.rendered.parts import rod
from curator.learning.rendered.soft import Cone, Limb, chain, soft
from curator.learning.rendered.things import Maker, shoe

Rng = np.random.Generator


def _grown(kit: Kit, trunk: list[Cone], limbs: list[Limb], tones: dict[int, Tone], finish: str) -> list[Geom]:
    """The meshes of a soft body, each part in its tone; none of them is counted by itself."""
    skins = soft(trunk, limbs, 0.038)
    return [
        kit.geom("mesh", (), (0, 0, 0), tones.get(part, tones[-1]), finish, mesh=skin, solid=False)
        for part, skin in skins.items()
    ]


def _eyes(kit: Kit, at: Point, apart: float, big: float) -> list[Geom]:
    finish = kit.plain()
    return [
        kit.geom("sphere", (big,), (at[0] + s * apart, at[1], at[2]), (0.05, 0.05, 0.05), finish, solid=False)
        for s in (-1, 1)
    ]


def bird(kit: Kit) -> Shape:
    """A swan, goose or duck on ground or water, its beak towards +x; the neck long or short, bent or straight."""
    rng = kit.rng
    tone: Tone = (0.93, 0.93, 0.9) if rng.random() < 0.45 else tone_of(rng)
    long, bend = float(rng.uniform(0.1, 0.75)), float(rng.uniform(-0.12, 0.3))
    legs = rng.random() < 0.4
    z = 0.5 if legs else 0.24
    trunk = [
        Cone((-0.25, 0, z), (0.22, 0, z + 0.02), 0.24, 0.2),
        Cone((-0.3, 0, z + 0.04), (-0.62, 0, z + 0.16), 0.14, 0.03),
    ]
    neck: list[Point] = [
        (0.28, 0, z + 0.08),
        (0.42 - bend * 0.3, 0, z + 0.2 + long * 0.4),
        (0.36 - bend * 0.5, 0, z + 0.3 + long * 0.8),
        (0.44, 0, z + 0.34 + long),
    ]
    head: list[Point] = [neck[-1], (0.54, 0, neck[-1][2] - 0.02)]
    beak: list[Point] = [(0.58, 0, head[1][2] - 0.01), (0.75, 0, head[1][2] - 0.05)]
    wings = [
        Limb(k, [Cone((0.1, s * 0.2, z + 0.08), (-0.42, s * 0.2, z + 0.14), 0.13, 0.03)], 0.02)
        for k, s in ((2, -1), (3, 1))
    ]
    limbs = [
        Limb(0, [*chain(neck, [0.11, 0.08, 0.075, 0.08]), *chain(head, [0.1, 0.08])], 0.1),
        Limb(1, chain(beak, [0.06, 0.025]), 0.01),
        *wings,
    ]
    wing = unlike_tone(rng, tone) if rng.random() < 0.4 else tone
    tones: dict[int, Tone] = {
        -1: tone,
        0: unlike_tone(rng, tone) if rng.random() < 0.25 else tone,
        1: (0.9, 0.5, 0.1),
        2: wing,
        3: wing,
    }
    geoms = _grown(kit, trunk, limbs, tones, kit.finish())
    geoms += [
        kit.geom("sphere", (0.018,), (0.53, s * 0.085, head[1][2] + 0.03), (0.03, 0.03, 0.03), kit.plain(), solid=False)
        for s in (-1, 1)
    ]
    for s in (-1, 1) if legs else ():
        geoms.append(
            rod(kit, (0.0, s * 0.1, z - 0.15), (0.02, s * 0.1, 0.02), 0.025, (0.85, 0.5, 0.15), kit.plain(), -1)
        )
        geoms.append(
            kit.geom(
                "ellipsoid", (0.1, 0.06, 0.015), (0.06, s * 0.1, 0.015), (0.85, 0.5, 0.15), kit.plain(), solid=False
            )
        )
    return kit.shape("bird", geoms, (0.75, 0.3, z + 0.45 + long))


def plush(kit: Kit) -> Shape:
    """A sitting soft animal that looks to -y: round or long ears, long or short arms."""
    rng, tone = kit.rng, tone_of(kit.rng)
    pale = tuple(float(min(1, c * 1.3 + 0.1)) for c in tone)
    round_ears = rng.random() < 0.5
    fat, head = float(rng.uniform(0.2, 0.3)), float(rng.uniform(0.19, 0.26))
    top = 0.62 + head * 0.7
    trunk = [
        Cone((0, 0, 0.26), (0, 0, 0.52), fat, fat * 0.75),
        Cone((0, -0.02, top - 0.02), (0, -0.03, top + 0.02), head, head),
    ]
    limbs = [
        Limb(0, [Cone((0, -head * 0.85, top - 0.05), (0, -head * 1.1, top - 0.06), head * 0.42, head * 0.35)], 0.03)
    ]
    for k, s in ((2, -1), (3, 1)):
        ear = [Cone((s * head * 0.7, 0, top + head * 0.75), (s * head * 0.75, 0, top + head * 0.85), 0.09, 0.09)]
        if not round_ears:
            ear = [
                Cone(
                    (s * head * 0.4, 0, top + head * 0.8),
                    (s * head * float(rng.uniform(0.3, 1.4)), 0.05, top + head + 0.4),
                    0.06,
                    0.075,
                )
            ]
        limbs.append(Limb(k, ear, 0.03))
        limbs.append(Limb(4, [Cone((s * fat * 0.85, -0.02, 0.5), (s * (fat + 0.13), -0.14, 0.28), 0.09, 0.085)], 0.04))
        limbs.append(Limb(5, [Cone((s * fat * 0.6, -0.1, 0.12), (s * (fat * 0.9), -0.42, 0.11), 0.12, 0.11)], 0.04))
    tones: dict[int, Tone] = {-1: tone, 0: (pale[0], pale[1], pale[2])}
    geoms = _grown(kit, trunk, limbs, tones, kit.finish())
    geoms += _eyes(kit, (0, -head * 0.93, top + 0.06), head * 0.4, 0.028)
    geoms.append(
        kit.geom(
            "ellipsoid", (0.04, 0.03, 0.03), (0, -head * 1.42, top - 0.03), (0.1, 0.07, 0.07), kit.plain(), solid=False
        )
    )
    if rng.random() < 0.4:
        scarf = lathe([(fat * 0.72, 0.5), (fat * 0.95, 0.55), (fat * 0.72, 0.6)], 24)
        geoms.append(kit.geom("mesh", (), (0, 0, 0), unlike_tone(rng, tone), kit.finish(), mesh=scarf, solid=False))
    return kit.shape("plush", geoms, (0.45, 0.5, top + head + (0.1 if round_ears else 0.35)))


def jar(kit: Kit) -> Shape:
    """A jar of any build with a lid or a cloth, some of it filled with another tone."""
    rng, tone = kit.rng, tone_of(kit.rng)
    r, neck, tall = float(rng.uniform(0.25, 0.45)), float(rng.uniform(0.6, 1.0)), float(rng.uniform(0.6, 1.1))
    out = [
        (0.001, 0),
        (r * 0.92, 0),
        (r, 0.06),
        (r, tall * 0.75),
        (r * neck, tall * 0.88),
        (r * neck, tall),
        (0.001, tall),
    ]
    finish = kit.finish()
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out, 36))]
    if rng.random() < 0.5:
        half = tall * float(rng.uniform(0.12, 0.25))
        geoms.append(
            kit.geom(
                "cylinder", (r * 1.008, half), (0, 0, tall * 0.4), unlike_tone(rng, tone), kit.finish(), solid=False
            )
        )
    lid = unlike_tone(rng, tone)
    if rng.random() < 0.7:
        geoms.append(kit.geom("cylinder", (r * neck * 1.1, 0.06), (0, 0, tall + 0.03), lid, kit.finish()))
    if rng.random() < 0.3:
        geoms.append(kit.geom("sphere", (0.07,), (0, 0, tall + 0.13), lid, kit.plain()))
    return kit.shape("jar", geoms, (r, r, tall + 0.1))


def mug(kit: Kit) -> Shape:
    """A mug of any build with its handle at a side, and what is in it."""
    rng, tone = kit.rng, tone_of(kit.rng)
    low, high, tall = float(rng.uniform(0.25, 0.42)), float(rng.uniform(0.3, 0.46)), float(rng.uniform(0.5, 1.0))
    belly = float(rng.uniform(-0.05, 0.09))
    out = [
        (0.001, 0),
        (low, 0),
        (low + 0.02, 0.03),
        ((low + high) / 2 + belly, tall / 2),
        (high, tall),
        (high - 0.04, tall),
        (high - 0.05, tall * 0.5),
        (0.001, 0.1),
    ]
    finish, own = kit.finish(), tone if rng.random() < 0.7 else unlike_tone(rng, tone)
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out, 36))]
    x, out_by, z = (low + high) / 2 + belly - 0.03, float(rng.uniform(0.15, 0.3)), tall / 2
    bow = [(x + out_by * float(np.sin(a)), 0.0, z - tall * 0.28 * float(np.cos(a))) for a in np.linspace(0, np.pi, 7)]
    geoms += [rod(kit, bow[k], bow[k + 1], 0.045, own, finish, -1) for k in range(6)]
    if rng.random() < 0.5:
        geoms.append(
            kit.geom(
                "cylinder", ((low + high) / 2 - 0.06, 0.01), (0, 0, tall * 0.72), tone_of(rng), kit.plain(), solid=False
            )
        )
    return kit.shape("mug", geoms, (0.55, 0.46, tall))


def teapot(kit: Kit) -> Shape:
    rng, tone = kit.rng, tone_of(kit.rng)
    r, tall = float(rng.uniform(0.3, 0.42)), float(rng.uniform(0.5, 0.75))
    t = np.linspace(-1.2, 1.25, 12)
    out = [
        (0.001, 0.0),
        *((float(r * np.cos(a) ** 0.8), float(tall * (0.5 + 0.53 * np.sin(a)))) for a in t),
        (0.001, tall * 1.03),
    ]
    finish = kit.finish()
    geoms = [
        kit.geom("mesh", (), (0, 0, 0), tone, finish, mesh=lathe(out, 36)),
        kit.geom("sphere", (0.06,), (0, 0, tall * 1.08), unlike_tone(rng, tone), finish),
    ]
    spout: list[Point] = [(r * 0.75, 0, tall * 0.35), (r * 1.25, 0, tall * 0.5), (r * 1.55, 0, tall * 0.95)]
    for k, thick in enumerate((0.085, 0.06)):
        geoms.append(rod(kit, spout[k], spout[k + 1], thick, tone, finish, -1))
    bow = [
        (-r * 0.85 - 0.28 * float(np.sin(a)), 0.0, tall * (0.5 - 0.32 * float(np.cos(a))))
        for a in np.linspace(0, np.pi, 7)
    ]
    geoms += [rod(kit, bow[k], bow[k + 1], 0.045, tone, finish, -1) for k in range(6)]
    return kit.shape("teapot", geoms, (0.7, 0.42, tall * 1.15))


def boot(kit: Kit) -> Shape:
    """One shoe or boot of its own size and look."""
    kit.flip = bool(kit.rng.random() < 0.5)
    made = shoe(kit)
    kit.flip = False
    made.kind = "boot"
    return made


def bag(kit: Kit) -> Shape:
    """A bag or a satchel with a handle."""
    rng, tone = kit.rng, tone_of(kit.rng)
    x, y, z = float(rng.uniform(0.3, 0.5)), float(rng.uniform(0.12, 0.25)), float(rng.uniform(0.3, 0.55))
    finish, other = kit.finish(), unlike_tone(rng, tone)
    geoms = [kit.geom("mesh", (), (0, 0, z), tone, finish, mesh=superquadric((x, y, z), 0.35, 0.4))]
    geoms.append(
        kit.geom(
            "mesh",
            (),
            (0, -y * 0.75, z * 0.65),
            other,
            kit.finish(),
            mesh=superquadric((x * 0.7, y * 0.5, z * 0.45), 0.3, 0.4),
            solid=False,
        )
    )
    bow = [(0.6 * x * float(np.cos(a)), 0.0, 2 * z - 0.03 + 0.25 * float(np.sin(a))) for a in np.linspace(0, np.pi, 8)]
    geoms += [rod(kit, bow[k], bow[k + 1], 0.03, other, finish, -1) for k in range(7)]
    return kit.shape("bag", geoms, (x, y * 1.3, 2 * z + 0.22))


def plant(kit: Kit) -> Shape:
    """A plant in a pot: blades, or stalks with leaves or flowers."""
    rng, tone = kit.rng, tone_of(kit.rng)
    low, high, tall = float(rng.uniform(0.18, 0.28)), float(rng.uniform(0.25, 0.36)), float(rng.uniform(0.3, 0.5))
    pot = lathe(
        [
            (0.001, 0),
            (low, 0),
            (high, tall),
            (high + 0.03, tall),
            (high + 0.03, tall + 0.06),
            (high - 0.03, tall + 0.06),
            (0.001, tall - 0.03),
        ],
        32,
    )
    geoms = [kit.geom("mesh", (), (0, 0, 0), tone, kit.finish(), mesh=pot)]
    r, g, b = (paint.hsv(rng.integers(30, 60), rng.uniform(0.4, 0.8), rng.uniform(0.3, 0.8)) / 255).tolist()
    green, finish, bloom, flowers = (float(r), float(g), float(b)), kit.plain(), tone_of(rng), rng.random() < 0.4
    wide, high_up = float(rng.uniform(0.15, 0.45)), float(rng.uniform(0.3, 0.8))
    for _ in range(int(rng.integers(6, 22))):
        a = float(rng.uniform(0, 6.28))
        root = (0.12 * float(np.cos(a)), 0.12 * float(np.sin(a)), tall)
        end = (wide * float(np.cos(a)), wide * float(np.sin(a)), tall + high_up * float(rng.uniform(0.5, 1)))
        geoms.append(rod(kit, root, end, 0.015, green, finish, -1))
        leaf = (0.1, 0.05, 0.015) if not flowers else (0.08, 0.08, 0.04)
        geoms.append(
            kit.geom(
                "ellipsoid",
                leaf,
                end,
                bloom if flowers else green,
                finish,
                angles=(0, -30, float(np.degrees(a))),
                solid=False,
            )
        )
    return kit.shape("plant", geoms, (max(wide, high), max(wide, high), tall + high_up))


FIGURES: dict[str, Maker] = {
    "bird": bird,
    "plush": plush,
    "jar": jar,
    "mug": mug,
    "teapot": teapot,
    "boot": boot,
    "bag": bag,
    "plant": plant,
}

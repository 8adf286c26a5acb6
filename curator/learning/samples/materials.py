"""What things are made of: grain, weave, glaze, pulp, skin. Every pattern is a noise of our own, nothing is a picture."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from curator.learning.samples.nodes import Colour, Tree

Make = TypeVar("Make", bound=Callable[..., Any])
KEPT: dict[Any, Any] = {}  # emptied by each new scene


def kept(make: Make) -> Make:
    """The same material for the same words within one scene."""

    @wraps(make)
    def once(*words: Any, **more: Any) -> Any:
        key = (make.__name__, words, tuple(sorted(more.items())))
        if key not in KEPT:
            KEPT[key] = make(*words, **more)
        return KEPT[key]

    return once  # type: ignore[return-value]


def times(colour: Colour, by: float) -> Colour:
    return tuple(min(1.0, c * by) for c in colour)  # type: ignore[return-value]


@kept
def wood(colour: Colour, *, gloss: float = 0.45, size: float = 1.0) -> Any:
    """Grain along x, each board another."""
    t = Tree("wood")
    at = t.shaken()
    rings = t.noise(1.0, detail=4, rough=0.6, warp=1.2, at=t.stretched(0.35 * size, 4.5 * size, 4.5 * size, at))
    fibre = t.noise(1.0, detail=3, rough=0.7, at=t.stretched(2.5 * size, 75 * size, 75 * size, at))
    body = t.ramp(
        rings, (0.25, times(colour, 0.42)), (0.47, colour), (0.58, times(colour, 0.68)), (0.8, times(colour, 1.25))
    )
    body = t.mix(0.5, t.tinted(body, 0.3), t.ramp(fibre, (0.3, 0.45), (0.62, 1.0)), "MULTIPLY")
    body = t.mix(0.8, body, t.ramp(t.noise(0.55, detail=4, at=at), (0.42, 1.0), (0.75, 0.62)), "MULTIPLY")
    rough = t.ramp(t.mix(0.5, fibre, rings), (0.3, gloss + 0.25), (0.7, gloss - 0.08))
    return t.done(body, rough, bump=t.bump(fibre, 0.3, 0.012))


@kept
def stone(colour: Colour, slab: float = 0.0) -> Any:
    """Grit and pits; `slab` is the side of flags with sandy joints (0 for one piece)."""
    t = Tree("stone")
    grit, cloud, speck = (
        t.noise(38, detail=4, rough=0.75),
        t.noise(0.9, detail=5, rough=0.6),
        t.noise(11, detail=5, rough=0.7),
    )
    body = t.ramp(cloud, (0.3, times(colour, 0.62)), (0.5, colour), (0.72, times(colour, 1.3)))
    body = t.mix(0.75, body, t.ramp(grit, (0.3, 0.5), (0.55, 1.0), (0.75, 1.35)), "MULTIPLY")
    body = t.mix(t.ramp(speck, (0.62, 0.0), (0.75, 0.55)), body, times(colour, 0.38))
    joint: Any = 0.0
    if slab:
        bricks = t.node(
            "TexBrick", {"offset": 0.37}, Vector=t.shaken(), Scale=1.0, Mortar_Size=0.028, Mortar_Smooth=0.35,
            Brick_Width=slab * 1.45, Row_Height=slab, Color1=(0.75, 0.75, 0.75), Color2=(1.12, 1.1, 1.05), Mortar=(1, 1, 1),
        )  # fmt: skip
        joint = bricks.outputs[1]
        body = t.mix(1.0, body, bricks.outputs[0], "MULTIPLY")
        moss = t.mix(t.ramp(speck, (0.42, 0.0), (0.6, 1.0)), (0.075, 0.062, 0.045), (0.05, 0.075, 0.02))
        body = t.mix(joint, body, moss)
    height = t.maths(
        "SUBTRACT", t.maths("ADD", t.maths("MULTIPLY", grit, 0.35), speck), t.maths("MULTIPLY", joint, 2.0)
    )
    return t.done(body, t.ramp(cloud, (0.3, 0.9), (0.7, 0.62)), bump=t.bump(height, 0.5, 0.03))


@kept
def cloth(colour: Colour, stripe: Colour | None = None, *, weave: float = 26.0, gap: float = 1.1) -> Any:
    """A plain weave with thick and thin threads; `stripe` is the colour of bands along y, `gap` apart."""
    t = Tree("cloth")
    bent = t.node(
        "VectorMath",
        {"operation": "ADD"},
        in0=t.at,
        in1=t.node(
            "VectorMath",
            {"operation": "SCALE"},
            Vector=t.node("TexNoise", Scale=2.2, Detail=2.0).outputs[1],
            Scale=0.05,
        ).outputs[0],
    ).outputs[0]
    bands = {"wave_type": "BANDS", "wave_profile": "SIN"}
    warp = t.node(
        "TexWave", {**bands, "bands_direction": "X"}, Vector=bent, Scale=weave, Distortion=0.4, Detail=1.0
    ).outputs[1]
    weft = t.node(
        "TexWave", {**bands, "bands_direction": "Y"}, Vector=bent, Scale=weave, Distortion=0.4, Detail=1.0
    ).outputs[1]
    thick = t.noise(1.0, detail=2, at=t.stretched(60, 3, 3))
    height = t.maths("ADD", t.maths("MULTIPLY", warp, weft), t.maths("MULTIPLY", thick, 0.5))
    body: Any = colour
    if stripe:
        across = t.maths("FRACT", t.maths("DIVIDE", t.node("SeparateXYZ", Vector=bent).outputs[0], gap))
        edge = t.maths("ABSOLUTE", t.maths("SUBTRACT", across, 0.5))
        inner = t.ramp(edge, (0.06, 1.0), (0.075, 0.0))
        outer = t.maths("MULTIPLY", t.ramp(edge, (0.11, 0.0), (0.12, 1.0)), t.ramp(edge, (0.14, 1.0), (0.15, 0.0)))
        body = t.mix(t.maths("ADD", inner, outer, clamp=True), colour, stripe)
    body = t.mix(0.65, body, t.ramp(height, (0.1, 0.55), (0.8, 1.08)), "MULTIPLY")
    body = t.mix(0.5, body, t.ramp(t.noise(1.3, detail=4), (0.35, 0.8), (0.65, 1.05)), "MULTIPLY")
    return t.done(body, 0.92, bump=t.bump(height, 0.6, 0.012), Sheen_Weight=0.25, Specular_IOR_Level=0.2)


@kept
def plaster(colour: Colour) -> Any:
    """A painted wall: roller texture, filled cracks, a few scuffs."""
    t = Tree("plaster")
    roller, wave = t.noise(16, detail=3, rough=0.6), t.noise(0.7, detail=3)
    body = t.mix(0.5, colour, t.ramp(wave, (0.35, 0.82), (0.65, 1.04)), "MULTIPLY")
    scuff = t.ramp(t.noise(1.0, detail=4, warp=0.6, at=t.stretched(0.8, 2.6, 1.0)), (0.66, 0.0), (0.8, 0.5))
    body = t.mix(scuff, body, times(colour, 0.72))
    return t.done(body, t.ramp(roller, (0.3, 0.7), (0.7, 0.5)), bump=t.bump(t.mix(0.4, roller, wave), 0.32, 0.05))


@kept
def slate(colour: Colour) -> Any:
    """A matt worktop with wiped streaks and dust."""
    t = Tree("slate")
    cloud, fine = t.noise(1.4, detail=6, rough=0.65, warp=0.8), t.noise(60, detail=2)
    wipe = t.noise(1.0, detail=3, warp=1.0, at=t.stretched(0.5, 3.2, 1.0))
    body = t.ramp(cloud, (0.3, times(colour, 0.7)), (0.6, times(colour, 1.4)), (0.8, times(colour, 2.3)))
    body = t.mix(t.ramp(fine, (0.66, 0.0), (0.75, 0.35)), body, times(colour, 3.2))
    return t.done(body, t.ramp(wipe, (0.3, 0.34), (0.7, 0.6)), bump=t.bump(t.mix(0.3, cloud, fine), 0.22, 0.02))


@kept
def earth(colour: Colour) -> Any:
    """Soil, or moss where the colour is green."""
    t = Tree("earth")
    clod, crumb = t.noise(3.5, detail=8, rough=0.72), t.noise(24, detail=5, rough=0.8)
    body = t.ramp(clod, (0.3, times(colour, 0.3)), (0.52, colour), (0.72, times(colour, 1.7)))
    body = t.mix(t.ramp(crumb, (0.58, 0.0), (0.7, 0.7)), body, (0.22, 0.17, 0.09))
    return t.done(body, 0.95, bump=t.bump(t.mix(0.45, clod, crumb), 1.0, 0.16))


@kept
def pulp(colour: Colour) -> Any:
    """Moulded paper: fibres, flecks, a felt-like bump."""
    t = Tree("pulp")
    fibre, fleck = t.noise(26, detail=5, rough=0.8), t.noise(60, detail=2)
    body = t.ramp(fibre, (0.3, times(colour, 0.68)), (0.55, colour), (0.75, times(colour, 1.22)))
    body = t.mix(t.ramp(fleck, (0.7, 0.0), (0.78, 0.6)), body, (0.2, 0.17, 0.15))
    return t.done(body, 0.95, bump=t.bump(fibre, 0.75, 0.03), Specular_IOR_Level=0.15)


@kept
def shell(colour: Colour) -> Any:
    """Eggshell: pores, freckles, each egg in another tone."""
    t = Tree("shell")
    cloud, pore, freckle = t.noise(3, detail=3), t.noise(70, detail=2), t.noise(20, detail=4, rough=0.7)
    body = t.mix(0.5, t.tinted(colour, 0.2), t.ramp(cloud, (0.3, 0.78), (0.7, 1.06)), "MULTIPLY")
    body = t.mix(t.ramp(freckle, (0.64, 0.0), (0.74, 0.5)), body, times(colour, 0.55))
    return t.done(body, 0.42, bump=t.bump(pore, 0.12, 0.008))


@kept
def glaze(colour: Colour, inside: Colour = (0.82, 0.8, 0.74)) -> Any:
    """Glazed ceramic, thin and light at the lip (z above .77 of a unit), cream within."""
    t = Tree("glaze")
    up = t.node("SeparateXYZ", Vector=t.at).outputs[2]
    run = t.noise(6, detail=3)
    body = t.mix(0.55, t.tinted(colour, 0.1), t.ramp(run, (0.3, 0.62), (0.7, 1.15)), "MULTIPLY")
    speck = t.ramp(t.noise(34, detail=2), (0.68, 0.0), (0.74, 0.7))
    body = t.mix(speck, body, times(colour, 0.35))
    lip = t.ramp(t.maths("ADD", up, t.maths("MULTIPLY", run, 0.04)), (0.785, 0.0), (0.825, 1.0))
    return t.done(
        t.mix(lip, body, times(inside, 0.7)),
        0.16,
        bump=t.bump(t.mix(0.25, run, t.noise(2.0)), 0.12, 0.06),
        Coat_Weight=0.6,
        Coat_Roughness=0.05,
    )


@kept
def plain(
    colour: Colour, rough: float = 0.5, *, metal: float = 0.0, bump: float = 0.06, spread: float = 0.08, **more: Any
) -> Any:
    """One colour with what handling leaves on it: smears in the shine, fine unevenness."""
    t = Tree("plain")
    smear, fine = t.noise(4, detail=4, warp=0.5), t.noise(40, detail=2)
    body = t.mix(0.35, t.tinted(colour, spread), t.ramp(smear, (0.3, 0.72), (0.7, 1.05)), "MULTIPLY")
    shine = t.ramp(t.mix(0.4, smear, fine), (0.35, max(0.04, rough - 0.1)), (0.65, min(1.0, rough + 0.14)))
    return t.done(body, shine, bump=t.bump(fine, bump, 0.01), Metallic=metal, **more)


@kept
def metal(colour: Colour, rough: float = 0.25, wear: float = 0.4) -> Any:
    """Metal with scratches in two directions and duller patches."""
    t = Tree("metal")
    patch = t.noise(2.5, detail=5, rough=0.65)
    lines = [t.noise(1.0, detail=2, rough=0.8, at=t.stretched(*by)) for by in ((3, 90, 90), (85, 4, 85))]
    scratch = t.maths("MAXIMUM", *(t.ramp(line, (0.66, 0.0), (0.72, 1.0)) for line in lines))
    body = t.mix(wear, t.tinted(colour, 0.05), t.ramp(patch, (0.3, times(colour, 0.5)), (0.7, times(colour, 1.1))))
    shine = t.maths("ADD", t.ramp(patch, (0.3, rough + 0.2 * wear), (0.7, rough)), t.maths("MULTIPLY", scratch, 0.15))
    return t.done(body, shine, bump=t.bump(t.mix(0.5, patch, scratch), 0.06, 0.01), Metallic=1.0)


@kept
def painted(colour: Colour, under: Colour = (0.3, 0.2, 0.12), *, worn: float = 0.3, rough: float = 0.35) -> Any:
    """Gloss paint with brush marks, chipped down to what is beneath."""
    t = Tree("painted")
    chip, brush = t.noise(5, detail=6, rough=0.75), t.noise(1.0, detail=2, at=t.stretched(2.0, 45, 45))
    off = t.ramp(chip, (0.72 - 0.1 * worn, 0.0), (0.735 - 0.1 * worn, 1.0))
    grime = t.ramp(t.noise(1.2, detail=4), (0.4, 1.0), (0.75, 0.78))
    body = t.mix(off, t.mix(0.8, colour, grime, "MULTIPLY"), under)
    height = t.maths("SUBTRACT", t.maths("MULTIPLY", brush, 0.25), off)
    return t.done(body, t.ramp(chip, (0.4, rough), (0.7, rough + 0.2)), bump=t.bump(height, 0.3, 0.012))


@kept
def crust(colour: Colour) -> Any:
    """Baked dough: brown on top, pale at the foot, blisters, a dusting of flour."""
    t = Tree("crust")
    up = t.node("SeparateXYZ", Vector=t.at).outputs[2]
    blotch, fine = t.noise(4.5, detail=5, rough=0.65), t.noise(22, detail=4, rough=0.7)
    baked = t.maths("ADD", t.maths("MULTIPLY", up, 1.15), t.maths("MULTIPLY", blotch, 0.5))
    baked = t.maths("ADD", baked, t.maths("MULTIPLY", t.which, 0.1))
    body = t.ramp(
        baked,
        (0.28, (0.78, 0.56, 0.28)),
        (0.45, times(colour, 1.3)),
        (0.75, times(colour, 0.72)),
        (1.0, times(colour, 0.4)),
    )
    flour = t.maths("MULTIPLY", t.ramp(fine, (0.6, 0.0), (0.72, 0.7)), t.ramp(up, (0.3, 0.0), (0.5, 1.0)))
    body = t.mix(t.maths("MULTIPLY", flour, 0.35), body, (0.8, 0.75, 0.66))
    return t.done(body, t.ramp(blotch, (0.35, 0.5), (0.7, 0.28)), bump=t.bump(t.mix(0.5, fine, blotch), 0.16, 0.04))


@kept
def peel(colour: Colour) -> Any:
    """Orange peel: oil glands, a waxy shine."""
    t = Tree("peel")
    pits = t.node("TexVoronoi", Vector=t.shaken(), Scale=21.0, Randomness=1.0).outputs[0]
    cloud = t.noise(2.5, detail=4)
    body = t.mix(0.6, t.tinted(colour, 0.12), t.ramp(cloud, (0.3, 0.7), (0.7, 1.1)), "MULTIPLY")
    body = t.mix(t.ramp(pits, (0.0, 0.25), (0.25, 0.0)), body, times(colour, 0.6))
    return t.done(body, 0.36, bump=t.bump(t.ramp(pits, (0.0, 0.0), (0.4, 1.0)), 0.42, 0.02))


@kept
def leafy(colour: Colour) -> Any:
    """A blade by its own u (across, 0 to 1) and v (along): midrib, side veins, light through it, brown freckles."""
    t = Tree("leaf")
    u, v, _ = t.node("SeparateXYZ", Vector=t.uv).outputs
    off = t.maths("ABSOLUTE", t.maths("SUBTRACT", u, 0.5))
    rib = t.ramp(off, (0.015, 1.0), (0.045, 0.0))
    along = t.maths("FRACT", t.maths("MULTIPLY", t.maths("SUBTRACT", v, t.maths("MULTIPLY", off, 0.55)), 9.0))
    vein = t.ramp(t.maths("ABSOLUTE", t.maths("SUBTRACT", along, 0.5)), (0.03, 0.8), (0.13, 0.0))
    lines = t.maths("MAXIMUM", rib, vein)
    cloud, fine = t.noise(3, detail=5), t.noise(26, detail=3)
    body = t.mix(0.7, t.tinted(colour, 0.28), t.ramp(cloud, (0.3, 0.5), (0.7, 1.3)), "MULTIPLY")
    body = t.mix(
        t.maths("MULTIPLY", lines, 0.6),
        body,
        (min(1, colour[0] * 2 + 0.12), min(1, colour[1] * 1.5 + 0.12), colour[2] + 0.05),
    )
    body = t.mix(t.ramp(fine, (0.72, 0.0), (0.78, 0.6)), body, (0.16, 0.1, 0.03))
    height = t.maths("SUBTRACT", t.maths("MULTIPLY", cloud, 0.5), lines)
    normal = t.bump(height, 0.45, 0.03)
    shader = t.node("BsdfPrincipled", Base_Color=body, Roughness=t.ramp(cloud, (0.3, 0.34), (0.7, 0.5)), Normal=normal)
    through = t.node("BsdfTranslucent", Color=t.mix(0.5, body, (0.35, 0.5, 0.05)), Normal=normal)
    both = t.node("MixShader", in0=0.22, in1=shader.outputs[0], in2=through.outputs[0])
    t.node("OutputMaterial", Surface=both.outputs[0])
    return t.material


@kept
def clay(colour: Colour) -> Any:
    """Terracotta: turning marks, lime bloom, damp towards the foot."""
    t = Tree("clay")
    up = t.node("SeparateXYZ", Vector=t.at).outputs[2]
    turned, bloom, fine = (
        t.noise(1.0, detail=2, at=t.stretched(2, 2, 60)),
        t.noise(2.6, detail=6, rough=0.7),
        t.noise(45, detail=3),
    )
    body = t.mix(0.5, t.tinted(colour, 0.16), t.ramp(turned, (0.3, 0.75), (0.7, 1.12)), "MULTIPLY")
    body = t.mix(t.ramp(bloom, (0.54, 0.0), (0.74, 0.55)), body, (0.62, 0.54, 0.46))
    body = t.mix(t.ramp(up, (0.0, 0.4), (0.35, 0.0)), body, times(colour, 0.4))
    return t.done(body, 0.86, bump=t.bump(t.mix(0.5, turned, fine), 0.35, 0.02), Specular_IOR_Level=0.25)


@kept
def papery(colour: Colour) -> Any:
    """The dry skin of a bulb: streaks from foot to tip, torn away here and there."""
    t = Tree("papery")
    from_axis = t.node("SeparateXYZ", Vector=t.at).outputs
    round_ = t.maths("ARCTAN2", from_axis[1], from_axis[0])
    place = t.node(
        "CombineXYZ",
        X=t.maths("MULTIPLY", round_, 2.2),
        Y=t.maths("MULTIPLY", from_axis[2], 0.7),
        Z=t.maths("MULTIPLY", t.which, 50.0),
    ).outputs[0]
    streak = t.noise(5, detail=4, rough=0.7, at=place)
    torn = t.noise(1.9, detail=5, rough=0.6)
    body = t.ramp(streak, (0.3, times(colour, 0.4)), (0.5, colour), (0.68, times(colour, 1.5)))
    body = t.mix(t.ramp(torn, (0.585, 0.0), (0.6, 1.0)), t.tinted(body, 0.18), (0.72, 0.6, 0.4))
    return t.done(body, t.ramp(streak, (0.3, 0.4), (0.7, 0.65)), bump=t.bump(t.mix(0.4, streak, torn), 0.5, 0.04))


@kept
def rubber(colour: Colour) -> Any:
    """Boot rubber: a dull shine, dried mud near the ground, scuffs."""
    t = Tree("rubber")
    up = t.node("SeparateXYZ", Vector=t.at).outputs[2]
    cloud, fine = t.noise(2.2, detail=6, rough=0.65), t.noise(16, detail=5, rough=0.75)
    mud = t.ramp(
        t.maths(
            "SUBTRACT",
            t.maths("ADD", t.maths("MULTIPLY", cloud, 0.55), t.maths("MULTIPLY", fine, 0.35)),
            t.maths("MULTIPLY", up, 0.55),
        ),
        (0.36, 0.0),
        (0.46, 0.9),
    )
    body = t.mix(0.4, colour, t.ramp(cloud, (0.3, 0.65), (0.7, 1.12)), "MULTIPLY")
    body = t.mix(t.ramp(fine, (0.68, 0.0), (0.78, 0.35)), body, times(colour, 1.8))
    body = t.mix(mud, body, (0.17, 0.115, 0.065))
    shine = t.maths("ADD", t.ramp(cloud, (0.3, 0.26), (0.7, 0.42)), t.maths("MULTIPLY", mud, 0.5), clamp=True)
    return t.done(body, shine, bump=t.bump(t.mix(0.5, cloud, t.maths("MULTIPLY", mud, fine)), 0.25, 0.04))


@kept
def knit(colour: Colour, scale: float = 34.0) -> Any:
    """Ribbed knitting, for cuffs and gloves."""
    t = Tree("knit")
    bands = {"wave_type": "BANDS", "wave_profile": "SIN"}
    rib = t.node(
        "TexWave", {**bands, "bands_direction": "X"}, Vector=t.at, Scale=scale / 3, Distortion=1.0, Detail=1.0
    ).outputs[1]
    row = t.node(
        "TexWave", {**bands, "bands_direction": "Y"}, Vector=t.at, Scale=scale / 3, Distortion=1.5, Detail=1.0
    ).outputs[1]
    height = t.maths("ADD", rib, t.maths("MULTIPLY", row, 0.6))
    body = t.mix(0.55, colour, t.ramp(height, (0.2, 0.5), (1.0, 1.1)), "MULTIPLY")
    body = t.mix(0.6, body, t.ramp(t.noise(1.6, detail=4), (0.35, 0.75), (0.7, 1.05)), "MULTIPLY")
    return t.done(body, 0.9, bump=t.bump(height, 0.6, 0.02), Sheen_Weight=0.4, Specular_IOR_Level=0.2)


@kept
def glass(colour: Colour = (1, 1, 1), rough: float = 0.02) -> Any:
    t = Tree("glass")
    return t.done(colour, rough, Transmission_Weight=1.0, IOR=1.45)


@kept
def pane(view: Any) -> Any:
    """A window pane: what lies outside (`view` paints it by place), the room's faint reflection, rain marks."""
    t = Tree("pane")
    glow = t.node("Emission", Color=view(t), Strength=1.0)
    wave = t.bump(t.noise(1.4, detail=2), 0.2, 0.1)
    gloss = t.node("BsdfGlossy", Color=(1, 1, 1), Roughness=0.03, Normal=wave)
    dirt = t.ramp(t.noise(9, detail=6, rough=0.7), (0.5, 0.06), (0.8, 0.2))
    both = t.node("MixShader", in0=dirt, in1=glow.outputs[0], in2=gloss.outputs[0])
    t.node("OutputMaterial", Surface=both.outputs[0])
    return t.material

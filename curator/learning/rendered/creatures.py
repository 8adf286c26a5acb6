"""Many-legged animals as they are photographed, near and in their own colours: spiders, ticks, beetles, crabs.

`crawlers` has them in any colours with three bars a leg; here a leg has four to six joints, tapers, bends its own way
and is of the body's colour, the body has shields, stripes and feelers, and some feet lie outside the picture.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from curator.learning.rendered import walls
from curator.learning.rendered.kit import Geom, Kit, Part, Point, Shape, Tone, shaded, superquadric, tone_of
from curator.learning.rendered.parts import bent, rod
from curator.learning.rendered.stage import Stage

Rng = np.random.Generator

COATS: tuple[Tone, ...] = (
    (0.06, 0.05, 0.05), (0.12, 0.09, 0.07), (0.22, 0.14, 0.09), (0.36, 0.24, 0.14), (0.5, 0.36, 0.22),
    (0.55, 0.16, 0.06), (0.75, 0.3, 0.08), (0.3, 0.28, 0.24), (0.45, 0.44, 0.42), (0.62, 0.55, 0.42),
    (0.25, 0.3, 0.14), (0.18, 0.24, 0.34), (0.7, 0.5, 0.12),
)  # fmt: skip
"""Browns, blacks, greys, rust, olive, slate and amber of chitin; by eye."""


def _coat(rng: Rng) -> Tone:
    """A natural tone a little lighter or darker; one in seven of any colour, as toys have."""
    if rng.random() < 0.15:
        return tone_of(rng)
    r, g, b = (float(min(1, max(0.02, c * v))) for c, v in zip(COATS[int(rng.integers(len(COATS)))],
                                                               rng.uniform(0.75, 1.3) * rng.uniform(0.93, 1.07, 3),
                                                               strict=True))  # fmt: skip
    return (r, g, b)


@dataclass(frozen=True)
class Gait:
    """What all legs of one animal have in common."""

    reach: float
    thick: float
    knee: float
    foot: float  # radius of the last joint
    curl: float  # how far feet bend ahead (front legs) and back (hind legs), radians


def _course(rng: Rng, root: Point, turn: float, gait: Gait, ahead: float) -> list[Point]:
    """A leg on the right from its root to its foot on the ground: up to the knee, over it, down. `turn` in radians
    from straight ahead; `ahead` 1 for the first pair to -1 for the last.
    """
    joints = int(rng.integers(4, 7))
    reach = gait.reach * float(rng.uniform(0.85, 1.12))
    knee = float(rng.uniform(0.28, 0.45))  # where along the leg it is highest
    curl = gait.curl * ahead + float(rng.normal(0, 0.15))
    path = [root]
    for t in np.linspace(0, 1, joints + 1)[1:]:
        t = float(t)
        rise = root[2] + gait.knee * np.sin(np.pi / 2 * min(1.0, t / knee))
        drop = (max(0.0, t - knee) / (1 - knee)) ** 1.3
        angle = turn - curl * t * t + float(rng.normal(0, 0.04))
        at = (root[0] + reach * t * np.sin(angle), root[1] + reach * t * np.cos(angle))
        path.append((float(at[0]), float(at[1]), float(rise + (gait.foot - rise) * drop)))
    return path


def _rounded(path: list[Point]) -> list[tuple[Point, float]]:
    """The path with a point between each two joints, a little outside the chord, and how far along each lies."""
    at = np.array(path)
    steps = len(at) - 1
    ends = np.vstack([at[:1] * 2 - at[1:2], at, at[-1:] * 2 - at[-2:-1]])
    between = (9 * (at[1:] + at[:-1]) - ends[:-3] - ends[3:]) / 16
    made = [(at[0], 0.0)]
    for k in range(steps):
        made += [(between[k], (k + 0.5) / steps), (at[k + 1], (k + 1) / steps)]
    return [((float(p[0]), float(p[1]), float(max(0.01, p[2]))), t) for p, t in made]


def _leg(
    kit: Kit, along: list[tuple[Point, float]], thick: float, tones: tuple[Tone, Tone], finish: str, part: int
) -> list[Geom]:
    """The bars of one leg: thickest before the knee, thin at the foot, its joints in the second tone."""
    return [
        rod(kit, one, two, thick * (1.15 - 0.75 * t), tones[k % 2], finish, part)
        for k, ((one, _), (two, t)) in enumerate(pairwise(along))
    ]


def _hairs(kit: Kit, paths: list[list[Point]], tone: Tone) -> list[Geom]:
    """Short thin bristles on legs."""
    rng, geoms, finish = kit.rng, list[Geom](), kit.plain()
    for k, path in enumerate(paths):
        for _ in range(7):
            j, t = int(rng.integers(len(path) - 1)), float(rng.random())
            base = np.array(path[j]) * (1 - t) + np.array(path[j + 1]) * t
            end = base + rng.normal(0, 0.05, 3) + [0, 0, 0.02]
            geoms.append(rod(kit, tuple(base), tuple(end), 0.006, tone, finish, k))  # type: ignore[arg-type]
    return geoms


def _blob(kit: Kit, half: Point, at: Point, tone: Tone, finish: str) -> Geom:
    mesh = superquadric(half, float(kit.rng.uniform(0.75, 1.1)), float(kit.rng.uniform(0.75, 1.1)))
    return kit.geom("mesh", (), at, tone, finish, mesh=mesh, solid=False)


@dataclass(frozen=True)
class Coat:
    """What an animal's body is made of."""

    up: float  # of its middle above the ground, units
    tone: Tone
    rear: Tone
    finish: str


Body = tuple[list[Geom], Point]
"""The geoms; half the width and half the length of where legs begin, and how far ahead their middle is."""


def _spider(kit: Kit, coat: Coat) -> Body:
    long, wide = float(kit.rng.uniform(0.2, 0.34)), float(kit.rng.uniform(0.15, 0.28))
    rear = _blob(kit, (wide, long, wide * 0.85), (0, -0.2 - long, coat.up + 0.06), coat.rear, coat.finish)
    geoms = [rear, _blob(kit, (0.15, 0.2, 0.11), (0, 0, coat.up + 0.02), coat.tone, coat.finish)]
    for s in (-1, 1):
        fang: Point = (s * 0.055, 0.2, coat.up - 0.02)
        geoms.append(_blob(kit, (0.05, 0.08, 0.06), fang, shaded(coat.tone, 0.8), coat.finish))
    return geoms, (0.11, 0.13, 0.0)


def _tick(kit: Kit, coat: Coat) -> Body:
    wide, long = float(kit.rng.uniform(0.2, 0.32)), float(kit.rng.uniform(0.28, 0.4))
    geoms = [
        _blob(kit, (wide, long, 0.12), (0, -0.12, coat.up), coat.rear, coat.finish),
        _blob(kit, (wide * 0.7, long * 0.55, 0.1), (0, 0.08, coat.up + 0.05), coat.tone, coat.finish),
        _blob(kit, (0.06, 0.1, 0.05), (0, long - 0.06, coat.up), coat.tone, coat.finish),
    ]
    return geoms, (wide * 0.75, long * 0.5, 0.0)


def _crab(kit: Kit, coat: Coat) -> Body:
    wide, long = float(kit.rng.uniform(0.28, 0.42)), float(kit.rng.uniform(0.2, 0.28))
    geoms = [_blob(kit, (wide, long, float(kit.rng.uniform(0.1, 0.16))), (0, 0, coat.up), coat.rear, coat.finish)]
    for s in (-1, 1):
        eye: Point = (s * 0.1, long * 0.95, coat.up + 0.09)
        geoms.append(kit.geom("sphere", (0.03,), eye, (0.04, 0.04, 0.04), kit.plain(), solid=False))
    return geoms, (wide * 0.85, long * 0.75, 0.0)


def _three_parted(kit: Kit, coat: Coat, sizes: tuple[float, float, float]) -> list[Geom]:
    """An insect's rear, breast and head: half the rear's width and length, and the breast's width as a share of it."""
    wide, long, waist = sizes
    return [
        _blob(kit, (wide, long, wide * 0.75), (0, -long - 0.05, coat.up + 0.02), coat.rear, coat.finish),
        _blob(kit, (wide * waist, 0.16, wide * 0.6), (0, 0.08, coat.up), coat.tone, coat.finish),
        _blob(kit, (wide * 0.65, 0.1, wide * 0.55), (0, 0.3, coat.up), coat.tone, coat.finish),
    ]


def _beetle(kit: Kit, coat: Coat) -> Body:
    wide, long = float(kit.rng.uniform(0.16, 0.26)), float(kit.rng.uniform(0.28, 0.4))
    geoms = _three_parted(kit, coat, (wide, long, 0.85))
    if kit.rng.random() < 0.6:  # the line between the wing cases
        seam: list[Point] = [(0, -0.05 - long * y, coat.up + 0.02 + wide * z) for y, z in SEAM]
        geoms += bent(kit, seam, 0.01, shaded(coat.rear, 0.5), kit.plain())
    return geoms, (wide * 0.55, 0.2, -0.06)


def _ant(kit: Kit, coat: Coat) -> Body:
    wide, long = float(kit.rng.uniform(0.1, 0.16)), float(kit.rng.uniform(0.18, 0.26))
    return _three_parted(kit, coat, (wide, long, 0.55)), (wide * 0.55, 0.14, 0.02)


@dataclass(frozen=True)
class Plan:
    """How a sort is built; ranges in units, angles in degrees from straight ahead, of the first and the last leg."""

    body: Callable[[Kit, Coat], Body]
    pairs: int
    turns: tuple[float, float]
    reach: tuple[float, float]
    thick: tuple[float, float]
    knee: tuple[float, float]  # above the body's middle
    claws: float = 0.0  # how often its first limbs are claws that count as well
    palps: float = 0.0  # how often it has short ones in front that do not


PLANS = {
    "spider": Plan(_spider, 4, (28, 152), (0.75, 1.25), (0.03, 0.06), (0.1, 0.4), palps=0.8),
    "tick": Plan(_tick, 4, (30, 148), (0.4, 0.75), (0.03, 0.055), (0.0, 0.12), palps=0.3),
    "beetle": Plan(_beetle, 3, (35, 145), (0.45, 0.8), (0.025, 0.05), (0.0, 0.15)),
    "ant": Plan(_ant, 3, (35, 145), (0.55, 0.9), (0.018, 0.03), (0.05, 0.25)),
    "crab": Plan(_crab, 4, (60, 140), (0.5, 0.85), (0.035, 0.065), (0.05, 0.25), claws=1.0),
}
SEAM = ((0.4, 0.6), (0.7, 0.715), (1.0, 0.75), (1.3, 0.715), (1.7, 0.53))  # along a beetle's back, and how high
FEELERS = ("beetle", "ant")


def _depth(rng: Rng) -> float:
    """How dark the dark places of a hide are."""
    return float(rng.uniform(0.15, 0.6))


def _claws(kit: Kit, root: tuple[float, float], up: float, gait: Gait, tone: Tone, finish: str,
           first: int) -> tuple[list[Geom], list[Part]]:  # fmt: skip
    """A crab's arms, bent round in front of it, each with two fingers; they count as legs (ten: common practice)."""
    rng, geoms, parts = kit.rng, list[Geom](), list[Part]()
    out, ahead = float(rng.uniform(0.15, 0.35)), float(rng.uniform(0.25, 0.5))
    big = float(rng.uniform(1.4, 2.4)) * gait.thick
    for side, s in ((1, -1.0), (2, 1.0)):
        path = [(s * root[0], root[1], up), (s * (root[0] + out), root[1] + ahead * 0.5, up + 0.04),
                (s * root[0] * 0.9, root[1] + ahead, up)]  # fmt: skip
        for k in range(2):
            geoms.append(rod(kit, path[k], path[k + 1], big * (0.8 + 0.3 * k), tone, finish, first + side - 1))
        hand = path[2]
        for lean in (-0.05, 0.05):
            end = (hand[0] - s * 0.14, hand[1] + 0.09 + lean, hand[2] + lean * 0.5)
            geoms.append(rod(kit, hand, end, big * 0.55, shaded(tone, 1.2), finish, first + side - 1))
        parts.append(Part("leg", path[1], side, tip=hand))
    return geoms, parts


def _limb_tone(rng: Rng, tone: Tone) -> Tone:
    """The body's own tone, mostly; a lighter or darker one, or another."""
    chance = rng.random()
    if chance < 0.6:
        return tone
    return shaded(tone, float(rng.uniform(0.5, 1.6))) if chance < 0.85 else _coat(rng)


def _gait(rng: Rng, plan: Plan) -> Gait:
    thick = float(rng.uniform(*plan.thick))
    reach, knee = float(rng.uniform(*plan.reach)), float(rng.uniform(*plan.knee))
    return Gait(reach, thick, knee, thick * 0.45, float(rng.normal(0.1, 0.35)))


def _courses(rng: Rng, plan: Plan, root: Point, up: float, gait: Gait) -> list[list[Point]]:
    """The paths of all legs, left and right by turns, from the first pair to the last."""
    wide, long, ahead = root
    turns = np.radians(np.linspace(*plan.turns, plan.pairs) + rng.normal(0, 5, plan.pairs))
    paths = []
    for k in range(plan.pairs):
        share = 1 - 2 * k / (plan.pairs - 1)
        for sign in (-1.0, 1.0):
            turn = float(turns[k] + rng.normal(0, 0.12))
            right = _course(rng, (wide, ahead + long * share, up), turn, gait, share)
            paths.append([(sign * x, y, z) for x, y, z in right])
    return paths


def creature(kit: Kit, sort: str) -> Shape:
    """One animal, its head to +y; its legs are parts, feelers and palps are left aside."""
    rng, plan = kit.rng, PLANS[sort]
    tone, up = _coat(rng), float(rng.uniform(0.1, 0.24))
    limb = _limb_tone(rng, tone)
    rings = limb if rng.random() < 0.65 else shaded(limb, float(rng.choice([0.55, 1.6])))
    finish = kit.mottled(_depth(rng)) if rng.random() < 0.6 else kit.plain()
    rear = _coat(rng) if rng.random() < 0.4 else shaded(tone, float(rng.uniform(0.7, 1.5)))
    hide = kit.mottled(_depth(rng)) if rng.random() < 0.7 else kit.finish()
    geoms, root = plan.body(kit, Coat(up, tone, rear, hide))
    gait, parts = _gait(rng, plan), list[Part]()
    paths = _courses(rng, plan, root, up, gait)
    for k, path in enumerate(paths):
        along = _rounded(path)
        geoms += _leg(kit, along, gait.thick, (limb, rings), finish, k)
        parts.append(Part("leg", along[len(along) // 2][0], 1 + k % 2, tip=path[-1]))
    if rng.random() < 0.3:
        geoms += _hairs(kit, paths, shaded(limb, float(rng.choice([0.6, 1.8]))))
    if rng.random() < plan.claws:
        made, more = _claws(kit, root[:2], up, gait, limb, finish, len(parts))
        geoms, parts = geoms + made, parts + more
    geoms, parts = _fronts(kit, sort, up, (geoms, parts), limb, finish)
    reach = gait.reach * 0.95 + root[0]
    return kit.shape(sort, geoms, (reach, reach, gait.knee + up), parts, axis=((0, 0.4, up), (0, -0.4, up)))


def _fronts(kit: Kit, sort: str, up: float, made: tuple[list[Geom], list[Part]], tone: Tone,
            finish: str) -> tuple[list[Geom], list[Part]]:  # fmt: skip
    """Palps or feelers before the head: nobody counts them."""
    rng, (geoms, parts) = kit.rng, made
    if sort in FEELERS and rng.random() < 0.85:
        long, thick, kind = float(rng.uniform(0.2, 0.5)), 0.012, "feeler"
    elif rng.random() < PLANS[sort].palps:
        long, thick, kind = float(rng.uniform(0.1, 0.22)), 0.02, "palp"
    else:
        return made
    start = 0.36 if sort in FEELERS else 0.18
    for s in (-1.0, 1.0):
        path: list[Point] = [(s * 0.05, start, up), (s * (0.07 + long * 0.2), start + long * 0.5, up + 0.06),
                             (s * (0.07 + long * 0.45), start + long, up * 0.6)]  # fmt: skip
        geoms += bent(kit, path, thick, tone, finish, len(parts))
        parts.append(Part(kind, path[1], aside=True, tip=path[-1]))
    return geoms, parts


def creatures(kit: Kit) -> Stage:
    """One animal near the camera whose legs count; seldom two or three that count themselves."""
    rng = kit.rng
    sort = str(rng.choice(["spider", "spider", "spider", "tick", "tick", "beetle", "beetle", "ant", "crab", "crab"]))
    n = 1 if rng.random() < 0.88 else int(rng.integers(2, 4))
    lift = (68.0, 89.0) if rng.random() < 0.5 else (28.0, 68.0)
    stage = Stage("solid creature", fill=(0.85, 1.35), flat=True, lift=lift, sway=180.0)
    chance = rng.random()
    if chance < 0.35:  # on paper, or cut out as encyclopaedias have them
        stage.table = np.full((64, 64, 3), float(rng.uniform(200, 255)), np.float32)
    elif chance < 0.65:
        ground = (walls.leaves, walls.boards, walls.stone, walls.plaster)[int(rng.integers(4))]
        stage.table = ground(rng)
    first = creature(kit, sort)
    for k in range(n):
        at = ((k - (n - 1) / 2) * first.reach[0] * 2.0, float(rng.normal(0, 0.1)) * (n > 1), 0.0)
        turn = float(rng.choice([0, 180]) if rng.random() < 0.4 else rng.uniform(0, 360)) + float(rng.normal(0, 12))
        stage.put(first, at, turn=turn, side=k + 1 if n == 2 else 0)
    stage.main = first.parts[0].kind if n == 1 else first.kind
    return stage

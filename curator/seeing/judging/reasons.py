"""What speaks against a reading, in a teacher's words, and whether it forbids tagging without asking."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from curator.records import Halves, Reason
from curator.seeing.judging.feature_values import PARTS, SOON, by_chance
from curator.seeing.judging.models import Belief, Features

CAPS = 0.5  # a doubt as grave as that is asked, however high the confidence
TOLD = 0.15  # a lesser one is not worth a teacher's time
FAINT = 0.5  # three of the six deviations that `seen_below` spans: the usual limit of an outlier
ON_TIPS = 0.6  # share of the things with a limb's tip on them from which they are taken for limbs
FEWEST_LIMBS = 6
# a quarter of `evidence.oddest`: one thing 1.4 times as far from the usual colour as any other; such answers are
# wrong three times as often as right
ODD = 0.35
# of the looks of a row's last thing: with more, what is left of its next place at the edge is taken for one more
GOES_ON = 0.27
# the same of a next place that lies in the photo: right counts of labelled photos have .29 at most, four of those
# that lack some have .76 to 1
AGAIN = 0.5
# likelihood that two things are of one kind, by how much likelier two of one group are, and the same where one thing
# stands against four or more: beyond the first two lies one in thirty of the right counts of labelled photos that would
# be sure, beyond the third none (`.docs/experiments.md`)
HARDLY_ONE, TWO_KINDS, ONE_OTHER = 0.3, 0.45, 0.25
MEANT_HEAT = 0.5  # heat in the map of what is meant: two or three parts of each thing with more may be counted instead
WHOLES = 0.3  # support of two to six things that hold several of these each
# of the belief in these things: the least that is believed of their wholes, or parts, where the level is open (of
# labelled photos: 18 right answers below, 1 above; 1 wrong one below, for another reason, 2 above)
OPEN_LEVEL = 0.1
# of the belief in these things: what is believed of them and one or two more that the edge cuts. Of 164 right answers
# to labelled photos that would be sure none has more, of 368 to new scenes six, of 19 wrong ones four
AT_EDGE = 0.03
RELATED = 0.62  # a correlation of a quarter (0.5 is none): halves with less are not alike
# as many fits as good are expected among random dots: at most one of a hundred random sets has one
# (`tests/seeing/test_halves.py`)
BY_CHANCE = 0.003
# the same of more than four things, each time that the gap between the halves is as wide as the steps within them
# counting as a tenth: things that lie about without touching, more evenly than dots, come to such halves about once in
# two hundred times; BY_CHANCE lets up to three in a hundred pass (`tests/seeing/test_halves.py`)
SHOWN = 1e-4
CLEAR_FINGERS = 0.5  # of joints that say which fingers are up: one less clear is counted the other way, too
# a number less likely than that is doubted; two things are soon found in any photo (nine in ten right ones have
# .79)
LIKELY, LIKELY_TWO = 0.45, 0.6
UNSEEN = 0.1  # heat of the trained net: things with less at every level are hardly there
THROUGH = 0.5  # half widths: a line nearer than this to a thing's centre runs through it


class Beside(NamedTuple):
    """What is believed of other sets of the photo, of the belief in the one that is read."""

    level: float = 1.0  # the likeliest wholes or parts of its things
    at_edge: float = 0.0  # the likeliest set with a thing or two more, cut by the photo's edge


class Doubted(NamedTuple):
    """A reading with two halves, as the rules look at it."""

    f: Features  # what FACT weighs
    belief: Belief
    split: Halves
    n: int  # things
    trained: bool  # whether the trained net looked at it
    beside: Beside = Beside()


class Rule(NamedTuple):
    """When something speaks against a reading, how gravely (0 to 1; CAPS or more forbids `sure`), and its words."""

    name: str
    gravity: float
    when: Callable[[Doubted], float]  # share of the gravity, 0 where it does not apply
    note: str


def about_the_line(reasons: tuple[Reason, ...], *, through: bool) -> tuple[Reason, ...]:
    """The same, but with a word about the line exactly where it runs `through` a thing by the outlines."""
    others = tuple(r for r in reasons if r.name != "through")
    if not through:
        return others
    gravity = {rule.name: rule.gravity for rule in RULES}
    (rule,) = (rule for rule in RULES if rule.name == "through")
    first = sum(gravity.get(r.name, 1.0) >= rule.gravity for r in others)
    return (*others[:first], Reason(rule.name, rule.gravity >= CAPS, rule.note), *others[first:])


def capped(reasons: tuple[Reason, ...]) -> bool:
    """Whether some reason forbids tagging without asking, however high the confidence."""
    return any(r.caps for r in reasons)


def reasons_against(doubted: Doubted, rules: tuple[Rule, ...] | None = None) -> tuple[Reason, ...]:
    """What speaks against the reading, in a teacher's words, the gravest first."""
    found = [(rule.gravity * float(rule.when(doubted)), rule) for rule in (RULES if rules is None else rules)]
    told = sorted((pair for pair in found if pair[0] >= TOLD), key=lambda pair: -pair[0])
    words = {"rival": doubted.belief.rival}
    return tuple(Reason(rule.name, grave >= CAPS, rule.note.format(**words)) for grave, rule in told)


def _count_doubted(d: Doubted) -> bool:
    return d.belief.number < (LIKELY_TWO if d.n == 2 else LIKELY)


def _limbs_doubted(d: Doubted) -> bool:
    """Things with limb tips on them count as limbs: two ways of looking have to agree on them, each at its best.
    Fingers are none where the joints of a hand say clearly which are up.

    Either the tips and the silhouette agree, and pair over one body's axis or belong to two bodies with as many each,
    or another finder has the same things and the net their number at two of its three sizes (leaves on a twig, say).
    Fewer than six (raised fingers) mirror too easily; an insect has 3+3, a spider 4+4, a crab and two hands 5+5 (common
    practice). Two always pair, so only their number is asked for.
    """
    f = d.f
    if f["seen_tips"] <= ON_TIPS or f["hand_clear"] >= CLEAR_FINGERS:
        return False
    counted_twice = f["seen_tips_same"] >= 0.5 and f["seen_outline"] > 0
    if d.n == 2:
        return not counted_twice
    paired = d.split.kind == "flip" or f["seen_bodies"] > 0
    seen_twice = f["witness"] > 0 and f["seen_same"] > 0.6
    return d.n < FEWEST_LIMBS or not ((counted_twice and paired) or seen_twice)


def _parts_meant(d: Doubted) -> bool:
    """Whether parts of the things may be what is meant: four or more in each, or fewer that the net takes for it and
    that are believed in beside the things. Boxes are rough: where four or more lie about the middle of each, and are
    believed in, they need not lie inside.
    """
    open_level = d.beside.level >= OPEN_LEVEL
    inside = d.f["parts"] > PARTS and (d.f["parts_many"] > PARTS or (d.f["holds_heat"] > MEANT_HEAT and open_level))
    return inside or (d.f["holds"] > WHOLES and not d.f["holds_few"] and open_level)


def _wholes_meant(d: Doubted) -> bool:
    """Whether these are parts, several each, of things that are believed in beside them."""
    return d.f["within"] > WHOLES and d.beside.level >= OPEN_LEVEL


def _differ(d: Doubted) -> bool:
    """Whether neither the looks (thing by thing, or as a mirror picture) nor places beyond chance show two halves."""
    return d.n > 2 and max(d.f["partners"], d.f["mirror"]) < RELATED and d.split.chance > BY_CHANCE


def _unseen(d: Doubted) -> bool:
    """Whether the trained net sees nothing under the things at any level."""
    return d.trained and max(d.f[name] for name in ("seen_main", "seen_whole", "seen_part")) < UNSEEN


def _missing(d: Doubted) -> bool:
    """Whether one more may be there: an empty place in the pattern, a row that goes on inside the photo or at its
    edge.
    """
    return bool(d.f["gap"]) or d.f["next"] > AGAIN or d.f["beyond"] > GOES_ON


def _two_kinds(d: Doubted) -> bool:
    """Whether one thing is of another kind than all others, or things part into two kinds that no halves hold together
    (a box of light and dark buns is one lot); of two things, whether they are hardly of one.
    """
    if d.n == 2:
        return d.f["kind_between"] < HARDLY_ONE
    alone = d.n >= 5 and math.isclose(d.f["kind_least"], d.f["kind_between"], abs_tol=1e-6)  # the group is one thing
    if alone:
        return d.f["kinds_apart"] > ONE_OTHER
    return d.f["kinds_apart"] > TWO_KINDS and d.split.chance > BY_CHANCE


def _by_chance(d: Doubted) -> bool:
    """Whether things that lie about may come to such halves; four soon do, and are asked only where it is likely."""
    if d.n <= SOON:
        return d.n > 2 and bool(d.f["weak"])
    return by_chance(d.split) > SHOWN


NEVER = 0.7  # these are asked, however high the confidence: what is meant is open, or miscounts look sure
DOUBT = 0.4  # these are told; FACT weighs what is behind them, and a cap of their own took right answers only


def _rule(name: str, when: Callable[[Doubted], float], note: str, gravity: float = DOUBT) -> Rule:
    return Rule(name, gravity, when, note)


RULES: tuple[Rule, ...] = (
    _rule("count", _count_doubted, "The count may be off: things may be missing or counted twice."),
    _rule("row", lambda d: d.f["row"], "The things stand in one even row; nothing shows where the middle is.", NEVER),
    _rule(
        "parts",
        _parts_meant,
        "These things have parts that can be counted; they may be what is meant.",
        NEVER,
    ),
    _rule(
        "wholes",
        _wholes_meant,
        "These may be parts of fewer, larger things, which may be what is meant.",
        NEVER,
    ),
    _rule("kinds", _two_kinds, "Two kinds of things seem to be counted together.", NEVER),
    _rule(
        "missing", _missing, "One more may be there: a place in the pattern is empty, or a row seems to go on.", NEVER
    ),
    _rule(
        "cut",
        lambda d: d.beside.at_edge >= AT_EDGE,
        "One more may be there, cut off by the edge of the photo.",
        NEVER,
    ),
    _rule(
        "faint",
        lambda d: d.f["seen_below"] > FAINT,
        "One of the counted things is much less clear than the others; it may be something else.",
    ),
    _rule(
        "odd",
        lambda d: d.f["oddest"] > ODD,
        "One of the counted things looks unlike all the others; it may be something else.",
    ),
    _rule("through", lambda d: d.f["clears"] < THROUGH, "The dividing line would run through a thing."),
    _rule(
        "limbs",
        _limbs_doubted,
        "These look like limbs; they are easily miscounted, or do not pair up across one body.",
        NEVER,
    ),
    _rule("edge", lambda d: d.f["cut"] > 0.01, "Something is cut off by the edge of the photo."),
    _rule(
        "untrained",
        lambda d: not d.trained,
        "The file of the trained finder is missing, so this count was not checked; install curator again.",
        0.8,
    ),
    _rule(
        "unseen", _unseen, "Nothing clear was seen in the places that were counted; look whether something is there."
    ),
    _rule(
        "sizes",
        lambda d: d.f["net_joined"],
        "No single look at the photo shows all of these things together; check the count.",
    ),
    _rule("differ", _differ, "The two halves do not look alike; only the places match."),
    _rule("chance", _by_chance, "Things that lie about may come to such halves by chance.", NEVER),
    _rule("lead", lambda d: d.belief.ahead < 0.05, "Counting {rival} is nearly as likely, or likelier.", 0.3),
    _rule("few", lambda d: d.n == 2, "Any two things make 1+1; check that they are the ones you mean.", 0.2),
)

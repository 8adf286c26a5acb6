"""What speaks against a reading, in a teacher's words, and whether it forbids tagging without asking."""

from __future__ import annotations

from curator.records import Halves, Reason
from curator.seeing.judging.features import PARTS
from curator.seeing.judging.models import Belief, Features

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
# product of embeddings to which training pushes two kinds apart: any two things make 1+1, only their looks say that
# they belong together
UNLIKE = 0.2
RELATED = 0.62  # a correlation of a quarter (0.5 is none): halves with less are not alike
# as many fits as good are expected among random dots: at most one of a hundred random sets has one
# (`tests/seeing/test_halves.py`)
BY_CHANCE = 0.003
LIKELY, LIKELY_TWO = (
    0.45,
    0.6,
    # a number less likely than that caps the grade; two things are soon found in any photo (nine in ten right ones have
    # .79)
)
UNSEEN = 0.1  # heat of the trained net: things with less at every level are hardly there
THROUGH = 0.5  # half widths: a line nearer than this to a thing's centre runs through it


def capped(reasons: tuple[Reason, ...]) -> bool:
    """Whether some reason forbids tagging without asking, however high the confidence."""
    return any(r.cost >= 0.5 for r in reasons)


def _limbs_doubted(f: Features, split: Halves, n: int) -> bool:
    """Things with limb tips on them count as limbs: two ways of looking have to agree on them, each at its best.

    Either the tips and the silhouette agree, and pair over one body's axis or belong to two bodies with as many each,
    or another
    finder has the same things and the net their number at two of its three sizes (leaves on a twig, say). Fewer than
    six (raised
    fingers) mirror too easily; an insect has 3+3, a spider 4+4, a crab and two hands 5+5 (common practice).
    """
    if f.get("seen_tips", 0.0) <= ON_TIPS:
        return False
    counted_twice = f["seen_tips_same"] >= 0.5 and f["seen_outline"] > 0
    paired = split.kind == "flip" or f.get("seen_bodies", 0.0) > 0
    seen_twice = f["witness"] > 0 and f["seen_same"] > 0.6
    return n < FEWEST_LIMBS or not ((counted_twice and paired) or seen_twice)


def _differ(f: Features, split: Halves) -> bool:
    """Whether neither the looks (thing by thing, or as a mirror picture) nor places beyond chance show two halves."""
    return max(f["partners"], f["mirror"]) < RELATED and split.chance > BY_CHANCE


def _unseen(f: Features) -> bool:
    """Whether the trained net sees nothing under the things at any level."""
    return max(f.get(name, 1.0) for name in ("seen_main", "seen_whole", "seen_part")) < UNSEEN


def reasons_against(f: Features, belief: Belief, split: Halves, n: int) -> tuple[Reason, ...]:
    """What speaks against the reading, in a teacher's words, the gravest first."""
    half = n // 2
    found = [
        Reason(
            "count",
            0.5 * (1 - belief.number) / (1 - (LIKELY_TWO if n == 2 else LIKELY)),
            "The count may be off: things may be missing or counted twice.",
        ),
        Reason(
            "lead", 0.6 if belief.ahead < 0.05 else 0.0, f"Counting {belief.rival} is nearly as likely, or likelier."
        ),
        Reason(
            "alone",
            0.0 if f["witness"] or f["agree"] else 0.5,
            "Only one way of looking found these things; count them once more.",
        ),
        Reason("row", 0.7 if f["row"] else 0.0, "The things stand in one even row; nothing shows where the middle is."),
        Reason(
            "faint",
            0.6 if f.get("seen_below", 0.0) > FAINT else 0.0,
            "One of the counted things is much less clear than the others; it may be something else.",
        ),
        Reason(
            "odd",
            0.6 if f["oddest"] > ODD else 0.0,
            "One of the counted things looks unlike all the others; it may be something else.",
        ),
        Reason("through", 0.6 if f["clears"] < THROUGH else 0.0, "The dividing line would run through a thing."),
        Reason(
            "limbs",
            0.6 if _limbs_doubted(f, split, n) else 0.0,
            "These look like limbs; they are easily miscounted, or do not pair up across one body.",
        ),
        Reason("edge", 0.6 if f["cut"] > 0.01 else 0.0, "Something is cut off by the edge of the photo."),
        Reason(
            "beyond",
            0.6 if f["beyond"] > GOES_ON else 0.0,
            "A row seems to go on at the edge of the photo; one more may be cut off there.",
        ),
        Reason(
            "next",
            0.6 if f["next"] > AGAIN else 0.0,
            "A row seems to go on: what lies at its next place looks like one more.",
        ),
        Reason("gap", 0.6 if f["gap"] else 0.0, "One place in the pattern is empty; one thing may be missing there."),
        Reason(
            "second",
            0.6 if f["second"] else 0.0,
            "Some of these things were only seen when empty places in the pattern were looked at again; check them.",
        ),
        Reason(
            "untrained",
            0.8 if "seen_main" not in f else 0.0,
            "The file of the trained finder is missing, so this count was not checked; install curator again.",
        ),
        Reason(
            "unseen",
            0.6 if _unseen(f) else 0.0,
            "Nothing clear was seen in the places that were counted; look whether something is there.",
        ),
        Reason(
            "sizes",
            0.6 if f.get("net_joined", 0.0) else 0.0,
            "No single look at the photo shows all of these things together; check the count.",
        ),
        Reason(
            "unlike",
            0.5 if f["alike"] < 0.3 or (n == 2 and f["kin"] < UNLIKE) else 0.0,
            "The things do not look much alike.",
        ),
        Reason(
            "differ",
            0.6 if n > 2 and _differ(f, split) else 0.0,
            "The two halves do not look alike; only the places match.",
        ),
        Reason(
            "parts",
            0.7 if f["parts"] > PARTS else 0.0,
            "These things have parts that can be counted; they may be what is meant.",
        ),
        Reason(
            "loose",
            0.5 if split.kind != "split" and split.gap > 0.35 else 0.0,
            f"The two groups of {half} do not match well.",
        ),
        Reason(
            "chance", 0.4 if f["weak"] and n > 2 else 0.0, "So few things would often look like two halves by chance."
        ),
        Reason("few", 0.2 if n == 2 else 0.0, "Any two things make 1+1; check that they are the ones you mean."),
    ]
    return tuple(sorted((r for r in found if r.cost >= 0.15), key=lambda r: -r.cost))

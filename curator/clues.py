"""What was measured of a set of things for the judge, as typed records; each number 0 to 1 unless it says otherwise.

The judge's features (`seeing/judging/feature_table.py`) say what each is good for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class NetSet:
    """What the trained net says of a set that it found itself; a set of several sizes has the largest of each."""

    score: float  # mean heat of the things
    least: float  # heat of the faintest
    clear: float  # how far the faintest stands above the next peak that is left out, of 0.6
    count: float  # how likely the net takes that number to be
    scale: float  # how likely it takes things of that size to be the ones meant
    main: float = 0.0  # 1: from the map of the things meant
    whole: float = 0.0  # 1: from the map of wholes
    part: float = 0.0  # 1: from the map of parts
    large: float = 0.0  # 1: seen at the largest size of the picture
    small: float = 0.0  # 1: at the smallest
    sizes: float = 0.0  # share of the other sizes that give the same set, or see the same things
    all: float = 0.0  # 1: all sizes give it
    levels: float = 0.0  # 1: more than one map gives it
    joined: float = 0.0  # 1: put together of what single sizes show


@dataclass(frozen=True, slots=True)
class HandSet:
    """What a set of raised fingers, or of hands, is, and how sure the least sure of the hands."""

    raised: float = 0.0  # 1: all fingers that are held up
    thumbless: float = 0.0  # 1: without the thumbs
    other: float = 0.0  # 1: the least clear finger is taken the other way
    whole: float = 0.0  # 1: the hands themselves
    present: float = 0.0  # how likely it is a hand
    clear: float = 0.0  # how clearly each finger is up or down
    large: float = 0.0  # its longer side over the picture's


class Spread(NamedTuple):
    """One number over the sizes of the picture."""

    most: float = 0.0
    mid: float = 0.0  # median
    least: float = 0.0


class LeftOut(NamedTuple):
    """The clearest peak of one map that a set leaves out."""

    any: Spread = Spread()  # of any size that is no detail
    sized: Spread = Spread()  # of the set's own size
    like: Spread = Spread()  # of its size and looks


_NOTHING = LeftOut()


@dataclass(frozen=True, slots=True)
class Tips:
    """Limb ends that the net sees; all 0 where it sees fewer than two."""

    on: float = 0.0  # share of the things with one on them
    same: float = 0.0  # share of the sizes and cuts at which there are as many as things
    off: float = 0.0  # by how much their usual number differs, of the things, at most 1
    outline: float = 0.0  # 1: the silhouette has as many limbs
    bodies: float = 0.0  # 1: those of two bodies with as many each


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat under the things, the best over the sizes of the picture: of the usual thing, and of the median one."""

    main: float = 0.0
    main_mid: float = 0.0
    whole: float = 0.0
    whole_mid: float = 0.0
    part: float = 0.0
    part_mid: float = 0.0
    least: float = 0.0  # of the faintest, in the main map
    faintest: float = 0.0  # of the faintest over that of the usual one, in the map that sees each best
    below: float = 0.0  # how many robust deviations the faintest lies below the usual one, of six


@dataclass(frozen=True, slots=True)
class Kinds:
    """Whether the things are of one kind (`features/one_kind.py`): how likely two of them are, on the mean."""

    least: float = 1.0  # of the odd one out with all others
    between: float = 1.0  # of two from either of the two groups that they part into
    apart: float = 0.0  # by how much likelier two of one group are
    small: float = 0.0  # share of the things in the smaller group


@dataclass(frozen=True, slots=True)
class Seen:
    """What the trained net sees under and beside the things of any finder's set."""

    number: float = 0.0  # how likely it takes that number to be
    left_out: float = 0.0  # summed heat of the peaks on none of the things, a thing: the least over the sizes
    left_out_mid: float = 0.0  # the median over the sizes
    same: float = 0.0  # share of the sizes with as many peaks as things
    near: float = 0.0  # share of the sizes with as many, give or take one
    scale: float = 0.0  # how likely it takes things of that size to be the ones meant
    kin: float = 1.0  # how alike it takes the things to be: mean product of embeddings with their mean, -1 to 1
    ways: float = 0.0  # how many finders gave nearly this set, of three
    heat: Heat = Heat()
    tips: Tips = Tips()
    main: LeftOut = _NOTHING  # beside the set, by map
    whole: LeftOut = _NOTHING
    part: LeftOut = _NOTHING
    kinds: Kinds = Kinds()


@dataclass(frozen=True, slots=True)
class Clues:
    """Everything measured of one candidate set beside its own places; None where it was not measured."""

    stable: float | None = None  # how long the things keep their shape as the threshold moves
    votes: float | None = None  # limbs: share of the openings that give this number
    two_bodies: bool = False  # limbs of two bodies, as many each
    told: bool = False  # the net was told of the places a person pointed at
    told_all: bool = False  # the net was told of all that the last answer has left
    net: NetSet | None = None  # the net found it
    seen: Seen | None = None  # None where the trained file is missing
    hand: HandSet | None = None  # it is of hands

"""Which facts and kinds have too few pictures, and which ordinary things come that way."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from curator.catalog.search import index
from curator.facts import FACTS
from curator.records import KINDS, Fact, Kind

# Ordinary things that come as n+n, by how the halves lie. Common practice: counts and packs differ from place to place,
# so the photo itself is always counted.
THINGS: dict[int, dict[Kind, tuple[str, ...]]] = {
    1: {
        "flip": ("a pair of shoes side by side", "mittens", "two cherries on one stem"),
        "slide": ("two mugs on a shelf", "two hooks"),
        "turn": ("two shoes in their box, heel to toe",),
        "split": ("a boot on each side of a door",),
    },
    2: {
        "flip": ("a butterfly with open wings", "the four legs of a stool from the front"),
        "slide": ("a window of four panes", "the four on a die"),
        "turn": ("four spoons, two of them the other way round",),
        "split": ("two bicycles seen from the side: wheels",),
    },
    3: {
        "flip": ("an insect's legs, seen from above", "pegs on a guitar's head, three a side"),
        "slide": ("a box of six eggs", "the six on a die", "a bun tin with six cups"),
        "turn": ("a leaf sprig with three leaves a side, laid round again",),
        "split": ("two tricycles: wheels", "two bunches of three carrots"),
    },
    4: {
        "flip": ("a spider's legs", "a leaf stalk with four pairs"),
        "slide": ("a box of eight eggs", "a toy brick with two rows of four studs"),
        "turn": ("eight forks, half of them turned round",),
        "split": ("two toy cars: wheels", "two tables with four chairs each"),
    },
    5: {
        "flip": ("two open hands", "two bare feet", "a crab's legs with its claws"),
        "slide": ("a full ten frame", "ten eggs in two rows", "a double-five domino"),
        "turn": ("two hands laid finger tips to wrists",),
        "split": ("two starfish: arms", "two stacks of five books"),
    },
    6: {
        "flip": ("a twelve-string guitar's head: pegs",),
        "slide": ("a dozen eggs in two rows", "an ice tray of twelve", "a double-six domino"),
        "turn": ("twelve clothes pegs, six of them turned round",),
        "split": ("two boxes of six", "two insects: legs"),
    },
    7: {
        "flip": ("a fern leaf with seven pairs",),
        "slide": ("two whole weeks of a calendar", "coat hooks in two rows of seven"),
        "turn": ("fourteen crayons, half with the tip the other way",),
        "split": ("two seven-spot ladybirds", "two bunches of seven flowers"),
    },
    8: {
        "flip": ("a leaf stalk with eight pairs",),
        "slide": ("the pawns of both sides", "a box of sixteen crayons in two rows"),
        "turn": ("a chess board set up: the pawns",),
        "split": ("two spiders: legs", "two round cakes cut in eight"),
    },
    9: {
        "flip": ("eighteen buttons mirrored over a ruler",),
        "slide": ("eighteen jars on two shelves",),
        "turn": ("eighteen dominoes stood up, half turned",),
        "split": ("two grids of three by three", "two sets of nine skittles"),
    },
    10: {
        "flip": ("fingers and toes of two people, mirrored",),
        "slide": ("beads on two wires of ten", "two rows of ten in a seed tray"),
        "turn": ("twenty pencils, half with the tip the other way",),
        "split": ("two full ten frames", "two boxes of ten eggs"),
    },
    11: {
        "flip": ("the figures of a table football game",),
        "slide": ("two rows of eleven pegs on a line",),
        "turn": ("twenty-two clothes pegs, half turned round",),
        "split": ("two teams of eleven counters", "two strings of eleven beads"),
    },
    12: {
        "flip": ("a long leaf stalk with twelve pairs",),
        "slide": ("two rows of twelve in a seed tray",),
        "turn": ("a draughts board set up: twelve and twelve",),
        "split": ("two dozen eggs in two boxes", "the men of a draughts game in two heaps"),
    },
}
IDEAS: dict[int, tuple[str, ...]] = {
    half: tuple(thing for kind in KINDS for thing in kinds.get(kind, ())) for half, kinds in THINGS.items()
}
BEWARE: dict[int, str] = {
    1: "a pair of scissors is one thing",
    2: "seen from the side, a car shows two wheels",
    3: "feelers are not legs",
    4: "a spider's palps look like legs",
    5: "skittles set up 1-2-3-4 are not a double",
    6: "egg boxes also come with 10, and a tin of twelve cups is mostly 3 by 4",
    7: "one ladybird is 3 and 1 and 3",
    8: "tips hide, and a row may not hold eight",
    9: "a box of 18 eggs is mostly three rows of six",
    10: "beads also show fives",
    11: "a keeper or a spare player makes it 12",
    12: "a tray of 24 is mostly 4 by 6",
}


@dataclass(frozen=True, slots=True)
class Gap:
    """One row of the board: a fact, its pictures by kind, and what to photograph for the kinds that have none."""

    fact: Fact
    counts: dict[Kind, int]
    ideas: dict[Kind, tuple[str, ...]]

    @property
    def total(self) -> int:
        return sum(self.counts.values())


def gaps(folder: Path) -> list[Gap]:
    """The board from 1+1 to 12+12."""
    board = index.board(folder)
    return [_gap(fact, board) for fact in FACTS]


def _gap(fact: Fact, board: dict[tuple[int, Kind], int]) -> Gap:
    counts: dict[Kind, int] = {kind: board.get((fact.half, kind), 0) for kind in KINDS}
    return Gap(fact, counts, {kind: THINGS[fact.half].get(kind, ()) for kind in KINDS if not counts[kind]})

"""What the check on new scenes calls a lot, and what it calls wrong (`tests/bench/scenes_bench.py`)."""

from __future__ import annotations

import dataclasses

import numpy as np

from curator.learning.drawn import scenes
from tests.bench.scenes_bench import Answered, answered, lots, told


def test_a_half_hidden_thing_may_be_counted_or_not() -> None:
    scene = next(s for s in (scenes.make(seed, 192) for seed in range(40)) if s.total() >= 4)
    own = np.flatnonzero((scene.kind == scene.main) & ~scene.aside & (scene.visible >= 0.25))
    alone = np.arange(1, len(scene.kind) + 1)  # every other thing is a kind of its own
    alone[own] = 0

    def lots_where(first: float) -> set[int]:
        seen = scene.visible.copy()
        seen[own] = 1
        seen[own[0]] = first
        return lots(dataclasses.replace(scene, kind=alone.astype(np.int16), visible=seen)) - {1}

    assert lots_where(1.0) == {len(own)}
    assert lots_where(0.3) == {len(own), len(own) - 1}
    assert lots_where(0.05) == {len(own) - 1}


def test_only_a_sure_answer_with_nobodys_number_is_wrong() -> None:
    every = [
        Answered(1, "rows", 6, 6, True, True),
        Answered(2, "rows", 6, 5, False, False),
        Answered(3, "heap", 4, 2, True, True),  # another lot than is meant
        Answered(4, "heap", 3, 2, True, False),
    ]
    said = told(every)
    assert "4 scenes: 0.25 counted exactly; 3 sure, 1 of them wrong" in said
    assert "seed 4, heap: sure of 2, 3 meant" in said
    assert said.count("seed") == 1


def test_a_drawn_scene_is_looked_at() -> None:
    found = answered(123_456)
    assert found is not None
    assert found.family
    assert found.total >= 0

"""kill -9 at random moments, and eight processes at once: nothing that was reported as kept is lost.

The long runs are `python tests/bench/kill_harness.py --rounds 300` and `--soak 60`.
"""

import os

import pytest
from bench.kill_harness import kills, soak

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def test_killed_at_random_moments_the_catalog_keeps_its_promises() -> None:
    figures = kills(rounds=30, seconds=14)
    assert figures.kills >= 10
    assert figures.changes > 0


def test_eight_processes_lose_nothing() -> None:
    figures = soak(seconds=5)
    assert figures["operations"] > 8
    assert figures["counted"] > 0

"""Spoiled files for the picture door, the YAML reader and receive, from the corpus kept in tests/corpus.

The long run is `python tests/bench/fuzz.py --seconds 600`; what it finds is kept in the corpus, and tried here as it
is.
"""

from __future__ import annotations

import random

import pytest
from bench.fuzz import CORPUS, TARGETS, corpus, one, spoil
from hypothesis import given, settings
from hypothesis import strategies as st


@pytest.mark.parametrize("target", sorted(TARGETS))
def test_the_corpus_itself(target: str) -> None:
    for data in corpus(*TARGETS[target][1]):
        one(target, data)


def test_good_files_of_the_corpus_are_read() -> None:
    good = [path for path in (CORPUS / "pictures").iterdir() if not path.name.startswith("found-")]
    assert len(good) >= 17
    assert [path.name for path in good if one("door", path.read_bytes()) != "read"] == []
    assert [one("prompt", data) for data in corpus("prompts")].count("read") >= 3
    assert [one("receive", data) for data in corpus("bundles")].count("read") >= 3


def spoiled(target: str, number: int, seed: int) -> bytes:
    files = corpus(*TARGETS[target][1])
    return spoil(files[number % len(files)], random.Random(seed))


@pytest.mark.parametrize(
    ("target", "tries"), [("door", 250), ("prompt", 250), ("receive", 120), ("within", 60), ("together", 120)]
)
def test_spoiled_files_do_no_harm(target: str, tries: int) -> None:
    @settings(max_examples=tries, deadline=None, database=None)
    @given(st.integers(0, 99), st.integers(0, 2**32))
    def attempt(number: int, seed: int) -> None:
        assert one(target, spoiled(target, number, seed)) in ("read", "refused")

    attempt()


@settings(max_examples=100, deadline=None, database=None)
@given(st.binary(max_size=200))
def test_noise_does_no_harm(data: bytes) -> None:
    for target in ("door", "prompt", "receive"):
        assert one(target, data) == "refused"

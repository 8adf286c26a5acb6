"""Works done beside each other: each once, by threads and by who waits; on one core when they are asked for."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator

import cv2
import pytest

from curator.seeing.beside import beside


@pytest.fixture
def cores() -> Iterator[Callable[[int], None]]:
    """Sets how many cores the process may use."""
    before = cv2.getNumThreads()
    yield cv2.setNumThreads
    cv2.setNumThreads(before)


def test_who_waits_does_what_no_thread_has_begun(cores: Callable[[int], None]) -> None:
    cores(2)
    begun, go, done = threading.Event(), threading.Event(), list[tuple[str, bool]]()

    def noted(name: str) -> str:
        done.append((name, threading.current_thread() is threading.main_thread()))
        return name

    def slow() -> str:
        begun.set()
        assert go.wait(10)
        return noted("slow")

    def last() -> str:
        go.set()
        return noted("last")

    first, second, third = beside([slow, lambda: noted("second"), last])
    assert begun.wait(10)  # the one thread that two cores leave is at the first work
    assert second() == "second"
    assert done == [("second", True)]
    assert first() == "slow"  # it would never come if the last work were left to the thread
    assert done[1] == ("last", True)
    assert done[2] == ("slow", False)
    assert (first(), second(), third()) == ("slow", "second", "last")
    assert len(done) == 3  # each once


def test_an_error_reaches_who_asks_and_stops_no_other_work(cores: Callable[[int], None]) -> None:
    def wrong() -> int:
        raise ValueError("no")

    for many in (1, 2, 4):
        cores(many)
        one, other = beside([wrong, lambda: 2])
        assert other() == 2
        with pytest.raises(ValueError, match="no"):
            one()


def test_the_same_thread_does_one_work_after_the_other(cores: Callable[[int], None]) -> None:
    cores(2)
    threads = set[int]()
    for _ in range(3):
        done = threading.Event()

        def work(done: threading.Event = done) -> None:
            threads.add(threading.get_ident())
            done.set()

        beside([work])
        assert done.wait(10)  # nobody asks
    assert len(threads) == 1
    assert threading.get_ident() not in threads


def test_an_interruption_is_not_kept_with_a_work_that_nobody_asks_for(cores: Callable[[int], None]) -> None:
    cores(2)
    begun, go = threading.Event(), threading.Event()

    def slow() -> bool:
        begun.set()
        return go.wait(10)

    def interrupted() -> bool:
        raise KeyboardInterrupt

    first, _ = beside([slow, interrupted])
    assert begun.wait(10)
    with pytest.raises(KeyboardInterrupt):
        first()
    go.set()
    assert first()


def test_on_one_core_nothing_is_done_unless_it_is_asked_for(cores: Callable[[int], None]) -> None:
    cores(1)
    done = list[int]()

    def work(k: int) -> int:
        done.append(k)
        return k

    _, one = beside([lambda: work(0), lambda: work(1)])
    assert not done
    assert (one(), one()) == (1, 1)
    assert done == [1]

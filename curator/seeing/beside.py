"""Works done beside each other, where this process has more than one core."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import cache, partial
from typing import TypeVar

import cv2

LANES = 2  # works done at a time: two nets on a core each are done sooner than one after the other on both
Answer = TypeVar("Answer")


@cache
def _threads(many: int) -> ThreadPoolExecutor:
    """They stay: on a busy machine it takes as long as a small net until a new one is begun."""
    return ThreadPoolExecutor(many, "beside")


def beside(works: Sequence[Callable[[], Answer]]) -> tuple[Callable[[], Answer], ...]:
    """Each work's answer. Threads begin them in order, no more than leave a core to who asks; who asks for an answer
    that is not there does what nobody has begun: its own work first, then others, until it is there.

    Where this process has one core the works are done when asked: threads beside would take turns with it.
    """
    cores = cv2.getNumThreads()
    if cores == 1:
        return tuple(cache(work) for work in works)
    left, answers = list(range(len(works))), [Future[Answer]() for _ in works]

    def do(k: int) -> None:
        try:
            left.remove(k)
        except ValueError:  # somebody has begun it
            return
        try:
            answers[k].set_result(works[k]())
        except BaseException as error:
            answers[k].set_exception(error)
            if not isinstance(error, Exception):  # Ctrl-C is for who waits, whosever work it met
                raise

    def answer(k: int) -> Answer:
        for other in (k, *left):
            if not answers[k].done():
                do(other)
        return answers[k].result()

    def all_in_order() -> None:
        for k in range(len(works)):
            do(k)

    lanes = min(LANES, cores - 1)
    for _ in works[:lanes]:
        _threads(lanes).submit(all_in_order)
    return tuple(partial(answer, k) for k in range(len(works)))

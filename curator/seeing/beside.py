"""Works done in threads beside, where this process has more than one core."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

import cv2

LANES = 2  # works done at a time: two nets on a core each are done sooner than one after the other on both
Answer = TypeVar("Answer")


def beside(works: Sequence[Callable[[], Answer]]) -> tuple[Callable[[], Answer], ...]:
    """Each work's answer; they are begun in order. Where this process has one core they are done when asked: threads
    beside would take turns with it.
    """
    if cv2.getNumThreads() == 1:
        return tuple(cache(work) for work in works)
    threads = ThreadPoolExecutor(LANES)
    answers = [threads.submit(work) for work in works]
    threads.shutdown(wait=False)  # they end with the last answer
    return tuple(one.result for one in answers)

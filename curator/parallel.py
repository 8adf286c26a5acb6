"""Many jobs at once: every core, progress told as it comes, and Ctrl-C keeps what is done."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, ProcessPoolExecutor, wait
from multiprocessing import get_context
from typing import Any, NamedTuple, TypeVar

from curator import limited
from curator.errors import CuratorError
from curator.limited import works_here

Answer = TypeVar("Answer")
Progress = Callable[[int, int], None]  # told how many are done, of how many
FEW = 3  # fewer jobs than this are not worth a second process


def _one_thread() -> None:
    import signal

    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # read when numpy is loaded: its waiting threads would take the cores
    import cv2

    cv2.setNumThreads(1)  # the processes share the cores already
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means


class Cluster(NamedTuple):
    """An existing Dask cluster to work on, and what answers for a job that it cannot do."""

    address: str
    set_aside: Callable[..., Any]


def spread(
    work: Callable[..., Answer],
    jobs: Iterable[tuple[Any, ...]],
    count: int,
    cluster: Cluster | None = None,
    aside: Callable[..., Answer] | None = None,
    ahead: int = 0,
) -> Generator[Answer, None, None]:
    """work(*job) for every job on all cores, or on a cluster, answers as they are ready; only a few are held at a time.

    `count` is how many jobs there are: few are done here. Closing it early drops the jobs that have not begun. With
    `aside` each job opens a file of somebody and has limits on memory and time; aside(*job) answers for one that passes
    them, and `ahead` answers more are worked out while whoever asked is busy with one.
    """
    if cluster:
        from curator.cluster import spread_on

        yield from spread_on(cluster.address, work, jobs, cluster.set_aside)
        return
    if aside and not works_here(work):
        yield from limited.spread(work, jobs, count, aside, ahead)
        return
    if count < FEW or multiprocessing.current_process().daemon:  # a process with limits may start no other
        yield from (work(*job) for job in jobs)
        return
    cores = os.cpu_count() or 1
    waiting = iter(jobs)
    # fresh processes: a fork of a process in which OpenCV's threads ran hangs
    pool = ProcessPoolExecutor(cores, get_context("spawn"), _one_thread)
    try:
        running: set[Future[Answer]] = set()
        while True:
            while len(running) < 2 * cores and (job := next(waiting, None)) is not None:
                running.add(pool.submit(work, *job))
            if not running:
                return
            done, running = wait(running, return_when=FIRST_COMPLETED)
            for future in done:
                yield future.result()
    except BrokenExecutor as error:
        wrong = "One of the processes was stopped, perhaps for want of memory."
        raise CuratorError(
            "Looking at many photos.", wrong, "Close other programs, or take fewer photos at once."
        ) from error
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def watched(
    work: Callable[..., Answer],
    jobs: Iterable[tuple[Any, ...]],
    progress: Progress | None = None,
    count: int | None = None,
    cluster: Cluster | None = None,
    aside: Callable[..., Answer] | None = None,
) -> Iterator[Answer]:
    """spread(), and `progress` is told after each answer; Ctrl-C ends it and keeps what is done.

    `count` is how many jobs there are, where they are made as they are asked for.
    """
    if count is None:
        count = len(jobs := list(jobs))
    answers = spread(work, jobs, count, cluster, aside)
    try:
        for done, answer in enumerate(answers, 1):
            yield answer
            if progress:
                progress(done, count)
    except KeyboardInterrupt:
        pass
    finally:
        answers.close()

"""Many jobs on the machines of an existing Dask cluster, with the same promises as `parallel`: every job is answered
once, as soon as it is ready, whatever happens to a worker or to the scheduler.

A job runs in a process of its own beside the worker (`cluster_child`), so that a photo which kills its process does not
take the worker along. The optional extra `cluster` brings `dask.distributed`.
"""

from __future__ import annotations

import time
from collections import Counter, deque
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from queue import Empty, Queue
from typing import TYPE_CHECKING, Any, TypeVar

from curator.errors import CuratorError

if TYPE_CHECKING:
    from distributed import Client, Future

Answer = TypeVar("Answer")
Job = tuple[Any, ...]
TRIES = 2  # processes that a job may kill before it is set aside
A_THREAD = 3  # jobs held by the scheduler for each thread of a worker; the others wait here
RECONNECT = 120.0  # seconds in which a scheduler that went away may come back
DOING = "Handing photos to the cluster."


@dataclass(slots=True)
class Run:
    """The jobs of one run that have no answer yet, and how often each killed its process."""

    waiting: Iterator[tuple[int, Job]]  # with their numbers
    again: deque[tuple[int, Job]] = field(default_factory=deque)
    running: dict[Future, tuple[int, Job]] = field(default_factory=dict)
    killed: Counter[int] = field(default_factory=Counter)

    def next_job(self) -> tuple[int, Job] | None:
        """What runs again comes first."""
        return self.again.popleft() if self.again else next(self.waiting, None)


def spread_on(
    address: str, work: Callable[..., Answer], jobs: Iterable[Job], set_aside: Callable[..., Answer]
) -> Generator[Answer, None, None]:
    """work(*job) for every job on the cluster at `address`, answers as they are ready; only a few jobs a thread are
    with the scheduler at a time.

    Jobs on a worker that is lost run again elsewhere; while the scheduler is away (RECONNECT seconds at most) all
    wait. A job that killed its process TRIES times is answered by set_aside(*job). CuratorError where there is no
    cluster, or it has another version of this program.
    """
    run = Run(enumerate(jobs))
    client = _connected(address, 5.0)
    try:
        _same_version(client)
        while True:
            try:
                yield from _answers(client, run, work, set_aside)
                return
            except _lost():
                run.again.extendleft(run.running.values())
                run.running.clear()
                _closed(client)
                client = _connected(address, RECONNECT)
    finally:
        _closed(client)


def _answers(
    client: Client, run: Run, work: Callable[..., Answer], set_aside: Callable[..., Answer]
) -> Iterator[Answer]:
    from distributed import CancelledError
    from distributed.scheduler import KilledWorker

    from curator.cluster_child import KilledError, in_a_process_of_its_own

    ready: Queue[Future] = Queue()
    room = A_THREAD * _threads(client)
    while True:
        while len(run.running) < room and (job := run.next_job()) is not None:
            future = client.submit(in_a_process_of_its_own, work, job[1], pure=False)
            run.running[future] = job
            future.add_done_callback(ready.put)
        if not run.running:
            return
        try:
            future = ready.get(timeout=2.0)
        except Empty:
            room = A_THREAD * _threads(client)
            if client.status != "running":
                raise CancelledError(client.status) from None
            continue
        try:
            answer = future.result(timeout=30)
        except (KilledError, KilledWorker):
            number, own = run.running.pop(future)
            run.killed[number] += 1
            if run.killed[number] < TRIES:
                run.again.append((number, own))
                continue
            answer = set_aside(*own)
        else:
            run.running.pop(future)
        yield answer


def _lost() -> tuple[type[BaseException], ...]:
    """What is raised when the scheduler goes away, or loses what it was asked."""
    from distributed import CancelledError
    from distributed.comm import CommClosedError

    return (CancelledError, CommClosedError, OSError)


def _connected(address: str, seconds: float) -> Client:
    try:
        from distributed import Client
    except ImportError as error:
        raise CuratorError(
            DOING, "dask.distributed is not installed.", "Install the extra: pip install 'curator[cluster]'."
        ) from error
    until, trouble = time.monotonic() + seconds, ""
    while time.monotonic() < until:
        try:
            return Client(address, timeout=min(5.0, seconds), set_as_default=False, heartbeat_interval="2s")
        except (OSError, TimeoutError, ValueError, TypeError) as error:
            trouble = str(error).split("\n")[0]
            if isinstance(error, ValueError | TypeError):
                break
            time.sleep(1.0)
    wrong = f"There is no scheduler at {address} ({trouble or 'no answer'})."
    raise CuratorError(DOING, wrong, "Check the address and that the scheduler runs; it is like tcp://machine:8786.")


def _closed(client: Client) -> None:
    with suppress(Exception):  # a scheduler that is gone cannot be taken leave of
        client.close(timeout=2)


def _threads(client: Client) -> int:
    with suppress(OSError):
        return max(1, int(sum(client.nthreads().values())))
    return 1


def _version() -> str:
    from importlib.metadata import version

    return version("curator")


def _same_version(client: Client) -> None:
    own = _version()
    try:
        client.wait_for_workers(1, timeout=60)
        found = client.run(_version)
    except TimeoutError as error:
        raise CuratorError(DOING, "The cluster has no worker.", "Start workers, then try again.") from error
    except ModuleNotFoundError as error:
        wrong = "A worker cannot import curator."
        raise CuratorError(DOING, wrong, "Install curator where the workers run.") from error
    others = sorted({v for v in found.values() if v != own})
    if others:
        wrong = f"This is curator {own}, and on workers there is {', '.join(others)}."
        raise CuratorError(DOING, wrong, "Install the same version everywhere.")

"""Jobs on a real scheduler with worker processes: each is answered once, whatever is killed meanwhile."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image

pytest.importorskip("distributed")

import drawn
from cluster_work import aside, doubled, wrong

from curator import cluster
from curator.errors import CuratorError
from curator.seeing import batch

TESTS = Path(__file__).parent


def started(*words: str) -> subprocess.Popen[bytes]:
    """A process of dask, in a group of its own, so that its children end with it."""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(TESTS), str(TESTS.parent)])}
    return subprocess.Popen(
        [sys.executable, "-m", *words],
        env=env,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def ended(process: subprocess.Popen[bytes]) -> None:
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        return
    process.wait()


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Machines:
    """A scheduler and some workers on this machine."""

    def __init__(self, workers: int) -> None:
        self.port = free_port()
        self.address = f"tcp://127.0.0.1:{self.port}"
        self.many = workers
        self.start()

    def start(self) -> None:
        self.scheduler = started(
            "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", str(self.port), "--no-dashboard"
        )
        self.workers = [
            started("distributed.cli.dask_worker", self.address, "--nthreads", "1", "--no-nanny", "--no-dashboard")
            for _ in range(self.many)
        ]

    def stop(self) -> None:
        for process in (*self.workers, self.scheduler):
            ended(process)


@pytest.fixture
def machines() -> Iterator[Machines]:
    made = Machines(2)
    yield made
    made.stop()


def test_each_job_once_and_a_harmful_one_is_set_aside_after_two_tries(machines: Machines, tmp_path: Path) -> None:
    jobs = [(n, str(tmp_path), 5) for n in range(20)]
    found = list(cluster.spread_on(machines.address, doubled, jobs, aside))
    assert sorted(found) == sorted((n, -1 if n == 5 else 2 * n) for n in range(20))
    assert len((tmp_path / "5.tries").read_text().split()) == 2
    with pytest.raises(ValueError, match="7 is wrong"):
        list(cluster.spread_on(machines.address, wrong, [(7,)], aside))


def test_a_worker_is_killed_and_nothing_is_lost_or_twice(machines: Machines, tmp_path: Path) -> None:
    found = []
    for answer in cluster.spread_on(machines.address, doubled, ((n, str(tmp_path)) for n in range(60)), aside):
        found.append(answer)
        if len(found) == 10:
            ended(machines.workers[0])
    assert sorted(found) == [(n, 2 * n) for n in range(60)]


def test_a_scheduler_is_started_again_and_the_run_goes_on(machines: Machines, tmp_path: Path) -> None:
    found = []
    for answer in cluster.spread_on(machines.address, doubled, ((n, str(tmp_path)) for n in range(60)), aside):
        found.append(answer)
        if len(found) == 10:
            machines.stop()
            time.sleep(0.5)
            machines.start()
    assert sorted(found) == [(n, 2 * n) for n in range(60)]


def test_only_a_few_jobs_are_taken_at_a_time(machines: Machines, tmp_path: Path) -> None:
    taken = []

    def jobs() -> Iterator[tuple[int, str]]:
        for n in range(10_000):
            taken.append(n)
            yield n, str(tmp_path)

    answers = cluster.spread_on(machines.address, doubled, jobs(), aside)
    for _ in range(4):
        next(answers)
    answers.close()
    assert len(taken) <= 4 + 2 * cluster.A_THREAD + 2


def test_no_scheduler_is_said_in_three_sentences() -> None:
    with pytest.raises(CuratorError) as caught:
        list(cluster.spread_on(f"tcp://127.0.0.1:{free_port()}", wrong, [(1,)], aside))
    assert "There is no scheduler at" in caught.value.wrong
    with pytest.raises(CuratorError):
        list(cluster.spread_on("nonsense://x", wrong, [(1,)], aside))


def test_tag_on_a_cluster_says_the_same_and_a_stopped_run_goes_on(machines: Machines, tmp_path: Path) -> None:
    Image.fromarray(drawn.discs(2, 3)).save(tmp_path / "six.png")
    (tmp_path / "broken.jpg").write_bytes(b"no picture")
    photos, log = [tmp_path / "six.png", tmp_path / "broken.jpg"], tmp_path / "run.jsonl"
    here = [{**one, "ms": 0} for one in batch.tag_all(photos, None, None)]
    first = batch.tag_all(photos, None, None, cluster=machines.address, log=log)
    seen = [next(first)]
    first.close()
    assert len(log.read_text().splitlines()) == 1
    machines.stop()  # what is in the journal needs nobody
    with log.open("a") as file:
        file.write('{"file": "cut of')
    rest = batch.tag_all(photos, None, None, log=log)
    assert next(rest) == seen[0]
    seen += list(rest)
    assert sorted([{**one, "ms": 0} for one in seen], key=str) == sorted(here, key=str)
    again = list(batch.tag_all(photos, None, None, log=log))
    assert sorted(again, key=str) == sorted(seen, key=str)

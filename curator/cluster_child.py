"""On a worker of a cluster: each job in a process of its own that is used again, with a limit on time and memory.

A pipe of pickled (function, arguments) leads in, one of (good, value) out. The worker is trusted: it is the cluster
that hands it its work.
"""

from __future__ import annotations

import os
import pickle
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import IO, Any

from curator.limited import limit_memory

SECONDS = 120.0  # for one job
_own = threading.local()  # a worker's thread keeps its process


class KilledError(Exception):
    """The process of a job ended before it answered, or had to be ended."""


def in_a_process_of_its_own(work: Callable[..., Any], job: tuple[Any, ...]) -> Any:
    """work(*job); KilledError where the process dies or takes longer than SECONDS. What `work` raises is raised."""
    process = _process()
    timer = threading.Timer(SECONDS, process.kill)
    timer.start()
    try:
        _send(process.stdin, (work, job))
        good, value = _received(process.stdout)
    except (OSError, EOFError, struct.error) as error:
        _ended(process)
        raise KilledError(f"the process of {job[0]} ended") from error
    finally:
        timer.cancel()
    if not good:
        raise value
    return value


def _process() -> subprocess.Popen[bytes]:
    process: subprocess.Popen[bytes] | None = getattr(_own, "process", None)
    if process is None or process.poll() is not None:
        command = [sys.executable, "-m", "curator.cluster_child"]
        one_thread = {**os.environ, "OPENCV_FOR_THREADS_NUM": "1"}  # the worker's threads share the cores already
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=one_thread)
        _own.process = process
    return process


def _ended(process: subprocess.Popen[bytes]) -> None:
    process.kill()
    process.wait()
    _own.process = None


def _send(pipe: IO[bytes] | None, value: object) -> None:
    assert pipe is not None
    data = pickle.dumps(value)
    pipe.write(struct.pack("<Q", len(data)) + data)
    pipe.flush()


def _received(pipe: IO[bytes] | None) -> Any:
    assert pipe is not None
    head = pipe.read(8)
    if len(head) < 8:
        raise EOFError
    (length,) = struct.unpack("<Q", head)
    data = pipe.read(length)
    if len(data) < length:
        raise EOFError
    return pickle.loads(data)


def main() -> None:
    """Answer one job after the other until the pipe closes; whatever a job prints goes to standard error."""
    incoming, outgoing = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    limit_memory()
    while True:
        try:
            work, job = _received(incoming)
        except EOFError:
            return
        try:
            answer: tuple[bool, Any] = (True, work(*job))
        except Exception as error:
            answer = (False, error)
        _send(outgoing, answer)


if __name__ == "__main__":
    main()

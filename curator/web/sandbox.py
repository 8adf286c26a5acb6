"""A process of its own for pictures, with limits on memory and time: a hostile file ends it, not the server."""

from __future__ import annotations

import multiprocessing
import threading
from multiprocessing.connection import Connection
from typing import Any

from curator.errors import CuratorError, PhotoError
from curator.limited import limit_memory

SECONDS = 40  # a slow laptop needs some ten for the largest photo
DOING = "Looking at the photo."
SMALLER = "Save a smaller copy of it and try again."


def serve(pipe: Connection) -> None:
    """Answer one job after the other until the pipe closes."""
    limit_memory()
    from curator.web.sandbox_jobs import JOBS

    while True:
        try:
            job, args = pipe.recv()
        except EOFError:
            return
        try:
            pipe.send((True, JOBS[job](*args)))
        except CuratorError as error:
            pipe.send((False, error))
        except MemoryError:
            pipe.send((False, PhotoError(DOING, "It needs more memory than it may have.", SMALLER)))
        except OSError as error:
            pipe.send((False, error))
        except Exception as error:  # whatever a damaged picture raises in a decoder
            wrong = f"It cannot be looked at ({type(error).__name__})."
            pipe.send((False, PhotoError(DOING, wrong, "Try another photo.")))


class Worker:
    """One such process; started when first asked, and again after it had to be ended."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._process: Any = None
        self._pipe: Connection | None = None

    def _start(self) -> Connection:
        if self._pipe is None or not self._process.is_alive():
            context = multiprocessing.get_context("spawn")
            self._pipe, theirs = context.Pipe()
            self._process = context.Process(target=serve, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
        return self._pipe

    def ask(self, job: str, *args: Any, seconds: float = SECONDS) -> Any:
        """The job's answer; PhotoError when it takes too long or the process dies."""
        with self._lock:
            pipe = self._start()
            try:
                pipe.send((job, args))
                if not pipe.poll(seconds):
                    self._end()
                    raise PhotoError(DOING, f"It took longer than {seconds:g} seconds.", SMALLER)
                good, value = pipe.recv()
            except (EOFError, BrokenPipeError, ConnectionResetError) as error:
                self._end()
                raise PhotoError(DOING, "The picture could not be looked at safely.", SMALLER) from error
        if not good:
            raise value
        return value

    def _end(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.join(5)
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None

    def stop(self) -> None:
        """End the process."""
        with self._lock:
            self._end()

"""Processes with limits on memory and time, for whatever opens a file of somebody: a hostile one ends one of them."""

from __future__ import annotations

import atexit
import contextlib
import multiprocessing
import os
import queue
import signal
import sys
import threading
from collections.abc import Callable, Generator, Iterable, Mapping
from multiprocessing.connection import Connection
from typing import Any, TypeVar, overload

from curator.errors import CuratorError, PhotoError

Answer = TypeVar("Answer")
Named = Callable[[], Mapping[str, Callable[..., Any]]]  # gives the table of jobs
DATA_BYTES = 3_000_000_000  # the largest picture allowed (120 megapixels, three copies) fits
CPU_SECONDS = 60  # of one job; a slow laptop needs some ten for the largest photo
SECONDS = 300.0  # by the clock, for one that waits instead of working; a busy machine may take long
DOING, SMALLER = "Looking at the photo.", "Save a smaller copy of it and try again."
BUSY = "Try again when this computer has less to do."
ON = True  # False: work in this process (for a harness that kills processes by the hundred)


class StoppedError(PhotoError):
    """The process was ended, by a limit or by the file it had opened."""


def limit_memory() -> None:
    """This process from now on: DATA_BYTES of memory, no core file; Ctrl-C is the parent's to decide."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means
    with contextlib.suppress(ImportError, OSError, ValueError):  # no such limits on Windows
        import resource

        resource.setrlimit(resource.RLIMIT_DATA, (DATA_BYTES, DATA_BYTES))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def _here() -> str:
    """The folder that paths are meant from; "" where it is gone."""
    try:
        return os.getcwd()
    except OSError:
        return ""


def _limit_job() -> None:
    """Processor time from now on: on a busy machine the clock says little."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        soft = int(used.ru_utime + used.ru_stime) + CPU_SECONDS
        resource.setrlimit(resource.RLIMIT_CPU, (soft, resource.getrlimit(resource.RLIMIT_CPU)[1]))


def serve(pipe: Connection, named: Named | None, threads: int) -> None:
    """Answer one job after the other until the pipe closes."""
    limit_memory()
    if threads > 0:
        os.environ["OPENCV_FOR_THREADS_NUM"] = str(threads)  # it reads this when a job first needs it
    if "cv2" in sys.modules:
        sys.modules["cv2"].setNumThreads(threads)
    jobs: Mapping[str, Callable[..., Any]] = named() if named else {}
    while True:
        try:
            work, args, at = pipe.recv()  # a function comes as its name too
        except EOFError:
            return
        with contextlib.suppress(OSError):
            os.chdir(at)  # a path is meant from where it was asked for, not from where this process was started
        _limit_job()
        with contextlib.suppress(BrokenPipeError):  # who asked is gone
            pipe.send(_answer(jobs[work] if isinstance(work, str) else work, args))


def _answer(work: Callable[..., Any], args: tuple[Any, ...]) -> tuple[bool, Any]:
    try:
        return True, work(*args)
    except (CuratorError, OSError) as error:
        return False, error
    except MemoryError:
        return False, PhotoError(DOING, "It needs more memory than it may have.", SMALLER)
    except Exception as error:  # whatever a damaged picture raises in a decoder
        return False, PhotoError(DOING, f"It cannot be looked at ({type(error).__name__}).", "Try another photo.")


class Process:
    """One such process, for one job at a time; started when first asked, and again after it was ended.

    A job is a function that can be imported, or a name of the table that `named` gives: then only the process imports
    what does the work. `threads` is how many OpenCV may use there; -1: one a core. `seconds` is for one job; SECONDS
    where nothing is said.
    """

    def __init__(self, named: Named | None = None, *, threads: int = 1, seconds: float | None = None) -> None:
        self._start_with = (named, threads)
        self._seconds = seconds
        self._busy = threading.Lock()
        self._process: Any = None
        self._pipe: Connection | None = None

    @overload
    def ask(self, work: str, *args: Any) -> Any: ...

    @overload
    def ask(self, work: Callable[..., Answer], *args: Any) -> Answer: ...

    def ask(self, work: Callable[..., Any] | str, *args: Any) -> Any:
        """What the job answers for `args`; StoppedError where a limit or the file ended the process.

        What the job raises is raised: a CuratorError or OSError as it is, all else as a PhotoError.
        """
        patience = SECONDS if self._seconds is None else self._seconds
        with self._busy:
            try:
                pipe = self._started()
                pipe.send((work, args, _here()))
                if not pipe.poll(patience):
                    raise StoppedError(DOING, f"It took longer than {patience:g} seconds.", BUSY)
                good, value = pipe.recv()
            except StoppedError:
                self._stop()
                raise
            except (EOFError, BrokenPipeError, ConnectionResetError) as error:
                self._stop()
                raise StoppedError(DOING, "The picture could not be looked at safely.", SMALLER) from error
        if not good:
            raise value
        return value

    def _started(self) -> Connection:
        if self._pipe is None or not self._process.is_alive():
            self._stop()
            context = multiprocessing.get_context("spawn")
            ours, theirs = context.Pipe()
            process = context.Process(target=serve, args=(theirs, *self._start_with), daemon=True)
            try:
                process.start()
            except BaseException:  # the machine has no room for it; the next one who asks tries again
                ours.close()
                raise
            finally:
                theirs.close()
            self._process, self._pipe = process, ours
        return self._pipe

    def _stop(self) -> None:
        """By who holds the lock alone: a pipe closed by two would close what somebody else has opened meanwhile."""
        if self._process is not None:
            self._process.kill()
            self._process.join(5)
        if self._pipe is not None:
            self._pipe.close()
        self._process = self._pipe = None

    def end(self) -> None:
        """End it, whatever it does; who waits for its answer is told StoppedError."""
        while not self._busy.acquire(timeout=0.05):
            process = self._process
            if process is not None:
                process.kill()
        try:
            self._stop()
        finally:
            self._busy.release()


_idle: list[Process] = []  # kept for the next batch: starting one takes as long as looking at a photo
_of = os.getpid()
_lock = threading.Lock()


@atexit.register
def _end_all() -> None:
    while _idle:
        one = _idle.pop()
        if _of == os.getpid():
            one.end()


def _taken() -> Process:
    global _of
    with _lock:
        if _of != os.getpid():  # forked: those are the parent's
            _idle.clear()
            _of = os.getpid()
        return _idle.pop() if _idle else Process()


def works_here(work: Callable[..., Any]) -> bool:
    """Whether a job has to be done in this process: it is a limited one itself, or nobody could import the function."""
    module = sys.modules.get(work.__module__)
    in_file = hasattr(module, "__file__")  # what is typed in has none
    importable = in_file and getattr(module, work.__qualname__, None) is work
    return not ON or multiprocessing.current_process().daemon or not importable


def spread(
    work: Callable[..., Answer],
    jobs: Iterable[tuple[Any, ...]],
    count: int,
    aside: Callable[..., Answer],
    ahead: int = 0,
) -> Generator[Answer, None, None]:
    """work(*job) for every job in a process with limits, answers as they are ready; only a few are held at a time.

    aside(*job) answers for a job that ended its process. `ahead` is how many answers more may wait for whoever asked.
    Closing it early ends what is in work.
    """
    waiting, lock, over = iter(jobs), threading.Lock(), threading.Event()
    processes = [_taken() for _ in range(max(1, min(os.cpu_count() or 1, count)))]
    answers: queue.Queue[tuple[str, Any]] = queue.Queue(len(processes) + ahead)

    def run(process: Process) -> None:
        while not over.is_set():
            try:
                with lock:
                    job = next(waiting, None)
                if job is None:
                    break
                try:
                    told: tuple[str, Any] = "answer", process.ask(work, *job)
                except StoppedError:
                    told = "answer", aside(*job)
            except BaseException as error:
                told = "error", error
            _put(answers, told, over)
        _put(answers, ("end", None), over)

    threads = [threading.Thread(target=run, args=(one,), daemon=True) for one in processes]
    for thread in threads:
        thread.start()
    try:
        ended = 0
        while ended < len(threads):
            kind, value = answers.get()
            if kind == "answer":
                yield value
            elif kind == "error":
                raise value
            else:
                ended += 1
        over.set()
        with _lock:
            _idle.extend(processes)
        processes = []
    finally:
        over.set()
        for one in processes:
            one.end()


def _put(answers: queue.Queue[tuple[str, Any]], told: tuple[str, Any], over: threading.Event) -> None:
    while not over.is_set():
        with contextlib.suppress(queue.Full):
            answers.put(told, timeout=0.1)
            return

"""Two processes that make the pictures of a lesson's scenes before they are asked for, what is asked for first."""

from __future__ import annotations

import itertools
import queue
import threading
from concurrent.futures import Future
from pathlib import Path
from typing import Any

from curator.classroom.plan import Step
from curator.limited import Process
from curator.records import Prompt
from curator.web.sandbox import worker as new_worker
from curator.web.scenes import file, key

NOW, SOON, LATER = 0, 1, 2
IDLE_SECONDS = 60.0  # then the processes end, and give their memory back


class Maker:
    """Two threads, each with a process for pictures; what a class waits for goes before what may be wanted later."""

    def __init__(self) -> None:
        self._waiting: queue.PriorityQueue[tuple[int, int, str]] = queue.PriorityQueue()
        self._count = itertools.count()
        self._lock = threading.Lock()
        self._jobs: dict[str, tuple[Future[None], tuple[Any, ...]]] = {}
        self._begun: set[str] = set()
        self._threads = 0
        self._workers: list[Process] = []

    def ask(self, here: Path, step: Step, prompt: Prompt | None, urgency: int = LATER) -> tuple[str, Future[None]]:
        """The scene's key, and a future that ends when its file is there; the same scene is made once."""
        one = key(here, step, prompt)
        path = file(here, one)
        with self._lock:
            if path.is_file():
                done: Future[None] = Future()
                done.set_result(None)
                return one, done
            if one not in self._jobs:
                self._jobs[one] = (Future(), (str(here), step, prompt, str(path)))
            self._waiting.put((urgency, next(self._count), one))
            if self._threads < 2:
                self._threads += 1
                threading.Thread(target=self._work, daemon=True).start()
            return one, self._jobs[one][0]

    def hurry(self, one: str) -> Future[None] | None:
        """The future of a scene that is on its way, now before all others; None where it is not."""
        with self._lock:
            job = self._jobs.get(one)
            if job is not None and one not in self._begun:
                self._waiting.put((NOW, next(self._count), one))
            return job[0] if job else None

    def _work(self) -> None:
        worker = new_worker()
        with self._lock:
            self._workers.append(worker)
        while True:
            try:
                _, _, one = self._waiting.get(timeout=IDLE_SECONDS)
            except queue.Empty:
                with self._lock:
                    if not self._waiting.empty():
                        continue
                    self._threads -= 1
                    self._workers.remove(worker)
                worker.end()
                return
            with self._lock:
                job = self._jobs.get(one)
                if job is None or one in self._begun:
                    continue
                self._begun.add(one)
            self._make(worker, one, *job)

    def _make(self, worker: Process, one: str, future: Future[None], args: tuple[Any, ...]) -> None:
        try:
            worker.ask("scene", *args)
        except Exception as error:  # told to who waits for it
            failed: Exception | None = error
        else:
            failed = None
        with self._lock:
            self._begun.discard(one)
            self._jobs.pop(one, None)
        if failed is None:
            future.set_result(None)
        else:
            future.set_exception(failed)

    def stop(self) -> None:
        """End the processes."""
        with self._lock:
            workers, self._jobs = list(self._workers), {}
        for worker in workers:
            worker.end()

"""Many photos at once: every core, a progress bar, and Ctrl-C keeps what is done."""

from __future__ import annotations

import itertools
import os
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, ProcessPoolExecutor, wait
from multiprocessing import get_context
from pathlib import Path
from typing import Any, TypeVar

from curator.errors import CuratorError, PhotoError
from curator.records import Area

Answer = TypeVar("Answer")
FEW = 3  # fewer photos than this are not worth a second process


def wanted(paths: list[Path]) -> list[Path]:
    """The photos named and those in the folders named; PhotoError when a folder holds none."""
    from curator.seeing.photo import photos_in

    found = photos_in(paths)
    if not found:
        where = ", ".join(str(path) for path in paths)
        raise PhotoError("Looking for photos.", f"There is no photo in {where}.", "Name a folder with JPEG, PNG or HEIC files.")
    return found


def drawings(paths: list[Path], folder: Path) -> list[Path]:
    """Where each photo is drawn with its dots: under its own name and "-dots", numbered where two would be the same, never where a photo is."""
    taken = {_place(path) for path in paths}
    found = []
    for path in paths:
        names = (f"{path.stem}-dots{'' if number == 1 else f'-{number}'}.jpg" for number in itertools.count(1))
        found.append(next(folder / name for name in names if _place(folder / name) not in taken))
        taken.add(_place(found[-1]))
    return found


def _place(path: Path) -> str:
    return str(path.resolve()).casefold()  # some file systems take two cases for one name


def tag_one(path: Path, area: Area | None, draw: Path | None) -> dict[str, Any]:
    """The JSON answer for one photo, drawn to the file `draw`; an unreadable one gives {"photo", "error"}."""
    from curator.seeing import look

    def answer() -> dict[str, Any]:
        seen = look.look(path, area)
        if draw is not None:
            from curator.seeing.overlay import draw as drawn
            from curator.seeing.photo import save_clean

            save_clean(drawn(seen.photo.pixels, seen.best), draw)
        return look.as_json(seen)

    return answered(path, answer)


def answered(path: Path, answer: Callable[[], dict[str, Any]]) -> dict[str, Any]:
    """What is answered for the photo; {"photo", "error"} where it cannot be read."""
    import cv2

    doing = f"Reading the photo {path.name}."
    try:
        return answer()
    except CuratorError as error:
        trouble = error
    except MemoryError:
        trouble = PhotoError(doing, "There is not enough memory.", "Save a smaller copy of it first.")
    except cv2.error:  # one photo must not end the others
        trouble = PhotoError(doing, "Its pixels could not be worked on.", "Save it as JPEG and try again.")
    return {"photo": path.name, "error": trouble.as_dict()}


def _one_thread() -> None:
    import signal

    import cv2

    cv2.setNumThreads(1)  # the processes share the cores already
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means


def spread(work: Callable[..., Answer], jobs: Iterable[tuple[Any, ...]], count: int) -> Generator[Answer, None, None]:
    """work(*job) for every job on all cores, answers as they are ready; only a few are held at a time.

    `count` is how many jobs there are: few are done here. Closing it early drops the jobs that have not begun.
    """
    if count < FEW:
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
        raise CuratorError("Looking at many photos.", wrong, "Close other programs, or take fewer photos at once.") from error
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def watched(
    work: Callable[..., Answer], jobs: Iterable[tuple[Any, ...]], title: str, count: int | None = None
) -> Iterator[Answer]:
    """spread() with a progress bar, none where the title is empty; Ctrl-C ends it and keeps what is done.

    `count` is how many jobs there are, where they are made as they are asked for.
    """
    from rich.progress import Progress

    if count is None:
        count = len(jobs := list(jobs))
    answers = spread(work, jobs, count)
    with Progress(transient=True, disable=not title) as bar:
        task = bar.add_task(title, total=count)
        try:
            for answer in answers:
                yield answer
                bar.advance(task)
        except KeyboardInterrupt:
            pass
        finally:
            answers.close()


def tag_all(paths: list[Path], area: Area | None, draw: Path | None, *, progress: bool) -> Iterator[dict[str, Any]]:
    """JSON answers of many photos, as they are ready; each is drawn in the folder `draw`."""
    drawn: list[Path | None] = [None] * len(paths)
    if draw is not None:
        try:
            draw.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            wrong = f"The folder {draw} cannot be made ({error.strerror})."
            raise PhotoError("Drawing the dots.", wrong, "Name another folder.") from error
        drawn = [*drawings(paths, draw)]
    jobs = [(path, area, target) for path, target in zip(paths, drawn, strict=True)]
    yield from watched(tag_one, jobs, "Looking" if progress else "")

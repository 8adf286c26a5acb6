"""Many photos at once: every core, a progress bar, and Ctrl-C keeps what is done."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from curator.errors import CuratorError, PhotoError
from curator.records import Area

FEW = 3  # fewer photos than this are not worth a second process


def wanted(paths: list[Path]) -> list[Path]:
    """The photos named and those in the folders named; PhotoError when a folder holds none."""
    from curator.seeing.photo import photos_in

    found = photos_in(paths)
    if not found:
        where = ", ".join(str(path) for path in paths)
        raise PhotoError("Looking for photos.", f"There is no photo in {where}.", "Name a folder with JPEG, PNG or HEIC files.")
    return found


def tag_one(path: Path, area: Area | None, draw: Path | None) -> dict[str, Any]:
    """The JSON answer for one photo; an unreadable one gives {"photo", "error"}."""
    from curator.seeing import look

    try:
        seen = look.look(path, area)
        if draw is not None:
            from curator.seeing.overlay import draw as drawn
            from curator.seeing.photo import save_clean

            save_clean(drawn(seen.photo.pixels, seen.best), draw / f"{path.stem}.jpg")
        return look.as_json(seen)
    except CuratorError as error:
        return {"photo": path.name, "error": error.as_dict()}
    except MemoryError:
        trouble = PhotoError(f"Reading the photo {path.name}.", "There is not enough memory.", "Save a smaller copy of it first.")
        return {"photo": path.name, "error": trouble.as_dict()}


def _one_thread() -> None:
    import signal

    import cv2

    cv2.setNumThreads(1)  # the processes share the cores already
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides what Ctrl-C means


def spread(work: Any, jobs: list[tuple[Any, ...]], *, progress: str = "") -> Iterator[Any]:
    """work(*job) for every job on all cores, answers as they are ready; stops asking on Ctrl-C, keeps what is done."""
    from rich.progress import Progress

    with Progress(transient=True, disable=not progress) as bar:
        task = bar.add_task(progress, total=len(jobs))
        if len(jobs) < FEW:
            for job in jobs:
                yield work(*job)
                bar.advance(task)
            return
        # fresh processes: a fork of a process in which OpenCV's threads ran hangs
        with ProcessPoolExecutor(os.cpu_count() or 1, get_context("spawn"), _one_thread) as pool:
            futures: list[Future[Any]] = [pool.submit(work, *job) for job in jobs]
            try:
                for future in as_completed(futures):
                    yield future.result()
                    bar.advance(task)
            except KeyboardInterrupt:
                pool.shutdown(wait=False, cancel_futures=True)
                for future in futures:
                    if future.done() and not future.cancelled():
                        continue


def tag_all(paths: list[Path], area: Area | None, draw: Path | None, *, progress: bool) -> Iterator[dict[str, Any]]:
    """JSON answers of many photos, as they are ready."""
    if draw is not None:
        try:
            draw.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            wrong = f"The folder {draw} cannot be made ({error.strerror})."
            raise PhotoError("Drawing the dots.", wrong, "Name another folder.") from error
    jobs = [(path, area, draw) for path in paths]
    yield from spread(tag_one, jobs, progress="Looking" if progress else "")

"""Many photos tagged at once: which files are meant, where drawings go, and one answer a photo whatever happens to
it.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from curator import journal
from curator.errors import CuratorError, PhotoError
from curator.parallel import Cluster, Progress, watched
from curator.records import Area


def wanted(paths: list[Path]) -> list[Path]:
    """The photos named and those in the folders named; PhotoError when a folder holds none."""
    from curator.seeing.photo import photos_in

    found = photos_in(paths)
    if not found:
        where = ", ".join(str(path) for path in paths)
        raise PhotoError(
            "Looking for photos.", f"There is no photo in {where}.", "Name a folder with JPEG, PNG or HEIC files."
        )
    return found


def names(paths: list[Path]) -> list[str]:
    """What each photo is called in tables and answers: its name, and of its folders as many as tell it from others."""
    found = [path.name for path in paths]
    for depth in range(2, max((len(path.parts) for path in paths), default=0) + 1):
        again = {name for name, count in Counter(found).items() if count > 1}
        if not again:
            break
        found = ["/".join(p.parts[-depth:]) if name in again else name for p, name in zip(paths, found, strict=True)]
    return found


def drawings(paths: list[Path], folder: Path) -> list[Path]:
    """Where each photo is drawn with its dots: under its own name and "-dots", numbered where two would be the same,
    never where a photo is.
    """
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


def set_aside(path: Path, area: Area | None, draw: Path | None) -> dict[str, Any]:
    """The answer for a photo that ended the process looking at it, twice."""
    trouble = PhotoError(
        f"Reading the photo {path.name}.", "It stopped the program that looked at it, twice.", "Save a smaller copy."
    )
    return {"photo": path.name, "error": trouble.as_dict()}


def tag_noted(path: Path, area: Area | None, draw: Path | None) -> tuple[Path, dict[str, Any]]:
    """`tag_one`, and which photo it was."""
    return path, tag_one(path, area, draw)


def noted_aside(path: Path, area: Area | None, draw: Path | None) -> tuple[Path, dict[str, Any]]:
    """`set_aside`, and which photo it was."""
    return path, set_aside(path, area, draw)


def noted_stopped(path: Path, area: Area | None, draw: Path | None) -> tuple[Path, dict[str, Any]]:
    """The answer for a photo that took more memory or time than one may, and which it was."""
    wrong = "It takes more memory or time than a photo may."
    trouble = PhotoError(f"Reading the photo {path.name}.", wrong, "Save a smaller copy of it first.")
    return path, {"photo": path.name, "error": trouble.as_dict()}


def tag_all(
    paths: list[Path],
    area: Area | None,
    draw: Path | None,
    *,
    progress: Progress | None = None,
    cluster: str = "",
    log: Path | None = None,
) -> Iterator[dict[str, Any]]:
    """JSON answers of many photos, as they are ready; each is drawn in the folder `draw`.

    On the Dask cluster at the address `cluster`, where one is named; its workers see the same folders. What the journal
    `log` holds of an earlier run is answered from it, and every answer is noted there.
    """
    drawn: list[Path | None] = [None] * len(paths)
    if draw is not None:
        try:
            draw.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            wrong = f"The folder {draw} cannot be made ({error.strerror})."
            raise PhotoError("Drawing the dots.", wrong, "Name another folder.") from error
        drawn = [*drawings(paths, draw)]
    known = journal.read(log) if log else {}
    jobs, called = [], {}
    for path, target, name in zip(paths, drawn, names(paths), strict=True):
        if log and (key := journal.key_of(path)) in known:
            yield known[key] | {"photo": name}
        else:
            jobs.append((path.resolve() if cluster else path, area, target and target.resolve()))
            called[jobs[-1][0]] = name
    on = Cluster(cluster, noted_aside) if cluster else None
    for path, answer in watched(tag_noted, jobs, progress, cluster=on, aside=noted_stopped):
        if log:
            journal.note(log, journal.key_of(path), answer)
        yield answer | {"photo": called[path]}

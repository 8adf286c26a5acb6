"""Many photos into prompts: looked at on all cores, kept one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from curator.catalog import face_gate
from curator.catalog import prompt as prompts
from curator.catalog.face_gate import faces_text
from curator.catalog.store import folder as catalog
from curator.catalog.store import taught as kept_before
from curator.errors import CuratorError, PhotoError, TwinError
from curator.parallel import Cluster, Progress, spread
from curator.records import Area, Look, Prompt

if TYPE_CHECKING:
    from curator.seeing.judging.taught import Taught

MOST_CHOICES = 4  # readings to choose from


@dataclass(frozen=True, slots=True)
class Seen:
    """What one photo gives: a prompt not kept yet and its clean picture, or the error that stopped it."""

    path: Path
    prompt: Prompt | None = None
    picture: bytes = b""
    note: str = ""  # the first reason against the reading, or how it fell short
    faces: int = 0
    error: CuratorError | None = None
    choices: tuple[Prompt, ...] = ()  # its likely readings, best first, as they would be kept


@dataclass(slots=True)
class Tally:
    """What became of a batch."""

    added: list[Prompt] = field(default_factory=list)
    look: list[Seen] = field(default_factory=list)  # a person should look at these
    declined: list[Seen] = field(default_factory=list)  # a person looked, and said no
    none: list[Seen] = field(default_factory=list)  # no double was found
    twins: list[tuple[Seen, str]] = field(default_factory=list)  # and the prompt each is the twin of
    errors: list[Seen] = field(default_factory=list)
    near: list[tuple[str, str]] = field(default_factory=list)  # added prompt, and the one it nearly equals
    faces: list[tuple[str, int]] = field(default_factory=list)  # added prompt, and how many faces may be in it
    cut: bool = False  # Ctrl-C
    unseen: int = 0  # photos that were not looked at for it

    @property
    def refused(self) -> int:
        return len(self.look) + len(self.declined) + len(self.none) + len(self.twins) + len(self.errors)


def see(path: Path, area: Area | None, words: dict[str, Any], taught: Taught = ()) -> Seen:
    """Look at one photo and make a prompt of its best reading; `taught` is what kept pictures of these things teach.
    Errors are part of the answer.
    """
    from curator.seeing import photo
    from curator.seeing.faces import faces
    from curator.seeing.look import look

    try:
        looked = look(path, area, taught)
        pixels = photo.load_large(path)
        picture = photo.encode_clean(pixels)
        seen = face_gate.record(faces(pixels), picture)
        choices = tuple(replace(one, seen=seen) for one in _choices(looked, words))
        made = replace(_chosen(path, looked, words), seen=seen)
    except CuratorError as error:
        return Seen(path, error=error)
    except MemoryError:
        trouble = PhotoError(
            f"Reading the photo {path.name}.", "There is not enough memory.", "Save a smaller copy first."
        )
        return Seen(path, error=trouble)
    best = looked.best
    note = best.reasons[0].note if best.reasons else ""
    return Seen(path, made, picture, note, face_gate.unanswered(made, seen), choices=choices)


def _chosen(path: Path, looked: Look, words: dict[str, Any]) -> Prompt:
    """The prompt of the reading that was asked for; CuratorError where there are not that many."""
    reading, count = words.get("reading"), len(looked.counted)
    if reading is not None and reading >= count:
        many = {0: "No reading", 1: "Only one reading"}.get(count, f"Only {count} readings")
        wrong = f"{many} of it {'were' if count > 1 else 'was'} found, and no number {reading + 1}."
        try_this = f"Give a number from 1 to {count}." if count > 1 else "Leave the number out."
        raise PhotoError(f"Reading the photo {path.name}.", wrong, try_this, code="input")
    return prompts.make(looked, **words)


def _choices(looked: Look, words: dict[str, Any]) -> tuple[Prompt, ...]:
    """The first readings as they would be kept. Their numbers are those of `--reading` and of the JSON answer."""
    plain = {key: value for key, value in words.items() if key != "reading"}
    return tuple(prompts.make(looked, **plain, reading=n) for n in range(min(MOST_CHOICES, len(looked.counted))))


def stopped(path: Path, area: Area | None, words: dict[str, Any], taught: Taught = ()) -> Seen:
    """The answer for a photo that took more memory or time than one may."""
    doing, wrong = f"Reading the photo {path.name}.", "It takes more memory or time than a photo may."
    return Seen(path, error=PhotoError(doing, wrong, "Save a smaller copy."))


def set_aside(path: Path, area: Area | None, words: dict[str, Any], taught: Taught = ()) -> Seen:
    """The answer for a photo that ended the process looking at it, twice."""
    doing, wrong = f"Reading the photo {path.name}.", "It stopped the program that looked at it, twice."
    return Seen(path, error=PhotoError(doing, wrong, "Save a smaller copy."))


def keep(folder: Path, seen: Seen, tally: Tally, *, take: frozenset[str], faces_ok: bool = False) -> None:
    """Add what was seen to the catalog where its grade is one to take ("no" keeps it as no double).

    Where faces were seen and nobody said that this is all right, a person has to look first.
    """
    if seen.error is not None or seen.prompt is None:
        tally.errors.append(seen)
        return
    twin = catalog.twin(folder, seen.prompt) if folder.is_dir() else None
    if twin is not None:
        tally.twins.append((seen, twin.slug))
    elif seen.faces and not faces_ok:
        tally.look.append(replace(seen, note=f"{faces_text(seen.faces)}; is everybody asked?"))
    elif seen.prompt.grade not in take:
        (tally.look if seen.prompt.grade == "check" else tally.none).append(seen)
    else:
        _add(folder, seen, seen.prompt, tally)


def _add(folder: Path, seen: Seen, prompt: Prompt, tally: Tally) -> None:
    near = catalog.near_twins(folder, prompt.phash)
    try:
        kept = catalog.add(folder, prompt, seen.picture)
    except TwinError as error:  # somebody else added it in this moment
        tally.twins.append((seen, error.slug))
        return
    tally.added.append(kept)
    if near:
        tally.near.append((kept.slug, near[0].slug))
    if seen.faces:
        tally.faces.append((kept.slug, seen.faces))


def take_all(
    folder: Path,
    paths: Sequence[Path],
    area: Area | None,
    words: dict[str, Any],
    *,
    take: frozenset[str],
    faces_ok: bool,
    progress: Progress | None = None,
    before: Progress | None = None,
    cluster: str = "",
) -> Tally:
    """A batch, `progress` told after each photo; Ctrl-C keeps what is done and says so in the tally.

    Where the words name the things, what was kept of them before speaks for how they are counted; `before` is told of
    each of those pictures that has to be looked at for it.

    On the Dask cluster at the address `cluster`, where one is named; its workers see the same folders.
    """
    tally = Tally()
    on = Cluster(cluster, set_aside) if cluster else None
    named = [] if on else [words.get("thing", ""), words.get("things", "")]  # what was kept stays on this machine
    taught = kept_before.known(folder, named, before)
    jobs = ((path.resolve() if on else path, area, words, taught) for path in paths)
    seen_all = spread(see, jobs, len(paths), on, stopped)
    try:
        for done, seen in enumerate(seen_all, 1):
            keep(folder, seen, tally, take=take, faces_ok=faces_ok)
            if progress:
                progress(done, len(paths))
    except KeyboardInterrupt:
        tally.cut = True
    finally:
        seen_all.close()
    tally.unseen = len(paths) - len(tally.added) - tally.refused
    return tally

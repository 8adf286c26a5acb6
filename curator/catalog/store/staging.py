"""Many prompts into the catalog as one change: written aside, then moved in under the lock, all or none.

`.receiving/PROCESS-HOST-RANDOM/` holds them until then; its name says who is at work. Before the first one moves,
`moving`
lists them with their checksums; whoever finds it left over takes back what it lists, and the catalog is as it was.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import re
import shutil
import socket
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from curator import systems
from curator.catalog import files, reading
from curator.catalog.search import index
from curator.catalog.yamls import to_yaml
from curator.errors import CatalogError
from curator.records import Prompt

STAGE = ".receiving"
MOVING = "moving"


@dataclass(frozen=True, slots=True)
class Staged:
    """A prompt that waits in the staging folder, its two files under a number."""

    prompt: Prompt
    number: int


@contextmanager
def stage(folder: Path) -> Iterator[Path]:
    """A staging folder of this process; gone at the end, whatever happens."""
    root = folder / STAGE
    place = _room(root)
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)
        with contextlib.suppress(OSError):
            root.rmdir()


def _host() -> str:
    return re.sub(r"[^A-Za-z0-9]", "", socket.gethostname())[:60] or "host"


def _room(root: Path) -> Path:
    for _ in range(9):
        with contextlib.suppress(FileNotFoundError):  # another receive ended in this moment and took the root away
            files.make_folder(root)
            place = Path(tempfile.mkdtemp(prefix=f"{os.getpid()}-{_host()}-", dir=root))
            files.sync_folder(root)  # the list in it has to outlast a power cut
            return place
    raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), str(root))


def write(place: Path, number: int, prompt: Prompt, picture: bytes) -> Staged:
    """Put one prompt and its picture (JPEG) aside: OSError."""
    files.write(place / f"{number}.jpg", picture)
    files.write(place / f"{number}{reading.SUFFIX}", to_yaml(prompt).encode())
    return Staged(prompt, number)


def picture(place: Path, one: Staged) -> bytes:
    """The picture that waits for it: OSError."""
    return (place / f"{one.number}.jpg").read_bytes()


def move_in(
    folder: Path, place: Path, staged: Sequence[Staged], known: set[str]
) -> tuple[list[tuple[str, Prompt]], list[Prompt]]:
    """All at once, each under its name or a free one: (name it had, prompt), and what somebody else added meanwhile.

    The caller holds the lock. known: the names in the catalog when it was asked what is there already. OSError, and
    then nothing came in.
    """
    meanwhile = {(p.source_sha256, p.area) for p in _new(folder, known) if p.source_sha256}
    late = [one for one in staged if (one.prompt.source_sha256, one.prompt.area) in meanwhile]
    early = [one for one in staged if one not in late]
    came = list(_named(folder, place, early))
    try:
        files.write(place / MOVING, json.dumps([_sums(place, one) for one in came]).encode())
        for suffix in (".jpg", reading.SUFFIX):  # all pictures, then the files that make them prompts
            for one in came:
                systems.replace(place / f"{one.number}{suffix}", folder / f"{one.prompt.slug}{suffix}")
            files.sync_folder(folder)
        (place / MOVING).unlink()  # from here on they are kept
        files.sync_folder(place)
    except BaseException:
        _take_back(folder, place)
        raise
    for one in came:
        index.note(folder, one.prompt.slug)
    named = [(was.prompt.slug, one.prompt) for was, one in zip(early, came, strict=True)]
    return named, [one.prompt for one in late]


def _new(folder: Path, known: set[str]) -> Iterator[Prompt]:
    for slug in {slug for slug, _ in reading.slugs(folder)} - known:
        with contextlib.suppress(CatalogError):
            yield reading.load(folder, slug)


def _named(folder: Path, place: Path, staged: Sequence[Staged]) -> Iterator[Staged]:
    """Each with a name that neither the catalog nor another of them has."""
    given: set[str] = set()
    for one in staged:
        slug = reading.free_slug(folder, one.prompt.slug, given)
        given.add(slug)
        prompt = replace(one.prompt, slug=slug, picture=f"{slug}.jpg")
        if prompt != one.prompt:
            files.write(place / f"{one.number}{reading.SUFFIX}", to_yaml(prompt).encode())
        yield Staged(prompt, one.number)


def _sums(place: Path, one: Staged) -> dict[str, str]:
    return {
        "slug": one.prompt.slug,
        reading.SUFFIX: _sha(place / f"{one.number}{reading.SUFFIX}"),
        ".jpg": _sha(place / f"{one.number}.jpg"),
    }


def _sha(path: Path) -> str:
    """SHA-256 of a file in hex; "" where there is none."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""


def left_over(folder: Path) -> list[Path]:
    """Staging folders whose owner is not at work any more."""
    root = folder / STAGE
    places = sorted(root.iterdir()) if root.is_dir() else []
    return [place for place in places if place.is_dir() and _is_left_over(place)]


def owner(place: Path) -> tuple[int, str]:
    """Process and machine that it belongs to."""
    process, _, rest = place.name.partition("-")
    return (int(process) if process.isdigit() else 0), rest.partition("-")[0]


def _is_left_over(place: Path) -> bool:
    """On this machine, when its process is gone; on another, when nothing was put there for some minutes."""
    process, host = owner(place)
    if process and host == _host():
        return not systems.is_alive(process)
    with contextlib.suppress(OSError):
        return time.time() - place.stat().st_mtime > files.LEFT_OVER
    return False


def moving(place: Path) -> list[str]:
    """Names of the prompts that had begun to move in when it was cut off."""
    return [one["slug"] for one in _listed(place)]


def is_others(place: Path) -> bool:
    """Whether only the machine that began may take it back.

    A program that keeps folders alike on several machines may show the list here after all was kept there.
    """
    return owner(place)[1] != _host() and bool(moving(place))


def clear(folder: Path) -> int:
    """Take back what receives that were cut off had moved in, and the staging folders; how many of these.

    The caller holds the lock. Left alone: what somebody changed since, and what another machine moved in.
    """
    places = [place for place in left_over(folder) if not is_others(place)]
    for place in places:
        _take_back(folder, place)
        shutil.rmtree(place)
    with contextlib.suppress(OSError):
        (folder / STAGE).rmdir()
    return len(places)


def _listed(place: Path) -> list[dict[str, str]]:
    """What `moving` lists; nothing where it is not there or was cut off itself (then nothing had moved)."""
    try:
        said = json.loads((place / MOVING).read_bytes())
    except (OSError, ValueError):
        return []
    said = said if isinstance(said, list) else []
    return [one for one in said if isinstance(one, dict) and reading.is_slug(str(one.get("slug")))]


def _take_back(folder: Path, place: Path) -> None:
    """The files that make them prompts first; each only where it is what came from here."""
    listed = _listed(place)
    for one in listed:
        path = folder / f"{one['slug']}{reading.SUFFIX}"
        if _sha(path) == one.get(reading.SUFFIX):
            path.unlink()
    files.sync_folder(folder)
    for one in listed:
        path = folder / f"{one['slug']}.jpg"
        if not (folder / f"{one['slug']}{reading.SUFFIX}").exists() and _sha(path) == one.get(".jpg"):
            path.unlink()
    files.sync_folder(folder)
    with contextlib.suppress(FileNotFoundError):
        (place / MOVING).unlink()

"""Writing so that nothing is lost: temporary name, sync, move into place, sync the folder; and one writer at a time."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import random
import socket
import tempfile
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from uuid import getnode

from curator import systems
from curator.errors import CatalogError

LOCK = ".lock"
PART = ".part"
FULL = (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC))
PATIENCE = 20.0  # seconds to wait for somebody else's change
LEFT_OVER = 120.0  # seconds until a lock of another machine counts as left over; a change takes less than one


def unwritable(doing: str, error: OSError) -> CatalogError:
    """What to tell when the disk says no."""
    if error.errno in FULL:
        return CatalogError(
            doing, "The disk is full; nothing was changed.", "Free some space, then do it again.", code="disk-full"
        )
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        wrong = "The folder may be read but not changed; nothing was changed."
        return CatalogError(doing, wrong, "Choose a folder that you may write to.", code="read-only")
    wrong = f"The folder cannot be written ({error.strerror or error}); nothing was changed."
    return CatalogError(doing, wrong, "Check that the drive is there, then do it again.", code="no-drive")


def sync_folder(folder: Path) -> None:
    """Make the folder's names last through a power cut; where a folder cannot be synced, nothing is to be done."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def make_folder(folder: Path) -> None:
    """Make it with those above it, each name synced: OSError."""
    if not folder.is_dir():
        make_folder(folder.parent)
        folder.mkdir(exist_ok=True)
        sync_folder(folder.parent)


def write(path: Path, data: bytes) -> None:
    """Put data at path: all of it or nothing. OSError where that fails, with no left-over file."""
    _write(path, data, lasting=True)
    sync_folder(path.parent)


def put(path: Path, data: bytes) -> None:
    """The same in less time for what can be made anew: a power cut may take it, or leave it damaged."""
    _write(path, data, lasting=False)


def _write(path: Path, data: bytes, *, lasting: bool) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}-{random.randrange(16**6):06x}{PART}")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        try:
            view = memoryview(data)
            while view:
                view = view[os.write(handle, view) :]
            if lasting:
                systems.sync(handle)
        finally:
            os.close(handle)
        systems.replace(part, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise


def copy(source: Path, target: Path) -> None:
    """A second name for the same bytes, or a copy where the disk has no second names. Replaces target."""
    with contextlib.suppress(FileNotFoundError):
        os.unlink(target)
    try:
        os.link(source, target)
        sync_folder(target.parent)
    except OSError:
        write(target, source.read_bytes())


def move(source: Path, target: Path) -> None:
    """Rename, and sync both folders."""
    systems.replace(source, target)
    sync_folder(target.parent)
    sync_folder(source.parent)


@cache
def boot() -> str:
    """What tells this machine, since it was started, from others of the same name (laptops set up from one image)."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text(encoding="ascii").strip()
    except OSError:
        return f"{getnode():012x}"


def _mine() -> bytes:
    me = {"pid": os.getpid(), "host": socket.gethostname(), "boot": boot(), "time": round(time.time())}
    return json.dumps(me).encode()


def _is_here(owner: dict[str, object]) -> bool:
    """Whether that process ran on this machine, since it was started last."""
    return owner.get("host") == socket.gethostname() and owner.get("boot") == boot()


def lock_owner(path: Path) -> dict[str, object]:
    """{"pid", "host", "boot", "time"} of whoever wrote the lock file; {} where it says nothing."""
    try:
        said = json.loads(path.read_bytes()[:1000] or b"{}")
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def is_alive(pid: object) -> bool:
    """Whether a process of that number runs on this machine."""
    return not isinstance(pid, int) or systems.is_alive(pid)


def is_left_over(path: Path) -> bool:
    """Whether nobody who is still at work can hold this lock file."""
    owner = lock_owner(path)
    if _is_here(owner):
        return not is_alive(owner.get("pid"))
    old = LEFT_OVER if owner else 5.0
    try:
        since = path.stat().st_mtime
    except OSError:
        return False
    return time.time() - since > old and _clock_of(path.parent) - since > old


def _clock_of(folder: Path) -> float:
    """What time it is on the drive, whose clock may be minutes off this machine's. Asked only about an old lock."""
    try:
        with tempfile.NamedTemporaryFile(prefix=".", suffix=PART, dir=folder) as probe:
            return os.stat(probe.name).st_mtime
    except OSError:
        return time.time()


def _claim(path: Path) -> int | None:
    """A handle that holds the lock, or None while somebody else does."""
    try:
        handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
        fresh = True
    except FileExistsError:
        try:
            handle = os.open(path, os.O_RDWR | getattr(os, "O_NOFOLLOW", 0))
        except FileNotFoundError:
            return None
        except OSError as error:
            if error.errno != errno.ELOOP:
                raise
            wrong = f"The file {path.name} there is a link to another file; nothing was changed."
            raise CatalogError("Changing the catalog.", wrong, f"Delete the link {path.name}.") from error
        fresh = False
    try:
        if _take(handle, path, fresh):
            os.ftruncate(handle, 0)
            os.pwrite(handle, _mine(), 0) if hasattr(os, "pwrite") else os.write(handle, _mine())
            return handle
    except BaseException:
        os.close(handle)
        raise
    os.close(handle)
    return None


def _take(handle: int, path: Path, fresh: bool) -> bool:
    held = systems.hold(handle, wait=fresh)
    if held is False:
        return False  # a living process of this machine holds it
    alone = held is True
    try:
        if os.stat(path).st_ino != os.fstat(handle).st_ino:
            return False  # given back between opening and locking
    except FileNotFoundError:
        return False
    return fresh or (alone and _is_here(lock_owner(path))) or is_left_over(path)


@contextlib.contextmanager
def locked(folder: Path, doing: str, patience: float = PATIENCE) -> Iterator[None]:
    """Be the only one who changes this catalog. Held for one change; CatalogError when it does not get free.

    The lock is a file made only if it is not there (that holds between machines), locked by the system as well (that
    tells a dead owner on this machine from a living one).
    """
    path = folder / LOCK
    until = time.monotonic() + patience
    try:
        while (handle := _claim(path)) is None:
            if time.monotonic() > until:
                raise _busy(doing, path)
            time.sleep(random.uniform(0.002, 0.02))
    except OSError as error:
        raise unwritable(doing, error) from error
    try:
        yield
    finally:
        _give_back(path, handle)


def _give_back(path: Path, handle: int) -> None:
    """Take the lock file away while it is still ours; Windows takes no file away that is open."""
    if os.name == "nt":
        os.close(handle)
    with contextlib.suppress(OSError):
        os.unlink(path)
    if os.name != "nt":
        os.close(handle)


def _busy(doing: str, path: Path) -> CatalogError:
    owner = lock_owner(path)
    who = f"Somebody on {owner.get('host', 'another machine')} is changing the catalog."
    try_this = f"Wait a minute and try again; if nobody is, delete the file {path.name} there."
    return CatalogError(doing, who, try_this, code="busy")

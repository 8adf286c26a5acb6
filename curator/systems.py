"""What Linux, macOS and Windows do differently with files, locks and processes, said once; each call has its twin."""

from __future__ import annotations

import errno
import os
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

fcntl: Any = None
msvcrt: Any = None
with suppress(ImportError):
    import fcntl
with suppress(ImportError):
    import msvcrt

_NO_LOCKS = (errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL)
_FAR = 1 << 30  # a byte behind the file's end: Windows lets nobody read what is locked, and the file is to be read
PATIENCE = 2.0  # seconds in which a virus scanner or a viewer on Windows gives a file free
# Names that no file can have on Windows, whatever its suffix (Microsoft, "Naming Files, Paths, and Namespaces").
RESERVED = frozenset(
    {"con", "prn", "aux", "nul"} | {f"{port}{number}" for port in ("com", "lpt") for number in range(10)}
)


def hold(handle: int, *, wait: bool) -> bool | None:
    """Lock an open file until it is closed or its process ends. False: another process of this machine holds it.

    None where the drive knows no locks. With `wait` it waits for the moment in which another looks whose it is.
    """
    try:
        if fcntl is not None:
            fcntl.flock(handle, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        elif msvcrt is not None:
            _hold_far(handle, wait)
        else:
            return None
    except OSError as error:
        return None if error.errno in _NO_LOCKS else False
    return True


def _hold_far(handle: int, wait: bool) -> None:
    os.lseek(handle, _FAR, os.SEEK_SET)
    try:
        msvcrt.locking(handle, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
    finally:
        os.lseek(handle, 0, os.SEEK_SET)


def sync(handle: int) -> None:
    """Write what the file holds to the disk itself. macOS: fsync alone leaves it in the drive's cache."""
    full = getattr(fcntl, "F_FULLFSYNC", None)
    if full is not None:
        try:
            fcntl.fcntl(handle, full)
            return
        except OSError:  # a drive that cannot
            pass
    os.fsync(handle)


def replace(source: os.PathLike[str] | str, target: os.PathLike[str] | str) -> None:
    """os.replace. On Windows somebody who has a file open for a moment stops that: tried again for some seconds."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            os.replace(source, target)
            return
        except PermissionError:
            if os.name != "nt" or time.monotonic() > until:
                raise
            time.sleep(0.05)


def cache() -> Path:
    """Where this system keeps what can be thrown away."""
    named = os.environ.get("XDG_CACHE_HOME")
    if named:
        return Path(named) / "curator"
    from platformdirs import user_cache_path

    return user_cache_path("curator", appauthor=False)


def is_alive(pid: int) -> bool:
    """Whether a process of that number runs on this machine; True in doubt."""
    if os.name == "nt":
        return _is_alive_on_windows(pid)
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _is_alive_on_windows(pid: int) -> bool:
    """os.kill would end it there. A process that has ended cannot be opened, and its exit code is known."""
    import ctypes

    kernel: Any = ctypes.windll.kernel32  # type: ignore[attr-defined]
    process = kernel.OpenProcess(0x1000, False, pid)  # PROCESS_QUERY_LIMITED_INFORMATION
    if not process:
        return bool(kernel.GetLastError() == 5)  # ERROR_ACCESS_DENIED: it is there, and not ours
    code = ctypes.c_ulong()
    try:
        return bool(kernel.GetExitCodeProcess(process, ctypes.byref(code))) and code.value == 259  # STILL_ACTIVE
    finally:
        kernel.CloseHandle(process)

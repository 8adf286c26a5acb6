"""A person at a terminal of 80 columns: the program runs in a pseudo-terminal and its questions are answered."""

from __future__ import annotations

import os
import re
import select
import struct
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

pty = pytest.importorskip("pty", reason="needs a POSIX terminal")
fcntl = pytest.importorskip("fcntl", reason="needs a POSIX terminal")
termios = pytest.importorskip("termios", reason="needs a POSIX terminal")

WIDTH = 80
SIGNS = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


@dataclass(frozen=True, slots=True)
class Seen:
    """What stood on the screen, with and without the signs for colours, and the exit status."""

    raw: str
    status: int

    @property
    def text(self) -> str:
        return SIGNS.sub("", self.raw)


def at_a_terminal(
    words: Sequence[str], here: Path, answers: Sequence[str] = (), *, first: str = "", patience: float = 120
) -> Seen:
    """Type `curator WORDS` in the folder `here`; each answer is typed when a question stands there.

    first: Python that is run before the program, to stand in for what a test cannot wait for.
    """
    code = f"{first}\nfrom curator.cli import main\nmain()"
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, WIDTH, 0, 0))
    root = str(Path(__file__).parents[1])
    path = os.pathsep.join([root, str(Path(__file__).parent)])
    env = {**os.environ, "TERM": "xterm-256color", "PYTHONPATH": path, "NO_AT_BRIDGE": "1"}
    for name in ("NO_COLOR", "DISPLAY", "WAYLAND_DISPLAY", "TERM_PROGRAM", "KITTY_WINDOW_ID", "COLUMNS"):
        env.pop(name, None)
    run = subprocess.Popen(
        [sys.executable, "-c", code, *words], stdin=theirs, stdout=theirs, stderr=theirs, cwd=here, env=env
    )
    os.close(theirs)
    waiting = select.poll()  # any number of files may be open here
    waiting.register(ours, select.POLLIN | select.POLLHUP)
    seen, left, until = b"", list(answers), time.monotonic() + patience
    try:
        while time.monotonic() < until:
            if waiting.poll(100):
                try:
                    got = os.read(ours, 4096)
                except OSError:  # Linux: the other side is closed
                    break
                if not got:
                    break
                seen += got
                if b"\x1b[c" in got:
                    os.write(ours, b"\x1b[?62;22c")  # a terminal without sixels
            elif left and seen.rstrip(b"\n").endswith((b": ", b":")):
                os.write(ours, left.pop(0).encode() + b"\n")
    finally:
        run.kill() if run.poll() is None and time.monotonic() >= until else None
        status = run.wait(30)
        os.close(ours)
    assert not left, f"never asked for: {left}"
    return Seen(seen.decode("utf-8", "replace").replace("\r\n", "\n"), status)

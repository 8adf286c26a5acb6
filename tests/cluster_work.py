"""Work for the tests of the cluster: quick, slow, harmful or wrong on demand."""

from __future__ import annotations

import os
import time
from pathlib import Path


def doubled(number: int, folder: str, harmful: int = -1) -> tuple[int, int]:
    """(number, its double), noted in `folder`; the harmful number ends its process."""
    with (Path(folder) / f"{number}.tries").open("a") as file:
        file.write(f"{os.getpid()}\n")
    if number == harmful:
        os._exit(9)
    time.sleep(0.05)
    return number, 2 * number


def aside(number: int, folder: str, harmful: int = -1) -> tuple[int, int]:
    return number, -1


def wrong(number: int) -> int:
    raise ValueError(f"{number} is wrong")

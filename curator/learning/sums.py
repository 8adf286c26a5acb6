"""The SHA-256 of a file that the tool ships, written beside it."""

from __future__ import annotations

import hashlib
from pathlib import Path


def write_sum(file: Path) -> str:
    """Write FILE.sha256 as `sha256sum` does; returns the sum."""
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    file.with_name(f"{file.name}.sha256").write_text(f"{digest}  {file.name}\n")
    return digest

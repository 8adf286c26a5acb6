"""Nothing of hers is overwritten: a file is replaced only where we wrote it and nobody changed it since.

What we wrote is remembered by place and SHA-256 in `written.json` beside the settings; without that note
the file counts as hers.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import typer

from curator.commands import settings, words
from curator.errors import CuratorError

Replace = typer.Option("--replace", help="Write over a file that is there; the old one is kept beside it.")
MOST = 2000  # files to remember


@contextmanager
def kept(paths: Sequence[Path], replace: bool) -> Iterator[None]:
    """Around the writing of these files: refused before any work where one is hers; with `replace` hers is kept aside.

    CuratorError ("exists") names the first file in the way.
    """
    known = _known()
    hers = [path for path in paths if path.is_file() and known.get(_key(path)) != _sum(path)]
    if hers and not replace:
        more = f" (and {words.many(len(hers) - 1, 'more file')})" if len(hers) > 1 else ""
        wrong = f"{hers[0]} is there already{more}, and was changed since curator wrote it or is not curator's."
        try_this = "Name another file, or add --replace: the old one is kept beside it."
        raise CuratorError("Writing what you asked for.", wrong, try_this, code="exists")
    aside = [(path, _aside(path)) for path in hers]
    try:
        for path, other in aside:
            shutil.copy2(path, other)
        yield
    except BaseException:
        for path, other in aside:
            if path.is_file() and other.is_file() and _sum(path) == _sum(other):
                other.unlink()
        raise
    for path, other in aside:
        print(f"The old {path.name} is kept as {other.name}.")
    _remember(paths)


def _aside(path: Path) -> Path:
    """plan.yaml -> plan-before.yaml, or -before-2 and so on where that is taken."""
    number, other = 1, path.with_name(f"{path.stem}-before{path.suffix}")
    while other.exists():
        number += 1
        other = path.with_name(f"{path.stem}-before-{number}{path.suffix}")
    return other


def _key(path: Path) -> str:
    return str(path.resolve())


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _note() -> Path:
    return settings.place() / "written.json"


def _known() -> dict[str, str]:
    try:
        said = json.loads(_note().read_bytes())
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def _remember(paths: Sequence[Path]) -> None:
    """Where the note cannot be kept, these files count as hers the next time."""
    from curator.catalog import files

    known = _known()
    for path in paths:
        if path.is_file():
            known.pop(_key(path), None)
            known[_key(path)] = _sum(path)
    with contextlib.suppress(OSError):
        files.make_folder(settings.place())
        files.write(_note(), json.dumps(dict(list(known.items())[-MOST:])).encode())

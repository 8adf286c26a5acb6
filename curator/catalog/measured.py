"""What was measured of kept pictures, beside the index and thrown away like it; no pixels.

`.index/KIND/NAME.npz` holds arrays and the stamp of all that they were measured from: on any doubt they are measured
anew. They go with the picture when that is forgotten, removed or replaced. No bundle and no site has them.
"""

from __future__ import annotations

import io
import shutil
import zipfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from curator.catalog import files, reading

if TYPE_CHECKING:
    from numpy.typing import NDArray

KINDS = ("taught", "outlines")
MOST = 8_000_000  # bytes in one file, and of its arrays: more is none of ours


def place(folder: Path, kind: str, slug: str) -> Path:
    """Where the measures of that kind lie."""
    return folder / ".index" / kind / f"{slug}.npz"


def read(folder: Path, kind: str, slug: str, stamp: str) -> dict[str, NDArray[Any]] | None:
    """The arrays noted under that stamp, their shapes and values unchecked; None on any doubt."""
    import numpy as np

    path = place(folder, kind, slug)
    try:
        if not stamp or path.stat().st_size > MOST:
            return None
        data = io.BytesIO(path.read_bytes())
        with zipfile.ZipFile(data) as inside:
            if sum(one.file_size for one in inside.infolist()) > MOST:
                return None
        with np.load(data, allow_pickle=False) as noted:
            found = {name: noted[name] for name in noted.files}
    except Exception:  # damaged in any way, or not there
        return None
    return found if str(found.pop("stamp", "")) == stamp else None


def note(
    folder: Path, kind: str, slug: str, stamp: str, arrays: dict[str, NDArray[Any]], still: Callable[[], bool]
) -> None:
    """Keep the arrays, unless the drive refuses, or the picture is no longer `still` the one that was measured."""
    import numpy as np

    buffer = io.BytesIO()
    np.savez_compressed(buffer, stamp=np.array(stamp), **arrays)  # type: ignore[arg-type]
    with suppress(OSError):
        files.make_folder(place(folder, kind, slug).parent)
        files.put(place(folder, kind, slug), buffer.getvalue())
        if not reading.has(folder, slug) or not still():
            drop(folder, slug)  # forgotten, removed or replaced while it was looked at


def drop(folder: Path, slug: str) -> None:
    """Take away what was measured of a picture: it is going."""
    for kind in KINDS:
        with suppress(OSError):
            place(folder, kind, slug).unlink()


def clear(folder: Path, kind: str) -> None:
    """Take away what is left of prompts that are gone, by whatever hand."""
    with suppress(OSError):
        for path in (folder / ".index" / kind).iterdir():
            if path.suffix != ".npz" or not reading.has(folder, path.stem):
                if path.is_dir() and not path.is_symlink():
                    shutil.rmtree(path, ignore_errors=True)
                else:
                    path.unlink(missing_ok=True)

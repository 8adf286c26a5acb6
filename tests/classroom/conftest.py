"""What all tests of lessons share: the same picture with the same stages is made once for all of them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from curator.catalog.reading import picture_path
from curator.classroom import lesson as lessons
from curator.classroom.views import Views
from curator.records import Prompt


@pytest.fixture(scope="session", autouse=True)
def views_once() -> Iterator[None]:
    """Two languages, or the next file of tests, are shown what was made before, all of it whole; a picture that cannot
    be read is read each time.
    """
    store: dict[Any, Views] = {}
    real = lessons.photo_views

    def photo_views(
        folder: Path,
        prompt: Prompt,
        wanted: Sequence[tuple[Sequence[str], int, int]],
        longer: int,
        **more: Any,
    ) -> list[Views]:
        path = picture_path(folder, prompt)
        if not path.is_file():
            return real(folder, prompt, wanted, longer, **more)
        picture = hashlib.sha256(path.read_bytes()).digest()
        drawn = (
            picture,
            prompt.dots,
            prompt.line,
            prompt.fact,
            prompt.kind,
            prompt.area,
            longer,
        )
        keys = [(*drawn, tuple(stages), side, hide) for stages, side, hide in wanted]
        new = {key: one for key, one in zip(keys, wanted, strict=True) if key not in store}
        if new:
            store.update(zip(new, real(folder, prompt, list(new.values()), longer), strict=True))
        return [store[key] for key in keys]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lessons, "photo_views", photo_views)
        yield

"""Forgetting a photo also deletes the copies that the page made of it for screens."""

import shutil
from pathlib import Path

from curator.catalog.store.forget import forget

CATALOG = Path(__file__).parents[2] / "catalog"


def test_screen_copies_go(tmp_path: Path) -> None:
    kept = tmp_path / "catalog"
    shutil.copytree(CATALOG, kept, ignore=shutil.ignore_patterns(".*"))
    screen = kept / ".inbox" / "screen"
    screen.mkdir(parents=True)
    (screen / "boots-960.webp").write_bytes(b"a copy")
    forget(kept, "boots")
    assert not screen.exists()
    assert not (kept / "boots.yaml").exists()
